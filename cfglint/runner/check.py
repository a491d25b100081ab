"""One dump: bytes → source → dialect → craft → rules → flat records.

Whatever is wrong with a file, its card, its dialect or a rule stays with that file.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.apart import SECONDS, Fault, last_line, whole_trace
from cfglint.errors import EXIT_UNREAD, Problem, Problems
from cfglint.foreign import ask_all
from cfglint.prints import LineHashes, Prints
from cfglint.results import Aside, CraftLine, Found, Trouble, Verdict
from cfglint.runner.causes import Judged, with_causes
from cfglint.runner.here import from_here
from cfglint.runner.names import stem
from cfglint.runner.reading import read_bytes, refuse_packed
from cfglint.span import Excerpt

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.craft import Card, Craft
    from cfglint.cure import Cure
    from cfglint.dialect import Dialect
    from cfglint.dialect.reading import Reader
    from cfglint.dump.source import Source
    from cfglint.rule import Finding, Outcome, Rule
    from cfglint.runner.accept import Accept
    from cfglint.runner.config import Config, Dumps
    from cfglint.runner.discover import Dump
    from cfglint.runner.select import Chosen
    from cfglint.span import Span

#: An excerpt holds no more lines of a finding that covers many.
MOST_LINES = 12


class Checked(NamedTuple):
    """What one file came to; ``craft`` is None for one that was not checked.

    ``accepts`` are those of the dump's comments, ``places`` the lines (setting, file, number) of
    the settings that the hangar's accepts name.
    """

    craft: CraftLine | None
    verdicts: tuple[Verdict, ...]
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
    """Checks files one by one; keeps dialects and cards, which many files share.

    ``dialect`` and ``card`` are those named on the command line, for all files.  ``hashes``
    asks for line hashes, which only SARIF wants.
    """

    def __init__(
        self,
        root: str,
        config: Config | None,
        rules: Sequence[Chosen],
        *,
        dialect: str = "",
        card: str = "",
        hashes: bool = False,
        debug: bool = False,
        seconds: float = SECONDS,
    ) -> None:
        self.root = root
        self.config = config
        self.rules = rules
        self.dialect = dialect
        self.card = card
        self.hashes = hashes
        self.debug = debug
        self.seconds = seconds
        self._dialects: dict[str, Dialect | Problem] = {}
        self._cards: dict[str, tuple[Card, Source] | Problem] = {}
        #: Dialects that could not be loaded while one was chosen for the file at hand.
        self.passed_over: list[Problem] = []
        #: Settings that the hangar's accepts name: where they stand is wanted of each craft.
        self.accepted_settings: tuple[str, ...] = ()

        #: What fleet rules ask of each craft, and the files that are read for them only.
        self.asks: tuple[str, ...] = ()
        self.read_only: frozenset[str] = frozenset()

    def load_named(self) -> None:
        """Load what the command line names.  Raises Problem(s): it is wrong for every file."""
        if self.dialect:
            self._load_dialect(self.dialect)
        if self.card:
            self._load_card(*self._named_card())

    def check(self, dump: Dump) -> Checked:
        """Check one dump.  Never raises but for KeyboardInterrupt and the like."""
        self.passed_over = []
        try:
            return self._check(dump)
        except Problem as problem:
            each = [*self.passed_over, problem]
            return Checked(
                None, (), tuple(row for one in each for row in as_troubles(one, dump.file))
            )
        except Exception as wrong:
            # Not a rule's fault: those are caught where they run.
            return Checked(None, (), (self.crash(wrong, dump.file, ""),))

    def _check(self, dump: Dump) -> Checked:
        from cfglint.dialect.reading import Reader

        source = self._source(dump)
        sample = "-" if dump.data is not None else from_here(dump.path)
        dialect = self.choose(dump.entry, source, sample)
        card, card_file, card_text = self._card(dump.entry, dump.file)
        entry = dump.entry
        name = entry.craft_of(dump.file) if entry is not None else ""
        if not name and card is not None:
            name = str(card.values.get("craft", ""))
        extent: Any = (entry.extent if entry is not None else "") or None
        named = name or stem(dump.file)
        reader = Reader(source, dialect, card=card, name=named, extent=extent, whole=True)
        craft = reader.craft()
        firmware = craft.get("craft.firmware").value
        line = CraftLine(
            dump.file,
            craft.name,
            craft.dialect,
            str(firmware or ""),
            craft.lines,
            card_file,
            home=home_of(craft, entry),
        )
        if craft.unsure:
            from cfglint.dialect.unsure import unconfirmed

            line = line._replace(unsure=unconfirmed(craft, dialect))
        shown = None
        if self.asks:
            from cfglint.craft.fleet import lean

            shown = lean(craft, self.asks)
        if dump.file in self.read_only:
            return Checked(line, (), (), lean=shown)
        texts = {dump.file: source}
        if card_text is not None and card is not None:
            texts[card.file] = card_text
        flat = _Flat(craft, reader, texts, Prints(), self.hashes, line.home)
        judged: list[Judged] = []
        troubles = [row for one in self.passed_over for row in as_troubles(one)]
        asked = [(chosen.rule, craft, chosen.options) for chosen in self.rules]
        for chosen, said in zip(self.rules, ask_all(asked, self.seconds), strict=True):
            if isinstance(said, Fault):
                troubles.append(self.crash(said, dump.file, chosen.rule.id))
            else:
                judged.append(Judged(chosen, said, flat.record(chosen, said)))
        verdicts = with_causes(craft, judged)
        whole = (craft.whole, flat.hash(craft.whole))
        accepts: tuple[Accept, ...] = ()
        if "cfglint:" in source.text and "accept" in source.text:
            from cfglint.runner.accept_notes import notes

            accepts = notes(source, dialect)
        places = tuple(self._places(craft))
        aside: tuple[Aside, ...] = ()
        if craft.unread:
            from cfglint.runner.aside import of_craft

            aside = tuple(of_craft(craft))
        told = tuple(verdicts), tuple(troubles)
        return Checked(line, *told, accepts, places, shown, *whole, aside)

    def _places(self, craft: Craft) -> Iterator[tuple[str, str, int]]:
        for name in self.accepted_settings:
            for value in (craft.get(name), craft.maybe_card(name)):
                span = value.line_span
                if span is not None:
                    yield name, span.file, span.line

    def told_of_fleet(
        self, dump: Dump, home: str, outcome: Outcome, chosen: Chosen, dumps: Mapping[str, Dump]
    ) -> Verdict:
        """The record of a fleet rule's findings in one dump, which is read again for their
        surroundings; ``home`` is that of its craft, ``dumps`` are the fleet's, by file.  Raises
        as ``_Flat.record`` does.
        """
        source = self._source(dump)
        texts = {dump.file: source}
        for finding in outcome.findings:
            for related in finding.related:
                other = dumps.get(related.span.file)
                if other is not None and other.file not in texts:
                    beside = self._source(other)
                    texts[other.file] = beside
        from cfglint.dialect.reading import Reader

        extent: Any = (dump.entry.extent if dump.entry is not None else "") or None
        reader = Reader(
            source, self.choose(dump.entry, source), name=outcome.craft.name, extent=extent
        )
        flat = _Flat(outcome.craft, reader, texts, Prints(), self.hashes, home)
        return flat.record(chosen, outcome)

    # -- the parts ---------------------------------------------------------------------------

    def _source(self, dump: Dump) -> Source:
        data = dump.data
        if data is None:
            # Without a hangar a folder that was searched stands for one.
            within = self.root if self.config is not None else dump.below
            data = read_bytes(dump.path, dump.file, pipes=dump.named, within=within)
        return as_source(data, dump.file)

    def choose(self, entry: Dumps | None, source: Source, sample: str = "") -> Dialect:
        """The dialect: of the command line, the hangar, or the dump itself.

        ``sample`` is the dump's path from here: one that no dialect reads can be taught from it.
        """
        asked = self.dialect or (entry.dialect if entry is not None else "")
        if asked:
            return self._load_dialect(asked)
        from cfglint.dialect.choose import choose
        from cfglint.dialect.identify import directive
        from cfglint.dialect.load import bundled_names
        from cfglint.runner.config import own_dialects

        names = [*own_dialects(self.config), *bundled_names()]
        said = directive(source)
        if said is not None and said[0] in names:
            return self._load_dialect(said[0])
        pool: dict[str, Dialect] = {}
        for name in names:
            try:
                pool[name] = self._load_dialect(name)
            except Problem as problem:
                # A dump of another dialect need not wait for this one to be put right.
                self.passed_over.append(problem)
        return choose(source, pool, sample)

    def _load_dialect(self, name: str) -> Dialect:
        """A dialect by name or, if it is named on the command line, by file."""
        found = self._dialects.get(name)
        if found is None:
            try:
                found = self._read_dialect(name)
            except Problem as problem:
                found = problem
            self._dialects[name] = found
        if isinstance(found, Problem):
            raise found
        return found

    def _read_dialect(self, name: str) -> Dialect:
        from cfglint.dialect.load import bundled, bundled_names, load_dialect
        from cfglint.runner.config import own_dialects

        own = {} if name in bundled_names() else own_dialects(self.config)
        if name in own:
            path = os.path.join(self.root, own[name])
            within = (
                "" if os.path.isabs(own[name]) else self.root
            )  # a pack lies where it is installed
            return load_dialect(own[name], read_bytes(path, own[name], within=within))
        if name == self.dialect and is_path(name):
            path = os.path.abspath(name)
            file = self._shown(path)
            return load_dialect(file, read_bytes(path, file))
        known = (*own, *bundled_names())
        if name not in known:
            from cfglint.near import suggestion

            raise Problem(
                f"there is no dialect `{name}`",
                instead=suggestion(name, known) or "name its file, as in `mine.toml`",
            )
        return bundled(name)

    def card_of(self, entry: Dumps | None, file: str) -> Card | None:
        """The card of a dump."""
        return self._card(entry, file)[0]

    def _card(self, entry: Dumps | None, dump: str) -> tuple[Card | None, str, Source | None]:
        """The card of a dump, its name and its text."""
        if self.card:
            path, file = self._named_card()
        else:
            template = entry.card if entry is not None else ""
            file = entry.card_of(dump) if entry is not None else ""
            path = os.path.join(self.root, file)
            # A template need not fit every craft; the rules say what they miss.
            if not file or ("{" in template and not os.path.lexists(path)):
                return None, "", None
        card, text = self._load_card(path, file, "" if self.card else self.root)
        return card, file, text

    def _named_card(self) -> tuple[str, str]:
        path = os.path.abspath(self.card)
        return path, self._shown(path)

    def _load_card(self, path: str, file: str, within: str = "") -> tuple[Card, Source]:
        found = self._cards.get(path)
        if found is None:
            try:
                found = self._read_card(path, file, within)
            except Problem as problem:
                found = problem
            self._cards[path] = found
        if isinstance(found, Problem):
            raise found
        return found

    def _read_card(self, path: str, file: str, within: str) -> tuple[Card, Source]:
        from cfglint.craft.cards import read_card
        from cfglint.dump.source import Source

        data = read_bytes(path, file, within=within)
        card = read_card(file, data)
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        return card, Source.from_text(file, text)

    def _shown(self, path: str) -> str:
        start = self.root if self.root.endswith(os.sep) else self.root + os.sep
        return (path[len(start) :] if path.startswith(start) else path).replace(os.sep, "/")

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


def as_source(data: bytes, file: str) -> Source:
    """A dump's bytes as text.  Raises Problem (exit code 3) for what cannot be a dump."""
    from cfglint.dump.source import Source

    if not data.strip():
        raise Problem(
            "this file is empty",
            file=file,
            instead="make the dump again; nothing was recorded",
            exit=EXIT_UNREAD,
        )
    refuse_packed(data, file)
    # A few NULs are line noise, and the rules tell of the lines; many are another format.
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    if not marked and data.count(b"\0", 0, 8192) * 10 > min(len(data), 8192):
        raise Problem(
            "this file is no text: it is full of NUL bytes",
            file=file,
            instead="make the dump again as plain text (UTF-16 needs its byte order mark)",
            exit=EXIT_UNREAD,
        )
    return Source.from_bytes(file, data)


