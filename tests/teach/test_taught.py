"""Teaching onto addresses: from a dump's text to a map that reads it, and what answers do."""

from __future__ import annotations

import tomllib

import pytest

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach import encoding, sheet
from cfglint.teach.codes import bit_numbers, legend, legends_of
from cfglint.teach.families import unify
from cfglint.teach.openings import Draft
from cfglint.teach.taught import teach

#: A club's craft in a firmware of our own; every figure is drawn.
PLAIN = """\
%% everything, printed at the bench
craft-called: Sea Aster
esc-signal: DShot600
idle: 4.7 %
radio-kind: CRSF
lost-action: land
lost-after: 1.4 s
channel 1: 1011 / 1498 / 1987
channel 2: 1007 / 1503 / 1991
channel 3: 998 / 1494 / 2003
socket 1: gps at 38400
socket 2: receiver and telemetry at 115200
socket 3: console at 57600
use: arm on channel 7, 1741 to 2119
use: self level on channel 6, 833 to 1317
use: blether on channel 8, 1688 to 2207
on loss channel 1: keep
on loss channel 2: quiet
on loss channel 3: 1043
%% end
"""
TABLE = """\
!! Reihe der Fähre
   Kanal    unten   Mitte    oben
     1       1012    1493    1984
     2       1021    1507    1979
     3       1008    1502    2011
   Reglersprache DShot300 ; Leerlauf 6,3 % ; Magnete je Glocke 14
   Schleife 3,7 kHz ; Empfänger spricht SBUS ; Signal umgedreht nein
   Motoren frei an K7 von 1733 bis 2117
   Waage halten an K6 von 841 bis 1309
   Heimflug an K8 von 1671 bis 2203
   Akku Zellen 4 ; Art LiPo ; voll 4,18 V ; Warnung 3,54 V ; leer 3,27 V
   Bild Leistung 230 mW ; Kraft beim Umdrehen 37 %
   Gas im Sinkflug 1213 µs
!! Ende
"""


def source(text: str, name: str = "a.dump.txt") -> Source:
    return Source.from_bytes(name, text.encode())


def read(draft: Draft, text: str) -> MapReader:
    data = tomllib.loads(draft.text)
    reader = MapReader(source(text), map_of(data), marks(data))
    reader.read()
    return reader


@pytest.fixture(scope="module")
def plain() -> Draft:
    return teach([source(PLAIN)], "mine")


def test_a_plain_dump_is_read_by_its_draft(plain: Draft) -> None:
    found = read(plain, PLAIN)
    values = {name: value.value for name, value in found.values.items()}
    assert values["motor.signal"] == "dshot600"
    assert values["motor.idle_percent"] == 4.7
    assert values["failsafe.delay_s"] == 1.4
    assert values["channel.2.mid_us"] == 1503
    assert values["port.2.functions"] == {"receiver", "telemetry"}
    assert (values["failsafe.channel.2"], values["failsafe.channel.3"]) == ("drop", "1043")
    assert {(r.mode, r.channel, r.low_us, r.high_us) for r in found.ranges} >= {
        ("arm", 7, 1741, 2119),
        ("self-level", 6, 833, 1317),
    }
    assert not found.ambiguous


def test_a_draft_holds_only_words_that_the_sample_holds(plain: Draft) -> None:
    for name, entry in plain.data["map"].items():
        words = entry.get("words", {}) if isinstance(entry, dict) else {}
        for written in words.values():
            for text in [written] if isinstance(written, str) else written:
                assert text in PLAIN, name


def test_an_unknown_mode_is_the_firmwares_own_and_asked_for(plain: Draft) -> None:
    assert plain.data["modes"]["own"] == ["blether"]
    assert "word mode blether" in {one.key for one in plain.questions}


def test_an_answer_settles_a_word_and_may_hold_any_text(plain: Draft) -> None:
    text = sheet.text(plain.questions, {})
    filled = text.replace("word mode blether =", "word mode blether = beacon")
    answers, wrong = sheet.parse(filled)
    assert not wrong
    draft = teach([source(PLAIN)], "mine", answers=sheet.answers_of(answers))
    assert draft.data["modes"]["beacon"] == "blether"
    found, _ = sheet.parse("find craft.board = 3: a = b, c\n")
    assert sheet.answers_of(found).places == {"craft.board": (0, 3, "a = b, c", "")}


def test_a_value_that_contradicts_the_samples_is_asked_again(plain: Draft) -> None:
    answers = sheet.answers_of({"value motor.idle_percent": "31.337"})
    draft = teach([source(PLAIN.replace("idle: 4.7 %", "idle: 47"))], "mine", answers=answers)
    assert "motor.idle_percent" in draft.reopened
    assert "value motor.idle_percent" in {one.key for one in draft.questions}


def test_a_true_value_gives_the_scale() -> None:
    keys = encoding.fitted("failsafe.delay_s", {}, ["70", "35"], "1.4", comma=False)
    assert keys == {"scale": 0.02}
    assert encoding.fitted("failsafe.delay_s", {}, ["70"], "1.4713", comma=False) is None
    assert encoding.fitted("motor.signal", {}, ["04"], "dshot300", comma=False) == {
        "words": {"dshot300": "04"}
    }
    assert encoding.fitted("motor.signal", {}, ["04"], "nonsense", comma=False) is None


