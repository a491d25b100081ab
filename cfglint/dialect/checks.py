"""What may stand in a dialect file, and every mistake of one."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import FAMILIES_BY_NAME, MODES, setting
from cfglint.dialect.address import address, segment
from cfglint.dialect.lines import find, mistake
from cfglint.dialect.mapping import PARTS, words_of
from cfglint.errors import Problem
from cfglint.near import suggestion
from cfglint.schema import (
    Shape,
    anything,
    check_table,
    either,
    flag,
    many,
    number,
    table,
    text,
    texts,
    whole,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.craft.settings import Setting
    from cfglint.tomltext import Document, Path

SCHEMA_VERSION = 2
_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?"
#: What fields of a setting's own address may be.
_OWN_FIELDS = ("N", "P", "value")


def unknown_setting(name: str) -> str:
    """What is wrong with a neutral setting's name in a dialect file, or ``""``."""
    try:
        setting(name)
    except KeyError:
        return f"is no neutral setting; {suggestion(name, FAMILIES_BY_NAME)}"
    return ""


def unknown_mode(name: str) -> str:
    """What is wrong with a mode's name in a dialect file, or ``""``."""
    return "" if name in MODES else f"is no mode; {suggestion(name, MODES)}"


def _not_zero(value: float) -> str:
    return "must not be 0" if value == 0 else ""


def _lines(about: str, *needed: str) -> Shape:
    """A line form, or a list of them, with certain fields."""

    def check(value: Any) -> str:
        return next((wrong for one in words_of(value) if (wrong := mistake(one, *needed))), "")

    return either(text(about, check=check), many(text(check=check), about), about=about)


def _one_or_more(about: str) -> Shape:
    return either(text(about), texts(about), about=about)


def _passed_over(value: str) -> str:
    """What is wrong with words by which lines are passed over: some must tell them from others."""
    told = any(
        kind not in ("any", "field") for part in address(value).segments for kind, _ in part.pieces
    )
    return "" if told else "holds no word, so every line would fit"


def _an_address(value: Any) -> str:
    for one in words_of(value):
        if not any(part.pieces for part in address(one).segments):
            return "holds no word, so every line would fit"
        names = [name for name in address(one).fields if name != "_"]
        twice = next((name for name in names if names.count(name) > 1), "")
        if twice:
            return f"has {{{twice}}} twice; give each field its own name"
    return ""


def _address(about: str, *, required: bool = False) -> Shape:
    return either(
        text(about, check=_an_address), many(text(check=_an_address), about), about=about,
        required=required,
    )  # fmt: skip


_WORD = either(text(), whole(), number(), many(either(text(), whole())))
_COUNT = table(
    {
        "words": table(free=_WORD, about="neutral number = what is written for it"),
        "first": whole("what the first one is called, if not 1", least=0),
        "sure": flag("false: how it counts is unconfirmed"),
    },
    "how the number in the address counts",
)


def _given(about: str, check: Callable[[Any], str] | None = None) -> Shape:
    """A number, or the name of one that the dump itself gives (see ``[given]``)."""
    return either(
        number(about, check=check),
        text("a name of [given], or another field of the line"),
        about=about,
    )


