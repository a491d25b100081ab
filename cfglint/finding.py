"""Findings and outcomes: what a rule says of a craft, and what a run makes of it.

These are flat records without craft or tree, so that other processes can hand them back and a
cache can keep them.  A rule yields findings; the runner adds to each, once, what reports need.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.span import Excerpt

if TYPE_CHECKING:
    from cfglint.craft import ModeRange
    from cfglint.span import Span

Grade = Literal["ground", "fix", "advise"]
State = Literal["holds", "broken", "unknown", "not for this craft"]

#: Worst first.
GRADES: tuple[Grade, ...] = ("ground", "fix", "advise")


class Edit(NamedTuple):
    """Replace the text of ``span`` by ``text`` (an empty span inserts)."""

    span: Span
    text: str


class Put(NamedTuple):
    """What cures a finding, in neutral words: the setting ``name`` has ``value``.

    Where the dialect cannot write that very number, the nearest that it can from ``least`` to
    ``most`` will do; without them it must be that one.
    """

    name: str
    value: Any
    least: float | None = None
    most: float | None = None


class Move(NamedTuple):
    """What cures a finding: a mode range has other ends."""

    row: ModeRange
    low_us: float
    high_us: float


class Drop(NamedTuple):
    """What cures a finding: the line(s) of ``span`` are not there; they say nothing else."""

    span: Span


class Respell(NamedTuple):
    """What cures a finding: at ``span`` there is to be ``text``, and then the line counts."""

    span: Span
    text: str


class Related(NamedTuple):
    """Another place that a finding speaks of, and what it has to do with it.

    The ``excerpt`` is put in by the runner, whatever a rule says.
    """

    span: Span
    message: str
    excerpt: Excerpt = Excerpt(1, ())


class Step(NamedTuple):
    """One line of a cure: what to enter (``""``: nothing, the line goes) and where.

    ``line`` is the line of the dump that it stands for, 0 where it is new; a new one goes below
    line ``after``, ``under`` a title.
    """

    text: str
    line: int
    after: int = 0
    under: str = ""

    def where(self) -> str:
        """Where it goes, in words."""
        if self.line:
            return f"in place of line {self.line}" if self.text else f"take out line {self.line}"
        title = f", under `{self.under}`" if self.under else ""
        return (f"new, below line {self.after}" if self.after else "new, at the top") + title


class Cure(NamedTuple):
    """Lines that cure a finding, as a reader is told and as edits of the file's characters.

    ``asks`` is the same in neutral words; ``unwritten`` says why there are no lines.  Where no line
    of the dump is asked for, ``by`` says what cures it: a look and the ``card``, or the ``hand``;
    ``choices`` are what a look may then find to be the cure.
    """

    steps: tuple[Step, ...] = ()
    edits: tuple[Edit, ...] = ()
    asks: tuple[str, ...] = ()
    unwritten: str = ""
    by: Literal["", "card", "hand"] = ""
    choices: tuple[Cure, ...] = ()


class Accepted(NamedTuple):
    """A recorded decision to live with a finding."""

    reason: str
    by: str
    until: str
    span: Span | None


class Finding(NamedTuple):
    """One thing that is wrong.

    ``message`` says what is wrong, on which value, and why it matters in one clause;
    ``instead`` what to write or do; ``picture`` is an optional few lines of plain text drawn
    below the message; ``grade`` overrides the rule's own.

    ``edits`` is the cure in neutral words, all of it together, where lines of the dump can cure
    the finding and it is clear what they should say: the runner writes them as the craft's dialect
    does, and says where they go.  No edits are offered where somebody has to look, to choose or to
    solder: that is told as a matter of the ``hand``, or of the ``card`` where it is that which has
    to be put right.  Where a look has to tell which line it is, or whether, ``choices`` are edits
    any one of which cures it: shown, and never made.  ``fix`` is a cure in characters, for what has
    no neutral name.

    The rest is put in by the runner, whatever a rule says: the rule's id and the grade that counts;
    the craft's file and name; in ``fix`` the characters of the ``cure``, which says the same in
    lines; ``print``, a fingerprint that does not move when unrelated lines are inserted;
    ``line_hash``, the rolling hash of the text from ``span.line`` on
    (``cfglint.prints.LineHashes(text).of(span.line)``); ``rests``, that of its outcome.  Where the
    finding goes away with the cure of another one of the same craft, ``cause`` is the other's
    fingerprint.
    """

    span: Span
    message: str
    instead: str = ""
    related: tuple[Related, ...] = ()
    grade: Grade | None = None
    fix: tuple[Edit, ...] = ()
    picture: str = ""
    edits: tuple[Put | Move | Drop | Respell, ...] = ()
    by: Literal["hand", "card"] = "hand"
    choices: tuple[Put | Move | Drop | Respell, ...] = ()
    rule: str = ""
    file: str = ""
    craft: str = ""
    excerpt: Excerpt = Excerpt(1, ())
    print: str = ""
    accepted: Accepted | None = None
    line_hash: str = ""
    rests: tuple[str, ...] = ()
    cure: Cure | None = None
    cause: str = ""

    @property
    def graded(self) -> Grade:
        """The grade, which the runner has put in."""
        assert self.grade is not None
        return self.grade


class Lack(NamedTuple):
    """A fact that would settle a rule: a setting or card field, and where to write it."""

    fact: str
    where: str
    text: str


class Outcome(NamedTuple):
    """What one rule said of one craft: there is exactly one for each of both.

    ``lacks`` names missing facts: always for ``unknown``, and for ``broken`` where some
    findings were certain before a fact was missed.  ``rests`` names the unconfirmed mappings
    that the rule looked at, in any state (see ``Craft.unsure``); of other craft of the fleet as
    ``motor.signal of Bittern``.  ``whole`` is the place that stands for the whole craft, and
    ``line_hash`` the rolling hash of the text from its line on.
    """

    rule: str
    craft: str
    state: State
    findings: tuple[Finding, ...] = ()
    lacks: tuple[Lack, ...] = ()
    reason: str = ""
    file: str = ""
    whole: Span | None = None
    line_hash: str = ""
    rests: tuple[str, ...] = ()
