"""What a draft reads without a mark although the samples speak against it, or do not bear it out.

A wrong value that looks sure is the worst that a draft can hold: what is doubtful is marked.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import family
from cfglint.teach.encoding import sensible
from cfglint.teach.examples import MOST_CHANNELS, MOST_PORTS
from cfglint.teach.proof import read, tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from cfglint.craft.model import ModeRange
    from cfglint.dialect.reader import MapReader
    from cfglint.dump.source import Source
    from cfglint.teach.families import Item
    from cfglint.teach.sheet import Answers

Proven = list[tuple["Item", dict[str, Any]]]

#: So many fields to each word are more than a row of values has.
_MANY = 4
#: No small craft has more cells in series (common practice).
_MOST_CELLS = 8
#: Slower no port is.
_LEAST_BAUD = 300
#: Between these all pulses are (common practice, and then some).
_PULSES = (600, 2400)
_BRACKETS = {"(": ")", "[": "]", "{": "}"}


def doubted(
    sources: Sequence[Source], data: dict[str, Any], proven: Proven, answers: Answers
) -> tuple[dict[str, Any], Proven]:
    """The dialect's tables and its mappings, marked where a sample shows that they read more than
    they should, or other.
    """
    modes = data["modes"]
    every = [item._replace(forms=(form,)) for item, form in proven]
    readers = read(sources, tables(data, every, [0] * len(every)))
    names = {
        *_implausible(readers),
        *_half_channels(readers),
        *_cut(sources, readers),
        *_boxed(sources, readers),
        *_in_names(sources, readers),
        *_twice(sources, proven, answers),
    }
    if "receiver.port" not in answers.places and not _port_is_receivers(readers, proven):
        names.add("receiver.port")
    odd = _odd_ranges(readers)
    said = _said(sources, readers, data)
    joined = _together(sources, readers, said, proven, answers) | _misnamed(said, proven)
    out: Proven = []
    for item, form in proven:
        bad = _torn(form) or _counted(form) or _loose(form)
        bad = bad or bool(odd & {(one.sample, one.line) for one in item.expects})
        doubted_ = names & _sets(item, form)
        if bad or doubted_ >= _sets(item, form):
            out.append((item, {**form, "sure": False}))
        elif doubted_:
            fields = {
                field: {**form.get("fields", {}).get(field, {}), "sure": False}
                for field, name in form["sets"].items()
                if name in doubted_
            }
            out.append((item, {**form, "fields": {**form.get("fields", {}), **fields}}))
        else:
            out.append((item, _one_way(form, item.name, answers)))
    return {**data, "modes": _doubted_modes(modes, answers, joined)}, out


def _sets(item: Item, form: Mapping[str, Any]) -> set[str]:
    return {item.name} if item.name else set(form.get("sets", {}).values()) or {""}


def _implausible(readers: Sequence[MapReader]) -> Iterator[str]:
    """Settings that have a value in some sample which they have in no craft."""
    for reader in readers:
        for name, value in reader.values.items():
            kind = family(name)
            number = re.search(r"\.(\d+)(?:\.|$)", name)
            most = MOST_PORTS if kind.startswith("port") else MOST_CHANNELS
            odd = number is not None and int(number[1]) > most
            if kind == "craft.firmware" and not re.search(r"\d", str(value.value)):
                odd = True  # a version without a number
            odd = odd or (kind.endswith(".baud") and value.value < _LEAST_BAUD)
            odd = odd or (kind == "battery.cells" and value.value > _MOST_CELLS)
            if odd or not sensible(kind, value.value):
                yield kind


def _odd_ranges(readers: Sequence[MapReader]) -> set[tuple[int, int]]:
    """Samples and lines of ranges that no switch has."""
    return {
        (sample, one.span.line)
        for sample, reader in enumerate(readers)
        for one in reader.ranges
        if not _PULSES[0] <= one.low_us < one.high_us <= _PULSES[1] or one.channel > MOST_CHANNELS
    }


def _half_channels(readers: Sequence[MapReader]) -> Iterator[str]:
    """Ends of channels that one channel has alone, where others have all: it is another value."""
    ends = ("low_us", "mid_us", "high_us")
    for reader in readers:
        found: dict[str, set[str]] = {}
        for name in reader.values:
            parts = name.split(".")
            if parts[0] == "channel" and parts[-1] in ends:
                found.setdefault(parts[1], set()).add(parts[-1])
        most = max(map(len, found.values()), default=0)
        for every in found.values():
            if len(every) == 1 < most:
                yield from (f"channel.N.{end}" for end in every)


#: One more word of a list: no name of another value.
_MORE = re.compile(r"\s*[,+&]\s*([^\W\d][\w-]*)(?![\w-])(?!\s*[:=]|\s\d)")


def _cut(sources: Sequence[Source], readers: Sequence[MapReader]) -> Iterator[str]:
    """Sets of words behind which, after a mark of lists, a word stands that nothing reads."""
    for source, reader in zip(sources, readers, strict=True):
        spans = [one.span for one in reader.values.values() if one.span is not None]
        begun = {(span.line, span.column) for span in spans}
        for name, one in reader.values.items():
            if one.span is None or not isinstance(one.value, frozenset):
                continue
            behind = source.lines[one.span.line - 1][(end := one.span.end_column) - 1 :]
            more = _MORE.match(behind)
            if more and one.value and (one.span.line, end + more.start(1)) not in begun:
                yield family(name)


def _boxed(sources: Sequence[Source], readers: Sequence[MapReader]) -> Iterator[str]:
    """Numbers with more figures behind a bar: one figure of several that stand in boxes."""
    for source, reader in zip(sources, readers, strict=True):
        for name, one in reader.values.items():
            if one.span is not None and re.match(
                r"\|[\d.,]\|", source.lines[one.span.line - 1][one.span.end_column - 1 :]
            ):
                yield family(name)


def _in_names(sources: Sequence[Source], readers: Sequence[MapReader]) -> Iterator[str]:
    """Numbers amid a name, as `0` in `cells, 0 counts them`: no sample changes them, and a number
    before them in the line does change, or might.
    """
    seen: dict[str, list[tuple[str, str]]] = {}
    for source, reader in zip(sources, readers, strict=True):
        for name, one in reader.values.items():
            if one.span is None:
                continue
            line = source.lines[one.span.line - 1]
            before, after = line[: one.span.column - 1], line[one.span.end_column - 1 :]
            amid = re.search(r"[^\W\d_][,;] $", before) and re.match(r" [^\W\d_]", after)
            text = line[len(before) : len(line) - len(after)]
            if amid and text.isdigit() and re.search(r"\d", before):
                seen.setdefault(name, []).append((text, before))
    for name, every in seen.items():
        others = len({before for _, before in every})
        if len({text for text, _ in every}) == 1 and (others > 1 or len(readers) == 1):
            yield family(name)


class _Said(NamedTuple):
    """A range with its line: where its mode stands, and the words of it that nothing reads."""

    sample: int
    one: ModeRange
    line: str
    named: re.Match[str] | None
    words: list[str]
    #: Whether its mode has several ranges in this sample.
    many: bool


def _said(
    sources: Sequence[Source], readers: Sequence[MapReader], data: Mapping[str, Any]
) -> list[_Said]:
    out = []
    for sample, (source, reader) in enumerate(zip(sources, readers, strict=True)):
        many = Counter(one.mode for one in reader.ranges)
        for one in reader.ranges:
            line = source.lines[one.span.line - 1]
            for mark in data["marks"].get("comment", ()):
                line = line.partition(f" {mark}")[0] or line
            named = _named(data["modes"].get(one.mode, one.mode))
            words = _WORDS.findall(named.sub("", line))
            out.append(_Said(sample, one, line, named.search(line), words, many[one.mode] > 1))
    return out


def _together(
    sources: Sequence[Source],
    readers: Sequence[MapReader],
    said: Sequence[_Said],
    proven: Proven,
    answers: Answers,
) -> set[str]:
    """Modes of several ranges of which something that is not read may say that all must hold: a
    word that no mode of one range has beside it, or a line of the mode's that nothing reads.
    """
    known = _lines_where(
        proven,
        lambda form: (
            "all_where" in form or "join" in form.get("columns", {}) or "{join}" in str(form["at"])
        ),
    )
    kinds: dict[str, set[bool]] = {}
    joins: dict[tuple[int, str], set[str]] = {}
    asked = []
    for each in said:
        joins.setdefault((each.sample, each.one.mode), set()).add(each.one.join)
        plain = each.one.join == "all" or _ANY.intersection(map(str.lower, each.words))
        if not plain and (each.sample, each.one.span.line) not in known:
            asked.append(each)
            for word in each.words:
                kinds.setdefault(word, set()).add(each.many)
    out = {
        each.one.mode
        for each in asked
        if each.many
        and (
            any(kinds[word] == {True} for word in each.words)
            or _unread_line(each, sources, readers)
        )
    }
    shown = Counter(one.mode for one in answers.shown)
    out -= {mode for mode, count in shown.items() if count > 1}
    mixed = {mode for (_, mode), every in joins.items() if len(every) > 1}
    return out | mixed | {each.one.mode for each in said if _repeated(each, sources, readers)}


def _lines_where(proven: Proven, test: Callable[[Mapping[str, Any]], bool]) -> set[tuple[int, int]]:
    return {(one.sample, one.line) for item, form in proven if test(form) for one in item.expects}


def _unread_line(each: _Said, sources: Sequence[Source], readers: Sequence[MapReader]) -> bool:
    """Whether a line that nothing reads begins as the range's does, up to the mode."""
    if each.named is None:
        return False
    head = re.sub(r"[\W\d_]+$", "", each.line[: each.named.end()])
    return any(
        readers[each.sample].uses.get(at) not in _READ
        and re.match(rf"{re.escape(head)}(?![^\W_])", text)
        for at, text in enumerate(sources[each.sample].lines, 1)
    )