CODEC = {
    "words": table(
        free=_WORD,
        about="neutral word = written word, or several of which the first is written; a number may "
        "be written as a word too, and a channel order letter by letter",
    ),
    "scale": _given("neutral = offset + scale × written", check=_not_zero),
    "step": _given("the same as scale", check=_not_zero),
    "offset": _given("neutral = offset + scale × written"),
    "over": number("neutral = over ÷ written"),
    "unit": text("the unit of written numbers that carry none, if not the neutral one"),
    "base": whole("10, or 16 for hexadecimal digits", least=10, most=16),
    "first": whole("what the first one is called, where the craft counts from 1"),
    "bits": table(
        free=whole("a bit's number", least=0, most=63), about="neutral word = bit of a number"
    ),
    "bit": whole("the bit that a flag is in a number", least=0, most=63),
    "list": text("what divides the words of a list; empty where each letter is a word"),
    "none": _one_or_more("what is written where nothing is set"),
    "own": _one_or_more(
        "words of the firmware's own that have no neutral meaning, or say nothing of it"
    ),
    "named": flag("what a flag is where its words stand, with no value behind them"),
    "filled": text("the mark of a drawn bar that is on"),
    "empty": text("the mark of a drawn bar that is off"),
    "points": flag("each mark of a drawn bar is a point of the scale, not a stretch of it"),
    "places": texts("neutral words that marks stand for, one at each place"),
    "decimals": whole("digits after the point when written", least=0, most=9),
    "quoted": flag("the text is always written in quotes"),
    "unsure": texts("neutral words whose written word is unconfirmed"),
    "sure": flag("false: the mapping is unconfirmed"),
}
_ENTRY = {
    "at": _address("the words before the value, or with {value} the whole line; titles first"),
    "column": text("what stands in the header over the value", check=_an_address),
    "header": text("what the header's line begins with, where several lines look like one"),
    "each": flag("the line holds one value for each number, in order"),
    **CODEC,
    "N": _COUNT,
    "default": anything("what holds when no line says (a neutral value)"),
    "count": whole("how many of the family there are", least=1, most=99),
}
_MAP = table(
    free=either(text(check=_an_address), texts(), table(_ENTRY)),
    free_key=unknown_setting,
    about="neutral setting = its address, or a table that says more",
)
_ROW = table(
    {
        "id": text("a name for changes to refer to"),
        "at": _address("the line, or the titles and the beginning of the line", required=True),
        "makes": text("what the line is", choices=("settings", "range", "link", "join")),
        "sets": table(free=text("a neutral setting"), about="field = neutral setting"),
        "fields": table(free=table(CODEC), about="how each field is written"),
        "columns": table(
            free=text(check=_an_address), about="field = what stands in the header over it"
        ),
        "parts": table(
            free=_address("the words before the field"), about="field = the words before it"
        ),
        "header": text("what the header's line begins with, where several lines look like one"),
        "gives": table(
            free=anything("a neutral value"),
            free_key=unknown_setting,
            about="neutral setting = what it is where the line stands",
        ),
        "each": _address("what repeats in the line behind the words of `at`, with its fields"),
        **{key: CODEC[key] for key in ("base", "scale", "offset", "unit")},
        "join": text("how ranges of one mode combine", choices=("any", "all")),
        "all_where": text("what stands in a line whose ranges must all hold"),
        "characters": flag("every mark of the line counts, and fields may stand within a word"),
        "skip_empty": flag("a range that ends where it starts is an unused slot"),
        "sure": flag("false: the whole row is unconfirmed"),
    }
)
_TRAITS = table(
    {
        "range_ends": text(
            "whether a range's high end belongs to it", choices=("half-open", "closed")
        ),
        "inversion": text("what the inversion flag says", choices=("absolute", "relative")),
        "arm_needs_permit": flag("arming needs a second switch"),
        "arm_needs_low_throttle": flag("arming needs the throttle at its lowest"),
        "arm_by_sticks": flag("sticks arm where no mode range does"),
        "unsure": texts("traits that are unconfirmed"),
    }
)
_MODES = table(
    {
        "unsure": texts("modes whose written word is unconfirmed"),
        "own": _one_or_more("words of modes without a neutral meaning"),
    },
    free=either(text(), whole(), many(either(text(), whole()))),
    free_key=unknown_mode,
    about="mode = written word",
)
_CHANGE = table(
    {
        "at": text("the first version that has the change", required=True),
        "about": text("what the makers changed, in a clause"),
        "rename": table(free=text("the new words"), about="old words of addresses = new ones"),
        "remove": table(free=text("why, and what to do"), about="words of addresses = why"),
        "boards": table(free=text("the new name"), about="old board = new board"),
        "map": _MAP,
        "kept": many(text(check=_passed_over), "new addresses without a neutral meaning"),
        "rows": many(_ROW, "rows that are new, or replace those of the same id"),
        "drop_rows": texts("ids of rows that went"),
        "traits": _TRAITS,
        "modes": _MODES,
    }
)


