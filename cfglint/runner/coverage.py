"""How much of some dumps a dialect file understands, and what its gaps leave unknown.

Everything is found by doing it: dumps are read with a witness, and rules are judged on what was
read, watched for what they look at (:mod:`cfglint.craft.unsure`).
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.settings import MODES, SETTINGS, family
from cfglint.dialect.lines import fields as field_names
from cfglint.dialect.lines import find
from cfglint.errors import EXIT_CLEAR, EXIT_FINDINGS, EXIT_UNREAD, raise_all
from cfglint.runner.here import Here

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.craft import Craft
    from cfglint.dialect.model import Dialect, Tables
    from cfglint.dialect.reading import Reader
    from cfglint.dump.layout import Row
    from cfglint.errors import Problem
    from cfglint.rule import Example, Grade, Rule
    from cfglint.runner.lint import Tell
    from cfglint.runner.one import One
    from cfglint.runner.select import Chosen
    from cfglint.span import Span

State = Literal["unknown", "half"]

#: How much a rule that cannot tell matters, by its grade.
WEIGHTS: dict[Grade, int] = {"ground": 9, "fix": 3, "advise": 1}
#: Before what is no setting, as in ``Craft.unsure``.
_MODE, _TRAIT = "mode ", "trait "
#: What a rule lacks where a line of the dump could not be read.
_A_LINE = re.compile(r"line \d+")
_NEAREST = "; the nearest it has is "
_UNDERSTOOD = ("used", "removal", "identity", "title")
_NOT = ("stray", "misread", "unreadable", "unlooked")
_TRAITS = {
    "range_ends": "whether a mode range's high end belongs to it",
    "inversion": "whether the inversion flag says how the wire is, or how it differs",
    "arm_needs_permit": "whether arming needs a second switch",
    "arm_needs_low_throttle": "whether arming needs the throttle at its lowest",
    "arm_by_sticks": "whether sticks arm where no range does",
}
_OTHERS = {
    "range": "mode ranges: what switches each mode on",
    "link": "modes that come on along with others",
}


class Passage(NamedTuple):
    """A line that is not understood in full: where, its text, and why, in a clause.

    ``name`` is what it is about: its name, or the setting that was misread.
    """

    state: State
    span: Span
    text: str
    name: str
    why: str


class Group(NamedTuple):
    """Lines that are alike: of one state and reason, their names of one beginning."""

    state: State
    label: str
    why: str
    lines: tuple[Passage, ...]


class Tally(NamedTuple):
    """One dump in numbers; ``aside`` are comments and lines that are passed over on purpose."""

    file: str
    craft: str
    firmware: str
    understood: int
    half: int
    unknown: int
    aside: int


class Gap(NamedTuple):
    """Something neutral that no line of the dialect says.

    ``name`` is a setting, ``mode beacon``, ``trait inversion``, ``range`` or ``link``; ``at``
    the versions where that is so, if not at all.  ``unknown`` are the rules that miss it,
    ``asked`` others that would look at it, both worst first.
    """

    name: str
    about: str
    at: tuple[str, ...]
    unknown: tuple[str, ...]
    asked: tuple[str, ...]
    weight: int


class Doubt(NamedTuple):
    """A mapping marked unconfirmed: how it is written, where the dialect file marks it, and how
    many lines of the dumps were read by it.
    """

    name: str
    written: str
    mark: str
    lines: int


class Coverage(NamedTuple):
    """What a dialect understands of some dumps.

    ``wanting_card`` are facts that rules miss and that a hardware card says; ``unsaid`` facts
    that the dialect maps and the dumps do not say.  ``unread`` (dumps, files of rules) and
    ``crashed`` (rules) are what could not be looked at.
    """

    file: str
    dialect: str
    dumps: tuple[Tally, ...]
    lines: tuple[Passage, ...]
    gaps: tuple[Gap, ...]
    doubts: tuple[Doubt, ...]
    wanting_card: tuple[str, ...]
    unsaid: tuple[str, ...]
    judged: int
    unread: tuple[Problem, ...] = ()
    crashed: tuple[str, ...] = ()

    def count(self, state: Literal["understood", "half", "unknown", "aside"]) -> int:
        return sum(getattr(dump, state) for dump in self.dumps)

    def percent(self) -> float:
        """The share of the lines that should mean something that do; rounded down to tenths."""
        right = self.count("understood")
        whole = right + self.count("half") + self.count("unknown")
        return right * 1000 // whole / 10 if whole else 100.0

    def exit_code(self) -> int:
        codes = [one.exit for one in self.unread]
        codes.append(EXIT_UNREAD if self.crashed else EXIT_CLEAR)
        return max(*codes, EXIT_FINDINGS if self.lines else EXIT_CLEAR)


def coverage(
    file: str,
    dialect: Dialect,
    ones: Sequence[One],
    unread: Sequence[Problem] = (),
    tell: Tell | None = None,
) -> Coverage:
    """What ``dialect``, of the file ``file``, understands of dumps.

    ``unread`` are those that could not be read.  ``tell`` is called before each dump's rules are
    judged, which is what takes long, as in ``cfglint.runner.lint.Request``.  Raises Problem(s) for
    what is wrong with the rules of a hangar's configuration.
    """
    from cfglint.dialect.reading import Reader

    tallies: list[Tally] = []
    lines: list[Passage] = []
    crafts: list[tuple[Craft, One]] = []
    tables: dict[str, Tables] = {}
    for one in ones:
        reader = Reader(one.source, dialect, card=one.card, name=one.name, extent=one.extent)
        craft = reader.craft()
        uses = dict(_uses(reader, dialect))
        found = list(_passages(reader, craft, uses))
        crafts.append((craft, one))
        tables.setdefault(reader.tables.version, reader.tables)
        lines += found
        aside = sum(use not in (*_UNDERSTOOD, *_NOT) for use in uses.values())
        tallies.append(
            Tally(
                craft.file,
                craft.name,
                reader.tables.version,
                len(uses) - aside - len(found),
                sum(row.state == "half" for row in found),
                sum(row.state == "unknown" for row in found),
                aside,
            )
        )
    lacking = _unmapped(dialect, tables)
    asked = _Asked(frozenset(lacking))
    for at, (craft, one) in enumerate(crafts):
        if tell is not None:
            tell(at, len(crafts), craft.file)
        asked.judge(craft, one)
    return Coverage(
        file,
        dialect.id,
        tuple(tallies),
        tuple(lines),
        tuple(asked.gaps(lacking, list(tables))),
        _doubts((craft for craft, _ in crafts), dialect),
        tuple(asked.wanting_card),
        tuple(asked.unsaid),
        len(asked.rules),
        (*unread, *asked.problems),
        tuple(asked.crashed),
    )


# ---------------------------------------------------------------- lines


def _uses(reader: Reader, dialect: Dialect) -> Iterator[tuple[int, str]]:
    """What became of each line, by number.

    A line is kept without a meaning only if a person said so: what a draft merely supposes to
    have none (``sure = false`` in ``[kept]``) is not looked at yet.
    """
    supposed = dialect.data.get("kept", {}).get("sure", True) is False
    for row in reader.rows:
        use = reader.uses.get(row.line, "comment")
        yield row.line, "unlooked" if use == "kept" and supposed else use


def _passages(reader: Reader, craft: Craft, uses: dict[int, str]) -> Iterator[Passage]:
    """The lines that are not understood in full, in the dump's order."""
    misread: dict[int, list[Any]] = {}
    for one in craft.misread:
        misread.setdefault(one.line_span.line, []).append(one)
    why = {one.span.line: one.why for one in craft.unreadable}
    strays = {one.span.line: one for one in craft.strays}
    alive = {
        title.line
        for row in reader.rows
        if uses[row.line] not in (*_NOT, "title", "comment")
        for title in row.titles
    }
    for row in reader.rows:
        use, text = uses[row.line], row.text[row.start : row.note].strip()
        span = reader.span_of(row)
        if use == "misread":
            over = [title.line for title in row.titles]
            bads = [bad for line in (row.line, *reversed(over)) for bad in misread.get(line, ())]
            reason = "; ".join(f"`{one.written}` may be {one.valid}" for one in bads)
            name = ", ".join(dict.fromkeys(family(one.name) for one in bads))
            yield Passage("half", bads[0].span, text, name, reason)
        elif use == "unreadable":
            yield Passage("unknown", span, row.text.strip(), "", why[row.line])
        elif use == "unlooked":
            reason = "the dialect supposes that it has no meaning; nobody has looked yet"
            yield Passage("unknown", span, text, reader.name_of(row)[0], reason)
        elif use == "stray":
            stray = strays[row.line]
            state, reason = _stray(reader, row, stray.name, stray.nearest)
            yield Passage(state, stray.name_span, text, stray.name, reason)
        elif use == "title" and row.line not in alive and not reader.speaks_of(row):
            reason = "the dialect speaks of no such section"
            yield Passage("half", span, text, text, reason)


