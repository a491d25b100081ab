"""Measures what teaching comes to on dialects that were written without sight of it.

    python benchmarks/blind.py FOLDER ...             # figures of every dialect in the folders
    python benchmarks/blind.py FOLDER --show NAME     # one dialect: its draft, what went wrong

A dialect is a folder with dumps and a ``truth.json`` that says what each dump means in neutral
terms.  Every dialect is taught (a) from its first dump, (b) from all of them, (c) from all and
one sheet filled in truthfully within a budget of lines, (d) the same with one answer in five
wrong, (e) with a card that says what the first craft is built from.  Every dump is then read with
the draft.  What ``cannot_tell`` lists counts in (c), (d) and (e) only.

The truth knows the settings of `tests/reading/blind/settings.txt`, and no others are judged.

A field is *right*, *right but marked* as unconfirmed, *missing*, *wrong but marked* or *wrong
without a mark*; a setting, range or link that the truth does not hold is wrong.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import time
import tomllib
from collections import Counter
from pathlib import Path
from types import SimpleNamespace
from typing import Any, NamedTuple

from cfglint.craft.settings import MODES, SETTINGS, family
from cfglint.dialect.identify import identify
from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach.sheet import answers_of, grouped, parse
from cfglint.teach.sheet import text as sheet_text
from cfglint.teach.taught import teach

#: Settings that the truth knows, one a line, families by their common name.
KNOWN = frozenset(
    line.strip()
    for line in (
        Path(__file__).resolve().parents[1] / "tests" / "reading" / "blind" / "settings.txt"
    )
    .read_text(encoding="utf-8")
    .splitlines()
    if line.strip() and not line.startswith("#")
)

VERDICTS = ("right", "marked", "missing", "wrong marked", "wrong")
#: Most lines of a sheet that a person fills in, by kind of dialect.
BUDGET = {"ordinary": 8, "varied": 15, "handmade": 15, "unusual": 40}
#: What a card says of a craft that dumps say as well.
CARD = (
    "motor.signal", "receiver.link", "receiver.port", "battery.cells", "battery.chemistry",
    "motor.poles", "receiver.channel_order",
)  # fmt: skip
#: A dialect of another language may ask for more.
FOREIGN = 40


class _Words(SimpleNamespace):
    """What identity lines are looked for with."""

    __hash__ = object.__hash__


class Field(NamedTuple):
    """One fact of one dump, and how it was read."""

    dump: str
    line: int
    name: str
    verdict: str
    truth: Any
    got: Any


def _plain(value: Any) -> Any:
    return sorted(value) if isinstance(value, frozenset | list | set) else value


def same(name: str, got: Any, truth: Any) -> bool:
    """Whether a value that was read is the true one; numbers within their rounding."""
    got, truth = _plain(got), _plain(truth)
    if name.startswith("failsafe.channel"):
        try:
            return abs(float(got) - float(truth)) < 0.51
        except (TypeError, ValueError):
            return str(got) == str(truth)
    if isinstance(got, int | float) and isinstance(truth, int | float):
        if isinstance(got, bool) or isinstance(truth, bool):
            return got is truth
        return abs(got - truth) <= max(1e-6, abs(truth) * 2e-3)
    return str(got).lower() == str(truth).lower()


def judged(text: str, folder: Path, truth: dict[str, Any], leave: set[str]) -> list[Field]:
    """Every fact of every dump as a draft reads it."""
    data = tomllib.loads(text)
    compiled, said = map_of(data), marks(data)
    out: list[Field] = []
    for dump, facts in truth["dumps"].items():
        reader = MapReader(Source.from_bytes(dump, (folder / dump).read_bytes()), compiled, said)
        reader.read()

        def note(line: int, name: str, verdict: str, true: Any, got: Any, at: str = dump) -> None:
            out.append(Field(at, line, name, verdict, true, got))

        said_of = identify(_Words(data=data, ignore_case=False), reader.source).said  # type: ignore[arg-type]
        for name, fact in facts["settings"].items():
            if name in leave:
                continue
            got = reader.values.get(name)
            own = said_of.get(name.removeprefix("craft.")) if name.startswith("craft.") else None
            if got is None and own is not None:
                verdict = "right" if same(name, own[0], fact["value"]) else "wrong"
                note(fact["line"], name, verdict, fact["value"], own[0])
            elif got is None:
                note(fact["line"], name, "missing", fact["value"], None)
            elif same(name, got.value, fact["value"]):
                note(
                    fact["line"], name, "right" if got.sure else "marked", fact["value"], got.value
                )
            else:
                verdict = "wrong" if got.sure else "wrong marked"
                note(fact["line"], name, verdict, fact["value"], got.value)
        for name, got in reader.values.items():
            # A port that carries nothing may be left out of the truth.
            empty = name.endswith(".functions") and not got.value
            known = name in facts["settings"] or name in leave or family(name) not in KNOWN
            if not known and not empty:
                line = got.span.line if got.span else 0
                note(line, name, "wrong" if got.sure else "wrong marked", None, got.value)
        pulse = lambda low, high: (round(low), round(high))  # noqa: E731
        _lists(
            [
                (
                    r["line"],
                    (
                        r["mode"],
                        r["channel"],
                        *pulse(r["low_us"], r["high_us"]),
                        r.get("join", "any"),
                    ),
                )
                for r in facts["ranges"]
            ],
            [
                (r.span.line, (r.mode, r.channel, *pulse(r.low_us, r.high_us), r.join), r.sure)
                for r in reader.ranges
            ],
            "range",
            note,
        )
        _lists(
            [(link["line"], (link["mode"], link["follows"])) for link in facts.get("links", [])],
            [(link.span.line, (link.mode, link.follows), link.sure) for link in reader.links],
            "link",
            note,
        )
    return out


def _lists(truth: list[Any], got: list[Any], name: str, note: Any) -> None:
    """Ranges or links: those that are there, those that are not, those that should not be."""
    left = list(got)
    for line, want in truth:
        found = next((one for one in left if one[1] == want), None)
        if found is None:
            note(line, name, "missing", want, None)
        else:
            left.remove(found)
            note(line, name, "right" if found[2] else "marked", want, found[1])
    for line, one, sure in left:
        note(line, name, "wrong" if sure else "wrong marked", None, one)


def dialects(folders: list[str]) -> list[Path]:
    return sorted(path.parent for folder in folders for path in Path(folder).rglob("truth.json"))


def sources(folder: Path, names: list[str]) -> list[Source]:
    return [Source.from_bytes(name, (folder / name).read_bytes()) for name in names]


def answered(
    truth: dict[str, Any], given: list[Source], folder: Path, *, wrong: bool = False
) -> tuple[str, dict[str, str]]:
    """The draft after one sheet that somebody filled in who knows the truth, and its answers."""
    draft = teach(given, folder.name)
    budget = FOREIGN if truth["language"] != "en" else BUDGET[truth["kind"]]
    person = Person(truth, given, judged(draft.text, folder, truth, set()))
    filled = filled_in(draft.questions, person, budget, wrong=wrong, seed=folder.name)
    made = teach(given, folder.name, answers=answers_of(filled))
    if not wrong:
        # Words of modes that only further samples have, as the manual lists them.
        more = person.mode_words(made.questions)
        filled.update({key: word for key, word in more.items() if key not in filled})
        made = teach(given, folder.name, answers=answers_of(filled)) if more else made
    return made.text, filled


def measure(folder: Path, runs: str) -> dict[str, tuple[list[Field], str, float]]:
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    names = sorted(truth["dumps"])
    unknown = set(truth.get("cannot_tell", {}))
    out = {}
    for run in runs:
        begun = time.process_time()
        if run == "a":
            text = teach(sources(folder, names[:1]), folder.name).text
            leave = unknown
        elif run == "b":
            draft = teach(sources(folder, names), folder.name)
            text = draft.text + "".join(f"# left out: {one}\n" for one in draft.dropped)
            leave = unknown
        elif run == "e":
            facts = truth["dumps"][names[0]]["settings"]
            card = {f"value {one}": _said(facts[one]["value"]) for one in CARD if one in facts}
            text = teach(sources(folder, names), folder.name, answers=answers_of(card)).text
            leave = set()
        else:
            text, filled = answered(truth, sources(folder, names), folder, wrong=run == "d")
            text += "".join(f"# answered: {key} = {answer}\n" for key, answer in filled.items())
            leave = set()
        took = time.process_time() - begun
        out[run] = (judged(text, folder, truth, leave), text, took)
    return out


class Person:
    """Somebody who knows the craft, holds the manual, and fills in a sheet with care.

    What was read of the first sample stands in the sheet, and is compared.  Of what is counted so
    many are pointed at as there are forms to show; of further samples only what the first has not.
    """

    def __init__(self, truth: dict[str, Any], given: list[Source], before: list[Field]) -> None:
        self.truth = truth
        self.given = given
        self.names = [source.file for source in given]
        self.right = {(one.dump, one.name) for one in before if one.verdict in ("right", "marked")}
        self.before = before

    def answers(self, one: Any) -> dict[str, str]:
        """What is written for a question, by keys."""
        if one.kind == "word":
            answer = _true_word(one, self.truth, self.given)
            return {one.key: answer} if answer else {}
        if one.kind == "rows":
            return self._rows(one)
        if ".N" in one.subject:
            return self._counted(one.subject)
        place = self._place(one.subject)
        if one.kind == "value" and (self.names[0], one.subject) in self.right:
            return {one.key: "ok"}
        if one.kind == "value" and place is None:
            return {one.key: "-"}
        return {one.key: place} if place is not None else {}

    def _place(self, name: str) -> str | None:
        """Where a setting stands: in the first sample, else in one that has it."""
        for number, dump in enumerate(self.names, 1):
            fact = self.truth["dumps"][dump]["settings"].get(name)
            if fact is not None:
                return self._pointed(fact, number)
        return None

    def _pointed(self, fact: dict[str, Any], number: int) -> str:
        value = _said(fact["value"])
        return (
            (f"{number}/" if number > 1 else "")
            + f"{fact['line']}: {fact['text']}"
            + (f" => {value}" if value != fact["text"] else "")
        )

    def _counted(self, family_: str) -> dict[str, str]:
        """Of what is counted, all that the first sample has where something is not read right."""
        for number, dump in enumerate(self.names, 1):
            facts = {
                name: fact
                for name, fact in self.truth["dumps"][dump]["settings"].items()
                if family(name) == family_
            }
            if not facts:
                continue
            if all((dump, name) in self.right for name in facts):
                return self._confirmed(f"find {family_}", family_)
            return {f"find {name}": self._pointed(fact, number) for name, fact in facts.items()}
        return {}

    def _confirmed(self, key: str, name: str) -> dict[str, str]:
        """What the sheet shows as a guess is said to be right, where all of it is."""
        shown = [
            one.verdict
            for one in self.before
            if one.dump == self.names[0] and family(one.name) == name and one.got is not None
        ]
        return {key: "ok"} if "marked" in shown and set(shown) <= {"right", "marked"} else {}

    def _rows(self, one: Any) -> dict[str, str]:
        if one.subject not in ("range", "link"):
            wrong = any(
                field.name == "range"
                and field.dump == self.names[0]
                and field.got is not None
                and field.verdict.startswith("wrong")
                for field in self.before
            )
            return {} if wrong else {one.key: "ok"}
        missing = [
            field
            for field in self.before
            if field.dump == self.names[0] and field.name == one.subject
        ]
        if all(field.verdict in ("right", "marked") for field in missing):
            return self._confirmed(one.key, one.subject)
        facts = self.truth["dumps"][self.names[0]]
        if one.subject == "link":
            said = [
                f"{link['line']}: {link['mode']} follows {link['follows']}"
                for link in facts.get("links", [])
            ]
        else:
            said = [
                f"{r['line']}: {r['mode']} {r['channel']} {r['low_us']:g} {r['high_us']:g}"
                + (" all" if r.get("join") == "all" else "")
                for r in facts["ranges"]
            ]
        return {one.key: "; ".join(said)} if said else {}

    def mode_words(self, questions: Any) -> dict[str, str]:
        """Modes that the first sample has not, by their words in the others."""
        out = {}
        for one in questions:
            if one.kind == "word" and one.table == "mode":
                answer = _true_word(one, self.truth, self.given)
                if answer not in ("", "-"):
                    out[one.key] = answer
        return out

    def words(self, names: set[str]) -> dict[str, dict[str, str]]:
        """Words of settings that the manual explains: those of further samples as well."""
        out: dict[str, dict[str, str]] = {}
        for dump in self.names:
            for name, fact in self.truth["dumps"][dump]["settings"].items():
                table = family(name)
                kind = SETTINGS[table].kind if table in SETTINGS else ""
                value = fact["value"]
                if isinstance(value, list):
                    value = value[0] if len(value) == 1 else None
                if isinstance(value, bool):
                    value, kind = _said(value), "word"
                worded = kind in ("word", "words") or isinstance(value, str)
                if table in names and worded and value is not None and kind != "text":
                    out.setdefault(table, {})[fact["text"]] = str(value)
        return out


def filled_in(
    questions: Any, person: Person, budget: int, *, wrong: bool, seed: str
) -> dict[str, str]:
    """A sheet filled in by somebody who knows the truth, so many lines of it; some of them wrong.

    What is filled in goes through the text of the sheet, as from an editor.
    """
    rng = random.Random(seed)
    out: dict[str, str] = {}
    used = 0
    pointed: set[str] = set()
    for group in grouped(questions):
        if used >= budget:
            break
        filled = {}
        for one in group.questions:
            for key, answer in person.answers(one).items():
                said = answer
                if wrong and rng.random() < 0.2:
                    said = _false_answer(one, answer, rng)
                filled[key] = said
                pointed.add(family(key.partition(" ")[2]))
        used += bool(filled)
        out.update(filled)
    for table, words in person.words(pointed).items():
        more = {f"word {table} {text}": word for text, word in words.items()}
        more = {key: word for key, word in more.items() if key not in out}
        if used < budget and more:
            used += 1
            out.update(more)
    found, bad = parse(sheet_text(questions, out))
    assert not bad, bad
    return found


def _true_word(one: Any, truth: dict[str, Any], given: list[Source]) -> str:
    """What a written word means, as far as lines with it tell."""
    if one.table == "mode":
        hits: dict[tuple[str, int], set[str]] = {}
        for dump, said in truth["dumps"].items():
            for entry in (*said["ranges"], *said.get("links", [])):
                if re.search(
                    rf"(?<!\w){re.escape(one.subject)}(?!\w)", _line(given, dump, entry["line"])
                ):
                    hits.setdefault((dump, entry["line"]), set()).update(
                        {entry["mode"], entry.get("follows", entry["mode"])}
                    )
        shared = set.intersection(*hits.values()) if hits else set()
        return next(iter(shared)) if len(shared) == 1 else "" if hits else "-"
    for dump, said in truth["dumps"].items():  # noqa: B007
        for name, fact in said["settings"].items():
            pattern = "port.N.functions" if name.endswith(".functions") else name
            pattern = "failsafe.channel.N" if name.startswith("failsafe.channel") else pattern
            if pattern == one.table and fact["text"].strip("\"'") == one.subject:
                value = fact["value"]
                return (
                    value[0]
                    if isinstance(value, list) and len(value) == 1
                    else ""
                    if isinstance(value, list)
                    else str(value)
                )
    return ""


def _line(given: list[Source], dump: str, line: int) -> str:
    return next(source.lines[line - 1] for source in given if source.file == dump)


def _said(value: Any) -> str:
    return (
        ("yes" if value else "no")
        if isinstance(value, bool)
        else " ".join(value)
        if isinstance(value, list)
        else f"{value:g}"
        if isinstance(value, float)
        else str(value)
    )


def _false_answer(one: Any, answer: str, rng: random.Random) -> str:
    """An answer as somebody gives who is wrong: another word, another number, another line.

    Rows that are read rightly are left unconfirmed.
    """
    if one.kind == "rows":
        return ""
    if one.kind == "word":
        words = (
            list(MODES)
            if one.table == "mode"
            else list(SETTINGS[one.table].words or ("hold", "drop"))
        )
        return rng.choice([word for word in words if word != answer])
    if one.kind == "rows" and one.subject in ("range", "link"):
        # One of several is wrong.
        pieces = answer.split("; ")
        at = rng.randrange(len(pieces))
        pieces[at] = _next_line(pieces[at])
        return "; ".join(pieces)
    if ":" in answer:
        return _next_line(answer)
    return "ok" if answer == "-" else "-" if one.kind == "value" else answer


def _next_line(answer: str) -> str:
    line, _, rest = answer.partition(":")
    sample, slash, number = line.rpartition("/")
    return f"{sample}{slash}{int(number) + 1}:{rest}"


def share(fields: list[Field]) -> tuple[Counter[str], float]:
    """How many of each verdict, and the share of the truth that was read right."""
    tally = Counter(field.verdict for field in fields)
    asked = sum(1 for field in fields if field.truth is not None)
    return tally, 100 * (tally["right"] + tally["marked"]) / max(1, asked)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("folders", nargs="+")
    parser.add_argument("--runs", default="ab")
    parser.add_argument("--show", default="")
    options = parser.parse_args()
    kinds: dict[tuple[str, str], list[Field]] = {}
    ranked: dict[str, list[tuple[float, str]]] = {}
    for folder in dialects(options.folders):
        if options.show and folder.name != options.show:
            continue
        kind = json.loads((folder / "truth.json").read_text(encoding="utf-8"))["kind"]
        for run, (fields, text, took) in measure(folder, options.runs).items():
            tally, right = share(fields)
            kinds.setdefault((kind, run), []).extend(fields)
            ranked.setdefault(run, []).append((right, folder.name))
            said = "  ".join(f"{verdict} {tally[verdict]}" for verdict in VERDICTS)
            print(f"{folder.name:12} {kind:9} ({run}) {right:5.1f} %  {said}  {took:.1f} s")
            if options.show:
                print(text)
                for field in fields:
                    if field.verdict not in {"right", "marked"}:
                        print(
                            f"  {field.dump} {field.line} {field.verdict} {field.name}: "
                            f"{field.got!r}, true {field.truth!r}"
                        )
    for (kind, run), fields in sorted(kinds.items()):
        tally, right = share(fields)
        said = "  ".join(f"{verdict} {tally[verdict]}" for verdict in VERDICTS)
        print(f"all {kind:12} ({run}) {right:5.1f} %  {said}")
    for run, rows in ranked.items():
        worst = sorted(rows)[: max(1, len(rows) // 4)]
        print(
            f"worst quarter ({run}):", ", ".join(f"{name} {right:.0f} %" for right, name in worst)
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