def _mode_range(value: str) -> str:
    from cfglint.dialect.examples import not_a_range

    return not_a_range(value)


def _mode_link(value: str) -> str:
    from cfglint.dialect.examples import not_a_link

    return not_a_link(value)


def _versions(value: str) -> str:
    from cfglint.facts.versions import VersionRange

    try:
        VersionRange.parse(value)
    except ValueError as error:
        return f"is no range of versions: {error}"
    return ""


SHAPE = table(
    {
        "dialect": table(
            {
                "id": text("the dialect's name", required=True),
                "title": text("one line about it"),
                "schema": whole(
                    "the version of this format", least=SCHEMA_VERSION, most=SCHEMA_VERSION
                ),
                "versions": text("the firmware versions it covers", check=_versions),
                "version_order": text("how versions count", choices=("dotted", "decimal")),
                "extent": text("what a dump is that does not say", choices=("full", "changes")),
            },
            required=True,
        ),
        "marks": table(
            {
                "comment": _one_or_more("what begins a comment"),
                "prompt": _one_or_more("what a terminal prints before a line"),
                "note": _one_or_more("what begins a note behind a value"),
                "title": _lines("a heading, with {title}", "title"),
                "end": _lines("what ends a heading"),
                "outline": flag("lines are numbered, and the numbers say how deep they stand"),
                "join": text("what a line ends with that goes on in the next"),
                "decimal": text("the decimal sign", choices=(".", ",")),
                "thousands": text("what stands between thousands"),
                "base": whole("16 where every number is in hexadecimal digits", least=10, most=16),
                "capitals": flag("names may differ in letter case alone"),
                "quotes": text(
                    "whether quotes are spelling, as brackets are", choices=("spelling",)
                ),
                "fill": text("the mark of a line to write on, in a form that is filled in"),
                "wrapped": flag("sentences go on over the ends of lines"),
                "turned": text("what stands between a value and the name behind it"),
                "passed": _one_or_more("what columns of tables are called that are passed over"),
                "ditto": text("what stands in a column for what the one before it says"),
                "braces": text("the brackets that nest wherever they stand in a line"),
                "tick": text("what stands before the choice that is taken"),
                "box": text("what stands before a choice that is not taken"),
                "list": CODEC["list"],
                "none": CODEC["none"],
                "yes": _one_or_more("how a set flag is written"),
                "no": _one_or_more("how a cleared flag is written"),
                "refusal": _lines("how the controller refuses the line before, with {reason}"),
                "removal": _lines("how a value is taken back, with {name}", "name"),
                "assign": _lines("how a value is given, with {name} and {value}", "name", "value"),
                "open": text("how a title is written", check=lambda value: mistake(value, "title")),
                "close": text("how what stands under a title is ended"),
                "cells": text("what stands between the cells of a table that is written"),
                "save": text(
                    "the line that makes the controller keep what was entered", check=_passed_over
                ),
                "ignored": either(
                    text(check=_passed_over),
                    many(text(check=_passed_over)),
                    about="the words that lines begin with that are passed over, "
                    "with all under them",
                ),
            }
        ),
        "identity": table(
            {
                "lines": many(
                    text("a line", check=mistake), "lines that name board, firmware, extent, craft"
                ),
                "full": text("the word for a full dump"),
                "changes": text("the word for a dump of changes"),
                "sure": flag("false: what these lines say is unconfirmed"),
            }
        ),
        "traits": _TRAITS,
        "map": _MAP,
        "given": table(
            free=either(text(check=_an_address), table({"at": _ENTRY["at"], **CODEC})),
            about="name = the address of a number of the dump that others are made with",
        ),
        "modes": _MODES,
        "rows": many(_ROW, "lines with several fields, mode ranges and links"),
        "profiles": table(
            {
                "in_use": text(
                    "the address of what says which profile is in use", check=_an_address
                ),
                "first": whole("the one in use when nobody says", least=0),
            }
        ),
        "kept": table(
            {
                "at": many(
                    text(check=_passed_over), "addresses without a neutral meaning; * for any"
                ),
                "sure": flag(
                    "false: that they have none is only supposed; what is not understood may be "
                    "the dialect's fault"
                ),
            }
        ),
        "changes": many(_CHANGE, "what a firmware version changed"),
        "examples": many(
            table(
                {
                    "lines": text("lines of a dump", required=True),
                    "firmware": text("the version whose tables apply"),
                    "sets": table(
                        free=anything("a neutral value"),
                        free_key=unknown_setting,
                        about="neutral setting = neutral value",
                    ),
                    "ranges": many(text("mode: channel, ends", check=_mode_range), "mode ranges"),
                    "links": many(text("mode along with mode", check=_mode_link), "mode links"),
                    "writes": either(
                        text(), flag(), about="how it is written back; false if it is not"
                    ),
                }
            ),
            "lines and what they set",
        ),
    }
)


