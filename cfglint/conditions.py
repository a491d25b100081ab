"""Conditions on a craft that need no code: a subject, and tests of its value.

=====================  ======================================================================
subject                means
=====================  ======================================================================
``motor.idle_percent``  a setting, by its neutral name
``card.esc.signals``    a field of the hardware card
``mode.arm``            whether a mode has a range: the word ``set`` or ``absent``
``mode.arm.channel``    the channel that a mode's ranges are on
=====================  ======================================================================
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.card import FIELDS
from cfglint.craft.model import Missing, Value, show
from cfglint.craft.settings import MODES, SETTINGS, family
from cfglint.near import listing
from cfglint.rule import Put

if TYPE_CHECKING:
    from cfglint.craft import Craft
    from cfglint.span import Span

CARD, MODE, CHANNEL = "card.", "mode.", ".channel"
SET, ABSENT = "set", "absent"

#: What each test compares with: one value, a list of them, two numbers, one word of a list, a flag.
TESTS: dict[str, Literal["one", "list", "number", "pair", "word", "flag"]] = {
    "is": "one",
    "not": "one",
    "one_of": "list",
    "none_of": "list",
    "at_least": "number",
    "at_most": "number",
    "between": "pair",
    "holds": "word",
    "set": "flag",
}

#: Texts that are versions, and so have an order.
VERSIONS = ("craft.firmware", "card.esc.firmware")


class Subject(NamedTuple):
    """What a condition asks about: the kind of its value as in the settings table."""

    name: str
    kind: str
    words: tuple[str, ...]


class Test(NamedTuple):
    """One test of :data:`TESTS` and what it compares with."""

    verb: str
    value: Any


class Condition(NamedTuple):
    """All tests must be passed."""

    subject: Subject
    tests: tuple[Test, ...]


class Answer(NamedTuple):
    """What a condition came to; ``nothing`` where there is nothing to test.

    ``span`` is where to point, ``shown`` the value as a person reads it.
    """

    state: Literal["yes", "no", "nothing"]
    span: Span
    shown: str
    wanted: str


def subject(name: str) -> Subject:
    """The subject of a name.  Raises ValueError, saying in one clause what is wrong with it."""
    from cfglint.near import suggestion

    if name.startswith(MODE):
        mode, channel, more = name[len(MODE) :].partition(CHANNEL)
        if mode not in MODES or more:
            near = suggestion(mode, MODES)
            raise ValueError(f"names no mode; {near}")
        return Subject(name, "count" if channel else "word", () if channel else (SET, ABSENT))
    table: dict[str, Any] = FIELDS if name.startswith(CARD) else SETTINGS
    bare = name.removeprefix(CARD)
    row = table.get(family(bare))
    if row is None or "N" in bare.split("."):
        if row is not None:
            raise ValueError("names a family; write a number for `N`")
        names = [f"{CARD}{key}" for key in FIELDS]
        known = names if name.startswith(CARD) else [*SETTINGS, *names]
        known += [f"{MODE}{mode}" for mode in MODES]
        raise ValueError(f"is no setting, card field or mode; {suggestion(name, known)}")
    return Subject(name, row.kind, row.words)


def answer(craft: Craft, condition: Condition) -> Answer:
    """Ask a craft.  Raises Missing where nobody says what would settle it."""
    name = condition.subject.name
    wanted = " and ".join(told(name, test) for test in condition.tests)
    if name.startswith(MODE):
        return _of_mode(craft, condition, wanted)
    value = value_of(craft, name)
    asks_whether = next((test for test in condition.tests if test.verb == "set"), None)
    if not value.known and (asks_whether is None or not asks_whether.value):
        if asks_whether is not None:
            return Answer("yes", craft.whole, str(value), wanted)
        where = "card" if name.startswith(CARD) else "dump"
        raise Missing(value.name, where, "" if where == "dump" or craft.card else "it has no card")
    passed = value.known and all(
        _passes(craft, name, test, value.value) for test in condition.tests
    )
    return Answer("yes" if passed else "no", craft.place(value), str(value), wanted)


def value_of(craft: Craft, name: str) -> Value:
    """A setting or, after ``card.``, a field of the card."""
    if name.startswith(CARD):
        return craft.maybe_card(name[len(CARD) :])
    return craft.get(name)


def _of_mode(craft: Craft, condition: Condition, wanted: str) -> Answer:
    mode, channel, _ = condition.subject.name[len(MODE) :].partition(CHANNEL)
    rows = craft.ranges_of(mode)
    if not channel:
        shown = SET if rows else ABSENT
        passed = all(_plain(test, shown) for test in condition.tests)
        place = rows[0].span if rows else craft.whole
        return Answer("yes" if passed else "no", place, shown, wanted)
    if not rows:
        return Answer("nothing", craft.whole, ABSENT, wanted)
    for row in rows:
        if not all(_plain(test, row.channel) for test in condition.tests):
            return Answer("no", row.channel_span, str(row.channel), wanted)
    return Answer("yes", rows[0].channel_span, str(rows[0].channel), wanted)


def wanted_value(craft: Craft, condition: Condition) -> Put | None:
    """The nearest value that passes all tests, where a setting's tests leave no choice: one that it
    must be, or the end of the numbers that it may be.
    """
    name, kind, _ = condition.subject
    value = craft.get(name).value if not name.startswith((CARD, MODE, "craft.")) else None
    if value is None:
        return None
    new, least, most = value, None, None
    for verb, wanted in condition.tests:
        if verb == "is":
            new = wanted
            if kind == "words":
                new = frozenset(wanted if isinstance(wanted, list) else [wanted])
        elif verb in ("at_least", "at_most", "between"):
            low = wanted[0] if verb == "between" else wanted if verb == "at_least" else least
            high = wanted[1] if verb == "between" else wanted if verb == "at_most" else most
            least, most = low, high
            new = max(new, low) if low is not None else new
            new = min(new, high) if high is not None else new
        elif verb == "holds":
            new = frozenset({*new, wanted})
    if new == value or not all(_plain(test, new) for test in condition.tests):
        return None
    return Put(name, new, least, most)


def _passes(craft: Craft, name: str, test: Test, value: Any) -> bool:
    if name in VERSIONS and test.verb in ("at_least", "at_most", "between"):
        return _version(craft, name, test, value)
    return _plain(test, value)


def _plain(test: Test, value: Any) -> bool:
    verb, wanted = test
    if isinstance(value, frozenset):  # a list of words is compared whole, in any order
        if verb in ("is", "not"):
            wanted = frozenset(wanted if isinstance(wanted, list) else [wanted])
        elif verb in ("one_of", "none_of"):  # any word of the list is one of these
            return bool(value & frozenset(wanted)) == (verb == "one_of")
    match verb:
        case "is":
            return bool(value == wanted)
        case "not":
            return bool(value != wanted)
        case "one_of":
            return value in wanted
        case "none_of":
            return value not in wanted
        case "at_least":
            return bool(value >= wanted)
        case "at_most":
            return bool(value <= wanted)
        case "between":
            return bool(wanted[0] <= value <= wanted[1])
        case "holds":
            return wanted in value
    return bool(wanted)  # `set`: there is a value


def _version(craft: Craft, name: str, test: Test, value: Any) -> bool:
    from cfglint.facts.versions import compare

    order: Any = craft.traits.version_order
    if name.startswith(CARD):
        order = craft.from_card("esc.firmware_order").value
    try:
        if test.verb == "between":
            least, most = test.value
            return compare(least, value, order) <= 0 <= compare(most, value, order)
        found = compare(value, test.value, order)
    except ValueError:
        where = "card" if name.startswith(CARD) else "dump"
        raise Missing(name.removeprefix(CARD), where, f"`{value}` cannot be compared") from None
    return found >= 0 if test.verb == "at_least" else found <= 0


def told(name: str, test: Test) -> str:
    """What a test wants, as a person reads it: ``4.5 % or more``."""
    verb, wanted = test
    bare = name.removeprefix(CARD)

    def one(value: Any) -> str:
        return show(bare, value)

    match verb:
        case "is":
            return one(wanted)
        case "not":
            return f"anything but {one(wanted)}"
        case "one_of":
            return listing(map(one, wanted))
        case "none_of":
            return f"anything but {listing(map(one, wanted))}"
        case "at_least":
            return f"{one(wanted)} or more"
        case "at_most":
            return f"{one(wanted)} or less"
        case "between":
            return f"{one(wanted[0])} to {one(wanted[1])}"
        case "holds":
            return f"a list with {one(wanted)}"
    return "set" if wanted else "not set"
