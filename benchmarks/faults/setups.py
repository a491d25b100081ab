"""The demo fleet's sound craft as plain data, written in any bundled dialect and judged."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import cfglint_rules
from cfglint.craft import Craft, ModeLink, ModeRange, Value
from cfglint.craft.cards import read_card
from cfglint.dialect import bundled, read_craft
from cfglint.dialect.writing import write_lines
from cfglint.dump.source import Source
from cfglint.rule import FleetRule, Options, Outcome, judge
from cfglint.span import Span
from cfglint.tomlwrite import key, value

if TYPE_CHECKING:
    from cfglint.rule import Rule

FLEET = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh"
SOUND = ("avocet", "bittern", "curlew", "egret", "godwit", "plover")
#: The version that each dialect is written in: its first, whose words need no renaming.
VERSIONS = {"plain": "7.9", "terse": "2.57", "blocks": "5.6", "nested": "11", "tables": "7.2"}
_NOWHERE = Span("written", 1, 1, 1, 1)
_FOUR = (_NOWHERE, _NOWHERE, _NOWHERE, _NOWHERE)


class Range(NamedTuple):
    mode: str
    channel: int
    low: float
    high: float
    join: Literal["any", "all"] = "any"


class Setup:
    """One craft as plain data: settings by neutral name, mode ranges, links, and its card.

    ``values`` are what lines set, ``defaults`` what holds without a line.
    """

    def __init__(
        self,
        craft: str,
        dialect: str,
        version: str,
        extent: Literal["full", "changes"],
        values: dict[str, Any],
        ranges: list[Range],
        links: list[tuple[str, str]],
        card: dict[str, Any],
        defaults: dict[str, Any],
    ) -> None:
        self.craft = craft
        self.dialect = dialect
        self.version = version
        self.extent: Literal["full", "changes"] = extent
        self.values = values
        self.ranges = ranges
        self.links = links
        self.card = card
        self.defaults = defaults

    def copy(self) -> Setup:
        return Setup(
            self.craft, self.dialect, self.version, self.extent, dict(self.values),
            list(self.ranges), list(self.links), deepcopy(self.card),
            self.defaults,
        )  # fmt: skip

    def get(self, name: str) -> Any:
        """What the craft has, None where nobody says."""
        return self.values.get(name, self.defaults.get(name))

    def numbers(self, family: str) -> list[int]:
        """The numbers N of a family that are known."""
        head, rest = family.split("N", 1)
        return sorted(
            int(name[len(head) : len(name) - len(rest)])
            for name in {*self.values, *self.defaults}
            if name.startswith(head)
            and name.endswith(rest)
            and name[len(head) : len(name) - len(rest)].isdigit()
        )

    def fact(self, field: str) -> Any:
        """A field of the card, None where it does not say."""
        found: Any = self.card
        for part in field.split("."):
            found = found.get(part) if isinstance(found, dict) else None
        return found

    def tell(self, field: str, fact: Any) -> None:
        """Write a field of the card."""
        *heads, last = field.split(".")
        table = self.card
        for part in heads:
            table = table.setdefault(part, {})
        table[last] = fact

    def channels_of(self, mode: str) -> list[int]:
        return [row.channel for row in self.ranges if row.mode == mode]

    @property
    def needs_permit(self) -> bool:
        return bool(bundled(self.dialect).at(self.version).traits.arm_needs_permit)

    def switch(self, channel: int) -> dict[str, Any] | None:
        rows: list[dict[str, Any]] = self.card.get("switch", [])
        return next((row for row in rows if row["channel"] == channel), None)

    # -- as files ----------------------------------------------------------------------------

    def card_text(self) -> str:
        return "".join(f"{key(name)} = {value(item)}\n" for name, item in self.card.items())

    def dump(self) -> tuple[str, tuple[str, ...]]:
        """The dump, and what the dialect cannot say of it."""
        craft = Craft(
            file="written",
            name=self.craft,
            dialect=self.dialect,
            extent=self.extent,
            whole=_NOWHERE,
            values={name: Value(name, one, "set") for name, one in self.values.items()},
            mode_ranges=tuple(
                ModeRange(*row, _NOWHERE, _NOWHERE, _NOWHERE, _NOWHERE) for row in self.ranges
            ),
            mode_links=tuple(ModeLink(*row, "any", _NOWHERE) for row in self.links),
        )
        dialect = bundled(self.dialect)
        written = write_lines(craft, dialect, self.version)
        save = dialect.mark("save")
        return "\n".join((*written.lines, *filter(None, [save]), "")), written.unwritten

    def read(self, dump: str) -> Craft:
        card = read_card("card.toml", self.card_text().encode())
        source = Source.from_text(f"{self.craft}.dump.txt", dump)
        return read_craft(source, bundled(self.dialect), card=card, name=self.craft)


class Change(NamedTuple):
    """One change of a sound craft.

    ``what`` is the setting's or field's family it is about; ``meant`` are the rules that mean to
    catch it (``*``: any does), ``also`` others whose saying so is as good; without either it does
    no harm.  ``make`` changes the craft, ``edit`` the text of its dump.  ``says`` is what the dump
    must be read as afterwards: else the dialect cannot write the change.  ``options`` are a
    club's own for a rule: id, option, value.
    """

    what: str
    title: str
    make: Callable[[Setup], object] = lambda setup: None
    meant: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    says: tuple[tuple[str, Any], ...] = ()
    edit: Callable[[str], str] = lambda text: text
    #: What a club has set for a rule: option → value.
    options: tuple[tuple[str, str, Any], ...] = ()


def seen(setup: Setup, channel: int, pulse: float) -> float:
    """An arriving pulse after the channel's calibration."""
    low, mid, high = (
        setup.get(f"channel.{channel}.{end}_us") or usual
        for end, usual in (("low", 1000), ("mid", 1500), ("high", 2000))
    )
    end, nominal = (low, -500) if pulse < mid else (high, 500)
    return float(1500 + (pulse - mid) * nominal / (end - mid))


