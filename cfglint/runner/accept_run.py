"""A run with its accepts applied."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.runner.accept import Scope, settle, today
from cfglint.runner.accept_rules import RULES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.results import CraftLine, Run
    from cfglint.rule import Rule
    from cfglint.runner.accept import Accept
    from cfglint.runner.check import Checked


def twins(crafts: Sequence[CraftLine]) -> dict[str, list[CraftLine]]:
    """The names that several dumps go by, each with these."""
    called: dict[str, list[CraftLine]] = {}
    for one in crafts:
        for name in dict.fromkeys((one.home, one.name)):
            called.setdefault(name, []).append(one)
    return {name: row for name, row in called.items() if len(row) > 1}


def with_accepts(
    run: Run,
    accepts: Sequence[Accept],
    rules: Sequence[Rule],
    checked: Sequence[Checked],
    *,
    whole: bool,
    crafts: Sequence[CraftLine],
    now: str = "",
) -> Run:
    """The run with accepted findings marked, and with what is wrong with the accepts.

    ``rules`` are all that are installed, applied or not; ``whole`` and ``now`` as in
    :class:`cfglint.runner.accept.Scope`; ``crafts`` are those of the hangar.  The engine's own
    rules join the run's only when they have something to say.
    """
    places: dict[tuple[str, str], list[tuple[str, int]]] = {}
    for one in checked:
        for setting, file, line in one.places if one.craft is not None else ():
            assert one.craft is not None
            places.setdefault((one.craft.file, setting), []).append((file, line))
    named = {accept.file for accept in accepts if accept.file}
    scope = Scope(
        rules,
        {rule.id for rule in run.rules},
        run.crafts,
        {file for file in named if os.path.lexists(os.path.join(run.root, file))},
        whole,
        places,
        now or today(),
        twins(crafts),
        {one.file: one.home for one in crafts},
    )
    settled = settle(accepts, run.verdicts, scope)
    told = {verdict.rule for verdict in settled.own}
    return run._replace(
        verdicts=(*settled.verdicts, *settled.own),
        aside=(*run.aside, *settled.aside),
        rules=(*run.rules, *(rule for rule in RULES if rule.id in told)),
    )
