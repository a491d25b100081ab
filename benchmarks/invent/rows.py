"""Layouts of rows: ports, channel ends, ranges, links, what channels do on lost link."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from .author import Author, Field, Group
from .page import Page, Text, joined, pad, plain, text

Layout = Callable[[Page, Author, Group], None]


def heads(a: Author, group: Group) -> list[Text]:
    return [[a.name(field.label)] for field in group.rows[0]]


def lead(a: Author, row: list[Field]) -> Text:
    """What a row begins with: a mode, or a word and its number."""
    if row[0].key == "mode":
        return row[0].value
    return text(a.name(row[0].label), " ", row[0].value)


def table(page: Page, rows: Sequence[Sequence[Text]], *, ruled: bool, gap: str = "   ") -> None:
    """Cells in columns, under a head."""
    widths = [max(len(plain(row[at])) for row in rows) for at in range(len(rows[0]))]
    rule = "+" + "+".join("-" * (width + 2) for width in widths) + "+"
    for place, row in enumerate(rows):
        cells = [pad(cell, width) for cell, width in zip(row, widths, strict=True)]
        if ruled:
            if place < 2:
                page.add(rule)
            page.add("| ", joined(cells, " | "), " |")
        else:
            page.add(joined(cells, gap))
    if ruled:
        page.add(rule)


# ------------------------------------------------------------------ open


def columns(page: Page, a: Author, group: Group) -> None:
    """Values in the order that a comment names."""
    names = [a.name(field.label) for field in group.rows[0]]
    page.add(a.comment(f"{group.title}: " + ", ".join(names)))
    for row in group.rows:
        page.add(joined([lead(a, row), *[field.value for field in row[1:]]], "  "))


def keyed(page: Page, a: Author, group: Group) -> None:
    """Every value with its word, in one line."""
    for row in group.rows:
        fields = [text(a.name(field.label), "=", field.value) for field in row[1:]]
        page.add(lead(a, row), ": ", joined(fields, ", "))


def single(page: Page, a: Author, group: Group) -> None:
    """A line for each value."""
    if group.kind == "link":
        return keyed(page, a, group)
    joint = a.style[0] or "."
    for place, row in enumerate(group.rows, 1):
        first = text(a.name(row[0].label), joint, row[0].value)
        rest = row[1:]
        if row[0].key == "mode":
            first, rest = [a.name(a.heads["range"]) + joint + str(place)], row
        for field in rest:
            word = a.name(field.label) if field.key != "after" else a.name("value")
            page.add(first, joint, word, a.assign if a.assign != "leader" else ": ", field.value)
    return None


def ruled(page: Page, a: Author, group: Group) -> None:
    """A table with drawn rules."""
    rows = [[field.value for field in row] for row in group.rows]
    table(page, [heads(a, group), *rows], ruled=True)


def stanza(page: Page, a: Author, group: Group) -> None:
    """A head and indented lines."""
    for row in group.rows:
        page.add(lead(a, row))
        for field in row[1:]:
            page.add("    ", a.name(field.label), ": ", field.value)


def gathered(page: Page, a: Author, group: Group) -> None:
    """A line for each mode with all that switches it."""
    if group.kind != "range" or group.rows[0][0].key != "mode":
        return keyed(page, a, group)
    done: list[str] = []
    for row in group.rows:
        mode = plain(row[0].value)
        if mode in done:
            continue
        done.append(mode)
        same = [one for one in group.rows if plain(one[0].value) == mode]
        glue = f" {plain(row[-1].value)} " if a.has_joins else " "
        parts = []
        for one in same:
            found = {field.key: field.value for field in one}
            ends = found.get("span") or text(found["low"], "..", found["high"])
            channel = text(a.name(a.heads["channel"]), " ", found["channel"])
            parts.append(text(channel, " ", ends))
        words = [piece for one in same for piece in one[0].value]
        facts = tuple(fact for piece in words if not isinstance(piece, str) for fact in piece.facts)
        first = words[0]
        page.add(first if isinstance(first, str) else first._replace(facts=facts), ": ",
                 joined(parts, glue))  # fmt: skip
    return None


def spoken(page: Page, a: Author, group: Group) -> None:
    """A row as a phrase."""
    for row in group.rows:
        found = {field.key: field.value for field in row}
        channel = text(a.name(a.heads["channel"]), " ", found.get("channel", []))
        if group.kind == "range":
            page.add(phrase(a, found, channel))
        elif group.kind == "link":
            words = (" goes along with ",) if a.half == "open" else (" is on whenever this is: ",)
            page.add(found["mode"], *words, found["follows"])
        elif group.kind == "loss":
            page.add(channel, " does " if a.half == "open" else " is told ", found["after"])
        elif group.kind == "end":
            order = joined([text(field.label, " ", field.value) for field in row[1:]], ", ")
            page.add(channel, " has " if a.half == "open" else " works with ", order)
        else:
            rest = [text(field.label, " ", field.value) for field in row[2:]]
            page.add(joined([text(lead(a, row), " carries " if a.half == "open" else " is for ",
                                  found["use"]), *rest], ", "))  # fmt: skip


def phrase(a: Author, found: dict[str, Text], channel: Text) -> Text:
    """One range in words."""
    if "span" in found:
        ends = text("between " if a.half == "open" else "inside ", found["span"])
    elif "low" in found:
        ends = text("between ", found["low"], " and ", found["high"])
    else:
        ends = text("no further than ", found["half width"], " from ", found["mid"])
    out = text(found["mode"], " while " if a.half == "open" else " if ", channel, " is ", ends)
    return text(out, "; ", found["join"]) if "join" in found else out


# ------------------------------------------------------------------ held


def aligned(page: Page, a: Author, group: Group) -> None:
    """Columns under their heads, nothing drawn."""
    rows = [[field.value for field in row] for row in group.rows]
    names: list[Text] = [[field.label.replace(" ", "-")] for field in group.rows[0]]
    table(page, [names, *rows], ruled=False)


def turned(page: Page, a: Author, group: Group) -> None:
    """A column for each row."""
    count = len(group.rows[0])
    rows = [[heads(a, group)[at], *[row[at].value for row in group.rows]] for at in range(count)]
    table(page, rows, ruled=False)


def packed(page: Page, a: Author, group: Group) -> None:
    """Values between one sign, in the order that a comment names."""
    names = [field.label for field in group.rows[0]]
    page.add(a.comment("; ".join(names)))
    for row in group.rows:
        page.add(joined([field.value for field in row], ";"))


def arrows(page: Page, a: Author, group: Group) -> None:
    """A row's words in brackets behind an arrow."""
    for row in group.rows:
        fields = [text(field.label, " ", field.value) for field in row[1:]]
        page.add(lead(a, row), " <- [", joined(fields, " | "), "]")


