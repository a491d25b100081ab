"""Which settings the built-in rules ask for: noted while they judge, not listed by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from cfglint.craft.model import Craft, ModeRange, Value
from cfglint.craft.settings import family

ROOT = Path(__file__).resolve().parent.parent.parent


class _Noted(dict[str, Value]):
    """Values of a craft that note which are asked for."""

    def __init__(self, values: Any, asked: set[str]) -> None:
        super().__init__(values)
        self.asked = asked

    def get(self, name: str, default: Any = None) -> Any:
        self.asked.add(family(name))
        return super().get(name, default)

    def __getitem__(self, name: str) -> Value:
        self.asked.add(family(name))
        return super().__getitem__(name)

    def __contains__(self, name: object) -> bool:
        self.asked.add(family(str(name)))
        return super().__contains__(name)


class _Watched(Craft):
    """A craft that notes which settings it is asked for, and whether for mode ranges."""

    __slots__ = ("_ranges", "asked")

    def __init__(self, craft: Craft, asked: set[str], others: tuple[Craft, ...] = ()) -> None:
        self.asked = asked
        for slot in Craft.__slots__:
            if slot not in ("values", "mode_ranges", "others") and hasattr(craft, slot):
                setattr(self, slot, getattr(craft, slot))
        self.others = others
        self.values = _Noted(craft.values, asked)
        self._ranges = craft.mode_ranges

    @property
    def mode_ranges(self) -> tuple[ModeRange, ...]:  # type: ignore[override]
        self.asked.add("mode ranges")
        return self._ranges


def _demo_crafts() -> Iterator[Craft]:
    from cfglint.craft.cards import read_card
    from cfglint.dialect import bundled, read_craft
    from cfglint.dialect.identify import choose
    from cfglint.dialect.load import bundled_names
    from cfglint.dump.source import Source

    club = ROOT / "fixtures" / "saltmarsh"
    dialects = {name: bundled(name) for name in bundled_names()}
    for path in sorted((club / "dumps").iterdir()):
        source = Source.from_bytes(path.name, path.read_bytes())
        card = club / "cards" / f"{path.name.split('.')[0]}.toml"
        hardware = read_card(card.name, card.read_bytes()) if card.exists() else None
        yield read_craft(source, choose(source, dialects), hardware, path.name.split(".")[0])


def needed_settings() -> frozenset[str]:
    """Families of settings that any built-in rule asks a craft for, in judging the demo fleet
    and its own examples; ``mode ranges`` stands for those.
    """
    from cfglint.kit.examples import ExampleError, options_of, parse_example, read_example
    from cfglint.rule import Options, judge
    from cfglint_rules import cfglint_rules

    asked: set[str] = set()
    demo = list(_demo_crafts())
    for rule in cfglint_rules():
        asked |= {family(name) for name in rule.asks if not name.startswith("mode.")}
        usual = Options({option.name: option.default for option in rule.options})
        for craft in demo:
            others = tuple(one for one in demo if one is not craft)
            judge(rule, _Watched(craft, asked, others), usual)
        for example in rule.examples:
            try:
                craft, _ = read_example(parse_example(example), example.dialect)
            except ExampleError:
                continue
            judge(rule, _Watched(craft, asked, craft.others), options_of(rule, example))
    return frozenset(asked)
