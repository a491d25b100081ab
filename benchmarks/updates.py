"""Measures how well a changes table is drafted from dumps before and after an update.

    python benchmarks/updates.py                            # 100 seeds of the half held back
    python benchmarks/updates.py --half open --show 17

Every seed invents a dialect (``benchmarks/invent``) and one craft's dumps before and after an
update in which a few names, a unit and perhaps more changed.  The dialect before is written here
from the truth, for the settings that stand in a line of their own; all else of it is kept.  What
counts is what the drafted dialect then reads of the dump after: right, asked (a question of the
sheet names it), missed, or wrong without a mark.  A rename or removal of a name that stayed is a
wrong row.  With ``--moved`` each number of a renamed setting is made another in the dump after:
nothing of that may be live.
"""

from __future__ import annotations

import argparse
import re
from collections import Counter
from typing import Any, NamedTuple

from invent import Invented, update

from cfglint import tomlwrite as toml
from cfglint.carry.side import read_side
from cfglint.craft.model import Craft
from cfglint.craft.settings import setting
from cfglint.dialect import Dialect, load_dialect
from cfglint.dialect.encode import close
from cfglint.dialect.lines import find
from cfglint.dialect.mapfile import map_of
from cfglint.dialect.mapfile import marks as marks_of
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.teach.updates import changes_between
from cfglint.teach.updates_model import Changes


def dialect_of(made: Invented, source: Source) -> Dialect:
    """The dialect of the dump before, for its settings in lines of their own; the rest is kept."""
    author, truth = made.author, made.truth["dumps"][source.file]["settings"]
    marks: dict[str, Any] = {"comment": author.mark, "yes": author.yes, "no": author.no}
    if author.comma:
        marks["decimal"] = ","
    reader = MapReader(source, map_of({"marks": marks}), marks_of({"marks": marks}))
    lines = {row.line: row for row in reader.rows if not row.comment and row.atoms}
    of_line = Counter(fact["line"] for fact in truth.values())
    out = [
        "[dialect]",
        'id = "invented"',
        "[marks]",
        *(f"{k} = {toml.value(v)}" for k, v in marks.items()),
    ]
    out.append("[map]")
    done, kept = set(), []
    for name, fact in truth.items():
        row = lines.get(fact["line"])
        place = row.text.find(fact["text"], row.start) if row is not None else -1
        if (
            row is None
            or of_line[fact["line"]] > 1
            or place <= row.start
            or re.search(r"\.\d|firmware", name)
        ):
            continue
        words = re.sub(r"[^\w%)\]]+$", "", row.text[row.start : place])
        words = re.split(r"[ \t]{2,}|[,;:=|({\[\"]", words)[-1].strip()
        titles = [source.lines[one.line - 1][one.atoms[0].start : one.atoms[-1].end]
                  for one in row.titles if one.style != "comment" and one.atoms][-1:]  # fmt: skip
        if not words:
            continue
        done.add(fact["line"])
        out.append(
            f"{toml.key(name)} = {toml.value(keys_of(made, name, ' > '.join([*titles, words])))}"
        )
    for line, row in lines.items():
        if line not in done and len(row.atoms) > 1:
            head = re.match(r"[^\W\d_]+(?:[-_. ]+[^\W\d_]+)*", row.text[row.start :])
            kept.append((head[0] if head else row.text[row.start :].split()[0]).strip())
    out += ["[kept]", f"at = {toml.value(sorted(set(filter(None, kept))))}"]
    return load_dialect("invented.toml", "\n".join(out).encode(), check=False)


def keys_of(made: Invented, name: str, at: str) -> dict[str, Any]:
    author, keys = made.author, {"at": at}
    row = setting(name)
    unit = author.units.get(name)
    if name in author.words:
        words = {word: author.word(name, word) for word in author.words[name]}
        return {**keys, "words": words}
    if row.kind in ("number", "count") and unit is not None:
        return {**keys, ("over" if unit.per else "scale"): unit.size}
    if name == "receiver.port":
        return {**keys, "words": {str(n): author.port(n) for n in range(1, 8)}}
    return keys


class Judged(NamedTuple):
    """One seed: what was invented, and what teaching made of it."""

    seed: int
    made: Invented
    before: Source
    after: Source
    dialect: Dialect
    draft: Changes
    changed: frozenset[str]
    open: bool

    @property
    def told(self) -> dict[str, Any]:
        """What the update did."""
        update: dict[str, Any] = self.made.truth["update"]
        return update

    def facts(self, of: str) -> dict[str, Any]:
        """The truth of the dump before or after."""
        settings: dict[str, Any] = self.made.truth["dumps"][f"{of}.dump.txt"]["settings"]
        return settings

    def say(self, *words: object) -> None:
        """Only the open half may be looked at."""
        if self.open:
            print(self.seed, *words)


def judge(seed: int, half: str, *, moved: bool, show: bool) -> Counter[str]:
    made = update(seed, half)
    before, after = (Source.from_text(f"{one}.dump.txt", made.files[f"{one}.dump.txt"])
                     for one in ("before", "after"))  # fmt: skip
    dialect = dialect_of(made, before)
    changed: frozenset[str] = frozenset()
    if moved:
        after, changed = elsewhere(made, after, dialect)
    try:
        draft = changes_between([before], [after], dialect, name="invented.toml", at="99.1")
    except Problem as why:
        return Counter({f"refused: {why.message[:50]}": 1})
    one = Judged(seed, made, before, after, dialect, draft, changed, half == "open")
    found = settings_found(one) + removals_found(one, show=show) + rows_found(one)
    if show:
        print(draft.text)
    return found


