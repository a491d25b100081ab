"""Changing one value where it stands: exactly that value is another afterwards."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.edits import with_lines
from cfglint.craft.settings import setting
from cfglint.dialect import Dialect, bundled, load_dialect
from cfglint.dialect.choose import choose
from cfglint.dialect.edit import changed_lines, edited, edits_of_range, padded
from cfglint.dialect.encode import close, encode, respell
from cfglint.dialect.load import bundled_names
from cfglint.dialect.reading import Reader
from cfglint.dialect.values import Bad, Codec, decode
from cfglint.dump.source import Source

from .test_damaged import text_in

ROOT = Path(__file__).resolve().parents[2]
BLIND = ROOT / "tests" / "reading"


@cache
def opened(path: Path | tuple[str, int]) -> tuple[str, Dialect]:
    """A dump's text and its dialect; or that of a dump of the fleet in another dialect."""
    if isinstance(path, tuple):
        return text_in(*path), bundled(path[0])
    text = path.read_text(encoding="utf-8")
    if path.parent.name == "dumps":
        pool = {name: bundled(name) for name in bundled_names()}
        return text, choose(Source.from_text(path.name, text), pool)
    file = BLIND / "dialects" / f"{path.parent.name}.toml"
    return text, load_dialect(file.name, file.read_bytes())


DUMPS: list[Path | tuple[str, int]] = [
    *sorted((ROOT / "fixtures" / "saltmarsh" / "dumps").glob("*.txt")),
    *((name, number) for name in ("nested", "tables") for number in range(8)),
    *(
        path
        for path in sorted((BLIND / "blind").glob("[os]*/*/*.txt"))
        if (BLIND / "dialects" / f"{path.parent.name}.toml").exists()
    ),
]


def read(text: str, dialect: Dialect) -> Reader:
    reader = Reader(Source.from_text("x.txt", text), dialect)
    reader.craft()
    return reader


def others(name: str, value: Any, codec: Codec) -> list[Any]:
    """Values near one that a setting can have as well."""
    row = setting(name)
    words = list(codec.bits or codec.words or row.words)
    if row.kind == "flag":
        return [not value]
    if row.kind == "word":
        return [word for word in words if word != value]
    if row.kind == "words":
        return [frozenset({word}) for word in words if {word} != value]
    if name == "receiver.channel_order":
        return [order for order in ("TAER", "RETA") if order != value]
    if row.kind == "text":
        return ["1234" if row.texts else "Sandpiper Two"]
    if codec.words and not codec.scaled:
        return [type(value)(float(word)) for word in words if float(word) != value]
    near = [value + 1, value - 1] if row.kind == "count" else [value * 2, value + 3 * codec.scale]
    assert row.least is not None
    assert row.most is not None
    return [round(one, 9) for one in near if row.least <= one <= row.most]


def plain(reader: Reader) -> dict[str, Any]:
    return {name: value.value for name, value in reader.values.items()}


def ranges(reader: Reader) -> list[Any]:
    return [row[:5] for row in reader.ranges]


@settings(max_examples=150)
@given(data=st.data())
def test_exactly_the_value_that_was_written_has_changed(data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(DUMPS))
    text, dialect = opened(path)
    reader = read(text, dialect)
    name = data.draw(st.sampled_from(sorted(set(reader.reads) & set(reader.values))))
    found = reader.reads[name]
    try:
        wanted = others(name, reader.values[name].value, reader.codec(found))
        value = data.draw(st.sampled_from(wanted)) if wanted else None
        lines = edited(reader, name, value) if wanted else {}
    except Bad:
        return
    again = read(with_lines(reader, lines), dialect)
    before, after = plain(reader), plain(again)
    if wanted:
        assert close(after[name], value)
    twins = {other for other, one in reader.reads.items() if one.place == found.place}
    assert {key for key in before | after if before.get(key) != after.get(key)} <= twins
    assert ranges(again) == ranges(reader)
    assert [row[:3] for row in again.links] == [row[:3] for row in reader.links]


