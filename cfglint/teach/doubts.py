"""What a draft reads without a mark although the samples speak against it, or do not bear it out.

A wrong value that looks sure is the worst that a draft can hold: what is doubtful is marked.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import family
from cfglint.teach.encoding import sensible
from cfglint.teach.examples import MOST_CHANNELS, MOST_PORTS
from cfglint.teach.proof import read, tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.dialect.reader import MapReader
    from cfglint.dump.source import Source
    from cfglint.teach.families import Item
    from cfglint.teach.sheet import Answers

Proven = list[tuple["Item", dict[str, Any]]]

#: Slower no port is.
_LEAST_BAUD = 300
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
        *_in_names(sources, readers),
        *_twice(sources, proven, answers),
    }
    if "receiver.port" not in answers.places and not _port_is_receivers(readers, proven):
        names.add("receiver.port")
    wide = _longer_modes(sources, readers, modes, proven)
    joined = _joined_rows(sources, readers, modes)
    out: Proven = []
    for item, form in proven:
        columns = form.get("columns", {}) if form.get("makes") == "range" else {}
        joins = joined and bool(columns) and "join" not in columns
        bad = joins or _torn(form) or _counted(form) or id(item) in wide
        if bad or names & _sets(item, form):
            out.append((item, {**form, "sure": False}))
        else:
            every_one = _joining(sources, readers, form)
            out += [(item, _one_way(one, item.name, answers)) for one in every_one if one]
    return {**data, "modes": _doubted_modes(modes, answers)}, out


def _joining(
    sources: Sequence[Source], readers: Sequence[MapReader], form: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Rows of ranges without, and with, an end word that only modes of several rows have: it may
    say that all of them must hold, and nobody knows the word.
    """
    texts = [form["at"]] if isinstance(form["at"], str) else list(form["at"])
    ends = {text: match[1] for text in texts if (match := re.search(r"\} ([^\W\d_]+)$", text))}
    if form.get("makes") != "range" or not ends or len(ends) == len(texts) or "all_where" in form:
        return form, {}
    kinds: dict[str, set[bool]] = {}
    for source, reader in zip(sources, readers, strict=True):
        many = Counter(one.mode for one in reader.ranges)
        for one in reader.ranges:
            words = re.findall(r"[^\W\d_]+", source.lines[one.span.line - 1])
            kinds.setdefault(words[-1] if words else "", set()).add(many[one.mode] > 1)
    strange = [text for text, end in ends.items() if kinds.get(end) == {True}]
    if not strange:
        return form, {}
    left = [text for text in texts if text not in strange]
    return {**form, "at": left}, {**form, "at": strange, "sure": False}


def _sets(item: Item, form: Mapping[str, Any]) -> set[str]:
    return {item.name, *form.get("sets", {}).values()}


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
            if odd or not sensible(kind, value.value):
                yield kind


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


#: One more word of a list, which ends with it.
_MORE = re.compile(r"\s*[,+&]\s*([^\W\d][\w-]*)\s*(?:[;|)\]}]|\s\s|$)")


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
            if more and (one.span.line, end + more.start(1)) not in begun:
                yield family(name)


def _in_names(sources: Sequence[Source], readers: Sequence[MapReader]) -> Iterator[str]:
    """Numbers amid a name, as `0` in `cells, 0 counts them`: no sample changes them, and a number
    before them in the line does change.
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
        if len({text for text, _ in every}) == 1 < len({before for _, before in every}):
            yield family(name)


def _joined_rows(
    sources: Sequence[Source], readers: Sequence[MapReader], modes: Mapping[str, Any]
) -> bool:
    """Whether a word beside ranges, other words stand in its place, is only found where a mode has
    several: it may say that all of them must hold.
    """
    kinds: dict[int, dict[str, set[bool]]] = {}
    for source, reader in zip(sources, readers, strict=True):
        many = Counter(one.mode for one in reader.ranges)
        for one in reader.ranges:
            line = source.lines[one.span.line - 1]
            written = modes.get(one.mode, one.mode)
            for text in [written] if isinstance(written, str) else written:
                line = re.sub(rf"(?i)(?<!\w){re.escape(text)}(?!\w)", "", line)
            for at, word in enumerate(line.split()):
                if re.fullmatch(r"[^\W\d_]+", word):
                    kinds.setdefault(at, {}).setdefault(word, set()).add(many[one.mode] > 1)
    return any(
        len(words) > 1 and {True} in words.values() and {True} != set().union(*words.values())
        for words in kinds.values()
    )


def _port_is_receivers(readers: Sequence[MapReader], proven: Proven) -> bool:
    """Whether nothing speaks against the receiver's port: another carries it, or ports are counted
    from 0 and this one is not; a bare register is not believed at all.
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
    return carried or not ((zero and "first" not in own) or own.get("base") == 16)


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


def _doubted_modes(modes: Mapping[str, Any], answers: Answers) -> dict[str, Any]:
    """The modes' words, of which those are guesses that, by an answer, say what another says."""
    words = {mode: every for mode, every in modes.items() if mode not in ("unsure", "own")}
    several = _said_twice(words, "mode", answers)
    if not several:
        return dict(modes)
    return {**modes, "unsure": list(dict.fromkeys([*modes.get("unsure", ()), *several]))}


def _torn(form: Mapping[str, Any]) -> bool:
    """Whether a written word holds half of a pair of brackets: it is a piece of something else."""
    return any(
        text.count(one) != text.count(other)
        for every in form.get("words", {}).values()
        for text in ([every] if isinstance(every, str) else every)
        for one, other in _BRACKETS.items()
    )


def _longer_modes(
    sources: Sequence[Source],
    readers: Sequence[MapReader],
    modes: Mapping[str, Any],
    proven: Proven,
) -> set[int]:
    """Rows that take the first or last words of a mode's name for the mode, as `arm` of `arm
    permit`: beside the mode anything may stand, and in some lines there does a word.
    """
    out = set()
    for item, form in proven:
        at = form["at"]
        texts = [at] if isinstance(at, str) else at
        behind = any("{mode} *" in text for text in texts)
        before = any("* {mode}" in text for text in texts)
        if form.get("makes") != "range" or not (behind or before):
            continue
        told = {(one.sample, one.line) for one in item.expects}
        seen: dict[bool, set[str]] = {True: set(), False: set()}
        for sample, reader in enumerate(readers):
            for r in reader.ranges:
                if (sample, r.span.line) not in told:
                    continue
                line = sources[sample].lines[r.span.line - 1]
                seen[sample == 0] |= set(_beside(line, modes.get(r.mode, ()), before, behind))
        if seen[False] - seen[True]:
            out.add(id(item))
    return out


def _beside(line: str, written: str | Sequence[str], before: bool, behind: bool) -> Iterator[str]:
    """The words that stand directly beside a mode's word."""
    for text in sorted([written] if isinstance(written, str) else written, key=len, reverse=True):
        found = re.search(rf"(?i)(?<!\w){re.escape(text)}(?!\w)", line)
        if found is None:
            continue
        after = re.match(r" ?([^\W\d_]{2,})", line[found.end() :])
        if behind and after:
            yield after[1].lower()
        ahead = re.search(r"([^\W\d_]{2,}) ?$", line[: found.start()])
        if before and ahead:
            yield ahead[1].lower()
        return
