"""Examples as tests: what stands beside a rule is read, judged and compared with its marks.

In a ``bad`` example the line below an offending one holds carets under the exact text and then
words that the message must contain; several such lines may follow one another.  They are taken
out before the dump (or the card) is read::

    let motor-signal be brushed
                        ^^^^^^^ brushed
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.rule import Options, Outcome, judge
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.craft import Craft
    from cfglint.dump.source import Source
    from cfglint.rule import Edit, Example, Finding, Rule

#: The names under which an example's two texts are read.
DUMP, CARD = "example.txt", "card.toml"
#: And those of the fleet's other craft.
BESIDE = "beside-{}.txt"

_CARETS = re.compile(r"[ \t]*(\^+)(?:[ \t]+(.*))?")
_STATES = {
    "good": "holds",
    "bad": "broken",
    "unknown": "unknown",
    "not-for": "not for this craft",
}


class ExampleError(ValueError):
    """An example that is itself written wrongly; the text says how."""


class Mark(NamedTuple):
    """Where a finding must stand, and the words that its message must hold."""

    span: Span
    words: tuple[str, ...]


class Case(NamedTuple):
    """An example ready to be read: both texts without caret lines, and the marks in both."""

    dump: str
    card: str
    marks: tuple[Mark, ...]
    beside: tuple[str, ...] = ()


def parse_example(example: Example) -> Case:
    """Take an example apart.

    The texts lose the indentation that all their lines share and a first empty line, as
    docstrings do.  Raises ExampleError for carets that mark nothing, for marks in an example
    that is not bad and for a bad one without any, and for an ``unknown`` that names no fact.
    """
    dump, marks = _unmark(DUMP, example.dump)
    card, more = _unmark(CARD, example.card)
    marks += more
    if example.kind == "bad" and not marks:
        raise ExampleError("a bad example must mark what is wrong with carets (^^^^)")
    if example.kind != "bad" and marks:
        raise ExampleError(f"carets in an example that is {example.kind}, not bad")
    if example.kind == "unknown" and not example.missing:
        raise ExampleError("an unknown example must name the fact that is missing")
    beside = []
    for number, text in enumerate(example.beside, 1):
        other, more = _unmark(BESIDE.format(number), text)
        if more:
            raise ExampleError("carets in a dump beside: only the first craft is judged")
        beside.append(other)
    return Case(dump, card, tuple(marks), tuple(beside))


def _unmark(file: str, text: str) -> tuple[str, list[Mark]]:
    from textwrap import dedent

    kept: list[str] = []
    marks: list[Mark] = []
    for line in dedent(text.removeprefix("\n")).split("\n"):
        carets = _CARETS.fullmatch(line)
        if carets is None:
            kept.append(line)
            continue
        if not kept:
            raise ExampleError(f"{file}: carets stand under no line")
        start, end = carets.span(1)
        if end > len(kept[-1]):
            raise ExampleError(f"{file}: carets reach past the end of line {len(kept)}")
        marks.append(Mark(on_line(file, len(kept), start, end), tuple((carets[2] or "").split())))
    # The closing quotes' own line is no line of the dump.
    while kept and not kept[-1].strip():
        kept.pop()
    return "".join(f"{line}\n" for line in kept), marks


def read_example(case: Case, dialect: str, variant: str = "") -> tuple[Craft, dict[str, Source]]:
    """The craft of an example, and both texts by file name.

    ``variant`` changes how the text is stored, not what it says: ``crlf`` (both texts),
    ``bom`` (the dump), ``cut`` (no ending after the last line).
    """
    from cfglint.craft.cards import read_card
    from cfglint.dialect import bundled, read_craft
    from cfglint.dump.source import Source

    dump, card = case.dump, case.card
    if variant == "crlf":
        dump, card = (text.replace("\n", "\r\n") for text in (dump, card))
    elif variant == "cut":
        dump, card = dump.removesuffix("\n"), card.removesuffix("\n")
    data = dump.encode()
    if variant == "bom":
        data = b"\xef\xbb\xbf" + data
    source = Source.from_bytes(DUMP, data)
    hardware = read_card(CARD, card.encode()) if card.strip() else None
    sources = {DUMP: source, CARD: Source.from_text(CARD, card)}
    craft = read_craft(source, bundled(dialect), card=hardware, name="example")
    others = []
    for number, text in enumerate(case.beside, 1):
        file = BESIDE.format(number)
        sources[file] = Source.from_text(file, text)
        others.append(read_craft(sources[file], bundled(dialect), name=f"other {number}"))
    return craft.changed(others=tuple(others)), sources


def options_of(rule: Rule, example: Example) -> Options:
    """A rule's options as an example sets them, the others at their defaults.

    Raises ExampleError for an option that the rule does not have.
    """
    values: dict[str, Any] = {option.name: option.default for option in rule.options}
    for name, value in example.options:
        if name not in values:
            raise ExampleError(f"sets option {name!r}, which {rule.id} does not have")
        values[name] = value
    return Options(values)


VARIANTS = ("", "crlf", "bom", "cut")
_STORED = {
    "": "",
    "crlf": " (with CRLF line endings)",
    "bom": " (with a byte-order mark)",
    "cut": " (without an ending after the last line)",
}


def check_example(rule: Rule, example: Example, others: Sequence[Rule] = ()) -> list[str]:
    """What is wrong with a rule on one of its examples; empty if all is as marked.

    The example is read in each of :data:`VARIANTS` and judged twice: findings must stand where
    the carets do, nothing may depend on how the text is stored or on an earlier run, and the
    craft must come out as it went in.  Each cure (the lines for its edits, or its fix) is applied
    by itself and must cure its finding and bring no other.  Anything the rule raises is a
    complaint, never an exception.

    ``others`` are rules that must get along with the example: none may crash on it, and in a
    good one, which readers copy, none may find fault (grade ``fix`` or ``ground``) with what a
    line says.  What is absent does not count: examples are excerpts.
    """
    from cfglint.errors import Problem

    try:
        case = parse_example(example)
        options = options_of(rule, example)
    except ExampleError as wrong:
        return [str(wrong)]
    if not case.dump.strip() and not case.card.strip():
        return ["the example is empty: a rule that is not asked cannot be wrong"]
    complaints: list[str] = []
    for variant in VARIANTS:
        try:
            craft, sources = read_example(case, example.dialect, variant)
        except Problem as wrong:
            return [f"cannot be read: {wrong}"]
        before = frozen(craft, options)
        try:
            outcome, again = judge(rule, craft, options), judge(rule, craft, options)
        except Exception as crash:  # a rule's own mistake, whatever it is
            return [f"{rule.id} crashed{_STORED[variant]}: {crash_text(rule, crash)}"]
        odd = [one for one in outcome.findings if not _is_finding(one)]
        if odd:
            return [f"{rule.id} yields {odd[0]!r}, which is no Finding"]
        found = list(_compare(example, case, outcome, sources))
        if outcome[2:] != again[2:]:
            found.append(f"{rule.id} says something else when it is asked a second time")
        if frozen(craft, options) != before:
            found.append(f"{rule.id} changes the craft it is asked about; a rule only reads it")
        if not found:
            found += _fixes(rule, example, case, outcome, sources, variant, others)
        complaints += [text + _STORED[variant] for text in found]
        if not variant:
            complaints += _beside(example, craft, others)
        if complaints:
            break
    return complaints


def _is_finding(item: Any) -> bool:
    from cfglint.rule import Finding

    return isinstance(item, Finding) and isinstance(item.span, Span)


def frozen(craft: Craft, options: Options | None = None) -> Any:
    """All that a craft (and options) holds, copied, to be compared with what it holds later."""
    from copy import deepcopy

    state = {name: getattr(craft, name) for name in craft.__slots__ if name != "card"}
    state["others"] = [frozen(other) for other in craft.others]
    card = craft.card
    if card is not None:
        state["card"] = (card.file, dict(card.values), card.switches)
    return deepcopy((state, None if options is None else options._values))


def crash_text(rule: Rule, crash: Exception) -> str:
    """What a rule raised and, where that can be told, on which of its lines."""
    from traceback import extract_tb

    text = " ".join(f"{type(crash).__name__}: {crash}".split())
    file = getattr(getattr(rule.check, "__code__", None), "co_filename", "")
    own = [row for row in extract_tb(crash.__traceback__) if row.filename == file]
    if own:
        return f"{text}\n    line {own[-1].lineno} of the rule: {own[-1].line}"
    if text.endswith("not iterable"):
        text += " (a rule yields its findings, or returns a list)"
    return text


def _beside(example: Example, craft: Craft, others: Sequence[Rule]) -> Iterator[str]:
    """What other rules make of an example."""
    for other in others:
        options = Options({option.name: option.default for option in other.options})
        try:
            outcome = judge(other, craft, options)
        except Exception as crash:
            yield f"{other.id} crashes on this example: {crash_text(other, crash)}"
            continue
        if example.kind != "good":
            continue
        for finding in outcome.findings:
            if finding.span != craft.whole and (finding.grade or other.grade) != "advise":
                yield (
                    f"{finding.span}: a good example, yet {other.id} finds: {finding.message} "
                    "(write one that may be copied)"
                )


# ---------------------------------------------------------------- fixes


def apply_fix(
    finding: Finding, sources: Mapping[str, Source], fix: tuple[Edit, ...] | None = None
) -> dict[str, str]:
    """The texts after a finding's fix (or another), by file.  Raises ExampleError if two of its
    edits overlap.
    """
    edits = finding.fix if fix is None else fix
    texts = {}
    for file, source in sources.items():
        starts = _starts(source)

        def at(line: int, column: int, starts: list[int] = starts) -> int:
            return starts[line - 1] + column - 1

        here = [edit for edit in edits if edit.span.file == file]
        rows = sorted(
            (at(edit.span.line, edit.span.column), at(edit.span.end_line, edit.span.end_column), n)
            for n, edit in enumerate(here)
        )
        for (_, end, _), (start, _, _) in pairwise(rows):
            if start < end:
                raise ExampleError(f"two edits of one fix overlap (of: {finding.message})")
        text = source.text
        for start, end, n in reversed(rows):
            text = text[:start] + here[n].text + text[end:]
        texts[file] = text
    return texts


def _starts(source: Source) -> list[int]:
    """Where each line begins in the text, which may end its lines in any way."""
    starts, at = [0], 0
    for line in source.lines:
        at += len(line)
        at += 2 if source.text[at : at + 2] == "\r\n" else 1
        starts.append(at)
    return starts


def _fixes(
    rule: Rule,
    example: Example,
    case: Case,
    outcome: Outcome,
    sources: dict[str, Source],
    variant: str,
    others: Sequence[Rule],
) -> Iterator[str]:
    """Each fix cures its own finding, and nothing is found afterwards that was not before."""
    from cfglint.errors import Problem

    if not any(finding.fix or finding.edits for finding in outcome.findings):
        return
    options = options_of(rule, example)
    before = _all_found(rule, options, outcome.craft, others)
    for finding in outcome.findings:
        if not finding.fix and not finding.edits:
            continue
        fix = finding.fix or _written(finding, example, sources[DUMP], outcome.craft)
        if isinstance(fix, str):
            yield f"{finding.span}: no line of the cure can be written: {fix}"
            continue
        try:
            texts = apply_fix(finding, sources, fix)
            changed = case._replace(dump=texts[DUMP], card=texts[CARD])
            craft, _ = read_example(changed, example.dialect, "bom" if variant == "bom" else "")
            after = _all_found(rule, options, craft, others)
        except (ExampleError, Problem) as wrong:
            yield f"{finding.span}: the fix cannot be applied: {wrong}"
            continue
        except Exception as crash:
            yield f"{finding.span}: after the fix {rule.id} crashes: {crash_text(rule, crash)}"
            continue
        own = (rule.id, finding.message)
        # Others of the rule's findings may word themselves anew; there must be fewer of them.
        left = sum(number for (name, _), number in after.items() if name == rule.id)
        if after[own] >= before[own] or left >= len(outcome.findings):
            yield f"{finding.span}: the fix does not cure the finding: {finding.message}"
        for name, message in after - before:
            if name != rule.id:
                said = f"{name} finds: {message}" if name else f"{rule.id} misses {message}"
                yield f"{finding.span}: after the fix {said}"


def _written(
    finding: Finding, example: Example, source: Source, craft: Craft
) -> tuple[Edit, ...] | str:
    """The lines of a finding's edits, or why there are none."""
    from cfglint.cure import cure
    from cfglint.dialect.load import bundled
    from cfglint.dialect.reading import Reader

    if source.file == craft.file:
        reader = Reader(source, bundled(example.dialect), card=craft.card, name=craft.name)
        made = cure(reader, reader.craft(), finding.edits)
        return made.edits or made.unwritten
    return "the finding is not about the example's dump"


