"""Proof of a draft: every sample is read with it, and each mapping must read its own values."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dialect.values import key
from cfglint.dump.layout import rows

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.source import Source
    from cfglint.teach.families import Expect, Item

#: So often a mapping that fails is given another form.
ROUNDS = 8


#: What hardly is a name: two sentences, ruled lines, or most of a line.
_ODD = re.compile(r"\.\s+\w|__|\s\(|.{33}")


def tables(data: dict[str, Any], items: Sequence[Item], forms: Sequence[int]) -> dict[str, Any]:
    """The dialect's tables with each mapping in one of its forms."""
    whole = {**data, "map": {}, "rows": []}
    for item, form in zip(items, forms, strict=True):
        if form < 0:
            continue
        if item.name:
            whole["map"][item.name] = item.forms[form]
        else:
            whole["rows"].append(item.forms[form])
    return whole


def read(sources: Sequence[Source], data: dict[str, Any]) -> list[MapReader]:
    compiled, said = map_of(data), marks(data)
    out = []
    for source in sources:
        # A sample is proven many times, and its lines stand under the same titles each time.
        if said not in source.noted:
            source.noted[said] = list(rows(source, said))
        reader = MapReader(source, compiled, said, source.noted[said])
        reader.read()
        out.append(reader)
    return out


def _plain(text: str) -> str:
    return key(text.strip().strip("\"'«»").strip())


def _fails(
    item: Item, readers: Sequence[MapReader], lists: Sequence[Counter[tuple[str, int]]]
) -> int:
    """How many of its own values a mapping does not read."""
    failed = 0
    wanted: Counter[tuple[int, str, int]] = Counter()
    for one in item.expects:
        if one.name in ("range", "link", "join"):
            wanted[one.sample, one.name, one.line] += 1
            continue
        value = readers[one.sample].values.get(one.name)
        if value is None:
            # A word that says that nothing is set is read as nothing; what was told is there.
            failed += item.id.startswith("told ") or not _nothing(readers[one.sample], one)
        elif (
            value.span is None
            or value.span.line != one.line
            or not _same(value.written, one.written)
        ):
            failed += 1
    for (sample, name, line), count in wanted.items():
        failed += max(0, count - lists[sample][name, line])
    return failed


def _strays(
    items: Sequence[Item], readers: Sequence[MapReader], forms: Sequence[int]
) -> Counter[str]:
    """By setting, how many values are read from lines that no mapping of it claims."""
    claimed: dict[str, set[tuple[int, int]]] = {}
    for item, form in zip(items, forms, strict=True):
        for name in _sets(item) if form >= 0 else ():
            claimed.setdefault(name, set()).update((one.sample, one.line) for one in item.expects)
    found: Counter[str] = Counter()
    for sample, reader in enumerate(readers):
        for name, value in reader.values.items():
            if (
                value.value != frozenset()
                and value.span is not None
                and (sample, value.span.line) not in claimed.get(_pattern(name), ())
            ):
                found[_pattern(name)] += 1
        twice = Counter(
            (r.mode, r.channel, r.low_us, r.high_us, r.span.line) for r in reader.ranges
        )
        found["range"] += sum(count - 1 for count in twice.values())
        for one in reader.ranges:
            found["range"] += (sample, one.span.line) not in claimed.get("range", ())
    return found


def _pattern(name: str) -> str:
    """A setting's family: `channel.3.low_us` is one of `channel.N.low_us`."""
    return re.sub(r"(?<=\.)\d+(?=\.|$)", "N", name)


def _sets(item: Item) -> set[str]:
    form = item.forms[0]
    return (
        {item.name} if item.name else set(form.get("sets", {}).values()) or {form.get("makes", "")}
    )


def _nothing(reader: MapReader, one: Expect) -> bool:
    return reader.uses.get(one.line) in ("used", "kept") and one.name.startswith("port")


#: What stands between thousands, as written or as a key.
_GROUPING = re.compile(r"(?<=\d)[., ](?=\d{3}(?!\d))")


