"""Mode ranges and links that a person pointed at become rows, tried on all samples."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.families import Expect, Item
from cfglint.teach.pointing import counted, once, stars, tokens_of
from cfglint.teach.sense import best
from cfglint.teach.sheet import Linked, Shown
from cfglint.teach.spans import (
    Ends,
    Laid,
    all_where,
    bars,
    laid,
    measured,
    modes_of,
    perhaps_all,
    title_words,
    written,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.dialect.reader import MapReader
    from cfglint.dump.layout import Row
    from cfglint.teach.examples import Bench

Modes = dict[str, list[str]]


class Switched(NamedTuple):
    """Rows of mode ranges and links, the modes' words, those that are guessed, what is not read."""

    items: list[Item]
    modes: Modes
    unsure: list[str]
    left: list[Shown | Linked]
    #: Words that stand where modes do, and nobody knows.
    own: tuple[str, ...] = ()


def row_at(bench: Bench, sample: int, line: int) -> Row | None:
    """The row at a line."""
    for row in bench.rows[sample] if sample < len(bench.rows) else ():
        if row.atoms and line in {row.line, *(at for _, at, _ in row.joins)}:
            return row
    return None


def ranges_by(bench: Bench, shown: Sequence[Shown], known: Mapping[str, Any]) -> Switched:
    """Rows that read the mode ranges that a person pointed at."""
    placed = [
        (one, row) for one in shown if (row := row_at(bench, one.sample, one.line)) is not None
    ]
    ends, _ = measured(placed, bench.marks)
    fields: dict[str, Any] = {}
    if ends is None:
        examples, bar = bars(placed)
        fields = {"bar": bar} if bar else {}
    else:
        examples = laid(placed, ends, bench.marks)
        fields = _measures(ends)
    if not examples:
        return Switched([], {}, [], list(shown))
    spans = modes_of(examples)
    modes = written(bench, examples, spans)
    where = all_where(examples, spans)
    tries: dict[str, tuple[dict[str, Any], Modes]] = {}
    for at, one in enumerate(examples):
        for form in _forms(examples, at, spans):
            made_ = {**form, "makes": "range", **({"all_where": where} if where else {})}
            if "bar" in fields and re.search(r"\w", fields["bar"]["filled"]):
                made_["characters"] = True
            every = {**fields, **({"channel": one.counts} if one.counts else {})}
            if every:
                made_["fields"] = every
            said = modes
            if at not in spans:
                said = {**modes, one.shown.mode: [*modes.get(one.shown.mode, []), title_words(one)]}
            tries.setdefault(repr(made_), (made_, said))
    made = _chosen(bench, list(tries.values()), list(shown), known)
    return made if where else _joined(bench, made, examples, known)


def _joined(
    bench: Bench, made: Switched, examples: Sequence[Laid], known: Mapping[str, Any]
) -> Switched:
    """Rows in which a word for `and` stands that no example has: there both must hold."""
    items = []
    for item in made.items:
        row = item.forms[0]
        data = {"rows": [row], "modes": table_of(known, made.modes)}
        seen = [
            (bench.sources[sample].lines[r.span.line - 1], r.mode)
            for sample, reader in bench.read(data).items()
            for r in reader.ranges
        ]
        word = perhaps_all(seen, examples)
        if word:
            row = {**row, "all_where": word}
        elif "each" in row or str(row["at"]).endswith("*"):
            # What stands behind may say that several must hold together.
            row = {**row, "sure": False}
        items.append(item._replace(forms=(row,)))
    return made._replace(items=items)


def _measures(ends: Ends) -> dict[str, Any]:
    """The keys of both ends' fields."""
    fields = {}
    for part in ends.parts:
        keys: dict[str, Any] = {}
        if ends.offset and part not in ("half", "width"):
            keys["offset"] = ends.offset
        if ends.scale != 1:
            keys["scale"] = ends.scale
        if keys:
            fields[part] = keys
    return fields