def _all_found(
    rule: Rule, options: Options, craft: Craft, others: Sequence[Rule]
) -> Counter[tuple[str, str]]:
    """How often each rule finds what, and under ``""`` what facts the rule itself misses: a fix
    that only takes the facts away is none.
    """
    from collections import Counter

    found: Counter[tuple[str, str]] = Counter()
    for item in (rule, *others):
        used = options
        if item is not rule:
            used = Options({option.name: option.default for option in item.options})
        outcome = judge(item, craft, used)
        found.update((item.id, finding.message) for finding in outcome.findings)
        if item is rule and outcome.state != "broken":
            found.update(("", lack.text) for lack in outcome.lacks)
    return found


def _compare(
    example: Example, case: Case, outcome: Outcome, sources: dict[str, Source]
) -> Iterator[str]:
    wanted = _STATES[example.kind]
    if outcome.state != wanted:
        yield f"should be `{wanted}` but is `{outcome.state}`{_because(outcome)}"
    if example.kind == "unknown" and outcome.state == wanted:
        facts = [lack.fact for lack in outcome.lacks]
        if example.missing not in facts:
            yield f"should miss `{example.missing}` but misses {', '.join(facts)}"
    if example.kind == "not-for" and outcome.state == wanted and not outcome.reason:
        yield "is not for this craft, but gives no reason"
    for finding in outcome.findings:
        yield from _sound(finding, sources)
    yield from _against_marks(case.marks, outcome.findings, sources)


