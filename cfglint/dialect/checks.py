"""What may stand in a dialect file, and every mistake of one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import setting
from cfglint.dialect.load import has_fields, unknown_mode, unknown_setting
from cfglint.dialect.model import ROLES, like
from cfglint.dump.forms import field_names
from cfglint.errors import Problem
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
    from cfglint.craft.settings import Setting
    from cfglint.tomltext import Document, Path

SCHEMA_VERSION = 1
_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?"


def _forms(about: str, *fields: str) -> Shape:
    def check(value: Any) -> str:
        return has_fields(value, *fields)

    return either(text(about, check=check), many(text(check=check), about), about=about)


def _line(about: str, *, required: bool = False) -> Shape:
    return text(about, required=required, check=has_fields)


def _not_zero(value: float) -> str:
    return "must not be 0" if value == 0 else ""


_CODEC = {
    "values": table(free=either(text(), whole(), number()), about="neutral word = written word"),
    "scale": number("neutral = offset + scale × written", check=_not_zero),
    "step": number("the same as scale", check=_not_zero),
    "offset": number("neutral = offset + scale × written"),
    "over": number("neutral = over ÷ written"),
    "base": whole("the written number of the first one", least=0),
    "first": whole("the neutral number of the first one", least=0),
    "mask": table(free=whole("a bit's number", least=0, most=63), about="neutral word = bit"),
    "list": text("what divides a list's words"),
    "none": text("how an empty list, or a field without a meaning here, is written"),
    "yes": either(text(), texts(), about="how a set flag is written"),
    "no": either(text(), texts(), about="how a cleared flag is written"),
    "quoted": flag("the text is always written in quotes"),
    "decimals": whole("digits after the point when written", least=0, most=9),
    "unsure": texts("neutral words whose written word is unconfirmed"),
}
_SURE = flag("false: the mapping is unconfirmed")
_ENTRY = {
    **_CODEC,
    "name": _line("the dialect's name for it"),
    "within": _line("the section it stands in"),
    "flag": flag("it is set by a line that only names it"),
    "sure": _SURE,
    "default": anything("what holds when no line says (a neutral value)"),
    "count": whole("how many of the family there are", least=1, most=99),
    "number_base": whole("the written number of the family's first one", least=0),
    "number_first": whole("the neutral number of the family's first one", least=0),
}
_FORM = table(
    {
        "id": text("a name for changes to refer to"),
        "line": _line("the line, with braces where it varies", required=True),
        "makes": text(choices=("settings", "range", "link")),
        "within": _line("the section it stands in"),
        "sets": table(free=text("a neutral setting"), about="field = neutral setting"),
        "fields": table(free=table({**_CODEC, "sure": _SURE}), about="how the fields are written"),
        "join": text(choices=("any", "all")),
        "skip_empty": flag("a range whose ends are the same is an unused slot"),
        "sure": _SURE,
    }
)
_TRAITS = table(
    {
        "range_ends": text(choices=("half-open", "closed")),
        "inversion": text(choices=("absolute", "relative")),
        "arm_needs_permit": flag(),
        "arm_needs_low_throttle": flag(),
        "arm_by_sticks": flag("sticks arm where no mode range does"),
        "unsure": texts("traits that are unconfirmed"),
    }
)
_MODES = table(
    {"unsure": texts("modes whose written word is unconfirmed")},
    free=either(text(), whole()),
    free_key=unknown_mode,
)
_CHANGE = table(
    {
        "at": text("the first version that has the change", required=True),
        "about": text("what the makers changed, in a clause"),
        "rename": table(free=text("the new name"), about="old name = new name"),
        "remove": table(free=text("why, and what to do"), about="name = why"),
        "boards": table(free=text("the new name"), about="old board = new board"),
        "settings": table(free=table(_ENTRY), free_key=unknown_setting),
        "kept": texts("new names without a neutral meaning"),
        "forms": many(_FORM),
        "drop_forms": texts("ids of forms that went"),
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


_EXAMPLE = table(
    {
        "lines": text("lines of a dump", required=True),
        "firmware": text("the version whose tables apply"),
        "sets": table(
            free=anything("a neutral value"),
            free_key=unknown_setting,
            about="neutral setting = neutral value",
        ),
        "ranges": many(text("mode: channel, ends", check=_mode_range), "the mode ranges made"),
        "links": many(text("mode along with mode", check=_mode_link), "the links made"),
        "writes": either(text(), flag(), about="how it is written back; false if it is not"),
    }
)


def _range(value: str) -> str:
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
                "schema": whole(least=SCHEMA_VERSION, most=SCHEMA_VERSION),
                "versions": text("the firmware versions it covers, e.g. `>=7.0,<8`", check=_range),
                "version_order": text(choices=("dotted", "decimal")),
                "extent": text(choices=("full", "changes")),
            },
            required=True,
        ),
        "shape": table(
            {
                "grammar": text("plain, terse, blocks, or a .lark file", required=True),
                "prompt": _forms("prompt marks"),
                "comment": _forms("comment marks"),
                "refusal": _forms("how a refusal looks, with {reason} if it gives one"),
                "assign": _forms("how a value is given", "name", "value"),
                "unset": _forms("how a value is taken back", "name"),
                "flag_on": _forms("how a flag is set", "name"),
                "flag_off": _forms("how a flag is cleared", "name"),
                "open": _forms("how a section starts", "title"),
                "close": _forms("how a section ends"),
                "list": _CODEC["list"],
                "none": _CODEC["none"],
                "yes": _CODEC["yes"],
                "no": _CODEC["no"],
                "case": text(choices=("exact", "any")),
            },
            required=True,
        ),
        "identity": table(
            {
                "lines": many(_line("a line"), "lines that name board, firmware, extent or craft"),
                "full": text("the word for a full dump"),
                "changes": text("the word for a dump of changes"),
                "sure": _SURE,
            }
        ),
        "traits": _TRAITS,
        "settings": table(free=table(_ENTRY), free_key=unknown_setting),
        "modes": _MODES,
        "forms": many(_FORM),
        "profiles": table(
            {
                "within": text(
                    "the section of one profile, with {P}",
                    required=True,
                    check=lambda value: has_fields(value, "P"),
                ),
                "in_use": text("the name that says which one is in use"),
                "first": whole("the one in use when nobody says", least=0),
            }
        ),
        "kept": table({"names": texts("known names without a neutral meaning; * for any")}),
        "ignored": table(
            {
                "lines": texts("lines that are passed over; * for any"),
                "save": text("the line that makes the controller keep what was entered"),
            }
        ),
        "changes": many(_CHANGE),
        "examples": many(_EXAMPLE, "lines and what they set"),
    }
)


def mistakes(document: Document) -> list[Problem]:
    """Every mistake of a dialect file, each with its place."""
    found = check_table(document, (), SHAPE)
    if found:
        return found
    data = document.data
    grammar = data["shape"]["grammar"]
    from cfglint_grammars import DIALECTS

    if not grammar.endswith(".lark") and grammar not in DIALECTS:
        from cfglint.near import suggestion

        found.append(
            Problem(
                f"there is no bundled shape `{grammar}`",
                span=document.where_value("shape", "grammar"),
                instead=suggestion(grammar, DIALECTS),
            )
        )
    found += _lacking_forms(document, data)
    profile = data.get("profiles", {}).get("within")
    for name, entry in data.get("settings", {}).items():
        path: Path = ("settings", name)
        if "name" not in entry and "default" not in entry:
            found.append(
                Problem(
                    f"`{name}` lacks `name`",
                    span=document.where(*path),
                    instead="write the dialect's own name for it, or a default",
                )
            )
        elif "name" in entry:
            found += _name_mistakes(document, path, entry, profile)
        if "default" in entry and ".N" in name and "count" not in entry:
            found.append(
                Problem(
                    f"`{name}` has a default, but nothing says for how many",
                    span=document.where(*path),
                    instead="write `count = …` with how many of the family there are",
                )
            )
        found += _default_mistakes(document, path, entry)
        found += _word_mistakes(document, path, entry, setting(name))
    for index, form in enumerate(data.get("forms", [])):
        found += _form_mistakes(document, form, ("forms", index))
    for at, change in enumerate(data.get("changes", [])):
        for name, entry in change.get("settings", {}).items():
            inner: Path = ("changes", at, "settings", name)
            found += _default_mistakes(document, inner, entry)
            found += _word_mistakes(document, inner, entry, setting(name))
        for index, form in enumerate(change.get("forms", [])):
            found += _form_mistakes(document, form, ("changes", at, "forms", index))
    found += _unsure_mistakes(document, (), data)
    found += _change_order(document, data)
    if "examples" in data:
        from cfglint.dialect.examples import example_mistakes

        found += example_mistakes(document)
    return found or _old_names(document, data)


def _unsure_mistakes(document: Document, path: Path, part: Any) -> list[Problem]:
    """Words in a list ``unsure`` that its table does not give; a change may name earlier ones."""
    found: list[Problem] = []
    for key, value in part.items() if isinstance(part, dict) else enumerate(part):
        if key == "unsure" and isinstance(value, list) and path[0] != "changes":
            own = part if path[-1] in ("modes", "traits") else {}
            known = {*own, *part.get("values", {}), *part.get("mask", {})} - {"unsure"}
            for at, word in enumerate(value):
                if word not in known:
                    from cfglint.near import suggestion

                    found.append(
                        Problem(
                            f"`{word}` is marked unsure, but nothing here says how it is written",
                            span=document.where_value(*path, key, at),
                            instead=suggestion(word, sorted(known), most=20) or "take it out",
                        )
                    )
        elif isinstance(value, dict | list):
            found += _unsure_mistakes(document, (*path, key), value)
    return found


def _lacking_forms(document: Document, data: dict[str, Any]) -> list[Problem]:
    """Forms that [shape] must have: a grammar can read without them, but nobody could write."""
    named = [row for row in data.get("settings", {}).values() if "name" in row]
    inside = any("within" in row for row in [*named, *data.get("forms", [])])
    needed = (
        ("assign", "{name} = {value}", any(not row.get("flag") for row in named)),
        ("flag_on", "use {name}", any(row.get("flag") for row in named)),
        ("open", "[{title}]", inside or "profiles" in data),
    )
    return [
        Problem(
            f"`shape` lacks `{key}`, without which no line of it can be written",
            span=document.where("shape"),
            instead=f'write for instance `{key} = "{example}"`',
        )
        for key, example, wanted in needed
        if wanted and key not in data["shape"]
    ]


def _name_mistakes(
    document: Document, path: Path, entry: dict[str, Any], profile: str | None
) -> list[Problem]:
    """A family needs {N} in its name or section, a single setting none; nothing else varies."""
    within = entry.get("within", "")
    here = {*field_names(entry["name"]), *field_names(within)}
    strange = sorted(here - {"N", *(("P",) if within == profile else ())})
    name = str(path[-1])
    if strange:
        return [
            Problem(
                f"the name of `{name}` varies by {{{strange[0]}}}, which nothing fills in",
                span=document.where_value(*path, "name"),
                instead="only {N}, the number of a family, may stand in `name` and `within`",
            )
        ]
    if (".N" in name) != ("N" in here):
        return [
            Problem(
                f"`{name}` and its name do not agree on a number",
                span=document.where(*path),
                instead="a family (with .N) needs {N} in `name` or `within`, others none",
            )
        ]
    return []


def _old_names(document: Document, data: dict[str, Any]) -> list[Problem]:
    """Names that a change renames or removes, but that the dialect does not have by then."""
    from cfglint.dialect.resolve import apply, start

    raw = start(data)
    found: list[Problem] = []
    for at, change in enumerate(data.get("changes", [])):
        known = [row["name"] for row in raw["settings"].values() if "name" in row] + raw["kept"]
        for key in ("rename", "remove"):
            for name in change.get(key, {}):
                if any(like(name, one) for one in known):
                    continue
                from cfglint.near import suggestion

                found.append(
                    Problem(
                        f"there is no name `{name}` at {change['at']} to {key}",
                        span=document.where("changes", at, key, name),
                        instead=suggestion(name, known),
                    )
                )
        apply(raw, change)
    return found


def _word_mistakes(
    document: Document, path: Path, raw: dict[str, Any], row: Setting
) -> list[Problem]:
    """Neutral words in ``values`` and ``mask`` that there are not."""
    import re

    found: list[Problem] = []
    for key in ("values", "mask"):
        for word in raw.get(key, {}):
            if row.words:
                right = word in row.words
            else:
                right = row.kind == "text" or bool(re.fullmatch(_NUMBER, word))
            if not right:
                from cfglint.near import suggestion

                found.append(
                    Problem(
                        f"`{word}` is no neutral value of `{row.name}`",
                        span=document.where(*path, key, word),
                        instead=suggestion(word, row.words, most=20) or "write a number",
                    )
                )
    return found


def _default_mistakes(document: Document, path: Path, entry: dict[str, Any]) -> list[Problem]:
    if "default" not in entry:
        return []
    from cfglint.near import suggestion

    name = str(path[-1])
    row, value = setting(name), entry["default"]
    wanted: tuple[type, ...] = {
        "flag": (bool,),
        "count": (int,),
        "number": (int, float),
        "words": (list,),
    }.get(row.kind, (str,))
    right = isinstance(value, wanted) and (row.kind == "flag" or not isinstance(value, bool))
    if right and row.words:
        right = all(word in row.words for word in (value if isinstance(value, list) else [value]))
    if right and row.least is not None and row.most is not None:
        right = row.least <= value <= row.most
    if right:
        return []
    wanted_text = {"flag": "true or false", "count": "a whole number", "text": "a text"}
    unit = f" {row.unit}" if row.unit else ""
    bounds = f", {row.least:g} to {row.most:g}{unit}" if row.least is not None else ""
    return [
        Problem(
            f"the default of `{name}` is not one of its neutral values",
            span=document.where_value(*path, "default"),
            instead=suggestion(str(value), row.words, most=20)
            if row.words
            else f"write {wanted_text.get(row.kind, 'a number')}{bounds}",
        )
    ]


def _form_mistakes(document: Document, form: dict[str, Any], path: Path) -> list[Problem]:
    found: list[Problem] = []
    here = {*field_names(form["line"]), *field_names(form.get("within", ""))}
    makes = form.get("makes", "settings")
    twice = sorted(
        set(field_names(form["line"])) & set(field_names(form.get("within", ""))) - {"P"}
    )
    if twice:
        found.append(
            Problem(
                f"{{{twice[0]}}} stands both in the line and in its section",
                span=document.where_value(*path, "line"),
                instead="give each field its own name",
            )
        )
    for field, name in form.get("sets", {}).items():
        wrong = unknown_setting(name)
        if not wrong and field not in here:
            wrong = f"is set from {{{field}}}, which the line does not have"
        if not wrong and ".N" in name and "N" not in here:
            wrong = "is a family: the line or `within` needs {N}"
        if wrong:
            found.append(Problem(f"`{name}` {wrong}", span=document.where(*path, "sets", field)))
    needed = {"range": {"mode", "channel", "low", "high"}, "link": {"mode", "follows"}}
    lacking = sorted(needed.get(makes, set()) - here)
    if lacking:
        found.append(
            Problem(
                f"a line that makes a {makes} needs {', '.join('{' + f + '}' for f in lacking)}",
                span=document.where_value(*path, "line"),
            )
        )
    found.extend(
        Problem(f"the line has no field {{{field}}}", span=document.where(*path, "fields", field))
        for field in form.get("fields", {})
        if field not in here
    )
    for field, raw in form.get("fields", {}).items():
        name = form.get("sets", {}).get(field, "")
        if name and not unknown_setting(name):
            found += _word_mistakes(document, (*path, "fields", field), raw, setting(name))
        elif makes != "settings" and field in ROLES:
            found += _word_mistakes(document, (*path, "fields", field), raw, ROLES[field])
    return found


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
