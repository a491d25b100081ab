"""Seeded faults: every change of a sound craft that some rule means to catch, and harmless ones.

``setups.py`` writes the demo fleet's sound craft in every bundled dialect, ``settings.py``,
``cards.py`` and ``modes.py`` say what single changes there are, ``matrix.py`` tries them.
``python -m benchmarks.faults`` prints the figures.
"""

from __future__ import annotations

from benchmarks.faults.cards import card_changes
from benchmarks.faults.matrix import Tried, changes, rates, try_change
from benchmarks.faults.modes import mode_changes
from benchmarks.faults.settings import setting_changes, without_oracle
from benchmarks.faults.setups import SOUND, Change, Setup, base, judged

__all__ = [
    "SOUND",
    "Change",
    "Setup",
    "Tried",
    "base",
    "card_changes",
    "changes",
    "judged",
    "mode_changes",
    "rates",
    "setting_changes",
    "try_change",
    "without_oracle",
]