def _because(outcome: Outcome) -> str:
    if outcome.lacks:
        return f": missing {', '.join(lack.fact for lack in outcome.lacks)}"
    return f": {outcome.reason}" if outcome.reason else ""


def _sound(finding: Finding, sources: dict[str, Source]) -> Iterator[str]:
    """Every finding must say something, and every place it names must be there."""
    if not finding.message.strip():
        yield f"{finding.span}: the finding has no message"
    places = [finding.span, *(related.span for related in finding.related)]
    places += [edit.span for edit in finding.fix]
    for span in places:
        if not _is_there(span, sources):
            yield f"{span}: no such place in the example (in: {finding.message})"


def _is_there(span: Span, sources: dict[str, Source]) -> bool:
    if span.file not in sources:
        return False
    lines = sources[span.file].lines
    if not 1 <= span.line <= span.end_line <= max(len(lines), 1):
        return False
    ends = [len(lines[number - 1]) if lines else 0 for number in (span.line, span.end_line)]
    if not 1 <= span.column <= ends[0] + 1 or not 1 <= span.end_column <= ends[1] + 1:
        return False
    return (span.line, span.column) <= (span.end_line, span.end_column)


def _against_marks(
    marks: Iterable[Mark], findings: Iterable[Finding], sources: dict[str, Source]
) -> Iterator[str]:
    """Marks and findings pair off one to one: same stretch, and the mark's words in the message."""
    left = list(findings)
    waiting: list[Mark] = []
    for mark in marks:
        here = [finding for finding in left if finding.span == mark.span]
        fitting = [finding for finding in here if not _lacking(mark, finding)]
        if fitting:
            left.remove(fitting[0])
        else:
            waiting.append(mark)
    for mark in waiting:
        here = [finding for finding in left if finding.span == mark.span]
        if here:
            left.remove(here[0])
            words = ", ".join(f"`{word}`" for word in _lacking(mark, here[0]))
            yield f"{mark.span}: the message lacks {words}: {here[0].message}"
        else:
            yield f"{mark.span}: marked, but nothing was found:\n{_drawn(mark.span, sources)}"
    for finding in left:
        drawn = _drawn(finding.span, sources)
        yield f"{finding.span}: found, but not marked: {finding.message}\n{drawn}"


