"""What a rule is said to rest on: held against taking single facts away, over whole craft."""

from __future__ import annotations

import pickle
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft import Craft, Misread, Missing, Repeat, Value
from cfglint.craft.model import ModeLink, ModeRange, Traits, unwatched
from cfglint.craft.settings import family
from cfglint.craft.unsure import watched
from cfglint.dialect import read_craft
from cfglint.kit.build import build_craft
from cfglint.plugins import load_rules
from cfglint.rule import Finding, FleetRule, Options, Rule, fleet_rule, judge, rule
from cfglint.runner.one import read_one

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.rule import Outcome

DUMPS = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh" / "dumps"
TRAITS = tuple(name for name in Traits._fields if name != "version_order")


def changed(craft: Craft, **new: Any) -> Craft:
    return Craft(**{name: getattr(craft, name) for name in Craft.__slots__} | new)


@lru_cache
def of_fleet(name: str) -> Craft:
    one = read_one(str(DUMPS / f"{name}.dump.txt"))
    return read_craft(one.source, one.dialect, one.card, one.name, one.extent)


def doubted(craft: Craft) -> Craft:
    """The craft as if nothing of its dialect were confirmed, but for the lines of ranges."""
    modes = {row.mode for row in (*craft.mode_ranges, *craft.mode_links)}
    names = {family(name) for name in craft.values}
    names |= {f"mode {mode}" for mode in modes} | {f"trait {name}" for name in TRAITS}
    return changed(
        craft,
        values={name: value._replace(sure=False) for name, value in craft.values.items()},
        mode_ranges=tuple(row._replace(sure=False) for row in craft.mode_ranges),
        mode_links=tuple(row._replace(sure=False) for row in craft.mode_links),
        unsure=frozenset(names),
    )


def without(craft: Craft) -> Iterator[tuple[str, Craft]]:
    """The craft without one of its facts, and that fact's name."""
    for name in dict.fromkeys(map(family, craft.values)):
        rest = {key: value for key, value in craft.values.items() if family(key) != name}
        yield name, changed(craft, values=rest)
    for mode in {row.mode for row in (*craft.mode_ranges, *craft.mode_links)}:
        ranges = tuple(row for row in craft.mode_ranges if row.mode != mode)
        links = tuple(row for row in craft.mode_links if row.mode != mode)
        yield f"mode {mode}", changed(craft, mode_ranges=ranges, mode_links=links)
    for name in TRAITS:
        others: tuple[Any, ...] = (None, True, False)
        if name == "range_ends":
            others = (None, "half-open", "closed")
        elif name == "inversion":
            others = (None, "absolute", "relative")
        for other in others:
            yield f"trait {name}", changed(craft, traits=craft.traits._replace(**{name: other}))


def said(outcome: Outcome) -> tuple[Any, ...]:
    return outcome.state, outcome.findings, outcome.lacks, outcome.reason


def ask(item: Rule, craft: Craft) -> Outcome:
    return judge(item, craft, Options({one.name: one.default for one in item.options}))


RULES = [one for one in load_rules().rules if not isinstance(one, FleetRule)]


@pytest.mark.parametrize("name", sorted(path.name.split(".")[0] for path in DUMPS.iterdir()))
def test_whatever_changes_an_outcome_is_named(name: str) -> None:
    """Taking a fact away, or turning a trait, changes only what was said to rest on it."""
    plain = of_fleet(name)
    shaky = doubted(plain)
    before = {item.id: ask(item, plain) for item in RULES}
    watching = {item.id: ask(item, shaky) for item in RULES}
    for id_, outcome in before.items():
        assert said(watching[id_]) == said(outcome), id_
        assert outcome.rests == ()
    hidden = []
    for fact, poorer in without(plain):
        for item in RULES:
            named = fact in watching[item.id].rests
            if not named and said(ask(item, poorer)) != said(before[item.id]):
                hidden.append((item.id, fact))
    assert hidden == []
    # It would be easy to name everything.
    assert all(len(one.rests) < len(shaky.unsure) / 2 for one in watching.values())
    assert any(one.rests for one in watching.values())


# ---------------------------------------------------------------- single questions


def looks(craft: Craft, look: Callable[[Craft], object]) -> tuple[str, ...]:
    """What one look at a watched craft is said to rest on."""
    seen: dict[str, None] = {}
    look(watched(craft, seen))
    return tuple(sorted(seen))


MARKED = frozenset(
    {
        "motor.signal", "motor.poles", "port.N.functions", "port.N.baud", "mode arm", "mode lights",
        "range", "link", "trait inversion",
    }
)  # fmt: skip


