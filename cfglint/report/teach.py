"""What teaching came to: what was seen, what is mapped and how surely, what to do next.

The text is in the layout of the report of a run (see :mod:`cfglint.report.terminal`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from typing import TextIO

    from cfglint.craft import Craft
    from cfglint.dump.source import Source
    from cfglint.report.layout import Line, Page
    from cfglint.teach.model import Draft, Guess, Question

#: So many open questions, and names of a kind, are told one by one.
MOST = 8
#: Fewer settings than this, mapped for sure, are hardly a dialect.
LITTLE = 5

CAUTION = (
    "A draft is a guess at what lines mean, and what a lint says by it is no better than the "
    "guess. Somebody who knows the firmware looks over all of it before anybody trusts a lint by "
    "it with propellers on. Local rules and the maker's instructions come first."
)
_SHAPE = (
    ("prompt", "prompt"),
    ("assign", "settings as"),
    ("flag_on", "flags set by"),
    ("flag_off", "cleared by"),
    ("unset", "removed by"),
    ("open", "sections begun by"),
    ("close", "ended by"),
    ("comment", "comments after"),
    ("refusal", "refused lines answered by"),
)


class Sample(NamedTuple):
    """A sample: its lines, those with something on them, and those that the draft reads."""

    file: str
    lines: int
    filled: int


class Doubt(NamedTuple):
    """A mapping that nobody has confirmed; ``line`` is 0 where no sample has one."""

    setting: str
    written: str
    reason: str
    confidence: float
    rival: str
    mark: str
    file: str
    line: int
    text: str


class Told(NamedTuple):
    """The answers a draft rests on: how many, those not known, those that nothing asks for."""

    files: tuple[str, ...]
    known: int
    unknown: tuple[str, ...]
    stale: tuple[str, ...]


class Taught(NamedTuple):
    """All that there is to tell.  ``output`` is the file that was written, ``""`` for none.

    ``sure`` and ``doubts`` are what the draft maps, ``missing`` what matters and was not found.
    """

    output: str
    draft: Draft
    samples: tuple[Sample, ...]
    sure: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    missing: tuple[str, ...]
    told: Told
    notes: tuple[str, ...]

    def exit_code(self) -> int:
        """0 where nothing is unconfirmed and nothing that matters is open, else 1."""
        from cfglint.errors import EXIT_CLEAR, EXIT_FINDINGS

        return EXIT_FINDINGS if self.doubts or self.draft.questions else EXIT_CLEAR


def taught(
    draft: Draft, sources: Sequence[Source], told: Told, notes: Sequence[str], output: str = ""
) -> Taught:
    """What a draft came to.  ``notes`` are said before the draft's own."""
    from cfglint.dialect.reading import read_craft

    crafts = [read_craft(source, draft.dialect) for source in sources]
    doubts = _doubts(draft, sources, crafts)
    open_ones = {one.setting for one in doubts}
    unmapped = frozenset.intersection(*(frozenset(one.unmapped) for one in crafts))
    names = dict.fromkeys(name for guess in draft.guesses for name in _names(guess))
    sure = tuple(name for name in names if name not in unmapped and name not in open_ones)
    missing = tuple(
        one.setting for one in draft.questions if one.kind == "line" and one.setting in unmapped
    )
    said = [*notes, *draft.notes]
    if len(sure) < LITTLE:
        said.append(
            "Little was recognised: most names in these samples are in words that are not known "
            "here. The questions can still be answered by line numbers."
        )
    samples = tuple(
        Sample(one.file, len(one.lines), sum(1 for line in one.lines if line.strip()))
        for one in sources
    )
    return Taught(output, draft, samples, sure, doubts, missing, told, tuple(said))


def _names(guess: Guess) -> list[str]:
    return guess.setting.split(", ")


