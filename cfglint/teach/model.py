"""What teaching comes to: guesses, questions, and the draft of a dialect file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect

#: ``line``: which line sets a setting; ``value``: what a line's value means, in neutral words;
#: ``words``: what several written words (numbers, bits) mean; ``range``: what a mode range's
#: line means.
Kind = Literal["line", "value", "words", "range"]


class Shown(NamedTuple):
    """A line of a sample, as it stands there; ``name`` is what it assigns, if anything."""

    file: str
    line: int
    text: str
    name: str = ""


class Question(NamedTuple):
    """Something only the owner knows, and that matters.

    ``id`` is what an answers file names it by and stays the same from run to run.  ``setting``
    is the neutral setting it is about (a family's name, ``motor.signal`` or
    ``port.N.functions``), ``mode`` for the words of modes, or ``range`` for a mode range's line.
    ``shown`` are the lines to choose from (``line``) or to look at (the other kinds), the
    likeliest first.  ``guess`` is the answer that is proposed, ``""`` for none.

    An answer is a text:

    - ``line``: the number of the line in its sample (``14``; ``FILE:14`` where there are several
      samples), the dialect's own name, or ``none`` where no line sets it
    - ``value``: the neutral value that the first line shown sets: ``dshot600``, ``0.5``,
      ``yes``, ``receiver, telemetry``; ``none`` where the line does not set it at all
    - ``words``: ``0 = arm, 6 = self-right``, for each of ``words`` its neutral word; one that is
      left out stays unknown
    - ``range``: ``channel 9, 1760 to 2140``: what the first line shown means
    """

    id: str
    kind: Kind
    setting: str
    text: str
    shown: tuple[Shown, ...]
    words: tuple[str, ...] = ()
    guess: str = ""
    weight: float = 0.0


class Guess(NamedTuple):
    """One mapping of the draft: a neutral setting (or ``mode arm``, ``range``) and how sure.

    ``confidence`` is between 0 and 1; ``sure`` is whether the draft leaves it unmarked.
    ``reason`` is one line; ``rival`` the runner-up, ``""`` for none.
    """

    setting: str
    name: str
    confidence: float
    sure: bool
    reason: str
    rival: str = ""


class Draft(NamedTuple):
    """A drafted dialect: its file's text, what it rests on, and what is still worth asking.

    ``questions`` are the open ones, most consequential first.  ``notes`` say what was seen and
    what could not be done, a sentence each.
    """

    text: str
    dialect: Dialect
    guesses: tuple[Guess, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]
