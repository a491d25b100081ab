"""The reference of dialect files, made from the schema that checks them.

``python -m cfglint.dialect.reference`` writes ``grammars/REFERENCE.md``; a test fails while it is
out of date, and reads the example of every key.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.dialect.checks import CODEC, SHAPE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.schema import Shape

HEAD = """\
# Dialect files: every key

Made by `python -m cfglint.dialect.reference` from the schema that checks dialect files; `(!)` marks
what must be there. How to write one is told in `DEVELOPERS.md`, "How to add a dialect".
`cfglint show DUMP --tree --dialect FILE` prints the titles and words that addresses are written by.

## Addresses

- `Drive > least` is the value behind the words `least`, under the title `Drive`. Only words and
  numbers are compared: letter case, blanks, `-`, `_`, `.`, brackets and other marks are spelling.
- A title is written with all its words (`PAGE 3 ports`, not `ports`); outer titles may be left out.
- With a field the address is the whole line: `"motor.poles" = "bells {value} magnets"`. So is a
  value read that stands before its name, `"{value} | cells"`, or between words. `{N}` is a number
  that counts, `{_}` one value that does not matter, `*` anything.
- Where two addresses fit a line, the one with more words in the line itself is meant. Several lines
  of `[[rows]]` may read one line if each sets other things.
- In `[[rows]]` the fields are named as in `sets`; those of a range are `mode`, `channel`, `low` and
  `high` (or `centre` and `half`, `low` and `width`, or `bar`) and `join`; those of a link `mode`
  and `follows`; those of `makes = "join"` `mode` and `join`. A range without a mode goes on with
  that of the range above it.
- Lines that say nothing neutral go to `[kept]`, by the same addresses: `gyro *` begins with it,
  `* gain *` has it anywhere. An address without a word, as `; *`, keeps everything: never write it.
