"""Rules that compare craft: asked once every craft of the hangar has been read.

The fleet is the hangar: every dump that its ``[[dumps]]`` name, whichever of them the run is
about.  So a craft comes out the same whether it is checked alone or with all the others.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.results import Verdict
from cfglint.rule import FleetRule

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from cfglint.results import CraftLine
    from cfglint.rule import Finding, Outcome
    from cfglint.runner.check import Checked, Checker
    from cfglint.runner.discover import Dump, Finds
    from cfglint.runner.select import Chosen

#: Why a craft has nothing to be compared with.
NO_HANGAR = "no hangar says which craft make up the fleet"
NOT_OF_IT = "this dump is not of the hangar's fleet"


def divide(rules: Sequence[Chosen]) -> tuple[tuple[Chosen, ...], tuple[Chosen, ...]]:
    """Rules of single craft, and rules of the fleet."""
    own = tuple(one for one in rules if not isinstance(one.rule, FleetRule))
    return own, tuple(one for one in rules if isinstance(one.rule, FleetRule))


def check_fleet(
    checker: Checker,
    found: Finds,
    rules: Sequence[Chosen],
    check: Callable[[Sequence[Dump]], list[Checked]],
) -> tuple[list[Checked], list[CraftLine]]:
    """What each dump of a run came to, with the outcomes of fleet rules; and which craft the
    rest of the hangar's dumps are of.

    ``check`` checks several dumps.  The rest of the hangar is read too, and nothing is told of
    it but that it could not be read.
    """
    rest: tuple[Dump, ...] = ()
    if any(dump.entry is not None for dump in found.dumps):
        from cfglint.runner.discover import dumps_of

        assert found.config is not None
        asked = {dump.file for dump in found.dumps}
        rest = tuple(dump for dump in dumps_of(found.config) if dump.file not in asked)
        checker.asks = tuple(dict.fromkeys(ask for one in rules for ask in one.rule.asks))
        checker.read_only = frozenset(dump.file for dump in rest)
    checked = check((*found.dumps, *rest))
    asked_for = len(found.dumps)
    others = [one.craft for one in checked[asked_for:] if one.craft is not None]
    if not checker.asks:
        return [_left_out(one, rules, NO_HANGAR) for one in checked[:asked_for]], others
    return _compared(checker, (*found.dumps, *rest), checked, rules), others


def _left_out(one: Checked, rules: Sequence[Chosen], reason: str) -> Checked:
    """A craft that fleet rules have nothing to say about."""
    if one.craft is None:
        return one
    more = [
        Verdict(
            chosen.rule.id, one.craft.file, one.craft.name, "not for this craft", (), (), reason,
            one.whole, one.line_hash,
        )
        for chosen in rules
    ]  # fmt: skip
    return one._replace(verdicts=(*one.verdicts, *more))


def _compared(
    checker: Checker, dumps: Sequence[Dump], checked: Sequence[Checked], rules: Sequence[Chosen]
) -> list[Checked]:
    from cfglint.apart import Fault
    from cfglint.craft.fleet import Fleet, among, lean
    from cfglint.foreign import ask_all

    members = [one.lean for dump, one in zip(dumps, checked, strict=True) if dump.entry is not None]
    crafts = [craft for craft in members if craft is not None]
    places = {craft.file: at for at, craft in enumerate(crafts)}
    unread = [
        dump.file
        for dump, one in zip(dumps, checked, strict=True)
        if dump.entry is not None and one.lean is None
    ]
    files = {dump.file: dump for dump in dumps}
    shown = [Fleet([lean(craft, chosen.rule.asks) for craft in crafts]) for chosen in rules]
    wanted = [
        places.get(dump.file)
        if dump.entry is not None and one.craft is not None and dump.file not in checker.read_only
        else None
        for dump, one in zip(dumps, checked, strict=True)
    ]
    # All are asked together: the rules of others then need one process, in which what one craft
    # had worked out of the whole fleet serves the next.
    outcomes = ask_all(
        [
            (chosen.rule, among(fleet, at, chosen.rule.asks), chosen.options)
            for at in wanted
            if at is not None
            for chosen, fleet in zip(rules, shown, strict=True)
        ],
        checker.seconds,
    )
    whole: list[Checked] = []
    for dump, one, at in zip(dumps, checked, wanted, strict=True):
        if dump.file in checker.read_only:
            continue
        if at is None:
            whole.append(_left_out(one, rules, NOT_OF_IT))
            continue
        verdicts, troubles = list(one.verdicts), list(one.troubles)
        for chosen in rules:
            said = next(outcomes)
            try:
                if isinstance(said, Fault):
                    troubles.append(checker.crash(said, dump.file, chosen.rule.id))
                else:
                    said = _doubted(said, unread)
                    verdicts.append(_told(checker, dump, one, chosen, said, files))
            except Exception as wrong:  # its dump may have been taken away meanwhile
                troubles.append(checker.crash(wrong, dump.file, chosen.rule.id))
        whole.append(one._replace(verdicts=tuple(verdicts), troubles=tuple(troubles)))
    return whole


def _doubted(outcome: Outcome, unread: Sequence[str]) -> Outcome:
    """What holds among the craft that were read need not hold among all."""
    if outcome.state != "holds" or not unread:
        return outcome
    from cfglint.rule import Lack

    lacks = [Lack(file, "dump", f"`{file}`, which could not be read") for file in unread]
    return outcome._replace(state="unknown", lacks=tuple(lacks))


def _short(finding: Finding) -> Finding:
    """A finding that shows at most five other places, and says how many more there are."""
    from cfglint.craft.fleet import NAMED

    more = len(finding.related) - NAMED
    if more <= 0:
        return finding
    *few, last = finding.related[:NAMED]
    last = last._replace(message=f"{last.message} (and {more} more)")
    return finding._replace(related=(*few, last))


def _told(
    checker: Checker,
    dump: Dump,
    one: Checked,
    chosen: Chosen,
    outcome: Outcome,
    files: dict[str, Dump],
) -> Verdict:
    if outcome.findings and one.craft is not None:
        outcome = outcome._replace(findings=tuple(map(_short, outcome.findings)))
        return checker.told_of_fleet(dump, one.craft.home, outcome, chosen, files)
    craft = outcome.craft
    return Verdict(
        chosen.rule.id,
        craft.file,
        craft.name,
        outcome.state,
        (),
        outcome.lacks,
        outcome.reason,
        one.whole,
        one.line_hash,
        outcome.rests,
    )