def _repeated(each: _Said, sources: Sequence[Source], readers: Sequence[MapReader]) -> bool:
    """Whether one more range stands below, under a mark that says "the same", and is not read."""
    at = each.one.span.line
    below = "".join(sources[each.sample].lines[at : at + 1])
    like = len(re.findall(r"\d+", below)) == len(re.findall(r"\d+", each.line)) > 0
    return like and readers[each.sample].uses.get(at + 1) not in _READ and not _LONG.search(below)


def _misnamed(said: Sequence[_Said], proven: Proven) -> set[str]:
    """Modes whose lines say more than is read of what they are called: words that differ from line
    to line where modes are numbers; those of later samples where beside a mode anything may
    stand, as `permit` of `arm permit`.
    """
    wide = _lines_where(
        proven,
        lambda form: (
            form.get("makes") == "range"
            and bool(re.search(r"\* \{mode|mode\} \*", str(form["at"])))
        ),
    )
    spoken = {
        each.one.mode: tuple(word for word in each.words if len(word) > 2)
        for each in said
        if each.named is not None and each.named[0].isdecimal()
    }
    loose = [each for each in said if (each.sample, each.one.span.line) in wide]
    first = {word for each in loose if not each.sample for word in each.words}
    fresh = {each.one.mode for each in loose if each.sample and set(each.words) - first}
    return fresh | (set(spoken) if len(set(spoken.values())) > 1 else set())


