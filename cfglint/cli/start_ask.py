"""The dialogue that sets up a hangar: questions on standard output, answers from standard input.

An empty answer leaves a question out.  Where the input ends, so does the dialogue.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import TextIO

    from cfglint.cli.start_card import Facts, Question

#: What leaves out all that is still to be asked of a craft.
ENOUGH = "."


class Talk:
    """Asks, and hears answers; ``over`` once there is nobody to answer."""

    def __init__(self, hears: TextIO, says: TextIO) -> None:
        self.hears = hears
        self.says = says
        self.over = False

    def tell(self, text: str) -> None:
        from textwrap import wrap

        from cfglint.cli.parser import page_width
        from cfglint.report.plain import visible

        encoding = getattr(self.says, "encoding", None) or "utf-8"
        for line in wrap(visible(text, encoding), page_width(), break_on_hyphens=False) or [""]:
            self.says.write(line + "\n")

    def ask(self, text: str) -> str:
        """The answer without blanks around it, ``""`` for none."""
        if self.over:
            return ""
        self.tell(text)
        self.says.write("> ")
        self.says.flush()
        line = self.hears.readline()
        if not line:
            self.over = True
        if not line.endswith("\n") or not self.hears.isatty():
            self.says.write("\n")  # no key was pressed that would have begun a new line
        return line.strip()

    def sound(self, text: str, read: Callable[[str], object]) -> str:
        """An answer that ``read`` takes, asked for until there is one; ``""`` for none."""
        while True:
            answer = self.ask(text)
            if not answer or answer == ENOUGH:
                return answer
            try:
                read(answer)
            except Problem as wrong:
                self.tell(str(wrong))
            else:
                return answer


def ask_folder(talk: Talk, read: Callable[[str], object]) -> str:
    talk.tell("A hangar is a folder with the dumps of your craft and all that belongs to them.")
    return talk.sound("Which folder shall it be? (Enter: this one)", read) or ENOUGH


def ask_dumps(talk: Talk, take: Callable[[str], object]) -> None:
    """Paths of dumps, each handed to ``take``, which raises Problem for one that cannot be."""
    text = "Which file holds a dump? It is copied. (Enter: none for now)"
    while (answer := talk.sound(text, take)) and answer != ENOUGH:
        text = "And the next one? (Enter: no more)"


def ask_card(talk: Talk, craft: str, facts: Facts) -> Facts:
    """The facts of one craft with those that are answered; what is known is not asked for."""
    from cfglint.cli.start_card import QUESTIONS, fact, switch

    open_ones = [one for one in QUESTIONS if one.field not in facts.values]
    if not open_ones and facts.switches:
        return facts
    talk.tell("")
    talk.tell(
        f"The hardware card of {craft}, from the craft itself. Enter leaves a question out, and "
        f"`{ENOUGH}` the rest of them; the card says what stays unknown for it."
    )
    for one in open_ones:
        if one.after and one.after not in facts.values:
            continue
        answer = talk.sound(_question(one), lambda text, one=one: fact(one.field, text))  # type: ignore[misc]
        if answer == ENOUGH:
            return facts
        if answer:
            facts = facts.plus(fact(one.field, answer))
    return facts if facts.switches else _switches(talk, facts, switch)


def _question(one: Question) -> str:
    from cfglint.cli.start_card import choices
    from cfglint.craft.card import FIELDS

    return one.text if FIELDS[one.field].kind == "text" else f"{one.text} ({choices(one.field)})"


def _switches(talk: Talk, facts: Facts, read: Callable[[str], Facts]) -> Facts:
    from cfglint.cli.start_card import check

    text = (
        "Which switches has the transmitter? Name, channel, and the pulses of its positions in µs, "
        "as in `K5=5:988,2012` (Enter: none)"
    )
    while True:
        known = facts
        answer = talk.sound(text, lambda words: check(known.plus(read(words))))  # noqa: B023
        if not answer or answer == ENOUGH:
            return facts
        facts = facts.plus(read(answer))
        text = "And the next one? (Enter: no more)"
