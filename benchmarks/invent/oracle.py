"""An owner who answers questions truthfully, from what a look at the own dumps can tell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import family, show_number
from invent.model import Dump, Invented, Line

if TYPE_CHECKING:
    from cfglint.teach.model import Question, Shown


class Oracle:
    """Answers as :class:`cfglint.teach.model.Question` wants them; None for "I do not know"."""

    def __init__(self, invented: Invented, samples: tuple[Dump, ...] = ()) -> None:
        self.invented = invented
        self.samples = samples or invented.samples

    def answer(self, question: Question) -> str | None:
        """The answer to a question, or None."""
        return {
            "line": self._line,
            "value": self._value,
            "words": self._words,
            "range": self._range,
        }[question.kind](question)

    def _numbered(self) -> list[tuple[str, int, Line]]:
        return [
            (dump.file, number, line)
            for dump in self.samples
            for number, line in enumerate(dump.lines, 1)
        ]

    def _find(self, shown: Shown) -> Line | None:
        for file, number, line in self._numbered():
            if number == shown.line and file == shown.file:
                return line
        return None

    def _line(self, question: Question) -> str | None:
        """The line among those shown that sets the setting, else the first in the dumps."""
        wanted = question.setting

        def sets(line: Line) -> bool:
            if wanted == "range":
                return line.range is not None
            return any(family(name) == family(wanted) for name in line.sets)

        rows = self._numbered()
        places = [(one.file, one.line) for one in question.shown]
        shown = [row for row in rows if (row[0], row[1]) in places]
        for file, number, line in [*shown, *rows]:
            if sets(line):
                return f"{file}:{number}" if len(self.samples) > 1 else str(number)
        return "none"

    def _value(self, question: Question) -> str | None:
        line = self._find(question.shown[0]) if question.shown else None
        if line is None:
            return None
        for name, value in {**line.aside, **line.sets}.items():
            if family(name) == family(question.setting):
                return tell(value)
        return "none"

    def _words(self, question: Question) -> str | None:
        """What the words mean that stand in the owner's own dumps."""
        if question.setting in self.invented.masks:
            return self._bits(question)
        meanings = self.invented.meanings.get(question.setting, {})
        known = {word.strip('"') for word in self._seen(question.setting)}
        pairs = []
        for word in question.words:
            bare = word.strip('"')
            if bare in meanings and bare in known:
                pairs.append(f"{word} = {meanings[bare]}")
        return ", ".join(pairs) or None

    def _seen(self, setting: str) -> set[str]:
        found: set[str] = set()
        for _, _, line in self._numbered():
            if setting == "mode":
                found.add(line.mode_word)
                if line.link is not None:
                    words = {v: k for k, v in self.invented.meanings["mode"].items()}
                    found.add(words[line.link[1]])
            elif setting == "join":
                found |= set(self.invented.meanings.get("join", {})) if line.range else set()
            for name, written in line.written.items():
                if family(name) == setting:
                    found |= {written, *written.replace("+", ",").replace("/", ",").split(",")}
                    found |= set(written.split()) | set(written.split("|"))
        return found

    def _bits(self, question: Question) -> str | None:
        """The meanings of set bits, named by their numbers or by their values."""
        mask = self.invented.masks[question.setting]
        set_bits = {
            bit
            for _, _, line in self._numbered()
            for name, written in line.written.items()
            if family(name) == question.setting
            for bit in range(64)
            if int(written) >> bit & 1
        }
        by_number = {str(bit): word for word, bit in mask.items() if bit in set_bits}
        by_value = {str(1 << bit): word for word, bit in mask.items() if bit in set_bits}
        words = [word.removeprefix("bit").strip() for word in question.words]
        # A number could be a bit's or its value's; who asks says which, or asks of set bits only.
        says_bits = "bit" in question.text.lower() or list(question.words) != words
        by_values = set(words) <= set(by_value) and not set(words) <= set(by_number)
        table = by_value if by_values and not says_bits else by_number
        pairs = [
            f"{asked} = {table[word]}"
            for asked, word in zip(question.words, words, strict=True)
            if word in table
        ]
        return ", ".join(pairs) or None

    def _range(self, question: Question) -> str | None:
        line = self._find(question.shown[0]) if question.shown else None
        if line is None or line.range is None:
            return None
        _, channel, low, high, _ = line.range
        return f"channel {channel}, {show_number(low)} to {show_number(high)}"


def tell(value: Any) -> str:
    """A neutral value as an answer says it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or "nothing"
    return show_number(value) if isinstance(value, int | float) else str(value)
