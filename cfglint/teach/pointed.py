"""A draft with what a person pointed at: what it reads already is certain, the rest is learned.

A mapping made by example takes the place of another only if it reads what the person said and
nothing else is lost by it; an answer that cannot be read so is asked again.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import MODES, SETTINGS, family, setting
from cfglint.teach.encoding import meant, same
from cfglint.teach.examples import Bench, Fact, learned, standing
from cfglint.teach.families import Expect
from cfglint.teach.proof import prove, read, tables
from cfglint.teach.switched import found_in, links_by, ranges_by, table_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.dialect.reader import MapReader
    from cfglint.dump.source import Source
    from cfglint.teach.families import Item
    from cfglint.teach.sheet import Answers, Linked, Shown

Proven = list[tuple["Item", dict[str, Any]]]
_THOUSANDS = re.compile(r"\d{1,3}(?:([ .,'\u202f\xa0])\d{3})+")


class Outcome(NamedTuple):
    """Mappings that were proven with the answers, what was left out, and answers to ask again."""

    data: dict[str, Any]
    proven: Proven
    dropped: list[str]
    wrong: list[str]


def facts_of(answers: Answers) -> tuple[list[Fact], list[str]]:
    """Answers that name a place, as facts; the names of those that can be none."""
    facts, wrong = [], []
    for name, (sample, line, text, said) in answers.places.items():
        family = Fact(0, 0, name, "", None).family
        value = meant(family, said or text) if family in SETTINGS else None
        if family in SETTINGS and value is None and not said:
            # The text is what the value is written as; a number there may have a unit.
            found = re.match(r"[-+]?\d+(?:\.\d+)?", text.strip())
            value = meant(family, found[0]) if found else None
        if value is None or (".N" in family and not re.search(r"\.\d", name)):
            wrong.append(name)
        else:
            facts.append(Fact(sample, line, name, text, value))
    return facts, wrong


def pointed(
    sources: Sequence[Source], data: dict[str, Any], proven: Proven, answers: Answers
) -> Outcome:
    """A draft's mappings with those that a person pointed at."""
    facts, wrong = facts_of(answers)
    wrong += answers.unclear
    if not (facts or answers.shown or answers.linked or answers.confirmed):
        return Outcome(data, proven, [], wrong)
    data = {**data, "marks": _marks(data["marks"], facts, sources)}
    bench = Bench(sources, data["marks"])
    nowhere = [fact for fact in facts if not standing(bench, fact)]
    wrong += [fact.name for fact in nowhere]
    facts = [fact for fact in facts if fact not in nowhere]
    before = _readers(sources, data, proven)
    items = [_confirmed(item, form, answers, before) for item, form in proven]
    data = {**data, "modes": _modes_confirmed(data["modes"], before[0], answers)}
    families: dict[str, list[Fact]] = {}
    for fact in facts:
        families.setdefault(fact.family, []).append(fact)
    for name, told in families.items():
        items, again = _settled(bench, before, items, name, told, answers)
        wrong += again
    items, data, again = _switches(bench, before, items, data, answers)
    wrong += again
    kept, dropped = prove(sources, data, items)
    kept, dropped, lost = _safe(sources, data, proven, items, (kept, dropped), families)
    after = _readers(sources, data, kept)
    unread = [fact for fact in facts if not right(after, fact)]
    wrong += [fact.name for fact in unread]
    kept = _doubted(kept, {fact.family for fact in unread} - _whole_rows(after, answers))
    for what, examples in (("range", answers.shown), ("link", answers.linked)):
        found, odd = found_in(dict(enumerate(after)), examples)
        if len(found) < len(examples) or odd:
            kept = _doubted(kept, {what})
    return Outcome(data, kept, dropped, list(dict.fromkeys([*wrong, *lost])))


def _confirmed(
    item: Item, form: dict[str, Any], answers: Answers, before: Sequence[MapReader]
) -> Item:
    """A mapping without marks on what it reads of the first sample and a person confirmed.

    What it reads alike of other lines and samples is then no less what it should read.
    """
    told: dict[str, list[str]] = {}
    for one in item.expects:
        if not one.sample:
            told.setdefault(family(one.name), []).append(one.written)
    every = bool(told) and set(told) <= answers.confirmed
    made = _borne_out(form, told.get(item.name, ())) if every else dict(form)
    if "fields" in form:
        sets = form.get("sets", {})
        made["fields"] = {
            field: _borne_out(codec, told.get(sets.get(field), ()))
            if every or sets.get(field) in answers.confirmed
            else codec
            for field, codec in form["fields"].items()
        }
    borne = set(told) & answers.confirmed
    expects = [one for one in item.expects if family(one.name) not in borne]
    for sample, reader in enumerate(before) if borne else ():
        for name, value in reader.values.items():
            if family(name) in borne and value.span is not None:
                expects.append(Expect(sample, name, value.span.line, value.written))
        if "range" in borne:
            expects += [Expect(sample, "range", one.span.line, "") for one in reader.ranges]
        if "link" in borne:
            expects += [Expect(sample, "link", one.span.line, "") for one in reader.links]
    return item._replace(forms=(made,), expects=tuple(expects))


