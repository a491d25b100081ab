"""How an invented author puts words together: separators, letter case, numbers, units."""

from __future__ import annotations

from random import Random
from typing import Literal, NamedTuple

from invent.words import IDEAS, PHRASES, UNITS, Half

Case = Literal["lower", "upper", "camel", "pascal"]


class Style(NamedTuple):
    """One naming habit.  ``glued`` numbers stand right behind the word before (``ch3_min``).

    ``units`` is the chance of a unit at a name's end; ``turned`` of another order of words.
    """

    sep: str
    case: Case
    glued: bool
    units: float
    turned: bool
    first_number: bool = False

    def join(self, words: list[str]) -> str:
        """One name of words; ``{N}`` among them stays as it is."""
        parts = [part for word in words for part in word.split()]
        if self.case in ("camel", "pascal"):
            made = "".join(part if part == "{N}" else part[:1].upper() + part[1:] for part in parts)
            return made[:1].lower() + made[1:] if self.case == "camel" else made
        out = ""
        for part in parts:
            number = part == "{N}"
            joint = self.sep if out and not (number and self.glued) else ""
            out += joint + (part if number or self.case == "lower" else part.upper())
        return out


def draw_style(rng: Random, banned: str) -> Style:
    """A naming habit without separators that the line's own shape needs."""
    case: Case = rng.choices(("lower", "upper", "camel", "pascal"), weights=(68, 8, 16, 8))[0]
    seps = [
        (sep, weight)
        for sep, weight in (("_", 46), ("-", 20), (".", 18), ("/", 4), (":", 4), ("", 8))
        if not sep or sep not in banned
    ]
    sep = rng.choices([one for one, _ in seps], weights=[weight for _, weight in seps])[0]
    return Style(
        sep=sep,
        case=case,
        glued=rng.random() < 0.6 or not sep,
        units=rng.choice((0.0, 0.0, 0.35, 0.9)),
        turned=rng.random() < 0.18,
        first_number=rng.random() < 0.1,
    )


class Author:
    """One author's vocabulary: a word for each idea, chosen once."""

    def __init__(self, rng: Random, half: Half, style: Style, *, fickle: bool = False) -> None:
        self.rng = rng
        self.half: Half = half
        self.style = style
        self.fickle = fickle
        self._words: dict[str, str] = {}

    def word(self, idea: str) -> str:
        """This author's word for an idea; a fickle author now and then takes another."""
        if idea not in self._words or (self.fickle and self.rng.random() < 0.15):
            self._words[idea] = self.rng.choice(IDEAS[idea].words(self.half))
        return self._words[idea]

    def phrase(self, setting: str, *, without: str = "") -> list[str]:
        """Words for a setting; ``without`` is an idea that the section's title already says."""
        ideas = list(self.rng.choice(PHRASES[setting]))
        if without and len(ideas) > 1 and without in ideas:
            ideas.remove(without)
            if "N" in ideas and without in ("port", "channel"):
                ideas.remove("N")
        words = ["{N}" if idea == "N" else self.word(idea) for idea in ideas]
        if self.style.turned and not without:
            words = self._turn(words)
        return words

    def _turn(self, words: list[str]) -> list[str]:
        """Another order, a family's number kept behind its word."""
        units: list[list[str]] = []
        for word in words:
            if word == "{N}" and units:
                units[-1].append(word)
            else:
                units.append([word])
        units.reverse()
        return [word for unit in units for word in unit]

    def unit(self, kind: str) -> str:
        return self.rng.choice(UNITS[kind].words(self.half)) if kind in UNITS else ""

    def name(self, setting: str, unit: str = "", *, without: str = "") -> str:
        """A name for a setting, with its unit behind it where the author does so."""
        words = self.phrase(setting, without=without)
        if self.style.first_number and "{N}" in words and words[0] != "{N}" and self.style.sep:
            at = words.index("{N}")
            words[at - 1], words[at] = words[at], words[at - 1]
        suffix = self.unit(unit) if unit and self.rng.random() < self.style.units else ""
        told = {*" ".join(words).split(), *(["mw"] if "milliwatts" in words else [])}
        if suffix and suffix.split()[-1] not in told:
            words.append(suffix)
        return self.style.join(words)
