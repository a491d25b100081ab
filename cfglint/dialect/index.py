"""Which entries of a map can stand in a row: found by the words that they begin with.

A map has a hundred addresses and a dump as many lines; trying each in each line is slow.  So
addresses are kept by their first words, and the steps that titles stand for by title.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar

from cfglint.dump.atoms import codes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.dialect.address import Address, Segment
    from cfglint.dialect.mapping import Entry, Patterns
    from cfglint.dump.layout import Row, Title

#: Of a longer row no more atoms are looked at: no line of a dump has as many.
MOST_ATOMS = 600
#: Fields that count, which are all that a comment may say as a title.
_COUNTS = ("N", "P", "channel")

Item = TypeVar("Item")


class Coded(NamedTuple):
    """A row with the text that patterns are matched against, and its words and numbers alone.

    ``plain`` are the codes of the atoms that are no marks, ``places`` their numbers among all.
    """

    row: Row
    code: str
    starts: list[int]
    plain: list[str]
    places: list[int]


def code_row(row: Row, exact: bool) -> Coded:
    """A row as it is matched."""
    if len(row.atoms) > MOST_ATOMS:
        row = row._replace(atoms=row.atoms[:MOST_ATOMS])
    return Coded(row, *codes(row.atoms, exact))


class Leads(Generic[Item]):
    """Things by the words they begin with, however many; those that begin with none apart."""

    def __init__(self) -> None:
        self.free: list[Item] = []
        self._items: dict[tuple[str, ...], list[Item]] = {}
        #: How many words things begin with, in order, by the first of these.
        self.sizes: dict[str, dict[int, None]] = {}

    def add(self, part: Segment | None, item: Item) -> None:
        """Add a thing that begins as a step of an address does."""
        lead = part.lead if part is not None else ()
        if lead:
            self._items.setdefault(lead, []).append(item)
            self.sizes.setdefault(lead[0], {})[len(lead)] = None
        else:
            self.free.append(item)

    def every(self) -> Iterator[Item]:
        """All of them, whatever they begin with."""
        yield from self.free
        for items in self._items.values():
            yield from items

    def at(self, plain: Sequence[str], start: int) -> Sequence[Item]:
        """Those that can begin at a place of a row."""
        sizes = self.sizes.get(plain[start]) if start < len(plain) else None
        if sizes is None:
            return ()
        found: list[Item] = []
        for size in sizes:
            if start + size <= len(plain):
                found += self._items.get(tuple(plain[start : start + size]), ())
        return found


class Tail(NamedTuple):
    """What is left of an entry's address under certain titles, and what the titles said.

    ``owner`` is the place, among the titles, of the one that the last step found.
    """

    entry: Entry
    rest: tuple[Segment, ...]
    bound: Mapping[str, str]
    weight: int
    owner: int


class Context:
    """The entries that can stand under certain titles."""

    def __init__(self, tails: Iterable[Tail]) -> None:
        self.phrases: Leads[Tail] = Leads()
        self.lines: Leads[Tail] = Leads()
        self.tables: list[Tail] = []
        for tail in tails:
            part = tail.rest[0] if tail.rest else None
            if tail.entry.way == "table":
                # Its titles must have said all but the row's own words.
                if len(tail.rest) < 2:
                    self.tables.append(tail)
            elif tail.entry.way == "template" or part is None:
                self.lines.add(part, tail)
            else:
                self.phrases.add(part, tail)


class Index:
    """The entries of a map by their words; made once for a map."""

    def __init__(self, patterns: Patterns, entries: Sequence[Entry]) -> None:
        self.patterns = patterns
        #: What titles were found to say, and what stands under them.
        self.said: dict[tuple[bool, str], dict[int, dict[str, str]]] = {}
        self.contexts: dict[tuple[tuple[bool, str], ...], Context] = {}
        self.base = Context(
            Tail(entry, entry.at.segments, {}, rank(entry, 0, 0), -1) for entry in entries
        )
        self._deep = [
            entry for entry in entries if len(entry.at.segments) > 1 or may_be_bare(entry)
        ]
        self._steps: dict[Any, int] = {}
        self._literal: dict[tuple[str, ...], int] = {}
        self._patterns: list[tuple[int, Entry, Segment]] = []
        self._path: list[tuple[int, ...]] = []
        self._users: dict[int, list[int]] = {}
        for number, entry in enumerate(self._deep):
            parts = entry.at.segments if may_be_bare(entry) else entry.at.segments[:-1]
            path = tuple(self._step(entry, part) for part in parts)
            self._path.append(path)
            for step in path:
                self._users.setdefault(step, []).append(number)

    def _step(self, entry: Entry, part: Segment) -> int:
        """The number of a step, the same for all entries that mean the same by it."""
        literal = part.literal
        name = part.lead if literal else self.patterns.source(entry, part)
        if name not in self._steps:
            step = self._steps[name] = len(self._steps)
            if literal:
                self._literal[part.lead] = step
            else:
                self._patterns.append((step, entry, part))
        return self._steps[name]

    def says(self, title: Title) -> dict[int, dict[str, str]]:
        """The steps that a title can stand for, and what it says of each one's fields.

        A comment is prose: it may hold a number that counts, but no other field.
        """
        plain = tuple(codes(title.atoms, self.patterns.exact)[2])
        found: dict[int, dict[str, str]] = {}
        if plain in self._literal:
            found[self._literal[plain]] = {}
        for step, entry, part in self._patterns:
            if title.style == "comment" and any(field not in _COUNTS for field in part.fields):
                continue
            fields = self.patterns.named(entry, part, title.code, plain)
            if fields is not None:
                found[step] = fields
        return found

    def under(self, says: Sequence[Mapping[int, dict[str, str]]]) -> Context:
        """What can stand under titles of which is known what they say."""
        known = {step for one in says for step in one}
        numbers = {number for step in known for number in self._users.get(step, ())}
        tails = (tail for number in sorted(numbers) for tail in self._tails(number, says, known))
        return Context(tails)

    def _tails(
        self, number: int, says: Sequence[Mapping[int, dict[str, str]]], known: set[int]
    ) -> Iterator[Tail]:
        """Every way in which titles can stand for the first steps of an entry's address."""
        entry, path = self._deep[number], self._path[number]
        for count in range(len(path), 0, -1):
            if path[count - 1] not in known:
                continue
            bound: dict[str, str] = {}
            at, owner = len(says), -1
            for step in reversed(path[:count]):
                above = (place for place in range(at - 1, -1, -1) if step in says[place])
                at = next(above, -1)
                if at < 0:
                    break
                bound = {**says[at][step], **bound}
                owner = at if owner < 0 else owner
            else:
                rest = entry.at.segments[count:]
                yield Tail(entry, rest, bound, rank(entry, count, owner + 1), owner)
                # What titles say already need not be said in the line again.
                return


