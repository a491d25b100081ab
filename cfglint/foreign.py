"""Asking rules, some of which others wrote: those may do anything, and do it in a process of their
own (:mod:`cfglint.apart`).

A rule that ends the program, hangs, prints, changes the craft or yields what is no finding gives a
Fault instead of an outcome; no other rule notices.  Built-in rules and rules without code are
asked here.  What any rule yields is looked at before a report relies on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from cfglint.apart import SECONDS, Fault, Stopped, apart, last_line, whole_trace
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
    judge,
)
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cfglint.craft import Craft
    from cfglint.rule import Options, Rule

    Asked = tuple[Rule, Craft, Options]
    Given = TypeVar("Given")

#: No finding speaks of more places, or edits more.
MOST_PLACES = 1_000
#: No line or column is beyond this: no file that is read is as long.
MOST_PLACE = 1 << 29
_CHANGED = "it changed the craft that it was shown"
#: Where a fact may be missing.
PLACES = ("dump", "card", "dialect")


def is_foreign(rule: Rule) -> bool:
    """Whether code runs that is not ours when a rule is asked."""
    return not is_ours(rule.check)


def is_ours(function: object) -> bool:
    """Whether a function is one of cfglint's own, by its module."""
    home = getattr(function, "__module__", None)
    return isinstance(home, str) and home.startswith(("cfglint.", "cfglint_rules."))


def ask_all(asked: Sequence[Asked], seconds: float = SECONDS) -> Iterator[Outcome | Fault]:
    """The outcome of each rule on each craft, in order, or what the rule did instead.

    ``seconds`` is how long a rule of others may take on one craft.  Raises Stopped, naming the
    rule that was running, when interrupted.
    """
    jobs = [_job(one) for one in asked if is_foreign(one[0])]
    told = apart(jobs, seconds)
    for one in asked:
        try:
            if is_foreign(one[0]):
                flat = next(told)
                yield flat if isinstance(flat, Fault) else _outcome(one, flat)
            else:
                yield _here(one)
        except KeyboardInterrupt:
            raise Stopped(f"while `{one[0].id}` looked at {one[1].file}") from None


def ask(rule: Rule, craft: Craft, options: Options) -> Outcome | Fault:
    """The outcome of one rule on one craft, or what the rule did instead."""
    return next(ask_all([(rule, craft, options)]))


def call(rule: Rule, work: Callable[[], str]) -> str | Fault:
    """What a function that belongs to a rule gives, or what it did instead."""
    if not is_foreign(rule):
        return work()
    told = next(apart([work]))
    if isinstance(told, str | Fault):
        return told
    return Fault(f"it gave {type(told).__name__} instead of a text")


def _here(one: Asked) -> Outcome | Fault:
    try:
        return checked(judge(*one))
    except Exception as wrong:
        return Fault(last_line(wrong), whole_trace(wrong))


# ------------------------------------------------------------------ there and back


def _job(one: Asked) -> Callable[[], Any]:
    rule, craft, options = one

    def job() -> Any:
        before = _identity(craft)
        outcome = checked(judge(_looked_after(rule), craft, options))
        if _identity(craft) != before:
            raise AttributeError(_CHANGED)
        return [
            outcome.state,
            [_flat_finding(found, craft) for found in outcome.findings],
            [list(lack) for lack in outcome.lacks],
            outcome.reason,
            list(outcome.rests),
        ]

    return job


def _looked_after(rule: Rule) -> Rule:
    """The rule, told of if it changes what it is shown: that may be a craft of its own, which is
    watched, and no other rule would notice.
    """
    from cfglint.craft.model import Craft

    def check(shown: Craft, options: Options) -> Iterator[Any]:
        if type(shown) is not Craft:  # of a fleet, each rule's own and cut down
            yield from rule.check(shown, options)
            return
        before = _identity(shown)
        try:
            yield from rule.check(shown, options)
        finally:
            if _identity(shown) != before:
                raise AttributeError(_CHANGED)

    return rule._replace(check=check)


def _identity(craft: Craft) -> list[int]:
    """Changes when anything in a craft is put in another's place."""
    from cfglint.craft.model import slots_of

    parts = [id(getattr(craft, slot)) for slot in slots_of(craft)]
    # Looking at a watched craft's own values would count as the rule's looking.
    parts += [id(value) for value in getattr(craft.values, "unwatched", craft.values).values()]
    if craft.card is not None:
        parts += [id(getattr(craft.card, slot)) for slot in slots_of(craft.card)]
        parts += [id(value) for value in craft.card.values.values()]
    return parts


