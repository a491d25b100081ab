"""The craft: one aircraft's setup in neutral words, every value with the place it came from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.settings import setting
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from typing import NoReturn, TypeVar

    from cfglint.craft.card import Card

    Rows = TypeVar("Rows")

Origin = Literal["set", "default", "missing"]


class Missing(Exception):  # noqa: N818  (it is a fact that is missing, not an error)
    """A rule could not tell: ``fact`` names the setting or card field that would settle it.

    ``where`` says where to write it: ``dump``, ``card`` or ``dialect``.
    """

    def __init__(self, fact: str, where: str, hint: str = "") -> None:
        super().__init__(fact)
        self.fact = fact
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        place = {"dump": "the dump", "card": "the hardware card", "dialect": "the dialect file"}
        text = f"`{self.fact}` in {place.get(self.where, self.where)}"
        return f"{text} ({self.hint})" if self.hint else text


class NotForThisCraft(Exception):  # noqa: N818
    """A rule has nothing to say about this craft; the text says why."""


class Value(NamedTuple):
    """One setting's value: typed, with where it came from and as it was written.

    ``origin`` is ``set`` (a line says so), ``default`` (the dialect says what holds when no
    line does) or ``missing`` (nobody says; ``value`` is None).  ``span`` covers the value's
    own characters, ``line_span`` the whole statement; both are None unless it was set.
    ``sure`` is False where the dialect marks the mapping unconfirmed.
    """

    name: str
    value: Any
    origin: Origin
    span: Span | None = None
    line_span: Span | None = None
    written: str = ""
    sure: bool = True

    @property
    def known(self) -> bool:
        return self.origin != "missing"

    def __str__(self) -> str:
        return show(self.name, self.value)


def show(name: str, value: Any) -> str:
    """A value as a person reads it: ``4 V``, ``yes``, ``dshot600``."""
    if value is None:
        return "not set"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, frozenset | set | tuple | list):
        return ", ".join(sorted(str(item) for item in value)) or "nothing"
    if isinstance(value, int | float):
        try:
            unit = setting(name).unit
        except KeyError:
            unit = ""
        joint = "" if unit in ("", "%") else " "
        return f"{value:g}{joint}{unit}" if abs(value) < 1e5 else f"{value:.0f}{joint}{unit}"
    return str(value)


class ModeRange(NamedTuple):
    """A mode is on while ``channel`` (from 1) lies between ``low_us`` and ``high_us``.

    The low end belongs to the range; whether the high end does is ``Traits.range_ends``.
    ``join`` says how this range combines with the same mode's others: a mode is on when all
    its ``all`` ranges hold or, failing that, any of its ``any`` ranges does.  With no ``all``
    range only the ``any`` ranges count, and the other way round.  ``sure`` is False where the
    dialect marks the line, the mode's word or another part of it unconfirmed.
    """

    mode: str
    channel: int
    low_us: float
    high_us: float
    join: Literal["any", "all"]
    span: Span
    channel_span: Span
    low_span: Span
    high_span: Span
    sure: bool = True


class ModeLink(NamedTuple):
    """``mode`` is on (also) whenever the mode ``follows`` is on; ``sure`` as for ranges."""

    mode: str
    follows: str
    join: Literal["any", "all"]
    span: Span
    sure: bool = True


class Port(NamedTuple):
    """One serial port as configured."""

    number: int
    functions: Value
    baud: Value
    inverted: Value
    half_duplex: Value


class Repeat(NamedTuple):
    """One setting was given twice with different values; the later one counts."""

    earlier: Value
    later: Value


class Stray(NamedTuple):
    """A readable line that the dialect has no meaning for, with the nearest name it has.

    ``lacks`` is what one that breaks off would need to mean something.
    """

    span: Span
    name_span: Span
    name: str
    nearest: str
    lacks: str = ""


class Misread(NamedTuple):
    """A known setting whose value could not be understood; ``valid`` says what could be."""

    name: str
    span: Span
    line_span: Span
    written: str
    valid: str
    nearest: str


class Refusal(NamedTuple):
    """The controller said it did not take a line; ``cause`` is that line where it stands."""

    span: Span
    reason: str
    cause: Span | None
    cause_text: str


class Unreadable(NamedTuple):
    """A line that is no statement of the dialect's shape, and why."""

    span: Span
    why: str


#: In ``Unread.names``: anything that a dump says.
EVERYTHING = "*"


class Unread(NamedTuple):
    """Something that was not read, or is not there though it should be, and what it may be about.

    ``names`` are settings (``port.3.functions``, or a family), ``range``, ``link``, or
    :data:`EVERYTHING`.  A rule that looks at one of them cannot tell: ``fact`` would settle it,
    ``where`` is where to write it, ``text`` says it in a sentence.  What is only ``guessed`` to be
    about a setting counts where no line says what that setting is.  ``mark`` is where the dialect
    file says to pass the line over, if it does.
    """

    names: frozenset[str]
    fact: str
    where: str
    text: str
    span: Span | None = None
    guessed: bool = False
    mark: Span | None = None