def _stray(reader: Reader, row: Row, name: str, near: str) -> tuple[State, str]:
    """How far a line without a meaning is understood, and what is known of it."""
    tables = reader.tables
    text = row.text[row.start : row.note]
    called = {entry.id: tables.called(entry) for entry in tables.map.entries}
    same = reader.tables.entries_called(name)
    same += [one for one in tables.map.entries if find(text, called[one.id]) is not None]
    for entry in same:
        home = entry.at.text.rpartition(" > ")[0]
        own = called[entry.id]
        what = "this name" if entry in reader.tables.entries_called(name) else f"`{own}`"
        if not home:
            return "half", f"{what} has a meaning in lines of another form"
        return "half", f"{what} has a meaning only under `{home}`"
    for entry in tables.map.entries:
        last = entry.at.text.rsplit(" > ", 1)[-1]
        if entry.way == "template" and last.split(" ")[0].lower() == name.lower():
            return "half", f"it begins like `{last}` and does not fit it"
    here = reader.called_here(name)
    if here:
        return "half", f"firmware {tables.version or 'of this dump'} calls it `{here}`"
    titles = [title for title in row.titles if title.style != "comment"]
    if titles and not reader.speaks_of(row):
        shown = " > ".join(reader.title_text(title) for title in titles)
        return "unknown", f"it stands in `{shown}`, of which the dialect is silent"
    hint = f"{_NEAREST}`{near}`" if near else ""
    return "unknown", f"the dialect has no meaning for it{hint}"


