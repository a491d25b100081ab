"""The dialogue of teaching: the questions that a draft leaves, the weightiest first.

Questions go to standard output, answers come from standard input, a line each.  After every
answer the samples are drafted anew, so a question that an answer settles is not asked.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING

from cfglint.cli.teach_files import UNKNOWN, merged
from cfglint.craft.settings import MODES, family, setting, show_number
from cfglint.errors import Problem
from cfglint.record import NamedTuple
from cfglint.report.layout import count, heading, prose

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from cfglint.cli.start_ask import Talk
    from cfglint.cli.teach_files import Answers
    from cfglint.dump.source import Source
    from cfglint.report.layout import Line, Page
    from cfglint.teach.model import Draft, Question, Shown

#: So many questions are asked before it is asked whether to go on.
MOST = 8
#: Surer than this a guess of a line must be for Enter to take it.
LIKELY = 0.5
LETTERS = "abcdefghijklmnopqrstuvwxyz"
NONE = ("none", "no line", "nothing sets it", "not here")
_SUBJECT = {"mode": "modes", "range": "a mode's range"}


class Back(Exception):  # noqa: N818  (a way through the dialogue, not an error)
    """To the question before."""


class Stop(Exception):  # noqa: N818
    """Enough for now; ``said`` is what was answered of ``question`` by then."""

    def __init__(self, question: Question | None = None, said: str = "") -> None:
        super().__init__()
        self.question = question
        self.said = said


class Redraft(NamedTuple):
    """What the dialogue needs of the command: drafting by answers, and the samples."""

    draft: Callable[[Mapping[str, str]], Draft]
    samples: Sequence[Source]


class Dialogue:
    """Asks what a draft leaves open.

    ``answers`` are those that are kept: each new one is saved at once.  ``given`` come from
    elsewhere, count more, and are not asked for.  ``write`` puts lines on the page.
    """

    def __init__(
        self,
        talk: Talk,
        page: Page,
        write: Callable[[Iterator[Line]], None],
        redraft: Redraft,
        answers: Answers,
        given: Mapping[str, str],
        *,
        again: bool = False,
    ) -> None:
        self.talk = talk
        self.page = page
        self.write = write
        self.redraft = redraft
        self.answers = answers
        self.given = given
        self.again = again
        #: Questions of this dialogue that have been put, and what there is of each beforehand.
        self.put: dict[str, None] = {}
        self.saved: set[str] = set()
        self.partly: dict[str, Question] = {}

    # ------------------------------------------------------------ the whole

    def run(self, draft: Draft, most: int) -> Draft:
        """Ask until nothing is left, or it is enough; gives the draft by all answers.

        Raises KeyboardInterrupt after saying what is saved.
        """
        self.partly = self._partly()
        queue = self._open(draft)
        if not queue:
            unknown = any(self._settled(one) for one in draft.questions)
            more = "; --again asks what was not known" if unknown and not self.again else ""
            self.talk.tell(f"There is nothing to ask{more}.")
            return draft
        self._begin(len(queue))
        limit = most
        history: list[Question] = []
        try:
            while queue := self._open(draft):
                if len(history) >= limit:
                    if not self._go_on(len(queue)):
                        break
                    limit += most
                question = queue[0]
                while True:
                    try:
                        draft = self._one(question, draft, len(history) + 1, len(queue))
                    except Back:
                        if history:
                            question = history.pop()
                            continue
                        self.say("", "this is the first question")
                        continue
                    history.append(question)
                    self.put[question.id] = None
                    break
        except Stop as stop:
            if stop.question is not None:
                draft = self._keep(stop.question, stop.said, draft)
            self._ended("stopped")
        except KeyboardInterrupt:
            self.talk.says.write("\n")
            self._ended("stopped")
            raise
        else:
            self._ended("done")
        return draft

    def _begin(self, number: int) -> None:
        self.talk.tell(
            f"{count(number, 'question is', 'questions are')} open, the weightiest first. Enter "
            "takes what is proposed, or leaves the question for another time; `?` says what may "
            'be answered, `-` is for "I don\'t know", `back` goes to the question before, '
            f"`stop` ends. Each answer is saved at once in {self.answers.path}."
        )

    def say(self, label: str, text: str) -> None:
        """What came of an answer, beside a label."""
        self.write(prose(label, text, self.page))

    def _ended(self, how: str) -> None:
        number = len(self.saved)
        kept = f"{count(number, 'answer is', 'answers are')} saved in {self.answers.path}"
        if not number:
            kept = "nothing was answered"
        more = ", and the same command goes on from there" if how == "stopped" else ""
        self.talk.tell("")
        self.talk.tell(f"{how.capitalize()}: {kept}{more}.")
        self.talk.tell("")

    def _go_on(self, left: int) -> bool:
        self.talk.tell("")
        what = count(left, "smaller question is", "smaller questions are")
        return self.talk.ask(f"{what} left; go on? [y/N]").lower() in ("y", "yes")

    # ------------------------------------------------------------ what is open

    def _all(self) -> dict[str, str]:
        return merged(self.answers.texts, self.given)

    def _settled(self, question: Question) -> bool:
        said = self._all().get(question.id)
        return said is not None and not (said == UNKNOWN and self.again)

    def _open(self, draft: Draft) -> list[Question]:
        """What is to be asked yet, the weightiest first."""
        found = {one.id: one for one in draft.questions if not self._settled(one)}
        found.update(self.partly)
        rows = [one for one in found.values() if one.id not in self.put]
        return sorted(rows, key=lambda one: (-one.weight, one.id))

    def _partly(self) -> dict[str, Question]:
        """Questions for words of which some are answered: by an earlier sample, or half-way."""
        said = {key: text for key, text in self._all().items() if key.startswith("words ")}
        if not said:
            return {}
        rest = {key: text for key, text in self._all().items() if key not in said}
        found = {}
        for one in self.redraft.draft(rest).questions:
            if one.id not in said or one.id in self.given or said[one.id] == UNKNOWN:
                continue
            known = pairs(said[one.id])
            left = [
                word
                for word in one.words
                if word not in known or (self.again and known[word] == UNKNOWN)
            ]
            if left:
                found[one.id] = one._replace(words=tuple(left))
        return found

    # ------------------------------------------------------------ one question

    def _one(self, question: Question, draft: Draft, number: int, left: int) -> Draft:
        """Put a question until it is answered; gives the draft by the answer.

        Raises Back and Stop.
        """
        asked = _Asked(self, question, draft)
        self.write(asked.lines(number, left))
        if question.kind == "words":
            return self._words(asked, draft)
        while True:
            text = self._hear(asked)
            if not text and not asked.proposed:
                self.say("left", "for another time")
                return draft
            try:
                answer, remark = asked.meant(text or asked.proposed)
                return self._keep(question, answer, draft, remark)
            except Problem as wrong:
                self.say("but", _explained(wrong))

    def _words(self, asked: _Asked, draft: Draft) -> Draft:
        """What each of several words means, one after another."""
        question = asked.question
        before = pairs(self.answers.texts.get(question.id, ""))
        found: dict[str, str] = {}
        at = 0
        while at < len(question.words):
            word = question.words[at]
            proposed = asked.words.get(word, "")
            self.write(asked.word_lines(word, at, proposed))
            try:
                text = self._hear(asked) or proposed
            except Back:
                if not at:
                    raise
                at -= 1
                found.pop(question.words[at], None)
                continue
            except Stop:
                if found:
                    raise Stop(question, written({**before, **found})) from None
                raise
            try:
                if "=" in text:
                    found.update(self._checked(question, pairs(text)))
                elif text:
                    found.update(self._checked(question, {word: text}))
            except Problem as wrong:
                self.say("but", _explained(wrong))
                continue
            at += 1
            while at < len(question.words) and question.words[at] in found:
                at += 1
        if not found:
            self.say("left", "for another time")
            return draft
        both = {**before, **found}
        if set(both.values()) == {UNKNOWN}:
            return self._keep(question, UNKNOWN, draft)
        try:
            return self._keep(question, written(both), draft)
        except Problem as wrong:
            self.say("but", _explained(wrong))
            return self._words(asked, draft)

    def _checked(self, question: Question, said: dict[str, str]) -> dict[str, str]:
        """Words and their meanings, if they can be meant.  Raises Problem."""
        from cfglint.teach.answers import understand

        for word, meaning in said.items():
            if word not in question.words:
                from cfglint.near import listing

                raise Problem(
                    f"`{word}` is not asked for", instead=f"it may be {listing(question.words)}"
                )
            understand({question.id: written({word: meaning})})
        return said

    def _hear(self, asked: _Asked) -> str:
        """What is answered; ``?`` once it stands for "I don't know".  Raises Back and Stop."""
        while True:
            text = self.talk.ask("")
            if self.talk.over:
                raise Stop
            word = text.lower()
            if word == "?":
                self.write(asked.help())
            elif word == "-":
                return UNKNOWN
            elif word == "back":
                raise Back
            elif word == "quit" or (word == "stop" and not asked.stops):
                raise Stop
            else:
                return text

    def _keep(self, question: Question, answer: str, draft: Draft, remark: str = "") -> Draft:
        """Draft by one answer more, then save it.  Raises Problem for one that cannot be."""
        fresh = draft
        if answer != UNKNOWN or question.id in self._all():
            fresh = self.redraft.draft({**self._all(), question.id: answer})
        samples = [os.path.basename(one.file) for one in self.redraft.samples]
        self.answers.save(question.id, answer, samples, remark)
        self.saved.add(question.id)
        self.partly.pop(question.id, None)
        self.say("noted", noted(question, answer, fresh))
        return fresh


def noted(question: Question, answer: str, draft: Draft) -> str:
    """One line on what came of an answer."""
    if answer == UNKNOWN:
        return "not known; it stays open"
    if question.kind != "line":
        return answer
    if answer.lower() in NONE:
        return f"no line sets {question.setting}"
    for guess in draft.guesses:
        if question.setting in guess.setting.split(", "):
            sure = "" if guess.sure else ", what it says is not sure yet"
            return f"{question.setting} is `{guess.name}`{sure}"
    return (
        f"but no way was found to read {question.setting} from that line: it is left to be written "
        "into the dialect file by hand"
    )


def pairs(text: str) -> dict[str, str]:
    """``0 = arm, 6 = ?`` as words and their meanings."""
    found = {}
    for part in re.split(r"[,;\n]", text):
        word, mark, meaning = part.partition("=")
        if mark:
            found[word.strip().strip('"')] = meaning.strip() or UNKNOWN
    return found


def written(said: Mapping[str, str]) -> str:
    return ", ".join(f"{word} = {meaning}" for word, meaning in said.items())


def _explained(wrong: Problem) -> str:
    return f"{wrong.message}; {wrong.instead}" if wrong.instead else wrong.message


# ------------------------------------------------------------------ how a question is put


class _Asked:
    """A question on the page: its lines, its choices, what is proposed, its help.

    ``proposed`` is the answer that Enter gives, ``words`` the same for each of several words.
    ``stops`` is whether ``stop`` is an answer.
    """

    def __init__(self, talks: Dialogue, question: Question, draft: Draft) -> None:
        self.question = question
        self.page = talks.page
        self.samples = talks.redraft.samples
        self.kept = talks.answers.texts.get(question.id, "")
        before = self.kept if self.kept != UNKNOWN else ""
        self.words = pairs(before or question.guess) if question.kind == "words" else {}
        #: Why the first line shown is the likeliest, ``""`` where nothing is.
        self.why = ""
        self.proposed = "" if question.kind == "words" else before or self._guess(draft)
        self.stops = question.setting == "failsafe.action" and question.kind != "line"

    def _guess(self, draft: Draft) -> str:
        question = self.question
        if question.kind == "line":
            return self._guessed_line(draft)
        if question.guess or question.kind != "value" or not question.shown:
            return question.guess
        return _as_read(draft, self.samples, question)

    def _guessed_line(self, draft: Draft) -> str:
        question = self.question
        proposed = question.guess
        for letter, one in zip(LETTERS, question.shown, strict=False):
            if question.guess in (str(one.line), f"{one.file}:{one.line}"):
                proposed = letter
        for guess in draft.guesses:
            if proposed and question.setting in guess.setting.split(", "):
                self.why = f"{proposed}: {guess.reason} ({guess.confidence:.2f})"
                # What is hardly more than a chance is not to be had by pressing a key.
                return proposed if guess.confidence >= LIKELY else ""
        return proposed

    # -------------------------------------------------------- lines

    def lines(self, number: int, left: int) -> Iterator[Line]:
        question, page = self.question, self.page
        yield []
        about = _SUBJECT.get(question.setting, question.setting)
        yield from heading([f"Question {number}", about, f"{left} open"], page)
        yield from prose("", question.text, page)
        file = ""
        for at, one in enumerate(question.shown):
            if one.file != file and (len(self.samples) > 1 or not at):
                file = one.file
                yield from prose("in", file, page)
            letter = LETTERS[at] if question.kind == "line" and at < len(LETTERS) else ""
            yield self._shown(one, letter)
        if question.kind == "line" and not question.shown:
            yield from prose("", "No line was found that looks like it.", page)
        if self.why:
            yield from prose("guess", self.why, page)
        yield from prose("write", self._how(), page)
        if self.proposed:
            yield from prose("Enter", self.proposed, page, self.proposed)

    def _shown(self, one: Shown, letter: str) -> Line:
        from cfglint.report.excerpt import show_line

        page = self.page
        label = f"{one.line:>5}" if not letter else f"{letter}) {one.line:>4}"
        text = show_line(
            one.text, 0, 0, width=page.room, measure=page.measure, encoding=page.encoding
        )
        bar = page.drawn("│", "|")
        return [(f"{label:>7} {bar} ", "bold" if letter else "dim"), (text.text, "")]

    def word_lines(self, word: str, at: int, proposed: str) -> Iterator[Line]:
        number = len(self.question.words)
        place = f" ({at + 1} of {number})" if number > 1 else ""
        yield from prose("", f"What does `{word}` mean?{place}", self.page)
        if proposed:
            yield from prose("Enter", proposed, self.page)

    def _how(self) -> str:
        question = self.question
        if question.kind == "line":
            letters = "a letter, " if question.shown else ""
            number = "a line's number" if len(self.samples) == 1 else "FILE:NUMBER"
            return f"{letters}{number}, the name in a line, or `none` if no line sets it"
        if question.kind == "range":
            return "`channel 5, 1715 to 2145`, in µs; or `none` if this line is no mode's range"
        known = _words(question.setting)
        if known:
            ends = "; here `stop` is an answer, and `quit` ends" if self.stops else ""
            each = "one of " if question.kind == "words" else ""
            return f"{each}{', '.join(known)}{ends}"
        row = setting(question.setting)
        if row.kind == "flag":
            return "yes or no; `none` if the line does not set it"
        if row.kind in ("count", "number"):
            return f"a number{_unit(row.unit)}; `none` if the line does not set it"
        return "what it says; `none` if the line does not set it"

    def help(self) -> Iterator[Line]:
        """All that may be answered, and what it means."""
        question, page = self.question, self.page
        subject = question.setting
        if question.kind == "line":
            for word, what in (
                ("a, b …", "the letter of a line shown above"),
                ("14", "any other line's number in the sample"),
                ("NAME:14", "the same, where there are several samples"),
                ("a name", "as it stands in the line"),
                ("none", "no line of the samples sets it"),
            ):
                yield from prose(word, what, page)
        if question.kind == "range":
            yield from prose("", "the channel counts from 1, the pulses are in µs", page)
        if len(question.words) > 1:
            two = " and ".join(f"`{word} = …`" for word in question.words[:2])
            yield from prose("several", f"at once, with commas between: {two}", page)
        for word, meaning in meanings(subject):
            yield from prose("", f"{word}: {meaning}" if meaning else word, page, word)
        if subject not in _SUBJECT:
            row = setting(subject)
            limits = ""
            if row.least is not None and row.most is not None:
                low, high = show_number(row.least), show_number(row.most)
                limits = f", {low} to {high} {row.unit}".rstrip()
            yield from prose("about", f"{subject}: {row.about}{limits}", page)
        if question.kind == "value":
            no = "not here" if self.stops else "none"
            yield from prose(no, "the line does not set it at all", page)
        yield from prose("-", "not known; it is not asked again unless with --again", page)
        end = "quit" if self.stops else "stop"
        yield from prose("back", f"the question before; `{end}` ends, what is saved stays", page)

    # -------------------------------------------------------- answers

    def meant(self, text: str) -> tuple[str, str]:
        """An answer as it is kept, and the line it names.  Raises Problem."""
        if text == UNKNOWN:
            return UNKNOWN, ""
        if self.question.kind == "value" and self.stops and text.lower() == "none":
            # `none` says of every other line that it does not set it; here it is an action.
            return "no action", ""
        if self.question.kind != "line" or text.lower() in NONE:
            return text, ""
        letter = text.lower().rstrip(")")
        if len(letter) == 1 and letter in LETTERS[: len(self.question.shown)]:
            one = self.question.shown[LETTERS.index(letter)]
            return self._named(one.file, one.line, one.name), one.text
        file, colon, number = text.rpartition(":")
        if text.isascii() and text.isdigit():
            if len(self.samples) > 1:
                example = f"{os.path.basename(self.samples[0].file)}:{text}"
                raise Problem(
                    f"there are {len(self.samples)} samples", instead=f"write `{example}`"
                )
            return self._numbered(self.samples[0], int(text))
        source = sample_of(file, self.samples)
        if colon and source is not None and number.strip().isdigit():
            return self._numbered(source, int(number))
        return text, ""

    def _numbered(self, source: Source, number: int) -> tuple[str, str]:
        file = os.path.basename(source.file)
        if not 0 < number <= len(source.lines):
            raise Problem(
                f"{file} has no line {number}, it has {len(source.lines)}",
                instead="write the number of a line that is there",
            )
        text = source.lines[number - 1].strip()
        if not text:
            raise Problem(f"line {number} of {file} is empty", instead="write another number")
        for one in self.question.shown:
            if (one.file, one.line) == (source.file, number):
                return self._named(one.file, one.line, one.name), text
        return self._named(source.file, number, ""), text

    def _named(self, file: str, line: int, name: str) -> str:
        """How a line is kept: by its name where that is the line's alone, else by its number.

        Names hold for the next dump too.
        """
        if name and not name.isdigit():
            whole = re.compile(rf"(?<![\w./-]){re.escape(name)}(?![\w./-])")
            for source in self.samples:
                if (
                    source.file == file
                    and sum(bool(whole.search(row)) for row in source.lines) == 1
                ):
                    return name
        short = os.path.basename(file)
        same = [one for one in self.samples if os.path.basename(one.file) == short]
        return f"{short if len(same) == 1 else file}:{line}"


def sample_of(name: str, samples: Sequence[Source]) -> Source | None:
    """The one sample that a name means: its path, or the last part of it."""
    for one in samples:
        if name == one.file:
            return one
    fitting = [one for one in samples if os.path.basename(one.file) == name]
    return fitting[0] if len(fitting) == 1 else None


def _as_read(draft: Draft, samples: Sequence[Source], question: Question) -> str:
    """What the draft reads from the line asked about, as an answer; ``""`` for nothing."""
    from cfglint.dialect.reading import read_craft

    one = question.shown[0]
    source = sample_of(one.file, samples)
    if source is None:
        return ""
    for value in read_craft(source, draft.dialect).values.values():
        place = value.line_span
        if family(value.name) == question.setting and place is not None and place.line == one.line:
            return _answer(value.value)
    return ""


def _answer(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return show_number(value)
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or "nothing"
    return str(value)


def _unit(unit: str) -> str:
    return f" in {unit}" if unit else ""


# ------------------------------------------------------------------ what words mean


def _words(subject: str) -> tuple[str, ...]:
    if subject in _SUBJECT:
        return tuple(MODES) if subject == "mode" else ()
    row = setting(subject)
    # A list may be empty, and there are words that say so.
    nothing = ("nothing",) if row.kind == "words" else ()
    return (*row.words, *row.texts, *nothing)


def meanings(subject: str) -> Iterator[tuple[str, str]]:
    """The neutral words that may be answered, each with what it means."""
    if subject == "mode":
        yield from MODES.items()
    elif subject == "motor.signal":
        from cfglint.facts.signals import SIGNALS

        yield from ((one.id, one.title) for one in SIGNALS.values())
    elif subject == "receiver.link":
        from cfglint.facts.links import LINKS

        yield from ((one.id, one.title) for one in LINKS.values())
    else:
        yield from ((word, _ABOUT.get(word, "")) for word in _words(subject))


#: What words mean that no table of facts explains.
_ABOUT = {
    "hold": "keeps its last value",
    "drop": "no pulse is given any more",
    "stop": "motors stop",
    "descend": "the craft comes down under control",
    "return-home": "the craft flies back to where it was armed",
    "hold-last": "the last values are held",
    "none": "nothing is done",
    "lipo": "lithium polymer, 4.2 V when full",
    "lihv": "lithium polymer, 4.35 V when full",
    "li-ion": "round lithium-ion cells",
    "life": "lithium iron phosphate",
    "nothing": "it stands for an empty list",
    "receiver": "the radio receiver",
    "telemetry": "what goes down to the pilot",
    "esc-telemetry": "what the ESCs report on a wire of their own",
    "gps": "satellite position",
    "video-control": "setting the video sender",
    "camera-control": "setting the camera",
    "log": "the flight log",
    "console": "the command line, on a computer",
    "lights": "lamps",
    "rangefinder": "height or distance by echo or light",
}
