"""Mode ranges after an update: modes that are written by another word, lines no form reads."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.dialect.codec import Bad, decode
from cfglint.dialect.model import ROLES
from cfglint.teach.meanings import best
from cfglint.teach.updates_model import Row
from cfglint.teach.updates_names import SURE
from cfglint.tomlwrite import value as toml

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Form
    from cfglint.dump.statements import Statement

#: Channel, low, high: what a range is found by again.
Ends = tuple[int, float, float]


def modes_renamed(olds: Sequence[Side], news: Sequence[Side]) -> list[Row]:
    """Rows for mode words that the dialect does not know, where a known mode had that range."""
    votes: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for old, new in zip(olds, news, strict=True):
        have = {(row.mode, *_ends(row)) for row in new.craft.mode_ranges}
        gone: dict[Ends, set[str]] = defaultdict(set)
        for row in old.craft.mode_ranges:
            if (row.mode, *_ends(row)) not in have:
                gone[_ends(row)].add(row.mode)
        for word, ends in _strange(new):
            for mode in gone.get(ends, ()):
                votes[word][mode] += 1
    out: list[Row] = []
    for word, modes in votes.items():
        ranked = sorted(modes.items(), key=lambda row: (-row[1], row[0]))
        meant, weight = best("mode", word)
        mode = meant if meant in modes else ranked[0][0]
        rival = next((one for one, _ in ranked if one != mode), "")
        confidence, reason = (0.8, "it has the range that this mode had")
        if meant == mode:
            confidence = max(0.85, min(0.95, weight))
            reason += ", and means it by its words"
        elif meant and weight >= 0.75:
            confidence, reason = 0.4, f"{reason}, yet by its words it would be {meant}"
        elif rival:
            confidence, reason = 0.45, f"{reason}, as another had"
        drafted = confidence >= SURE and not any(row.name == mode and row.drafted for row in out)
        out.append(
            Row("modes", mode, word, round(confidence, 2), f"`{word}`: {reason}", drafted, rival)
        )
    return out


def _ends(row: Any) -> Ends:
    return row.channel, row.low_us, row.high_us


def _strange(side: Side) -> Iterator[tuple[str, Ends]]:
    """Mode words that mean nothing yet, with the range that stands beside them."""
    for statement, use in side.uses:
        if use != "misread":
            continue
        for form in side.tables.forms:
            fields = _fields(side, form, statement) if form.makes == "range" else None
            if fields is None:
                continue
            word = fields.pop("mode", "")
            try:
                decode(form.codecs["mode"], ROLES["mode"], word)
            except Bad:
                found = {}
                try:
                    for field in ("channel", "low", "high"):
                        found[field] = decode(form.codecs[field], ROLES[field], fields[field])
                except (Bad, KeyError):
                    continue
                yield word, (found["channel"], found["low"], found["high"])
            break


def _fields(side: Side, form: Form, statement: Statement) -> dict[str, str] | None:
    """The fields of a statement (and its section) by a form, None where the form does not fit."""
    text = statement.text[statement.start : statement.end]
    match = side.tables.compiled(form.line).fullmatch(text)
    if match is None:
        return None
    fields = dict(match.groupdict())
    if form.within:
        section = side.tables.compiled(form.within).fullmatch(side.sections[statement.line])
        if section is None:
            return None
        fields |= section.groupdict()
    return fields


def unread_forms(olds: Sequence[Side], news: Sequence[Side]) -> str:
    """What is to be said of lines of several fields that nothing reads any more."""
    used = _by_form(olds)
    lost = used - _by_form(news)
    strays = [
        (side.craft.file, statement)
        for side in news
        for statement, use in side.uses
        if use in ("stray", "unreadable") and statement.kind in ("command", "unreadable")
    ]
    if not strays:
        return ""
    file, first = strays[0]
    which = f"; the form `{toml(min(lost))[1:-1]}` reads none" if lost else ""
    return (
        f"{len(strays)} lines that are no name and value are read by no form any more, the first "
        f"at {file}:{first.line}{which}: write the new form under `forms` by hand"
    )


def _by_form(sides: Sequence[Side]) -> set[str]:
    """The forms that read any line of a range or link."""
    found: set[str] = set()
    for side in sides:
        for statement, use in side.uses:
            if use in ("range", "link"):
                found.update(
                    form.id for form in side.tables.forms if _fields(side, form, statement)
                )
    return found
