"""What a run came to: flat records that reports are made from.

Records hold no craft and no tree, so that worker processes can hand them back and a cache can
keep them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from cfglint.dialect.unsure import Unsure
    from cfglint.finding import Finding, Grade, Outcome
    from cfglint.rule import Rule
    from cfglint.span import Span


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
    outcomes: tuple[Outcome, ...]
    troubles: tuple[Trouble, ...]
    floor: Grade = "advise"
    aside: tuple[Aside, ...] = ()

    @property
    def findings(self) -> list[Finding]:
        return [item for outcome in self.outcomes for item in outcome.findings]

    def held_back(self) -> dict[str, list[Finding]]:
        """Findings that go away with another one's cure, by the fingerprint of that one.

        Of a cause that somebody accepted nothing is held back.
        """
        causes = {item.print for item in self.findings if item.accepted is None and item.print}
        held: dict[str, list[Finding]] = {}
        for item in self.findings:
            if item.cause in causes and item.accepted is None:
                held.setdefault(item.cause, []).append(item)
        return held

    def exit_code(self) -> int:
        """The documented exit code: the highest that applies."""
        from cfglint.finding import GRADES

        codes = [trouble.exit for trouble in self.troubles]
        worst = GRADES.index(self.floor)
        if any(
            item.accepted is None and GRADES.index(item.graded) <= worst for item in self.findings
        ):
            codes.append(1)
        return max(codes, default=0)