def _borne_out(codec: Mapping[str, Any], written: Sequence[str]) -> dict[str, Any]:
    """Keys of a value without marks, but for words that the first sample has not."""
    out = {key: value for key, value in codec.items() if key not in ("sure", "unsure")}
    left = [
        word
        for word in codec.get("unsure", ())
        if not any(str(text) in one for text in _texts(codec, word) for one in written)
    ]
    return {**out, "unsure": left} if left else out


def _texts(codec: Mapping[str, Any], word: str) -> list[Any]:
    every = codec.get("words", {}).get(word, [])
    return list(every) if isinstance(every, list | tuple) else [every]


def _modes_confirmed(
    modes: Mapping[str, Any], first: MapReader, answers: Answers
) -> dict[str, Any]:
    """The modes' words, without marks on those that the first sample's ranges are read by."""
    if "range" not in answers.rows or "unsure" not in modes:
        return dict(modes)
    seen = {one.mode for one in first.ranges}
    unsure = [one for one in modes["unsure"] if one not in seen or not isinstance(modes[one], str)]
    return {**modes, "unsure": unsure}


def agreeing(
    sources: Sequence[Source], data: dict[str, Any], answers: Answers
) -> tuple[float, float]:
    """How much of what a person pointed at a draft reads so, and how much it reads at all."""
    readers = read(sources, data)
    facts = [fact for fact in facts_of(answers)[0] if fact.sample < len(readers)]
    found, odd = found_in(dict(enumerate(readers)), [*answers.shown, *answers.linked])
    sure = [
        one.sure
        for reader in readers
        for every in (reader.values.values(), reader.ranges, reader.links)
        for one in every
    ]
    known = sum(1 if one else 0.6 for one in sure)
    return sum(right(readers, fact) for fact in facts) + len(found) - odd + 0.5 * known, known


def _whole_rows(after: Sequence[MapReader], answers: Answers) -> set[str]:
    """Settings of which nothing is read at all: there is nothing to doubt."""
    read_ = {family(name) for reader in after for name in reader.values}
    return {family(name) for name in answers.places} - read_


def _doubted(proven: Proven, names: set[str]) -> Proven:
    """Mappings of which something that a person said is read otherwise are guesses."""
    out = []
    for item, form in proven:
        sets = {item.name, form.get("makes", ""), *form.get("sets", {}).values()}
        out.append((item, {**form, "sure": False} if sets & names else form))
    return out


def _settled(
    bench: Bench,
    before: Sequence[MapReader],
    items: list[Item],
    name: str,
    told: Sequence[Fact],
    answers: Answers,
) -> tuple[list[Item], list[str]]:
    """The items with one setting or family as it was told, and answers to ask again."""
    left = [fact for fact in told if not right(before, fact)]
    # Who points at a later sample says that those before it have none.
    first = min(fact.sample for fact in told)
    if not left and ".N" not in name and any(name in before[at].values for at in range(first)):
        left = list(told)
    if not left:
        return [_certain(item, name, before) for item in items], []
    words = {text: word for (table, text), word in answers.words.items() if table == name}
    made, unread = learned(bench, name, told, words)
    if len(unread) > len(left) or not made:
        return items, [fact.name for fact in left]
    if len(told) == 1 and ".N" in name:
        # Of one alone, its place behind words that nobody reads is a guess for the others.
        made = [one._replace(forms=tuple(map(_placed, one.forms))) for one in made]
    kept = [one for item in items if (one := _without(item, name)) is not None]
    return kept + made, [fact.name for fact in unread]


def _placed(form: Mapping[str, Any]) -> dict[str, Any]:
    loose = re.search(r"(?:\*|\{_\}) \{value\}", str(form["at"]))
    return {**form, "sure": False} if loose else dict(form)


def _switches(
    bench: Bench,
    before: Sequence[MapReader],
    items: list[Item],
    data: dict[str, Any],
    answers: Answers,
) -> tuple[list[Item], dict[str, Any], list[str]]:
    """Mode ranges and links by example, in place of those that read fewer of them."""
    wrong: list[str] = []
    modes = dict(data["modes"])
    told: dict[str, list[str]] = {}
    for (table, text), word in answers.words.items():
        if table == "mode" and word in MODES:
            told.setdefault(word, []).append(text)
    modes = table_of(modes, told)
    wanted: Sequence[Shown | Linked]
    for what, wanted, learn in (
        ("range", answers.shown, ranges_by),
        ("link", answers.linked, links_by),
    ):
        if not wanted:
            continue
        now, _ = found_in(dict(enumerate(before)), wanted)
        made = learn(bench, wanted, modes)  # type: ignore[arg-type]
        if len(made.left) >= len(wanted) - len(now):
            wrong += [f"{what} at line {one.line}" for one in wanted if one not in now]
            continue
        wrong += [f"{what} at line {one.line}" for one in made.left]
        modes = table_of(modes, made.modes)
        if made.unsure:
            modes["unsure"] = list(dict.fromkeys([*modes.get("unsure", ()), *made.unsure]))
        if made.own:
            modes["own"] = list(dict.fromkeys([*modes.get("own", ()), *made.own]))
        lines = {(one.sample, one.line) for item in made.items for one in item.expects}
        items = [
            item
            for item in items
            if item.forms[0].get("makes") != what
            or not lines & {(one.sample, one.line) for one in item.expects}
        ] + made.items
    return items, {**data, "modes": modes}, wrong