@lru_cache
def shaky() -> Craft:
    """Signal, one port's functions and the range of arm are guesses; of poles nothing is said."""
    craft = build_craft(
        {
            "motor.signal": "dshot300",
            "loop.rate_hz": 4000.0,
            "port.1.functions": frozenset({"gps"}),
            "port.1.baud": 9600.0,
            "port.2.functions": frozenset({"receiver"}),
        },
        ranges=[("arm", 5, 1695, 2122), ("beacon", 6, 1695, 2122)],
        links=[("lights", "arm")],
        traits=Traits(range_ends="closed", inversion="absolute"),
    )
    guesses = ("motor.signal", "port.1.functions", "port.2.functions")
    values = {n: v._replace(sure=n not in guesses) for n, v in craft.values.items()}
    ranges = tuple(row._replace(sure=row.mode != "arm") for row in craft.mode_ranges)
    links = tuple(row._replace(sure=False) for row in craft.mode_links)
    return changed(craft, values=values, mode_ranges=ranges, mode_links=links, unsure=MARKED)


EVERY = ("motor.poles", "motor.signal", "port.N.baud", "port.N.functions")
#: Looks at a craft, and what they rest on.
LOOKS: list[tuple[Callable[[Craft], object], tuple[str, ...]]] = [
    (lambda craft: craft.name, ()),
    (lambda craft: craft.get("motor.signal"), ("motor.signal",)),
    (lambda craft: craft.need("motor.signal"), ("motor.signal",)),
    (lambda craft: craft.values["motor.signal"], ("motor.signal",)),
    (lambda craft: "motor.signal" in craft.values, ("motor.signal",)),
    # Nobody says, but the line may be there under a name that was not guessed.
    (lambda craft: craft.get("motor.poles"), ("motor.poles",)),
    (lambda craft: craft.get("log.on"), ()),
    (lambda craft: craft.need("loop.rate_hz"), ()),
    (lambda craft: dict(craft.values), EVERY),
    (lambda craft: len(craft.values), EVERY),
    # Its speed is confirmed, so there surely is a port 1; of port 2 only a guess tells.
    (lambda craft: craft.numbered("port"), ("port.N.functions",)),
    (lambda craft: craft.numbered("channel"), ()),
    (lambda craft: [port.baud for port in craft.ports()], ("port.N.baud", "port.N.functions")),
    (lambda craft: [port.number for port in craft.ports()], ("port.N.functions",)),
    (lambda craft: craft.ports()[0][1], ("port.N.functions",)),
    (lambda craft: craft.ports()[1][1], ("port.N.baud", "port.N.functions")),
    (lambda craft: craft.trait("range_ends"), ()),
    (lambda craft: craft.trait("inversion"), ("trait inversion",)),
    (lambda craft: craft.traits.inversion, ("trait inversion",)),
    (lambda craft: craft.traits[1], ("trait inversion",)),
    (lambda craft: craft.traits._replace(arm_by_sticks=True).arm_by_sticks, ("trait inversion",)),
    (lambda craft: tuple(craft.traits), ("trait inversion",)),
    (lambda craft: craft.mode_ranges, ()),
    (lambda craft: unwatched(craft.mode_ranges)[0].low_us, ()),
    (lambda craft: bool(craft.mode_ranges), ("range",)),
    (lambda craft: craft.ranges_of("beacon"), ("range",)),
    (lambda craft: craft.ranges_of("arm"), ("mode arm", "range")),
    (lambda craft: craft.ranges_of("lights"), ("mode lights", "range")),
    (lambda craft: [row.low_us for row in craft.mode_ranges], ("mode arm", "range")),
    (lambda craft: craft.mode_ranges[1].low_us, ("range",)),
    (lambda craft: craft.mode_ranges[0].channel, ("mode arm", "range")),
    (lambda craft: craft.mode_ranges[0].mode != "lights", ("mode lights", "range")),
    (lambda craft: craft.mode_ranges[0].mode != "arm", ("mode arm", "range")),
    (lambda craft: {row.mode for row in craft.mode_ranges}, ("mode arm", "range")),
    (lambda craft: f"{craft.mode_ranges[0].mode}", ("mode arm", "range")),
    (lambda craft: craft.mode_ranges[0][2], ("mode arm", "range")),
    (lambda craft: tuple(craft.mode_ranges[0]), ("mode arm", "range")),
    (lambda craft: craft.mode_ranges[0]._replace(low_us=1).low_us, ("mode arm", "range")),
    (lambda craft: craft.mode_ranges + craft.mode_links, ("link", "range")),
    (lambda craft: craft.mode_links[0].mode == "arm", ("link", "mode arm")),
    (lambda craft: craft.mode_links[0].follows == "arm", ("link", "mode arm")),
    (lambda craft: craft.mode_links[0].span, ("link", "mode arm", "mode lights")),
    (lambda craft: tuple(craft.mode_links[0])[1] == "x", ("link", "mode arm", "mode lights")),
    (lambda craft: craft.mode_links[0][3], ("link", "mode arm", "mode lights")),
]


@pytest.mark.parametrize(("look", "rests"), LOOKS, ids=range(len(LOOKS)))
def test_a_look_rests_on(look: Callable[[Craft], Any], rests: tuple[str, ...]) -> None:
    assert looks(shaky(), look) == rests
    # Without marks the same look rests on nothing.
    assert looks(changed(shaky(), unsure=frozenset()), look) == ()