def wrapped(page: Page, a: Author, group: Group) -> None:
    """A row over two lines."""
    for row in group.rows:
        fields = [text(field.label, " ", field.value) for field in row[1:]]
        half = (len(fields) + 1) // 2
        page.add(lead(a, row), "  ", joined(fields[:half], "  "))
        if fields[half:]:
            page.add("   ... ", joined(fields[half:], "  "))


def by_channel(page: Page, a: Author, group: Group) -> None:
    """Ranges under the channel they listen to."""
    if group.kind != "range":
        return arrows(page, a, group)
    for channel in sorted({plain(f.value) for r in group.rows for f in r if f.key == "channel"},
                          key=int):  # fmt: skip
        page.add(a.name(a.heads["channel"]), " ", channel)
        for row in group.rows:
            found = {field.key: field.value for field in row}
            if plain(found["channel"]) != channel:
                continue
            keys = [key for key in ("low", "high", "mid", "half width", "span") if key in found]
            ends = [text(a.heads[key], " ", found[key]) for key in keys]
            join = [text(a.heads["join"], " ", found["join"])] if "join" in found else []
            page.add("    ", joined([*ends, found["mode"], *join], ", "))
    return None


LAYOUTS: dict[str, dict[str, tuple[Layout, ...]]] = {
    "open": {
        "ordinary": (columns, keyed, single, spoken, gathered),
        "varied": (columns, keyed, single, ruled, stanza, spoken, gathered),
        "unusual": (spoken, stanza, gathered),
    },
    "held": {
        "ordinary": (packed, arrows, spoken, by_channel),
        "varied": (aligned, turned, packed, arrows, wrapped, by_channel),
        "unusual": (aligned, wrapped, spoken),
    },
}
