"""An invented dialect's plan: which settings have which lines, in what order, under what titles."""

from __future__ import annotations

from random import Random
from typing import Any, NamedTuple

from cfglint.craft.settings import SETTINGS
from invent.craft import draw_craft
from invent.layouts import Families, draw_families, fill_name
from invent.model import Extent, Item, Spell
from invent.names import Author, draw_style
from invent.noise import Noise, draw_noise
from invent.shapes import Shape, draw_shape
from invent.spells import Speller, counting, fit
from invent.words import TITLES, Half

#: Settings that a dialect may well lack, with the chance of it.
_RARE = {
    "motor.pulse_stop_us": 0.35, "motor.rate_hz": 0.3, "motor.poles": 0.1, "receiver.baud": 0.45,
    "receiver.port": 0.3, "receiver.half_duplex": 0.25, "receiver.inverted": 0.12,
    "stick.low_us": 0.15, "stick.high_us": 0.15, "stick.centre_us": 0.3, "stick.dead_band_us": 0.2,
    "failsafe.throttle_us": 0.15, "battery.chemistry": 0.3, "battery.cells": 0.15,
    "video.frequency_mhz": 0.25, "video.power_mw": 0.25, "self-right.power_percent": 0.3,
    "log.on": 0.25, "motor.two_way": 0.08, "receiver.channel_order": 0.08,
}  # fmt: skip
_DROPPED = {  # which idea a section's title says already
    "motor": "motor", "loop": "loop", "receiver": "receiver", "stick": "stick",
    "failsafe": "failsafe", "battery": "battery", "video": "video", "self-right": "selfright",
    "log": "log",
}  # fmt: skip
_NESTED = {  # what stands in a section within its subject's, where sections nest
    "battery.full_v": "cell", "battery.warn_v": "cell", "battery.empty_v": "cell",
    "motor.pulse_stop_us": "pulse", "motor.pulse_min_us": "pulse", "motor.pulse_max_us": "pulse",
}  # fmt: skip
_BOARDS = ("HERON", "REED", "MARSH", "TEAL", "SNIPE", "RUFF", "DIKE", "SEDGE", "SALT", "MUD")


class Profiles(NamedTuple):
    """Numbered profiles: title form with {P}, the name that says which is in use, the numbers."""

    within: str
    in_use: str
    numbers: tuple[int, ...]


class Identity(NamedTuple):
    """Identity lines as forms, and the words for a dump's extent ("" where none says)."""

    forms: tuple[str, ...]
    full: str
    changes: str
    has_name: bool


class Plan(NamedTuple):
    """All that a dialect's file and its dumps are written from."""

    seed: int
    half: Half
    shape: Shape
    items: tuple[Item, ...]
    families: Families
    noise: tuple[Noise, ...]
    titles: dict[str, str]
    identity: Identity
    profiles: Profiles | None
    extents: tuple[Extent, ...]
    defaults: dict[str, Any]
    modes: Spell
    channels: int
    ports: int
    board: str
    version: str
    later: str
    order: str
    spelled: Speller
    author: Author
    arranged: str
    hints: frozenset[str]
    nasty: bool