def sent(setup: Setup, channel: int, value: float) -> float:
    """The arriving pulse that a channel's calibration makes a value of."""
    low, mid, high = (seen(setup, channel, pulse) for pulse in (1000.0, 1500.0, 2000.0))
    a, b, x, y = (low, mid, 1000.0, 1500.0) if value < mid else (mid, high, 1500.0, 2000.0)
    return x + (value - a) * (y - x) / (b - a)


@cache
def rules() -> tuple[tuple[Rule, Options], ...]:
    return tuple(
        (rule, Options({option.name: option.default for option in rule.options}))
        for rule in cfglint_rules.cfglint_rules()
        if not isinstance(rule, FleetRule)
    )


def judged(craft: Craft, options: tuple[tuple[str, str, Any], ...] = ()) -> dict[str, Outcome]:
    """What every rule about single craft says, with its usual options but for those named."""
    said = {rule.id: judge(rule, craft, usual) for rule, usual in rules()}
    for rule, usual in rules() if options else ():
        own = {name: value for id_, name, value in options if id_ == rule.id}
        if own:
            every = {option.name: getattr(usual, option.name) for option in rule.options}
            said[rule.id] = judge(rule, craft, Options(every | own))
    return said


@cache
def _base(name: str, dialect: str) -> Setup:
    dump = (FLEET / "dumps" / f"{name}.dump.txt").read_text(encoding="utf-8")
    text = (FLEET / "cards" / f"{name}.toml").read_text(encoding="utf-8")
    source = Source.from_text(f"{name}.dump.txt", dump)
    own = next(one for one in VERSIONS if _reads(one, source))
    craft = read_craft(source, bundled(own), name=name.capitalize())
    at_home = dialect == own
    setup = Setup(
        name.capitalize(),
        dialect,
        str(craft.get("craft.firmware").value) if at_home else VERSIONS[dialect],
        craft.extent if at_home else "full",
        {
            one.name: one.value
            for one in craft.values.values()
            if one.origin == "set" or not at_home
        },
        [Range(*row[:5]) for row in craft.mode_ranges],
        [(row.mode, row.follows) for row in craft.mode_links],
        tomllib.loads(text),
        {one.name: one.value for one in craft.values.values() if one.origin == "default"},
    )
    return setup if at_home else _at_home(setup)