def elsewhere(made: Invented, after: Source, dialect: Dialect) -> tuple[Source, frozenset[str]]:
    """The dump after with another number for each setting that was renamed, and which these are."""
    facts = made.truth["dumps"]["after.dump.txt"]["settings"]
    lines, changed = list(after.lines), set()
    for name in made.truth["update"]["renamed"]:
        fact = facts.get(name)
        number = re.search(r"\d+", fact["text"]) if fact else None
        if (
            name in dialect.data["map"]
            and fact
            and number
            and setting(name).kind == "number"
            and not name.startswith("video")
        ):
            other = str(int(number[0]) + max(1, int(number[0]) // 20))
            new = fact["text"][: number.start()] + other + fact["text"][number.end() :]
            lines[fact["line"] - 1] = lines[fact["line"] - 1].replace(fact["text"], new)
            changed.add(name)
    return Source.from_text(after.file, "\n".join(lines) + "\n"), frozenset(changed)


def is_right(craft: Craft, name: str, facts: Any) -> bool:
    value = craft.get(name)
    want = facts[name]["value"] if name in facts else None
    want = frozenset(want) if isinstance(want, list) else want
    return (
        value.known
        and want is not None
        and close(value.value, float(want) if setting(name).kind == "number" else want)
    )


def settings_found(one: Judged) -> Counter[str]:
    """How each setting of the dump after is read by the dialect with the drafted changes."""
    found: Counter[str] = Counter()
    told, facts, draft = one.told, one.facts("after"), one.draft
    craft = read_side(one.after, draft.dialect, version="99.1").craft
    first = read_side(one.before, one.dialect).craft
    asked = {
        row.setting for row in draft.rows if not row.live and (row.ask or row.kind == "rename")
    }
    for name in set(one.dialect.data["map"]) & facts.keys():
        if not is_right(first, name, one.facts("before")):
            continue  # a slip of the dialect that is written here
        kind = "kept"
        if name in told["renamed"]:
            kind = "renamed and rescaled" if name in told["rescaled"] else "renamed"
        elif name in told["rescaled"]:
            kind = "rescaled"
        marked, value = name in craft.unsure, craft.get(name).value
        if name in one.changed:
            live = not marked and any(
                row.live and row.setting == name and row.kind in ("rename", "at", "rescale")
                for row in draft.rows
            )
            if live:
                one.say("MOVED LIVE", name, told["renamed"][name], facts[name], value)
            found[f"moved: {'live' if live else 'left to answer'}"] += 1
            continue
        state = (
            "right"
            if is_right(craft, name, facts) and not marked
            else "asked"
            if name in asked or marked
            else ("missed" if not craft.get(name).known else "WRONG")
        )
        found[f"{kind}: {state}"] += 1
        if state == "WRONG":
            found[f"WRONG {one.made.family}"] += 1
        if state in ("missed", "WRONG"):
            one.say(kind, state, name, told["renamed"].get(name, ""), facts[name], value)
    return found


def removals_found(one: Judged, *, show: bool) -> Counter[str]:
    """Whether the settings that went are known to be gone."""
    found: Counter[str] = Counter()
    for name in set(one.told["removed"]) & set(one.dialect.data["map"]):
        rows = [row for row in one.draft.rows if row.setting == name and row.kind == "remove"]
        found[
            "removed: found"
            if any(row.live for row in rows)
            else "removed: asked"
            if rows
            else "removed: missed"
        ] += 1
        if show and not rows:
            print(one.seed, "removed missed", name)
    return found


def rows_found(one: Judged) -> Counter[str]:
    """How many rows were drafted, and which of those that count name what did not change."""
    found: Counter[str] = Counter()
    told, facts = one.told, one.facts("before")
    touched = *told["renamed"], *told["removed"]
    meant = [one.before.lines[facts[name]["line"] - 1] for name in touched if name in facts]
    for row in one.draft.rows:
        if (
            row.live
            and not (row.setting == "" and any(find(line, row.name) for line in meant))
            and (
                (row.kind == "remove" and row.setting not in told["removed"])
                or (row.kind in ("rename", "at") and row.setting not in told["renamed"])
            )
        ):
            found["rows: wrong"] += 1
            what = "a setting" if row.setting else "kept"
            found[f"rows: wrong: {row.kind}, {what}, {one.made.family}"] += 1
            one.say("WRONG ROW", row.kind, row.name, row.now, row.reason)
        found["rows: live"] += row.live
        found["rows: asked"] += not row.live
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--half", choices=("open", "held"), default="held")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seeds", type=int, default=100)
    parser.add_argument("--moved", action="store_true")
    parser.add_argument("--show", type=int)
    asked = parser.parse_args()
    seeds = (
        [asked.show] if asked.show is not None else range(asked.first, asked.first + asked.seeds)
    )
    total: Counter[str] = Counter()
    for seed in seeds:
        total += judge(seed, asked.half, moved=asked.moved, show=asked.show is not None)
    for name, number in sorted(total.items()):
        print(f"{number:6} {name}")
    return int(bool(total["rows: wrong"] or total["moved: live"]))


if __name__ == "__main__":
    raise SystemExit(main())
