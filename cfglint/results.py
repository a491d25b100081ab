"""What a run came to: flat records that reports are made from.

Records hold no craft and no tree, so that worker processes can hand them back and a cache can
keep them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from cfglint.cure import Cure
    from cfglint.dialect.unsure import Unsure
    from cfglint.rule import Edit, Grade, Lack, Related, Rule, State
    from cfglint.span import Excerpt, Span


class Accepted(NamedTuple):
    """A recorded decision to live with a finding."""

    reason: str
    by: str
    until: str
    span: Span | None


class Found(NamedTuple):
    """One finding of one rule on one craft, ready to be shown.

    ``print`` is a fingerprint that does not move when unrelated lines are inserted;
    ``line_hash`` the rolling hash of the text from ``span.line`` on
    (``cfglint.prints.LineHashes(text).of(span.line)``).  ``rests`` is that of its verdict.
    ``cure`` are the lines that cure it, if the rule offers any; where this finding goes away with
    the cure of another one of the same craft, ``cause`` is the other's fingerprint.
    """

    rule: str
    grade: Grade
    file: str
    craft: str
    span: Span
    message: str
    instead: str
    excerpt: Excerpt
    beside: tuple[Related, ...] = ()
    fix: tuple[Edit, ...] = ()
    picture: str = ""
    print: str = ""
    accepted: Accepted | None = None
    line_hash: str = ""
    rests: tuple[str, ...] = ()
    cure: Cure | None = None
    cause: str = ""


class Verdict(NamedTuple):
    """The one outcome of one rule on one craft; ``found`` is empty unless it is broken.

    ``line_hash`` is the rolling hash of the text from ``whole.line`` on.  ``rests`` names the
    unconfirmed mappings that the rule looked at, whatever it came to; of other craft of the
    fleet as ``motor.signal of Bittern``.
    """

    rule: str
    file: str
    craft: str
    state: State
    found: tuple[Found, ...] = ()
    lacks: tuple[Lack, ...] = ()
    reason: str = ""
    whole: Span | None = None
    line_hash: str = ""
    rests: tuple[str, ...] = ()


class Trouble(NamedTuple):
    """Something that is no finding: a file that could not be read, a rule that crashed, a
    configuration that is wrong.  ``kind`` is ``file``, ``crash``, ``config`` or ``nothing``.
    """

    kind: Literal["file", "crash", "config", "nothing"]
    message: str
    instead: str
    exit: int
    file: str = ""
    span: Span | None = None
    rule: str = ""
    detail: str = ""


class Aside(NamedTuple):
    """Something that the run was told to leave out, or to take less seriously.

    ``rule`` is its id where it is one; ``span`` where it is said, if that is in a file.
    """

    text: str
    span: Span | None = None
    rule: str = ""


class CraftLine(NamedTuple):
    """One craft of the run: which file, called what, read by which dialect and version.

    ``unsure`` is what the dialect file marks unconfirmed, ``home`` what fingerprints are made with:
    the craft's name where anything but its file's name says it, else its file.
    """

    file: str
    name: str
    dialect: str
    firmware: str
    lines: int
    card: str = ""
    unsure: tuple[Unsure, ...] = ()
    home: str = ""


class Run(NamedTuple):
    """Everything a report needs.

    ``root`` is the absolute path that file names in spans are relative to.
    """

    root: str
    rules: tuple[Rule, ...]
    crafts: tuple[CraftLine, ...]
    verdicts: tuple[Verdict, ...]
    troubles: tuple[Trouble, ...]
    floor: Grade = "advise"
    aside: tuple[Aside, ...] = ()

    @property
    def found(self) -> list[Found]:
        return [item for verdict in self.verdicts for item in verdict.found]

    def held_back(self) -> dict[str, list[Found]]:
        """Findings that go away with another one's cure, by the fingerprint of that one.

        Of a cause that somebody accepted nothing is held back.
        """
        causes = {item.print for item in self.found if item.accepted is None and item.print}
        held: dict[str, list[Found]] = {}
        for item in self.found:
            if item.cause in causes and item.accepted is None:
                held.setdefault(item.cause, []).append(item)
        return held

    def exit_code(self) -> int:
        """The documented exit code: the highest that applies."""
        from cfglint.rule import GRADES

        codes = [trouble.exit for trouble in self.troubles]
        worst = GRADES.index(self.floor)
        if any(item.accepted is None and GRADES.index(item.grade) <= worst for item in self.found):
            codes.append(1)
        return max(codes, default=0)