#: What lines of ranges may say besides, and of which lines all is read.
_WORDS = re.compile(r"(?<![^\W_])[^\W\d_]+(?![^\W_])|[&+∧]")
_LONG = re.compile(r"[^\W\d_]{4}")
_ANY = frozenset("or either any oder entweder ou soit o oppure eller nebo lub albo of".split())
_READ = ("used", "title", "comment")


def _named(written: str | Sequence[str]) -> re.Pattern[str]:
    """Where a mode stands by one of its words, the longest first."""
    texts = sorted([written] if isinstance(written, str) else written, key=len, reverse=True)
    return re.compile("|".join(rf"(?i:(?<![^\W_]){re.escape(one)}(?![^\W_]))" for one in texts))


def _port_is_receivers(readers: Sequence[MapReader], proven: Proven) -> bool:
    """Whether nothing speaks against the receiver's port: another carries it, or ports are counted
    from 0 and this one is not; a bare register is not believed at all, nor a name of a port where
    ports are not read.
    """
    zero = any(
        (form.get("N") or form.get("fields", {}).get("N", {})).get("first") == 0
        for item, form in proven
        if any(one.startswith("port.N") for one in _sets(item, form))
    )
    own = next((form for item, form in proven if item.name == "receiver.port"), {})
    carried = False
    for reader in readers:
        port = reader.values.get("receiver.port")
        carry = {
            name
            for name, value in reader.values.items()
            if family(name) == "port.N.functions" and "receiver" in value.value
        }
        if port is not None and carry:
            if f"port.{port.value}.functions" not in carry:
                return False
            carried = True
    listed = any(family(name).startswith("port.N") for one in readers for name in one.values)
    named = "words" in own and not listed
    return carried or not (named or (zero and "first" not in own) or own.get("base") == 16)