def grouped(lines: Iterable[Passage]) -> list[Group]:
    """Lines that are alike put together: unknown ones first, large groups before small ones."""
    found: dict[tuple[str, ...], list[Passage]] = {}
    for line in lines:
        found.setdefault((line.state, _stem(line.name), _kind(line)), []).append(line)
    groups = []
    for (_, stem, _), rows in found.items():
        names = list(dict.fromkeys(row.name for row in rows))
        label = names[0] or "unreadable"
        if len(names) > 1:
            label = "numbers for names" if stem == "#" else f"{stem}*"
        # What is nearest to each of many names is in the whole list; here it would tell nothing.
        plain = [row.why.partition(_NEAREST)[0] if len(names) > 1 else row.why for row in rows]
        reasons = list(dict.fromkeys(plain))
        why = "; ".join(reasons[:2])
        if reasons[2:]:
            why += f"; and {len(reasons) - 2} such reasons more"
        groups.append(Group(rows[0].state, label, why, tuple(rows)))
    return sorted(groups, key=lambda one: (one.state == "half", -len(one.lines)))


def _stem(name: str) -> str:
    """What names of one kind begin with: letters, and what divides them from the rest."""
    if name.isdigit():
        return "#"
    found = re.match(r"[^\W\d_]+(?:[-_.:/]+|(?=\d))", name)
    return found[0] if found is not None and found.end() < len(name) else name


def _kind(line: Passage) -> str:
    """Reasons that count as alike: what is quoted in them may differ."""
    return re.sub(r"`[^`]*`", "`", line.why.partition(_NEAREST)[0]) if line.name else line.why


# ---------------------------------------------------------------- gaps