def _identity(rng: Random, half: Half, shape: Shape, extents: tuple[Extent, ...]) -> Identity:
    mark = shape.comment.strip()
    own = ("target", "version", "craft", "listing") if half == "open" else (
        "hardware", "build", "model", "scope"
    )  # fmt: skip
    board, firmware = rng.choice(("board", own[0])), rng.choice(("firmware", own[1]))
    listing = own[3]
    mixed = len(set(extents)) > 1
    says = mixed or rng.random() < 0.3
    full, changes = rng.choice(
        (
            ("full", "changes"),
            ("whole", "partial"),
            ("everything", "changed"),
            ("complete", "delta"),
        )
    )
    style = rng.choice(("one", "two", "two", "colon", "command", "assign", "dated"))
    if style == "command" and shape.prompt:
        style = "two"
    if style == "assign" and shape.ends:
        style = "colon"
    if style in ("assign", "command") and firmware == "version":
        firmware = "fw"  # an identity line is looked for anywhere in a line: `inversion = …`
    forms: list[str]
    if style == "one":
        forms = [f"{mark} {board} {{board}} {firmware} {{firmware}}"]
    elif style == "two":
        forms = [f"{mark} {board} {{board}}", f"{mark} {firmware} {{firmware}}"]
    elif style == "colon":
        forms = [f"{mark} {board}: {{board}}", f"{mark} {firmware}: {{firmware}}"]
    elif style == "command":
        forms = [f"{firmware} {{board}} {{firmware}}"]
    elif style == "assign":
        forms = [
            fill_name(shape.assign, board, "{board}"),
            fill_name(shape.assign, firmware, "{firmware}"),
        ]
    else:
        forms = [f"{mark} {board} {{board}} / {firmware} {{firmware}} ({{built}}"]
    if says:
        forms.append(f"{mark} {listing}: {{extent}}")
    has_name = rng.random() < 0.25
    if has_name:
        forms.append(f"{mark} {own[2]}: {{name}}")
    return Identity(tuple(forms), full if says else "", changes if says else "", has_name)


def _versions(rng: Random) -> tuple[str, str, str]:
    """Order of versions, this dialect's version, a later one."""
    if rng.random() < 0.15:
        whole, part = rng.randint(1, 4), rng.randint(10, 60)
        return "decimal", f"{whole}.{part}", f"{whole}.{part + rng.randint(3, 30)}"
    major, minor, patch = rng.randint(1, 5), rng.randint(0, 9), rng.randint(0, 4)
    dotted = f"{major}.{minor}" + (f".{patch}" if rng.random() < 0.7 else "")
    return "dotted", dotted, f"{major}.{minor + rng.randint(1, 3)}.0"


