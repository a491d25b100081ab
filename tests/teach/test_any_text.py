"""Whatever is given to learn from: a draft that can be used, or one clear Problem."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING, Any

from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.dialect import read_craft
from cfglint.dialect.contradictions import examine
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.teach.whole import whole

from .samples import source, within

if TYPE_CHECKING:
    from cfglint.teach.whole import Whole

SOME = (
    "motor.signal",
    "loop.rate_hz",
    "battery.full_v",
    "receiver.link",
    "receiver.port",
    "log.on",
    "port.N.functions",
    "port.N.baud",
    "failsafe.action",
)

#: Long enough for a shared machine, short enough to tell a draft from a pattern that runs away.
SECONDS = 30


def clear(wrong: Problem) -> None:
    """It says something, and it is never the draft itself that is wrong."""
    assert wrong.message
    assert wrong.exit == EXIT_UNREAD
    assert "no sound dialect" not in wrong.message


def drafted(text: str, answers: dict[str, str] | None = None) -> Whole | None:
    """The draft of a text, looked over; None where there is none but a Problem."""
    sample = source(text)
    with within(SECONDS):
        try:
            made = whole([sample], "mine", answers=answers)
        except Problem as wrong:
            clear(wrong)
            return None
        # The draft's own file, through the front door.
        assert [str(one) for one in examine("mine.toml", made.text.encode())] == []
        assert read_craft(sample, made.dialect).dialect == "mine"
        assert len({one.key for one in made.questions}) == len(made.questions)
    return made


WORDS = [
    "motor",
    "esc",
    "signal",
    "receiver",
    "radio",
    "link",
    "port",
    "channel",
    "stick",
    "low",
    "high",
    "mid",
    "failsafe",
    "delay",
    "battery",
    "full",
    "warn",
    "empty",
    "cells",
    "mode",
    "range",
    "arm",
    "level",
    "log",
    "video",
    "power",
    "sluice",
    "reed",
    "marsh",
    "tern",
    "sluice",
]
#: Values of one kind each, and others.
PLAIN = [
    "dshot600",
    "sbus",
    "on",
    "off",
    "yes",
    "no",
    "0",
    "1",
    "2",
    "5",
    "42",
    "420",
    "1000",
    "1500",
    "0.5",
    "4.2",
    "AETR",
    "none",
    "gps",
    "6250",
    "lipo",
]
VALUES = [
    *PLAIN,
    "crsf",
    "2000",
    "gps,log",
    "Avocet",
    "115200",
    "1760..2130",
    "1760-2130",
    "receiver",
    "telemetry",
    "arm",
    "true",
    "5,5",
    "25mW",
    "stop",
]
names = st.builds(
    lambda words, mark, number: mark.join(words) + number,
    st.lists(st.sampled_from(WORDS), min_size=1, max_size=3),
    st.sampled_from(["_", "-", ".", "/", ""]),
    st.sampled_from(["", "", "", "1", "2", "[3]", "_4"]),
)
written = st.one_of(
    st.sampled_from(VALUES),
    st.lists(st.sampled_from(VALUES), min_size=2, max_size=5).map(" ".join),
)
FORMS = (
    "{} = {}",
    "{}={}",
    "{}: {}",
    "set {} {}",
    "set {} = {};",
    '"{}" => "{}"',
    "<{}|{}>",
    "put {} as {}",
    "{} {}",
    "$ {} := {}",
    "{},{}",
    "{}({})",
)
OPENERS = ("[{}]", "<{}>", "{} {{", "begin {}", "== {} ==", "@{}", "profile {}", "# {}", "{}:")
CLOSERS = ("}", "end", "</{}>", "done", "")


@st.composite
def listings(draw: Any) -> tuple[str, list[int]]:
    """A text that looks like a dump, and the numbers of its lines that are plain settings."""
    form = draw(st.sampled_from(FORMS))
    opener, closer = draw(st.sampled_from(OPENERS)), draw(st.sampled_from(CLOSERS))
    kinds = draw(
        st.lists(
            st.sampled_from(["set"] * 9 + ["open", "close", "note", "table", "odd"]), min_size=8
        )
    )
    lines, plain = [], []
    for kind in kinds:
        if kind == "set":
            lines.append(form.format(draw(names), draw(written)))
            plain.append(len(lines))
        elif kind == "open":
            lines.append(opener.format(draw(names)))
        elif kind == "close":
            lines.append(closer.replace("{}", draw(st.sampled_from(WORDS))))
        elif kind == "note":
            lines.append("# " + draw(st.text(alphabet="reed {}\"'=:[]", max_size=12)))
        elif kind == "table":
            mode = draw(st.sampled_from(["arm", "level", "3", "beep"]))
            cells = draw(st.lists(st.sampled_from(VALUES), min_size=3, max_size=4))
            lines.append(" ".join(["when", mode, *cells]))
        else:
            lines.append(draw(st.text(max_size=20)).replace("\n", " ").replace("\r", " "))
    return "\n".join(lines), plain


@given(listings())
@settings(max_examples=100)
def test_what_looks_like_a_dump(made: tuple[str, list[int]]) -> None:
    drafted(made[0])


lines = st.text(st.characters(exclude_characters="\0\n\r", codec="utf-8"), min_size=1, max_size=25)


@given(st.lists(lines, min_size=9, max_size=30).map("\n".join))
def test_any_text_at_all(text: str) -> None:
    drafted(text)


marks = st.text(alphabet="ab1 =:.,[](){}<>\"'\\#;/|-+\t", min_size=2, max_size=14)


@given(st.lists(marks, min_size=10, max_size=30).map("\n".join))
def test_marks_and_little_else(text: str) -> None:
    drafted(text)


# ---------------------------------------------------------------- crashes, one by one


FILL = "tint = 4\nrush = 9\nsedge = 3\nmud = 7\ntern = 12\n"


def test_half_a_pair_of_quotes() -> None:
    rows = [("esc", "dshot600"), ("rate", "6250"), ("link", "sbus"), ("gap", "9"), ("delay", "5")]
    drafted("".join(f'"{name}.{n}": "{value}",\n' for n, (name, value) in enumerate(rows * 3)))


def test_tables_with_columns_of_one_another() -> None:
    rows = (
        "high.empty2 = AETR 420 1760-2130 0.5 arm",
        'video/full/esc_4 = 1760..2130 "Avocet" yes',
        "delay[3] = telemetry 1760..2130 telemetry 420 2",
        "receiver_delay_battery = 0.5 1 yes 1760..2130 no",
        "receiver_delay_battery = gps,log",
        "sluice-reed-marsh = lipo",
        "tern = 1500",
        "warn2 = stop",
    )
    drafted("\n".join(rows))


# ---------------------------------------------------------------- what is drafted is whole


@st.composite
def tidy(draw: Any) -> str:
    """A dump as a person would call one: every name once, written in one way."""
    form = draw(st.sampled_from(["{} = {}", "{}: {}", "set {} {}", "set {} = {};", "put({}, {})"]))
    found = draw(st.lists(names, min_size=10, max_size=30, unique=True))
    return "".join(form.format(name, draw(st.sampled_from(PLAIN))) + "\n" for name in found)


@given(tidy())
def test_no_plain_setting_is_left_unread(text: str) -> None:
    draft = drafted(text)
    assert draft is not None
    craft = read_craft(source(text), draft.dialect)
    assert [row.span.line for row in craft.unreadable] == []
    assert [row.span.line for row in craft.strays] == []


def test_a_dump_of_sentences() -> None:
    text = "".join(f"now and then the {n} tern comes to the sluice\n" for n in range(12))
    assert drafted(text) is not None


# ---------------------------------------------------------------- answers


ANSWERED = (
    """\