def mistakes(document: Document) -> list[Problem]:
    """Every mistake of a dialect file, each with its place."""
    found = check_table(document, (), SHAPE)
    if found:
        return found
    data = document.data
    for name, entry in data.get("map", {}).items():
        found += _entry_mistakes(document, ("map", name), entry, whole=True)
    for at, row in enumerate(data.get("rows", [])):
        found += _row_mistakes(document, ("rows", at), row)
    for at, change in enumerate(data.get("changes", [])):
        for name, entry in change.get("map", {}).items():
            found += _entry_mistakes(document, ("changes", at, "map", name), entry, whole=False)
        for index, row in enumerate(change.get("rows", [])):
            found += _row_mistakes(document, ("changes", at, "rows", index), row)
    found += _unsure_mistakes(document, (), data)
    found += _change_order(document, data)
    if "examples" in data:
        from cfglint.dialect.examples import example_mistakes

        found += example_mistakes(document)
    return found or _old_names(document, data)


# ---------------------------------------------------------------- entries and rows


def _entry_mistakes(
    document: Document, path: Path, entry: Any, *, whole: bool
) -> Iterator[Problem]:
    """What is wrong with an entry of the map; one of a change may hold only what differs."""
    name = str(path[-1])
    row = setting(name)
    if not isinstance(entry, dict):
        entry = {"at": entry}
        inside = path
    else:
        inside = (*path, "at")
    if whole and "at" not in entry and "default" not in entry:
        yield Problem(
            f"`{name}` lacks `at`",
            span=document.where(*path),
            instead="write the words around its value, or what holds without a line (`default`)",
        )
    for text_ in words_of(entry.get("at", ())):
        yield from _address_mistakes(document, inside, name, text_, entry)
    if "default" in entry and ".N" in name and "count" not in entry and whole:
        yield Problem(
            f"`{name}` has a default, but nothing says for how many",
            span=document.where(*path),
            instead="write `count = …` with how many of the family there are",
        )
    yield from _default_mistakes(document, path, entry, row)
    yield from _codec_mistakes(document, path, entry, row)


def _address_mistakes(
    document: Document, path: Path, name: str, at: str, entry: dict[str, Any]
) -> Iterator[Problem]:
    fields = [*address(at).fields]
    if "column" in entry:
        fields += segment(entry["column"]).fields
    strange = next((one for one in fields if one not in (*_OWN_FIELDS, "_")), "")
    if strange:
        yield Problem(
            f"the address of `{name}` holds {{{strange}}}, which nothing fills in",
            span=document.where_value(*path),
            instead="only {value}, {N} (or a plain N) and {P} may stand in it",
        )
    counts = "N" in fields or entry.get("each") is True
    if (".N" in name) != counts and ".N" in name:
        yield Problem(
            f"`{name}` is a family, and its address has no N",
            span=document.where_value(*path),
            instead="write N where its number stands, in the address or the column",
        )
    elif counts and ".N" not in name:
        yield Problem(
            f"the address of `{name}` has an N, and there is only one `{name}`",
            span=document.where_value(*path),
            instead="write the number that stands there, or * for anything",
        )


