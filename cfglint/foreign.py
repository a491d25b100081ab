"""Asking rules, some of which others wrote: those may do anything, and do it in a process of their
own (:mod:`cfglint.apart`).

A rule that ends the program, hangs, prints, changes the craft or yields what is no finding gives a
Fault instead of an outcome; no other rule notices.  Built-in rules and rules without code are
asked here.  What any rule yields is looked at before a report relies on it.
"""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, Any

from cfglint.apart import MOST_WORDS, SECONDS, Fault, Stopped, apart, last_line, whole_trace
from cfglint.away import Away, flat, whole
from cfglint.rule import (
    GRADES,
    MOST_FINDINGS,
    MOST_TEXT,
    Drop,
    Edit,
    Finding,
    Lack,
    Move,
    Outcome,
    Put,
    Related,
    Respell,
    judge,
)
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cfglint.craft import Craft
    from cfglint.rule import Options, Rule

    Asked = tuple[Rule, Craft, Options]

#: A rule of others may take so many times in one run what it may on one craft.
MOST_TIMES = 30
#: No finding speaks of more places, or edits more.
MOST_PLACES = 1_000
#: No line or column is beyond this: no file that is read is as long.
MOST_PLACE = 1 << 29
_CHANGED = "it changed the craft that it was shown"
#: Where a fact may be missing.
PLACES = ("dump", "card", "dialect")


def is_foreign(rule: Rule) -> bool:
    """Whether code runs that is not ours when a rule is asked."""
    return isinstance(rule.check, Away)


def ask_all(
    asked: Sequence[Asked], seconds: float = SECONDS, spent: dict[str, float] | None = None
) -> Iterator[Outcome | Fault]:
    """The outcome of each rule on each craft, in order, or what the rule did instead.

    ``seconds`` is how long a rule of others may take on one craft; ``spent`` notes how long each
    took on all craft of the run, which has an end too.  Raises Stopped, naming the rule that was
    running, when interrupted.
    """
    spent = {} if spent is None else spent
    # The rules of each file in a process of their own: none meets another's.
    jobs: dict[str, list[Callable[[], Any]]] = {}
    for one in asked:
        if isinstance(one[0].check, Away):
            jobs.setdefault(one[0].check.home, []).append(_job(one, seconds, spent))
    told = {home: apart(those, seconds) for home, those in jobs.items()}
    try:
        for one in asked:
            try:
                if isinstance(one[0].check, Away):
                    begun = monotonic()
                    said = next(told[one[0].check.home])
                    name = one[0].id
                    spent[name] = spent.get(name, 0.0) + monotonic() - begun
                    yield said if isinstance(said, Fault) else _outcome(one, said)
                else:
                    yield _here(one)
            except KeyboardInterrupt:
                raise Stopped(f"while `{one[0].id}` looked at {one[1].file}") from None
    finally:
        for those in told.values():
            those.close()


def ask(rule: Rule, craft: Craft, options: Options) -> Outcome | Fault:
    """The outcome of one rule on one craft, or what the rule did instead."""
    return next(ask_all([(rule, craft, options)]))


def call(rule: Rule, work: Callable[[], str]) -> str | Fault:
    """What a function that belongs to a rule gives, or what it did instead."""
    if not is_foreign(rule):
        return work()
    told = next(apart([work]))
    if isinstance(told, Fault):
        return told
    if not isinstance(told, str):
        return Fault(f"it gave {type(told).__name__} instead of a text")
    return told[:MOST_WORDS]


def _here(one: Asked) -> Outcome | Fault:
    try:
        return checked(judge(*one))
    except Exception as wrong:
        return Fault(last_line(wrong), whole_trace(wrong))


# ------------------------------------------------------------------ there and back


