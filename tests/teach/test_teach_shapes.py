"""Whatever stands between names and values, and around them: what is said is the same."""

from __future__ import annotations

import pytest

from .samples import USUAL, craft_of, read, taught, unread, values

ROWS = (
    ("esc.protocol", "dshot600"),
    ("esc.bidir", "on"),
    ("loop.rate.hz", "4000"),
    ("rx.link", "sbus"),
    ("rx.invert", "on"),
    ("failsafe.action", "land"),
    ("failsafe.delay.s", "0.7"),
    ("battery.full.volts", "4.2"),
    ("battery.warn.volts", "3.6"),
    ("tide.table", "118"),
    ("reed.height", "9"),
    ("craft.name", "Avocet"),
)
MEANT = {
    "motor.signal": "dshot600",
    "motor.two_way": True,
    "loop.rate_hz": 4000,
    "receiver.link": "sbus",
    "receiver.inverted": True,
    "failsafe.action": "descend",
    "failsafe.delay_s": 0.7,
    "battery.full_v": 4.2,
    "battery.warn_v": 3.6,
    "craft.name": "Avocet",
}


def listing(form: str) -> str:
    return "".join(form.format(name=name, value=value) + "\n" for name, value in ROWS)


def left(text: str) -> list[int]:
    """Lines that a draft from a text cannot read, or has no meaning for."""
    return unread(craft_of(taught(text), text))


@pytest.mark.parametrize(
    "form",
    [
        "{name} = {value}",
        "{name}={value}",
        "{name}: {value}",
        "{name} {value}",
        "{name}|{value}",
        "{name} -> {value}",
        "{name} := {value}",
        "{name} .. {value}",
        "{name}({value})",
        "<{name}={value}>",
        "{name} => {value}",
        '"{name}": "{value}",',
        "say {name} = {value},",
    ],
)
def test_marks_and_verbs(form: str) -> None:
    text = listing(form)
    draft = taught(text)
    assert values(draft, text) == MEANT
    assert left(text) == []


@pytest.mark.parametrize(
    "form",
    [
        "set {name} {value}",
        "set  {name} =  {value};",
        "let {name} be {value}",
        "let {name} be {value}.",
        "<{name}>{value}",
        '"{name}": {value}',
        "{name} = '{value}'",
    ],
)
def test_what_is_sure_is_true_where_not_all_is_read(form: str) -> None:
    text = listing(form)
    assert values(taught(text), text, sure=True).items() <= MEANT.items()


def test_one_dump_may_write_it_in_two_ways() -> None:
    text = listing("{name} = {value}").replace("rx.link = ", "rx.link=")
    assert read(text) == MEANT


@pytest.mark.parametrize(
    ("before", "after"), [("marsh> note ", "marsh> stow\n"), ("> note ", "> stow\n")]
)
def test_a_prompt_of_a_pasted_session(before: str, after: str) -> None:
    text = "".join(f"{before}{name} = {value}\n" for name, value in ROWS) + after
    assert read(text) == MEANT


@pytest.mark.parametrize(
    "notes",
    [
        ("# all of it", "#", "# --- motors ---"),
        ("REM all of it", "REM and more of it"),
        ("; one thing", "; another"),
        ("// one thing", "-- another thing"),
        ("## heading here", "#- and so on"),
        ("note tide is low", "note wind from the west"),
        ("! mind the gap !", "! and the sluice !"),
    ],
)
def test_comments_are_told_by_their_mark(notes: tuple[str, ...]) -> None:
    rows = listing("{name} = {value}").splitlines()
    text = "\n".join([notes[0], *rows[:5], *notes[1:], *rows[5:]]) + "\n"
    assert MEANT.items() <= read(text).items()


BLOCKS: dict[str, dict[str, str]] = {
    "esc": {"protocol": "dshot600", "bidir": "on"},
    "loop": {"rate_hz": "4000"},
    "rx": {"link": "sbus", "invert": "on"},
    "failsafe": {"action": "land", "delay_s": "0.7"},
    "battery": {"full_volts": "4.2", "warn_volts": "3.6"},
    "tide": {"table": "118", "reed": "9"},
}
IN_BLOCKS = {name: value for name, value in MEANT.items() if name != "craft.name"}


def blocks(opener: str, closer: str = "", form: str = "{} = {}") -> str:
    out = []
    for title, rows in BLOCKS.items():
        out.append(opener.format(title))
        out += ["  " + form.format(name, value) for name, value in rows.items()]
        out += [closer.format(title)] if closer else []
    return "\n".join(out) + "\n"


@pytest.mark.parametrize(
    ("opener", "closer"),
    [
        ("[{}]", ""),
        ("[{}]", "end"),
        ("({})", ""),
        ("<{}>", ""),
        ("<{}>", "</{}>"),
        ("{} {{", "}}"),
        ("{}{{", "}};"),
        ("{} (", ")"),
        ("{{ {}", "}}"),
        ("begin {}", "end"),
        ("begin {}", "end {}"),
        ("section {}", ""),
        ("{} begin", "end"),
        ("== {} ==", ""),
        ("*{}*", ""),
        ("# {} #", ""),
        ("@{}", ""),
        ("{}:", ""),
        ("{}", ""),
        ("{} -----", ""),
    ],
)
def test_sections(opener: str, closer: str) -> None:
    text = blocks(opener, closer)
    draft = taught(text)
    assert IN_BLOCKS.items() <= values(draft, text).items()
    assert values(draft, text, sure=True).items() <= IN_BLOCKS.items()


def test_sections_in_sections() -> None:
    text = """\
craft {
  name = Avocet
  rx {
    link = sbus
    invert = on
  }
  esc {
    protocol = dshot600
    limits {
      idle_percent = 5
    }
  }
}
tide {
  table = 118
}
"""
    said = read(text)
    assert said["receiver.link"] == "sbus"
    assert said["motor.signal"] == "dshot600"


@pytest.mark.parametrize(("on", "off"), [("enable {}", "disable {}"), ("+{}", "-{}")])
def test_flags_that_are_set_by_naming_them_are_never_turned_round(on: str, off: str) -> None:
    flags = [on.format("rx_invert"), off.format("esc_bidir"), on.format("reed")]
    text = listing("{name} = {value}").replace("esc.bidir = on\n", "")
    said = read(text.replace("rx.invert = on\n", "") + "\n".join([*flags, ""]))
    assert said.get("receiver.inverted") in (None, True)
    assert said.get("motor.two_way") in (None, False)


def test_names_of_nobody_are_kept_until_somebody_looks() -> None:
    text = listing("{name} = {value}")
    data = taught(text).dialect.data
    assert data["kept"] == {"at": ["tide.table", "reed.height"], "sure": False}
    assert left(text) == []


def test_two_samples_are_one_dialect() -> None:
    one, two = listing("set {name} {value}"), listing("set {name} {value}").replace("sbus", "crsf")
    draft = taught(one, two=two)
    assert values(draft, two)["receiver.link"] == "crsf"
    assert values(draft, one)["receiver.link"] == "sbus"


def test_a_heading_helps_and_says_what_its_rows_are() -> None:
    text = USUAL + "# failsafe\n\naction = land\ndelay_ms = 700\n\n#\nsedge = 4\n"
    assert read(text)["failsafe.delay_s"] == 0.7