def _codec_mistakes(
    document: Document, path: Path, raw: dict[str, Any], row: Setting
) -> Iterator[Problem]:
    """Neutral words that there are not, and keys that contradict each other."""
    for key in ("words", "bits"):
        for word in raw.get(key, {}):
            valid: tuple[str, ...] = ("yes", "no") if row.kind == "flag" else row.words
            if valid:
                right = word in valid
            else:
                right = row.kind == "text" or bool(re.fullmatch(_NUMBER, word))
            if not right:
                yield Problem(
                    f"`{word}` is no neutral value of `{row.name}`",
                    span=document.where(*path, key, word),
                    instead=suggestion(word, valid, most=20) if valid else "write a number",
                )
    pairs = (("scale", "step"), ("scale", "over"), ("step", "over"), ("first", "scale"),
             ("first", "over"), ("bits", "words"), ("bit", "words"), ("offset", "over"),
             ("column", "each"))  # fmt: skip
    for one, other in pairs:
        # `over = 0` is how a change takes it away.
        if one in raw and other in raw and (other != "over" or raw["over"]):
            yield Problem(
                f"`{one}` and `{other}` of `{path[-1]}` contradict each other",
                span=document.where(*path, other),
                instead=f"keep the one of `{one}` and `{other}` that is meant",
            )
    kinds = {"bits": ("words",), "bit": ("flag",), "quoted": ("text",)}
    for key, wanted in kinds.items():
        if key in raw and row.kind not in wanted:
            what = {"bits": "a list of words", "bit": "a flag", "quoted": "a text"}[key]
            yield Problem(
                f"`{key}` is for {what}, and `{row.name}` is none",
                span=document.where(*path, key),
                instead="take it out",
            )


def _default_mistakes(
    document: Document, path: Path, entry: dict[str, Any], row: Setting
) -> Iterator[Problem]:
    if "default" in entry:
        from cfglint.dialect.examples import not_a_value

        wrong = not_a_value(row.name, entry["default"])
        if wrong:
            yield Problem(
                f"the default of `{row.name}` is not one of its neutral values",
                span=document.where_value(*path, "default"),
                instead=wrong,
            )


def _row_fields(row: dict[str, Any]) -> set[str]:
    """Every field that a row's texts have."""
    fields = {field for one in words_of(row["at"]) for field in address(one).fields}
    fields.update(row.get("columns", {}), row.get("parts", {}))
    # A cell may hold several fields: `{low}-{high}`.
    texts_ = [*words_of(row.get("each", ())), *row.get("columns", {}).values()]
    texts_ += [name for name in row.get("columns", {}) if "{" in name]
    texts_ += [one for phrase in row.get("parts", {}).values() for one in words_of(phrase)]
    return fields | {field for one in texts_ for field in address(one).fields}


def _row_mistakes(document: Document, path: Path, row: dict[str, Any]) -> Iterator[Problem]:
    here = _row_fields(row)
    makes = row.get("makes", "settings")
    ways = [key for key in ("columns", "parts", "each") if key in row]
    if len(ways) > 1:
        yield Problem(
            f"`{ways[0]}` and `{ways[1]}` contradict each other",
            span=document.where(*path, ways[1]),
            instead="a row is a table's, or in parts, or repeats; write two rows",
        )
    for field, name in row.get("sets", {}).items():
        wrong = unknown_setting(name)
        if not wrong and field not in here:
            wrong = f"is set from {{{field}}}, which the line does not have"
        if not wrong and ".N" in name and "N" not in here:
            wrong = "is a family: the line needs {N}"
        if wrong:
            yield Problem(f"`{name}` {wrong}", span=document.where(*path, "sets", field))
    if makes == "settings" and not row.get("sets") and not row.get("gives"):
        yield Problem(
            "this row sets nothing",
            span=document.where(*path),
            instead='write `sets = { … }`, or `makes = "range"` or `"link"`',
        )
    if makes != "settings":
        yield from _part_mistakes(document, path, makes, here)
    for field in row.get("fields", {}):
        if field not in here:
            yield Problem(
                f"the line has no field {{{field}}}", span=document.where(*path, "fields", field)
            )
            continue
        name = row.get("sets", {}).get(field, "")
        described = setting(name) if name and not unknown_setting(name) else None
        if makes != "settings":
            described = PARTS.get(field)
        if described is not None:
            yield from _codec_mistakes(
                document, (*path, "fields", field), row["fields"][field], described
            )