"""

#: The parts of a dialect file: heading, path in the schema, what it is for.
PARTS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("[dialect]", ("dialect",), "What the file is."),
    ("[marks]", ("marks",), "What the text is like, and how lines are written."),
    ("[identity]", ("identity",), "Lines that say who a dump is of, near its top."),
    ("[traits]", ("traits",), "How the firmware behaves; one that is left out is unknown."),
    (
        "[map]",
        ("map", "*"),
        "Neutral setting = its address, or several; or a table with these keys, and with those of "
        "a value below.",
    ),
    ("N = { … }", ("map", "*", "N"), "How the number in an address counts."),
    ("A value", (), "Keys of an entry of `[map]` and `[given]`, and of each field of a row."),
    ("[[rows]]", ("rows", "#"), "Lines with several fields, mode ranges and links."),
    (
        "[given]",
        ("given", "*"),
        "Name = the address of a number of the dump itself that others are made with.",
    ),
    ("[modes]", ("modes",), "Mode = written word, or several of which the first is written."),
    ("[profiles]", ("profiles",), "Settings whose address holds {P} belong to one profile each."),
    ("[kept]", ("kept",), "What has no neutral meaning: carried as it stands."),
    ("[[changes]]", ("changes", "#"), "What a firmware version changed, in order of versions."),
    ("[[examples]]", ("examples", "#"), "Lines of a dump, and what they stand for."),
)

#: An example for each key, by heading and key: whole lines of a dialect file.
EXAMPLES: dict[str, dict[str, str]] = {
    "[dialect]": {
        "id": 'id = "reed"',
        "title": 'title = "One name and value a line"',
        "schema": "schema = 2",
        "versions": 'versions = ">=7.0,<8"',
        "version_order": 'version_order = "decimal"',
        "extent": 'extent = "changes"',
    },
    "[marks]": {
        "comment": 'comment = ["#", ";"]',
        "prompt": 'prompt = ">"',
        "note": 'note = "("',
        "title": 'title = "bank {title}"',
        "end": 'end = "end of {title}"',
        "outline": "outline = true",
        "join": 'join = "\\\\"',
        "decimal": 'decimal = ","',
        "thousands": 'thousands = " "',
        "base": "base = 16",
        "capitals": "capitals = true",
        "quotes": 'quotes = "spelling"',
        "fill": 'fill = "_"',
        "wrapped": "wrapped = true",
        "turned": 'turned = "|"',
        "passed": 'passed = ["No.", "Default"]',
        "ditto": "ditto = \"''\"",
        "braces": 'braces = "{["',
        "tick": 'tick = "[x]"',
        "box": 'box = "[ ]"',
        "list": 'list = "+"',
        "none": 'none = ["-", "nothing"]',
        "yes": 'yes = ["on", "1"]',
        "no": 'no = ["off", "0"]',
        "refusal": 'refusal = "no: {reason}"',
        "removal": 'removal = "forget {name}"',
        "assign": 'assign = "put {name} {value}"',
        "open": 'open = "{title} {"',
        "close": 'close = "}"',
        "cells": 'cells = " | "',
        "save": 'save = "store"',
        "ignored": 'ignored = ["list", "help"]',
    },
    "[identity]": {
        "lines": 'lines = ["# {board} firmware {firmware}, {extent}", "# of {name}"]',
        "full": 'full = "everything"',
        "changes": 'changes = "changes only"',
        "sure": "sure = false",
    },
    "[traits]": {
        "range_ends": 'range_ends = "half-open"',
        "inversion": 'inversion = "absolute"',
        "arm_needs_permit": "arm_needs_permit = true",
        "arm_needs_low_throttle": "arm_needs_low_throttle = true",
        "arm_by_sticks": "arm_by_sticks = false",
        "unsure": 'inversion = "relative"\nunsure = ["inversion"]',
    },
    "[map]": {
        "at": '"motor.idle_percent" = { at = ["Drive > Least", "drive idle"] }',
        "column": '"channel.N.low_us" = { at = "low", column = "in{N}" }',
        "header": '"channel.N.low_us" = { at = "low", column = "in{N}", header = "end" }',
        "each": '"channel.N.mid_us" = { at = "centres", each = true }',
        "N": '"port.N.baud" = { at = "socket N > speed", N = { first = 0 } }',
        "default": '"motor.poles" = { at = "magnets", default = 14 }',
        "count": '"port.N.inverted" = { at = "flip N", default = false, count = 6 }',
    },
    "N = { … }": {
        "words": '"port.N.baud" = { at = "socket N", N = { words = { 1 = "A", 2 = "B" } } }',
        "first": '"port.N.baud" = { at = "socket N", N = { first = 0 } }',
        "sure": '"port.N.baud" = { at = "socket N", N = { sure = false } }',
    },
    "A value": {
        "words": '"motor.signal" = { at = "talk", words = { dshot300 = ["D3", 7] } }',
        "scale": '"failsafe.delay_s" = { at = "wait", scale = 0.1 }',
        "step": '"motor.idle_percent" = { at = "least", step = 0.25 }',
        "offset": '"stick.low_us" = { at = "low", offset = 800, step = 5 }',
        "over": '"loop.rate_hz" = { at = "turn", over = 1000000 }',
        "unit": '"battery.full_v" = { at = "full", unit = "mV" }',
        "base": '"motor.poles" = { at = "magnets", base = 16 }',
        "first": '"receiver.port" = { at = "socket", first = 0 }',
        "bits": '"port.N.functions" = { at = "socket N", bits = { receiver = 4, gps = 10 } }',
        "bit": '"receiver.inverted" = { at = "flags", bit = 3 }',
        "list": '"port.N.functions" = { at = "socket N", list = "and" }',
        "none": '"port.N.functions" = { at = "socket N", none = "free" }',
        "own": '"motor.signal" = { at = "talk", own = ["house blend"] }',
        "named": '"log.on" = { at = "with a log", named = true }',
        "filled": '"motor.poles" = { at = "bar", filled = "#" }',
        "empty": '"motor.poles" = { at = "bar", filled = "#", empty = "." }',
        "points": '"motor.poles" = { at = "bar", filled = "#", points = true }',
        "places": '"port.N.functions" = { at = "socket N", places = ["receiver", "gps"] }',
        "decimals": '"battery.full_v" = { at = "full", decimals = 2 }',
        "quoted": '"craft.name" = { at = "called", quoted = true }',
        "unsure": (
            '"motor.signal" = { at = "talk", words = { dshot300 = 7 }, unsure = ["dshot300"] }'
        ),
        "sure": '"motor.poles" = { at = "magnets", sure = false }',
    },
    "[[rows]]": {
        "id": 'id = "ports"\nat = "port {N} at {baud}"\nsets = { baud = "port.N.baud" }',
        "at": 'at = "port {N} at {baud}"\nsets = { baud = "port.N.baud" }',
        "makes": 'at = "{mode} on {channel} from {low} to {high}"\nmakes = "range"',
        "sets": 'at = "pace {rate} turns"\nsets = { rate = "loop.rate_hz" }',
        "fields": (
            'at = "{mode} on {channel}: {low} to {high}"\nmakes = "range"\n'
            "fields = { low = { offset = 800, step = 5 }, high = { offset = 800, step = 5 } }"
        ),
        "columns": ('at = "modes"\nmakes = "link"\ncolumns = { mode = "mode", follows = "after" }'),
        "header": (
            'at = "modes"\nmakes = "link"\ncolumns = { mode = "mode", follows = "after" }\n'
            'header = "mode"'
        ),
        "parts": (
            'at = "range {N}"\nmakes = "range"\n'
            'parts = { mode = "mode", channel = "lever", low = "from", high = "till" }'
        ),
        "gives": 'at = "simple wiring"\ngives = { "receiver.half_duplex" = true }',
        "each": 'at = "switches > {mode}"\nmakes = "range"\neach = "c{channel} {centre} {half}"',
        "join": (
            'at = "{mode} only on {channel} from {low} to {high}"\nmakes = "range"\njoin = "all"'
        ),
        "all_where": (
            'at = "switches > {mode}"\nmakes = "range"\neach = "c{channel} {low} {high}"\n'
            'all_where = "&"'
        ),
        "characters": ('at = "<{baud}>"\nsets = { baud = "receiver.baud" }\ncharacters = true'),
        "skip_empty": (
            'at = "slot {N} {mode} {channel} {low} {high}"\nmakes = "range"\nskip_empty = true'
        ),
        "sure": 'at = "{mode} goes with {follows}"\nmakes = "link"\nsure = false',
        "base": 'at = "port {N} at {baud}"\nsets = { baud = "port.N.baud" }\nbase = 16',
        "scale": 'at = "port {N} at {baud}"\nsets = { baud = "port.N.baud" }\nscale = 100',
        "offset": (
            'at = "{mode} on {channel} from {low} to {high}"\nmakes = "range"\n'
            "offset = 800\nscale = 5"
        ),
        "unit": 'at = "wait {time} then"\nsets = { time = "failsafe.delay_s" }\nunit = "ms"',
    },
    "[given]": {"at": 'step = { at = "one step is" }'},
    "[modes]": {
        "unsure": 'arm = "go"\nunsure = ["arm"]',
        "own": 'own = ["dance", "show off"]',
    },
    "[profiles]": {"in_use": 'in_use = "bank in use"', "first": "first = 0"},
    "[kept]": {"at": 'at = ["gyro *", "lamp colour"]', "sure": 'at = ["gyro *"]\nsure = false'},
    "[[changes]]": {
        "at": 'at = "4.2"',
        "about": 'at = "4.2"\nabout = "the loop is faster"',
        "rename": 'at = "4.2"\nrename = { "old words" = "new words" }',
        "remove": 'at = "4.2"\nremove = { "old words" = "counted by itself; nothing to enter" }',
        "boards": 'at = "4.2"\nboards = { "REED" = "REEDMACE" }',
        "map": 'at = "4.2"\nmap = { "motor.poles" = { at = "bells", default = 12 } }',
        "kept": 'at = "4.2"\nkept = ["song *"]',
        "rows": 'at = "4.2"\nrows = [{ at = "{mode} follows {follows}", makes = "link" }]',
        "drop_rows": 'at = "4.2"\ndrop_rows = ["ports"]',
        "traits": 'at = "4.2"\ntraits = { inversion = "relative" }',
        "modes": 'at = "4.2"\nmodes = { arm = "ready" }',
    },
    "[[examples]]": {
        "lines": 'lines = "old words = 3"',
        "firmware": 'lines = "new words = 3"\nfirmware = "7.9"',
        "sets": 'lines = "x"\nsets = { "motor.poles" = 14 }',
        "ranges": 'lines = "x"\nranges = ["arm: channel 5, 1728 to 2157"]',
        "links": 'lines = "x"\nlinks = ["beacon along with lost-link"]',
        "writes": 'lines = "x"\nwrites = false',
    },
}


def shape_at(path: tuple[str, ...]) -> Shape:
    """The shape of a table, by its path: ``*`` for any key, ``#`` for an item of a list."""
    found = SHAPE
    for step in path:
        if step == "*":
            assert found.free is not None
            tables = (found.free, *found.free.shapes)
            found = next(one for one in tables if one.kind == "table")
        elif step == "#":
            assert found.item is not None
            found = found.item
        else:
            assert found.keys is not None
            found = found.keys[step]
    return found


