"""One sheet with all that samples leave open, filled in with an editor and read back.

A line is a question: what is asked, ``=``, the answer, which may hold any text.  Lines left empty
are not answered.  Each question says above it what stands in the samples.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.settings import MODES, family

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

HEAD = """\
# What the samples do not tell. Write each answer behind its `=`; what you do not know stays empty.
# Values are those of the first sample, in the unit that the question names.
#
#   word ...   a neutral word, or `-` if it means none of them
#   value ...  the value as it truly is; `ok` if the one shown is right; `-` if there is none; or
#              where it stands, as for `find`
#   find ...   the number of the first sample's line and what is written there, `12: fast`; if that
#              is not the value itself, what it means behind it: `12: 04 => dshot300`, `14: turned
#              => yes`. `2/30: 04` is line 30 of the second sample, for what the first has not.
#              Of what is counted one or a few will do, the rest is read alike, and `ok` if all
#              that is shown is right:
#              `finds port = 2.functions = 31: rx+tele => receiver telemetry, 2.baud = 31: 115200`
#   rows range = lines that say when a mode is on, with what they mean, as `44: arm 5 1783 2190`
#              for channel 5 from 1783 to 2190 us, `all` behind it if it must hold with others of
#              its mode; several behind `;`. Two or three of different form will do; `ok` if all
#              that are shown are right.
#   rows link = `50: beacon follows self-right`, or `-` if no mode follows another
#   words ..., values ..., finds ... = several of them in one line, each behind its name:
#              `words mode = GO = arm, LV = self-level`; quotes around what holds a comma. Words
#              that are not asked for may be told as well.
# An answer that contradicts the samples is asked again; `!` behind a word or `-` says it is so.
"""

OK, NONE = "ok", "-"
#: What a line is about that asks of several parts.
SEVERAL = "several"


class Question(NamedTuple):
    """One line of the sheet.

    ``kind`` is ``word`` (of the table ``table``), ``value`` (a mapping that is a guess) or ``find``
    (a setting that nothing was found for); ``subject`` is the written word or the setting.
    """

    kind: str
    table: str
    subject: str
    about: str
    harm: float

    @property
    def key(self) -> str:
        return f"{self.kind} {self.table + ' ' if self.table else ''}{self.subject}"


class Shown(NamedTuple):
    """A mode range as it truly is, at a line of a sample."""

    sample: int
    line: int
    mode: str
    channel: int
    low: float
    high: float
    join: str = "any"


class Linked(NamedTuple):
    """A mode that is on along with another, at a line of a sample."""

    sample: int
    line: int
    mode: str
    follows: str


class Answers(NamedTuple):
    """What was answered: words by table and text, values by setting, places by setting.

    A value is ``ok``, ``-`` or the true one; a place is a sample, its line, the text there, and a
    value or ``""``.
    """

    words: Mapping[tuple[str, str], str]
    values: Mapping[str, str]
    places: Mapping[str, tuple[int, int, str, str]]
    none: frozenset[str]
    #: Families of rows that are read as they should be.
    rows: frozenset[str] = frozenset()
    #: Mode ranges and links by example; what of them is none.
    shown: tuple[Shown, ...] = ()
    linked: tuple[Linked, ...] = ()
    unclear: tuple[str, ...] = ()

    @property
    def confirmed(self) -> set[str]:
        """What is read as it should be: settings, families of settings, and of rows."""
        return {*self.rows, *(name for name, said in self.values.items() if said == OK)}

    @property
    def pointing(self) -> bool:
        """Whether something stands in it that is held against what was read."""
        return bool(self.places or self.shown or self.linked or self.unclear or self.confirmed)


NOTHING = Answers({}, {}, {}, frozenset())


class Group(NamedTuple):
    """Questions that one line of the sheet asks; alone, a question is a line of its own."""

    key: str
    questions: tuple[Question, ...]

    @property
    def harm(self) -> float:
        return sum(one.harm for one in self.questions)


def grouped(questions: Iterable[Question]) -> list[Group]:
    """The sheet's lines, those that settle most first: all words of a table are one, all values of
    a part of the craft, and all that was not found of it; what is alone in its part joins."""
    groups: dict[str, list[Question]] = {}
    # Mode ranges by example are a line of their own.
    for one in sorted(questions, key=lambda one: -one.harm):
        about = one.table if one.kind == "word" else one.subject.partition(".")[0]
        groups.setdefault(one.key if one.kind == "rows" else f"{one.kind}s {about}", []).append(one)
    for kind in ("values", "finds"):
        alone = [key for key, every in groups.items() if key.startswith(kind) and len(every) == 1]
        if len(alone) > 1:
            groups[f"{kind} {SEVERAL}"] = [groups.pop(key)[0] for key in alone]
    made = [
        Group(key if len(every) > 1 else every[0].key, tuple(every))
        for key, every in groups.items()
    ]
    return sorted(made, key=lambda one: -one.harm)


def text(questions: Iterable[Question], answers: Mapping[str, str]) -> str:
    """The sheet, the lines that settle most first, with what was answered before.

    Answers to what is no longer asked stay at its end: the draft rests on them.
    """
    out = [HEAD]
    asked: set[str] = set()
    for group in grouped(questions):
        out += [f"# {one.about}" for one in group.questions]
        keys = {one.key for one in group.questions}
        given = [
            (key, answer)
            for key, answer in answers.items()
            if (key in keys or family(key) in keys) and _quotable(_named(key) + answer)
        ]
        asked |= {key for key, _ in given}
        single = len(group.questions) == 1 and all(key == group.key for key, _ in given)
        if single:
            answer = answers.get(group.key, "")
        else:
            answer = ", ".join(
                f"{_quoted(_named(key))} = {_quoted(answer)}" for key, answer in given
            )
        head = group.key if single or len(group.questions) > 1 else _plural(group.questions[0])
        out += [f"{head} = {answer}".rstrip(), ""]
    settled = [f"{key} = {answer}" for key, answer in answers.items() if key not in asked]
    return "\n".join(out + (["# Settled:", *settled, ""] if settled else []))


def _named(key: str) -> str:
    """What a key names: a setting, or the word of a table."""
    kind, _, rest = key.partition(" ")
    return rest.partition(" ")[2] if kind == "word" else rest


def _plural(one: Question) -> str:
    return f"{one.kind}s {one.table or one.subject.partition('.')[0]}"


def _quotable(text: str) -> bool:
    """Whether a text can stand among several; one with quotes of its own has its own line."""
    return '"' not in text or not re.search(r"[,;]| = ", text)


def _quoted(text: str) -> str:
    return f'"{text}"' if re.search(r"[,;]| = ", text) and '"' not in text else text


_LINE = re.compile(
    r"(?P<key>(?:words?|values?|finds?|rows) .*?)[ \t]=(?:[ \t]+(?P<answer>.*?))?[ \t]*"
)
_PLACE = re.compile(
    r"(?:(?P<sample>\d)/)?(?P<line>\d+)[ \t]*:[ \t]*(?P<text>.*?)(?:[ \t]*=>[ \t]*(?P<value>.*))?"
)
_PIECE = re.compile(r"(?:\"[^\"]*\"|[^,;])+")


def parse(sheet: str) -> tuple[dict[str, str], list[tuple[int, str]]]:
    """The answers by the keys of their questions; lines that are no question, with their numbers."""  # noqa: E501
    found: dict[str, str] = {}
    wrong = []
    for at, line in enumerate(sheet.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None:
            wrong.append((at, line))
        elif match["answer"]:
            several = _several(match["key"], match["answer"])
            if several is None:
                wrong.append((at, line))
            else:
                found.update(several)
    return found, wrong


def _several(key: str, answer: str) -> dict[str, str] | None:
    """A line's answers by the keys of single questions; None where a piece has no `=`."""
    kind, _, about = key.partition(" ")
    if kind not in ("words", "values", "finds"):
        return {key: answer}
    out = {}
    for piece in _PIECE.findall(answer):
        # A word may hold the mark itself; a setting's name does not.
        name, mark, said = piece.rpartition(" = ") if kind == "words" else piece.partition(" = ")
        if not mark:
            return None
        name = _bare(name)
        if kind == "words":
            name = f"{about} {name}"
        elif about != SEVERAL and not name.startswith(f"{about}."):
            name = f"{about}.{name}"
        out[f"{kind[:-1]} {name}"] = _bare(said)
    return out