def _same(got: str, wanted: str) -> bool:
    got, wanted = (_GROUPING.sub("", _plain(one)) for one in (got, wanted))
    return (
        got == wanted
        or got.replace(" ", "") == wanted.replace(" ", "")
        or got.startswith(wanted + " ")
    )


def prove(
    sources: Sequence[Source], data: dict[str, Any], items: Sequence[Item]
) -> tuple[list[tuple[Item, dict[str, Any]]], list[str]]:
    """The mappings that read their own values, each in its first form that does; what was dropped."""  # noqa: E501
    forms = [0] * len(items)
    best: list[tuple[float, int]] = [(1 << 30, 0)] * len(items)
    proven: list[int] = []
    readers: list[MapReader] = []
    for _ in range(ROUNDS):
        proven, readers = list(forms), read(sources, tables(data, items, forms))
        lists = [_lists(reader) for reader in readers]
        clash = {text for reader in readers for text, _, _ in reader.ambiguous}
        strays = _strays(items, readers, forms)
        changed = False
        for place, item in enumerate(items):
            form = forms[place]
            if form < 0:
                continue
            texts = item.forms[form]["at"]
            ambiguous = bool(clash & set([texts] if isinstance(texts, str) else texts))
            failed = (
                _fails(item, readers, lists)
                + ambiguous
                + sum(strays[name] for name in _sets(item))
                + _kept_lines(item, readers) / 2
            )
            if failed < best[place][0]:
                best[place] = (failed, form)
            if failed and form + 1 < len(item.forms):
                forms[place], changed = form + 1, True
            elif failed and best[place][1] != form:
                forms[place], changed = best[place][1], True
        if not changed:
            break
    forms = [at for _, at in best]
    if forms != proven:
        readers = read(sources, tables(data, items, forms))
    return _kept(readers, items, forms)


def _kept_lines(item: Item, readers: Sequence[MapReader]) -> int:
    """How many of an item's ranges and links are read as a mode without a neutral meaning."""
    return sum(
        one.name in ("range", "link") and readers[one.sample].uses.get(one.line) == "kept"
        for one in item.expects
    )


def _lists(reader: MapReader) -> Counter[tuple[str, int]]:
    found: Counter[tuple[str, int]] = Counter()
    # A range of a mode without a meaning here is read as well.
    for one in (*reader.ranges, *reader.drawn):
        found["range", one.span.line] += 1
    for link in reader.links:
        found["link", link.span.line] += 1
    for line, use in reader.uses.items():
        found["join", line] += use == "used"
    own = [line for line, use in reader.uses.items() if use == "kept"]
    for line in own:
        found["range", line] += 9
        found["link", line] += 9
    return found


#: So many of its values a mapping may leave unread: what is missing contradicts nothing.
_FEW = 0.2


def _otherwise(item: Item, readers: Sequence[MapReader]) -> bool:
    """Whether a mapping's own values are read from other lines or texts."""
    return any(
        (value := readers[one.sample].values.get(one.name)) is not None
        and value.span is not None
        and (value.span.line != one.line or not _same(value.written, one.written))
        for one in item.expects
    )


def _kept(
    readers: Sequence[MapReader], items: Sequence[Item], forms: list[int]
) -> tuple[list[tuple[Item, dict[str, Any]]], list[str]]:
    """What reads at least half of its values; what reads fewer is left out and said."""
    lists = [_lists(reader) for reader in readers]
    strays = _strays(items, readers, forms)
    kept, dropped = [], []
    for item, form in zip(items, forms, strict=True):
        failed = _fails(item, readers, lists)
        entry = dict(item.forms[form])
        if failed > 0.5 * len(item.expects):
            dropped.append(
                f"{item.name or item.id}: {failed} of {len(item.expects)} values are not read as meant"  # noqa: E501
            )
            continue
        few = failed > _FEW * len(item.expects)
        if few or _otherwise(item, readers) or any(strays[name] for name in _sets(item)):
            entry["sure"] = False
        if item.name.startswith("craft.") and any(_ODD.search(one.written) for one in item.expects):
            entry["sure"] = False
        kept.append((item, entry))
    return kept, dropped