esc_protocol = 6
loop_rate = 8
cell_full = 42
rx_link = sbus
log_on = 1
range 31 5 1760 2130
range 18 6 860 1250
port 1 1 4
port 2 64 2
"""
    + FILL
)
keys = st.one_of(
    st.builds("{} {}".format, st.sampled_from(["value", "find", "rows"]), st.sampled_from(SOME)),
    st.builds(
        "word {} {}".format,
        st.sampled_from(["mode", "motor.signal", "port.N.functions", "failsafe.channel.N", "x"]),
        st.sampled_from(["31", "18", "6", "1", "64", "arm"]),
    ),
    st.text(max_size=12),
)
said = st.one_of(
    st.sampled_from(
        ["ok", "-", "arm", "arm!", "dshot600", "yes", "no", "4.2", "6250", "sbus", "gps", "hold"]
    ),
    st.sampled_from(["1: 6", "1: 6 => dshot600", "2: 8 => 8000", "99: x", "6: 31 => arm", "0: 4"]),
    st.text(max_size=10),
)


@given(st.dictionaries(keys, said, max_size=5))
@settings(max_examples=150)
def test_any_answers(answers: dict[str, str]) -> None:
    drafted(ANSWERED, answers)


# ---------------------------------------------------------------- the same in another process


def test_another_process_drafts_the_same() -> None:
    """Nothing hangs on the order of sets, which differs from process to process."""
    code = (
        "import sys\n"
        "from cfglint.dump.source import Source\n"
        "from cfglint.teach.whole import whole\n"
        "draft = whole([Source.from_text('sample.txt', sys.argv[1])], 'mine')\n"
        "sys.stdout.buffer.write(draft.text.encode())"
    )
    rows = "".join(f"port {n} gps+telemetry,rx 9600\nch{n}_low = 1000\n" for n in range(1, 5))
    text = ANSWERED + rows + "failsafe = land\nfailsafe_wait = 3\nfailsafe_pause = 4\n"
    made = {
        subprocess.run(
            [sys.executable, "-c", code, text],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "77")
    }
    draft = drafted(text)
    assert draft is not None
    assert made == {draft.text.encode()}
