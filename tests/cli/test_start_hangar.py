"""``cfglint start hangar``: a hangar from nothing, and nothing that is there is written over."""

from __future__ import annotations

import io
import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.cli import main, start_run
from cfglint.cli import whole as writing
from cfglint.cli.start_card import ASKED, FIELDS, Facts, card_text, fact, switch, waits
from cfglint.cli.start_files import Planned, look, write
from cfglint.cli.start_hangar import Sample, Wish, literal, place_of, plan
from cfglint.cli.teach_files import sealed
from cfglint.craft.cards import read_card
from cfglint.dialect.load import load_dialect
from cfglint.errors import Problem
from cfglint.plugins import load_rules
from cfglint.runner.lint import Request, lint
from cfglint.runner.names import compiled
from cfglint.teach.openings import Draft
from cfglint.teach.sheet import Question
from cfglint.teach.whole import Whole

from .conftest import DUMP

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.dump.source import Source

    from .conftest import Call

DUMPS = Path(__file__).parents[2] / "fixtures" / "saltmarsh" / "dumps"
CARDS = DUMPS.parent / "cards"

#: A dump that no bundled dialect reads, and the dialect that does.
STRANGE = """\
# reed MARBLE 1.4
put talk 15
put magnets 14
put eagerness 30
"""
REED = """\
[dialect]
id = "{name}"
versions = ">=1.0,<3"

[marks]
comment = "#"
assign = "put {{name}} {{value}}"

[identity]
lines = ["# reed {{board}} {{firmware}}"]

[map]
"motor.poles" = {{ at = "put magnets", default = 14 }}
"motor.signal" = {{ at = "put talk", words = {{ dshot300 = 3, dshot600 = 6 }} }}

[kept]
at = ["put eagerness"]
"""


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def taught(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, list[str]]]:
    """Teaching stood in for: what it was asked, as it comes."""
    asked: list[tuple[str, list[str]]] = []

    def whole(sources: Sequence[Source], name: str = "mine") -> Whole:
        asked.append((name, [one.file for one in sources]))
        text = REED.format(name=name)
        dialect = load_dialect("draft", text.encode())
        asks = (Question("find", "", "loop.rate_hz", "loop.rate_hz: not found", 1.0),)
        return Whole(text, dialect, Draft(text, {}, ()), asks, asks, tuple(sources), ())

    monkeypatch.setattr("cfglint.teach.whole.whole", whole)
    return asked