def _flat_finding(found: Finding, craft: Craft) -> list[Any]:
    return [
        list(found.span),
        found.message,
        found.instead,
        [[list(row.span), row.message] for row in found.related],
        found.grade,
        [[list(row.span), row.text] for row in found.fix],
        found.picture,
        [_flat_edit(edit, craft) for edit in found.edits],
        found.by,
    ]


def _flat_edit(edit: Put | Move | Drop, craft: Craft) -> list[Any]:
    if isinstance(edit, Put):
        value = edit.value
        several = isinstance(value, frozenset | set | tuple | list)
        return ["put", edit.name, sorted(value) if several else value, edit.least, edit.most]
    if isinstance(edit, Move):
        # Ranges are told by their place: what stands in them is the craft's own.
        places = (at for at, row in enumerate(craft.mode_ranges) if row[:-1] == edit.row[:-1])
        return ["move", next(places, -1), edit.low_us, edit.high_us]
    return ["drop", list(edit.span)]


def _edit(flat: Any, craft: Craft) -> Put | Move | Drop:
    kind, what, *rest = flat
    if kind == "put":
        value, least, most = rest
        return Put(what, frozenset(value) if isinstance(value, list) else value, least, most)
    if kind == "move":
        if what < 0:
            raise ValueError("it moves a range that the craft does not have")
        return Move(craft.mode_ranges[what], *rest)
    if kind == "drop":
        return Drop(Span(*what))
    raise ValueError("it gave an edit that is none")


def _outcome(one: Asked, flat: Any) -> Outcome | Fault:
    try:
        state, findings, lacks, reason, rests = flat
        if state not in ("holds", "broken", "unknown", "not for this craft"):
            raise ValueError("it gave no outcome")
        return checked(
            Outcome(
                one[0],
                one[1],
                state,
                tuple(
                    Finding(
                        Span(*span),
                        message,
                        instead,
                        tuple(Related(Span(*place), words) for place, words in related),
                        grade,
                        tuple(Edit(Span(*place), words) for place, words in fix),
                        picture,
                        tuple(_edit(edit, one[1]) for edit in edits),
                        by,
                    )
                    for span, message, instead, related, grade, fix, picture, edits, by in findings
                ),
                tuple(Lack(*row) for row in lacks),
                reason,
                tuple(rests),
            )
        )
    except (TypeError, ValueError, LookupError) as wrong:
        return Fault(last_line(wrong))


# ------------------------------------------------------------------ what a rule may yield


def checked(outcome: Outcome) -> Outcome:
    """The outcome, of which reports can rely on every part.

    Raises TypeError or ValueError for what a rule should not have yielded.
    """
    if len(outcome.findings) > MOST_FINDINGS:
        raise ValueError(f"the rule yielded more than {MOST_FINDINGS} findings")
    for finding in outcome.findings:
        _check_finding(finding)
    for lack in outcome.lacks:
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
    edits: Any = finding.edits
    if not isinstance(edits, tuple | list) or len(edits) > MOST_PLACES:
        raise TypeError("the rule gave edits that are no short tuple")
    if not all(isinstance(row, Put | Move | Drop) for row in edits):
        raise TypeError("the rule gave edits that are none: they are made by Put, Move and Drop")
    if finding.by not in ("hand", "card"):
        raise ValueError("the rule gave a cure by neither hand nor card")
    numbers: list[Any] = []
    for row in edits:
        if isinstance(row, Put):
            _check_text(row.name)
            parts = (
                row.value if isinstance(row.value, frozenset | set | tuple | list) else [row.value]
            )
            if not all(isinstance(one, str | int | float) for one in parts):
                raise TypeError(f"the rule puts {type(row.value).__name__} into a setting")
            numbers += [one for one in (row.least, row.most) if one is not None]
        elif isinstance(row, Move):
            numbers += [row.low_us, row.high_us]
    if not all(isinstance(one, int | float) and abs(one) < MOST_PLACE for one in numbers):
        raise TypeError("the rule gave edits whose numbers are none")
    return [row.span for row in edits if isinstance(row, Drop)]


def _check_text(text: Any) -> None:
    if not isinstance(text, str):
        raise TypeError(f"the rule gave {type(text).__name__} where a text must be")
    if len(text) > MOST_TEXT:
        raise ValueError(f"the rule gave a text of {len(text)} characters; {MOST_TEXT} are allowed")
