"""How much of some dumps a dialect understands: for people, for programs, for a pull request.

The text is made of blocks for :func:`cfglint.report.screen.write`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.report.blocks import Counts, Heading, Lines, Prose, Title, count
from cfglint.runner.coverage import grouped

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.report.blocks import Block
    from cfglint.runner.coverage import Coverage, Gap, Group, Passage, Tally

#: Of lines that are alike the first few are shown, and of groups of them so many, without --all.
MOST_LINES, MOST_GROUPS = 3, 20
TITLES = {"unknown": "unknown", "half": "half understood"}
_STYLE = {"unknown": ("UNKNOWN", "bold white on magenta"), "half": ("HALF", "bold black on cyan")}


# ---------------------------------------------------------------- words for all forms


def summary(found: Coverage) -> str:
    """The last line: how much is understood, in numbers."""
    right, half, unknown = (found.count(s) for s in ("understood", "half", "unknown"))
    whole = right + half + unknown
    parts = [f"{half} half understood", f"{unknown} unknown"]
    parts.append(f"{found.count('aside')} passed over on purpose")
    if found.gaps:
        parts.append(f"{len(found.gaps)} not mapped")
    if found.doubts:
        parts.append(f"{len(found.doubts)} unconfirmed")
    lines = "line that means" if whole == 1 else "lines that mean"
    return f"{found.percent():g} % understood: {right} of {whole} {lines} something; " + ", ".join(
        parts
    )


def of_dump(dump: Tally) -> str:
    """One dump in numbers."""
    return (
        f"{dump.understood} understood, {dump.half} half understood, {dump.unknown} unknown, "
        f"{dump.aside} passed over"
    )


def titled(dump: Tally) -> str:
    """A dump's craft and firmware, as far as known: ``Avocet, firmware 7.9``."""
    firmware = f"firmware {dump.firmware}" if dump.firmware else ""
    return ", ".join(filter(None, (dump.craft, firmware)))


def label(group: Group) -> str:
    """What lines are alike in, and how many there are: ``filter-* ×34``."""
    return group.label + (f" ×{len(group.lines)}" if group.lines[1:] else "")


def notes(found: Coverage) -> Iterator[tuple[str, str]]:
    """What else rules miss, each as a label and a sentence."""
    if found.wanting_card:
        number = len(found.wanting_card)
        what = "fact is" if number == 1 else "facts are"
        yield (
            "card",
            f"{number} {what} missing only for want of a hardware card that says: "
            f"{_some(found.wanting_card)}.",
        )
    if found.unsaid:
        number = len(found.unsaid)
        what = "fact that rules miss is" if number == 1 else "facts that rules miss are"
        yield (
            "unsaid",
            f"{number} {what} mapped, and a dump does not say: {_some(found.unsaid)}.",
        )
    for rule in found.crashed:
        yield "crash", f"the rule {rule} crashed, so what it misses is not known."


def _some(names: Sequence[str], most: int = 3) -> str:
    """The first of some names, and how many more there are; JSON has them all."""
    if len(names) <= most + 1:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def _where(gap: Gap) -> str:
    return f" (at firmware {', '.join(one or 'unknown' for one in gap.at)})" if gap.at else ""


# ---------------------------------------------------------------- text


def coverage(found: Coverage, everything: bool = False) -> Iterator[Block]:
    """What is understood; ``everything`` shows each line."""
    groups = grouped(found.lines)
    dumps = count(len(found.dumps), "dump", "dumps")
    yield Heading(
        (
            found.file,
            f"dialect {found.dialect}",
            dumps,
        )
    )
    for dump in found.dumps:
        name = f" ({titled(dump)})" if titled(dump) else ""
        yield Prose("dump", f"{dump.file}{name}: {of_dump(dump)}")
    yield None
    shown = groups if everything else groups[:MOST_GROUPS]
    for group in shown:
        yield from _group(group, everything)
        yield None
    if len(groups) > len(shown):
        rest = groups[len(shown) :]
        lines = count(sum(len(one.lines) for one in rest), "line", "lines")
        yield Prose("more", f"and {lines} of {len(rest)} other kinds; --all shows them")
        yield None
    yield from _gaps(found)
    yield from _doubts(found)
    extra = list(notes(found))
    for word, text in extra:
        yield Prose(word, text)
    if extra:
        yield None
    yield Counts(summary(found))


def _group(group: Group, everything: bool) -> Iterator[Block]:
    word, style = _STYLE[group.state]
    yield Title(word, label(group), None, style)
    rows = group.lines if everything else group.lines[:MOST_LINES]
    file = ""
    for row in rows:
        if row.span.file != file:
            file = row.span.file
            yield Prose("in", file)
        yield Lines(f"{row.span.line}:{row.span.column}", row.text)
    if len(group.lines) > len(rows):
        yield Prose("", f"and {len(group.lines) - len(rows)} more (--all)")
    yield Prose("why", group.why)


