"""Marks of what is unconfirmed: what they reach, where they stand, and what is wrong with them."""

from __future__ import annotations

import pytest

from cfglint.dialect.unsure import Unsure, unconfirmed
from cfglint.errors import Problem

from .invented import make, read

FORMS = """
[[rows]]
at = "{mode} on ch{channel} {low}-{high}"
makes = "range"
[[rows]]
at = "{mode} with {follows}"
makes = "link"
[[rows]]
at = "port {N} {what} {baud}"
sets = { what = "port.N.functions", baud = "port.N.baud" }
"""
#: A dump for the dialects below; its lines are counted from 1.
DUMP = """\
let talk be 17
let poles be 12
8 on ch5 1665-2085
3 on ch6 1665-2085
3 with 8
port 1 gps 9600
port 2 gps,log 9600
"""
SETTINGS = """
[map]
"motor.signal" = { at = "let talk be", words = { dshot300 = 17, dshot600 = 8 }{signal} }
"motor.poles" = { at = "let poles be", default = 16{poles} }
"""
MODES = "[modes]\narm = 8\nbeacon = 3\n"


def told(text: str, dump: str = DUMP, **more: str) -> tuple[Unsure, ...]:
    dialect = make(text, **more)
    craft = read(dialect, dump)
    assert craft.strays == craft.misread == ()
    assert frozenset(one.name for one in unconfirmed(craft, dialect)) == craft.unsure
    return unconfirmed(craft, dialect)


def body(settings: str = SETTINGS, modes: str = MODES, forms: str = FORMS, **more: str) -> str:
    marks = {"signal": "", "poles": ""} | more
    for name, mark in marks.items():
        settings = settings.replace(f"{{{name}}}", mark)
    return f"{settings}{modes}{forms}"


def line_of(text: str, mark: str) -> str:
    """Where a mark stands in the dialect file that ``make`` makes of a text."""
    whole = '[dialect]\nid = "own"\n\n[marks]\n'
    whole += '\nassign = "let {name} be {value}"\n' + text
    at = whole.index(mark)
    return f"own.toml:{whole.count(chr(10), 0, at) + 1}:{at - whole.rfind(chr(10), 0, at)}"


def test_nothing_is_marked() -> None:
    assert told(body()) == ()
    craft = read(make(body()), DUMP)
    assert all(value.sure for value in craft.values.values())
    assert all(row.sure for row in (*craft.mode_ranges, *craft.mode_links))


@pytest.mark.parametrize(
    ("text", "mark", "name", "written", "lines"),
    [
        (body(signal=", sure = false"), "sure", "motor.signal", "talk", (1,)),
        (body(signal=', unsure = ["dshot300"]'), "unsure", "motor.signal", "talk", (1,)),
        (body(poles=", sure = false"), "sure", "motor.poles", "poles", (2,)),
        (body(modes=MODES + 'unsure = ["arm"]\n'), '"arm"', "mode arm", "8", (3, 5)),
        (body(modes=MODES + 'unsure = ["beacon"]\n'), '"beacon"', "mode beacon", "3", (4, 5)),
        (
            body(forms=FORMS.replace('makes = "range"', 'makes = "range"\nsure = false')),
            "sure", "range", "{mode} on ch{channel} {low}-{high}", (3, 4),
        ),
        (
            body(forms=FORMS.replace(
                'makes = "range"',
                'makes = "range"\nfields = { low = { offset = 1, sure = false } }',
            )),
            "sure", "range", "{mode} on ch{channel} {low}-{high}", (3, 4),
        ),
        (
            body(forms=FORMS.replace('makes = "link"', 'makes = "link"\nsure = false')),
            "sure", "link", "{mode} with {follows}", (5,),
        ),
        (
            body(forms=FORMS + 'fields = { what = { sure = false } }\n'),
            "sure", "port.N.functions", "port {N} {what} {baud}", (6, 7),
        ),
        (
            body(forms=FORMS + 'fields = { what = { words = { gps = "gps", log = "log" }, '
                 'unsure = ["log"] } }\n'),
            "unsure", "port.N.functions", "port {N} {what} {baud}", (7,),
        ),
    ],
)  # fmt: skip
def test_one_mark_is_found_again(
    text: str, mark: str, name: str, written: str, lines: tuple[int, ...]
) -> None:
    assert told(text) == (Unsure(name, written, lines, line_of(text, mark)),)


def test_a_link_rests_on_both_its_modes() -> None:
    own = 'fields = { mode = { words = { beacon = "3" }, unsure = ["beacon"] } }'
    forms = FORMS.replace('makes = "link"', f'makes = "link"\n{own}')
    found = told(body(forms=forms))
    assert [(one.name, one.lines) for one in found] == [("mode beacon", (5,))]
    assert found[0].mark == line_of(body(forms=forms), '"beacon"]')


def test_a_form_that_is_unconfirmed_as_a_whole_or_in_its_number() -> None:
    for mark in ("sure = false\n", "fields = { N = { sure = false } }\n"):
        found = told(body(forms=FORMS + mark))
        assert [one.name for one in found] == ["port.N.baud", "port.N.functions"]
        assert {one.mark for one in found} == {line_of(body(forms=FORMS + mark), "sure")}


