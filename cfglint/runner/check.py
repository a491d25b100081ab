"""Judging one dump: craft → rules → outcomes with all that reports need.

Whatever is wrong with a file, its card, its dialect or a rule stays with that file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.apart import SECONDS, Fault, last_line, whole_trace
from cfglint.errors import EXIT_UNREAD, Problem, Problems
from cfglint.foreign import ask_all
from cfglint.results import Aside, CraftLine, Trouble
from cfglint.runner.causes import Judged, with_causes
from cfglint.runner.records import Records, home_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.craft import Craft
    from cfglint.finding import Outcome
    from cfglint.runner.accept import Accept
    from cfglint.runner.craft_reader import CraftReader, ReadCraft
    from cfglint.runner.discover import Dump
    from cfglint.runner.select import Chosen
    from cfglint.span import Span


class Checked(NamedTuple):
    """What one file came to; ``craft`` is None for one that was not checked.

    ``accepts`` are those of the dump's comments, ``places`` the lines (setting, file, number) of
    the settings that the hangar's accepts name.
    """

    craft: CraftLine | None
    outcomes: tuple[Outcome, ...]
    troubles: tuple[Trouble, ...]
    accepts: tuple[Accept, ...] = ()
    places: tuple[tuple[str, str, int], ...] = ()
    #: What fleet rules may ask of the craft, if any are to be asked.
    lean: Craft | None = None
    #: The place that stands for the whole craft, and the hash of its line.
    whole: Span | None = None
    line_hash: str = ""
    aside: tuple[Aside, ...] = ()


class Checker:
    """Judges dumps one by one, each read by ``reader``.

    ``hashes`` asks for line hashes, which only SARIF wants.  ``accepted_settings`` are those that
    the hangar's accepts name: where they stand is wanted of each craft.  ``asks`` is what fleet
    rules ask of each craft; the dumps ``read_only`` are read for nothing else.
    """

    def __init__(
        self,
        reader: CraftReader,
        rules: Sequence[Chosen],
        *,
        hashes: bool = False,
        debug: bool = False,
        seconds: float = SECONDS,
        accepted_settings: tuple[str, ...] = (),
        asks: tuple[str, ...] = (),
        read_only: frozenset[str] = frozenset(),
    ) -> None:
        self.reader = reader
        self.rules = rules
        self.hashes = hashes
        self.debug = debug
        self.seconds = seconds
        self.accepted_settings = accepted_settings
        self.asks = asks
        self.read_only = read_only
        #: How long each rule of others took so far.
        self.spent: dict[str, float] = {}

    def check(self, dump: Dump) -> Checked:
        """Check one dump.  Never raises but for KeyboardInterrupt and the like."""
        passed_over: list[Problem] = []
        try:
            source = self.reader.source(dump)
            passed_over = self.reader.passed_over(dump.entry, source)
            return self._judged(dump, self.reader.read(dump, source), passed_over)
        except Problem as problem:
            each = [*passed_over, problem]
            return Checked(
                None, (), tuple(row for one in each for row in as_troubles(one, dump.file))
            )
        except Exception as wrong:
            # Not a rule's fault: those are caught where they run.
            return Checked(None, (), (self.crash(wrong, dump.file, ""),))

    def _judged(self, dump: Dump, read: ReadCraft, passed_over: Sequence[Problem]) -> Checked:
        craft, reader, source = read.craft, read.reader, read.texts[dump.file]
        shown = None
        if self.asks:
            from cfglint.craft.fleet import lean

            shown = lean(craft, self.asks)
        line = _craft_line(dump, read)
        if dump.file in self.read_only:
            return Checked(line, (), (), lean=shown)
        records = Records(craft, reader, read.texts, self.hashes, line.home)
        judged: list[Judged] = []
        troubles = [row for one in passed_over for row in as_troubles(one)]
        asked = [(chosen.rule, craft, chosen.options) for chosen in self.rules]
        for chosen, said in zip(self.rules, ask_all(asked, self.seconds, self.spent), strict=True):
            try:
                if isinstance(said, Fault):
                    troubles.append(self.crash(said, dump.file, chosen.rule.id))
                else:
                    judged.append(Judged(chosen, records.complete(chosen, said)))
            except Exception as wrong:  # it speaks of a place that there is not
                troubles.append(self.crash(wrong, dump.file, chosen.rule.id))
        outcomes = with_causes(craft, judged)
        accepts: tuple[Accept, ...] = ()
        if "cfglint:" in source.text and "accept" in source.text:
            from cfglint.runner.accept_notes import notes

            accepts = notes(source, reader.dialect)
        aside: tuple[Aside, ...] = ()
        if craft.unread:
            from cfglint.runner.aside import of_craft

            aside = tuple(of_craft(craft))
        return Checked(
            line,
            tuple(outcomes),
            tuple(troubles),
            accepts,
            tuple(self._places(craft)),
            shown,
            craft.whole,
            records.hash(craft.whole),
            aside,
        )

    def _places(self, craft: Craft) -> Iterator[tuple[str, str, int]]:
        for name in self.accepted_settings:
            for value in (craft.get(name), craft.maybe_card(name)):
                span = value.line_span
                if span is not None:
                    yield name, span.file, span.line

    def told_of_fleet(
        self, dump: Dump, home: str, outcome: Outcome, chosen: Chosen, dumps: Mapping[str, Dump]
    ) -> Outcome:
        """A fleet rule's outcome on one dump, with all that reports need: it is read again for
        that.  ``home`` is that of its craft, ``dumps`` are the fleet's, by file.  Raises Problem
        where a dump cannot be read any more.
        """
        source = self.reader.source(dump)
        texts = {dump.file: source}
        for finding in outcome.findings:
            for related in finding.related:
                other = dumps.get(related.span.file)
                if other is not None and other.file not in texts:
                    texts[other.file] = self.reader.source(other)
        from cfglint.dialect.reading import Reader

        extent: Any = (dump.entry.extent if dump.entry is not None else "") or None
        dialect = self.reader.choose(dump.entry, source)
        reader = Reader(source, dialect, name=outcome.craft, extent=extent)
        return Records(reader.craft(), reader, texts, self.hashes, home).complete(chosen, outcome)

    def crash(self, wrong: Exception | Fault, file: str, rule: str) -> Trouble:
        if isinstance(wrong, Fault):
            detail = wrong.detail if self.debug and wrong.detail else wrong.text
        else:
            detail = whole_trace(wrong) if self.debug else last_line(wrong)
        if rule:
            message = "this rule crashed, so what it would have said of this craft is not known"
            instead = "tell the rule's author, with the line below; --debug shows where it happened"
        else:
            message = "cfglint itself failed on this file, which was not checked"
            instead = "report it, with the line below; --debug shows where it happened"
        return Trouble("crash", message, instead, EXIT_UNREAD, file, None, rule, detail)


def _craft_line(dump: Dump, read: ReadCraft) -> CraftLine:
    craft = read.craft
    line = CraftLine(
        dump.file,
        craft.name,
        craft.dialect,
        str(craft.get("craft.firmware").value or ""),
        craft.lines,
        read.card_file,
        home=home_of(craft, dump.entry),
    )
    if craft.unsure:
        from cfglint.dialect.unsure import unconfirmed

        line = line._replace(unsure=unconfirmed(craft, read.reader.dialect))
    return line


def as_troubles(problem: Problem, file: str = "") -> Iterator[Trouble]:
    """A problem as records of the run; ``file`` is where it showed if it names none."""
    for one in problem.each if isinstance(problem, Problems) else (problem,):
        yield Trouble(
            "file" if one.exit == EXIT_UNREAD else "config",
            one.message,
            one.instead,
            one.exit,
            one.file or file,
            one.span,
        )