def test_nothing_at_all_rests_on_every_word() -> None:
    """Without any range or port, any guess of a mode or a port may be the reason."""
    bare = changed(shaky(), values={}, mode_ranges=(), mode_links=())
    assert looks(bare, lambda craft: len(craft.mode_ranges)) == ("mode arm", "mode lights", "range")
    assert looks(bare, lambda craft: list(craft.mode_links)) == ("link",)
    assert looks(bare, lambda craft: craft.ports()) == ("port.N.baud", "port.N.functions")


def test_a_watched_craft_answers_alike() -> None:
    craft, plain = watched(shaky(), {}), shaky()
    assert dict(craft.values) == plain.values
    assert [tuple(row) for row in craft.mode_ranges] == [tuple(row) for row in plain.mode_ranges]
    assert [tuple(row) for row in craft.mode_links] == [tuple(row) for row in plain.mode_links]
    assert [tuple(port) for port in craft.ports()] == [tuple(port) for port in plain.ports()]
    assert tuple(craft.traits) == tuple(plain.traits)
    assert len(craft.values) == len(plain.values)
    assert "motor.signal" in craft.values
    assert "motor.poles" not in craft.values
    with pytest.raises(KeyError):
        craft.values["motor.poles"]
    with pytest.raises(Missing):
        craft.need("motor.poles")
    mode = craft.mode_ranges[0].mode
    assert (mode == "arm", mode != "arm", mode == "beacon", f"{mode:>5}") == (
        True, False, False, "  arm",
    )  # fmt: skip
    assert type(pickle.loads(pickle.dumps(mode))) is str
    # The craft that it was made of is as it was.
    assert type(plain.mode_ranges) is tuple
    assert isinstance(plain.values, dict)


def test_what_was_misread_or_set_twice() -> None:
    """A value that makes no sense may show a mapping to be wrong."""
    craft = shaky()
    signal, loop = craft.values["motor.signal"], craft.values["loop.rate_hz"]
    whole = craft.whole
    odd = tuple(
        Misread(name, whole, whole, "9", "a word", "") for name in ("motor.poles", "log.on")
    )
    twice = (Repeat(signal, signal._replace(value="dshot600")), Repeat(loop, loop))
    craft = changed(craft, misread=odd, repeats=twice)
    assert looks(craft, lambda one: list(one.misread)) == ("motor.poles",)
    assert looks(craft, lambda one: len(one.repeats)) == ("motor.signal",)


# ---------------------------------------------------------------- outcomes


@rule("tide/slow", grade="fix", title="Slow", why="Slow.", source="common practice")
def slow(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    if craft.need("motor.signal").value == "dshot150":
        yield Finding(craft.whole, "slow")


def test_every_state_names_what_it_rests_on() -> None:
    craft = shaky()
    signal = craft.values["motor.signal"]
    assert (judge(slow, craft, Options({})).state, judge(slow, craft, Options({})).rests) == (
        "holds", ("motor.signal",),
    )  # fmt: skip
    late = changed(craft, values={"motor.signal": signal._replace(value="dshot150")})
    assert judge(slow, late, Options({})).rests == ("motor.signal",)
    none = changed(craft, values={})
    outcome = judge(slow, none, Options({}))
    assert (outcome.state, outcome.rests) == ("unknown", ("motor.signal",))
    assert outcome.whole == none.whole
    sure = changed(craft, values={"motor.signal": Value("motor.signal", "dshot300", "set")})
    assert judge(slow, sure, Options({})).rests == ()


def test_a_fleet_rule_names_whose_mapping_it_rests_on() -> None:
    @fleet_rule(
        "tide/alike", grade="fix", title="Alike", why="Alike.", source="common practice",
        asks=("motor.signal", "mode.arm"),
    )  # fmt: skip
    def alike(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
        if any(len(one.ranges_of("arm")) != 1 for one in (craft, *craft.others)):
            return
        if {one.get("motor.signal").value for one in craft.others} != {"dshot300"}:
            yield Finding(craft.whole, "not alike")

    plain = build_craft({"motor.signal": "dshot300"}, ranges=[("arm", 5, 1695, 2122)], name="Egret")
    bittern = changed(shaky(), name="Bittern")
    outcome = judge(alike, changed(plain, others=(bittern, plain)), Options({}))
    assert outcome.state == "holds"
    assert outcome.rests == (
        "mode arm of Bittern", "motor.signal of Bittern", "range of Bittern",
    )  # fmt: skip
    assert judge(alike, changed(plain, others=(plain,)), Options({})).rests == ()


def test_ranges_and_links_are_sure_unless_marked() -> None:
    craft = build_craft({}, ranges=[("arm", 5, 1695, 2122)], links=[("beacon", "arm")])
    rows: tuple[ModeRange | ModeLink, ...] = (*craft.mode_ranges, *craft.mode_links)
    assert [row.sure for row in rows] == [True, True]