def _readers(sources: Sequence[Source], data: dict[str, Any], proven: Proven) -> list[MapReader]:
    items = [item._replace(forms=(form,)) for item, form in proven]
    return read(sources, tables(data, items, [0] * len(items)))


def right(readers: Sequence[MapReader], fact: Fact) -> bool:
    """Whether a fact is read as it is, from its line."""
    got = readers[fact.sample].values.get(fact.name)
    return (
        got is not None
        and same(got.value, fact.value)
        and got.span is not None
        and got.span.line == fact.line
    )


def _marks(
    marks: Mapping[str, Any], facts: Sequence[Fact], sources: Sequence[Source]
) -> dict[str, Any]:
    """The text's marks, with what facts say of commas and thousands."""
    out = dict(marks)
    for fact in facts:
        if setting(fact.family).kind not in ("number", "count") or isinstance(fact.value, bool):
            continue
        grouped = _THOUSANDS.fullmatch(fact.text)
        if (
            grouped
            and not _decimal(grouped[1], sources)
            and abs(float(re.sub(r"\D", "", fact.text)) - fact.value) < 0.5
        ):
            out.setdefault("thousands", grouped[1])
        elif re.fullmatch(r"[-+]?\d+,\d+", fact.text) and same(
            float(fact.text.replace(",", ".")), fact.value
        ):
            out["decimal"] = ","
    return out


def _decimal(mark: str, sources: Sequence[Source]) -> bool:
    """Whether some number of the samples has one or two digits behind the mark: no thousands."""
    if mark not in (".", ","):
        return False
    found = re.compile(rf"(?<![\d.,])\d+{re.escape(mark)}\d{{1,2}}(?![\d.,])")
    return any(found.search(line) for source in sources for line in source.lines)


def _certain(item: Item, name: str, before: Sequence[MapReader]) -> Item:
    """A mapping that reads what a person said is no guess."""
    if item.name != name and name not in item.forms[0].get("sets", {}).values():
        return item
    forms = tuple({k: v for k, v in form.items() if k != "sure"} for form in item.forms)
    # Of a line that has further words only the one that was told is meant.
    seen = [
        one
        for one in item.expects
        if (got := before[one.sample].values.get(one.name)) is None or got.written == one.written
    ]
    expects = tuple(seen) if item.name == name and seen else item.expects
    return item._replace(forms=forms, expects=expects)


def _without(item: Item, name: str) -> Item | None:
    """An item that no longer sets a setting; None if nothing is left of it."""
    if item.name == name:
        return None
    form = item.forms[0]
    sets = {field: one for field, one in form.get("sets", {}).items() if one != name}
    if item.name or len(sets) == len(form.get("sets", {})):
        return item
    if not sets and not form.get("makes"):
        return None
    expects = tuple(one for one in item.expects if Fact(0, 0, one.name, "", 0).family != name)
    return item._replace(forms=({**form, "sets": sets},), expects=expects)


def _safe(
    sources: Sequence[Source],
    data: dict[str, Any],
    before: Proven,
    items: Sequence[Item],
    proven: tuple[Proven, list[str]],
    told: Mapping[str, Sequence[Fact]],
) -> tuple[Proven, list[str], list[str]]:
    """Without those new mappings by which something is lost that nobody spoke of."""
    old, new = _readers(sources, data, before), _readers(sources, data, proven[0])
    lost: set[tuple[int, int]] = set()
    for sample, (one, other) in enumerate(zip(old, new, strict=True)):
        for name, value in one.values.items():
            if Fact(0, 0, name, "", 0).family in told or value.span is None:
                continue
            now = other.values.get(name)
            if value.sure and (now is None or not same(now.value, value.value)):
                lost.add((sample, value.span.line))
        gone = {(r.mode, r.channel, r.low_us, r.high_us, r.span.line) for r in one.ranges}
        gone -= {(r.mode, r.channel, r.low_us, r.high_us, r.span.line) for r in other.ranges}
        lost |= {(sample, line) for *_, line in gone}
    names = {
        item.id.removeprefix("told ")
        for item in items
        if item.id.startswith("told ") and lost & {(one.sample, one.line) for one in item.expects}
    }
    # An example that reads fewer of the answers than the plain draft did is none to go by.
    names |= {
        name
        for name, facts in told.items()
        if sum(right(new, fact) for fact in facts) < sum(right(old, fact) for fact in facts)
    }
    if not names:
        return *proven, []
    harmful = {f"told {name}" for name in names}
    kept = [item for item in items if item.id not in harmful]
    again = [
        item._replace(forms=(form,))
        for item, form in before
        if item.name in names or names & set(form.get("sets", {}).values())
    ]
    kept = [item for item in kept if item.id not in {one.id for one in again}] + again
    return *prove(sources, data, kept), [fact.name for one in names for fact in told.get(one, ())]