def _part_mistakes(document: Document, path: Path, makes: str, here: set[str]) -> Iterator[Problem]:
    needed = {"range": {"channel"}, "link": {"mode", "follows"}, "join": {"mode"}}
    if makes == "link" and "row" in here:
        here = here | {"follows"}  # it names the line of another mode by its number
    lacking = sorted(needed[makes] - here)
    ends = ({"low", "high"}, {"low", "width"}, {"centre", "half"}, {"centre", "width"}, {"bar"})
    if makes == "range" and not any(pair <= here for pair in ends):
        lacking += [] if lacking else ["low", "high"]
    if lacking:
        yield Problem(
            f"a line that makes a {makes} needs {', '.join('{' + one + '}' for one in lacking)}",
            span=document.where_value(*path, "at"),
        )


def _unsure_mistakes(document: Document, path: Path, part: Any) -> Iterator[Problem]:
    """Words in a list ``unsure`` that its table does not give; a change may name earlier ones."""
    for key, value in part.items() if isinstance(part, dict) else enumerate(part):
        if key == "unsure" and isinstance(value, list) and path[0] != "changes":
            own = part if path[-1] in ("modes", "traits") else {}
            known = {*own, *part.get("words", {}), *part.get("bits", {})} - {"unsure", "own"}
            for at, word in enumerate(value):
                if word not in known:
                    yield Problem(
                        f"`{word}` is marked unsure, but nothing here says how it is written",
                        span=document.where_value(*path, key, at),
                        instead=suggestion(word, sorted(known), most=20) or "take it out",
                    )
        elif isinstance(value, dict | list):
            yield from _unsure_mistakes(document, (*path, key), value)


# ---------------------------------------------------------------- changes


def _old_names(document: Document, data: dict[str, Any]) -> list[Problem]:
    """Words that a change renames or removes, but that no address has by then."""
    from cfglint.dialect.mapfile import start
    from cfglint.dialect.versions import applied

    raw = start(data)
    found: list[Problem] = []
    for at, change in enumerate(data.get("changes", [])):
        known = [text_ for row in raw["map"].values() for text_ in words_of(row.get("at", ()))]
        known += [text_ for row in raw["rows"] for text_ in words_of(row["at"])]
        kept = [text_.partition("*")[0].strip() for text_ in raw["kept"]]
        for key in ("rename", "remove"):
            for name in change.get(key, {}):
                if any(find(text_, name) for text_ in (*known, *raw["kept"])):
                    continue
                if any(_begins(name, one) for one in kept):
                    continue
                found.append(
                    Problem(
                        f"there is no `{name}` in any address at {change['at']} to {key}",
                        span=document.where("changes", at, key, name),
                        instead=suggestion(name, [*known, *kept]),
                    )
                )
        raw = applied(raw, change)
    return found


def _begins(name: str, kept: str) -> bool:
    """Whether words are among those that an address with a final ``*`` stands for."""
    own, start = segment(name).pieces, segment(kept).pieces
    return any(own[: len(start[at:])] == start[at:] for at in range(len(start)))


def _change_order(document: Document, data: dict[str, Any]) -> list[Problem]:
    from cfglint.facts.versions import compare

    order = data["dialect"].get("version_order", "dotted")
    rows = data.get("changes", [])
    found: list[Problem] = []
    for index, row in enumerate(rows):
        span = document.where_value("changes", index, "at")
        try:
            if index and compare(rows[index - 1]["at"], row["at"], order) >= 0:
                found.append(
                    Problem(
                        f"the change at {row['at']} does not come after {rows[index - 1]['at']}",
                        span=span,
                        instead=f"put changes in {order} order of their versions",
                    )
                )
            compare(row["at"], row["at"], order)
        except ValueError as error:
            found.append(Problem(str(error), span=span))
            return found
    return found