class Kept:
    """Addresses without a value, as those of what is kept: whether one fits a row."""

    def __init__(self, patterns: Patterns, addresses: Sequence[Address]) -> None:
        self.patterns = patterns
        self._by: Leads[Address] = Leads()
        for one in addresses:
            self._by.add(one.segments[-1], one)

    def fits(self, one: Coded) -> bool:
        """Whether any of them fits a row."""
        for address in self._by.at(one.plain, 0):
            last = address.segments[-1]
            # Behind its first words it may have nothing, or anything.
            bare = all(kind == "any" for kind, _ in last.pieces[len(last.lead) :])
            if (bare or self._matches(last, one)) and self._under(address, one):
                return True
        for address in self._by.free:
            if self._matches(address.segments[-1], one) and self._under(address, one):
                return True
        return False

    def _matches(self, part: Segment, one: Coded) -> bool:
        return self.patterns.compiled(None, part).match(one.code) is not None

    def _under(self, address: Address, one: Coded) -> bool:
        titles = [title.code for title in one.row.titles]
        for step in address.segments[:-1]:
            pattern = self.patterns.title(None, step)
            while titles and pattern.fullmatch(titles[0]) is None:
                titles.pop(0)
            if not titles:
                return False
            titles.pop(0)
        return True


def rank(entry: Entry, count: int, nearest: int) -> int:
    """Which of two addresses that fit is meant: the one with more words in the line itself, then
    the one whose title is nearer (its place among them, from 1), then the longer one.
    """
    weights = [part.weight for part in entry.at.segments]
    return (sum(weights[count:]) * 64 + nearest) * 256 + min(4 * sum(weights) + count, 255)


def may_be_bare(entry: Entry) -> bool:
    """Whether titles alone may say where an entry stands: the cells of a table, the items."""
    return entry.way == "table" or (entry.way == "each" and entry.item is not None)
