"""The picture in text, SVG and JSON: what is drawn agrees with what is on, and can be read.

Contrast is computed by the formula of WCAG 2.1 (relative luminance, contrast ratio 1.4.3); the
SVG is read back with the standard library's XML parser, and painted by resvg, which is no browser.
"""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft import Craft, Traits
from cfglint.report import switches as picture
from cfglint.report.blocks import Block
from cfglint.report.screen import LEAST_WIDTH, write
from cfglint.switches.as_json import as_json
from cfglint.switches.asking import Setup
from cfglint.switches.page import COLOURS, HIGH, PRINTED_MM, WIDE, escape
from cfglint.switches.picture import LEGEND, NO_MODE, lane_lines
from cfglint.switches.scene import Scene, lane_of, scene
from cfglint.switches.svg import svg

from .build import card, craft, link, row, sound, switch
from .random_craft import crafts

SVG = "{http://www.w3.org/2000/svg}"
K4 = switch("K4", 6, (1000, 1500, 2000), names=("up", "middle", "down"), jitter=4)


def page(blocks: Iterable[Block], width: int = 80, colour: bool = False) -> str:
    file = io.StringIO()
    write(blocks, file, width, colour)
    return file.getvalue()


def draw(item: Scene, width: int = 80, colour: bool = False) -> str:
    return page(picture.blocks(item), width, colour)


def lane(made: Craft, channel: int, width: int = 80) -> list[str]:
    return page(picture.lane(lane_of(Setup(made), channel)), width).splitlines()


def test_a_lane_as_it_should_look() -> None:
    made = sound([row("self-level", 6, 1361, 1741), row("hold-height", 6, 1741, 2002)])
    assert [line.rstrip() for line in lane(made, 6)] == [
        "channel 6, K4: up 1000, middle 1500, down 2000 µs, each ±4",
        "             880 1000       1200       1400      1600       1800         2120 µs",
        "             |-----+----------+----------+---------+----------+----------+-----|",
        "self-level                            [==== 1361–1741 =====)",
        "hold-height                                                [= 1741–2002 =)",
        "no mode      :::::::::::::::::::::::::                                    ::::::",
        "K4                 ^                          ^                          !",
        "                 up: –               middle: self-level",
        "                                                    down: hold-height on and off",
    ]


def test_bars_tell_their_ends_joins_and_where_they_are_cut() -> None:
    closed = Traits("closed", "absolute", False, True)
    made = sound(
        [
            row("arm", 5, 1229, 1755, "all"),
            row("lights", 5, 500, 1229),
            row("log", 5, 1755, 2500),
            row("beacon", 5, 1400, 1405),
            row("self-level", 5, 2200, 2300),
            row("hold-height", 5, 1755, 1229),
            row("motor-stop", 5, 2000, 2090),
            row("return-home", 5, 880, 2120),
        ],
        traits=closed,
    )
    lines = {line.split()[0]: line for line in lane(made, 5)}
    assert re.search(r"\[&+ 1229–1755 &+\]$", lines["arm"].rstrip())
    assert re.search(r"<=+ 500–1229 =+\]$", lines["lights"].rstrip())
    assert re.search(r"\[=+ 1755–2500 =+>$", lines["log"])
    assert "# 1400–1405" in lines["beacon"]
    assert "(2200–2300 lies beyond what can arrive)" in lines["self-level"]
    assert "(1755–1229 holds nothing)" in lines["hold-height"]
    assert "2000–2090 [====]" in lines["motor-stop"]
    assert lines["return-home"].rstrip().endswith(">")
    # The half-open end stays one, even at the very end of the lane.
    half = lane(sound([row("return-home", 5, 880, 2120)]), 5)[3]
    assert half.endswith(")")