def tree(folder: Path | str = ".") -> dict[str, bytes | str]:
    """Every file below a folder with its bytes, links with where they lead."""
    found: dict[str, bytes | str] = {}
    for path in sorted(Path(folder).rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = f"-> {os.readlink(path)}"
        elif path.is_dir():
            found[name + "/"] = ""
        else:
            found[name] = path.read_bytes() if path.is_file() else "no file"
    return found


def dump(name: str = "avocet.dump.txt", text: str = DUMP) -> Path:
    path = Path("from") / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def says(monkeypatch: pytest.MonkeyPatch, *lines: str, terminal: bool = False) -> None:
    """Let standard input say this."""
    stream = io.StringIO("".join(f"{line}\n" for line in lines))
    if terminal:
        stream.isatty = lambda: True  # type: ignore[method-assign]
        monkeypatch.setattr(start_run, "at_terminal", lambda: True)
    monkeypatch.setattr("sys.stdin", stream)


# ------------------------------------------------------------------ the first run


def test_from_nothing(call: Call) -> None:
    source = dump()
    source.write_bytes(source.read_bytes().replace(b"\n", b"\r\n") + b"\xff\x01 odd\n")
    code, out, err = call("start", "hangar", "marsh", "--dump", source)
    assert err == ""
    assert set(tree("marsh")) == {
        "dumps/", "dumps/avocet.dump.txt", "cards/", "cards/avocet.toml", "dialects/", "rules/",
        "cfglint.toml", "README.md", ".pre-commit-config.yaml", ".ci/", ".ci/lint", ".gitignore",
    }  # fmt: skip
    assert Path("marsh/dumps/avocet.dump.txt").read_bytes() == source.read_bytes()
    result = lint(Request(("marsh",)))
    assert code == result.exit_code() == 1
    assert [craft.card for craft in result.crafts] == ["cards/avocet.toml"]
    assert not result.troubles
    assert "Hangar marsh ── 7 files made ──" in out
    assert "made   marsh/dumps/avocet.dump.txt, copied from from/avocet.dump.txt" in out
    assert "dump/unreadable-line" in out
    assert "\n     1.   marsh/cards/avocet.toml leaves out " in out
    assert "cfglint bench marsh/dumps/avocet.dump.txt" in out
    assert "propellers off before a battery" in out
    assert "Local aviation rules" in out


def left_out(out: str, craft: str) -> int:
    """How many facts a card leaves out, by what is printed of it."""
    found = re.search(rf"{craft}\.toml leaves out (\d+) fact", out)
    return int(found[1]) if found is not None else 0


def test_it_is_like_the_demo(call: Call) -> None:
    """From the demo's dumps and flags alone: the same outcomes as the demo has."""
    words: list[str] = []
    for path in sorted(DUMPS.iterdir()):
        craft = path.name.partition(".")[0]
        words += ["--dump", str(path), *flags(craft)]
    code, out, err = call("start", "hangar", "marsh", *words)
    assert (code, err) == (1, "")
    # As the demo has it; what a new rule asks for, no card of it says.
    new = left_out(out, "dunlin")
    assert left_out(out, "lapwing") == new + 1
    ours = outcomes(Path("marsh"))
    assert ours == {
        key: row for key, row in outcomes(CARDS.parent).items() if key[1][:6] != "marsh/"
    }
    assert len(ours) > 8 * 60


def test_one_craft_is_like_in_the_demo(call: Call) -> None:
    code, _, err = call(
        "start", "hangar", "--dump", DUMPS / "dunlin.dump.txt",
        *(word.replace("dunlin:", "") for word in flags("dunlin")),
    )  # fmt: skip
    assert (code, err) == (1, "")
    ours, theirs = outcomes(Path()), outcomes(CARDS.parent)
    alone = {"fleet"}  # compares with the others
    assert ours
    for key, row in ours.items():
        if key[1].partition("/")[0] not in alone:
            assert theirs[key] == row, key


def flags(craft: str) -> Iterator[str]:
    """A demo card as options."""
    data = tomllib.loads((CARDS / f"{craft}.toml").read_text(encoding="utf-8"))
    for one in data.pop("switch"):
        names = one.get("names") or [""] * len(one["positions_us"])
        pulses = (
            f"{name}={pulse}".lstrip("=")
            for name, pulse in zip(names, one["positions_us"], strict=True)
        )
        more = f":jitter={one['jitter_us']}" if "jitter_us" in one else ""
        more += ":momentary" if one.get("momentary") else ""
        yield from ("--switch", f"{craft}:{one['name']}={one['channel']}:{','.join(pulses)}{more}")

    def rows(table: dict[str, Any], above: str) -> Iterator[str]:
        for key, value in table.items():
            if isinstance(value, dict):
                yield from rows(value, f"{above}{key}.")
                continue
            text = {True: "yes", False: "no"}.get(value) if isinstance(value, bool) else str(value)
            text = ",".join(value) if isinstance(value, list) else text
            yield from ("--set", f"{craft}:{above}{key}={text}")

    yield from rows(data, "")


def outcomes(folder: Path) -> dict[tuple[str, str], tuple[str, tuple[tuple[str, str, int], ...]]]:
    """State and findings (grade, message, line of the dump) by craft and rule."""
    run = lint(Request((str(folder),)))
    assert not run.troubles
    return {
        (one.craft, one.rule): (
            one.state,
            tuple(
                (found.grade, found.message, found.span.line)
                if found.span.file == found.file
                else (found.grade, found.message, 0)
                for found in one.found
            ),
        )
        for one in run.verdicts
    }


def test_again_changes_nothing(call: Call) -> None:
    words = ["start", "hangar", "--dump", str(dump()), "--set", "airframe.motors=4"]
    call(*words)
    before = tree()
    code, out, err = call(*words)
    assert (code, err) == (0, "")
    assert tree() == before
    assert out.startswith("Hangar . ── nothing made, 7 there already ──")
    assert "nothing was changed; `cfglint lint .` checks it" in out
    assert "every card is there already, so no answer was written into one" in out
    assert "Next" not in out
    code, out, _ = call("start", "hangar")
    assert (code, tree()) == (0, before)
    assert "no answer" not in out


def test_the_next_dump_gets_its_place_and_card(call: Call) -> None:
    call("start", "hangar", "--dump", dump())
    before = tree()
    code, out, err = call(
        "start", "hangar", "--dump", dump("bittern.txt", DUMP.replace("Avo", "B"))
    )
    assert (code, err) == (1, "")
    after = tree()
    assert {name: after[name] for name in before} == before
    assert set(after) - set(before) == {
        "from/bittern.txt", "dumps/bittern.dump.txt", "cards/bittern.toml"
    }  # fmt: skip
    assert "Hangar . ── 2 files made, 7 there already" in out
    assert "add   " not in out


def test_a_dump_put_there_by_hand_gets_a_card(call: Call) -> None:
    Path("dumps").mkdir()
    Path("dumps/avocet.dump.txt").write_text(DUMP, encoding="utf-8")
    Path("dumps/.hidden.dump.txt").write_text(DUMP, encoding="utf-8")
    Path("dumps/empty.dump.txt").write_text("", encoding="utf-8")
    Path("dumps/odd.dump.txt").mkdir()
    Path("dumps/notes.md").write_text("", encoding="utf-8")
    code, out, _ = call("start", "hangar")
    assert "made   cards/avocet.toml" in out
    assert sorted(os.listdir("cards")) == ["avocet.toml", "empty.toml"]
    assert "no dialect reads the dump yet" in Path("cards/empty.toml").read_text(encoding="utf-8")
    assert code == 3  # the lint tells of the empty one
    assert Path("dumps/.hidden.dump.txt").exists()
    # One that is named and lies there already is not copied.
    (Path("cards") / "avocet.toml").unlink()
    code, out, _ = call("start", "hangar", "--dump", "dumps/avocet.dump.txt")
    assert "made   cards/avocet.toml" in out
    assert "copied" not in out


def test_another_dump_of_the_same_craft_is_left_alone(call: Call) -> None:
    call("start", "hangar", "marsh", "--dump", dump())
    before = tree("marsh")
    newer = dump(text=DUMP.replace("stop", "descend"))
    code, out, err = call("start", "hangar", "marsh", "--dump", newer)
    assert (code, err) == (0, "")
    assert tree("marsh") == before
    told = " ".join(out.split())
    assert "it is another than from/avocet.dump.txt, and was left as it is" in told
    assert "`cfglint compare marsh/dumps/avocet.dump.txt from/avocet.dump.txt`" in told
    # Its card would be that of the dump that counts.
    Path("marsh/cards/avocet.toml").unlink()
    call("start", "hangar", "marsh", "--dump", newer)
    assert tree("marsh") == before


def test_without_any_dump(call: Call) -> None:
    code, out, err = call("start", "hangar", "new/marsh")
    assert (code, err) == (0, "")
    told = " ".join(out.split())
    assert "1. Make a dump of a craft, then `cfglint start hangar new/marsh --dump FILE`." in told
    data = tomllib.loads(Path("new/marsh/cfglint.toml").read_text(encoding="utf-8"))
    assert data["hangar"]["name"] == "marsh"
    assert call("lint", "new/marsh").code == 4
    code, out, _ = call("start", "hangar", "new/marsh", "--dump", dump())
    assert (code, "2 files made" in out) == (1, True)


def test_parts_that_are_not_wanted(call: Call) -> None:
    words = ["--hook", "none", "--ci", "none", "--name", 'The "Marsh"']
    call("start", "hangar", "marsh", *words)
    assert [name for name in tree("marsh") if name.startswith(".")] == []
    assert tomllib.loads(Path("marsh/cfglint.toml").read_text())["hangar"]["name"] == 'The "Marsh"'
    assert Path("marsh/README.md").read_text(encoding="utf-8").startswith('# The "Marsh"\n')


# ------------------------------------------------------------------ the card


def test_answers_from_options(call: Call) -> None:
    call(
        "start", "hangar", "--dump", dump(),
        "--set", "esc.signals=dshot600, dshot300", "--set", "airframe.motors=4",
        "--set", "esc.two_way=yes", "--set", "receiver.rate_hz=142.5", "--set", "craft=Avo",
        "--set", "port.2.inverter=none", "--set", 'esc.firmware=3.6 "b"',
        "--switch", "K5=5:up=988,down=2012:jitter=2", "--switch", "K6=10:988,2012:momentary",
    )  # fmt: skip
    text = Path("cards/avocet.toml").read_text(encoding="utf-8")
    card = read_card("card", text.encode())
    assert card.values == {
        "craft": "Avo",
        "airframe.motors": 4,
        "esc.signals": frozenset({"dshot300", "dshot600"}),
        "esc.two_way": True,
        "esc.firmware": '3.6 "b"',
        "receiver.rate_hz": 142.5,
        "port.2.inverter": "none",
    }
    first, second = card.switches
    assert (first.names, first.jitter_us, first.momentary) == (("up", "down"), 2, False)
    assert (second.positions, second.channel, second.momentary) == ((988, 2012), 10, True)
    assert 'signals = ["dshot300", "dshot600"]  # motor signals' in text
    # What is not said stands there all the same.
    assert '\n# kind = "…"\n# Left out' in text


def test_what_is_left_out_names_the_rules(call: Call) -> None:
    """Every rule that a lint says is waiting for the card is named with what it waits for."""
    for name in ("avocet", "curlew", "egret"):
        call("start", "hangar", name, "--dump", DUMPS / f"{name}.dump.txt")
        text = Path(name, "cards", f"{name}.toml").read_text(encoding="utf-8")
        flat = " ".join(line.removeprefix("#").strip() for line in text.split("\n"))
        seen = 0
        for verdict in lint(Request((name,))).verdicts:
            for lack in verdict.lacks:
                if lack.where != "card":
                    continue
                seen += 1
                key = (
                    lack.fact.rpartition(".")[2]
                    .removeprefix("switch on ")
                    .replace("channel ", "channel = ")
                )
                after = flat.partition(f" {key} " if "channel = " in key else f" {key} = ")[2]
                assert (
                    verdict.rule in after.partition("Left out, so unknown: ")[2].partition(". ")[0]
                )
        assert seen > 10


def test_a_rule_is_named_with_all_the_facts_of_its_chain() -> None:
    from cfglint.dialect.load import bundled
    from cfglint.dump.source import Source

    source = Source.from_text(
        "x", "let motor-signal be dshot300\nuse self-right while channel 7 in 1755..2165"
    )
    rules = load_rules().rules
    found = waits(source, bundled("plain"), Facts(), "x", rules)
    rule = "motor/self-right-firmware-too-old"
    chain = [name for name, rows in found.items() if rule in rows]
    assert chain == ["esc.reverses_from", "esc.firmware", "esc.firmware_order"] or {
        "esc.firmware", "esc.firmware_order", "esc.reverses_from"
    } <= set(chain)  # fmt: skip
    # Each of them settled, it waits no more.
    known = Facts(
        {
            "esc.reverses": True,
            "esc.firmware": "17",
            "esc.reverses_from": "3.58",
            "esc.firmware_order": "decimal",
        }
    )
    later = waits(source, bundled("plain"), known, "x", rules)
    assert not any(rule in rows for rows in later.values())

    def broken(craft: Any, options: Any) -> Iterator[Any]:
        raise RuntimeError("mine")

    assert waits(source, bundled("plain"), Facts(), "x", [rules[0]._replace(check=broken)]) == {}


words = {
    "flag": st.sampled_from(["yes", "no", "true", "false"]),
    "count": st.integers(1, 99).map(str),
    "text": st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(str.strip),
}
#: Numbers that a card takes, by the unit in which they are asked for.
numbers = {
    "Hz": st.decimals(1, 4000, places=1),
    "deg": st.decimals(-360, 360, places=2),
    "µs": st.decimals(500, 2500, places=1),
}


@given(st.data())
def test_what_is_answered_is_what_the_card_says(data: st.DataObject) -> None:
    """From answer to card and back, for every field that there is."""
    name = data.draw(st.sampled_from(list(FIELDS)))
    row = FIELDS[name]
    if row.kind == "word":
        text = data.draw(st.sampled_from(row.words))
    elif row.kind == "words":
        text = ",".join(data.draw(st.sets(st.sampled_from(row.words), min_size=1)))
    elif name == "transmitter.jitter_us":
        text = str(data.draw(st.decimals(0, 500, places=1)))
    elif row.kind == "number":
        text = str(data.draw(numbers.get(row.unit, st.decimals(1, 99, places=1))))
    elif name == "transmitter.channel_order":
        text = "".join(data.draw(st.permutations("AETR")))
    else:
        text = data.draw(words[row.kind])
    name = name.replace(".N.", ".3.")
    known = fact(name, text)
    waiting = data.draw(
        st.sampled_from(
            [None, {}, {"esc.signals": ["motor/x"], "switch on channel 7": ["modes/y"]}]
        )
    )
    card = read_card("card", card_text("avocet", known, waiting).encode())
    assert card.values == known.values
    assert list(known.values) == [name]
    (said,) = known.values.values()
    if row.kind == "text" and name != "transmitter.channel_order":
        assert said == text.strip()
    if row.kind == "words":
        assert said == set(text.split(","))
    if row.kind in ("number", "count"):
        assert said == float(text)


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        ("airframe.motors=-4", "`-4` cannot be"),
        ("receiver.rate_hz=-50", "is `-50`"),
        ("board.yaw_deg=--4", "`--4` cannot be"),
        ("board.yaw_deg=-", "`-` cannot be"),
        ("board.yaw_deg=-361", "is `-361`"),
        ("board.yaw_deg=-90.", "`-90.` cannot be"),
    ],
)
def test_less_than_nothing_only_where_there_is_such_a_thing(answer: str, why: str) -> None:
    with pytest.raises(Problem) as wrong:
        fact(*answer.split("="))
    assert why in wrong.value.message