def keys_of(heading: str, path: tuple[str, ...]) -> dict[str, Shape]:
    """The keys that one part of the reference tells of."""
    if not path:
        return dict(CODEC)
    keys = dict(shape_at(path).keys or {})
    if heading in ("[map]", "[given]"):
        keys = {key: shape for key, shape in keys.items() if key not in CODEC}
    return keys


def _rows(heading: str, path: tuple[str, ...]) -> Iterator[str]:
    for key, shape in keys_of(heading, path).items():
        about = shape.about
        if shape.choices:
            about += ": " * bool(about) + " or ".join(f"`{word}`" for word in shape.choices)
        example = EXAMPLES[heading][key].replace("\n", "` `").replace("|", "\\|")
        must = " (!)" if shape.required else ""
        yield f"| `{key}`{must} | {about} | `{example}` |"


def page() -> str:
    """The whole page."""
    lines = [HEAD]
    for heading, path, about in PARTS:
        lines += [f"## `{heading}`" if path else f"## {heading}", "", about, ""]
        lines += ["| key | means | example |", "|---|---|---|", *_rows(heading, path), ""]
    return "\n".join(lines)


def main() -> None:
    """Write the page beside the grammars."""
    import cfglint_grammars

    with open(f"{cfglint_grammars.__path__[0]}/REFERENCE.md", "w", encoding="utf-8") as file:
        file.write(page())


if __name__ == "__main__":
    main()