def _bare(text: str) -> str:
    text = text.strip()
    quoted = len(text) > 1 and text[0] == text[-1] == '"' and '"' not in text[1:-1]
    return text[1:-1] if quoted and re.search(r"[,;]| = ", text) else text


TABLES = (
    "mode",
    "port.N.functions",
    "motor.signal",
    "receiver.link",
    "failsafe.action",
    "battery.chemistry",
    "failsafe.channel.N",
    "frame.kind",
    "propellers.front_pair",
    "output.N.place",
)


def answers_of(found: Mapping[str, str]) -> Answers:
    """Answers by what they are about; those that nothing can be made of are left out."""
    words: dict[tuple[str, str], str] = {}
    values: dict[str, str] = {}
    places: dict[str, tuple[int, int, str, str]] = {}
    none, rows = set(), set()
    shown: list[Shown] = []
    linked: list[Linked] = []
    unclear: list[str] = []
    for key, answer in found.items():
        kind, _, rest = key.partition(" ")
        place = _PLACE.fullmatch(answer) if kind in ("value", "find") else None
        if kind == "word":
            table, _, subject = rest.partition(" ")
            words[table, subject] = answer
        elif kind == "rows" and rest in ("range", "link") and answer not in (OK, NONE):
            for piece in filter(None, (part.strip() for part in answer.split(";"))):
                one = _example(rest, piece)
                if one is None:
                    unclear.append(f"rows {rest} {piece}")
                elif isinstance(one, Shown):
                    shown.append(one)
                else:
                    linked.append(one)
        elif kind == "rows":
            rows |= {rest} if answer == OK else set()
        elif place is not None:
            sample = int(place["sample"] or 1) - 1
            places[rest] = (sample, int(place["line"]), place["text"], place["value"] or "")
        elif answer == f"{NONE}!" or (kind == "find" and answer == NONE):
            none.add(rest)
        elif kind == "value" or (kind == "find" and answer == OK):
            values[rest] = answer
    return Answers(
        words,
        values,
        places,
        frozenset(none),
        frozenset(rows),
        tuple(shown),
        tuple(linked),
        tuple(unclear),
    )