def _twice(sources: Sequence[Source], proven: Proven, answers: Answers) -> Iterator[str]:
    """Settings told by a text that stands twice in its line, where the line has numbers besides."""
    forms = {item.name: str(form["at"]) for item, form in proven}
    for name, (sample, line, text, _) in answers.places.items():
        if "{_}" in forms.get(name, "") and sample < len(sources):
            here = sources[sample].lines[line - 1]
            if len(re.findall(rf"(?<!\w){re.escape(text)}(?!\w)", here)) > 1:
                yield name


def _counted(form: Mapping[str, Any]) -> bool:
    """Whether the value is the number that a line begins with, and others stand behind it."""
    texts = [form["at"]] if isinstance(form["at"], str) else form["at"]
    return any(text.startswith("{value} ") and "{_}" in text for text in texts)


def _loose(form: Mapping[str, Any]) -> bool:
    """Whether an address is of anything rather than of words, or under what is a value itself."""
    texts = [form["at"]] if isinstance(form["at"], str) else form["at"]
    return any(
        text.count("{_}") > _MANY * len(re.findall(r"(?<![\w{])[^\W\d_]+(?![\w}])", text))
        for text in texts
        if "{value}" in text and "{N}" not in text
    ) or any(re.search(r"\d{3}", text.rpartition(" > ")[0]) for text in texts)


def _one_way(form: Mapping[str, Any], name: str, answers: Answers) -> dict[str, Any]:
    """A form where what becomes of a channel is a guess if, by an answer, two words say it."""
    fields = {"": form} if name else form.get("fields", {})
    sets = {"": name} if name else form.get("sets", {})
    out = dict(form)
    for field, codec in fields.items():
        table = sets.get(field, "")
        if table != "failsafe.channel.N":
            continue
        several = _said_twice(codec.get("words", {}), table, answers)
        if several:
            more = {**codec, "unsure": list(dict.fromkeys([*codec.get("unsure", ()), *several]))}
            out = more if name else {**out, "fields": {**out["fields"], field: more}}
    return out


def _said_twice(words: Mapping[str, Any], table: str, answers: Answers) -> list[str]:
    """Meanings that two written words have, one of them only because somebody said so."""
    return [
        word
        for word, every in words.items()
        if not isinstance(every, str)
        and len(every) > 1
        and any(isinstance(text, str) and (table, text) in answers.words for text in every)
    ]


def _doubted_modes(modes: Mapping[str, Any], answers: Answers, joined: set[str]) -> dict[str, Any]:
    """The modes' words, of which those are guesses that, by an answer, say what another says, or
    whose ranges may have to hold together.
    """
    words = {mode: every for mode, every in modes.items() if mode not in ("unsure", "own")}
    several = [*_said_twice(words, "mode", answers), *sorted(joined & set(words))]
    # A firmware has one word for a mode, if more than one sentence.
    shown = {one.mode for one in answers.shown}
    several += [mode for mode, every in words.items() if mode not in shown and _two_words(every)]
    if not several:
        return dict(modes)
    return {**modes, "unsure": list(dict.fromkeys([*modes.get("unsure", ()), *several]))}


def _two_words(every: str | Sequence[str]) -> bool:
    """Whether a mode has two words that are not one, otherwise spelled or numbered."""
    texts = [] if isinstance(every, str) else [text for text in every if text.count(" ") < 2]
    return len({re.sub(r"[\W\d_]", "", text).lower() for text in texts} - {""}) > 1


def _torn(form: Mapping[str, Any]) -> bool:
    """Whether a written word holds half of a pair of brackets: it is a piece of something else."""
    return any(
        text.count(one) != text.count(other)
        for every in form.get("words", {}).values()
        for text in ([every] if isinstance(every, str) else every)
        for one, other in _BRACKETS.items()
    )
