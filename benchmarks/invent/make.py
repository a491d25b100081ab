"""One seed's dialect with all that belongs to it."""

from __future__ import annotations

from random import Random
from typing import Any

from invent.craft import draw_craft
from invent.dumps import adapt, write_dump
from invent.model import Invented, Item
from invent.plan import Plan, draw_plan
from invent.spells import QUANTITY, SCALES, fit, number
from invent.toml import Changes, dialect_file
from invent.words import Half


def invent(seed: int, half: Half = "held") -> Invented:
    """The invented dialect of a seed; always the same for the same seed and half."""
    plan = draw_plan(seed, half)
    rng = Random(f"dumps {half} {seed}")

    def craft() -> Any:
        return draw_craft(rng, channels=plan.channels, ports=plan.ports)

    crafts = [craft()]
    if rng.random() < 0.4:
        # The same craft twice only where the two dumps are of different extents.
        again = len(plan.extents) > 1 and rng.random() < 0.5
        crafts.append(crafts[0] if again else craft())
    samples = []
    for index, truth in enumerate(crafts):
        extent = plan.extents[index % len(plan.extents)]
        own = adapt(plan, truth)
        samples.append(write_dump(plan, own, f"sample-{index + 1}.txt", extent, plan.version, rng))
    unseen = tuple(
        write_dump(
            plan,
            adapt(plan, craft()),
            f"other-{index + 1}.txt",
            rng.choice(plan.extents),
            plan.version,
            rng,
        )
        for index in range(2)
    )
    later, changes = _later(plan, rng)
    # What both versions can write, so that it is one craft before and after.
    both = adapt(later, adapt(plan, craft()))
    both = adapt(plan, both)
    extent = plan.extents[0]
    before = write_dump(plan, both, "before.txt", extent, plan.version, rng)
    after = write_dump(later, both, "after.txt", extent, plan.later, rng)
    codes = {item.setting for item in plan.items if item.spell.opaque}
    codes |= {key for key, spell in plan.families.coded() if spell.opaque}
    codes |= {"mode"} if plan.modes.opaque else set()
    meanings, masks = _meanings(plan)
    return Invented(
        seed=seed,
        half=half,
        toml=dialect_file(plan, changes),
        samples=tuple(samples),
        unseen=unseen,
        before=before,
        after=after,
        renames=changes.renames,
        rescaled=tuple(changes.rescaled),
        moved=tuple(changes.moved),
        codes=frozenset(codes),
        hinted=plan.hints,
        meanings=meanings,
        masks=masks,
        nasty=plan.nasty,
    )


def _meanings(plan: Plan) -> tuple[dict[str, dict[str, str]], dict[str, dict[str, int]]]:
    spells = [(item.setting, item.spell) for item in plan.items]
    spells += list(plan.families.coded())
    spells.append(("mode", plan.modes))
    for record in plan.families.records:
        if "join" in record.fields:
            spells.append(("join", record.fields["join"]))
    meanings = {
        key: {written: neutral for neutral, written in spell.words.items()}
        for key, spell in spells
        if spell.words
    }
    return meanings, {key: dict(spell.mask) for key, spell in spells if spell.mask}


def _later(plan: Plan, rng: Random) -> tuple[Plan, Changes]:
    """The dialect at a later version: a few names, a scale and a default have changed."""
    single = [item for item in plan.items if ".N" not in item.setting]
    names = {item.name for item in plan.items} | {one.name for one in plan.noise}
    counts = {name: [item.name for item in plan.items].count(name) for name in names}
    renames: dict[str, str] = {}
    items: dict[str, Item] = {item.setting: item for item in plan.items}
    for item in rng.sample(single, min(len(single), 8)):
        if len(renames) == 3 or counts[item.name] != 1:
            continue
        if rng.random() < 0.5:
            continue
        new = plan.author.style.join([item.name, rng.choice(("new", "x", "main"))])
        if new not in names and plan.author.style.case not in ("camel", "pascal"):
            names.add(new)
            renames[item.name] = new
            items[item.setting] = item._replace(name=new)
    noise = list(plan.noise)
    if noise and plan.author.style.case not in ("camel", "pascal"):
        new = plan.author.style.join([noise[0].name, "new"])
        if new not in names and noise[0].name not in {item.name for item in plan.items}:
            renames[noise[0].name] = new
            noise[0] = noise[0]._replace(name=new)
    rescaled = {}
    scaled = [
        item
        for item in single
        if item.spell.kind == "number" and len(SCALES[QUANTITY.get(item.setting, "plain")]) > 1
    ]
    for item in rng.sample(scaled, min(len(scaled), 1)):
        rows = [row for row in SCALES[QUANTITY[item.setting]] if not row.over]
        spell = number(rng.choice([row for row in rows if row.scale != item.spell.scale] or rows))
        if spell.scale != item.spell.scale:
            rescaled[item.setting] = spell
            items[item.setting] = items[item.setting]._replace(spell=spell)
    moved: dict[str, Any] = {}
    held = [item for item in single if item.default is not None]
    if held and "changes" in plan.extents:
        one = rng.choice(held)
        other = draw_craft(rng, channels=plan.channels, ports=plan.ports).values[one.setting]
        value = fit(items[one.setting].spell, other)
        moved[one.setting] = value
        items[one.setting] = items[one.setting]._replace(default=value)
    later = plan._replace(
        items=tuple(items.values()),
        noise=tuple(noise),
        defaults={**plan.defaults, **moved},
    )
    return later, Changes(renames, rescaled, moved)