def _doubts(draft: Draft, sources: Sequence[Source], crafts: Sequence[Craft]) -> tuple[Doubt, ...]:
    from cfglint.dialect.unsure import unconfirmed

    guesses: Mapping[str, Guess] = {
        name: guess for guess in reversed(draft.guesses) for name in _names(guess)
    }
    order = {one.setting: at for at, one in enumerate(draft.questions)}
    found: dict[str, Doubt] = {}
    for source, craft in zip(sources, crafts, strict=True):
        for one in unconfirmed(craft, draft.dialect):
            if one.name in found and (found[one.name].line or not one.lines):
                continue
            guess = guesses.get(one.name)
            line = one.lines[0] if one.lines else 0
            found[one.name] = Doubt(
                one.name,
                one.written,
                guess.reason if guess is not None else _reason(one.name),
                guess.confidence if guess is not None else 0.0,
                guess.rival if guess is not None else "",
                one.mark,
                source.file if line else "",
                line,
                source.lines[line - 1].strip() if line else "",
            )
    rows = found.values()
    return tuple(sorted(rows, key=lambda one: (order.get(one.setting, len(order)), one.setting)))


def _reason(name: str) -> str:
    if name.startswith("mode "):
        return "the word may mean another mode"
    return "it was not certain from the samples"


# ---------------------------------------------------------------- words for all forms


def summary(found: Taught) -> str:
    """The last line, in numbers."""
    number = len(found.draft.questions)
    return (
        f"mapped: {len(found.sure)} sure, {len(found.doubts)} unconfirmed; {_that_matter(found)} "
        f"not found; {number or 'no'} question{'' if number == 1 else 's'} open"
    )


def _that_matter(found: Taught) -> str:
    number = len(found.missing)
    return f"{number} that matter{'s' if number == 1 else ''}"


def shape(found: Taught) -> list[str]:
    """The shape of the samples' lines, a clause each."""
    data = found.draft.dialect.data["shape"]
    clauses = []
    for key, words in _SHAPE:
        forms = data.get(key, ())
        forms = [forms] if isinstance(forms, str) else list(forms)
        if forms:
            clauses.append(f"{words} {', '.join(f'`{one}`' for one in forms)}")
    return clauses


def asked(question: Question) -> str:
    """What a question is about, in a few words."""
    return {
        "line": f"which line sets {question.setting}",
        "value": f"what {question.setting} is set to",
        "words": "which mode a word is"
        if question.setting == "mode"
        else f"words of {question.setting}",
        "range": "how a mode's range is written",
    }[question.kind]


def steps(found: Taught, command: str) -> Iterator[str]:
    """What to do now, in order; ``command`` is the one that drafted."""
    from shlex import quote

    dumps = " ".join(quote(one.file) for one in found.samples)
    number = len(found.draft.questions)
    if number:
        what = "the one question that is" if number == 1 else f"the {number} questions that are"
        yield f"`{command} --ask` asks {what} open."
    elif found.doubts:
        yield (
            "About what is unconfirmed nothing more can be asked: compare each line with its "
            "mapping and, if that is right, take the mark out."
        )
    file = quote(found.output)
    yield (
        f"Look over {found.output}: each mapping has its reason above it. Fill in [traits] by the "
        "maker's words; where you confirm a guess by hand, take its mark out. Once you have "
        "changed it, it is yours: it is not drafted over."
    )
    yield f"`cfglint dialect check {file} {dumps}` looks for contradictions."
    yield f"`cfglint dialect coverage {file} {dumps}` shows what is not understood yet."
    yield (
        f"`cfglint lint --dialect {file} {dumps}` checks the dumps, and says which findings rest "
        "on something unconfirmed."
    )


# ---------------------------------------------------------------- text


def write_taught(
    found: Taught,
    *,
    file: TextIO,
    command: str,
    width: int | None = None,
    colour: bool | None = None,
) -> None:
    """Write what was drafted; ``command`` is what drafted it, to be written with ``--ask``.

    ``width`` and ``colour`` are as in :func:`cfglint.report.terminal.write_text`.
    """
    from cfglint.report.layout import page_of, write_lines

    write_lines(_text(found, page_of(file, width), command), file, colour)


