"""The neutral model of one aircraft's setup: what rules see, and all that they see."""

from __future__ import annotations

from cfglint.craft.card import Card, SwitchCard
from cfglint.craft.model import (
    Craft,
    Listing,
    Misread,
    Missing,
    ModeLink,
    ModeRange,
    NotForThisCraft,
    Port,
    Refusal,
    Repeat,
    Stray,
    Traits,
    Unread,
    Unreadable,
    Value,
    unwatched,
)
from cfglint.craft.settings import MODES, Setting, setting
from cfglint.near import listed

__all__ = [
    "MODES",
    "Card",
    "Craft",
    "Listing",
    "Misread",
    "Missing",
    "ModeLink",
    "ModeRange",
    "NotForThisCraft",
    "Port",
    "Refusal",
    "Repeat",
    "Setting",
    "Stray",
    "SwitchCard",
    "Traits",
    "Unread",
    "Unreadable",
    "Value",
    "listed",
    "setting",
    "unwatched",
]