def _forms(
    examples: Sequence[Laid], at: int, spans: Mapping[int, tuple[int, int]]
) -> Iterator[dict[str, Any]]:
    """Forms of rows that an example's row is of, with the parts that stand in it."""
    one = examples[at]
    fields = [(start, end, "{" + name + "}") for start, end, name in one.fields]
    if at in spans:
        fields.append((*spans[at], "{mode}"))
    titled = _titled(one, at in spans)
    tokens = tokens_of([a for a in one.row.atoms if a.start < max(one.row.note, 1)], fields)
    bare = stars(tokens)
    last = max(place for place, part in enumerate(bare) if part.startswith("{"))
    first = min(place for place, part in enumerate(bare) if part.startswith("{"))
    forms = [
        tokens,
        bare,
        [*bare[: last + 1], "*"],
        ["*", *bare[first:]],
        ["*", *bare[first : last + 1], "*"],
        once([p if p.startswith("{") else "*" for p in bare]),
        # A number that counts lines is one word, where anything might reach into a field.
        ["{_}" if p.isdecimal() else p for p in tokens],
    ]
    for title in titled:
        for form in forms:
            yield {"at": title + " ".join(once(form))}
    yield from _repeated(examples, at, fields, titled)


def _repeated(
    examples: Sequence[Laid],
    at: int,
    fields: Sequence[tuple[int, int, str]],
    titled: Sequence[str],
) -> Iterator[dict[str, Any]]:
    """Several ranges in one row: what they share stands first, the item's form is repeated."""
    one = examples[at]
    ends = sorted(
        max(f[1] for f in other.fields)
        for other in examples
        if other.row is one.row
        or (other.row.line == one.row.line and other.shown.sample == one.shown.sample)
    )
    stop = max(f[1] for f in one.fields)
    before = [end for end in ends if end < stop]
    begin = before[-1] if before else -1
    inside = [f for f in fields if f[0] >= begin]
    if begin < 0:
        inside = [f for f in fields if f[2] != "{mode}"]
        if not inside or len(inside) == len(fields):
            return
        begin = max(f[1] for f in fields if f[2] == "{mode}")
        if begin > min(f[0] for f in inside):
            return
    outer = [f for f in fields if f not in inside]
    segment = [a for a in one.row.atoms if begin <= a.start and a.end <= max(f[1] for f in inside)]
    item = [p for p in tokens_of(segment, inside) if p.startswith("{") or len(p) > 0]
    lead = item.index(next(p for p in item if p.startswith("{")))
    edge = min((f[0] for f in inside), default=0)
    head = tokens_of(
        [
            a
            for a in one.row.atoms
            if a.end <= edge and any(f[0] <= a.start and a.end <= f[1] for f in outer)
        ],
        outer,
    )
    start = tokens_of([a for a in one.row.atoms if a.end <= edge], outer)
    for title in titled:
        for form in dict.fromkeys(
            [" ".join(item), " ".join(item[max(0, lead - 1) :]), " ".join(item[lead:])]
        ):
            heads = {" ".join(head), " ".join(start[: start.index(head[-1]) + 1]) if head else ""}
            for said in sorted(heads):
                at_ = (title + said).removesuffix(" > ")
                if at_:
                    yield {"at": at_, "each": form}


def _titled(one: Laid, worded: bool) -> list[str]:
    """Titles before a row's form; one says the mode or channel where the row does not."""
    steps: list[str] = []
    needed = 0
    mode_at = -1
    for place, title in enumerate(one.row.titles):
        if title.style == "comment" or title.line == one.row.line:
            continue
        fields = []
        if place == one.title:
            for atom in title.atoms:
                if atom.kind != "mark" and counted(atom.text, one.shown.channel) == one.counts:
                    fields = [(atom.start, atom.end, "{channel}")]
        text = " ".join(tokens_of(title.atoms, fields))
        if text:
            steps.append(text)
            if fields:
                needed = len(steps)
            if re.search(r"[^\W\d]", text) and not fields:
                mode_at = len(steps) - 1
    if not worded and mode_at >= 0:
        steps[mode_at] = "{mode}"
        needed = max(needed, mode_at + 1)
        return [" > ".join(steps[mode_at:]) + " > ", " > ".join(steps) + " > "]
    if needed:
        return [" > ".join(steps[needed - 1 :]) + " > ", " > ".join(steps) + " > "]
    out = ["", *(steps[-1:]), *(steps[:1]), " > ".join(steps)]
    return [f"{one_} > " if one_ else "" for one_ in dict.fromkeys(out)]


