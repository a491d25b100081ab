"""Examples as tests: what stands beside a rule is read, judged and compared with its marks.

In a ``bad`` example the line below an offending one holds carets under the exact text and then
words that the message must contain; several such lines may follow one another.  They are taken
out before the dump (or the card) is read::

    let motor-signal be brushed
                        ^^^^^^^ brushed
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.rule import Options, Outcome, judge
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft
    from cfglint.dump.source import Source
    from cfglint.rule import Example, Finding, Rule

#: The names under which an example's two texts are read.
DUMP, CARD = "example.txt", "card.toml"

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
    return Case(dump, card, tuple(marks))


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
    craft = read_craft(source, bundled(dialect), card=hardware, name="example")
    return craft, {DUMP: source, CARD: Source.from_text(CARD, card)}


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


def check_example(rule: Rule, example: Example) -> list[str]:
    """What is wrong with a rule on one of its examples; empty if all is as marked.

    The example is read in each of :data:`VARIANTS` and judged twice: findings must stand where
    the carets do, and nothing may depend on how the text is stored or on an earlier run.
    Anything the rule raises is a complaint, never an exception.
    """
    from cfglint.errors import Problem

    try:
        case = parse_example(example)
        options = options_of(rule, example)
    except ExampleError as wrong:
        return [str(wrong)]
    complaints: list[str] = []
    for variant in VARIANTS:
        try:
            craft, sources = read_example(case, example.dialect, variant)
        except Problem as wrong:
            return [f"cannot be read: {wrong}"]
        try:
            outcome, again = judge(rule, craft, options), judge(rule, craft, options)
        except Exception as crash:  # a rule's own mistake, whatever it is
            return [f"{rule.id} crashed{_STORED[variant]}: {type(crash).__name__}: {crash}"]
        found = list(_compare(example, case, outcome, sources))
        if outcome[2:] != again[2:]:
            found.append(f"{rule.id} says something else when it is asked a second time")
        complaints += [text + _STORED[variant] for text in found]
        if complaints:
            break
    return complaints


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
    end = span.end_column if span.end_line == span.line else len(line) + 1
    carets = "^" * max(end - span.column, 1)
    return f"    {line}\n    {' ' * (span.column - 1)}{carets}"


# ---------------------------------------------------------------- a rule as a whole


def check_rule(rule: Rule) -> list[str]:
    """What is wrong with a rule's page: what is not said, and kinds of example that lack.

    A rule needs a good and a bad example, and an unknown one wherever it can be unknown: that is
    found out by taking facts away from its examples one at a time.  The examples themselves are
    checked by :func:`check_example`.
    """
    complaints = [
        f"{rule.id}: `{part}` is empty"
        for part in ("title", "why", "source")
        if not getattr(rule, part).strip()
    ]
    kinds = {example.kind for example in rule.examples}
    complaints += [f"{rule.id}: no {kind} example" for kind in ("good", "bad") if kind not in kinds]
    if "unknown" not in kinds:
        fact = first_lack(rule)
        if fact:
            complaints.append(f"{rule.id}: no unknown example, though `{fact}` can be missing")
    return complaints


def first_lack(rule: Rule) -> str:
    """A fact that the rule cannot do without, found by taking facts away; empty if none is."""
    for example in rule.examples:
        case, options = parse_example(example), options_of(rule, example)
        craft, _ = read_example(case, example.dialect)
        for poorer in _poorer(craft):
            outcome = judge(rule, poorer, options)
            if outcome.lacks:
                return outcome.lacks[0].fact
    return ""


def _poorer(craft: Craft) -> Iterator[Craft]:
    """The craft, and the craft without each of its facts in turn."""
    from cfglint.craft import Card, Traits

    yield craft
    for name in craft.values:
        rest = {key: value for key, value in craft.values.items() if key != name}
        yield _copy(craft, values=rest)
    yield _copy(craft, values={})
    yield _copy(craft, traits=Traits())
    card = craft.card
    if card is not None:
        yield _copy(craft, card=None)
        for field in card.values:
            rest_of_card = {key: value for key, value in card.values.items() if key != field}
            yield _copy(craft, card=Card(card.file, rest_of_card, card.switches, card.locate))


def _copy(craft: Craft, **changed: Any) -> Craft:
    from cfglint.craft import Craft

    return Craft(**{name: getattr(craft, name) for name in Craft.__slots__} | changed)