def draw_plan(seed: int, half: Half) -> Plan:
    """The plan of one seed; always the same for the same seed and half."""
    rng = Random(f"invented {half} {seed}")
    nasty = rng.random() < 0.07
    shape = draw_shape(rng, half)
    style = draw_style(rng, shape.banned)
    author = Author(rng, half, style, fickle=nasty)
    speller = Speller(rng, half, shape, shape.banned + ",:/. ")
    extents: tuple[Extent, ...] = rng.choices(
        (("full",), ("changes",), ("full", "changes")), weights=(62, 24, 14)
    )[0]
    channels, ports = rng.choice((8, 10, 12, 16)), rng.randint(4, 8)
    sectioned = shape.sections != "none"
    titles = {key: rng.choice(idea.words(half)) for key, idea in TITLES.items()}
    while len(set(titles.values())) < len(titles):
        titles = {key: rng.choice(idea.words(half)) for key, idea in TITLES.items()}
    profiles: Profiles | None = None
    if sectioned and rng.random() < 0.18:
        start = rng.choice((0, 1))
        numbers = tuple(range(start, start + rng.randint(2, 3)))
        in_use = author.style.join(
            [titles["profile"], rng.choice(("active", "used") if half == "open" else ("now", "nr"))]
        )
        profiles = Profiles(f"{titles['profile']} {{P}}", in_use, numbers)
    taken: set[tuple[str, str]] = set()
    if profiles:
        taken.add(("", profiles.in_use))
    identity = _identity(rng, half, shape, extents)
    drop_subject = sectioned and rng.random() < 0.7
    nested = shape.sections == "closed" and rng.random() < 0.2
    items: list[Item] = []
    for setting in SETTINGS:
        if ".N" in setting or setting in ("craft.board", "craft.firmware"):
            continue
        if rng.random() < _RARE.get(setting, 0.02) or (
            setting == "craft.name" and (identity.has_name or rng.random() < 0.3)
        ):
            continue
        subject = setting.split(".")[0]
        within = titles.get(subject, "") if sectioned else ""
        if profiles and setting in ("motor.idle_percent", "self-right.power_percent"):
            within = profiles.within
        spell = speller.of(setting)
        without = _DROPPED.get(subject, "") if drop_subject and within == titles[subject] else ""
        if nested and setting in _NESTED:
            within += f"/{titles[_NESTED[setting]]}"
        name = _free_name(author, setting, spell, without, within, taken)
        taken.add((within, name))
        flag = spell.kind == "flag" and bool(shape.flag_on) and not (nasty and rng.random() < 0.3)
        items.append(Item(setting, name, spell, within, flag))
    families = draw_families(rng, half, shape, author, speller, titles, taken)
    items += families.items
    names = {name for _, name in taken} | set(families.heads)
    noise = draw_noise(
        rng, author, half, int(40 + 160 * rng.random() ** 2), names, sections=sectioned
    )
    noise = [one for one in noise if not families.could_be(one.name)]
    lower = draw_craft(rng, channels=channels, ports=ports)
    defaults = _defaults(rng, items, families, lower.values, extents)
    items = [
        item._replace(default=defaults.get(item.setting)) if ".N" not in item.setting else item
        for item in items
    ]
    order, version, later = _versions(rng)
    coded = {item.setting for item in items if item.spell.opaque}
    coded |= {key for key, spell in families.coded() if spell.opaque}
    coded |= {"mode"} if families.modes.opaque else set()
    coded |= {"ends"} if any(r.fields["low"].unit == "step" for r in families.records
                             if r.makes == "range") else set()  # fmt: skip
    return Plan(
        seed=seed,
        half=half,
        shape=shape,
        items=tuple(items),
        families=families,
        noise=tuple(noise),
        titles=titles,
        identity=identity,
        profiles=profiles,
        extents=extents,
        defaults=defaults,
        modes=families.modes,
        channels=channels,
        ports=ports,
        board=rng.choice(_BOARDS) + rng.choice(("", "-2", "3", "-X", "_S", "-ONE", "_K")),
        version=version,
        later=later,
        order=order,
        spelled=speller,
        author=author,
        arranged=rng.choice(("grouped", "grouped", "grouped", "sorted", "shuffled")),
        hints=frozenset(key for key in sorted(coded) if rng.random() < 0.35),
        nasty=nasty,
    )


def _free_name(
    author: Author,
    setting: str,
    spell: Spell,
    without: str,
    within: str,
    taken: set[tuple[str, str]],
) -> str:
    """A name that nothing else has in its section, nor outside of all."""
    name = author.name(setting, spell.unit, without=without)
    tries = 0
    while {(within, name), ("", name)} & taken:
        tries += 1
        # Whoever finds a name taken says more: the subject, then the unit or another word.
        fresh = Author(author.rng, author.half, author.style)
        name = (author if tries < 4 else fresh).name(setting, spell.unit, without="")
        if tries > 60:
            raise RuntimeError(f"no free name for {setting}")
    return name


def _defaults(
    rng: Random,
    items: list[Item],
    families: Families,
    values: dict[str, Any],
    extents: tuple[Extent, ...],
) -> dict[str, Any]:
    """Neutral defaults, where dumps of changes need them."""
    if "changes" not in extents:
        return {}
    found: dict[str, Any] = {}
    for item in items:
        if ".N" in item.setting or item.setting == "craft.name" or rng.random() < 0.12:
            continue
        found[item.setting] = fit(item.spell, values[item.setting])
    if families.has("channel.N.low_us"):
        found |= {
            "channel.N.low_us": float(rng.randrange(990, 1040)),
            "channel.N.mid_us": float(rng.randrange(1490, 1520)),
            "channel.N.high_us": float(rng.randrange(1960, 2020)),
        }
    if families.has("port.N.functions"):
        found["port.N.functions"] = frozenset()
    return found


def port_number(speller: Speller) -> Spell:
    """How ports are numbered."""
    return counting(speller.number_base)
