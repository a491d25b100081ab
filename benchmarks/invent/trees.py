"""Nested layouts: one tree of what a dump says, drawn in many ways."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from .author import Author, Group, Section
from .page import Mark, Page, Text, joined, plain, text
from .rows import lead


class Node(NamedTuple):
    """A name with a value, or with what belongs to it; ``listed``: its rows have no names."""

    name: Text
    value: Text | None
    kids: list[Node]
    listed: bool = False


def tree(a: Author, sections: list[Section], *, lists: bool = False) -> list[Node]:
    out = []
    for section in sections:
        kids = [Node([a.name(e.label)], e.value, []) for e in section.entries]
        found = Node([a.name(section.title)], None, kids)
        out += [found] if kids else []
        out += [_group(a, group, lists=lists) for group in section.groups]
    return out


def _group(a: Author, group: Group, *, lists: bool) -> Node:
    rows = []
    if group.note:
        rows.append(Node([a.name("note")], [group.note.split(": ", 1)[1]], []))
    for row in group.rows:
        fields = [Node([a.name(field.label)], field.value, []) for field in row]
        if lists:
            rows.append(Node([], None, fields, listed=True))
        elif len(row) == 2:
            rows.append(Node(lead(a, row), row[1].value, []))
        else:
            rows.append(Node(lead(a, row), None, fields[1:]))
    return Node([a.name(group.title)], None, rows)


def walk(page: Page, nodes: list[Node], style: str, a: Author, depth: int = 0) -> None:
    """Trees whose lines are told by what is before and behind a name."""
    indent = "  " * depth
    if style == "dashes":
        indent = "-" * depth + " " if depth else ""
    for node in nodes:
        if node.value is not None:
            glue = {"braces": " = ", "blocks": " ", "outline": ": ", "dashes": " : "}[style]
            end = ";" if style == "braces" else ""
            page.add(indent, node.name, glue, node.value, end)
            continue
        start, close = {
            "braces": ("", " {"), "blocks": (a.block[0] + " ", ""), "outline": ("", ":"),
            "dashes": ("", ""),
        }[style]  # fmt: skip
        page.add(indent, start, node.name, close)
        walk(page, node.kids, style, a, depth + 1)
        if style == "braces":
            page.add(indent, "}")
        elif style == "blocks":
            page.add(indent, a.block[1])
        elif depth == 0:
            page.add("")


def walked(style: str) -> Callable[[Page, Author, list[Section]], None]:
    return lambda page, a, sections: walk(page, tree(a, sections), style, a)


def drawn(page: Page, a: Author, sections: list[Section]) -> None:
    """A tree with drawn branches."""

    def draw(nodes: list[Node], before: str) -> None:
        for place, node in enumerate(nodes):
            last = place == len(nodes) - 1
            branch, below = ("└─ ", "   ") if last else ("├─ ", "│  ")
            if node.value is not None:
                page.add(before, branch, node.name, " ── ", node.value)
            else:
                page.add(before, branch, node.name)
                draw(node.kids, before + below)

    page.add(a.name("setup"))
    draw(tree(a, sections), "")


def calls(page: Page, a: Author, sections: list[Section]) -> None:
    """A call for each section and row."""

    def said(nodes: list[Node]) -> Text:
        return joined([text(word(node.name), "=", node.value or []) for node in nodes], ", ")

    def word(name: Text) -> Text:
        return [piece.replace(" ", "_") if isinstance(piece, str) else piece for piece in name]

    for top in tree(a, sections, lists=True):
        rows = [node for node in top.kids if node.listed]
        plainly = [node for node in top.kids if not node.listed]
        for at in range(0, len(plainly), 3):
            page.add(word(top.name), "(", said(plainly[at : at + 3]), ")")
        for row in rows:
            page.add(word(top.name), "(", said(row.kids), ")")


def numbered(page: Page, a: Author, sections: list[Section]) -> None:
    """An outline with numbers."""

    def number(nodes: list[Node], before: str) -> None:
        for place, node in enumerate(nodes, 1):
            here = f"{before}{place}"
            if node.value is not None:
                page.add(here, ") ", node.name, ": ", node.value)
            else:
                page.add(here, ") ", node.name)
                number(node.kids, here + ".")

    number(tree(a, sections), "")


def quoted(value: Text) -> Text:
    """A value as an object's text writes it."""
    bare = re.fullmatch(r"-?(0|[1-9]\d*)(\.\d+)?|true|false", plain(value))
    said = any(isinstance(fact, str) for piece in value if isinstance(piece, Mark)
               for _, fact in piece.facts)  # fmt: skip
    return value if bare and not said else text('"', value, '"')


def objects(page: Page, a: Author, sections: list[Section]) -> None:
    """Objects of an object notation, rows as lists of objects."""

    def pairs(nodes: list[Node]) -> list[Text]:
        return [text('"', node.name, '": ', quoted(node.value or [])) for node in nodes]

    tops = tree(a, sections, lists=True)
    page.add("{")
    for place, top in enumerate(tops):
        end = "" if place == len(tops) - 1 else ","
        listed = any(node.listed for node in top.kids)
        page.add('  "', top.name, '": ', "[" if listed else "{")
        if listed:
            lines = [text("{", joined(pairs(node.kids or [node]), ", "), "}") for node in top.kids]
        else:
            lines = pairs(top.kids)
        for at, line in enumerate(lines):
            page.add("    ", line, "," if at < len(lines) - 1 else "")
        page.add("  ", "]" if listed else "}", end)
    page.add("}")


def tags(page: Page, a: Author, sections: list[Section]) -> None:
    """Elements for what is one value, attributes for rows."""

    def word(name: Text) -> str:
        return re.sub(r"[^\w.-]", "-", plain(name))

    page.add("<", word([a.name("setup")]), ">")
    for top in tree(a, sections, lists=True):
        page.add("  <", word(top.name), ">")
        for node in top.kids:
            if node.value is not None:
                page.add("    <", word(node.name), ">", node.value, "</", word(node.name), ">")
            else:
                pairs = [text(word(kid.name), '="', kid.value or [], '"') for kid in node.kids]
                page.add("    <row ", joined(pairs, " "), "/>")
        page.add("  </", word(top.name), ">")
    page.add("</", word([a.name("setup")]), ">")


def lists(page: Page, a: Author, sections: list[Section]) -> None:
    """Bracketed lists whose first word is the name."""

    def word(name: Text) -> str:
        return re.sub(r"\s", "-", plain(name))

    def value(one: Text) -> Text:
        return text('"', one, '"') if re.search(r"[\s()]", plain(one)) else one

    def pair(node: Node) -> Text:
        return text("(", word(node.name), " ", value(node.value or []), ")")

    for top in tree(a, sections, lists=True):
        page.add("(", word(top.name))
        lines = [text("(", joined([pair(kid) for kid in node.kids], " "), ")")
                 if node.listed else pair(node) for node in top.kids]  # fmt: skip
        for at, line in enumerate(lines):
            page.add("  ", line, ")" if at == len(lines) - 1 else "")