def test_a_channel_by_a_word_that_is_unconfirmed() -> None:
    field = 'fields = { join = { words = { all = "and", any = "or" }, unsure = ["all"] } }'
    line = 'at = "{mode} {join} {channel} {low} {high}"'
    forms = f'[[rows]]\n{line}\nmakes = "range"\n{field}'
    craft = read(make(MODES + forms), "8 and 5 1000 2000\n8 or 5 1000 2000\n")
    assert [row.sure for row in craft.mode_ranges] == [False, True]
    assert craft.unsure == {"range"}


def test_traits_and_identity() -> None:
    traits = '[traits]\ninversion = "absolute"\nrange_ends = "closed"\nunsure = ["inversion"]\n'
    lines = '[identity]\nlines = ["# {board} {firmware}"]\nsure = false\n'
    text = traits + lines + body()
    found = told(text, "# FERN 4\n" + DUMP, marks='comment = "#"\nassign = "let {name} be {value}"')
    assert [(one.name, one.written, one.lines) for one in found] == [
        ("craft.board", "", (1,)), ("craft.firmware", "", (1,)), ("craft.name", "", ()),
        ("trait inversion", "", ()),
    ]  # fmt: skip
    assert "own.toml" in found[0].mark


def test_a_default_that_nobody_confirmed() -> None:
    text = body(poles=", sure = false")
    dialect = make(text)
    craft = read(dialect, "let talk be 17\n", extent="changes")
    assert [one.lines for one in unconfirmed(craft, dialect)] == [()]
    assert (craft.values["motor.poles"].origin, craft.values["motor.poles"].sure) == (
        "default", False,
    )  # fmt: skip
    word = body(signal=', default = "dshot600", unsure = ["dshot600"]')
    shape = 'assign = "let {name} be {value}"\nremoval = "forget {name}"'
    for dump in ("let poles be 12\n", "let talk be 17\nforget talk\n"):
        craft = read(make(word, marks=shape), dump, extent="changes")
        assert not craft.values["motor.signal"].sure
        assert craft.unsure == {"motor.signal"}
    # A word that does not come up makes nothing doubtful.
    assert read(make(word), "let talk be 17\n").unsure == frozenset()


def test_numbers_and_flags_as_words() -> None:
    rows = '[map]\n"port.N.baud" = { at = "let b{N} be", words = { 9600 = 1, 115200 = 2 }'
    dialect = make(rows + ', unsure = ["115200"] }')
    craft = read(dialect, "let b1 be 1\nlet b2 be 2\n")
    assert [craft.values[f"port.{n}.baud"].sure for n in (1, 2)] == [True, False]
    flag = make('[map]\n"log.on" = { at = "let log be", sure = false }\n')
    assert not read(flag, "let log be yes\n").values["log.on"].sure


CHANGES = """
[identity]
lines = ["# {board} {firmware}"]
[[changes]]
at = "2"
modes = { beacon = 4, unsure = ["beacon"] }
[[changes]]
at = "3"
[changes.map]
"motor.poles" = { at = "let magnets be", sure = false }
[[changes]]
at = "4"
modes = { unsure = [] }
[changes.map]
"motor.poles" = { sure = true }
"""


@pytest.mark.parametrize(
    ("version", "names"),
    [
        ("1", ["mode arm"]),
        ("2", ["mode beacon"]),
        ("3", ["mode beacon", "motor.poles"]),
        ("4", []),
    ],
)
def test_changes_mark_and_confirm(version: str, names: list[str]) -> None:
    text = body(modes=MODES + 'unsure = ["arm"]\n') + CHANGES
    dialect = make(text, marks='comment = "#"\nassign = "let {name} be {value}"')
    craft = read(dialect, f"# FERN {version}\n")
    assert sorted(craft.unsure) == names
    found = {one.name: one.mark for one in unconfirmed(craft, dialect)}
    at = {name: dialect.document.line(int(mark.split(":")[1])) for name, mark in found.items()}
    wanted = {
        "mode arm": 'unsure = ["arm"]',
        "mode beacon": 'modes = { beacon = 4, unsure = ["beacon"] }',
        "motor.poles": '"motor.poles" = { at = "let magnets be", sure = false }',
    }
    assert at == {name: wanted[name] for name in names}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (body(modes=MODES + 'unsure = ["amr"]\n'), "`amr` is marked unsure, but nothing here says "
         "how it is written; did you mean `arm`?"),
        (body(signal=', unsure = ["brushed"]'), "it may be `dshot300` or `dshot600`"),
        (body(poles=', unsure = ["12"]'), "take it out"),
        ('[traits]\nunsure = ["inversion"]\n' + body(), "`inversion` is marked unsure"),
        (body(modes=MODES + "unsure = true\n"), "must be a list of texts"),
        (body(signal=", sure = 1"), "must be `true` or `false`"),
        (body(forms=FORMS + "fields = { what = { unsure = [1] } }"), "must be a text"),
    ],
)  # fmt: skip
def test_mistakes(text: str, message: str) -> None:
    with pytest.raises(Problem, match="own") as caught:
        make(text)
    assert message in str(caught.value)


def test_bundled_dialects_are_confirmed() -> None:
    from cfglint.dialect.load import bundled, bundled_names

    assert all(not bundled(name).at("").unsure for name in bundled_names())