def _gaps(found: Coverage) -> Iterator[Block]:
    if not found.gaps:
        return
    number = count(len(found.gaps), "mapping missing", "mappings missing")
    yield Heading(
        (
            "Not mapped",
            number,
        )
    )
    idle = [gap for gap in found.gaps if not gap.unknown and not gap.asked]
    for gap in found.gaps:
        if gap in idle:
            continue
        yield Prose("map", f"{gap.name}{_where(gap)}: {gap.about}")
        if gap.unknown:
            rules = count(len(gap.unknown), "rule", "rules")
            yield Prose("unknown", f"{rules}: {', '.join(gap.unknown)}")
        if gap.asked:
            rules = count(len(gap.asked), "rule looks", "rules look")
            also = " at it too" if gap.unknown else " at it"
            yield Prose("asked", f"{rules}{also}: {', '.join(gap.asked)}")
    if idle:
        names = ", ".join(f"{gap.name}{_where(gap)}" for gap in idle)
        yield Prose("unasked", f"no rule asks these dumps for {names}")
    yield None


def _doubts(found: Coverage) -> Iterator[Block]:
    if not found.doubts:
        return
    number = count(len(found.doubts), "mapping", "mappings")
    yield Heading(
        (
            "Unconfirmed",
            number,
        )
    )
    for doubt in found.doubts:
        lines = count(doubt.lines, "line", "lines")
        written = f" is written `{doubt.written}`" if doubt.written else ""
        yield Prose("unsure", f"{doubt.name}{written}; {lines} read by it; marked at {doubt.mark}")
    yield None


# ---------------------------------------------------------------- JSON


def coverage_json(found: Coverage) -> str:
    """All of it: every line, whether alike or not."""
    import json

    rows: dict[str, Any] = {
        "file": found.file,
        "dialect": found.dialect,
        "percent": found.percent(),
        "counts": {
            state: found.count(state) for state in ("understood", "half", "unknown", "aside")
        },
        "dumps": [dump._asdict() for dump in found.dumps],
        "lines": [_line(row) for row in found.lines],
        "groups": [
            {"state": one.state, "label": one.label, "why": one.why, "lines": len(one.lines)}
            for one in grouped(found.lines)
        ],
        "not_mapped": [gap._asdict() for gap in found.gaps],
        "unconfirmed": [doubt._asdict() for doubt in found.doubts],
        "wanting_card": found.wanting_card,
        "unsaid": found.unsaid,
        "rules": found.judged,
        "crashed": found.crashed,
        "unread": [{"file": one.file, "message": one.message} for one in found.unread],
    }
    return json.dumps(rows, indent=2) + "\n"


def _line(row: Passage) -> dict[str, Any]:
    return {
        "state": row.state,
        "at": row.span._asdict(),
        "text": row.text,
        "name": row.name,
        "why": row.why,
    }


# ---------------------------------------------------------------- Markdown


def coverage_markdown(found: Coverage, *, everything: bool = False) -> str:
    """The same as a page for a pull request."""
    from cfglint.report.update_markdown import _table as table
    from cfglint.report.update_markdown import code, words

    out = [f"## {words(found.file)}: what it understands", "", f"{words(summary(found))}.", ""]
    rows = [
        (
            code(dump.file),
            words(titled(dump)),
            str(dump.understood),
            str(dump.half),
            str(dump.unknown),
            str(dump.aside),
        )
        for dump in found.dumps
    ]
    heads = ("dump", "craft", "understood", "half", "unknown", "passed over")
    out += table(heads, rows)
    groups = grouped(found.lines)
    shown = groups if everything else groups[:MOST_GROUPS]
    if shown:
        out += ["### Lines not understood in full", ""]
        out += table(("", "what", "lines", "why"), [_cells(one, everything) for one in shown])
    if len(groups) > len(shown):
        rest = groups[len(shown) :]
        out += [f"And {sum(len(one.lines) for one in rest)} lines of {len(rest)} other kinds.", ""]
    if found.gaps:
        out += ["### Not mapped", ""]
        out += table(
            ("what", "is", "leaves unknown", "looked at by"),
            [
                (code(gap.name) + words(_where(gap)), words(gap.about), *map(_ids, gap[3:5]))
                for gap in found.gaps
            ],
        )
    if found.doubts:
        out += ["### Unconfirmed", ""]
        out += table(
            ("what", "written", "lines", "marked at"),
            [
                (code(one.name), code(one.written), str(one.lines), code(one.mark))
                for one in found.doubts
            ],
        )
    out += [f"- {words(text)}" for _, text in notes(found)]
    return "\n".join(out).rstrip("\n") + "\n"


def _ids(rules: Sequence[str]) -> str:
    from cfglint.report.update_markdown import code

    return ", ".join(map(code, rules))


def _cells(group: Group, everything: bool) -> tuple[str, str, str, str]:
    from cfglint.report.update_markdown import code, words

    rows = group.lines if everything else group.lines[:MOST_LINES]
    places = [f"{code(str(row.span))} {code(row.text)}" for row in rows]
    if len(group.lines) > len(rows):
        places.append(f"and {len(group.lines) - len(rows)} more")
    name = code(group.label) + (f" ×{len(group.lines)}" if group.lines[1:] else "")
    return TITLES[group.state], name, "<br>".join(places), words(group.why)