class Traits(NamedTuple):
    """How the firmware behaves, as the dialect file says for this version (None: not said)."""

    range_ends: Literal["half-open", "closed"] | None = None
    inversion: Literal["absolute", "relative"] | None = None
    arm_needs_permit: bool | None = None
    arm_needs_low_throttle: bool | None = None
    version_order: Literal["dotted", "decimal"] = "dotted"
    #: Without an arm range the craft arms by the position of the sticks.
    arm_by_sticks: bool | None = None


class Listing(NamedTuple):
    """How whole a dump is as a listing of its controller.

    ``named``: it says of which controller it is, so it is no excerpt.  ``save`` is the line that
    makes the controller keep what was entered, ``""`` where the dialect knows none; ``unsaved``
    the first line that sets anything after the last of them (None: none does).  ``counts`` says
    how many there are of each family (``channel.N.low_us``), as far as the dialect does.
    ``unclosed`` are the sections that are open when the dump ends, outermost first.
    """

    named: bool = False
    save: str = ""
    saved: bool = False
    unsaved: Span | None = None
    counts: Mapping[str, int] = {}
    unclosed: tuple[Span, ...] = ()


def unwatched(rows: Rows) -> Rows:
    """A craft's ranges, links or values without any note of what is looked at in them.

    For helpers that go through all of them to prepare answers about a few, and then look at
    those few: see :mod:`cfglint.craft.unsure`.
    """
    plain: Rows = getattr(rows, "unwatched", rows)
    return plain


class Fixed(dict[str, Any]):
    """Settings by name.  They cannot be changed: many rules look at the same craft."""

    def _refuse(self, *_: object, **__: object) -> NoReturn:
        raise TypeError("the values of a craft cannot be changed")

    __setitem__ = __delitem__ = __ior__ = update = setdefault = _refuse
    pop = popitem = clear = _refuse

    def __reduce__(self) -> tuple[type[Fixed], tuple[dict[str, Any]]]:
        return Fixed, (dict(self),)


def slots_of(thing: object) -> Iterator[str]:
    """The names of all that a slotted thing holds."""
    for kind in type(thing).__mro__:
        yield from getattr(kind, "__slots__", ())