def _text(found: Taught, page: Page, command: str) -> Iterator[Line]:
    from cfglint.report.layout import GAP, LABELS, count, heading, prose, wrap

    yield from heading(
        [found.output, "drafted", count(len(found.samples), "sample", "samples")], page
    )
    for one in found.samples:
        empty = one.lines - one.filled
        blank = f", {empty} of them empty" if empty else ""
        yield from prose("sample", f"{one.file}: {count(one.lines, 'line', 'lines')}{blank}", page)
    yield from prose("shape", "; ".join(shape(found)), page)
    data = found.draft.dialect.data
    forms = list(dict.fromkeys(form["line"] for form in data.get("forms", ())))
    if forms:
        more = f" and {len(forms) - MOST} more" if len(forms) > MOST else ""
        yield from prose("forms", ", ".join(f"`{one}`" for one in forms[:MOST]) + more, page)
    yield from _answers(found.told, page)
    for note in found.notes:
        yield from prose("note", note, page)
    yield []
    if found.doubts:
        yield from heading(["Unconfirmed", count(len(found.doubts), "mapping", "mappings")], page)
        file = ""
        for doubt in found.doubts:
            if doubt.file and doubt.file != file and len(found.samples) > 1:
                file = doubt.file
                yield from prose("in", file, page)
            yield from _doubt(doubt, page)
        yield []
    if found.missing:
        yield from heading(["Not found", _that_matter(found)], page)
        yield from prose("", ", ".join(found.missing), page)
        yield []
    if found.draft.questions:
        number = count(len(found.draft.questions), "question", "questions")
        yield from heading(["Open", number, "the weightiest first"], page)
        rows = found.draft.questions[:MOST]
        rest = len(found.draft.questions) - len(rows)
        more = f"; and {rest} smaller" if rest else ""
        yield from prose("", "; ".join(map(asked, rows)) + more, page)
        yield []
    yield from heading(["Next"], page)
    for at, step in enumerate(steps(found, command), 1):
        yield from prose(f"{at}.", step, page)
    yield []
    yield from prose("caution", CAUTION, page)
    yield []
    # Over the page's whole width, as nothing stands beside it.
    whole = page._replace(width=page.width + LABELS + GAP)
    yield from ([(line, "bold")] for line in wrap(summary(found), whole))


def _answers(told: Told, page: Page) -> Iterator[Line]:
    from cfglint.report.layout import count, prose

    if told.files:
        known = count(told.known, "answer", "answers")
        less = f", {len(told.unknown)} more not known" if told.unknown else ""
        yield from prose("answers", f"{known}{less}, from {' and '.join(told.files)}", page)
    if told.stale:
        one = len(told.stale) == 1
        yield from prose(
            "stale",
            f"nothing asks for {', '.join(told.stale)} any more; "
            f"{'the answer is' if one else 'the answers are'} kept",
            page,
        )


def _doubt(doubt: Doubt, page: Page) -> Iterator[Line]:
    from cfglint.report.excerpt import show_line
    from cfglint.report.layout import labelled, prose

    written = f" is `{doubt.written}`" if doubt.written else ""
    title = page.plain(f"{doubt.setting}{written}")
    yield [*labelled("unsure", page), (title, "bold")]
    if doubt.line:
        text = show_line(
            doubt.text, 0, 0, width=page.room, measure=page.measure, encoding=page.encoding
        )
        bar = page.drawn("│", "|")
        yield [(f"{doubt.line:>7} {bar} ", "dim"), (text.text, "")]
    sure = f" ({doubt.confidence:.2f})" if doubt.confidence else ""
    rival = f"; else {doubt.rival}" if doubt.rival else ""
    yield from prose("why", f"{doubt.reason}{sure}{rival}; marked at {doubt.mark}", page)


# ---------------------------------------------------------------- JSON


def taught_json(found: Taught) -> str:
    """All of it, the draft's text too."""
    import json

    rows: dict[str, Any] = {
        "output": found.output,
        "samples": [one._asdict() for one in found.samples],
        "shape": found.draft.dialect.data["shape"],
        "counts": {
            "sure": len(found.sure),
            "unconfirmed": len(found.doubts),
            "not_found": len(found.missing),
            "questions": len(found.draft.questions),
        },
        "sure": found.sure,
        "unconfirmed": [one._asdict() for one in found.doubts],
        "not_found": found.missing,
        "guesses": [one._asdict() for one in found.draft.guesses],
        "questions": [
            {**one._asdict(), "shown": [line._asdict() for line in one.shown]}
            for one in found.draft.questions
        ],
        "answers": found.told._asdict(),
        "notes": found.notes,
        "text": found.draft.text,
    }
    return json.dumps(rows, indent=2) + "\n"