@settings(max_examples=60)
@given(data=st.data())
def test_exactly_the_range_that_was_written_has_changed(data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(DUMPS))
    text, dialect = opened(path)
    reader = read(text, dialect)
    number = data.draw(st.integers(0, len(reader.ranges) - 1))
    row = reader.ranges[number]
    steps = [abs(one.entry.codecs[one.field].scale) for one in reader.range_reads[number].values()]
    new = row._replace(high_us=row.high_us + 2 * max(steps))
    try:
        lines = changed_lines(reader, edits_of_range(reader, number, new))
    except Bad:
        return
    again = read(with_lines(reader, lines), dialect)
    wanted = ranges(reader)
    wanted[number] = new[:5]
    for one, other in zip(ranges(again), wanted, strict=True):
        assert all(map(close, one, other))
    assert plain(again) == plain(reader)


def test_most_values_can_be_written() -> None:
    done = refused = 0
    for path in DUMPS[::3]:
        reader = read(*opened(path))
        for name, found in reader.reads.items():
            try:
                wanted = others(name, reader.values[name].value, reader.codec(found))
                done += bool(wanted and edited(reader, name, wanted[0]))
            except Bad:
                refused += 1
    assert done > 20 * refused


@pytest.mark.parametrize(
    ("name", "codec", "old", "value", "new"),
    [
        ("motor.pulse_min_us", Codec(base=16), "0x0420", 1120.0, "0x0460"),
        ("motor.pulse_min_us", Codec(base=16), "042Ah", 1120.0, "0460h"),
        ("motor.idle_percent", Codec(), "4.50 %", 6.0, "6.00 %"),
        ("motor.idle_percent", Codec(comma=True), "4,5", 5.25, "5,25"),
        ("failsafe.delay_s", Codec(), "400ms", 0.65, "650ms"),
        ("loop.rate_hz", Codec(), "8 kHz", 4000.0, "4 kHz"),
        ("loop.rate_hz", Codec(), "125 µs", 4000.0, "250 µs"),
        ("loop.rate_hz", Codec(over=3_200_000), "90", 17777.7778, "180"),
        ("motor.poles", Codec(), "014", 12, "012"),
        ("craft.name", Codec(), "'Avocet'", "Bittern", "'Bittern'"),
        ("craft.name", Codec(), '"Avocet"', "Big Bittern", '"Big Bittern"'),
        (
            "log.on",
            Codec(words={"yes": ("on", "1"), "no": ("off", "0")},
                  back={"on": "yes", "1": "yes", "off": "no", "0": "no"}),
            "1", False, "0",
        ),
        ("receiver.channel_order", Codec(), "roll-pitch-throttle-yaw", "TAER",
         "throttle-roll-pitch-yaw"),
        ("port.N.functions", Codec(), "receiver,  gps", frozenset({"log", "gps"}), "gps,  log"),
    ],
)  # fmt: skip
def test_spelling_is_kept(name: str, codec: Codec, old: str, value: Any, new: str) -> None:
    row = setting(name)
    assert respell(old, codec, row, value) == new
    assert close(decode(codec, row, new), value)


def test_what_cannot_be_said_is_refused() -> None:
    words = Codec(words={"dshot300": ("3",)}, back={"3": "dshot300"})
    with pytest.raises(Bad, match="no word for dshot600"):
        encode(words, setting("motor.signal"), "dshot600")
    with pytest.raises(Bad, match="no exact number"):
        encode(Codec(decimals=1), setting("battery.full_v"), 4.25)
    with pytest.raises(Bad, match="one bit of a number"):
        encode(Codec(bit=3), setting("log.on"), True)
    with pytest.raises(Bad, match="no bit for log"):
        encode(Codec(bits={"gps": 1}), setting("port.N.functions"), frozenset({"log"}))


@pytest.mark.parametrize(
    ("text", "new", "wanted"),
    [
        ("low   | 990  | us", "1010", "low   | 1010 | us"),
        ("low   | 1010 | us", "990", "low   | 990  | us"),
        ("low: 990", "1010", "low: 1010"),
        ("low=990,mid=1500", "1010", "low=1010,mid=1500"),
        ("low     990", "1010", "low    1010"),
    ],
)
def test_columns_stay_where_they_are(text: str, new: str, wanted: str) -> None:
    start = min(at for at in (text.find("990"), text.find("1010")) if at >= 0)
    end = start + (3 if text[start] == "9" else 4)
    assert padded(text, start, end, new) == wanted
