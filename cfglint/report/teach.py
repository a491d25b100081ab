"""What teaching came to: what was seen, what is sure and what is not, what to do next.

The text is made of blocks for :func:`cfglint.report.screen.write`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.report.blocks import Counts, Heading, Prose, Said, count

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.craft.model import Craft
    from cfglint.report.blocks import Block
    from cfglint.teach.whole import Whole

#: So many lines that are not read, and so many kept names, are shown.
MOST, MOST_KEPT = 8, 12
#: Fewer settings than this, mapped for sure, are hardly a dialect.
LITTLE = 5
#: From this harm on (see `cfglint.teach.openings`) what was not found matters.
MATTERS = 0.7

CAUTION = (
    "A draft is a guess at what lines mean, and what a lint says by it is no better than the "
    "guess. Somebody who knows the firmware looks over all of it before anybody trusts a lint by "
    "it with propellers on. Local rules and the maker's instructions come first."
)


class Sample(NamedTuple):
    """A sample: its lines with something on them, how many the draft reads, its mode ranges."""

    file: str
    lines: int
    read: int
    ranges: int


class Doubt(NamedTuple):
    """A mapping that nobody has confirmed: what it reads, and where the draft marks it."""

    setting: str
    value: str
    mark: str
    file: str
    line: int
    text: str


class Left(NamedTuple):
    """A line of a sample that the draft does not read, and why."""

    file: str
    line: int
    text: str
    why: str


class Taught(NamedTuple):
    """All that there is to tell.  ``output`` and ``sheet`` are files written, ``""`` for none.

    ``kept`` are the names in the samples that have no meaning that is known.
    """

    output: str
    sheet: str
    made: Whole
    answers: int
    samples: tuple[Sample, ...]
    sure: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    missing: tuple[str, ...]
    left: tuple[Left, ...]
    kept: tuple[str, ...]
    notes: tuple[str, ...]

    def exit_code(self) -> int:
        """0 where nothing is unconfirmed and nothing is open, else 1."""
        from cfglint.errors import EXIT_CLEAR, EXIT_FINDINGS

        return EXIT_FINDINGS if self.doubts or self.made.open else EXIT_CLEAR


def taught(made: Whole, notes: Sequence[str], answers: int, output: str, sheet: str) -> Taught:
    """What a draft came to."""
    from cfglint.craft.settings import family
    from cfglint.dialect.reading import Reader

    readers = [Reader(source, made.dialect) for source in made.samples]
    crafts = [reader.craft() for reader in readers]
    samples = tuple(
        Sample(
            one.source.file,
            len(one.uses),
            sum(use in ("used", "identity", "removal") for use in one.uses.values()),
            len(one.ranges),
        )
        for one in readers
    )
    doubts = tuple(_doubts(made, crafts))
    unsure = {one.setting for one in doubts}
    read = {family(name) for craft in crafts for name in craft.values}
    sure = tuple(name for name in dict.fromkeys(sorted(read)) if name not in unsure)
    missing = [
        one.subject
        for one in made.open
        if one.kind == "find" and one.harm >= MATTERS and ".N" not in one.subject
    ]
    if not any(row.get("makes") == "range" for row in made.dialect.data.get("rows", ())):
        missing.append("mode ranges")
    elif "arm" not in made.dialect.data.get("modes", {}):
        missing.append("the word for arm")
    left = tuple(one for at, craft in enumerate(crafts) for one in _left(made, at, craft))
    said = [*notes, *(f"left out: {one}" for one in made.draft.dropped)]
    said += [f"{one}: what was answered contradicts the samples" for one in made.draft.reopened]
    if len(sure) < LITTLE:
        said.append(
            "Little was recognised: most names in these samples are in words that are not known "
            "here. The sheet's questions can still be answered by line numbers."
        )
    kept = tuple(made.dialect.data.get("kept", {}).get("at", ()))
    return Taught(
        output, sheet, made, answers, samples, sure, doubts, tuple(missing), left, kept, tuple(said)
    )


def _doubts(made: Whole, crafts: Sequence[Craft]) -> Iterator[Doubt]:
    """What is marked, each once, with a line of the first sample that has one."""
    from cfglint.craft.settings import family
    from cfglint.dialect.unsure import unconfirmed

    found: dict[str, Doubt] = {}
    for source, craft in zip(made.samples, crafts, strict=True):
        values = {family(name): value for name, value in reversed(list(craft.values.items()))}
        for one in unconfirmed(craft, made.dialect):
            line = one.lines[0] if one.lines else 0
            if one.name == "kept":
                continue
            if one.name not in found or (line and not found[one.name].line):
                value = str(values[one.name]) if one.name in values else f"`{one.written}`"
                text = source.lines[line - 1].strip() if line else ""
                file = source.file if line else ""
                found[one.name] = Doubt(one.name, value, one.mark, file, line, text)
    harm = {one.subject: at for at, one in enumerate(made.open)}
    yield from sorted(found.values(), key=lambda one: harm.get(one.setting, len(harm)))


def _left(made: Whole, at: int, craft: Craft) -> Iterator[Left]:
    source = made.samples[at]
    whys = [(one.span.line, one.why) for one in craft.unreadable]
    whys += [(one.line_span.line, f"`{one.written}` is not understood") for one in craft.misread]
    whys += [(one.span.line, "nothing is known of it") for one in craft.strays]
    for line, why in sorted(whys):
        yield Left(source.file, line, source.lines[line - 1].strip(), why)


def summary(found: Taught) -> str:
    """The last line, in numbers."""
    number = len(found.made.open)
    return (
        f"{len(found.sure)} sure, {len(found.doubts)} unsure, {len(found.missing)} missing that "
        f"matter{'s' if len(found.missing) == 1 else ''}; "
        f"{number or 'no'} question{'' if number == 1 else 's'} open"
    )


def steps(found: Taught, command: str) -> Iterator[str]:
    """What to do now, in order; ``command`` is the one that drafted."""
    from shlex import quote

    from cfglint.teach.sheet import grouped

    file, dumps = quote(found.output), " ".join(quote(one.file) for one in found.samples)
    lines = len(grouped(found.made.open))
    if found.made.open:
        number = len(found.made.open)
        yield (
            f"{found.sheet} asks {f'{number} things' if number > 1 else 'one thing'} in {lines} "
            f"line{'s' if lines > 1 else ''}, what matters most first: fill in what you know, and "
            f"`{command}` once more. Or let it ask you: add `--ask`."
        )
    yield (
        f"Look over {found.output}: each mapping has its reason above it, each guess a mark. Fill "
        "in [traits] by the maker's words. Once you have changed it, it is yours: it is not "
        "drafted over."
    )
    yield (
        f"`cfglint dialect check {file} {dumps}` looks for contradictions, `cfglint dialect "
        "coverage` for what is not understood, `cfglint lint --dialect` checks the dumps."
    )


# ---------------------------------------------------------------- text


def draft(found: Taught, command: str) -> Iterator[Block]:
    """What was drafted; ``command`` is the one that did."""
    yield Heading(
        (
            found.output,
            "drafted",
            count(len(found.samples), "sample", "samples"),
        )
    )
    for one in found.samples:
        ranges = f", {count(one.ranges, 'mode range', 'mode ranges')}" * bool(one.ranges)
        yield Prose("sample", f"{one.file}: {one.lines} lines, {one.read} read{ranges}")
    if found.answers:
        told = count(found.answers, "answer", "answers")
        yield Prose("answers", f"{told} from {found.sheet}")
    for note in found.notes:
        yield Prose("note", note)
    if found.sure:
        yield Prose("sure", ", ".join(found.sure))
    if found.missing:
        yield Prose("missing", ", ".join(found.missing))
    yield None
    if found.doubts:
        yield Heading(
            (
                "Unsure",
                count(len(found.doubts), "mapping", "mappings"),
            )
        )
        for doubt in found.doubts:
            yield Said(str(doubt.line or ""), f"{doubt.setting} {doubt.value}", doubt.text)
        yield None
    if found.left or found.kept:
        lines = count(len(found.left), "line", "lines")
        names = count(len(found.kept), "name", "names")
        yield Heading(
            (
                "Not understood",
                f"{names} and {lines} more",
            )
        )
        if found.kept:
            more = f" and {len(found.kept) - MOST_KEPT} more" * (len(found.kept) > MOST_KEPT)
            text = f"{', '.join(found.kept[:MOST_KEPT])}{more}: what has a meaning is to be mapped"
            yield Prose("kept", text)
        for line in found.left[:MOST]:
            yield Said(str(line.line or ""), line.why, line.text)
        if len(found.left) > MOST:
            yield Prose("", f"and {len(found.left) - MOST} more")
        yield None
    yield Heading(("Next",))
    for at, step in enumerate(steps(found, command), 1):
        yield Prose(f"{at}.", step)
    yield None
    yield Prose("caution", CAUTION)
    yield None
    yield Counts(summary(found))


# ---------------------------------------------------------------- JSON


def taught_json(found: Taught) -> str:
    """All of it, the draft's text too."""
    import json

    rows: dict[str, Any] = {
        "output": found.output,
        "sheet": found.sheet,
        "samples": [one._asdict() for one in found.samples],
        "sure": found.sure,
        "unsure": [one._asdict() for one in found.doubts],
        "missing": found.missing,
        "kept": found.kept,
        "not_read": [one._asdict() for one in found.left],
        "questions": [{**one._asdict(), "key": one.key} for one in found.made.open],
        "answers": found.answers,
        "notes": found.notes,
        "text": found.made.text,
    }
    return json.dumps(rows, indent=2) + "\n"