def test_tables_stand_in_the_order_of_the_fields_and_of_their_numbers() -> None:
    known = Facts()
    for at in (10, 2, 1):
        known = known.plus(fact(f"port.{at}.wired", "log")).plus(fact(f"motor.{at}.place", "rear"))
    known = known.plus(fact("board.roll_deg", "-4.5")).plus(fact("battery.cells", "4"))
    lines = card_text("x", known, {}).split("\n")
    heads = [line.strip("[]") for line in lines if line.startswith("[")]
    assert [one for one in heads if one.startswith(("board", "motor", "battery", "port"))] == [
        "board", "motor.1", "motor.2", "motor.10", "battery", "port.1", "port.2", "port.10",
    ]  # fmt: skip
    assert "roll_deg = -4.5  # how far its board is rolled in the frame" in lines


def test_no_commented_line_can_be_mistaken_for_a_fact() -> None:
    """A field that is uncommented and not filled in is a mistake, never a value."""
    text = card_text("x", Facts(), {"port.2.inverter": ["a/b"], "esc.two_way": ["a/b"]})
    lines = text.split("\n")
    blanks = [
        at
        for at, line in enumerate(lines)
        if line.startswith("# ") and line.endswith(("…", '…"', "… ]"))
    ]
    blanks = [at for at in blanks if " = " in lines[at]]
    assert len(blanks) >= len(ASKED) + 2
    for at in blanks:
        changed = [*lines[:at], lines[at][2:], *lines[at + 1 :]]
        if lines[at].startswith(("# name", "# channel", "# positions")):
            continue
        if '"…"' in lines[at]:  # words are checked; a text may hold anything
            assert lines[at].split()[1] in (
                "kind",
                "firmware",
                "firmware_order",
                "link",
                "pad",
                "chemistry",
                "inverter",
            )
            if "firmware =" in lines[at]:
                continue
        with pytest.raises(Problem):
            read_card("card", "\n".join(changed).encode())


def test_answers_from_a_file(call: Call) -> None:
    Path("answers.toml").write_text('[airframe]\nmotors = 6\n[esc]\nsignals = ["dshot300"]\n')
    call(
        "start", "hangar", "marsh", "--dump", dump(), "--answers", "answers.toml",
        "--set", "airframe.motors=4",
    )  # fmt: skip
    card = read_card("card", Path("marsh/cards/avocet.toml").read_bytes())
    assert card.values == {"airframe.motors": 4, "esc.signals": frozenset({"dshot300"})}