def _unmapped(dialect: Dialect, tables: dict[str, Tables]) -> dict[str, tuple[str, ...]]:
    """What no line says, with the versions at which that is so; in the table's order."""
    found: dict[str, list[str]] = {}
    for version, one in tables.items():
        for name in _lacks(dialect, one):
            found.setdefault(name, []).append(version)
    return {name: tuple(found[name]) for name in _all_names() if name in found}


def _all_names() -> list[str]:
    return [*SETTINGS, *_OTHERS, *(_MODE + mode for mode in MODES), *(_TRAIT + t for t in _TRAITS)]


def _lacks(dialect: Dialect, tables: Tables) -> Iterator[str]:
    """What the tables have no line for, and who a craft is and traits if they say nothing."""
    # One member of a family that is written in a way of its own is better than none.
    single = {
        family(name)
        for entry in tables.map.entries
        if entry.makes == "settings"
        for name in entry.sets.values()
    }
    unmapped = tables.unmapped - single
    if "range" in unmapped:
        # Nothing says when any mode is on: told once.
        unmapped = frozenset(name for name in unmapped if not name.startswith(_MODE))
    yield from unmapped
    for line in dialect.data.get("identity", {}).get("lines", []):
        single.update(f"craft.{field}" for field in field_names(line))
    yield from (name for name in SETTINGS if name.startswith("craft.") and name not in single)
    yield from (_TRAIT + name for name in _TRAITS if getattr(tables.traits, name) is None)


def about(name: str) -> str:
    """What something neutral is, in a clause."""
    if name in SETTINGS:
        return SETTINGS[name].about
    if name.startswith(_MODE):
        return MODES[name[len(_MODE) :]]
    return _OTHERS.get(name) or _TRAITS[name[len(_TRAIT) :]]


class _Asked:
    """What rules miss, and what they look at, of all that is not mapped."""

    def __init__(self, lacking: frozenset[str]) -> None:
        self.lacking = lacking
        self.rules: dict[str, Rule] = {}
        self.unknown: dict[str, dict[str, None]] = {}
        self.looked: dict[str, dict[str, None]] = {}
        self.wanting_card: dict[str, None] = {}
        self.unsaid: dict[str, None] = {}
        self.crashed: dict[str, None] = {}
        self.problems: list[Problem] = []
        self._examples: dict[str, tuple[str, ...]] = {}
        self._chosen: dict[str, tuple[Chosen, ...]] = {}

    def judge(self, craft: Craft, one: One) -> None:
        """Judge every rule on a craft, as a run of ``lint`` does."""
        from cfglint.apart import Fault
        from cfglint.foreign import ask
        from cfglint.rule import FleetRule

        watched = craft.changed(unsure=self.lacking)
        for chosen in self._rules_of(one):
            rule = chosen.rule
            if isinstance(rule, FleetRule):
                continue  # it compares dumps, of which there are none but these
            self.rules[rule.id] = rule
            outcome = ask(rule, watched, chosen.options)
            if isinstance(outcome, Fault):
                self.crashed[rule.id] = None
                continue
            for lack in outcome.lacks:
                self._lack(rule, lack.fact, lack.where)
            for name in outcome.rests:
                self.looked.setdefault(name, {})[rule.id] = None
            cut_short = outcome.state == "not for this craft" and outcome.rests
            if self.lacking and (outcome.state == "unknown" or cut_short):
                # It stopped at the first thing that was lacking; its examples get further.
                for name in self._by_examples(chosen):
                    self.looked.setdefault(name, {})[rule.id] = None

    def _rules_of(self, one: One) -> tuple[Chosen, ...]:
        from cfglint.runner.own_rules import rules_of_run
        from cfglint.runner.select import select

        root = one.config.root if one.config is not None else ""
        if root not in self._chosen:
            loaded = rules_of_run(one.config)
            chosen = select(loaded.rules, one.config)
            here = Here(root or os.getcwd())
            if chosen.problems:
                raise_all(map(here.problem, [*loaded.problems, *chosen.problems]))
            self.problems += map(here.problem, loaded.problems)
            self._chosen[root] = chosen.rules
        return self._chosen[root]

    def _lack(self, rule: Rule, fact: str, where: str) -> None:
        if where == "card":
            self.wanting_card[fact] = None
            return
        name = _named(fact)
        if name.startswith(_MODE) and name not in self.lacking:
            name = "range"
        if name in self.lacking:
            self.unknown.setdefault(name, {})[rule.id] = None
        elif not _A_LINE.fullmatch(fact):  # told as a line that is not understood
            self.unsaid[fact] = None

    def _by_examples(self, chosen: Chosen) -> tuple[str, ...]:
        rule = chosen.rule
        if rule.id not in self._examples:
            seen: dict[str, None] = {}
            for example in rule.examples:
                seen.update(dict.fromkeys(_looked_at(rule, example, chosen, self.lacking)))
            self._examples[rule.id] = tuple(seen)
        return self._examples[rule.id]

    def gaps(self, lacking: dict[str, tuple[str, ...]], versions: list[str]) -> Iterator[Gap]:
        """Everything that is not mapped, what matters most first."""
        rows = []
        for name, at in lacking.items():
            unknown = self._sorted(self.unknown.get(name, {}))
            asked = self._sorted(
                one for one in self.looked.get(name, {}) if one not in self.unknown.get(name, {})
            )
            weights = [sum(WEIGHTS[self.rules[one].grade] for one in ids)
                       for ids in (unknown, asked)]  # fmt: skip
            only = at if len(at) < len(versions) else ()
            rows.append((weights, Gap(name, about(name), only, unknown, asked, weights[0])))
        rows.sort(key=lambda row: (-row[0][0], -row[0][1]))
        return (gap for _, gap in rows)

    def _sorted(self, ids: Iterable[str]) -> tuple[str, ...]:
        return tuple(sorted(ids, key=lambda one: (-WEIGHTS[self.rules[one].grade], one)))