def joined(first: Answers, over: Answers) -> Answers:
    """Answers of two kinds; where both speak, the second counts."""
    return Answers(
        {**first.words, **over.words},
        {**first.values, **over.values},
        {**first.places, **over.places},
        first.none | over.none,
        first.rows | over.rows,
        (*first.shown, *over.shown),
        (*first.linked, *over.linked),
        (*first.unclear, *over.unclear),
    )


_RANGE = re.compile(
    r"(?:(?P<sample>\d)/)?(?P<line>\d+)[ \t]*:[ \t]*(?P<mode>[a-z-]+),?[ \t]+(?:on )?(?:channel )?"
    r"(?P<channel>\d+),?[ \t]+(?P<low>\d+(?:\.\d+)?)[ \t]*(?:to|-)?[ \t]*(?P<high>\d+(?:\.\d+)?)"
    r"(?:,?[ \t]+(?P<join>all|any))?"
)
_LINK = re.compile(
    r"(?:(?P<sample>\d)/)?(?P<line>\d+)[ \t]*:[ \t]*(?P<mode>[a-z-]+)[ \t]+(?:follows|with)[ \t]+"
    r"(?P<follows>[a-z-]+)"
)


def _example(what: str, piece: str) -> Shown | Linked | None:
    """One mode range or link as a person wrote it; None where it is none."""
    match = (_RANGE if what == "range" else _LINK).fullmatch(piece)
    if match is None or match["mode"] not in MODES:
        return None
    sample, line = int(match["sample"] or 1) - 1, int(match["line"])
    if what == "link":
        follows = match["follows"]
        return Linked(sample, line, match["mode"], follows) if follows in MODES else None
    low, high = float(match["low"]), float(match["high"])
    join = match["join"] or "any"
    return Shown(sample, line, match["mode"], int(match["channel"]), low, high, join)
