"""Resolving a dialect for one firmware version: its tables with every change up to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.model import Traits
from cfglint.craft.settings import MODES, SETTINGS, setting
from cfglint.dialect.codec import Codec
from cfglint.dialect.model import Dialect, Entry, Form, Tables
from cfglint.dump.forms import field_names

if TYPE_CHECKING:
    from collections.abc import Mapping


def changes_until(dialect: Dialect, version: str) -> list[dict[str, Any]]:
    """The dialect's changes that a version has seen, oldest first.

    An unknown version has seen none: the tables are then those of the first version covered.
    A version that cannot be ordered counts as unknown.
    """
    rows: list[dict[str, Any]] = dialect.data.get("changes", [])
    if not rows or not orderable(dialect, version):
        return []
    from cfglint.facts.versions import compare

    return [row for row in rows if compare(row["at"], version, dialect.order) <= 0]


def orderable(dialect: Dialect, version: str) -> bool:
    """Whether a version is known and can be placed among the dialect's changes."""
    from cfglint.facts.versions import order_key

    try:
        order_key(version, dialect.order)
    except ValueError:
        return False
    return True


def _merge(into: dict[str, Any], patch: Mapping[str, Any]) -> None:
    for key, value in patch.items():
        if isinstance(value, dict) and isinstance(into.get(key), dict):
            into[key] = dict(into[key])
            _merge(into[key], value)
        else:
            into[key] = value


def raw_at(dialect: Dialect, version: str) -> dict[str, Any]:
    """The dialect's plain tables (settings, forms, kept, traits, …) as a version has them."""
    raw = start(dialect.data)
    for change in changes_until(dialect, version):
        apply(raw, change)
    return raw


def start(data: Mapping[str, Any]) -> dict[str, Any]:
    """The plain tables of a dialect file before any change."""
    return {
        "settings": {key: dict(value) for key, value in data.get("settings", {}).items()},
        "forms": [dict(form) for form in data.get("forms", [])],
        "kept": list(data.get("kept", {}).get("names", [])),
        **{
            table: {key: word for key, word in data.get(table, {}).items() if key != "unsure"}
            for table in ("traits", "modes")
        },
        "unsure": {table: data.get(table, {}).get("unsure", []) for table in ("traits", "modes")},
    }


def apply(raw: dict[str, Any], change: Mapping[str, Any]) -> None:
    """Apply one ``[[changes]]`` row to plain tables."""
    names = change.get("rename", {})
    gone = change.get("remove", {})
    for key in list(raw["settings"]):
        entry = raw["settings"][key]
        if entry.get("name") in gone:
            del raw["settings"][key]
        elif entry.get("name") in names:
            entry["name"] = names[entry["name"]]
    raw["kept"] = [names.get(name, name) for name in raw["kept"] if name not in gone]
    raw["kept"] += change.get("kept", [])
    for key, patch in change.get("settings", {}).items():
        _merge(raw["settings"].setdefault(key, {}), patch)
    drop = change.get("drop_forms", [])
    new = change.get("forms", [])
    drop = {*drop, *(form["id"] for form in new if "id" in form)}
    raw["forms"] = [form for form in raw["forms"] if form.get("id") not in drop] + new
    for table in ("traits", "modes"):
        patch = dict(change.get(table, {}))
        if "unsure" in patch:
            raw["unsure"] = {**raw["unsure"], table: patch.pop("unsure")}
        _merge(raw[table], patch)


def _words(value: Any) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)


def codec(raw: Mapping[str, Any], shape: Mapping[str, Any], *, ignore_case: bool) -> Codec:
    """A codec from the keys of a settings entry or form field, over the shape's own habits."""
    values = {str(key): str(text) for key, text in raw.get("values", {}).items() if text != ""}
    scale = raw.get("step", raw.get("scale", 1))
    return Codec(
        values=values,
        back={(text.lower() if ignore_case else text): key for key, text in values.items()},
        scale=scale,
        offset=raw.get("offset", 0),
        over=raw.get("over", 0),
        base=raw.get("base", 1),
        first=raw.get("first", 1),
        mask=raw.get("mask", {}),
        divider=raw.get("list", shape.get("list", ",")),
        none=raw.get("none", shape.get("none", "")),
        yes=_words(raw.get("yes", shape.get("yes", "yes"))),
        no=_words(raw.get("no", shape.get("no", "no"))),
        quoted=raw.get("quoted", False),
        decimals=raw.get("decimals"),
        ignore_case=ignore_case,
        sure=raw.get("sure", True),
        unsure=frozenset(raw.get("unsure", ())),
    )


