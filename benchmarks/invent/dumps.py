"""Dumps in an invented dialect: a craft's setup as lines, each with what it means."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import Any, NamedTuple

from cfglint.craft.settings import family
from cfglint.dump.forms import fill
from invent.model import Dump, Extent, Item, Line, Range, Record, Truth
from invent.plan import Plan
from invent.prose import dated, hint, remarks, steps, units
from invent.spells import fit, write

Members = dict[str, Any]


def adapt(plan: Plan, truth: Truth) -> Truth:
    """A setup as far as a dialect can say it: what has no line goes, the rest is rounded."""
    values: Members = {}
    spells = {item.setting: item.spell for item in plan.items}
    for record in plan.families.records:
        spells |= {setting: record.fields[field] for field, setting in record.sets.items()}
    for name, value in truth.values.items():
        spell = spells.get(family(name))
        if spell is not None:
            values[name] = fit(spell, value)
    if plan.identity.has_name:
        values["craft.name"] = truth.values["craft.name"]
    ends = next(r for r in plan.families.records if r.makes == "range").fields["low"]
    ranges: list[Range] = []
    for mode, channel, low, high, join in truth.ranges:
        if join == "all" and not plan.families.has_join:
            if any(row[0] == mode for row in ranges):
                continue
            join = "any"  # noqa: PLW2901
        if ends.unit == "pct":
            low, high = max(low, 1000.0), min(high, 2000.0)  # noqa: PLW2901
        ranges.append((mode, channel, fit(ends, low), fit(ends, high), join))
    return Truth(values, tuple(ranges), truth.links if plan.families.has_links else ())


class Block(NamedTuple):
    """Lines that stand together; ``title`` opens a section, ``heading`` is only a comment."""

    title: str
    heading: str
    lines: list[Line]


def write_dump(
    plan: Plan, truth: Truth, file: str, extent: Extent, version: str, rng: Random
) -> Dump:
    """A dump of a setup (one that fits the dialect, see :func:`adapt`)."""
    return _Writer(plan, truth, extent, version, rng).dump(file)


class _Writer:
    def __init__(self, plan: Plan, truth: Truth, extent: Extent, version: str, rng: Random) -> None:
        self.plan, self.truth, self.extent, self.version = plan, truth, extent, version
        self.shape = plan.shape
        self.rng = rng
        # Habits of the dialect, the same in all its dumps.
        habits = Random(f"habits {plan.half} {plan.seed}")
        self.headings = habits.random() < 0.55
        self.indent = habits.choice(("  ", "    ", "\t", "")) if self.shape.close else ""
        self.gaps = habits.random() < 0.7
        self.remarks = habits.choice((0, 0, 1, 3))
        self.dated = habits.random() < 0.25
        self.tells_units = habits.random() < 0.2
        self.prefix, rest = self.shape.assign.split("{name}")
        self.middle, self.suffix = rest.split("{value}")
        self.width = max(len(item.name) for item in plan.items) + 1

    # -- single lines ------------------------------------------------------------------------

    def assign(self, name: str, value: str) -> str:
        """An assignment's text, its separator in the dialect's own spacing."""
        middle = self.middle
        if self.shape.gap == "tab":
            middle = middle.replace(" ", "\t")
        elif self.shape.gap == "align" and " " in middle:
            pad = " " * max(0, self.width - len(name))
            middle = pad + middle if middle[0] == " " else middle + pad
        return f"{self.prefix}{name}{middle}{value}{self.suffix}"

    def item(self, item: Item, member: str, value: Any, number: str = "") -> Line:
        name = item.name.replace("{N}", number)
        if item.flag:
            form = self.shape.flag_on if value else self.shape.flag_off
            return Line(fill(form, {"name": name}), name, {member: value}, written={})
        text = write(item.spell, value)
        return Line(self.assign(name, text), name, {member: value}, written={member: text})

    def noise_line(self, name: str, kind: Any, written: str) -> Line:
        if self.shape.flag_on and not kind.words and kind.high == 0:
            on = written == self.shape.yes[0]
            form = self.shape.flag_on if on else self.shape.flag_off
            return Line(fill(form, {"name": name}), name)
        return Line(self.assign(name, written), name)

    def says(self, member: str) -> bool:
        """Whether a member's line stands in this dump: in one of changes, if it is no default."""
        if member not in self.truth.values:
            return False
        if self.extent == "full":
            return True
        default = self.plan.defaults.get(family(member))
        return default is None or self.truth.values[member] != default

    # -- blocks ------------------------------------------------------------------------------

    def item_blocks(self) -> Iterator[Block]:
        plan = self.plan
        rows: dict[tuple[str, str], list[Line]] = {}
        in_profiles = plan.profiles.within if plan.profiles else "{}"
        for item in plan.items:
            if ".N" in item.setting or item.within == in_profiles:
                continue
            where = (item.within, item.setting.split(".")[0])
            if self.says(item.setting):
                lines = rows.setdefault(where, [])
                if item.setting in plan.hints:
                    lines.append(Line(hint(plan, item.setting, item.spell)))
                lines.append(self.item(item, item.setting, self.truth.values[item.setting]))
            elif (
                item.setting in self.truth.values and self.shape.unset and self.rng.random() < 0.06
            ):
                # Taken back: its default holds again.
                text = fill(self.shape.unset, {"name": item.name})
                rows.setdefault(where, []).append(Line(text, item.name))
        sectioned = self.shape.sections != "none"
        for one in plan.noise:
            if self.extent == "changes" and self.rng.random() < 0.65:
                continue
            title = plan.titles.get(one.title, one.title) if sectioned else ""
            line = self.noise_line(
                one.name, one.kind, one.written(self.rng, self.shape, plan.spelled)
            )
            rows.setdefault((title, one.title or "other"), []).append(line)
        if sectioned or plan.arranged == "grouped":
            for (title, subject), lines in rows.items():
                yield Block(title, subject if not title else "", self.arrange(lines))
        else:
            yield Block("", "", self.arrange([line for lines in rows.values() for line in lines]))

    def arrange(self, lines: list[Line]) -> list[Line]:
        """The dialect's order of lines, a hint kept before its line."""
        units: list[list[Line]] = []
        for line in lines:
            if units and not units[-1][-1].name:
                units[-1].append(line)
            else:
                units.append([line])
        if self.plan.arranged == "sorted":
            units.sort(key=lambda unit: unit[-1].name.lower())
        else:
            units.sort(key=lambda unit: Random(f"{self.plan.seed} {unit[-1].name}").random())
        return [line for unit in units for line in unit]

    def family_blocks(self) -> Iterator[Block]:
        items = [item for item in self.plan.items if ".N" in item.setting]
        for subject, most in (("channel", self.plan.channels), ("port", self.plan.ports)):
            homes: dict[str, list[Item]] = {}
            for item in items:
                own = item.setting.split(".")[0] == subject
                if own or (subject == "channel" and item.setting.startswith("failsafe")):
                    homes.setdefault(item.within, []).append(item)
            for within, members in homes.items():
                together = [
                    Line(hint(self.plan, item.setting, item.spell))
                    for item in members
                    if item.setting in self.plan.hints
                ]
                for number in range(1, most + 1):
                    lines = []
                    for item in members:
                        member = item.setting.replace("N", str(number), 1)
                        written = write(item.number, number)
                        if self.says(member):
                            value = self.truth.values[member]
                            lines.append(self.item(item, member, value, written))
                    if within and lines:
                        title = within.replace("{N}", write(members[0].number, number))
                        yield Block(title, "", [*together, *lines])
                        together = []
                    elif not within:
                        together += lines
                if together and not within:
                    yield Block("", subject, together)

    def record_blocks(self) -> Iterator[Block]:
        rows: dict[tuple[str, str], list[Line]] = {}
        for record in self.plan.families.records:
            if record.makes != "settings":
                continue
            lines = rows.setdefault((record.within, record.id), [])
            for field, setting in record.sets.items():
                if setting in self.plan.hints:
                    lines.append(Line(hint(self.plan, setting, record.fields[field])))
            most = self.plan.ports if record.id == "port" else self.plan.channels
            for number in range(1, most + 1):
                line = self.record(record, number)
                if line is not None:
                    lines.append(line)
        for (within, subject), lines in rows.items():
            if any(line.sets for line in lines):
                yield Block(within, subject if not within else "", lines)

    def record(self, record: Record, number: int) -> Line | None:
        members = {f: s.replace("N", str(number), 1) for f, s in record.sets.items()}
        if not any(self.says(member) for member in members.values()):
            return None
        # Every port has a line speed; only those that carry something differ from default.
        if record.id == "port" and not self.says(members["functions"]):
            return None
        texts = {"N": write(record.fields["N"], number)}
        for field, member in members.items():
            texts[field] = write(record.fields[field], self.truth.values[member])
        return Line(
            fill(record.line, texts),
            "",
            {member: self.truth.values[member] for member in members.values()},
            written={member: texts[field] for field, member in members.items()},
        )

    def range_blocks(self) -> Iterator[Block]:
        plan = self.plan
        records = {record.id: record for record in plan.families.records}
        in_sections = "{mode}" in records["range"].within
        lines: list[Line] = []
        homes: dict[str, list[Line]] = {}
        if "mode" in plan.hints:
            lines.append(Line(hint(plan, "mode", plan.modes)))
        if "ends" in plan.hints:
            lines.append(Line(steps(plan, records["range"].fields["low"])))
        hints = list(lines)
        for slot, row in enumerate(self.truth.ranges):
            line = self.range_line(records, slot, row)
            homes.setdefault(row[0], []).append(line)
            lines.append(line)
        if in_sections:
            next(iter(homes.values()))[:0] = hints
            for mode, own in homes.items():
                title = records["range"].within.replace("{mode}", plan.modes.words[mode])
                yield Block(title, "", own)
        links = [
            Line(
                fill(
                    records["link"].line,
                    {"mode": plan.modes.words[one], "follows": plan.modes.words[other]},
                ),
                link=(one, other, join),
                mode_word=plan.modes.words[one],
            )
            for one, other, join in self.truth.links
        ]
        if not in_sections:
            within = records["range"].within
            yield Block(within, "" if within else "mode", [*lines, *links])
        elif links:
            yield Block(records["link"].within, "", links)

    def range_line(self, records: dict[str, Record], slot: int, row: Range) -> Line:
        record = records["range"]
        if row[4] == "all" and "range-all" in records:
            record = records["range-all"]
        texts = self.range_texts(record, slot, row)
        return Line(fill(record.line, texts), range=row, mode_word=texts["mode"])

    def range_texts(self, record: Record, slot: int, row: Range) -> dict[str, str]:
        mode, channel, low, high, join = row
        values = {"channel": channel, "low": low, "high": high, "join": join, "N": slot + 1}
        texts = {f: write(s, values[f]) for f, s in record.fields.items() if f != "mode"}
        return {**texts, "mode": self.plan.modes.words[mode]}

    def profile_blocks(self) -> Iterator[Block]:
        profiles = self.plan.profiles
        if profiles is None:
            return
        used = self.rng.choice(profiles.numbers)
        yield Block("", "", [Line(self.assign(profiles.in_use, str(used)), profiles.in_use)])
        items = [item for item in self.plan.items if item.within == profiles.within]
        for number in profiles.numbers:
            lines = []
            for item in items:
                if item.setting not in self.truth.values:
                    continue
                value = self.truth.values[item.setting]
                if number == used and self.says(item.setting):
                    lines.append(self.item(item, item.setting, value))
                elif number != used and self.extent == "full":
                    other = fit(item.spell, value + self.rng.choice((-1, 1, 1.5, 2)) * 5 / 5)
                    line = self.item(item, item.setting, other)
                    lines.append(line._replace(sets={}, written={}, aside=line.sets))
            for one in self.plan.noise[: 3 if len(self.plan.noise) > 3 else 0]:
                written = one.written(self.rng, self.shape, self.plan.spelled)
                lines.append(self.noise_line(one.name, one.kind, written))
            yield Block(profiles.within.replace("{P}", str(number)), "", lines)

    # -- the whole ---------------------------------------------------------------------------

    def comment(self, text: str) -> Line:
        return Line(f"{self.shape.comment.strip()} {text}")

    def identity(self) -> Iterator[Line]:
        words = self.plan.identity
        day = self.rng.choice(("2026-03-12", "Mar 12 2026", "12.03.26 / 7c41e9"))
        fields = {
            "board": self.plan.board,
            "firmware": self.version,
            "extent": words.full if self.extent == "full" else words.changes,
            "name": str(self.truth.values.get("craft.name", "")),
            "built": f"{day})",
        }
        members = {"board": "craft.board", "firmware": "craft.firmware", "name": "craft.name"}
        for form in words.forms:
            said = {members[f]: fields[f] for f in members if "{" + f + "}" in form}
            yield Line(fill(form, fields), sets=said, written=said)

    def section(self, block: Block) -> Iterator[Line]:
        titles = block.title.split("/") if block.title else []
        indent = self.indent * len(titles)
        for deep, title in enumerate(titles):
            yield Line(self.indent * deep + fill(self.shape.open, {"title": title}))
        if not titles and block.heading and self.headings:
            title = self.plan.titles.get(block.heading, block.heading)
            yield self.comment(self.shape.heading.format(title))
        for line in block.lines:
            yield line._replace(text=indent + line.text) if block.title else line
        for deep in reversed(range(len(titles) if self.shape.close else 0)):
            yield Line(self.indent * deep + self.shape.close)

    def dump(self, file: str) -> Dump:
        lines = list(self.identity())
        said = [*([dated(self.rng)] if self.dated else []), *remarks(self.rng, self.remarks)]
        said += units(self.plan) if self.tells_units else []
        lines += [self.comment(text) for text in said]
        profiles = list(self.profile_blocks())
        blocks = [
            *self.item_blocks(),
            *self.family_blocks(),
            *self.record_blocks(),
            *self.range_blocks(),
        ]
        order = Random(f"blocks {self.plan.half} {self.plan.seed}")
        ranks = {key: order.random() for key in sorted({self.rank_of(one) for one in blocks})}
        blocks.sort(key=lambda one: ranks[self.rank_of(one)])
        for block in [*profiles[:1], *blocks, *profiles[1:]]:
            if block.lines:
                if self.gaps:
                    lines.append(Line(""))
                lines += self.section(block)
        lines.append(Line(self.shape.save))
        if self.shape.prompt:
            mark = self.shape.comment.strip()
            lines = [
                line
                if not line.text or line.text.startswith(mark)
                else line._replace(text=f"{self.shape.prompt} {line.text}")
                for line in lines
            ]
        values: Members = {}
        written: dict[str, str] = {}
        for line in lines:
            values |= line.sets
            written |= line.written
        return Dump(
            file,
            tuple(lines),
            self.extent,
            values,
            tuple(line.range for line in lines if line.range),
            tuple(line.link for line in lines if line.link),
            written,
        )

    def rank_of(self, block: Block) -> str:
        """Blocks of one kind keep together (``port 1``, ``port 2``; ``motor``, ``motor/pulse``)."""
        return block.title.partition("/")[0].split()[0] if block.title else block.heading