def test_another_language_and_a_decimal_comma() -> None:
    draft = teach([source(TABLE)], "mine")
    values = {name: value.value for name, value in read(draft, TABLE).values.items()}
    assert draft.data["marks"]["decimal"] == ","
    assert values["motor.idle_percent"] == 6.3
    assert values["loop.rate_hz"] == 3700
    assert values["channel.3.low_us"] == 1008
    assert values["receiver.inverted"] is False
    modes = {one.mode for one in read(draft, TABLE).ranges}
    assert modes >= {"arm", "self-level", "return-home"}


def test_legends_of_codes_and_of_bits() -> None:
    codes = legend("signal: 3 DShot150, 8 DShot600, B brushed")
    assert codes is not None
    assert codes.codes == {"3": "DShot150", "8": "DShot600", "B": "brushed"}
    masks = legend("bits R: 1 inverted, 4 one wire")
    assert masks is not None
    assert masks.bits
    assert bit_numbers(masks, 16) == {0: "inverted", 2: "one wire"}


def test_templates_that_differ_in_one_word_are_one() -> None:
    forms = ["lane {N} aft {low}", "lane {N} bow {low}", "lane {N} keel {low}"]
    assert unify(forms) == ["lane {N} * {low}"]


def test_no_dump_at_all_gives_an_empty_map() -> None:
    assert teach([source("Dear members,\nthe hut is open on Sunday.\n")], "mine").data["map"] == {}


#: Settings as calls of an invented firmware: units are calls, a few remarks stand behind.
CALLS = """\
craft = Craft(
    name = "Sandpiper",
)
radio = Radio(
    speaks = Link.SUMD,
    rest   = us(1507),
    is_low = below(us(1094)),
)
pack = Pack(
    full = mV(4187), warn = mV(3546), flat = mV(3279),   # a cell
)
uarts = [
    Uart(1, does = {console}, baud = 96_000),
    Uart(2, does = {radio}, baud = 115_200),     # the receiver
    Uart(3, does = {gps}, baud = 38_400),
]
"""

#: Registers with their words last; a cell that goes on below, and rules between rows.
REGISTERS = """\
LABEL  HELD     SCALE      WHAT IT IS
======================================
 301   0x001C   0.1 %      Least drive, motors armed
 302   0x0001   discrete   ESC answers with shaft speed on signal wire
 307   0x0016   1          Magnets in one bell
--------------------------------------
 340   0x0002   discrete   Receiver line: bit 0 inverted, bit 1 one wire
                           both ways, bit 2 fitted
 344   0x0446   1 us       A stick below this is LOW
 345   0x0764   1 us       A stick above this is HIGH
--------------------------------------
 382   0x1063   1 mV       One cell, full
 383   0x0DAC   1 mV       One cell, first warning
"""

#: Ports that a drawn tree counts, with speeds that no list of usual ones has.
COUNTED = """\
the whole tree
│
└─┬ ports
  ├─┬ 1
  │ ├── carries console
  │ └── at 91000 baud
  ├─┬ 2
  │ ├── carries receiver + telemetry
  │ └── at 417000 baud
  └─┬ 3
    ├── carries gps
    └── at 27500 baud
"""


def map_read(text: str) -> dict[str, object]:
    """What a draft reads in the sample that it was taught from."""
    source = Source.from_text("a.dump.txt", text)
    data = teach([source], "own").data
    reader = MapReader(source, map_of(data), marks(data))
    reader.read()
    return {name: said.value for name, said in reader.values.items()}


@pytest.mark.parametrize(
    ("text", "true"),
    [
        (
            CALLS,
            {
                "stick.centre_us": 1507,
                "stick.low_us": 1094,
                "battery.full_v": 4.187,
                "battery.warn_v": 3.546,
                "port.1.baud": 96000,
                "port.3.baud": 38400,
            },
        ),
        (
            REGISTERS,
            {
                "motor.idle_percent": 2.8,
                "motor.two_way": True,
                "motor.poles": 22,
                "receiver.inverted": False,
                "receiver.half_duplex": True,
                "stick.low_us": 1094,
                "stick.high_us": 1892,
                "battery.full_v": 4.195,
                "battery.warn_v": 3.5,
            },
        ),
        (COUNTED, {"port.1.baud": 91000, "port.2.baud": 417000, "port.3.baud": 27500}),
    ],
    ids=["calls", "registers", "counted titles"],
)
def test_texts_of_these_kinds_are_read(text: str, true: dict[str, object]) -> None:
    read = map_read(text)
    assert {name: read.get(name) for name in true} == pytest.approx(true)


def test_legends_with_their_label_before_the_first_code() -> None:
    found = legends_of(
        ["; S 3 analogue 125, 4 multishot, 9 brushed", "; S A pwm, B dshot300"]
        + [f"; T {code} stage {word}" for code, word in zip("1247", "abcd", strict=True)]
    )
    codes = {one.label: sorted(one.codes) for one in found}
    assert codes["S"] == ["3", "4", "9", "A", "B"]
    assert codes["T"] == ["1", "2", "4", "7"]