def default_of(name: str, written: Any) -> Any:
    """A default as the craft holds it, from the neutral value in the dialect file."""
    kind = setting(name).kind
    if kind == "words":
        return frozenset(written)
    if kind == "number":
        return float(written)
    if kind == "text":
        return str(written)
    return written


def resolve(dialect: Dialect, version: str) -> Tables:
    """The tables of a dialect for one firmware version (see :meth:`Dialect.at`)."""
    raw = raw_at(dialect, version)
    data = dialect.data
    shape = data["shape"]
    fold = dialect.ignore_case
    entries = [
        Entry(
            setting=name,
            name=row.get("name", ""),
            codec=codec(row, shape, ignore_case=fold),
            within=row.get("within", ""),
            flag=row.get("flag", False),
            sure=row.get("sure", True),
            many=row.get("count", 0),
            default=default_of(name, row["default"]) if "default" in row else None,
            number=Codec(base=row.get("number_base", 1), first=row.get("number_first", 1)),
        )
        for name, row in raw["settings"].items()
    ]
    modes = codec(
        {"values": raw["modes"], "unsure": raw["unsure"]["modes"]}, shape, ignore_case=fold
    )
    forms = []
    for number, row in enumerate(raw["forms"]):
        fields = row.get("fields", {})
        makes = row.get("makes", "settings")
        names = {*field_names(row["line"]), *field_names(row.get("within", ""))}
        codecs = {
            name: modes
            if name in ("mode", "follows") and name not in fields
            else codec(fields.get(name, {}), shape, ignore_case=fold)
            for name in names
        }
        forms.append(
            Form(
                id=row.get("id", f"form-{number + 1}"),
                line=row["line"],
                makes=makes,
                within=row.get("within", ""),
                sets=row.get("sets", {}),
                codecs=codecs,
                join=row.get("join", "any"),
                skip_empty=row.get("skip_empty", False),
                sure=row.get("sure", True),
                spare={name: field["none"] for name, field in fields.items() if "none" in field},
            )
        )
    said = raw["traits"]
    changed = {key for row in data.get("changes", []) for key in row.get("traits", {})}
    if changed and not orderable(dialect, version):
        # Without a version nobody can say which side of a change the craft is on.
        said = {key: value for key, value in said.items() if key not in changed}
    traits = Traits(
        range_ends=said.get("range_ends"),
        inversion=said.get("inversion"),
        arm_needs_permit=said.get("arm_needs_permit"),
        arm_needs_low_throttle=said.get("arm_needs_low_throttle"),
        arm_by_sticks=said.get("arm_by_sticks"),
        version_order=dialect.order,
    )
    return Tables(
        version,
        entries,
        forms,
        raw["kept"],
        data.get("ignored", {}).get("lines", []),
        traits,
        data.get("profiles", {}),
        ignore_case=fold,
        unsure=_unsure(data, raw, entries, forms, said),
        unmapped=_unmapped(entries, forms),
    )


def _unmapped(entries: list[Entry], forms: list[Form]) -> frozenset[str]:
    """What no line of a dump can say; what its identity says is left out."""
    made = {form.makes for form in forms} | {entry.setting for entry in entries if entry.name}
    made.update(name for form in forms for name in form.sets.values())
    for form in forms:
        for field in ("mode", "follows") if form.makes != "settings" else ():
            # Without a table of words modes are written as they are called here.
            if field in form.codecs:
                made.update(f"mode {mode}" for mode in form.codecs[field].values or MODES)
    every = {name for name in SETTINGS if not name.startswith("craft.")}
    return frozenset({*every, *(f"mode {mode}" for mode in MODES), "range", "link"} - made)


def _unsure(
    data: Mapping[str, Any],
    raw: Mapping[str, Any],
    entries: list[Entry],
    forms: list[Form],
    traits: Mapping[str, Any],
) -> frozenset[str]:
    """What is marked unconfirmed, whatever a dump says; single words of values apart."""
    found = {entry.setting for entry in entries if not entry.sure}
    for form in forms:
        doubtful = {field for field, one in form.codecs.items() if not one.sure}
        if form.makes != "settings":
            for field, one in form.codecs.items():
                if field in ("mode", "follows"):
                    found.update(f"mode {mode}" for mode in one.unsure)
                elif one.unsure:
                    doubtful.add(field)
            found.update((form.makes,) if not form.sure or doubtful else ())
            continue
        every = not form.sure or "N" in doubtful
        found.update(name for field, name in form.sets.items() if every or field in doubtful)
    found.update(f"mode {mode}" for mode in raw["unsure"]["modes"])
    found.update(f"trait {name}" for name in raw["unsure"]["traits"] if name in traits)
    if not data.get("identity", {}).get("sure", True):
        found.update(("craft.board", "craft.firmware", "craft.name"))
    return frozenset(found)