def test_lanes_of_sticks_assumed_switches_and_troubles() -> None:
    made = sound([row("lights", 3, 1279, 1400)])
    stick = lane(made, 3)
    assert stick[0] == "channel 3, a stick: any value"
    assert "< any value >" in re.sub("-+", " ", stick[-1]).replace("  ", " ")
    none = sound(switches=None)
    assert lane(none, 5)[0] == (
        "channel 5, no switch on the card; assumed at 987.5, 1500, 2011.88 µs"
    )
    assert "?" in "".join(lane(none, 5))
    off = sound(receiver__link="sbus", ranges=[row("arm", 19, 1690, 2140)])
    assert "carries only 18 channels" in lane(off, 19)[-1]
    bent = sound(channel__5__mid_us=990)
    assert "which do not rise" in " ".join(lane(bent, 5))
    spring = sound(switches=[switch("K6", 5, (1000, 2000), momentary=True)])
    assert lane(spring, 5)[0].endswith("springs back to the first")


def test_wide_jitter_is_drawn_and_long_names_are_cut() -> None:
    made = sound(switches=[switch("the long left lever", 5, (1200, 1800), jitter=60)])
    lines = lane(made, 5)
    assert "the long left l…" in "\n".join(lines)
    assert re.search(r"-+\^-+", "\n".join(lines[3:]))


def test_a_lane_runs_over_the_links_travel() -> None:
    assert "880" in lane(sound(), 5)[1]
    assert "2120 µs" in lane(sound(), 5)[1]
    unknown = craft([row("arm", 5, 1636, 2064)])
    assert "800" in lane(unknown, 5)[1]
    assert "2200 µs" in lane(unknown, 5)[1]
    pinched = craft(
        [row("arm", 5, 1636, 2064)], card=card(receiver__low_us=1500, receiver__high_us=1500)
    )
    assert "800" in lane(pinched, 5)[1]


def test_calibrated_ranges_are_drawn_where_their_pulses_arrive() -> None:
    plain, shifted = sound(), sound(channel__5__low_us=1100, channel__5__mid_us=1600)
    words = "1100, 1600 and 2000 µs count as 1000, 1500 and 2000; drawn as they arrive."
    first, second = lane(plain, 5)[3], lane(shifted, 5)[4]
    assert lane(shifted, 5)[1] == words
    assert second.index("[") > first.index("[")
    assert "1672–2083" in second
    assert words in svg(scene(shifted))
    data = json.loads(as_json(scene(shifted)))
    assert data["lanes"][0]["calibrated_us"] == [1100, 1600, 2000]
    assert data["lanes"][1]["calibrated_us"] is None


def test_one_calibration_of_all_lanes_is_told_once() -> None:
    channels = {f"channel__{number}__low_us": 1100 for number in range(5, 17)}
    made = scene(sound(**channels))
    text = draw(made)
    assert text.count("count as 1000, 1500 and 2000") == 1
    assert "\nOn every channel here 1100, " in text
    assert svg(made).count("count as 1000, 1500 and 2000") == 1


@given(crafts(), st.sampled_from([50, 64, 80, 100, 132]))
def test_every_mark_stands_under_the_bars_of_its_modes(made: Craft, width: int) -> None:
    """Cell by cell: where a position is surely in a range, a bar of it is above the mark."""
    drawn = scene(made)
    for item in drawn.lanes:
        lines = lane_lines(item, width=width, room=20)
        if item.trouble:
            continue
        assert all(len(line) <= width for line in lines)
        first = next(at for at, line in enumerate(lines) if re.search("[|][-+]", line))
        bars = lines[first + 1 : first + 1 + len(item.bars)]
        scale = (width - 20) / (item.high - item.low)
        for mark in item.marks:
            cell = 20 + min(int(((mark.low + mark.high) / 2 - item.low) * scale), width - 21)
            for bar, line in zip(item.bars, bars, strict=True):
                inside = any(low <= mark.low and mark.high <= high for low, high, _, _ in bar.parts)
                if inside:
                    # Within the bar, be it on its own label.
                    left = min(at for at, char in enumerate(line[20:], 20) if char in "[(<#")
                    right = max(at for at, char in enumerate(line) if char in "])>#")
                    assert left <= cell <= right, (line, cell)


