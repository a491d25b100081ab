"""Single faults put into the sound demo craft, drawn from the tables of settings and card fields.

Every value that a line sets is changed to others of its kind, every mode range moved, turned over
or widened; and the card is made to say something else than the dump, field by field.  A new setting
or field joins by itself.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.faults import base, card_changes
from cfglint.craft.settings import setting
from cfglint.dialect.edit import changed_lines, edited, edits_of_range, with_lines
from cfglint.dialect.reading import Reader
from cfglint.dialect.values import Bad
from cfglint.dump.source import Source
from cfglint.report.patch import with_edits
from cfglint.runner.check import Checker
from cfglint.runner.discover import discover
from cfglint.runner.fleet import divide
from cfglint.runner.own_rules import rules_of_run
from cfglint.runner.select import select

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft.settings import Setting
    from cfglint.results import Found
    from cfglint.runner.check import Checked

HANGAR = Path(__file__).parents[2] / "fixtures" / "saltmarsh"

#: What a cure may bring to light, for it is a second thing that is wrong and somebody has to
#: choose or to solder: rule that is cured, rule that finds more → words of what it finds, and why.
SECOND = {
    ("receiver/link-differs-from-card", "receiver/port-shared"): (
        "carries telemetry as well",
        "a link without a way back takes telemetry nowhere: it needs a port of its own",
    ),
    ("receiver/link-differs-from-card", "receiver/inversion-not-normal"): (
        "has no inverter",
        "nothing that can be typed turns the signal over",
    ),
    ("ports/soldered-otherwise", "sensors/no-gps"): (
        "no port carries GPS",
        "by the card none is soldered to any, and the craft is to fly home",
    ),
}


class Fault(NamedTuple):
    """One fault: what was changed, the dump with it, and the card if it is another."""

    what: str
    text: str
    card: str = ""


class Bench:
    """The demo hangar's rules (but for fleet rules) over texts that stand for one of its dumps."""

    def __init__(self, craft: str) -> None:
        found = discover([str(HANGAR)], "", "")
        loaded = rules_of_run(found.config)
        own, _ = divide(select(loaded.rules, found.config, (), ()).rules)
        self.rules = own
        self.checker = Checker(found.root, found.config, own)
        self.dump = next(one for one in found.dumps if f"/{craft}." in one.path)
        self.source = Source.from_bytes(self.dump.file, Path(self.dump.path).read_bytes())
        self.dialect = self.checker.choose(self.dump.entry, self.source)

    def check(self, text: str, card: str = "") -> Checked:
        dump = self.dump._replace(data=text.encode())
        if not card:
            return self.checker.check(dump)
        with tempfile.NamedTemporaryFile("w", suffix=".toml", encoding="utf-8") as file:
            file.write(card)
            file.flush()
            root, config = self.checker.root, self.checker.config
            return Checker(root, config, self.rules, card=file.name).check(dump)

    def card_faults(self) -> Iterator[Fault]:
        """The card says something else than the dump."""
        setup = base(self.dump.file.rpartition("/")[2].partition(".")[0], self.dialect.id)
        for change in card_changes(setup):
            changed = setup.copy()
            change.make(changed)
            yield Fault(change.title, self.source.text, changed.card_text())

    def faults(self) -> Iterator[Fault]:
        reader = Reader(self.source, self.dialect)
        craft = reader.craft()
        for name, value in craft.values.items():
            if name.startswith("craft.") or value.origin != "set":
                continue
            for new in dict.fromkeys(_others(setting(name), value.value)):
                try:
                    lines = edited(reader, name, new)
                except Bad:
                    continue
                yield Fault(f"{name}: {value} to {new}", with_lines(reader, lines))
        for number, row in enumerate(craft.mode_ranges):
            for low, high in _ends(row.low_us, row.high_us):
                try:
                    moved = row._replace(low_us=low, high_us=high)
                    lines = changed_lines(reader, edits_of_range(reader, number, moved))
                except Bad:
                    continue
                what = f"range of {row.mode}: {row.low_us:g}..{row.high_us:g} to {low:g}..{high:g}"
                yield Fault(what, with_lines(reader, lines))


def _others(row: Setting, value: Any) -> Iterator[Any]:
    if row.kind == "flag":
        yield not value
    elif row.kind == "word":
        yield from (word for word in row.words if word != value)
    elif row.kind == "words":
        yield from (value ^ {word} for word in row.words)
        yield frozenset()
    elif row.kind in ("number", "count"):
        for new in (value * 2, value / 2, value + 1, value + 150, value - 150, 0, value * 0.8):
            near = round(new) if float(value).is_integer() else round(new, 2)
            fits = (row.least is None or near >= row.least) and (
                row.most is None or near <= row.most
            )
            if fits and near != value:
                yield near
    elif row.texts:
        yield from (text for text in (*row.texts, "988", "1500", "1705", "2012") if text != value)


def _ends(low: float, high: float) -> Iterator[tuple[float, float]]:
    yield high, low
    for down, up in ((-300, 0), (0, 300), (150, 0), (0, -150), (-400, -400)):
        if low + down >= 800:
            yield low + down, high + up
    yield 905, 2115


def complaints(bench: Bench, fault: Fault) -> Iterator[str]:
    """What is wrong with the advice on a fault: each cure alone is to cure, and to harm nothing."""
    before = bench.check(fault.text, fault.card)
    found = [one for verdict in before.verdicts for one in verdict.found]
    for one in found:
        head = f"{bench.dump.file}, {fault.what}: {one.rule}"
        assert one.cure is not None
        if not one.fix:
            if not one.cure.by and not one.cure.unwritten:
                yield f"{head} has no cure and does not say why"
            continue
        after = bench.check(with_edits(fault.text, one.fix), fault.card)
        yield from (f"{head}: {text}" for text in _compared(one, before, after))
        for other in found:
            if other.cause == one.print and (other.rule, other.message) in _said(after):
                yield f"{head}: {other.rule} is put down to it, but stays when it is cured"


def _compared(one: Found, before: Checked, after: Checked) -> Iterator[str]:
    said, was = _said(after), _said(before)
    number, had = _by_rule(after), _by_rule(before)
    if said[one.rule, one.message] >= was[one.rule, one.message] or (
        number[one.rule] >= had[one.rule]
    ):
        yield f"its advice does not cure it: {one.message}"
    for rule, message in said - was:
        if SECOND.get((one.rule, rule), ("",))[0] in message and (one.rule, rule) in SECOND:
            continue
        # A finding may word itself anew; there must be no more of them.
        if rule != one.rule and number[rule] > had[rule]:
            yield f"after its advice {rule} finds: {message}"
    lacks = {(v.rule, lack.text) for v in before.verdicts for lack in v.lacks}
    # A rule that was not for the craft before may well ask for more.
    idle = {verdict.rule for verdict in before.verdicts if verdict.state == "not for this craft"}
    for verdict in after.verdicts:
        if verdict.rule in idle:
            continue
        for lack in verdict.lacks:
            if (verdict.rule, lack.text) not in lacks:
                yield f"after its advice {verdict.rule} misses {lack.text}"


def _said(checked: Checked) -> Counter[tuple[str, str]]:
    return Counter((one.rule, one.message) for v in checked.verdicts for one in v.found)


def _by_rule(checked: Checked) -> Counter[str]:
    return Counter(one.rule for verdict in checked.verdicts for one in verdict.found)