def test_several_craft(call: Call) -> None:
    words = ["start", "hangar", "m", "--dump", str(dump()), "--dump", str(dump("bittern.txt"))]
    code, out, err = call(*words, "--set", "airframe.motors=4")
    assert (code, out) == (2, "")
    assert err == (
        "cfglint: --set airframe.motors=4: which craft is that of? Cards are to be made for "
        "`avocet` and `bittern`; write `--set avocet:airframe.motors=4`\n"
    )
    assert not Path("m").exists()
    Path("a.toml").write_text("[battery]\ncells = 6\n")
    call(
        *words, "--set", "bittern:airframe.motors=4", "--switch", "avocet:K5=5:988,2012",
        "--answers", "bittern:a.toml",
    )  # fmt: skip
    avocet = read_card("card", Path("m/cards/avocet.toml").read_bytes())
    bittern = read_card("card", Path("m/cards/bittern.toml").read_bytes())
    assert bittern.values == {"airframe.motors": 4, "battery.cells": 6}
    assert (avocet.values, len(avocet.switches)) == ({}, 1)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("--set esc.signal=dshot300", "no field `esc.signal`; did you mean `esc.signals`?"),
        ("--set port.N.inverter=none", "no field `port.N.inverter`; did you mean `port.2.inv"),
        ("--set zzz=1", "a card has no field `zzz`; the fields are airframe.motors, "),
        ("--set esc.signals=dshot30", "did you mean `dshot300`?"),
        ("--set esc.two_way=maybe", "`maybe` cannot be; write `yes` or `no`"),
        ("--set airframe.motors=four", "`four` cannot be; write a whole number"),
        ("--set airframe.motors=4.5", "`4.5` cannot be; write a whole number"),
        ("--set airframe.motors=04", "`04` cannot be; write a whole number"),
        ("--set airframe.motors=0", "airframe.motors"),
        ("--set receiver.rate_hz=1.x", "`1.x` cannot be; write a number, in Hz"),
        ("--set airframe.motors=", "the answer is empty; write a whole number"),
        ("--set esc.firmware=", "the answer is empty; write the text itself"),
        ("--set airframe.motors", "there is no `=` in it; write `--set FIELD=VALUE`"),
        ("--set transmitter.channel_order=AETT", "which must hold A (roll)"),
        ("--set transmitter.low_us=2000 --set transmitter.high_us=1000", "not below"),
        ("--set dunlin:airframe.motors=4", "no dump of a craft `dunlin`; it may be `avocet`"),
        ("--switch K5=5", "`K5=5` describes no switch; write its name, its channel"),
        ("--switch K5=5:up,down", "describes no switch"),
        ("--switch K5=5:988", "has 1 item"),
        ("--switch K5=5:988,2012:sticky", "`sticky` says nothing about a switch; after its"),
        ("--switch K5=5:988,2012 --switch K1=5:988,2012", "switches `K5` and `K1` are both on"),
        ("--answers no.toml", "cfglint: no.toml: this file is not there; look at its name"),
        ("--answers bad.toml", "cfglint: bad.toml:1:10: "),
        ("--dump nothing.txt", "cfglint: nothing.txt: this file is not there; look at its name"),
        ("--dump .", "this is a folder"),
        ("--dump empty.txt", "cfglint: empty.txt: this file is empty; make the dump again"),
        ("--dump .hidden.txt", "a dump of a hangar cannot be called so: its name beg"),
        ("--dump other/AVOCET.txt", "this dump and `from/avocet.dump.txt` would both be"),
        ("--dialect plan", "there is no dialect `plan`; did you mean `plain`?"),
        ("--dialect no.toml", "cfglint: no.toml: this file is not there"),
        ("--dialect bad.toml", "cfglint: bad.toml"),
        ("--dialect plain.toml", "is the name of a bundled dialect; say --dialect plain to"),
        ("--dialect slash.toml", "`re/ed` cannot be a dialect's name here"),
        ("--teach plain", "--teach: `plain` is the name of a bundled dialect; choose another"),
        ("--teach ../x", "--teach: `../x` cannot be a dialect's name here"),
        ("--teach x --dialect plain", "--dialect and --teach exclude each other"),
        ("--as toml", "--as is for `cfglint start rule`, not for a hangar; leave it out"),
        ("--in here", "--in is for `cfglint start rule`"),
        ("--ci magic", "`magic` cannot be; it may be `script` or `none`"),
    ],
)  # fmt: skip
def test_wrong_use(call: Call, words: str, message: str) -> None:
    Path("empty.txt").touch()
    Path(".hidden.txt").write_text(DUMP)
    Path("other").mkdir()
    Path("other/AVOCET.txt").write_text(DUMP)
    Path("bad.toml").write_text("[airframe\n")
    Path("slash.toml").write_text(REED.format(name="re/ed"))
    shutil.copy(DUMPS.parents[2] / "grammars" / "plain.toml", "plain.toml")
    source = dump()
    before = tree()
    code, out, err = call("start", "hangar", "marsh", "--dump", source, *words.split())
    assert (code in (2, 3), out) == (True, "")
    assert message in err
    assert err.count("\n") == 1
    assert "line " not in err or "line" in message
    assert tree() == before


def test_answers_without_a_dump(call: Call) -> None:
    code, _, err = call("start", "hangar", "marsh", "--set", "airframe.motors=4")
    assert (code, "there is no dump yet, and so no card to say it on" in err) == (2, True)
    code, _, err = call("start", "rule", "tide/x", "--dump", "x")
    assert code == 2
    assert err.startswith("cfglint: --dump is for `cfglint start hangar`, not for a rule; leave")
    code, _, err = call("start", "--dump", "x")
    assert code == 2
    assert err.startswith("cfglint: it is not said what to start; write `cfglint start hangar [F")
    assert not Path("marsh").exists()


def test_the_same_dump_named_twice(call: Call) -> None:
    source = dump()
    code, out, err = call("start", "hangar", "m", "--dump", source, "--dump", source.absolute())
    assert (code, err, out.count("copied")) == (1, "", 1)


# ------------------------------------------------------------------ dialects


def test_a_bundled_dialect(call: Call) -> None:
    call("start", "hangar", "--dump", dump(), "--dialect", "plain")
    (entry,) = tomllib.loads(Path("cfglint.toml").read_text(encoding="utf-8"))["dumps"]
    assert entry == {"files": "dumps/*.dump.txt", "dialect": "plain", "card": "cards/{stem}.toml"}


def test_a_dialect_file(call: Call) -> None:
    Path("mine.toml").write_text(REED.format(name="reed"), encoding="utf-8")
    code, out, err = call(
        "start", "hangar", "m", "--dump", dump("otter.txt", STRANGE), "--dialect", "./mine.toml"
    )
    assert err == ""
    assert code in (0, 1)
    assert Path("m/dialects/reed.toml").read_bytes() == Path("mine.toml").read_bytes()
    data = tomllib.loads(Path("m/cfglint.toml").read_text(encoding="utf-8"))
    assert data["dialects"] == {"reed": "dialects/reed.toml"}
    assert [entry["dialect"] for entry in data["dumps"]] == ["reed"]
    assert "draft" not in out
    (craft,) = lint(Request(("m",))).crafts
    assert craft.dialect == "reed"
    before = tree("m")
    call("start", "hangar", "m", "--dump", "from/otter.txt", "--dialect", "./mine.toml")
    assert tree("m") == before