@given(crafts(), st.sampled_from([20, 50, 80, 120]))
def test_the_whole_picture_keeps_its_width_and_needs_no_colour(made: Craft, width: int) -> None:
    drawn = scene(made)
    plain = draw(drawn, width=width)
    assert "\x1b" not in plain
    assert max(map(len, plain.splitlines())) <= max(width, LEAST_WIDTH)
    coloured = draw(drawn, width=width, colour=True)
    assert re.sub("\x1b\\[[0-9]*m", "", coloured) == plain


def test_the_picture_in_parts() -> None:
    text = draw(scene(sound()))
    assert text.startswith("Avocet: what each switch does\n")
    assert all(part in text for part in LEGEND)
    assert "Righting an upturned craft" in text
    assert "4. Blip the roll stick until the craft has rolled over." in text
    assert "the makers'\ninstructions come first." in text
    assert "24 combinations of positions" in text
    assert "What is wrong" not in text
    assert "\x1b[31m" in draw(scene(sound()), colour=True)


def test_the_picture_says_what_it_assumes_and_does_not_know() -> None:
    made = sound(switches=None, traits=Traits(None, "absolute", False, True))
    text = " ".join(draw(scene(made)).split())
    assert "no switch on channels 5, 6, 7 and 8: three positions" in text
    assert "with the switches assumed above" in text
    assert "does not say whether a range's high end belongs to it" in text
    assert "questions cannot be answered without:" in text
    assert "- switch on channel 5 in the hardware card" in text
    one = sound([row("arm", 5, 1637, 2083)], switches=None)
    assert "no switch on channel 5: three" in " ".join(draw(scene(one)).split())
    unknown_link = craft([row("arm", 5, 1637, 2083)], card=card(switch("K1", 5, (1000, 2000))))
    assert "link is not known" in draw(scene(unknown_link))
    sbus = sound(receiver__link="sbus")
    assert "How SBUS rounds is not known" in draw(scene(sbus))


def test_the_picture_tells_what_is_wrong_with_the_path() -> None:
    made = sound(
        [
            row("arm", 5, 1647, 2215, "all"),
            row("arm", 6, 976, 1647, "all"),
            row("lights", 6, 1, 2),
            row("return-home", 7, 1647, 2215),
            row("self-right", 7, 1647, 2215),
            row("log", 8, 976, 2215),
        ]
    )
    text = draw(scene(made))
    assert "What is wrong\n\nIn normal flight with K1 down" in text
    assert "  3. Flick K4 down: disarmed." in text
    assert "Worth knowing\n\nLog never goes off" in text
    assert "There is no way" not in text
    stuck = sound([row("arm", 5, 1266, 2215), row("self-right", 5, 1647, 2215)])
    assert "There is no way" in draw(scene(stuck))
    assert "no switch at all" not in draw(scene(craft(card=card(K4))))


def test_tables_that_would_be_too_long_are_told_by_what_is_on() -> None:
    modes = ("lights", "beacon", "log", "video-power")
    ranges = [row(mode, 5 + n, 1761, 2113) for n, mode in enumerate(modes)]
    ranges += [row(mode, 5 + n, 771, 1332) for n, mode in enumerate(reversed(modes))]
    switches = [
        switch(f"switch number {n}", 5 + n, (1000, 1500, 2000), names=("up", "middle", "down"))
        for n in range(4)
    ]
    made = scene(sound(ranges, [link("self-level", mode, "all") for mode in modes], switches))
    (table,) = made.tables
    assert table.states == 81
    assert not table.all_rows
    assert sum(count for _, _, count in table.rows) == 81
    text = draw(made)
    assert "81 states, more than fit here" in text
    assert "on (in so many states)" in text or "\n    " in text
    assert "states)" in svg(made)


def test_many_switches_of_long_names_are_told_line_by_line() -> None:
    names = ("the lever on the left", "the lever on the right", "the knob between the two")
    ranges = [row("arm", 5 + n, 1680, 2094, "all") for n in range(3)]
    switches = [switch(name, 5 + n, (1000, 2000)) for n, name in enumerate(names)]
    made = scene(sound(ranges, switches=switches))
    text = draw(made)
    assert (
        "the lever on the left high, the lever on the right high, the knob between the\n"
        "two high\n    arm\n"
    ) in text
    more = (
        row("arm", 8, 1680, 2094, "all"),
        switch("the button below, on its back", 8, (1000, 2000)),
    )
    wider = svg(scene(sound([*ranges, more[0]], switches=[*switches, more[1]])))
    words = " ".join("".join(item.itertext()) for item in ET.fromstring(wider).iter(f"{SVG}text"))
    assert "the button below, on its back high: arm" in words