def table_of(known: Mapping[str, Any], modes: Modes) -> dict[str, Any]:
    """The modes' words: what a person said over what was read."""
    told = {text.lower() for every in modes.values() for text in every}
    out: dict[str, Any] = {}
    for mode, every in known.items():
        if mode in ("unsure", "own"):
            continue
        left = [t for t in ([every] if isinstance(every, str) else every) if t.lower() not in told]
        if left:
            out[mode] = left
    for mode, texts in modes.items():
        out[mode] = list(dict.fromkeys([*out.get(mode, []), *(t for t in texts if t)]))
    out = {mode: texts[0] if len(texts) == 1 else texts for mode, texts in out.items() if texts}
    own = [t for t in known.get("own", ()) if t.lower() not in told]
    unsure = [mode for mode in known.get("unsure", ()) if mode in out and mode not in modes]
    return {**out, **({"unsure": unsure} if unsure else {}), **({"own": own} if own else {})}


def found_in(
    readers: Mapping[int, MapReader], wanted: Sequence[Shown | Linked]
) -> tuple[set[Any], int]:
    """The examples that are read as they are, and how many that are not stand at their lines."""
    right: set[Any] = set()
    wrong = 0
    lines = {(one.sample, one.line) for one in wanted}
    for sample, reader in readers.items():
        for r in reader.ranges:
            hit = next(
                (
                    one
                    for one in wanted
                    if isinstance(one, Shown)
                    and (one.sample, one.line, one.mode, one.channel, one.join)
                    == (sample, r.span.line, r.mode, r.channel, r.join)
                    and abs(one.low - r.low_us) <= 1.01
                    and abs(one.high - r.high_us) <= 1.01
                    and one not in right
                ),
                None,
            )
            if hit is not None:
                right.add(hit)
            else:
                wrong += (sample, r.span.line) in lines
        for link in reader.links:
            hit2 = Linked(sample, link.span.line, link.mode, link.follows)
            if hit2 in wanted:
                right.add(hit2)
            else:
                wrong += (sample, link.span.line) in lines
    return right, wrong


def _chosen(
    bench: Bench,
    tries: Sequence[tuple[dict[str, Any], Modes]],
    wanted: list[Any],
    known: Mapping[str, Any],
) -> Switched:
    """The rows that read most examples, and further ones for those that they do not."""
    items: list[Item] = []
    modes: Modes = {}
    unsure: list[str] = []
    own: list[str] = []
    left = set(wanted)
    for round_ in range(3):
        ranked = []
        for place, (row, said) in enumerate(tries):
            merged = {**modes, **{m: [*modes.get(m, []), *t] for m, t in said.items()}}
            data = {"rows": [row], "modes": table_of(known, merged)}
            try:
                readers = bench.read(data)
            except (re.error, ValueError, KeyError):
                continue
            right, wrong = found_in(readers, wanted)
            many = sum(len(r.ranges) + len(r.links) for r in readers.values())
            missed = sum(len(r.misread) for r in readers.values())
            news = len(right & left)
            if news and len(right) > wrong:
                ranked.append(((news - 2 * wrong, many - missed, -place), row, merged, right))
        if not ranked:
            break
        _, row, modes, right = max(ranked, key=lambda one: one[0])
        found, guessed, strange = _more_words(bench, row, table_of(known, modes))
        own += strange
        for mode, texts in found.items():
            modes.setdefault(mode, [])
            modes[mode] = [*modes[mode], *(t for t in texts if t not in modes[mode])]
        unsure += guessed
        items.append(_item(bench, row, table_of(known, modes), f"told {row['makes']} {round_}"))
        left -= right
        if not left:
            break
    return Switched(items, modes, unsure, [one for one in wanted if one in left], tuple(own))


def _more_words(
    bench: Bench, row: dict[str, Any], modes: dict[str, Any]
) -> tuple[Modes, list[str], list[str]]:
    """Words that stand where modes do in other lines, as far as the trade's words tell."""
    found: Modes = {}
    unsure = []
    own: list[str] = []
    for reader in bench.read({"rows": [row], "modes": modes}).values():
        for missed in reader.misread:
            word, weight = best("mode", missed.written)
            if word and weight >= 0.5 and len(missed.written) < 60:
                found.setdefault(word, []).append(missed.written)
                if weight < 0.85 and word not in modes:
                    unsure.append(word)
            elif re.search(r"\w", missed.written) and len(missed.written.split()) <= 7:
                own.append(missed.written)
    return found, unsure, list(dict.fromkeys(own))


