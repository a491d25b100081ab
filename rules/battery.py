"""The battery: how many cells of what kind, and the voltages at which the craft warns.

All voltages are for one cell.  First whether the three voltages make sense by themselves, then
whether they suit the cells, then whether the dump and the card speak of the same pack.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.cells import CELLS, cell_counts
from cfglint.rule import Finding, Option, Put, bad, good, not_for, rule, unknown

from ._reach import beside

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, Value
    from cfglint.facts.cells import Cell
    from cfglint.rule import Options

FULL, WARN, EMPTY = "battery.full_v", "battery.warn_v", "battery.empty_v"


# ---------------------------------------------------------------- the three voltages


@rule(
    "battery/voltages-out-of-order",
    grade="fix",
    title="Empty, warning and full in the wrong order",
    why="""
    A cell comes down from full past the warning to empty.  With the warning at or below empty the
    pilot hears nothing until it is too late; with it at or above full it sounds from take-off on
    and is soon ignored.
    """,
    source="common practice",
    examples=(
        good(
            """
            let cell-full be 4.2
            let cell-warn be 3.6
            let cell-empty be 3.35
            """
        ),
        good("-- board SLATE, firmware 7.9, changes only"),
        bad(
            """
            let cell-full be 4.2
            let cell-warn be 3.15
                             ^^^^ 3.15 3.25 empty
            let cell-empty be 3.25
            """
        ),
        bad(
            """
            let cell-full be 4.2
            let cell-warn be 4.3
                             ^^^ 4.3 4.2 full
            let cell-empty be 3.2
            """
        ),
        bad(
            """
            let cell-full be 3.1
            let cell-empty be 4.15
                              ^^^^ 4.15 3.1 empty full
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let cell-warn be 2.4
                             ^^^ 2.4 empty
            """
        ),
        unknown(
            """
            let cell-full be 4.2
            let cell-empty be 3.15
            """,
            missing="battery.warn_v",
        ),
    ),
)
def voltages_out_of_order(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Empty < warning < full, each pair by itself as far as it is known."""
    full, warn, empty = craft.get(FULL), craft.get(WARN), craft.get(EMPTY)
    yield from _gaps((full, warn, empty))
    if warn.known:
        if empty.known and warn.value <= empty.value:
            yield _swapped(
                craft,
                warn,
                empty,
                f"the warning comes at {warn}, not above empty at {empty}: "
                "there is no time left to land",
            )
        if full.known and warn.value >= full.value:
            yield _swapped(
                craft,
                warn,
                full,
                f"the warning comes at {warn}, not below full at {full}: "
                "it sounds from the start and says nothing",
            )
    elif full.known and empty.known and empty.value >= full.value:
        yield _swapped(
            craft,
            empty,
            full,
            f"an empty cell is put at {empty}, not below a full one at {full}: "
            "no charge can be told from these",
        )


def _gaps(values: Iterable[Value]) -> Iterator[Missing]:
    for value in values:
        if not value.known:
            yield Missing(value.name, "dump")


def _swapped(craft: Craft, one: Value, other: Value, message: str) -> Finding:
    # Point at the line that somebody wrote; the other may be a default.
    at, against = (one, other) if one.span is not None or other.span is None else (other, one)
    edits = _mended(craft, at.name)
    return Finding(
        craft.place(at),
        message,
        _say(edits) or "set them so that empty < warning < full, as suits the cells on board",
        beside(against, "against this"),
        edits=edits,
    )


def _mended(craft: Craft, name: str) -> tuple[Put, ...]:
    """The usual voltage of the chemistry for one of the three, and for the others where they would
    not be in order with it; nothing where no chemistry or no usual voltage is known.
    """
    try:
        cell, _ = _cell(craft)
    except Missing:
        return ()
    usual = {EMPTY: _empty(cell), WARN: cell.land_by_v, FULL: cell.full_v}
    new = {one: craft.get(one).value for one in usual if craft.get(one).known}
    puts: dict[str, Put] = {}
    for one in (name, *(other for other in usual if other != name)):
        better = usual[one]
        if better is None:
            return ()
        new[one] = better
        puts[one] = Put(one, better)
        rising = [new[each] for each in usual if each in new]
        if all(low < high for low, high in pairwise(rising)):
            return tuple(puts.values())
    return ()


def _empty(cell: Cell) -> float:
    return cell.under_load_v or cell.harm_from_v or cell.never_below_v


def _say(edits: tuple[Put, ...]) -> str:
    return "set " + " and ".join(f"{one.name} to {one.value:g} V" for one in edits) if edits else ""


# ---------------------------------------------------------------- against the chemistry


