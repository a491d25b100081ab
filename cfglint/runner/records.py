"""What reports need of a finding beside what its rule says, put in once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.finding import Cure, Drop, Respell
from cfglint.prints import LineHashes, Prints
from cfglint.span import Excerpt

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.craft import Craft
    from cfglint.dialect.reading import Reader
    from cfglint.dump.source import Source
    from cfglint.finding import Finding, Outcome
    from cfglint.rule import Rule
    from cfglint.runner.config import Dumps
    from cfglint.runner.select import Chosen
    from cfglint.span import Span

#: An excerpt holds no more lines of a finding that covers many.
MOST_LINES = 12
#: Each cure is proven by reading the changed dump: so many lines are read for those of one craft.
MOST_READ = 200_000


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


class Records:
    """Completes what rules say of one craft.

    ``texts`` are the files that findings may point into, ``home`` is that of the craft
    (:func:`home_of`); ``hashes`` asks for line hashes, which only SARIF wants.
    """

    def __init__(
        self, craft: Craft, reader: Reader, texts: Mapping[str, Source], hashes: bool, home: str
    ) -> None:
        self.craft = craft
        self.reader = reader
        self.dialect = reader.dialect
        self.texts = texts
        self.prints = Prints()
        self.hashes = hashes
        self.home = home
        self.lines_read = 0

    def complete(self, chosen: Chosen, outcome: Outcome) -> Outcome:
        """The outcome of a rule, as ``ask_all`` gives it, with all that reports need.

        Raises ValueError for a place that is in no file at hand.
        """
        for finding in outcome.findings:
            self.check_places(finding)
        # Equal lines are told apart by their order, so that must not depend on the rule's.
        findings = sorted(outcome.findings, key=lambda one: (one.span, one.message))
        return outcome._replace(
            findings=tuple(self.finding(chosen, one, outcome.rests) for one in findings),
            line_hash=self.hash(self.craft.whole),
        )

    def check_places(self, finding: Finding) -> None:
        spans = [finding.span, *(one.span for one in finding.related)]
        spans += [one.span for one in finding.fix]
        edits = (*finding.edits, *finding.choices)
        edited = [one.span for one in edits if isinstance(one, Drop | Respell)]
        for span in spans + edited:
            text = self.texts.get(span.file)
            if text is None or (span in edited and span.file != self.craft.file):
                raise ValueError(f"it points into `{span.file[:80]}`, which it was not asked about")
            last = max(1, len(text.lines))
            if span.end_line > last:
                raise ValueError(f"it points at line {span.end_line}; `{text.file}` has {last}")
            for line, column in (span[1:3], span[3:5]):
                if column > len(text.line(line)) + 1:
                    raise ValueError(f"it points at {line}:{column}, beyond the end of that line")

    def finding(self, chosen: Chosen, finding: Finding, rests: tuple[str, ...]) -> Finding:
        craft, span = self.craft, finding.span
        text = self.texts.get(span.file)
        line = text.line(span.line) if text is not None else ""
        # A card may serve several crafts: a finding in it belongs to one of them.
        home = self.home if span.file == craft.file else f"{self.home}\ncard"
        cure = self.cure(finding)
        return finding._replace(
            rule=chosen.rule.id,
            grade=chosen.grade or finding.grade or chosen.rule.grade,
            file=craft.file,
            craft=craft.name,
            instead=self.instead(finding, cure),
            related=tuple(one._replace(excerpt=self.excerpt(one.span)) for one in finding.related),
            fix=cure.edits,
            excerpt=self.excerpt(span),
            print=self.prints.of(first_name(chosen.rule), home, line),
            accepted=None,
            line_hash=self.hash(span),
            rests=rests,
            cure=cure,
            cause="",
        )

    def cure(self, finding: Finding) -> Cure:
        """The lines that cure a finding, in the words of its dump."""
        from cfglint.cure import cure, cure_of_fix

        if finding.fix:
            file = finding.fix[0].span.file
            return cure_of_fix(finding.fix, self.texts[file].lines if file in self.texts else ())
        if not finding.edits and not finding.choices:
            return Cure(by=finding.by)
        if self.lines_read > MOST_READ:
            told = "lines are shown for so many findings first; mend those, and lint once more"
            return Cure(unwritten=told, by=finding.by)
        if not self.reader.values:
            self.reader.craft()
        self.lines_read += self.craft.lines * (len(finding.choices) + bool(finding.edits))
        try:
            choices = tuple(cure(self.reader, self.craft, (one,)) for one in finding.choices)
            if not finding.edits:
                return Cure(by=finding.by, choices=choices)
            return cure(self.reader, self.craft, finding.edits)._replace(choices=choices)
        except Exception as wrong:  # a rule may ask for what no dump can say; its finding stands
            unwritten = f"the rule asks for an edit that cannot be made ({type(wrong).__name__})"
            return Cure(unwritten=unwritten, by="hand")

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
        asked = " ".join((*cure.asks, *(text for one in cure.choices for text in one.asks)))
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
