"""Invented dialects, with dumps and the truth about them, to measure teaching by.

    from invent import invent
    one = invent(7, "open")

Every seed gives another dialect that no product has: a shape, names, scales, codes and layouts
drawn at random from words of the trade.  It comes with sample dumps to teach from, dumps of
other craft to judge by, one craft before and after an update, the true dialect file, and what
every line means.

The word lists are in two halves, and a dialect uses one of them.  ``open`` is for development:
its dialects and failures may be looked at.  Of ``held`` only totals are ever reported, so that
nobody can fit the teaching to it; each half's own words for an idea are not in the other half's
for that idea, and only the words that no author of the trade could do without are in both.
Nor does either side look at the other: these lists were written without a look at those in
``cfglint/teach``, and are not to be read while writing them.
"""

from __future__ import annotations

from invent.make import invent
from invent.model import Dump, Invented, Item, Line, Truth
from invent.oracle import Oracle
from invent.words import Half

__all__ = ["Dump", "Half", "Invented", "Item", "Line", "Oracle", "Truth", "invent"]