def _named(fact: str) -> str:
    """A fact that a rule misses, as it is called among what is not mapped."""
    kind, _, name = fact.partition(".")
    prefix = {"traits": _TRAIT, "modes": _MODE}.get(kind, "")
    return prefix + name if prefix else family(fact)


def _looked_at(
    rule: Rule, example: Example, chosen: Chosen, lacking: frozenset[str]
) -> tuple[str, ...]:
    """What a rule looks at in one of its examples, of names that are not mapped."""
    from cfglint.apart import Fault
    from cfglint.craft.cards import read_card
    from cfglint.dialect import bundled, read_craft
    from cfglint.dump.source import Source
    from cfglint.errors import Problem
    from cfglint.foreign import ask

    try:
        card = read_card("card.toml", _unmarked(example.card).encode()) if example.card else None
        dialect = bundled(example.dialect)
    except Problem:
        return ()  # an example of a rule of one's own, for its author's tests to tell of
    craft = read_craft(Source.from_text("example.txt", _unmarked(example.dump)), dialect, card)
    # As if all of it were in doubt: then each look is noted.
    doubted = {name: value._replace(sure=False) for name, value in craft.values.items()}
    outcome = ask(rule, craft.changed(values=doubted, unsure=lacking), chosen.options)
    return () if isinstance(outcome, Fault) else outcome.rests


_CARETS = re.compile(r"[ \t]*\^+(?:[ \t].*)?")


def _unmarked(text: str) -> str:
    """An example's text without the lines of carets."""
    from textwrap import dedent

    lines = dedent(text.removeprefix("\n")).split("\n")
    return "\n".join(line for line in lines if _CARETS.fullmatch(line) is None)


# ---------------------------------------------------------------- unconfirmed


def _doubts(crafts: Iterable[Craft], dialect: Dialect) -> tuple[Doubt, ...]:
    """Mappings that are marked unconfirmed, each once, with how much was read by it."""
    marked = [craft for craft in crafts if craft.unsure]
    if not marked:
        return ()
    from cfglint.dialect.unsure import unconfirmed

    found: dict[tuple[str, str, str], int] = {}
    for craft in marked:
        for one in unconfirmed(craft, dialect):
            key = (one.name, one.written, one.mark)
            found[key] = found.get(key, 0) + len(one.lines)
    return tuple(Doubt(*key, lines) for key, lines in found.items())