def _job(one: Asked, seconds: float, spent: dict[str, float]) -> Callable[[], Any]:
    rule, craft, options = one

    def job() -> Any:
        begun = monotonic()
        took = spent.get(rule.id, 0.0)
        if took >= seconds * MOST_TIMES:
            raise TimeoutError(
                f"it took {took:.3g} s of this run, more than {MOST_TIMES} times the limit of "
                "--rule-time, and was asked no more"
            )
        outcome = checked(judge(_looked_after(rule), craft, options))
        spent[rule.id] = took + monotonic() - begun
        parts = outcome.state, outcome.findings, outcome.lacks, outcome.reason, outcome.rests
        return flat(parts)

    return job


def _looked_after(rule: Rule) -> Rule:
    """The rule, told of if it changes what it is shown."""

    def check(shown: Craft, options: Options) -> Iterator[Any]:
        before = _identity(shown)
        try:
            yield from rule.check(shown, options)
        finally:
            if _identity(shown) != before:
                raise AttributeError(_CHANGED)

    return rule._replace(check=check)


def _identity(craft: Craft) -> list[int]:
    """Changes when anything in a craft is put in another's place."""
    from cfglint.craft.model import Craft as Own
    from cfglint.craft.model import slots_of

    parts = [id(getattr(craft, slot)) for slot in slots_of(craft)]
    if type(craft) is not Own:  # of a fleet, each rule's own and cut down
        return parts
    # Looking at a watched craft's own values would count as the rule's looking.
    parts += [id(value) for value in getattr(craft.values, "unwatched", craft.values).values()]
    if craft.card is not None:
        parts += [id(getattr(craft.card, slot)) for slot in slots_of(craft.card)]
        parts += [id(value) for value in craft.card.values.values()]
    return parts


def _outcome(one: Asked, told: Any) -> Outcome | Fault:
    try:
        state, *parts = whole(told)
        if state not in ("holds", "broken", "unknown", "not for this craft"):
            raise ValueError("it gave no outcome")
        outcome = checked(_outcome_of(one, state, parts))
        for finding in outcome.findings:
            for edit in (*finding.edits, *finding.choices):
                if isinstance(edit, Move):
                    _check_range(edit.row, one[1])
        return outcome
    except (TypeError, ValueError, LookupError, RecursionError) as wrong:
        return Fault(last_line(wrong))


def _outcome_of(one: Asked, state: Any, parts: Sequence[Any]) -> Outcome:
    rule, craft, _ = one
    findings, lacks, reason, rests = parts
    said = (rule.id, craft.name, state, findings, lacks, reason)
    return Outcome(*said, craft.file, craft.whole, rests=rests)


def _check_range(moved: Any, craft: Craft) -> None:
    there = next((row for row in craft.mode_ranges if row[:-1] == moved[:-1]), None)
    if there is None or repr(there[:-1]) != repr(moved[:-1]):
        raise ValueError("it moves a range that the craft does not have")


# ------------------------------------------------------------------ what a rule may yield


def checked(outcome: Outcome) -> Outcome:
    """The outcome, of which reports can rely on every part.

    Raises TypeError or ValueError for what a rule should not have yielded.
    """
    several: tuple[Any, ...] = (outcome.findings, outcome.lacks, outcome.rests)
    if not all(isinstance(rows, tuple) for rows in several):
        raise TypeError("it gave no outcome")
    if len(outcome.findings) > MOST_FINDINGS:
        raise ValueError(f"the rule yielded more than {MOST_FINDINGS} findings")
    for finding in outcome.findings:
        _check_finding(finding)
    for lack in outcome.lacks:
        if not isinstance(lack, Lack):
            raise TypeError(f"the rule misses {type(lack).__name__} instead of a fact")
        for text in lack:
            _check_text(text)
        if lack.where not in PLACES:
            raise ValueError(f"the rule misses something in {lack.where!r:.40}, which is no place")
    for text in (outcome.reason, *outcome.rests):
        _check_text(text)
    return outcome