@rule(
    "battery/beyond-the-chemistry",
    grade="fix",
    title="A voltage that these cells do not have",
    why="""
    The voltages must be those of the cells on board.  With `full` above what the cells reach, or
    below what they have at half charge, the controller counts cells wrongly and every warning is
    off by a cell.  With `empty` below the floor the pack takes harm before the craft calls it
    empty; where cells of one kind differ in it, the rule merely points to their own sheet.  The
    bounds come from the chemistry on the card or, failing that, in the dump.
    """,
    source="{charger}; LiHV full also: {open-class}; Li-ion: {cell-inr}, {cell-icr}",
    options=(
        Option(
            "slack_v", 0.05, "how far above full a charger may end (V a cell)", least=0, most=0.5
        ),
    ),
    examples=(
        good(
            """
            let cell-kind be lipo
            let cell-full be 4.2
            let cell-empty be 3.2
            """
        ),
        good(
            """
            let cell-full be 4.2
            let cell-empty be 2.8
            """,
            card="""
            [battery]
            chemistry = "li-ion"
            """,
        ),
        bad(
            """
            let cell-kind be lipo
            let cell-full be 4.35
                             ^^^^ 4.35 LiPo 4.2
            let cell-empty be 3.15
            """
        ),
        bad(
            """
            let cell-full be 4.2
            let cell-empty be 2.8
                              ^^^ 2.8 LiPo 3 harm
            """,
            card="""
            [battery]
            chemistry = "lipo"
            """,
        ),
        # Cells of one kind differ in this.
        bad(
            """
            let cell-kind be li-ion
            let cell-full be 4.1
            let cell-empty be 2.6
                              ^^^ 2.6 Li-ion 2.5 2.75 sheet
            """
        ),
        bad(
            """
            let cell-kind be lihv
            let cell-full be 3.6
                             ^^^ 3.6 LiHV 3.8
            let cell-empty be 3.4
            """
        ),
        good(
            """
            let cell-kind be lipo
            let cell-full be 4.35
            let cell-empty be 3.25
            """,
            options={"slack_v": 0.2},
        ),
        unknown(
            """
            let cell-full be 4.2
            let cell-empty be 3.1
            """,
            missing="battery.chemistry",
        ),
        unknown(
            """
            let cell-kind be lipo
            let cell-full be 4.2
            """,
            missing="battery.empty_v",
        ),
    ),
)
def beyond_the_chemistry(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Full between nominal and full of the chemistry, empty at or above its floor."""
    full, empty = craft.get(FULL), craft.get(EMPTY)
    yield from _gaps((full, empty))
    cell, said = _cell(craft)
    slack = options.slack_v
    source = beside(said, "the chemistry")
    if full.known and full.value > cell.full_v + slack + 1e-9:
        yield Finding(
            craft.place(full),
            f"a full cell is put at {full}, but {cell.title} is full at {cell.full_v:g} V: "
            "cells are counted wrongly, and a cell charged so high is a fire risk",
            f"set {FULL} to {cell.full_v:g}, or correct the chemistry",
            source,
            edits=_mended(craft, FULL),
        )
    if full.known and full.value < cell.nominal_v:
        yield Finding(
            craft.place(full),
            f"a full cell is put at {full}, but {cell.title} has {cell.nominal_v:g} V when half "
            "empty: cells are counted wrongly, and every warning is off by a cell",
            f"set {FULL} to {cell.full_v:g}, or correct the chemistry",
            source,
            edits=_mended(craft, FULL),
        )
    enough = _empty(cell)
    if empty.known and empty.value < cell.never_below_v:
        yield Finding(
            craft.place(empty),
            f"a cell counts as empty at {empty}, but {cell.title} takes harm below "
            f"{cell.never_below_v:g} V: the pack is spoilt before the craft calls it empty",
            f"set {EMPTY} to {enough:g} or more",
            source,
            edits=_mended(craft, EMPTY),
        )
    elif empty.known and cell.harm_from_v is not None and empty.value < cell.harm_from_v:
        yield Finding(
            craft.place(empty),
            f"a cell counts as empty at {empty}, but the floor of {cell.title} is "
            f"{cell.never_below_v:g} to {cell.harm_from_v:g} V by the cell's own sheet: some are "
            "spoilt before the craft calls them empty",
            f"see the cell's sheet, or set {EMPTY} to {cell.harm_from_v:g} or more",
            source,
            grade="advise",
            edits=_mended(craft, EMPTY),
        )


@rule(
    "battery/warns-too-late",
    grade="advise",
    title="The warning comes below where one should land",
    why="""
    A warning is worth something while there is charge left to fly home and land on.  Cells also
    drop faster the emptier they are.
    """,
    source="common practice",
    examples=(
        good(
            """
            let cell-kind be lipo
            let cell-warn be 3.55
            """
        ),
        good(
            """
            let cell-kind be li-ion
            let cell-warn be 3.2
            """
        ),
        bad(
            """
            let cell-kind be lipo
            let cell-warn be 3.4
                             ^^^ 3.4 LiPo 3.5
            """
        ),
        bad(
            """
            let cell-warn be 3
                             ^ 3 Li-ion 3.1
            """,
            card="""
            [battery]
            chemistry = "li-ion"
            """,
        ),
        unknown("let cell-warn be 3.45", missing="battery.chemistry"),
        unknown("let cell-kind be lipo", missing="battery.warn_v"),
        not_for(
            """
            let cell-kind be life
            let cell-warn be 3
            """
        ),
    ),
)
def warns_too_late(craft: Craft, options: Options) -> Iterator[Finding]:
    """Warning at or above the voltage by which the chemistry should be landed."""
    warn = craft.need(WARN)
    cell, said = _cell(craft)
    if cell.land_by_v is None:
        raise NotForThisCraft(f"no usual voltage to land by is known for {cell.title}")
    if warn.value < cell.land_by_v:
        yield Finding(
            craft.place(warn),
            f"the warning comes at {warn}, but {cell.title} should be on the ground by "
            f"{cell.land_by_v:g} V: little is left to land on",
            f"set {WARN} to {cell.land_by_v:g} or more",
            beside(said, "the chemistry"),
            edits=_mended(craft, WARN),
        )


@rule(
    "battery/warns-too-early",
    grade="fix",
    title="The warning comes while the pack is still half full",
    why="""
    A warning that sounds soon after take-off, while cells are still above their nominal voltage,
    is soon taken for noise; when it comes to count, nobody listens.
    """,
    source="nominal voltages: {charger}; that a warning belongs below them: common practice",
    examples=(
        good(
            """
            let cell-kind be lipo
            let cell-warn be 3.55
            """
        ),
        bad(
            """
            let cell-kind be lipo
            let cell-warn be 4.05
                             ^^^^ 4.05 LiPo 3.7
            """
        ),
        bad(
            """
            let cell-warn be 3.5
                             ^^^ 3.5 LiFe 3.3
            """,
            card="""
            [battery]
            chemistry = "life"
            """,
        ),
        unknown("let cell-warn be 3.45", missing="battery.chemistry"),
        unknown("let cell-kind be lipo", missing="battery.warn_v"),
    ),
)
def warns_too_early(craft: Craft, options: Options) -> Iterator[Finding]:
    """Warning at or below the nominal voltage of the chemistry."""
    warn = craft.need(WARN)
    cell, said = _cell(craft)
    if warn.value > cell.nominal_v:
        least = cell.land_by_v or cell.never_below_v
        yield Finding(
            craft.place(warn),
            f"the warning comes at {warn}, but {cell.title} still has {cell.nominal_v:g} V when "
            "half empty: it sounds for most of a flight, and nobody listens when it counts",
            f"set {WARN} between {least:g} and {cell.nominal_v:g} V",
            beside(said, "the chemistry"),
            edits=_mended(craft, WARN),
        )


def _cell(craft: Craft) -> tuple[Cell, Value]:
    """The chemistry on board, and who said so: the card is nearer to the pack than the dump."""
    said = craft.maybe_card("battery.chemistry")
    if not said.known:
        said = craft.get("battery.chemistry")
    if not said.known:
        raise Missing("battery.chemistry", "card")
    return CELLS[said.value], said


# ---------------------------------------------------------------- dump against card


@rule(
    "battery/other-chemistry-on-board",
    grade="fix",
    title="Dump and card name different chemistries",
    why="""
    A LiHV or Li-ion pack handled by the voltages of another kind is called full when it is not,
    or empty when it is long past that.
    """,
    source="common practice",
    examples=(
        good(
            "let cell-kind be lipo",
            card="""
            [battery]
            chemistry = "lipo"
            """,
        ),
        bad(
            """
            let cell-kind be lipo
                             ^^^^ LiPo LiHV card
            """,
            card="""
            [battery]
            chemistry = "lihv"
            """,
        ),
        bad(
            """
            let cell-count be 4
            let cell-kind be li-ion
                             ^^^^^^ Li-ion LiFe
            """,
            card="""
            [battery]
            cells = 4
            chemistry = "life"
            """,
        ),
        unknown("let cell-kind be lipo", missing="battery.chemistry"),
        unknown(
            "let cell-count be 4",
            card="""
            [battery]
            chemistry = "lipo"
            """,
            missing="battery.chemistry",
        ),
    ),
)
def other_chemistry_on_board(craft: Craft, options: Options) -> Iterator[Finding]:
    """The dump's chemistry must be the card's."""
    dumped = craft.need("battery.chemistry")
    fitted = craft.from_card("battery.chemistry")
    if dumped.value != fitted.value:
        yield Finding(
            craft.place(dumped),
            f"the cells are set to {CELLS[dumped.value].title}, but the card says "
            f"{CELLS[fitted.value].title}: every threshold is then that of another cell",
            f"set battery.chemistry to {fitted.value}, with its voltages, or correct the card",
            beside(fitted, "the card's chemistry"),
            edits=(Put("battery.chemistry", fitted.value),),
        )


@rule(
    "battery/other-cell-count-on-board",
    grade="ground",
    title="Dump and card count different numbers of cells",
    why="""
    The controller divides the pack's voltage by its number of cells.  Told too few, it sees cells
    that never get empty, and the first warning is the fall; told too many, it warns without pause.
    """,
    source="by arithmetic",
    examples=(
        good(
            "let cell-count be 4",
            card="""
            [battery]
            cells = 4
            """,
        ),
        bad(
            """
            let cell-count be 3
                              ^ 3 4 never warns
            """,
            card="""
            [battery]
            cells = 4
            """,
        ),
        bad(
            """
            let cell-count be 6
                              ^ 6 4 warns
            """,
            card="""
            [battery]
            cells = 4
            """,
        ),
        unknown("let cell-count be 4", missing="battery.cells"),
        unknown(
            "let cell-kind be lipo",
            card="""
            [battery]
            cells = 4
            """,
            missing="battery.cells",
        ),
        not_for(
            "let cell-count be 0",
            card="""
            [battery]
            cells = 4
            """,
        ),
    ),
)
def other_cell_count_on_board(craft: Craft, options: Options) -> Iterator[Finding]:
    """A fixed number of cells must be the card's."""
    counted = craft.need("battery.cells")
    if counted.value == 0:
        raise NotForThisCraft("the cells are counted at power-up")
    fitted = craft.from_card("battery.cells")
    if counted.value == fitted.value:
        return
    if counted.value < fitted.value:
        harm = "each cell is taken for fuller than it is, and the craft never warns in time"
    else:
        harm = "each cell is taken for emptier than it is, and the craft warns from the start"
    yield Finding(
        craft.place(counted),
        f"the pack is set to {counted}, but the card says {fitted}: {harm}",
        f"set battery.cells to {fitted.value}, or correct the card",
        beside(fitted, "the card's number of cells"),
        edits=(Put("battery.cells", fitted.value),),
    )


@rule(
    "battery/count-is-a-guess",
    grade="advise",
    title="The number of cells is guessed from the voltage",
    why="""
    A controller that counts cells at power-up divides the voltage by that of a full cell.  Some
    voltages fit two packs: 12.6 V is three full LiPo cells or four that are nearly empty.  Where
    the card knows the number, the controller can be told it; else a pilot can only check what the
    craft made of it.
    """,
    source="by arithmetic, from full and floor of the chemistry (battery/beyond-the-chemistry)",
    examples=(
        good("let cell-count be 4"),
        bad(
            """
            let cell-count be 0
                              ^ guesses card 5
            """,
            card="""
            [battery]
            cells = 5
            """,
        ),
        bad(
            """
            let cell-count be 0
                              ^ 12.6 3 4 LiPo 3.15
            let cell-kind be lipo
            """
        ),
        bad(
            """
            let cell-count be 0
                              ^ 8.4 2 3 Li-ion 2.8
            """,
            card="""
            [battery]
            chemistry = "li-ion"
            """,
        ),
        unknown("let cell-count be 0", missing="battery.chemistry"),
        unknown("let cell-kind be lipo", missing="battery.cells"),
    ),
)
def count_is_a_guess(craft: Craft, options: Options) -> Iterator[Finding]:
    """The number of cells is fixed."""
    counted = craft.need("battery.cells")
    if counted.value != 0:
        return
    fitted = craft.maybe_card("battery.cells")
    if fitted.known:
        yield Finding(
            craft.place(counted),
            f"the craft guesses at power-up how many cells there are, but the card knows: "
            f"{fitted.value}. A pack that is not full may be taken for one of fewer cells, and no "
            "warning comes in time",
            f"set battery.cells to {fitted.value}",
            beside(fitted, "the card's number of cells"),
            edits=(Put("battery.cells", fitted.value),),
        )
        return
    cell, _ = _cell(craft)
    volts, few, many = _first_doubt(cell)
    yield Finding(
        craft.place(counted),
        f"the cells are counted at power-up, and {volts:g} V is {few} {cell.title} cells full or "
        f"{many} at {volts / many:.3g} V: one cell too few, and no warning comes in time",
        "set battery.cells to the number on board, or write it in the card "
        "(cells under [battery]) so that it can be checked",
        by="card",
    )


def _first_doubt(cell: Cell) -> tuple[float, int, int]:
    """The smallest full pack that could also be a pack of one more cell: volts, both counts."""
    few = 1
    while few + 1 not in cell_counts(cell.id, few * cell.full_v):
        few += 1
    return round(few * cell.full_v, 3), few, few + 1