def test_what_no_dialect_reads_is_taught(call: Call, taught: list[Any]) -> None:
    words = ["start", "hangar", "m", "--dump", str(dump("otter.txt", STRANGE))]
    code, out, err = call(*words)
    assert (code in (0, 1), err) == (True, "")
    assert taught == [("mine", ["from/otter.txt"])]
    assert Path("m/dialects/mine.toml").read_bytes() == sealed(REED.format(name="mine"))
    told = " ".join(out.split())
    assert "1. m/dialects/mine.toml is a draft with 1 open question, and what rests on a " in told
    assert "`cfglint teach m/dumps/otter.dump.txt --ask -o m/dialects/mine.toml` asks" in told
    (craft,) = lint(Request(("m",))).crafts
    assert craft.dialect == "mine"
    before = tree("m")
    code, out, _ = call(*words)
    assert (code, tree("m")) == (0, before)
    assert len(taught) == 1


@pytest.mark.parametrize("name", ["ini", "sentences"])
def test_taught_in_earnest(call: Call, root: Path, name: str) -> None:
    """The engine itself, on a dump that it was not made with."""
    folder = root / "tests" / "teach" / "handmade" / "open" / name
    words = ["start", "hangar", "m", "--dump", str(folder / "sample.dump.txt")]
    code, out, err = call(*words)
    assert (code in (0, 1), err) == (True, "")
    run = lint(Request(("m",)))
    assert [one.dialect for one in run.crafts] == ["mine"]
    assert not run.troubles
    assert "dialects/mine.toml is a draft with" in out
    assert code == 0 or "Once the dialect is confirmed, put right" in " ".join(out.split())
    before = tree("m")
    assert call(*words).code == 0
    assert tree("m") == before


def test_what_a_draft_does_not_know_is_unknown(call: Call, root: Path) -> None:
    """Modes are numbers here, and the failsafe's action is a code: no rule may speak of either."""
    newcomer = root / "fixtures" / "newcomer" / "turnstone.dump.txt"
    code, out, err = call("start", "hangar", "m", "--dump", newcomer)
    assert (code, err) == (0, "")
    run = lint(Request(("m",)))
    states = {one.rule: one.state for one in run.verdicts}
    assert "broken" not in states.values()
    for rule in ("modes/arm-missing", "failsafe/never-set", "failsafe/holds-last-values"):
        assert states[rule] == "unknown", rule
    assert "`modes.arm` in the dialect file" in " ".join(out.split())
    data = tomllib.loads(Path("m/dialects/mine.toml").read_text(encoding="utf-8"))
    assert "note lost-then" in data["kept"]["at"]
    assert data["kept"]["sure"] is False


def test_lines_that_a_draft_does_not_understand_are_no_findings(call: Call, root: Path) -> None:
    """Once somebody has looked over what it leaves out they are."""
    newcomer = root / "fixtures" / "newcomer" / "turnstone.dump.txt"
    call("start", "hangar", "m", "--dump", newcomer)
    with Path("m/dumps/turnstone.dump.txt").open("a", encoding="utf-8") as stream:
        stream.write("note esc-wobble: 7\nnote rx-link: semaphore\n")
    path = Path("m/dialects/mine.toml")
    draft = path.read_text(encoding="utf-8")
    for text, state in ((draft, "unknown"), (draft.replace("\nsure = false\n", "\n"), "broken")):
        path.write_text(text, encoding="utf-8")
        states = {one.rule: one.state for one in lint(Request(("m",))).verdicts}
        assert states["dump/unknown-setting"] == state
        assert states["dump/value-not-understood"] == state


def test_taught_under_a_name_and_beside_others(call: Call, taught: list[Any]) -> None:
    call("start", "hangar", "a", "--dump", dump("otter.txt", STRANGE), "--teach", "reed")
    data = tomllib.loads(Path("a/cfglint.toml").read_text(encoding="utf-8"))
    assert [entry["dialect"] for entry in data["dumps"]] == ["reed"]
    _, _, err = call(
        "start", "hangar", "b", "--dump", dump("ot[t]er.txt", STRANGE), "--dump", dump()
    )
    assert err == ""
    run = lint(Request(("b",)))
    assert {one.file: one.dialect for one in run.crafts} == {
        "dumps/avocet.dump.txt": "plain",
        "dumps/ot[t]er.dump.txt": "mine",
    }
    assert not run.troubles
    assert taught[1] == ("mine", ["from/ot[t]er.txt"])
    # Later the dialect that is there is the one that is meant.
    _, out, err = call(
        "start", "hangar", "a", "--dump", dump("vole.txt", STRANGE), "--teach", "reed"
    )
    assert (len(taught), err, "add" in out) == (2, "", False)


def test_a_dump_that_names_its_dialect_wrongly(call: Call, taught: list[Any]) -> None:
    code, _, err = call(
        "start", "hangar", "m", "--dump", dump("x.txt", "-- cfglint: dialect plan\n" + DUMP)
    )
    assert (code, taught) == (2, [])
    assert "the dump asks for the dialect `plan`, which is not here" in err


