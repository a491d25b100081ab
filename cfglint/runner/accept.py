"""Accepting: a recorded decision to live with a finding, and what becomes of it in a run.

An accept stands in the dump as a comment (``cfglint.runner.accept_notes``) or in a file of the
hangar (``cfglint.runner.accept_file``).  It names one rule and reaches one line or one craft,
never further.  One that gives no reason, names no rule, is past its date or fits no finding
accepts nothing and is a finding itself (``cfglint.runner.accept_rules``).

Imported only when there is an accept.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.finding import Accepted, Finding, Outcome
from cfglint.prints import Prints, fold, of_file
from cfglint.results import Aside
from cfglint.span import Excerpt

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from cfglint.results import CraftLine
    from cfglint.rule import Grade, Rule
    from cfglint.span import Span

    Places = Mapping[tuple[str, str], Collection[tuple[str, int]]]

#: Whoever accepts these does not know what: nobody could read the line.
NEVER = ("dump/unreadable-line",)
#: The concern of the engine's own findings about accepts.
OWN = "accept/"


class Accept(NamedTuple):
    """One accept as it stands; empty texts where it does not say.

    ``span`` is where it stands and ``text`` the line there.  ``note`` tells a comment of the
    dump from an entry of a file; a comment reaches the dump ``file``, and there the line
    ``reach`` (0: the whole craft).  ``line`` is the text of a line, ``print`` a fingerprint.
    """

    rule: str
    reason: str
    by: str
    until: str
    span: Span
    text: str = ""
    note: bool = False
    file: str = ""
    craft: str = ""
    line: str = ""
    setting: str = ""
    print: str = ""
    reach: int | None = 0


class Scope(NamedTuple):
    """What of the run decides whether an accept could have fitted a finding.

    ``rules`` are all rules that are installed, ``applied`` the ids of those of this run;
    ``there`` holds the hangar's files that are there at all, of those that accepts name;
    ``whole`` says that the run looked at the whole hangar and could read all of it; ``places``
    are the lines (file and number) of the settings that accepts name, by dump and setting: one
    in the dump, one in the card.  ``twins`` are the names that several dumps of the hangar go by,
    ``homes`` what fingerprints are made with, by dump.
    """

    rules: Sequence[Rule]
    applied: Collection[str]
    crafts: Sequence[CraftLine]
    there: Collection[str]
    whole: bool
    places: Places
    today: str
    twins: Mapping[str, Sequence[CraftLine]] = {}
    homes: Mapping[str, str] = {}


class Settled(NamedTuple):
    """The outcomes with what is accepted marked, findings about the accepts, and which of them
    went along with a dump that was renamed.
    """

    outcomes: tuple[Outcome, ...]
    own: tuple[Outcome, ...]
    aside: tuple[Aside, ...] = ()


def says(text: str) -> bool:
    """Whether a text says anything: signs that nobody sees are no reason and no name."""
    return any(map(str.isalnum, text))


def today() -> str:
    """The date of today where the run is, as ``2026-11-25``."""
    from time import strftime

    return strftime("%Y-%m-%d")


def day(text: str) -> str:
    """A date as ``2026-11-25``, or ``""`` for what is no date written like that."""
    from datetime import date

    try:
        # The date's own form: a week's or one without dashes is read, too, but never equal.
        return text if str(date.fromisoformat(text)) == text else ""
    except ValueError:
        return ""


def settle(accepts: Sequence[Accept], outcomes: Iterable[Outcome], scope: Scope) -> Settled:
    """Mark the findings that are accepted, and find what is wrong with the accepts."""
    told = _Told(scope.crafts)
    names = {name: rule for rule in scope.rules for name in (rule.id, *rule.aliases)}
    sound: dict[str, list[Accept]] = {}
    for accept in accepts:
        rule = names.get(accept.rule)
        if rule is None or rule.id in NEVER:
            told.no_rule(accept, scope.rules)
        elif _whole(accept, scope.today, told) and _is_clear(accept, scope, told):
            sound.setdefault(rule.id, []).append(accept)
    used: set[Accept] = set()
    marked = []
    states: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        mine = sound.get(outcome.rule)
        if mine:
            states.setdefault(outcome.rule, []).append(outcome)
            found = tuple(_mark(one, mine, scope, used, told) for one in outcome.findings)
            marked.append(outcome._replace(findings=found))
        else:
            marked.append(outcome)
    for rule_id, group in sound.items():
        if rule_id not in scope.applied:
            continue  # this run cannot tell
        for accept in group:
            if accept not in used and _is_stale(accept, states.get(rule_id, ()), scope):
                told.nothing(accept)
    return Settled(tuple(marked), told.outcomes(), tuple(dict.fromkeys(told.along)))


def _is_clear(accept: Accept, scope: Scope, told: _Told) -> bool:
    """Whether an accept that names a craft and no dump can only mean one."""
    if accept.file:
        return True
    twins = scope.twins.get(accept.craft, ())
    if twins:
        told.two_craft(accept, [one.file for one in twins])
    return not twins


def _whole(accept: Accept, now: str, told: _Told) -> bool:
    """Whether an accept has all it needs; what it lacks is told."""
    whole = True
    if not says(accept.reason):
        told.no_reason(accept, "gives no reason", "write why the finding can be lived with")
        whole = False
    if not says(accept.by):
        told.no_reason(accept, "does not say by whom", "name who decided it")
        whole = False
    if accept.until and not day(accept.until):
        told.out_of_date(
            accept,
            f"`{accept.until[:40]}` is no date",
            "write the last day it holds for, as in `until 2027-03-31`",
        )
        whole = False
    elif accept.until and accept.until < now:
        told.out_of_date(
            accept,
            f"the accept of `{accept.rule}` ended on {accept.until}, so the finding counts again",
            "put the finding right, or decide anew and write another date",
        )
        whole = False
    return whole


def _mark(
    found: Finding, accepts: Iterable[Accept], scope: Scope, used: set[Accept], told: _Told
) -> Finding:
    for accept in accepts:
        if not _fits(accept, found, scope):
            continue
        used.add(accept)
        if accept.file != found.file and accept.file:
            told.went_along(accept, found)
        if found.grade == "ground" and not accept.until:
            told.out_of_date(
                accept,
                f"`{accept.rule}` is a `ground` finding here, and this accept has no date",
                "write until when somebody has decided to fly with it",
            )
        elif found.accepted is None:
            found = found._replace(
                accepted=Accepted(accept.reason, accept.by, accept.until, accept.span)
            )
    return found


def _fits(accept: Accept, found: Finding, scope: Scope) -> bool:
    span = found.span
    if accept.file and accept.file != found.file and not _was_renamed(accept, found, scope):
        return False
    if accept.craft and accept.craft != found.craft and not accept.print:
        return False
    if accept.note:
        return accept.reach == 0 or (span.file == accept.file and span.line == accept.reach)
    if accept.print not in ("", found.print, of_file(found.print, found.file)):
        return False
    if accept.line and fold(accept.line) != fold(_first_line(found)):
        return False
    where = (span.file, span.line)
    return not accept.setting or where in scope.places.get((found.file, accept.setting), ())


def _was_renamed(accept: Accept, found: Finding, scope: Scope) -> bool:
    """Whether a finding is the one that was accepted in a dump of another name: that dump is gone,
    or another craft's now, and only this one says that it is of the same craft, which is part of
    the fingerprint.
    """
    return (
        accept.print == found.print
        and _is_gone(accept, scope, scope.homes.get(found.file, ""))
        and not any(one.file == found.file for row in scope.twins.values() for one in row)
    )


def _is_gone(accept: Accept, scope: Scope, home: str = "") -> bool:
    """Whether the dump that an accept names is not there, or is not of the craft ``home``."""
    if accept.file not in scope.there:
        return accept.file != ""
    return home != "" and scope.homes.get(accept.file, home) != home


def _first_line(found: Finding) -> str:
    at = found.span.line - found.excerpt.first
    return found.excerpt.lines[at] if 0 <= at < len(found.excerpt.lines) else ""


def _is_stale(accept: Accept, outcomes: Iterable[Outcome], scope: Scope) -> bool:
    """Whether it is certain that an accept fits no finding.

    A rule that could not tell, crashed or did not run leaves that open.
    """
    of_craft = [one for one in scope.crafts if accept.craft in ("", one.name, one.home)]
    crafts = [(one.file, one.name) for one in of_craft if accept.file in ("", one.file)]
    if not crafts and accept.print:
        # The craft's dump may have another name now, which this run need not have looked at.
        crafts = [(one.file, one.name) for one in of_craft if accept.craft]
        if not scope.whole:
            return False
    if not crafts:
        return scope.whole or _is_gone(accept, scope)
    states = {(one.file, one.craft): one.state != "unknown" and not one.lacks for one in outcomes}
    return all(states.get(craft, False) for craft in crafts)


class _Told:
    """Findings about accepts, on their way to outcomes."""

    def __init__(self, crafts: Iterable[CraftLine]) -> None:
        self._names = {craft.file: craft.name for craft in crafts}
        self._found: dict[tuple[str, str, str], list[Finding]] = {}
        self._prints = Prints()
        #: Told beside the findings: no fault, but somebody should know.
        self.along: list[Aside] = []

    def no_rule(self, accept: Accept, rules: Sequence[Rule]) -> None:
        from cfglint.runner.select import near

        name = accept.rule[:60]
        if accept.rule in NEVER:
            message = f"`{name}` cannot be accepted: nobody knows what is on a line nobody can read"
            instead = "write the line anew, or delete it; and take this accept out"
        elif accept.rule.startswith(OWN):
            message = f"`{name}` cannot be accepted: an accept must be sound itself"
            instead = "put that accept right, and take this one out"
        elif not name:
            message, instead = "this accept names no rule", "write the name of the finding's rule"
        else:
            message = f"this accept is for the rule `{name}`, which there is not"
            instead = near(rules, accept.rule)
        self._add("unknown-rule", "fix", accept, message, instead)

    def no_reason(self, accept: Accept, what: str, instead: str) -> None:
        self._add("without-reason", "fix", accept, f"the accept of `{accept.rule}` {what}", instead)

    def out_of_date(self, accept: Accept, message: str, instead: str) -> None:
        self._add("out-of-date", "fix", accept, message, instead)

    def two_craft(self, accept: Accept, files: Sequence[str]) -> None:
        files = sorted(files)
        names = ", ".join(f"`{file}`" for file in files[:5]) + (", …" if len(files) > 5 else "")
        self._add(
            "two-craft",
            "fix",
            accept,
            f"{names} say that they are of the craft `{accept.craft}`, and this accept counts for "
            "none of them: nobody knows which was meant",
            "write `file` beside `craft`, or give the copy the name of its own craft",
        )

    def went_along(self, accept: Accept, found: Finding) -> None:
        self.along.append(
            Aside(
                f"`{accept.rule}`, accepted in `{accept.file}`, counts as accepted in "
                f"`{found.file}`, where that craft's dump is now",
                accept.span,
                found.rule,
            )
        )

    def nothing(self, accept: Accept) -> None:
        where = "the next line" if accept.note and accept.reach != 0 else "what it is for"
        if accept.note and accept.reach is None:
            where = "the end of the file, where no line follows"
        self._add(
            "matches-nothing",
            "advise",
            accept,
            f"`{accept.rule}` finds nothing at {where}, so this accept does nothing now and "
            "might hide a later fault",
            "take it out, or put it where the finding is",
        )

    def _add(self, rule: str, grade: Grade, accept: Accept, message: str, instead: str) -> None:
        rule = OWN + rule
        span = accept.span
        craft = self._names.get(accept.file, "") if accept.note else ""
        key = (rule, span.file, craft)
        group = self._found.setdefault(key, [])
        if any((one.span, one.message) == (span, message) for one in group):
            return
        group.append(
            Finding(
                span,
                message,
                instead,
                grade=grade,
                rule=rule,
                file=span.file,
                craft=craft,
                excerpt=Excerpt(span.line, (accept.text,)),
                print=self._prints.of(rule, span.file, accept.text),
            )
        )

    def outcomes(self) -> tuple[Outcome, ...]:
        return tuple(
            Outcome(rule, craft, "broken", tuple(group), file=file)
            for (rule, file, craft), group in self._found.items()
        )