def _check_finding(finding: Any) -> None:
    if not isinstance(finding, Finding):
        raise TypeError(f"the rule yielded {type(finding).__name__} instead of a Finding")
    pairs: tuple[tuple[Any, type], ...] = ((finding.related, Related), (finding.fix, Edit))
    for rows, kind in pairs:
        if not isinstance(rows, tuple | list) or not all(isinstance(row, kind) for row in rows):
            raise TypeError(f"the rule gave something else than a tuple of {kind.__name__}")
        if len(rows) > MOST_PLACES:
            raise ValueError(f"the rule gave a finding of more than {MOST_PLACES} places")
    spans: list[Any] = [finding.span, *[row.span for row in finding.related]]
    spans += [row.span for row in finding.fix]
    spans += _check_edits(finding)
    for span in spans:
        if not isinstance(span, Span):
            raise TypeError(f"the rule gave {type(span).__name__} instead of a Span")
        _check_text(span.file)
        numbers = span[1:]
        if not all(type(one) is int for one in numbers):
            raise TypeError("the rule gave a span whose lines and columns are no whole numbers")
        if not all(1 <= one <= MOST_PLACE for one in numbers) or span[1:3] > span[3:5]:
            raise ValueError(f"the rule gave a span that cannot be: {str(span)[:80]}")
    words = (finding.message, finding.instead, finding.picture)
    for text in (*words, *(row.message for row in finding.related)):
        _check_text(text)
    for row in finding.fix:
        _check_text(row.text)
    if not finding.message:
        raise TypeError("the rule gave a finding without a message")
    if finding.grade is not None and finding.grade not in GRADES:
        raise ValueError(f"the rule gave the grade {finding.grade!r:.40}, which is none")


def _check_edits(finding: Finding) -> list[Any]:
    """The spans of a finding's cure, whose other parts are looked at."""
    several: Any
    for several in (finding.edits, finding.choices):
        if not isinstance(several, tuple | list) or len(several) > MOST_PLACES:
            raise TypeError("the rule gave edits that are no short tuple")
    edits: list[Any] = [*finding.edits, *finding.choices]
    if not all(isinstance(row, Put | Move | Drop | Respell) for row in edits):
        raise TypeError(
            "the rule gave edits that are none: they are made by Put, Move, Drop and Respell"
        )
    if finding.by not in ("hand", "card"):
        raise ValueError("the rule gave a cure by neither hand nor card")
    numbers: list[Any] = []
    for row in edits:
        if isinstance(row, Put):
            _check_text(row.name)
            _check_value(row)
            numbers += [one for one in (row.least, row.most) if one is not None]
        elif isinstance(row, Move):
            numbers += [row.low_us, row.high_us]
        elif isinstance(row, Respell):
            _check_text(row.text)
            if len(row.text.split("\n")) > 1 or not row.text.strip():
                raise ValueError("the rule spells a name that is none")
    if not all(isinstance(one, int | float) and abs(one) < MOST_PLACE for one in numbers):
        raise TypeError("the rule gave edits whose numbers are none")
    return [row.span for row in edits if isinstance(row, Drop | Respell)]


def _check_value(put: Put) -> None:
    """Raises for a setting that there is not, and for a value of a kind that it can never have."""
    from cfglint.craft.settings import setting

    value: Any = put.value
    if "N" in put.name.split("."):
        raise ValueError(f"the rule puts a value into `{put.name}`, which is no one setting")
    try:
        kind = setting(put.name).kind
    except KeyError:
        raise ValueError(f"the rule puts a value into `{put.name:.80}`, no setting") from None
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if kind == "flag":
        fits = isinstance(value, bool)
    elif kind in ("count", "number"):
        fits = number and abs(value) < MOST_PLACE
    elif kind == "words":
        several = isinstance(value, frozenset | set | tuple | list)
        fits = several and all(isinstance(one, str) and one.isprintable() for one in value)
    else:
        fits = isinstance(value, str) and value.isprintable()
    if not fits:
        raise TypeError(f"the rule puts {value!s:.80} into `{put.name}`, which is a {kind}")


def _check_text(text: Any) -> None:
    if not isinstance(text, str):
        raise TypeError(f"the rule gave {type(text).__name__} where a text must be")
    if len(text) > MOST_TEXT:
        raise ValueError(f"the rule gave a text of {len(text)} characters; {MOST_TEXT} are allowed")