class Craft:
    """One aircraft's setup.  Rules only read it; nothing in it changes after it is made.

    ``whole`` is the span to point at when the trouble is that a line is absent: the line that
    names the board or, failing that, the dump's first line.  ``others`` are the fleet's other
    craft, and only fleet rules are shown any.

    ``unsure`` names what the dialect marks unconfirmed, whether or not the dump has it: settings
    (``motor.signal``, a family as ``port.N.functions``), ``mode arm``, ``trait inversion``, and
    ``range`` and ``link`` for the lines of mode ranges and links, ``kept`` where nobody has
    confirmed that what the dialect leaves out has no meaning.  A rule that is asked of such
    a craft is watched: :func:`cfglint.craft.unsure.watched`.

    ``unmapped`` names, in the same way, what the dialect has no line (or, of a mode, no word)
    for: that such a thing is absent says nothing.

    ``unread`` is what was not read, with all that it may be about: a rule that looks at any of it
    is watched, too, and cannot tell.  ``outside`` holds the versions that the dialect describes,
    where the craft's firmware is none of them.

    ``drawn`` are ranges of modes without a neutral meaning, to be shown by their own words: a
    firmware's own, or ``? `` and a word that the dialect does not know.
    """

    __slots__ = (
        "card",
        "dialect",
        "drawn",
        "extent",
        "file",
        "lines",
        "listing",
        "misread",
        "mode_links",
        "mode_ranges",
        "name",
        "others",
        "outside",
        "refusals",
        "repeats",
        "strays",
        "traits",
        "unmapped",
        "unread",
        "unreadable",
        "unsure",
        "values",
        "whole",
    )

    file: str
    name: str
    dialect: str
    extent: Literal["full", "changes"]
    whole: Span
    values: Mapping[str, Value]
    mode_ranges: tuple[ModeRange, ...]
    mode_links: tuple[ModeLink, ...]
    traits: Traits
    repeats: tuple[Repeat, ...]
    strays: tuple[Stray, ...]
    misread: tuple[Misread, ...]
    refusals: tuple[Refusal, ...]
    unreadable: tuple[Unreadable, ...]
    card: Card | None
    lines: int
    others: Sequence[Craft]
    unsure: frozenset[str]
    unmapped: frozenset[str]
    unread: tuple[Unread, ...]
    outside: str
    drawn: tuple[ModeRange, ...]
    listing: Listing

    def __init__(
        self,
        *,
        file: str,
        name: str,
        dialect: str,
        extent: Literal["full", "changes"],
        whole: Span,
        values: Mapping[str, Value],
        mode_ranges: tuple[ModeRange, ...] = (),
        mode_links: tuple[ModeLink, ...] = (),
        traits: Traits = Traits(),  # noqa: B008  (immutable)
        repeats: tuple[Repeat, ...] = (),
        strays: tuple[Stray, ...] = (),
        misread: tuple[Misread, ...] = (),
        refusals: tuple[Refusal, ...] = (),
        unreadable: tuple[Unreadable, ...] = (),
        card: Card | None = None,
        lines: int = 0,
        others: Sequence[Craft] = (),
        unsure: frozenset[str] = frozenset(),
        unmapped: frozenset[str] = frozenset(),
        unread: tuple[Unread, ...] = (),
        outside: str = "",
        drawn: tuple[ModeRange, ...] = (),
        listing: Listing = Listing(),  # noqa: B008  (immutable)
    ) -> None:
        put = object.__setattr__
        put(self, "file", file)
        put(self, "name", name)
        put(self, "dialect", dialect)
        put(self, "extent", extent)
        put(self, "whole", whole)
        put(self, "values", Fixed(values))
        put(self, "mode_ranges", mode_ranges)
        put(self, "mode_links", mode_links)
        put(self, "traits", traits)
        put(self, "repeats", repeats)
        put(self, "strays", strays)
        put(self, "misread", misread)
        put(self, "refusals", refusals)
        put(self, "unreadable", unreadable)
        put(self, "card", card)
        put(self, "lines", lines)
        put(self, "others", others)
        put(self, "unsure", unsure)
        put(self, "unmapped", unmapped)
        put(self, "unread", unread)
        put(self, "outside", outside)
        put(self, "drawn", drawn)
        put(self, "listing", listing)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a craft cannot be changed (`{name}`)")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"a craft cannot be changed (`{name}`)")

    def __setstate__(self, state: tuple[Any, dict[str, Any]]) -> None:
        """As it was before it was copied, or handed from one process to another."""
        for name, value in state[1].items():
            object.__setattr__(self, name, value)

    def changed(self, **parts: Any) -> Craft:
        """A craft that is another in these parts."""
        made = object.__new__(type(self))
        for name in slots_of(self):
            value = parts[name] if name in parts else getattr(self, name)
            object.__setattr__(made, name, value)
        return made

    def get(self, name: str) -> Value:
        """The value of a setting; one of origin ``missing`` when nobody says."""
        found = self.values.get(name)
        return found if found is not None else Value(name, None, "missing")

    def need(self, name: str) -> Value:
        """The value of a setting; raises Missing when nobody says what it is."""
        found = self.values.get(name)
        if found is None:
            raise Missing(name, "dump")
        return found

    def from_card(self, field: str) -> Value:
        """A field of the hardware card; raises Missing without a card or without the field."""
        if self.card is None:
            raise Missing(field, "card", "this craft has no card")
        return self.card.need(field)

    def maybe_card(self, field: str) -> Value:
        """A field of the hardware card; one of origin ``missing`` when nobody says."""
        if self.card is None:
            return Value(field, None, "missing")
        return self.card.get(field)

    def trait(self, name: str) -> Any:
        """A trait of the firmware; raises Missing where the dialect file does not say."""
        found = getattr(self.traits, name)
        if found is None:
            raise Missing(f"traits.{name}", "dialect")
        return found

    def place(self, value: Value) -> Span:
        """Where to point for a value: its own characters, or the craft as a whole."""
        return value.span or self.whole

    def unread_modes(self) -> tuple[Unread, ...]:
        """What was not read and may be a mode's range or link."""
        about = {"range", "link", EVERYTHING}
        return tuple([row for row in self.unread if not about.isdisjoint(row.names)])

    def ranges_of(self, mode: str) -> tuple[ModeRange, ...]:
        return tuple(row for row in self.mode_ranges if row.mode == mode)

    def numbered(self, prefix: str) -> list[int]:
        """The numbers N for which any ``prefix.N…`` setting is known, in order."""
        start = prefix + "."
        values = unwatched(self.values)
        names = [name for name in values if name.startswith(start)]
        found = {name[len(start) :].split(".")[0] for name in names}
        if values is not self.values:
            from cfglint.craft.unsure import look_at_numbers

            look_at_numbers(self, start, names)
        return sorted(int(number) for number in found if number.isdigit())

    def ports(self) -> list[Port]:
        """Every port that the dump (or the dialect's defaults) speaks of, in order."""
        if unwatched(self.values) is not self.values:
            from cfglint.craft.unsure import watched_port

            return [watched_port(self, number) for number in self.numbered("port")]
        return [
            Port(
                number,
                self.get(f"port.{number}.functions"),
                self.get(f"port.{number}.baud"),
                self.get(f"port.{number}.inverted"),
                self.get(f"port.{number}.half_duplex"),
            )
            for number in self.numbered("port")
        ]