def test_modes_that_fill_a_line_go_on_below_themselves() -> None:
    modes = ("self-level", "idle-authority", "hold-height", "hold-position", "video-power", "log")
    made = sound([row(mode, 5, 1755, 2171) for mode in modes])
    lines = draw(scene(made), width=50).splitlines()
    at = next(at for at, line in enumerate(lines) if line.startswith("down  "))
    assert lines[at : at + 2] == [
        "down  self-level, idle-authority, hold-height,",
        "      hold-position, log, video-power",
    ]


def test_a_craft_that_self_rights_but_never_arms() -> None:
    made = scene(sound([row("self-right", 7, 1767, 2054)]))
    assert made.stuck == "the craft cannot be flown in the first place"


def test_a_wide_travel_keeps_its_ruler_readable() -> None:
    made = craft(
        [row("arm", 5, 1636, 2177)], card=card(receiver__low_us=600, receiver__high_us=2400)
    )
    root = ET.fromstring(svg(scene(made)))
    ticks = [item.text for item in root.iter(f"{SVG}text") if item.get("font-size") == "12"]
    assert ticks[:3] == ["600", "800", "1000"]


def test_what_cannot_be_drawn_as_a_table_says_why() -> None:
    bent = scene(sound(channel__5__mid_us=990))
    assert any("not known without" in table.trouble for table in bent.tables)
    assert "not known without" in draw(bent)
    assert "not known without" in svg(bent)
    assert "do not rise" in bent.stuck


def test_nothing_to_draw_is_still_a_picture() -> None:
    empty = scene(craft())
    assert draw(empty).startswith("Avocet: what each switch does\n")
    assert ET.fromstring(svg(empty)).tag == f"{SVG}svg"


# ---------------------------------------------------------------- SVG


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("side", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "soft", "arm", "right", "loss", "mode"])
def test_colours_keep_their_contrast(role: str, side: int) -> None:
    """Text and bars against the page, and the page's colour on bars: 4.5 to 1 (WCAG 2.1)."""
    one, two = sorted((luminance(COLOURS[role][side]), luminance(COLOURS["page"][side])))
    assert (two + 0.05) / (one + 0.05) >= 4.5


@given(crafts())
def test_svg_is_sound_and_says_all_that_the_text_says(made: Craft) -> None:
    drawn = scene(made)
    root = ET.fromstring(svg(drawn))
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    words = " ".join("".join(item.itertext()) for item in root.iter(f"{SVG}text"))
    for item in drawn.lanes:
        assert f"channel {item.channel}" in words
        for bar in item.bars:
            assert bar.mode in words
            assert f"{bar.low_us:g}–{bar.high_us:g}" in words
        for mark in item.marks:
            assert f"{mark.name}: " in words
    for item in root.iter():
        for name, most in (("x", wide), ("x1", wide), ("x2", wide), ("y", high), ("y1", high)):
            if name in item.attrib:
                assert 0 <= float(item.attrib[name]) <= most, ET.tostring(item)
    for box in root.iter(f"{SVG}rect"):
        if "x" in box.attrib:
            assert float(box.attrib["x"]) + float(box.attrib["width"]) <= wide


def test_svg_holds_any_name() -> None:
    odd = 'A<&>"\x00\x1b[31m\u202e\ud800'
    made = sound(switches=[switch(odd, 5, (1000, 2000), names=("<", "&"))])
    root = ET.fromstring(svg(scene(made)).encode("utf-8"))
    words = " ".join("".join(item.itertext()) for item in root.iter(f"{SVG}text"))
    assert "A<&>" in words
    assert escape("a\ufffeb\tc") == "a\ufffdb\tc"


