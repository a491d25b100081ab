"""Crafts read from text in the dialect `plain`, and what a rule says of them."""

from __future__ import annotations

from textwrap import dedent
from typing import TYPE_CHECKING, Any

from cfglint.craft import Craft
from cfglint.craft.cards import read_card
from cfglint.dialect import bundled, read_craft
from cfglint.dump.source import Source
from cfglint.rule import Options, judge

if TYPE_CHECKING:
    from cfglint.rule import Outcome, Rule


def read(dump: str, card: str = "", **traits: Any) -> Craft:
    """The craft of a dump and a card; ``traits`` replace what the dialect says of the firmware."""
    hardware = read_card("card.toml", dedent(card).encode()) if card else None
    source = Source.from_text("craft.txt", dedent(dump).removeprefix("\n"))
    craft = read_craft(source, bundled("plain"), card=hardware, name="Avocet")
    return changed(craft, traits=craft.traits._replace(**traits)) if traits else craft


def changed(craft: Craft, **parts: Any) -> Craft:
    """The craft with some of its parts replaced."""
    return Craft(**{name: getattr(craft, name) for name in Craft.__slots__} | parts)


def said(rule: Rule, craft: Craft, **options: Any) -> Outcome:
    values = {option.name: option.default for option in rule.options} | options
    return judge(rule, craft, Options(values))


def lacks(outcome: Outcome) -> list[str]:
    return [lack.fact for lack in outcome.lacks]
