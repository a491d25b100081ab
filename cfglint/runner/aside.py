"""What a run was told to leave out, or to take less seriously: whoever reads it must know."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.results import Aside
from cfglint.rule import GRADES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.craft import Craft
    from cfglint.rule import Rule
    from cfglint.runner.config import Config
    from cfglint.runner.select import Chosen


def of_run(
    rules: Sequence[Rule], chosen: Sequence[Chosen], config: Config | None, floor: str
) -> Iterator[Aside]:
    """The rules that are switched off or regraded, and a floor above the mildest grade.

    ``floor`` is what the command line says, ``""`` where it says none.
    """
    asked = {one.rule.id for one in chosen}
    for name, said in config.rules.items() if config is not None else ():
        rule = next((one for one in rules if name in (one.id, *one.aliases)), None)
        grade = said if isinstance(said, str) else said.get("grade", "")
        if rule is None or config is None:
            continue
        place = config.document.where("rules", name)
        if grade == "off" and rule.id not in asked:
            yield Aside(f"`{rule.id}` ({rule.grade}) is switched off", place, rule.id)
        elif grade not in ("", "off"):
            # It holds for all findings of the rule, those that have a grade of their own as well.
            own = f"not {rule.grade}" if grade != rule.grade else "whatever its findings would be"
            yield Aside(f"`{rule.id}` is graded {grade} here, {own}", place, rule.id)
        if grade != "off" and not isinstance(said, str):
            usual = {one.name: one.default for one in rule.options}
            for option, value in said.items():
                if option in usual and value != usual[option]:
                    other = usual[option]
                    other = f"{other:g}" if isinstance(other, float) else other
                    text = f"`{rule.id}` is asked with {option} = {value}, not {other}"
                    yield Aside(text, place, rule.id)
    mildest = floor or (config.floor if config is not None else "")
    if mildest and mildest != GRADES[-1]:
        below = " and ".join(GRADES[GRADES.index(mildest) + 1 :])
        span = config.where("lint", "floor") if not floor and config is not None else None
        said = f"the floor is {mildest}" + (" (--floor)" if floor else "")
        yield Aside(f"{said}: findings of grade {below} do not make this run fail", span)


def of_craft(craft: Craft) -> Iterator[Aside]:
    """Each line that sets something and that the dialect's ``ignored`` passes over."""
    for row in craft.unread:
        if row.mark is not None:
            yield Aside(f"`ignored` of the dialect passes over {row.text}", row.mark)