def test_svg_tells_positions_apart_by_shape() -> None:
    made = sound([row("arm", 5, 1719, 2002, "all"), row("lights", 3, 1, 2)])
    text = svg(scene(made))
    for sign in ("Filled triangle", "Cross:", "Hatched bar", "Dotted line", f"{NO_MODE}: no mode"):
        assert sign in text
    # A filled triangle, a cross of two strokes, a hatched bar, a dashed line for any value.
    assert re.search(r'l6 12h-12z" fill="#', text)
    assert re.search(r'l10 10m0 -10l-10 10" fill="none" stroke="#', text)
    assert 'fill="url(#hatch-arm)"' in text
    assert 'stroke-dasharray="6 4"' in text
    assert "Pointed bar" not in text
    assumed = svg(scene(sound(switches=None)))
    assert re.search(r'l6 12h-12z" fill="none" stroke="#', assumed)
    assert "Filled triangle" not in assumed
    beyond = svg(scene(sound([row("lights", 5, 870, 2150)])))
    assert "Pointed bar" in beyond
    assert "l7 9l-7 9z" in beyond
    assert "l-7 9l7 9z" in beyond


def pixels(picture: str, width: int = 480) -> tuple[int, int, list[bytes]]:
    """Width, height and pixels (RGBA) of a picture as resvg paints it."""
    import zlib

    import resvg_py

    png = bytes(resvg_py.svg_to_bytes(svg_string=picture, width=width))
    # PNG (W3C Recommendation, third edition): chunks of length, type, data, check sum.
    at, data, wide, high = 8, b"", 0, 0
    while at < len(png):
        size, kind = int.from_bytes(png[at : at + 4], "big"), png[at + 4 : at + 8]
        body = png[at + 8 : at + 8 + size]
        if kind == b"IHDR":
            wide, high = (int.from_bytes(body[n : n + 4], "big") for n in (0, 4))
            assert body[8:] == bytes([8, 6, 0, 0, 0])  # 8 bits each of red, green, blue, alpha
        if kind == b"IDAT":
            data += body
        at += 12 + size
    raw, stride = zlib.decompress(data), 4 * wide
    last, found = bytes(stride), []
    for line in range(high):
        filtered = raw[line * (stride + 1)], raw[line * (stride + 1) + 1 :][:stride]
        last = unfiltered(*filtered, last)
        found += [last[n : n + 4] for n in range(0, stride, 4)]
    return wide, high, found


