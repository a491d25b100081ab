"""What dumps hold, name by name: what is written for it before an update, and after it."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import family
from cfglint.dialect.mapping import words_of
from cfglint.dialect.values import unquote
from cfglint.dump.atoms import cut

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.mapping import Entry
    from cfglint.dialect.reader import Read
    from cfglint.dump.layout import Row

#: The titles of a name and itself, as they are compared: words only, numbers that count as ``#``.
Key = tuple[str, str]
#: Which craft, and which member of a family (its numbers as written).
Where = tuple[int, str]
_DIGITS = re.compile(r"(?<![\w.,])\d+(?![\w.,]*\d)|(?<=[^\W\d])\d+(?=\D|$)")


class Name(NamedTuple):
    """One name as dumps write it; ``#`` in it stands for the number of a family's member.

    ``use`` is what reading made of its lines; ``settings`` what they set, ``entry`` by which entry
    and field.  ``written`` is what is written for it, ``values`` what that was read as; ``lead``
    are the words that its lines begin with, ``home`` the titles over these.
    """

    key: Key
    titles: tuple[str, ...]
    name: str
    use: str
    settings: tuple[str, ...]
    entry: tuple[Entry, str] | None
    written: Mapping[Where, str]
    values: Mapping[Where, Any]
    at: int
    lead: str = ""
    home: str = ""

    @property
    def setting(self) -> str:
        return self.settings[0] if self.settings else ""


class Line(NamedTuple):
    """A name and a value in one line, still in one piece with its titles."""

    titles: tuple[str, ...]
    name: str
    written: str
    use: str
    read: Read | None
    setting: str
    lead: str = ""
    head: str = ""


class Names(NamedTuple):
    """The names of one side, in the order of its dumps; titles over lines that hold no name."""

    by_key: dict[Key, Name]
    order: tuple[Key, ...]
    unnamed: frozenset[str]


def code(text: str) -> str:
    """A name as it is compared: joints and letter case are spelling."""
    return " ".join(
        atom.text.lower() for atom in cut(text) if atom.kind != "mark" or atom.text == "#"
    )


def under(titles: Sequence[str]) -> str:
    """Titles as they are compared."""
    return " > ".join(code(_DIGITS.sub("#", title)) for title in titles)


class Forms:
    """How a dialect's lines put a name and a value together, from lines that are read."""

    def __init__(self, sides: Sequence[Side]) -> None:
        dialect = sides[0].dialect
        assign = words_of(dialect.data.get("marks", {}).get("assign", ()))
        found: Counter[str] = Counter()
        #: Words that stand before the name of a flag, and say what it is.
        self.flags = {
            word.lower()
            for side in sides
            for entry in side.tables.map.entries
            if entry.way == "template" and entry.at.segments[-1].pieces[0] == ("field", "value")
            for word in entry.written("value")
        }
        names = []
        for side in sides:
            for read in side.reader.reads.values():
                if read.place.line != read.row.line or read.entry.way == "table":
                    continue
                name, between = self._before(read.row, read.place.start)
                if name:
                    found[
                        " ".join(between.split())
                        if between.split()
                        else "\t"
                        if len(between) > 1
                        else " "
                    ] += 1
                    names.append(name)
        first = [one.partition("{name}") for one in assign]
        self.leads = {one[0].strip() for one in first if one[0].strip()}
        self.tails = {
            "".join(re.findall(r"[^\W_]+", one[2].partition("{value}")[0])) for one in first
        } - {""}
        for one, ends in ((self.leads, 0), (self.tails, -1)):
            words = Counter(name.split()[ends] for name in names if len(name.split()) > 1)
            for word, times in words.items():
                if not assign and len(names) >= 5 and times > 0.6 * len(names):
                    one.add(word)
        self.signs = [sign for sign, _ in found.most_common() if sign.strip()]
        self.only_signs = bool(self.signs) and not any(not sign.strip() for sign in found)
        blanks = sum(" " in self.bare(name) for name in names)
        self.blank_names = blanks > 0.2 * len(names)

    @staticmethod
    def _before(row: Row, start: int) -> tuple[str, str]:
        """The words before a value, and what stands between."""
        text = row.text[row.start : start]
        name = re.sub(r"[^\w%)\]]+$", "", text)
        return re.sub(r"^[^\w(\[]+", "", name), text[len(name) :].replace('"', "")

    def bare(self, name: str) -> str:
        """A name without the words that stand around every name."""
        name = name.strip(" \t:=\"'()[]{}<>|│,;")
        for lead in self.leads:
            if name.lower().startswith(lead.lower() + " "):
                name = name[len(lead) :].strip()
        for tail in self.tails:
            if name.lower().endswith(" " + tail.lower()):
                name = name[: -len(tail)].strip()
        return name

    def split(self, text: str) -> tuple[str, str] | None:
        """The name and the value of a line that is not read, None where it has another form."""
        text = text.strip("|│ \t")
        first = text.split()[0].lower() if text.split() else ""
        if first in self.flags and text.split()[1:]:
            return text.split(None, 1)[1].strip(), first
        if self.leads and not any(text.lower().startswith(f"{one.lower()} ") for one in self.leads):
            return None
        for tail in self.tails:
            parts = re.split(rf"(?<!\S){re.escape(tail)}(?!\S)", text, maxsplit=1)
            if len(parts) == 2:
                return self.bare(parts[0]), parts[1].strip(" \t:=")
        for sign in self.signs:
            name, found, value = text.partition(sign if sign not in "-_./" else f" {sign} ")
            if found and name.strip():
                return self.bare(name), (value.split(sign)[0] if sign in "|│" else value).strip()
        if self.tails or self.only_signs:
            return None
        parts = re.split(r"[ \t]{2,}|\t", text.strip(), maxsplit=1)
        if len(parts) == 2 and self.bare(parts[0]) == parts[0].strip():
            return parts[0].strip(), parts[1].strip()
        bare = self.bare(text)
        unit = re.search(r"[ \t][+-]?\d[\d.,]*[ \t][^\W\d]{1,8}$", bare)
        if self.blank_names and unit is not None:
            return bare[: unit.start()].strip(), unit[0].strip()
        parts = bare.rsplit(None, 1) if self.blank_names else bare.split(None, 1)
        return (parts[0], parts[1].strip()) if len(parts) == 2 else (bare, "")

    def names_of(self, sides: Sequence[Side]) -> Names:
        """Every name that the dumps of one side give a value to."""
        found: dict[Key, Name] = {}
        for craft, side in enumerate(sides):
            for line in self._lines(side):
                self._take(found, craft, line)
        unnamed = {line.home for line in found.values() if not line.name}
        named = {key: line for key, line in found.items() if line.name}
        return Names(named, tuple(named), frozenset(unnamed))

    def _lines(self, side: Side) -> Iterator[Line]:
        reads: dict[int, list[tuple[str, Read]]] = {}
        for name, read in side.reader.reads.items():
            reads.setdefault(read.row.line, []).append((name, read))
        missed = {one.line_span.line: one.name for one in side.craft.misread}
        for row in side.reader.rows:
            use = side.reader.uses.get(row.line, "comment")
            titles = side.sections.get(row.line, ())
            mine = sorted(reads.get(row.line, ()), key=lambda one: one[1].place)
            told = missed.get(row.line, "") if use == "misread" else ""
            if (not mine and use not in ("stray", "kept", "misread")) or told in ("range", "link"):
                continue
            for head, start, end in self._pieces(row):
                inside = [one for one in mine if start <= one[1].place.start < end]
                titles_ = (*titles, head) if head else titles
                if inside:
                    for line in self._read(row, titles_, inside, start):
                        yield line._replace(head=head)
                    continue
                parts = self.split(row.text[start:end].strip())
                if parts is not None and (not mine or head or start > row.start):
                    name, written = parts[0], parts[1].rstrip("|│;, \t")
                    yield Line(titles_, name, written, "stray" if mine else use, None, told,
                               self._lead(row, name), head)  # fmt: skip
                elif not mine and use == "stray":
                    yield Line(titles_, "", "", use, None, "", "", head)

    def _pieces(self, row: Row) -> Iterator[tuple[str, int, int]]:
        """The parts of a line that each hold a name and a value: the line's head, and ends."""
        text = row.text[: row.note]
        sign = self.signs[0].strip() if self.signs else ""
        many = sign and '"' not in text and (text.count(sign, row.start) > 1 or "(" in text)
        if not many or sign in "|│":
            yield "", row.start, row.note
            return
        head, found, at = "", False, row.start
        for match in re.finditer(r"[ \t]{2,}|[,;|│(){}\[\]]|$", text[row.start :]):
            start, end, at = at, row.start + match.start(), row.start + match.end()
            name, signed, _ = text[start:end].partition(sign)
            if not signed:
                head = head or ("" if found else name.strip(" :"))
                continue
            if ":" in name and not found:
                head, start = name.rpartition(":")[0].strip(), start + name.rindex(":") + 1
            found = True
            yield head, start, end

    def _read(
        self, row: Row, titles: tuple[str, ...], reads: list[tuple[str, Read]], start: int
    ) -> Iterator[Line]:
        for name, read in reads:
            if read.place.line != row.line or (read.entry.way == "template" and len(reads) > 1):
                continue
            if read.entry.way == "table":
                text = re.split(r"[ \t]{2,}|\t|[ \t]*[|│]", row.text[row.start :].lstrip("|│ \t"))[
                    0
                ]
            else:
                text = re.sub(r"[^\w%)\]]+$", "", row.text[start : read.place.start])
                text = re.sub(r"^[^\w(\[]+", "", text)
                start = read.place.end
            text = self.bare(text) or row.text[read.place.end : row.note].strip(" \t,;")
            yield Line(titles, text, read.written, "used", read, name)

    def _lead(self, row: Row, name: str) -> str:
        text = row.text[row.start :]
        lead = text[: max(0, text.lower().find(name.lower()))].strip()
        return "{value}" if lead.lower() in self.flags else lead

    def _take(self, found: dict[Key, Name], craft: int, line: Line) -> None:
        number = line.read.bound.get("N", "") if line.read is not None else ""
        name, members = line.name, []
        if number:
            pattern = re.compile(
                rf"(?<!\d){re.escape(number)}(?!\d)"
                if number.isdigit()
                else rf"(?<![^\W_]){re.escape(number)}(?![^\W_])"
            )
            # Where a title counts, numbers in the name are its own.
            if not any(pattern.search(title) for title in line.titles):
                name, many = pattern.subn("#", name, count=1)
                members += [number] * many
        members += [number for title in line.titles for number in _DIGITS.findall(title)]
        titles = [_DIGITS.sub("#", title) for title in line.titles]
        key = under(line.titles), code(name)
        whole = family(line.setting) if line.setting else ""
        old = found.get(key)
        if old is None:
            entry = (line.read.entry, line.read.field) if line.read is not None else None
            old = Name(
                key,
                tuple(titles),
                name,
                line.use,
                (whole,) if whole else (),
                entry,
                {},
                {},
                len(found),
                line.lead,
                under(line.titles[:-1] if line.head else line.titles),
            )
        elif whole and whole not in old.settings:
            old = old._replace(settings=(*old.settings, whole))
        where = craft, "/".join(members)
        written = {**old.written, where: unquote(line.written)}
        values = {**old.values, where: line.read.value} if line.read is not None else old.values
        found[key] = old._replace(written=written, values=values)


def families(names: Sequence[Name]) -> list[Name]:
    """Unread names that differ in a number alone, as one name each."""
    found: dict[Key, Name] = {}
    for one in names:
        for match in re.finditer(r"\d+", one.name):
            name = f"{one.name[: match.start()]}#{one.name[match.end() :]}"
            key = one.key[0], code(name)
            old = found.get(key) or one._replace(key=key, name=name, written={}, values={})
            written = {
                (craft, "/".join(filter(None, (match[0], member)))): text
                for (craft, member), text in one.written.items()
            }
            found[key] = old._replace(written={**old.written, **written})
    return list(found.values())


def members(one: Name, names: Sequence[Name]) -> list[Key]:
    """The single names that a family is made of."""
    if "#" not in one.name:
        return [one.key]
    pattern = re.compile(r"\d+".join(map(re.escape, one.name.split("#"))), re.IGNORECASE)
    return [
        other.key for other in names if other.key[0] == one.key[0] and pattern.fullmatch(other.name)
    ]