def _lacking(mark: Mark, finding: Finding) -> list[str]:
    message = finding.message.casefold()
    return [word for word in mark.words if word.casefold() not in message]


def _drawn(span: Span, sources: dict[str, Source]) -> str:
    """The line of a span with carets under it, as it would stand in the example."""
    if not _is_there(span, sources) or not sources[span.file].lines:
        return ""
    line = sources[span.file].lines[span.line - 1]
    return f"    {line}\n    {_carets(span, line)}"


def _carets(span: Span, line: str) -> str:
    end = span.end_column if span.end_line == span.line else len(line) + 1
    # Under a tab stands a tab, or the carets would not stand under the text.
    blank = "".join("\t" if char == "\t" else " " for char in line[: span.column - 1])
    return blank + "^" * max(end - span.column, 1)


def expected_and_found(rule: Rule, example: Example) -> str:
    """An example twice, for a person: with the carets that it has, and with those that the rule
    gives.  ``""`` where it cannot be read or judged; the second one only if it differs.
    """
    from cfglint.errors import Problem

    try:
        case, options = parse_example(example), options_of(rule, example)
        craft, sources = read_example(case, example.dialect)
    except (ExampleError, Problem):
        return ""
    try:
        outcome = judge(rule, craft, options)
    except Exception:  # the rule's own; check_example tells of it
        return f"example:\n{_annotated([], sources)}"
    # All words on one line, for they must all be in the message.
    wanted = [(mark.span, " ".join(mark.words)) for mark in case.marks]
    got = [
        (one.span, " ".join(one.message.split())) for one in outcome.findings if _is_finding(one)
    ]
    parts = [f"expected ({_STATES[example.kind]}):\n{_annotated(wanted, sources)}"]
    if outcome.state != _STATES[example.kind] or sorted(s for s, _ in wanted) != sorted(
        s for s, _ in got
    ):
        parts.append(f"found ({outcome.state}{_because(outcome)}):\n{_annotated(got, sources)}")
    return "\n".join(parts)