def unfiltered(kind: int, line: bytes, above: bytes) -> bytes:
    """One row of pixels from its differences (PNG, 9.2)."""
    out = bytearray(line)
    for n, value in enumerate(line):
        left, up = (out[n - 4] if n > 3 else 0), above[n]
        corner = above[n - 4] if n > 3 else 0
        guess = left + up - corner
        nearest = min((left, up, corner), key=lambda one: abs(guess - one))
        out[n] = (value + (0, left, up, (left + up) // 2, nearest)[kind]) % 256
    return bytes(out)


def test_a_viewer_that_is_no_browser_shows_every_colour() -> None:
    ranges = [row("arm", 5, 1719, 2002), row("self-right", 5, 1719, 2140, "all")]
    ranges += [row("lost-link", 5, 1610, 2095), row("lights", 5, 1250, 1330)]
    whole = svg(scene(craft(ranges, card=card(switch("K1", 5, (1000, 2000))))))
    # Its upper part is enough: title, scale, and a lane with a bar of each kind.
    size = f'viewBox="0 0 {WIDE} 230" width="{WIDE}" height="230"'
    part, count = re.subn('viewBox="[^"]*" width="[^"]*" height="[^"]*"', size, whole, count=1)
    assert count == 1
    _, _, found = pixels(part, WIDE)
    counts = {
        name: found.count(bytes.fromhex(light[1:]) + b"\xff")
        for name, (light, _) in COLOURS.items()
    }
    assert all(counts.values()), counts
    # Mostly paper, as print is.
    assert counts["page"] > 0.7 * len(found)


def test_colours_are_plain_and_dark_ones_only_for_a_dark_screen() -> None:
    text = svg(scene(sound()))
    assert "var(" not in text
    style = text[text.index("<style>") : text.index("</style>")]
    light, _, dark = style.partition("@media screen and (prefers-color-scheme:dark)")
    assert "fill" not in light
    for name, (_, colour) in COLOURS.items():
        assert f".{name}{{fill:{colour}}}" in dark


def tall(count: int) -> Craft:
    ranges = [row(mode, 5 + n % 8, 1213 + 3 * n, 1866 + 7 * n) for n in range(count)
              for mode in ("lights", "log", "beacon")]  # fmt: skip
    return sound(ranges, switches=[switch(f"K{n}", 4 + n, (1000, 1500, 2000)) for n in range(1, 9)])


@pytest.mark.parametrize("count", [8, 12, 16, 30, 60])
def test_nothing_is_cut_where_a_page_ends(count: int) -> None:
    root = ET.fromstring(svg(scene(tall(count))))
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    assert wide == WIDE
    pages = -int(-high // HIGH)
    assert pages > 1
    ends = [page * HIGH for page in range(1, pages)]
    texts = [
        (float(item.attrib["y"]), item.get("font-size", "14"), item.text)
        for item in root.iter(f"{SVG}text")
    ]
    for end in ends:
        # No line of text, and no bar, lies across the end of a page.
        assert not [text for y, _, text in texts if y - 20 < end < y + 5]
        assert not [
            box for box in root.iter(f"{SVG}rect") if "x" in box.attrib
            and float(box.attrib["y"]) < end < float(box.attrib["y"]) + float(box.attrib["height"])
        ]  # fmt: skip
        # A heading is never the last on its page.
        assert max(one for one in texts if one[0] < end)[1] == "14"
    # On every page with lanes the scale stands above the first.
    scales = [y for y, _, text in texts if text == "2120 µs"]
    lanes = {int(y // HIGH) for y, _, text in texts if text and text.startswith("channel ")}
    assert [int(y // HIGH) for y in scales] == sorted(lanes)


def test_long_names_are_cut_and_keep_clear_of_the_scale() -> None:
    made = sound(switches=[switch("the very long left lever", 5, (1000, 2000))])
    text = svg(scene(made))
    assert ">the very long l…<" in text
    assert "channel 5, the very long left lever:" in text


# ---------------------------------------------------------------- JSON


@given(crafts())
def test_json_is_the_scene(made: Craft) -> None:
    drawn = scene(made)
    data = json.loads(as_json(drawn))
    assert data["schema"] == 1
    assert [item["channel"] for item in data["lanes"]] == [item.channel for item in drawn.lanes]
    assert len(data["answers"]) == len(drawn.answers)
    for item, lane_ in zip(data["lanes"], drawn.lanes, strict=True):
        assert [mark["modes"] for mark in item["positions"]] == [
            list(mark.modes) for mark in lane_.marks
        ]
    for table, told in zip(drawn.tables, data["states"], strict=True):
        assert [row_["on"] for row_ in told["rows"]] == [list(on) for _, on, _ in table.rows]


def test_json_in_full() -> None:
    data = json.loads(as_json(scene(sound(switches=None))))
    assert data["assumed_channels"] == [5, 6, 7, 8]
    assert data["recovery"]["assumed"] is True
    unknown = next(one for one in data["answers"] if one["question"] == "cannot-fly")
    assert unknown["lacks"][0] == {"fact": "switch on channel 5", "where": "card", "hint": ""}
    sound_one = json.loads(as_json(scene(sound())))
    assert sound_one["recovery"]["words"][0] == "1. Flick K1 up: disarmed."
    assert sound_one["recovery"]["steps"][2]["armed"] is True
    broken = json.loads(as_json(scene(sound([row("arm", 5, 1671, 2002)]))))
    (by_itself,) = [one for one in broken["answers"] if one["question"] == "arms-by-itself"]
    assert by_itself["spans"][0] == {
        "file": "craft.dump",
        "line": 2,
        "column": 1,
        "end_line": 2,
        "end_column": 41,
    }
    assert by_itself["steps"][1]["kind"] == "chatter"


# ---------------------------------------------------------------- the command


DUMP = """\
-- board SLATE, firmware 7.9, full listing
let receiver-link be crsf
use arm while channel 5 in 1686..2061
stow
"""
CARD = """\
[[switch]]
name = "S\\u202eA"
channel = 5
positions_us = [1000, 2000]
"""


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    dump, on_card = tmp_path / "a.dump", tmp_path / "a.toml"
    dump.write_text(DUMP, encoding="utf-8")
    on_card.write_text(CARD, encoding="utf-8")
    return dump, on_card


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    from cfglint.cli import main

    code = main(["switches", *map(str, words)])
    return code, *capsys.readouterr()


def test_the_command_draws(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    dump, on_card = files
    code, out, err = run(capsys, dump, "--card", on_card, "--width", 80)
    assert (code, err) == (0, "")
    # A name cannot turn the reading direction.
    assert "channel 5, S\\u202eA: low 1000, high 2000 µs" in out
    code, out, _ = run(capsys, dump, "--colour", "always")
    assert "\x1b[31m" in out
    code, out, _ = run(capsys, dump, "--as", "json", "--card", on_card)
    assert json.loads(out)["lanes"][0]["switch"] == "S\u202eA"
    code, out, _ = run(capsys, dump, "--as", "svg")
    assert ET.fromstring(out).tag == f"{SVG}svg"


def test_the_command_writes_to_a_file(
    files: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "picture.svg"
    code, out, _ = run(capsys, files[0], "--as", "svg", "-o", target)
    assert (code, out) == (0, "")
    assert ET.fromstring(target.read_text(encoding="utf-8")).tag == f"{SVG}svg"
    code, _, err = run(capsys, files[0], "-o", tmp_path / "no such folder" / "x")
    assert code == 2
    assert "cannot be written" in err


def test_the_command_says_what_is_wrong(
    files: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = tmp_path / "bare.dump"
    bare.write_text("-- board SLATE, firmware 7.9, full listing\nstow\n", encoding="utf-8")
    code, out, err = run(capsys, bare)
    assert (code, out) == (4, "")
    assert "no mode range, and no card that describes a switch" in err
    code, _, err = run(capsys, tmp_path / "missing.dump")
    assert code == 3
    code, _, err = run(capsys, files[0], "--as", "sgv")
    assert code == 2
    assert "`svg`" in err
    twice = tmp_path / "twice.toml"
    twice.write_text(CARD + CARD.replace("S\\u202eA", "K4"), encoding="utf-8")
    code, _, err = run(capsys, files[0], "--card", twice)
    assert code == 2
    assert "both on channel 5" in err


def test_an_encoding_without_micro_signs(files: tuple[Path, Path]) -> None:
    def printed(encoding: str) -> str:
        file = io.TextIOWrapper(io.BytesIO(), encoding)
        write(picture.blocks(scene(sound())), file, 80, True)
        file.seek(0)
        return file.read()

    assert "up 1000, middle 1500, down 2000 us, each +-4" in printed("ascii")
    assert "up 1000, middle 1500, down 2000 µs, each ±4" in printed("latin-1")


def test_the_demo_fleet_can_be_drawn(
    root: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    dumps = sorted((root / "fixtures" / "saltmarsh" / "dumps").glob("*.dump.txt"))
    assert len(dumps) == 8
    for dump in dumps:
        code, out, err = run(capsys, dump, "--width", 80)
        assert (code, err) == (0, "")
        assert max(map(len, out.splitlines())) <= 80
        code, out, _ = run(capsys, dump, "--as", "svg")
        drawn = ET.fromstring(out)
        assert "`" not in out
        # One sheet of A4 holds it: it is no longer for its width than what is printed on.
        _, _, wide, high = map(float, drawn.attrib["viewBox"].split())
        assert high / wide <= PRINTED_MM[1] / PRINTED_MM[0]
        assert float(drawn.attrib["width"]) == pytest.approx(PRINTED_MM[0] / 25.4 * 96, abs=0.1)
        assert len(set(pixels(out, 120)[2])) > 20