def is_path(dialect: str) -> bool:
    """Whether the word given for a dialect is a file rather than a name."""
    return dialect.endswith(".toml") or "/" in dialect or os.sep in dialect


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


def first_name(rule: Rule) -> str:
    """What a rule was called first, which its fingerprints keep when it is renamed."""
    return rule.aliases[0] if rule.aliases else rule.id


def home_of(craft: Craft, entry: Dumps | None) -> str:
    """What a craft's fingerprints are made with: see ``prints.fingerprint``."""
    named = craft.values.get("craft.name")
    if named is not None and named.origin == "set" and named.value:
        return str(named.value)
    if entry is not None and entry.craft and "{" not in entry.craft:
        return entry.craft
    card = craft.card.values.get("craft") if craft.card is not None else None
    return str(card) if card else craft.file


class _Flat:
    """Makes flat records of what rules say of one craft."""

    def __init__(
        self,
        craft: Craft,
        reader: Reader,
        texts: Mapping[str, Source],
        prints: Prints,
        hashes: bool,
        home: str,
    ) -> None:
        self.craft = craft
        self.reader = reader
        self.dialect = reader.dialect
        self.texts = texts
        self.prints = prints
        self.hashes = hashes
        self.home = home

    def record(self, chosen: Chosen, outcome: Outcome) -> Verdict:
        """The outcome of a rule, as ``ask_all`` gives it, as a record."""
        craft = self.craft
        # Equal lines are told apart by their order, so that must not depend on the rule's.
        findings = sorted(outcome.findings, key=lambda one: (one.span, one.message))
        found = tuple(self.found(chosen, one, outcome.rests) for one in findings)
        return Verdict(
            chosen.rule.id,
            craft.file,
            craft.name,
            outcome.state,
            found,
            outcome.lacks,
            outcome.reason,
            craft.whole,
            self.hash(craft.whole),
            outcome.rests,
        )

    def found(self, chosen: Chosen, finding: Finding, rests: tuple[str, ...]) -> Found:
        craft, span = self.craft, finding.span
        text = self.texts.get(span.file)
        line = text.line(span.line) if text is not None else ""
        # A card may serve several crafts: a finding in it belongs to one of them.
        home = self.home if span.file == craft.file else f"{self.home}\ncard"
        cure = self.cure(finding)
        return Found(
            chosen.rule.id,
            chosen.grade or finding.grade or chosen.rule.grade,
            craft.file,
            craft.name,
            span,
            finding.message,
            self.instead(finding, cure),
            self.excerpt(span),
            tuple(one._replace(excerpt=self.excerpt(one.span)) for one in finding.related),
            cure.edits,
            finding.picture,
            self.prints.of(first_name(chosen.rule), home, line),
            None,
            self.hash(span),
            rests,
            cure,
        )

    def cure(self, finding: Finding) -> Cure:
        """The lines that cure a finding, in the words of its dump."""
        from cfglint.cure import Cure, cure, cure_of_fix

        if finding.fix:
            file = finding.fix[0].span.file
            return cure_of_fix(finding.fix, self.texts[file].lines if file in self.texts else ())
        if not finding.edits:
            return Cure(by=finding.by)
        if not self.reader.values:
            self.reader.craft()
        return cure(self.reader, self.craft, finding.edits)

    def instead(self, finding: Finding, cure: Cure) -> str:
        """What to do, with the dump's own words for settings that its lines at hand do not show.

        Rules speak of neutral settings only; whoever mends the dump needs its dialect's.
        """
        from cfglint.dialect.writing import settings_in, spell

        craft = self.craft
        shown = {
            (span.file, span.line) for span in (finding.span, *(r.span for r in finding.related))
        }
        # Not by `get`: a fleet's craft answer only what a rule asks.
        values = craft.values
        firmware = str(values["craft.firmware"].value) if "craft.firmware" in values else ""
        told = []
        asked = " ".join(cure.asks)
        for name in settings_in(finding.instead):
            if name in asked:  # its line is shown
                continue
            line = values[name].line_span if name in values else None
            if line is None or (line.file, line.line) not in shown:
                words = spell(self.dialect, firmware, name)
                if words:
                    told.append(f"{name} is written `{words}`")
        return "; here, ".join([finding.instead, " and ".join(told)]) if told else finding.instead

    def excerpt(self, span: Span) -> Excerpt:
        text = self.texts.get(span.file)
        if text is None:
            return Excerpt(span.line, ())
        last = min(span.end_line, span.line + MOST_LINES - 1)
        return Excerpt(span.line, tuple(text.lines[span.line - 1 : last]))

    def hash(self, span: Span) -> str:
        text = self.texts.get(span.file)
        if text is None or not self.hashes:
            return ""
        if LineHashes not in text.noted:
            text.noted[LineHashes] = LineHashes(text.text, text.encoding)
        of, line = text.noted[LineHashes].of, span.line
        if (LineHashes, line) not in text.noted:
            text.noted[LineHashes, line] = of(line)
        return str(text.noted[LineHashes, line])