def _reads(dialect: str, source: Source) -> bool:
    from cfglint.dialect.identify import identify

    return identify(bundled(dialect), source).line is not None


#: What is written instead of a figure that a dialect has no room for.
ROUND = {"loop.rate_hz": 2500.0}


def _at_home(setup: Setup) -> Setup:
    """A craft moved to another firmware: what that rounds, lacks and asks for besides."""
    setup.defaults = {}
    counts = bundled(setup.dialect).at(setup.version).counts()
    for whole, many in counts.items():
        there = setup.numbers(whole)
        for number in range(1, many + 1) if there else ():
            name = whole.replace("N", str(number))
            last = setup.values[whole.replace("N", str(there[-1]))]
            usual = {frozenset: frozenset(), bool: False}.get(type(last), last)
            # The channels that a listing of changes leaves out are like the last that it has.
            if name not in setup.values or (whole.startswith("channel.") and number > 12):
                setup.values[name] = (
                    usual
                    if whole.startswith("port.")
                    else setup.values.get(whole.replace("N", "12"), last)
                )
    for number in setup.numbers("port.N.functions"):
        # A row of a port says all of it at once in some dialects.
        for what, usual in (("baud", 115200.0), ("inverted", False), ("half_duplex", False)):
            setup.values.setdefault(f"port.{number}.{what}", usual)
    for name in setup.dump()[1]:
        if name in ROUND:
            setup.values[name] = ROUND[name]
        elif name.endswith(".functions"):
            # A dialect without a word for what is on a port: nothing is on it, then.
            setup.values[name] = frozenset()
            setup.card.get("port", {}).pop(name.split(".")[1], None)
    craft = setup.read(setup.dump()[0])
    setup.values = {one.name: one.value for one in craft.values.values() if one.origin == "set"}
    setup.defaults = {
        one.name: one.value for one in craft.values.values() if one.origin == "default"
    }
    setup.ranges = [Range(*row[:5]) for row in craft.mode_ranges]
    setup.links = [(row.mode, row.follows) for row in craft.mode_links]
    if craft.traits.arm_needs_permit and not setup.channels_of("arm-permit"):
        taken = {row.channel for row in setup.ranges} | {
            row["channel"] for row in setup.card["switch"]
        }
        free = min({*range(5, 17)} - taken)
        arm = next(row for row in setup.ranges if row.mode == "arm")
        like = setup.switch(arm.channel)
        assert like is not None
        setup.ranges.append(arm._replace(mode="arm-permit", channel=free))
        setup.card["switch"].append({**like, "channel": free, "name": "permit"})
    for flag in ("receiver.inverted",):
        if judged(setup.read(setup.dump()[0]))["receiver/inversion-not-normal"].findings:
            setup.values[flag] = not setup.get(flag)
    return setup


def base(name: str, dialect: str) -> Setup:
    """A sound craft in a bundled dialect; at home it keeps its own version and extent."""
    return _base(name, dialect).copy()


Maker = Callable[[Setup], Iterator[Change]]


class Makers(dict[str, Maker]):
    """What makes the changes of each setting or field, by its name."""

    def of(self, name: str) -> Callable[[Maker], Maker]:
        """Registers the maker of a setting or field."""

        def register(maker: Maker) -> Maker:
            self[name] = maker
            return maker

        return register