def test_what_teaching_is_not_for(
    call: Call, taught: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    source = dump("otter.txt", STRANGE)
    Path("m").mkdir()
    Path("m/own.toml").write_text("[dialect\n", encoding="utf-8")
    Path("m/cfglint.toml").write_text('[dialects]\nown = "own.toml"\n', encoding="utf-8")
    code, _, err = call("start", "hangar", "m", "--dump", source)
    assert (code, err.startswith("cfglint: own.toml:1:9: "), taught) == (2, True, [])

    def several(*words: object) -> None:
        raise Problem("several dialects could have written this dump: a, b")

    monkeypatch.setattr("cfglint.dialect.choose.choose", several)
    code, _, err = call("start", "hangar", "n", "--dump", source)
    assert (code, "several dialects could" in err, taught) == (2, True, [])
    assert not Path("n").exists()


def test_a_faulty_dump_of_the_hangar_stops_nothing(call: Call, taught: list[Any]) -> None:
    """What is wrong with a dump that was there before is for the lint to tell."""
    call("start", "hangar", "m", "--dump", dump())
    asks = "-- cfglint: dialect plan\n" + DUMP
    Path("m/dumps/a.dump.txt").write_text(asks, encoding="utf-8")
    Path("m/dumps/b.dump.txt").write_text(STRANGE, encoding="utf-8")
    code, out, err = call("start", "hangar", "m", "--dump", dump("curlew.txt"))
    assert (code, err, taught) == (3, "", [])
    assert sorted(os.listdir("m/cards")) == ["a.toml", "avocet.toml", "b.toml", "curlew.toml"]
    assert "the dump asks for the dialect `plan`" in " ".join(out.split())
    assert call("start", "hangar", "m").code == 0


# ------------------------------------------------------------------ a hangar that has its own way


def test_lines_to_add(call: Call, taught: list[Any]) -> None:
    Path("cfglint.toml").write_text('[[dumps]]\nfiles = "craft/*.txt"\n', encoding="utf-8")
    Path("craft").mkdir()
    Path("craft/curlew.txt").write_text(DUMP, encoding="utf-8")
    Path(".pre-commit-config.yaml").write_text("repos: []\n", encoding="utf-8")
    before = tree()
    words = ["start", "hangar", "--dump", str(dump()), "--dump", str(dump("otter.txt", STRANGE))]
    code, out, err = call(*words, "--dump", "craft/curlew.txt")
    assert err == ""
    after = tree()
    assert {name: after[name] for name in before} == before
    assert "dialects/mine.toml" in after
    assert "rules/" not in after
    lines = out.split("\n")
    assert "    add   to cfglint.toml:" in lines
    assert "          [dialects]" in lines
    assert '          "mine" = "dialects/mine.toml"' in lines
    assert '          files = "dumps/avocet.dump.txt"' in lines
    assert '          dialect = "mine"' in lines
    assert '    add   to cfglint.toml, to the entry of "craft/*.txt" (line 2):' in lines
    assert "    add   to .pre-commit-config.yaml:" in lines
    # Run again before they are added, it says so again and changes nothing.
    code, out, err = call(*words)
    assert (code, tree()) == (0, after)
    assert "nothing was changed" not in out
    assert '          dialect = "mine"' in out.split("\n")
    # With the lines added there is nothing left to add.
    Path("cfglint.toml").write_text(
        '[[dumps]]\nfiles = "dumps/otter.dump.txt"\ndialect = "mine"\ncard = "cards/{stem}.toml"\n'
        '[[dumps]]\nfiles = ["dumps/*.dump.txt"]\ncard = "cards/{stem}.toml"\n'
        '[[dumps]]\nfiles = "craft/*.txt"\ncard = "cards/{stem}.toml"\n'
        '[dialects]\nmine = "dialects/mine.toml"\n'
    )
    code, out, err = call(*words)
    assert (code, err, "to cfglint.toml" in out) == (0, "", False)


def test_another_dialect_to_add(call: Call) -> None:
    Path("own.toml").write_text(REED.format(name="own"), encoding="utf-8")
    Path("cfglint.toml").write_text(
        '[[dumps]]\nfiles = "x/*"\ncard = "x.toml"\n[dialects]\nown = "own.toml"\n'
    )
    Path("reed.toml").write_text(REED.format(name="reed"), encoding="utf-8")
    _, out, err = call(
        "start", "hangar", "--dump", dump("otter.txt", STRANGE), "--dialect", "./reed.toml"
    )
    assert '    add   to cfglint.toml, below [dialects]:\n          "reed" = ' in out
    assert '          files = "dumps/*.dump.txt"' in out.split("\n")
    assert err == ""


def test_the_demo_lacks_only_the_hook_and_the_script(call: Call) -> None:
    shutil.copytree(DUMPS.parent, "marsh")
    before = tree("marsh")
    call("start", "hangar", "marsh")
    after = tree("marsh")
    assert {name: after[name] for name in before} == before
    assert set(after) - set(before) == {".pre-commit-config.yaml", ".ci/", ".ci/lint", ".gitignore"}


def test_a_configuration_that_is_wrong_stops_it(call: Call) -> None:
    Path("cfglint.toml").write_text("[hanger]\n")
    before = tree()
    code, out, err = call("start", "hangar")
    assert (code, out, tree()) == (2, "", before)
    assert err.startswith("cfglint: cfglint.toml:1:2: ")
    Path("cfglint.toml").unlink()
    Path("cfglint.toml").symlink_to("nowhere")
    code, _, err = call("start", "hangar")
    assert (code, "the configuration cannot be read" in err) == (3, True)


def test_no_hangar_in_a_hangar(call: Call) -> None:
    call("start", "hangar", "marsh")
    code, _, err = call("start", "hangar", "marsh/north")
    assert code == 2
    assert err.startswith("cfglint: marsh/north: this folder lies in the hangar `marsh`, and none")
    assert not Path("marsh/north").exists()


# ------------------------------------------------------------------ nothing is written over


NAMES = (
    "dumps/avocet.dump.txt", "cards/avocet.toml", "cfglint.toml", "README.md",
    ".pre-commit-config.yaml", ".ci/lint", "dumps", "cards", "dialects", "rules", ".ci",
    "dialects/mine.toml",
)  # fmt: skip
KINDS = st.sampled_from(["bytes", "link", "dangling", "folder"])


@given(
    st.dictionaries(st.sampled_from(NAMES), st.tuples(KINDS, st.binary(max_size=40)), max_size=5)
)
def test_whatever_is_there_stays(there: dict[str, tuple[str, bytes]]) -> None:
    """Any part of it there beforehand, of any kind and with any contents, is as it was."""
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as name:
        top = Path(name)
        (top / "avocet.txt").write_text(DUMP, encoding="utf-8")
        (top / "out").mkdir()
        (top / "out" / "kept").write_bytes(b"kept")
        root = top / "marsh"
        for place, (kind, data) in sorted(there.items()):
            path = root / place
            if any(part.is_symlink() or part.is_file() for part in path.parents):
                continue
            path.parent.mkdir(parents=True, exist_ok=True)
            if kind == "bytes":
                if not path.is_dir():
                    path.write_bytes(data)
            elif kind == "folder":
                path.mkdir(exist_ok=True)
            elif not path.exists():
                path.symlink_to(top / ("out" if kind == "link" else "nowhere"))
        before = tree(top)
        words = ["start", "hangar", str(root), "--dump", str(top / "avocet.txt"), "--no-ask"]
        code = main(words)
        after = tree(top)
        assert {place: after.get(place) for place in before} == before
        assert all(place.startswith("marsh") for place in set(after) - set(before))
        assert not any(".new" in place for place in after)
        # All or nothing, and once is enough.
        fresh = set(after) - set(before)
        if fresh:
            made = {"marsh/cfglint.toml", "marsh/cards/avocet.toml", "marsh/.ci/lint"}
            # Where a folder is named like a file, none can be made.
            assert {place for place in made if not (top / place).is_dir()} <= set(after)
        assert main(words) in (0, code)
        assert tree(top) == after


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Path("m").write_text("x"), "cfglint: m: this is no folder, and a hangar is one"),
        (lambda: Path("m").symlink_to("gone"), "cfglint: m: this is no folder"),
        (lambda: Path("m/dumps").write_text("x"), "m/dumps: a file stands where a folder must be"),
        (lambda: Path("m/rules").symlink_to("gone"), "m/rules: a link to nowhere stands where a f"),
        (lambda: Path("m/cards").symlink_to(".."), "m/cards: this is a link to `"),
        (lambda: Path("m/README.md").mkdir(), "m/README.md: a folder stands where a file must be"),
        (lambda: Path("m/README.md").symlink_to("x"), "m/README.md: a link to nowhere stands"),
        (lambda: os.mkfifo("m/README.md"), "m/README.md: no ordinary file stands where a file"),
    ],
)
def test_what_is_in_the_way(call: Call, make: Any, message: str) -> None:
    source = dump()
    try:
        make()
    except FileNotFoundError:
        Path("m").mkdir()
        make()
    before = tree()
    code, out, err = call("start", "hangar", "m", "--dump", source)
    assert (code, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1
    assert tree() == before
    assert not Path("m/cfglint.toml").exists()


def test_a_link_to_a_folder_of_the_hangar_will_do(call: Call) -> None:
    Path("m/all").mkdir(parents=True)
    Path("m/cards").symlink_to("all")
    code, _, err = call("start", "hangar", "m", "--dump", dump())
    assert (code, err) == (1, "")
    assert Path("m/all/avocet.toml").is_file()


def test_broken_off_and_taken_up_again(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever writing fails, what was made stays, and the same command completes it."""
    words = ["start", "hangar", "whole", "--dump", str(dump())]
    call(*words)
    whole = tree("whole")
    real = writing._named
    for last in range(6):
        written = 0

        def named(draft: str, path: str, last: int = last) -> bool:
            nonlocal written
            if written == last:
                raise OSError(28, "No space left on device")
            written += 1
            return real(draft, path)

        monkeypatch.setattr(writing, "_named", named)
        folder = f"n{last}"
        code, out, err = call("start", "hangar", folder, "--name", "whole", *words[3:])
        assert code == 2
        assert "cannot be written: No space left on device; put that right and run the same" in err
        assert out.count(" made   ") == last
        part = tree(folder)
        assert {name: whole[name] for name in part} == part
        monkeypatch.setattr(writing, "_named", real)
        call("start", "hangar", folder, "--name", "whole", *words[3:])
        assert tree(folder) == whole


def test_no_permission(call: Call) -> None:
    Path("shut").mkdir()
    Path("shut").chmod(0o500)
    if os.access("shut", os.W_OK):  # as root nothing is shut
        Path("shut/file").touch()
        code, _, err = call("start", "hangar", "shut/file/m")
        assert (code, "cannot be written: Not a directory" in err) == (2, True)
    else:
        code, _, err = call("start", "hangar", "shut/m")
        assert (code, "cannot be written: Permission denied" in err) == (2, True)


def test_without_hard_links(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(source: str, target: str) -> None:
        if os.path.lexists(target):
            raise FileExistsError
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    code, _, err = call("start", "hangar", "m", "--dump", dump())
    assert (code, err) == (1, "")
    assert Path("m/dumps/avocet.dump.txt").read_text(encoding="utf-8") == DUMP
    assert stat.S_IMODE(Path("m/.ci/lint").stat().st_mode) & 0o100
    assert not any(".new" in name for name in tree())
    # The name is held and given back where the file cannot be put there.
    monkeypatch.setattr(
        os, "replace", lambda source, target: (_ for _ in ()).throw(OSError(5, "I/O error"))
    )
    code, _, err = call("start", "hangar", "other", "--dump", dump())
    assert (code, "I/O error" in err) == (2, True)
    assert [name for name in tree("other") if not name.endswith("/")] == []


def test_what_comes_there_meanwhile_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that somebody else makes after the look is left alone, with hard links or without."""
    for links in (True, False):
        path = Path(f"m{links}/README.md")
        one = Planned("README.md", b"ours")
        real = os.open

        def late(name: Any, *rest: Any, path: Path = path, real: Any = real) -> int:
            number: int = real(name, *rest)
            if not path.exists() and ".new" in str(name):
                path.write_bytes(b"theirs")
            return number

        monkeypatch.setattr(os, "open", late)
        if not links:

            def refuse(*names: str) -> None:
                raise PermissionError(1, "no")

            monkeypatch.setattr(os, "link", refuse)
        made: list[Any] = []
        assert look(f"m{links}", (), [one])[0].made
        write(f"m{links}", (), [one], made.append)
        assert path.read_bytes() == b"theirs"
        assert [(fate.made, fate.differs) for fate in made] == [(False, False)]
        monkeypatch.setattr(os, "open", real)
    stuck = Planned("x" * 300, b"")
    with pytest.raises(Problem, match="File name too long"):
        write("mTrue", (), [stuck], made.append)
    # What a run that was killed left is not in the way.
    Path("mTrue/.left.1-0.new").touch()
    monkeypatch.setattr(os, "getpid", lambda: 1)
    write("mTrue", (), [Planned("left", b"")], made.append)
    assert made[-1].made


# ------------------------------------------------------------------ the dialogue


def test_the_dialogue(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    source = dump()
    says(
        monkeypatch, "nothing.txt", str(source), "", "four", "4", "stabilised", "dshot300,dshot600",
        "3.6", "decimal", "sbus", "", "lipo", "4", "K5=5:988", "K5=5:up=988,down=2012",
        "K1=5:988,2012", "",
    )  # fmt: skip
    code, out, err = call("start", "hangar", "marsh", "--ask")
    assert (code, err) == (1, "")
    card = read_card("card", Path("marsh/cards/avocet.toml").read_bytes())
    assert card.values == {
        "airframe.motors": 4,
        "airframe.kind": "stabilised",
        "esc.signals": frozenset({"dshot300", "dshot600"}),
        "esc.firmware": "3.6",
        "esc.firmware_order": "decimal",
        "receiver.link": "sbus",
        "battery.chemistry": "lipo",
        "battery.cells": 4,
    }
    assert [one.name for one in card.switches] == ["K5"]
    assert "nothing.txt: this file is not there; look at its name" in out
    assert "`four` cannot be; write a whole number" in out
    assert out.count("How many motors has it?") == 2
    assert "both on channel 5" in " ".join(out.split())
    assert "(line " not in out


def test_alone_in_a_terminal_it_asks_for_everything(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = dump()
    Path("file").touch()
    says(monkeypatch, "file", "marsh", str(source), "", ".", terminal=True)
    code, out, err = call("start")
    assert (code, err) == (1, "")
    assert "file: this is no folder, and a hangar is one; name another" in out
    assert read_card("card", Path("marsh/cards/avocet.toml").read_bytes()).values == {}
    # With everything answered nothing is asked; and this folder is meant where none is named.
    says(monkeypatch, "", terminal=True)
    Path("here").mkdir()
    monkeypatch.chdir("here")
    code, out, _ = call("start")
    assert "Which file holds a dump?" in out
    assert Path("cfglint.toml").is_file()
    says(monkeypatch, terminal=True)
    code, out, _ = call("start", "hangar", "--no-ask")
    assert "?" not in out


def test_what_is_said_is_not_asked(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    words = ["start", "hangar", "m", "--dump", str(dump()), "--ask", "--set", "airframe.motors=4"]
    says(monkeypatch, *("" for _ in range(20)))
    _, out, _ = call(*words)
    assert "How many motors" not in out
    assert "Which file" not in out
    assert "How do its versions count" not in out  # no version was given
    assert out.count("(Enter: none)") == 1
    Path("all.toml").write_bytes((CARDS / "avocet.toml").read_bytes())
    says(monkeypatch)
    _, out, _ = call("start", "hangar", "n", "--dump", dump(), "--ask", "--answers", "all.toml")
    assert "> " not in out


@pytest.mark.parametrize("lines", [0, 1, 3, 5])
def test_where_the_input_ends_the_rest_is_left_out(
    call: Call, monkeypatch: pytest.MonkeyPatch, lines: int
) -> None:
    answers = [str(dump()), "", "4", "stabilised", "dshot300"][:lines]
    says(monkeypatch, *answers)
    code, _, err = call("start", "hangar", "marsh", "--ask")
    assert (code, err) == (1 if lines else 0, "")
    assert Path("marsh/cards/avocet.toml").exists() == bool(lines)


def test_stopped_in_the_dialogue_nothing_is_written(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = dump()
    before = tree()

    class Stopped(io.StringIO):
        def readline(self, size: int | None = -1, /) -> str:
            raise KeyboardInterrupt

    monkeypatch.setattr("sys.stdin", Stopped())
    code, _, err = call("start", "hangar", "marsh", "--ask", "--dump", source)
    assert (code, err) == (130, "cfglint: stopped\n")
    assert tree() == before


def test_without_a_terminal_nothing_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not start_run.at_terminal()
    monkeypatch.setattr("sys.stdin", None)
    assert not start_run.at_terminal()


def test_in_a_real_terminal(tmp_path: Path) -> None:
    """`cfglint start` at a pseudo-terminal: the prompts come, and what is typed counts."""
    import pty

    source = dump()
    front, back = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "cfglint", "start"],
        stdin=back,
        stdout=back,
        stderr=back,
        cwd=tmp_path,
        env={**os.environ, "PYTHONUTF8": "1", "COLUMNS": "80", "NO_COLOR": "1"},
    )
    os.close(back)
    os.write(front, f"marsh\n{source}\n\n4\n.\n".encode())
    seen = b""
    try:
        while chunk := os.read(front, 4096):
            seen += chunk
    except OSError:  # the other end is closed
        pass
    os.close(front)
    assert process.wait(60) == 1, seen
    text = seen.decode()
    assert "Which folder shall it be?" in text
    assert "Hangar marsh" in text
    card = read_card("card", Path("marsh/cards/avocet.toml").read_bytes())
    assert card.values == {"airframe.motors": 4}


# ------------------------------------------------------------------ what stands around it


def test_the_script_ends_as_the_lint_does(call: Call) -> None:
    call("start", "hangar", "marsh", "--dump", dump())
    Path("bin").mkdir()
    tool = Path("bin/cfglint")
    tool.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m cfglint "$@"\n')
    tool.chmod(0o755)
    env = {
        **os.environ,
        "PATH": f"{tool.parent.absolute()}:{os.environ['PATH']}",
        "PYTHONUTF8": "1",
    }
    done = subprocess.run(
        ["marsh/.ci/lint", "--quiet"], capture_output=True, text=True, env=env, timeout=120
    )
    expected = call("lint", "--quiet", "marsh")
    assert (done.returncode, done.stderr) == (expected.code, "")
    assert done.stdout == expected.out
    import json

    assert json.loads(Path("marsh/cfglint.sarif").read_text())["version"] == "2.1.0"
    Path("marsh/cfglint.sarif").unlink()
    done = subprocess.run(
        ["sh", ".ci/lint"], cwd="marsh", env={**env, "SARIF": str(Path("x.sarif").absolute())},
        capture_output=True, timeout=120,
    )  # fmt: skip
    assert Path("x.sarif").is_file()
    assert not Path("marsh/cfglint.sarif").exists()


def test_the_hook(call: Call) -> None:
    """Both forms of it are accepted by pre-commit itself."""
    clientlib = pytest.importorskip("pre_commit.clientlib")
    call("start", "hangar", "a")
    call("start", "hangar", "b", "--repo", "https://example.invalid/cfglint")
    (local,) = clientlib.load_config("a/.pre-commit-config.yaml")["repos"]
    (hook,) = local["hooks"]
    published = clientlib.load_manifest(str(DUMPS.parents[2] / ".pre-commit-hooks.yaml"))[0]
    for key in ("id", "name", "entry", "types", "pass_filenames", "require_serial"):
        assert hook[key] == published[key]
    (remote,) = clientlib.load_config("b/.pre-commit-config.yaml")["repos"]
    assert remote["repo"] == "https://example.invalid/cfglint"
    assert remote["rev"] == "HEAD"
    assert [one["id"] for one in remote["hooks"]] == ["cfglint"]
    assert "#     rev: HEAD\n" in Path("a/.pre-commit-config.yaml").read_text()


def test_a_hangar_within_a_repository(call: Call) -> None:
    Path(".git").mkdir()
    _, out, _ = call("start", "hangar", "club/marsh")
    assert not Path("club/marsh/.pre-commit-config.yaml").exists()
    assert not Path(".pre-commit-config.yaml").exists()
    assert "add   to .pre-commit-config.yaml at the top of the repository:" in out
    assert '        args: ["club/marsh"]\n' in out


def test_every_text_is_one_that_cfglint_knows(call: Call) -> None:
    """Commands named in the files are commands; the files hold no stray braces."""
    from .conftest import COMMANDS

    call("start", "hangar", "marsh", "--dump", dump())
    for path in Path("marsh").rglob("*"):
        if path.is_file():
            text = path.read_text(encoding="utf-8")
            for command in re.findall(r"`cfglint (\w+)", text):
                assert command in COMMANDS, path
            assert "{name}" not in text
            assert "{version}" not in text
            assert text.endswith("\n")
            assert max(map(len, text.split("\n"))) <= 100


# ------------------------------------------------------------------ the plan by itself


def test_the_plan_writes_nothing_and_is_the_same_each_time() -> None:
    samples = [Sample("dumps/avocet.dump.txt", DUMP.encode(), "avocet.txt")]
    facts = {"avocet": fact("airframe.motors", "4").plus(switch("K5=5:988,2012"))}
    first = plan(Wish("marsh"), samples, facts)
    assert first == plan(Wish("marsh"), samples, facts)
    assert [one.path for one in first.files] == [
        "dumps/avocet.dump.txt", "cards/avocet.toml", "cfglint.toml", "README.md",
        ".pre-commit-config.yaml", ".ci/lint", ".gitignore",
    ]  # fmt: skip
    assert tree() == {}


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="/"), min_size=1))
def test_a_path_as_a_pattern_fits_itself_only(name: str) -> None:
    assert compiled(literal(f"dumps/{name}x")).fullmatch(f"dumps/{name}x")
    assert not compiled(literal(f"dumps/{name}x")).fullmatch(f"dumps/{name}yx")


def test_where_a_dump_belongs() -> None:
    for name, place in {
        "a/avocet.dump.txt": "dumps/avocet.dump.txt",
        "avocet.dump": "dumps/avocet.dump.txt",
        "avocet.TXT": "dumps/avocet.dump.txt",
        "Avo cet": "dumps/Avo cet.dump.txt",
        "m/dumps/avocet.dump.txt": "dumps/avocet.dump.txt",
        "m/dumps/avocet.txt": "dumps/avocet.dump.txt",
    }.items():
        assert place_of(name, "m", None) == place
    for name in (".dump.txt", "a\nb.txt", "a\udcff.txt"):
        with pytest.raises(Problem, match="cannot be called so"):
            place_of(name, "m", None)
