"""The dialogue of teaching: the sheet's questions one by one, what can do most harm first.

Questions go to standard output, answers come from standard input, a line each.  After every
answer the samples are drafted anew, so a question that it settles is not asked, and the sheet is
written: the dialogue can be broken off at any time.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from cfglint.cli.output import to_screen
from cfglint.report.blocks import Heading, Prose, count

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Mapping

    from cfglint.teach.sheet import Question
    from cfglint.teach.whole import Whole

#: What may be written, by the kind of question.
WRITE = {
    "word": "a neutral word ({words}), or `-` if it means none of them",
    "value": "the true value{unit}, `ok` if it is read rightly, or `-` if no line says it",
    "find": "the number of the line and what is written there, `12: fast`; a code with what it "
    "means, `12: 04 => dshot300`; or `-` if no line says it",
    "rows": "`ok` if such rows are read rightly",
}


class Dialogue:
    """Asks what is open.  ``answers`` are the sheet's, and grow by what is said."""

    def __init__(
        self,
        options: Namespace,
        sheet: str,
        again: Callable[[Mapping[str, str]], Whole],
        answers: dict[str, str],
    ) -> None:
        from cfglint.cli.start_ask import Talk

        self.talk = Talk(sys.stdin, sys.stdout)
        self.options = options
        self.sheet = sheet
        self.again = again
        self.answers = answers
        self.left: set[str] = set()
        self.kept = 0

    def run(self, made: Whole) -> Whole:
        """Ask until nothing is left, or it is enough; gives the draft by all answers."""
        if not made.open:
            self.talk.tell("There is nothing to ask.")
            return made
        self.talk.tell(
            f"{count(len(made.open), 'question is', 'questions are')} open. Enter leaves one for "
            "another time, `?` says what may be written, `stop` ends. Each answer is kept at once "
            f"in {self.sheet}."
        )
        try:
            while (left := self._left(made)) and (fresh := self._one(left, made)) is not None:
                made = fresh
        finally:
            kept = count(self.kept, "answer is", "answers are")
            self.talk.tell("")
            self.talk.tell(f"{kept} kept in {self.sheet}; the same command goes on from there.")
            self.talk.tell("")
        return made

    def _left(self, made: Whole) -> list[Question]:
        return [one for one in made.open if one.key not in self.left]

    def _one(self, left: list[Question], made: Whole) -> Whole | None:
        """Put the first question until it is answered or left; None where it is enough."""
        from cfglint.cli.teach_sheet import mistake

        question = left[0]
        title = question.subject if question.kind != "word" else f"`{question.subject}`"
        self.talk.tell("")
        heading = Heading((title, f"{len(left)} open"))
        to_screen(self.options, [heading, Prose("", question.about)])
        while True:
            answer = self.talk.ask("")
            if self.talk.over or answer.lower() in ("stop", "quit"):
                return None
            if not answer:
                self.left.add(question.key)
                return made
            if answer == "?":
                self._say("write", _help(question))
                continue
            wrong = mistake(question.key, answer, made.samples)
            if wrong is not None:
                self._say("but", "; ".join(part for part in wrong if part))
                continue
            fresh = self.again({**self.answers, question.key: answer})
            if question.key in {one.key for one in fresh.open}:
                force = "; if it is so all the same, write `!` behind it"
                forced = force if question.kind == "word" else ""
                self._say("but", f"`{answer}` contradicts the samples{forced}")
                continue
            self.answers[question.key] = answer
            self._keep(fresh, answer)
            return fresh

    def _keep(self, made: Whole, answer: str) -> None:
        from cfglint.cli.teach_sheet import write_sheet

        write_sheet(self.sheet, made, self.answers)
        self.kept += 1
        self._say("noted", answer)

    def _say(self, label: str, text: str) -> None:
        to_screen(self.options, [Prose(label, text)])


def _help(question: Question) -> str:
    from cfglint.craft.settings import MODES, SETTINGS

    row = SETTINGS.get(question.table or question.subject)
    words = MODES if question.table == "mode" else row.words if row is not None else ()
    unit = f", in {row.unit}" if row is not None and row.unit else ""
    return WRITE[question.kind].format(words=", ".join(words), unit=unit)
