"""Every mistake of a dialect file has its place and what to do about it."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dialect import bundled, load_dialect
from cfglint.dialect.checks import mistakes
from cfglint.dialect.contradictions import contradictions
from cfglint.dialect.load import bundled_names
from cfglint.dump.source import Source
from cfglint.errors import Problem, Problems
from cfglint.tomltext import load

#: A dialect without a mistake; each case below changes one line of it.
RIGHT = """\
[dialect]
id = "own"
title = "One of our own"
schema = 2
versions = ">=1.0,<3"
version_order = "dotted"
extent = "full"
[marks]
prompt = ">"
comment = ["#", ";"]
refusal = "no: {reason}"
assign = "{name} = {value}"
removal = "forget {name}"
open = "[{title}]"
decimal = "."
save = "store"
[identity]
lines = ["# {board} {firmware}"]
[traits]
range_ends = "closed"
arm_needs_permit = true
[map]
"motor.poles" = { at = "engine > poles", default = 18 }
"loop.rate_hz" = { at = "rate", scale = 0.5, decimals = 2 }
"port.N.inverted" = { at = "{value} flip-N", default = false, count = 4 }
"motor.signal" = { at = "talk", words = { dshot300 = 3 } }
"battery.full_v" = "full"
[modes]
arm = 6
[[rows]]
at = "on {mode} {channel} {low} {high}"
makes = "range"
fields = { low = { step = 35 } }
[[rows]]
at = "tie {mode} {follows}"
makes = "link"
[[rows]]
at = "port {N} at {baud}"
sets = { baud = "port.N.baud" }
[profiles]
in_use = "bank"
first = 0
[kept]
at = ["hum *"]
[[changes]]
at = "2.9"
rename = { "rate" = "pace" }
[changes.map]
"motor.poles" = { default = 12 }
[[changes]]
at = "2.10"
remove = { "pace" = "gone" }
"""


def problems(text: str) -> list[Problem]:
    try:
        load_dialect("own.toml", text.encode())
    except Problems as several:
        return list(several.each)
    except Problem as one:
        return [one]
    return []


def test_no_mistake() -> None:
    assert problems(RIGHT) == []


@pytest.mark.parametrize("name", bundled_names())
def test_bundled_dialects_have_none(name: str) -> None:
    from cfglint_grammars import read

    document = load(f"{name}.toml", read(f"{name}.toml"))
    assert [str(one) for one in mistakes(document)] == []
    assert [str(one) for one in contradictions(bundled(name))] == []


def case(old: str, new: str, at: str, *says: str):  # type: ignore[no-untyped-def]
    """``old`` becomes ``new``; the message points exactly at the text ``at``."""
    return pytest.param(old, new, at, says, id=new[:40] or f"without {old[:30]}")


@pytest.mark.parametrize(
    ("old", "new", "at", "says"),
    [
        # unknown keys, with the nearest known one
        case("[kept]", "[keept]", "keept", "`keept`", "did you mean `kept`?"),
        case("title =", "titel =", "titel", "`titel`", "did you mean `title`?"),
        case("prompt =", "promt =", "promt", "`promt`", "did you mean `prompt`?"),
        case(", decimals", ", decimls", "decimls", "`decimls`", "did you mean `decimals`?"),
        case('makes = "link"', 'make = "link"', "make", "did you mean `makes`?"),
        case("step =", "stop =", "stop", "did you mean `step`?"),
        case("rename =", "renames =", "renames", "did you mean `rename`?"),
        case(", words =", ", values =", "values", "`values` means nothing in"),
        case("[map]", "[settings]", "settings", "`settings` means nothing here"),
        # wrong types and words
        case('id = "own"', "id = 7", "7", "must be a text"),
        case('id = "own"\n', "", "[dialect]", "lacks `id`"),
        case("schema = 2", "schema = 1", "1", "it may be 2"),
        case('"dotted"', '"dottd"', '"dottd"', "did you mean `dotted`?"),
        case('extent = "full"', 'extent = "ful"', '"ful"', "did you mean `full`?"),
        case('"closed"', '"close"', '"close"', "did you mean `closed`?"),
        case('decimal = "."', 'decimal = ";"', '";"', "it may be `.` or `,`"),
        case("permit = true", 'permit = "yes"', '"yes"', "must be `true` or `false`"),
        case("first = 0", "first = -1", "-1", "0 or more"),
        case("count = 4", "count = 100", "100", "1 to 99"),
        case("scale = 0.5", "scale = 0", "0", "must not be 0"),
        case("step = 35", "step = 0.0", "0.0", "must not be 0"),
        case("scale = 0.5", "scale = nan", "nan", "must be a number"),
        case("dshot300 = 3", "dshot300 = true", "true", "must be a text or a whole number"),
        # settings and modes that there are not
        case('"motor.poles" = { at', '"motor.pole" = { at', '"motor.pole"', "`motor.poles`?"),
        case("arm = 6", "amr = 6", "amr", "`amr` is no mode", "did you mean `arm`?"),
        case("port.N.baud", "port.N.boud", "baud", "no neutral setting", "`port.N.baud`?"),
        case('"motor.poles" = { def', '"motr.poles" = { def', '"motr.poles"', "`motor.poles`?"),
        # lines and addresses
        case("{name} = {value}", "{name} = ", '"{name} = "', "needs {value}"),
        case("forget {name}", "forget", '"forget"', "needs {name}"),
        case("[{title}]", "[it]", '"[it]"', "needs {title}"),
        case('= "full"\n[modes]', '= "="\n[modes]', '"="', "holds no word"),
        case('save = "store"', 'title = ""', '""', "is empty"),
        # what would pass over every line
        case('save = "store"', 'save = ""', '""', "holds no word"),
        case('save = "store"', 'ignored = "*"', '"*"', "holds no word"),
        case('save = "store"', 'ignored = ["list", "=="]', '"=="', "holds no word"),
        case('["hum *"]', '["* *"]', '"* *"', "holds no word"),
        case("# {board} {firmware}", "# {board} {board}", '"# {board} {board}"', "{board} twice"),
        case("tie {mode} {follows}", "tie {mode} {mode}", '"tie {mode} {mode}"', "{mode} twice"),
        case("{low} {high}", "{low}", '"on {mode} {channel} {low}"', "needs {low}, {high}"),
        case("{channel} {low}", "{low}", '"on {mode} {low} {high}"', "needs {channel}"),
        case("{mode} {follows}", "{mode} {follow}", '"tie {mode} {follow}"', "needs {follows}"),
        case("fields = { low", "fields = { lo", "lo", "no field {lo}"),
        case("sets = { baud", "sets = { speed", "speed", "{speed}, which the line does not"),
        case("port {N} at", "port at", "baud", "is a family", "needs {N}"),
        case('sets = { baud = "port.N.baud" }\n', "", "rows", "this row sets nothing"),
        case('at = "engine > poles"', 'at = "poles N"', '"poles N"', "there is only one"),
        case("flip-N", "flip", '"{value} flip"', "is a family, and its address has no N"),
        case('at = "rate"', 'at = "rate {M}"', '"rate {M}"', "holds {M}, which nothing fills in"),
        case('at = "rate", scale', "scale", '"loop.rate_hz"', "lacks `at`"),
        case(", count = 4", "", '"port.N.inverted"', "nothing says for how many"),
        # keys that contradict each other
        case("scale = 0.5", "scale = 0.5, step = 2", "step", "`scale` and `step`", "contradict"),
        case("scale = 0.5", "scale = 0.5, over = 2", "over", "`scale` and `over`", "contradict"),
        case("words = { dshot300 = 3 }", "bits = { dshot300 = 3 }", "bits", "for a list of words"),
        case("step = 35 } }", 'step = 35 } }\neach = "{x}"\ncolumns = { y = "z" }', "each",
             "`columns` and `each` contradict each other"),
        # defaults
        case("default = 18", "default = 18.5", "18.5", "write a whole number, 2 to 60 poles"),
        case("default = 18", "default = true", "true", "write a whole number"),
        case("default = 18", "default = 61", "61", "2 to 60"),
        case("default = 18", 'default = "18"', '"18"', "write a whole number"),
        case("scale = 0.5", "default = 1e9", "1e9", "write a number, 1 to 64000 Hz"),
        case("default = false", "default = 0", "0", "write true or false"),
        case('= "talk"', '= "talk", default = "dshot30"', '"dshot30"', "did you mean `dshot300`?"),
        case("{ default = 12 }", "{ default = 1 }", "1", "2 to 60"),
        # neutral words in maps
        case("dshot300 = 3", "dshot30 = 3", "dshot30", "no neutral value", "`dshot300`?"),
        case("scale = 0.5", "words = { fast = 1 }", "fast", "no neutral value", "write a number"),
        case("{ low = { step = 35", "{ mode = { words = { amr = 1 }", "amr", "`arm`?"),
        case("{ low = { step = 35", "{ low = { words = { amr = 1 }", "amr", "write a number"),
        case('baud = "port.N.baud" }',
             'baud = "port.N.functions" }\nfields = { baud = { bits = { gsp = 7 } } }',
             "gsp", "no neutral value of `port.N.functions`", "did you mean `gps`?"),
        case("{ default = 12 }", '{ words = { x = 1 } }', "x", "of `motor.poles`"),
        # changes
        case('at = "2.9"', 'at = "2.11"', '"2.10"', "2.10 does not come after 2.11"),
        case('at = "2.9"', 'at = "2.10.0"', '"2.10"', "put changes in dotted order"),
        case('"dotted"', '"decimal"', '"2.10"', "2.10 does not come after 2.9"),
        case('at = "2.9"', 'at = "new"', '"new"', "'new' cannot be ordered"),
        case('at = "2.10"', 'at = "2.x"', '"2.x"', "'2.x' cannot be ordered"),
        case('">=1.0,<3"', '"1 to 3"', '"1 to 3"', "no range of versions", "write for instance"),
        case('">=1.0,<3"', '">=x"', '">=x"', "'x' cannot be ordered"),
        case('{ "rate" = "pace" }', '{ "rote" = "pace" }', '"rote"', "no `rote` in any", "`rate`?"),
        case('{ "pace" = "gone" }', '{ "rate" = "gone" }', '"rate"', "no `rate` in any address"),
    ],
)  # fmt: skip
def test_mistakes(old: str, new: str, at: str, says: tuple[str, ...]) -> None:
    assert RIGHT.count(old) >= 1
    text = RIGHT.replace(old, new, 1)
    source = Source.from_text("own.toml", text)
    found = {str(one): one for one in problems(text)}
    (shown,) = [message for message in found if all(part in message for part in says)]
    span = found[shown].span
    assert span is not None
    assert source.slice(span) == at
    assert re.match(r"own\.toml:[1-9][0-9]*:[1-9][0-9]*: ", shown)


def test_all_mistakes_of_a_file_at_once() -> None:
    text = RIGHT.replace("default = 18", "default = 1").replace("default = 12", "default = 0")
    text = text.replace("tie {mode} {follows}", "tie {mode}")
    lines = text.split("\n")
    wrong = ("default = 1 ", "default = 0", "tie {mode}")
    wanted = [number for number, line in enumerate(lines, 1) if any(part in line for part in wrong)]
    assert [one.span.line for one in problems(text) if one.span is not None] == wanted


def test_a_change_brings_rows_that_are_looked_at() -> None:
    found = problems(RIGHT + '[[changes.rows]]\nat = "rx {x}"\nsets = { baud = "receiver.baud" }')
    last = RIGHT.count("\n") + 3
    assert [str(one).split(": ")[0] for one in found] == [f"own.toml:{last}:10"]


def test_no_toml_at_all() -> None:
    (one,) = problems("[dialect\n")
    assert one.span is not None
    assert one.span[:3] == ("own.toml", 1, 9)


def test_no_bundled_dialect_of_that_name() -> None:
    with pytest.raises(Problem, match=r"`plane`; did you mean `plain`\?"):
        bundled("plane")


@given(
    st.lists(
        st.tuples(
            st.integers(0, RIGHT.count("\n") - 1),
            st.sampled_from(["", "x = 1", "[map]", '"motor.poles" = 3', "= {", '"{N}{P}"']),
        ),
        max_size=3,
    )
)
def test_nothing_but_problems_comes_of_a_broken_file(cuts: list[tuple[int, str]]) -> None:
    lines = RIGHT.split("\n")
    for at, text in cuts:
        lines[at] = text
    for one in problems("\n".join(lines)):
        assert one.span is not None
        assert one.file == "own.toml"
        assert one.exit == 2
