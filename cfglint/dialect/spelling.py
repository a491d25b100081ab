"""How a dialect writes a neutral setting: for telling a person which line to enter."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.craft.settings import SETTINGS, family
from cfglint.dialect.codec import Bad, encode
from cfglint.dialect.model import ROLES
from cfglint.dialect.writing import number_in
from cfglint.dump.forms import fill

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect, Tables

_NAME = re.compile(r"[a-z-]+(?:\.[a-z0-9_]+)+")
GAP = "…"


def settings_in(text: str) -> list[str]:
    """The neutral settings that a text speaks of, in order, each once."""
    return [name for name in dict.fromkeys(_NAME.findall(text)) if family(name) in SETTINGS]


def spell(dialect: Dialect, version: str, name: str) -> str:
    """The line that sets a neutral setting, with ``…`` for its value; "" if there is none.

    A line in a section is followed by ``in`` and the section's title.
    """
    tables = dialect.at(version)
    entry = tables.by_setting.get(family(name))
    if entry is not None and entry.name:
        shape = dialect.data["shape"]
        number = number_in(entry.setting, name)
        try:
            fields = {"N": encode(entry.number, ROLES["N"], int(number))} if number else {}
        except Bad:
            return ""
        called = fill(entry.name, fields)
        if entry.flag:
            forms = (_first(shape.get(key, "")) for key in ("flag_on", "flag_off"))
            line = " or ".join(fill(form, {"name": called}) for form in forms if form)
        else:
            line = fill(_first(shape.get("assign", "")), {"name": called, "value": GAP})
        return _placed(line, entry.within, fields) if line else ""
    return _by_form(tables, name)


def _by_form(tables: Tables, name: str) -> str:
    for form in tables.forms:
        for target in form.sets.values():
            number = number_in(target, name)
            if target != name and not number:
                continue
            fields = dict.fromkeys(form.codecs, GAP)
            try:
                if number and "N" in form.codecs:
                    fields["N"] = encode(form.codecs["N"], ROLES["N"], int(number))
            except Bad:
                continue
            return _placed(fill(form.line, fields), form.within, fields)
    return ""


def _placed(line: str, within: str, fields: dict[str, str]) -> str:
    if not within:
        return line
    return f"{line} in {fill(within, {'P': GAP, **fields})}"


def _first(forms: str | list[str]) -> str:
    return forms if isinstance(forms, str) else (*forms, "")[0]