def _item(bench: Bench, row: dict[str, Any], modes: dict[str, Any], name: str) -> Item:
    expects = []
    for sample, reader in bench.read({"rows": [row], "modes": modes}).items():
        expects += [Expect(sample, "range", r.span.line, "") for r in reader.ranges]
        expects += [Expect(sample, "link", link.span.line, "") for link in reader.links]
    return Item(name, "", (row,), tuple(expects), "as a person pointed at it")


def links_by(bench: Bench, linked: Sequence[Linked], known: Mapping[str, Any]) -> Switched:
    """Rows that read the links that a person pointed at, by the modes' words in them."""
    tries: dict[str, tuple[dict[str, Any], Modes]] = {}
    for one in linked:
        row = row_at(bench, one.sample, one.line)
        if row is None:
            continue
        for fields, modes in _ends_of(one, row, known):
            tokens = stars(tokens_of(row.atoms, fields))
            titles = [" ".join(tokens_of(t.atoms, [])) for t in row.titles if t.style != "comment"]
            for title in dict.fromkeys(["", *titles[-1:], " > ".join(titles)]):
                for form in (tokens, [*tokens, "*"]):
                    at = (f"{title} > " if title else "") + " ".join(once(form))
                    made = {"at": at, "makes": "link"}
                    tries.setdefault(repr(made), (made, modes))
    return _chosen(bench, list(tries.values()), list(linked), known)


def _ends_of(
    one: Linked, row: Row, known: Mapping[str, Any]
) -> Iterator[tuple[list[tuple[int, int, str]], Modes]]:
    """Where both modes of a link may stand in its row."""
    atoms = [a for a in row.atoms if a.kind != "mark"]
    found: dict[str, list[tuple[int, int, float]]] = {}
    for mode in (one.mode, one.follows):
        every = known.get(mode, ())
        texts = [every] if isinstance(every, str) else list(every)
        spots = []
        for text in texts:
            at = row.text.lower().find(text.lower())
            if at >= 0:
                spots.append((at, at + len(text), 2.0 + len(text)))
        for first in range(len(atoms)):
            for last in range(first, min(first + 6, len(atoms))):
                text = row.text[atoms[first].start : atoms[last].end]
                word, weight = best("mode", text)
                if word == mode and weight >= 0.6:
                    spots.append((atoms[first].start, atoms[last].end, weight))
        found[mode] = sorted(spots, key=lambda spot: -spot[2])[:2]
    for a in found[one.mode]:
        for b in found[one.follows]:
            if a[1] <= b[0] or b[1] <= a[0]:
                modes = {
                    one.mode: [row.text[a[0] : a[1]]],
                    one.follows: [row.text[b[0] : b[1]]],
                }
                yield [(a[0], a[1], "{mode}"), (b[0], b[1], "{follows}")], modes
    yield from _by_rest(one, row, found)


def _by_rest(
    one: Linked, row: Row, found: Mapping[str, list[tuple[int, int, float]]]
) -> Iterator[tuple[list[tuple[int, int, str]], Modes]]:
    """Where one mode is known: the other is at the row's other end."""
    atoms = [a for a in row.atoms if a.kind != "mark"]
    for known_, other, name, rest_name in (
        (one.mode, one.follows, "{mode}", "{follows}"),
        (one.follows, one.mode, "{follows}", "{mode}"),
    ):
        for start, end, _ in found[known_][:1]:
            for side in (
                [a for a in atoms if a.start >= end],
                [a for a in atoms if a.end <= start],
            ):
                for many in (1, 2, 3):
                    if len(side) >= many:
                        part = side[-many:] if side[0].start >= end else side[:many]
                        at = (part[0].start, part[-1].end)
                        modes = {other: [row.text[at[0] : at[1]]]}
                        yield [(start, end, name), (*at, rest_name)], modes