def _annotated(marks: Iterable[tuple[Span, str]], sources: dict[str, Source]) -> str:
    below: dict[tuple[str, int], list[str]] = {}
    for span, words in sorted(marks):
        if _is_there(span, sources) and sources[span.file].lines:
            row = f"{_carets(span, sources[span.file].lines[span.line - 1])} {words}".rstrip()
            below.setdefault((span.file, span.line), []).append(row)
    rows = []
    for file, source in sources.items():
        lines = source.lines
        if file != DUMP and any(lines):
            rows.append(f"  {file}:")
        for number, line in enumerate(lines, 1):
            if line or number < len(lines):
                rows += [f"    {text}" for text in (line, *below.get((file, number), ()))]
    return "\n".join(rows)


# ---------------------------------------------------------------- a rule as a whole


def check_rule(rule: Rule) -> list[str]:
    """What is wrong with a rule's page: what is not said, and kinds of example that lack.

    A rule needs a good and a bad example, and an unknown one wherever it can be unknown: that is
    found out by taking facts away from its examples one at a time, which must crash it nowhere.
    No two examples may be the same.  The examples themselves are checked by
    :func:`check_example`.
    """
    complaints = [
        f"{rule.id}: `{part}` is empty"
        for part in ("title", "why", "source")
        if not getattr(rule, part).strip()
    ]
    kinds = {example.kind for example in rule.examples}
    complaints += [f"{rule.id}: no {kind} example" for kind in ("good", "bad") if kind not in kinds]
    complaints += _duplicates(rule)
    try:
        fact = first_lack(rule)
    except ExampleError:
        return complaints  # told where that example is checked
    except _Poorer as wrong:
        return [*complaints, f"{rule.id}: {wrong}"]
    if "unknown" not in kinds and fact:
        complaints.append(f"{rule.id}: no unknown example, though `{fact}` can be missing")
    return complaints


def _duplicates(rule: Rule) -> Iterator[str]:
    seen: dict[Any, int] = {}
    for number, example in enumerate(rule.examples, 1):
        try:
            case = parse_example(example)
        except ExampleError:
            continue
        key = (
            case[0].strip(),
            case[1].strip(),
            case.beside,
            repr(example.options),
            example.dialect,
        )
        if key in seen:
            yield f"{rule.id}: examples {seen[key]} and {number} are the same"
        seen.setdefault(key, number)


class _Poorer(Exception):  # noqa: N818
    """A rule crashed on a craft with a fact less."""


def first_lack(rule: Rule) -> str:
    """A fact that the rule cannot do without, found by taking facts away; empty if none is."""
    from cfglint.errors import Problem

    first = ""
    for example in rule.examples:
        case, options = parse_example(example), options_of(rule, example)
        try:
            craft, _ = read_example(case, example.dialect)
        except Problem as wrong:
            raise ExampleError(str(wrong)) from None
        for less, poorer in _poorer(craft):
            try:
                outcome = judge(rule, poorer, options)
            except Exception as crash:
                raise _Poorer(f"crashes on an example{less}: {crash_text(rule, crash)}") from crash
            if outcome.lacks and not first:
                first = outcome.lacks[0].fact
    return first


def _poorer(craft: Craft) -> Iterator[tuple[str, Craft]]:
    """The craft, and the craft without each of its facts in turn, with what was taken away."""
    from cfglint.craft import Card, Traits

    yield "", craft
    for name in craft.values:
        rest = {key: value for key, value in craft.values.items() if key != name}
        yield f" without `{name}`", _copy(craft, values=rest)
    yield " without any setting", _copy(craft, values={})
    yield " without the dialect's traits", _copy(craft, traits=Traits())
    card = craft.card
    if card is not None:
        yield " without its card", _copy(craft, card=None)
        for field in card.values:
            rest_of_card = {key: value for key, value in card.values.items() if key != field}
            less = Card(card.file, rest_of_card, card.switches, card.locate)
            yield f" without the card's `{field}`", _copy(craft, card=less)


def _copy(craft: Craft, **changed: Any) -> Craft:
    return craft.changed(**changed)
