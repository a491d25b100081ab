"""Rows of ports in a form: marks under the names of what ports carry, speeds, boxes of wires."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import PORT_FUNCTIONS
from cfglint.teach.families import Expect, Item, clean
from cfglint.teach.numbers import BAUDS
from cfglint.teach.readings import loss_meaning, read_loss
from cfglint.teach.sense import best, english, phrase
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row

_ROW = re.compile(
    r"[ \t]*(?P<word>[^\W\d_]*)[ \t]*(?P<N>\d{1,2})[ \t]+(?P<carries>\S+(?:[ \t]+\S+)*?)[ \t]+"
    r"(?P<open>\[?[ \t]*)(?P<baud>\d{4,7}|-)(?P<close>[ \t]*\]?)"
    r"(?P<boxes>(?:[ \t]+(?:\[[ xX]\]|\([ xXo]\)))*)[ \t]*"
)
_BOX = re.compile(r"\[[ xX]\]|\([ xXo]\)")
_LEGEND = re.compile(
    r"(?<!\S)(?P<code>[A-Za-z])[ ](?P<said>[a-z][a-z]+(?: [a-z]+)*)(?=[ \t]{2,}|$)"
)
#: So many rows are a family.
_FEW = 3


class Port(NamedTuple):
    """A row with its number, what it carries, its speed and its boxes."""

    sample: int
    row: Row
    match: re.Match[str]


def _function(word: str, free: set[str]) -> str:
    """What a name over a column of marks stands for, of what is left: `rcv`, `lmp`."""
    found, weight = best("port.N.functions", word)
    if weight >= 0.5 and found in free:
        return found
    letters = word.lower()
    for function in sorted(free):
        plain = {
            "lights": "lights lamps leds",
            "console": "console terminal",
            "rangefinder": "rangefinder range sonar",
        }
        for text in plain.get(function, function).split():
            rest = iter(text)
            if text[0] == letters[0] and all(one in rest for one in letters):
                return function
    return ""


def _places(header: str, count: int) -> list[str]:
    """What the names in a line over marks stand for; empty where one is not understood."""
    names = re.findall(r"(?<!\S)[^\W\d_]{2,5}(?!\S)", header)
    for at in range(len(names) - count + 1):
        free = set(PORT_FUNCTIONS)
        found = []
        for word in names[at : at + count]:
            function = _function(word, free)
            free.discard(function)
            found.append(function)
        if all(found):
            return found
    return []


def _codes(notes: Sequence[str]) -> dict[str, str]:
    """What letters stand for that a port carries, as a line explains them."""
    words: dict[str, str] = {}
    for text in notes:
        for match in _LEGEND.finditer(text):
            word, weight = phrase("port.N.functions", english(match["said"]))
            if weight >= 0.5:
                words.setdefault(word, match["code"])
    return words


def _wires(header: str) -> list[str]:
    """What the boxes of a row say, by the names over them, in order."""
    found = [(m.start(), "inverted") for m in re.finditer(r"(?i)\binv\w*|\bupside|\bflip", header)]
    found += [
        (m.start(), "half")
        for m in re.finditer(r"(?i)\b1 ?w\w*|\bone.wire|\bhalf|\bshared", header)
    ]
    return [name for _, name in sorted(found)]


def marked_ports(rows: Sequence[tuple[int, Row]]) -> tuple[list[Item], set[tuple[int, int]]]:
    """Ports whose rows are marks, speeds and boxes under a line that names them."""
    found: dict[str, list[Port]] = defaultdict(list)
    headers: dict[int, str] = {}
    before: dict[int, str] = {}
    for sample, row in rows:
        match = _ROW.fullmatch(row.text)
        if match is None or (match["baud"] != "-" and int(match["baud"]) not in BAUDS):
            before[sample] = row.text
            continue
        headers.setdefault(sample, before.get(sample, ""))
        found[match["word"].lower()].append(Port(sample, row, match))
    for ports in found.values():
        if len(ports) < _FEW or not any(port.match["baud"] != "-" for port in ports):
            continue
        header = headers[ports[0].sample]
        codec = _carried(ports, header, [row.text for _, row in rows])
        wires = _wires(header)
        boxes = {len(_BOX.findall(port.match["boxes"])) for port in ports}
        if codec is None or len(boxes) > 1 or not boxes <= {0, len(wires)}:
            continue
        item = _item(ports, codec, wires if boxes != {0} else [])
        return [item], {(port.sample, port.row.line) for port in ports}
    return [], set()


def _carried(ports: Sequence[Port], header: str, notes: Sequence[str]) -> dict[str, Any] | None:
    """How what ports carry is written: marks at places, or letters that a line explains."""
    texts = [port.match["carries"].split() for port in ports]
    counts = {len(text) for text in texts}
    marks = {one for text in texts for one in text}
    if len(counts) == 1 and (count := counts.pop()) >= 4 and len(marks) <= 2:
        places = _places(header, count)
        idle = next((one for one in marks if one in ".-·_o"), "")
        return {"none": idle, "places": places} if places and idle else None
    words = _codes(notes)
    none = marks - set(words.values())
    if len(words) < _FEW or len(none) > 1 or any(re.search(r"\w", one) for one in none):
        return None
    codec: dict[str, Any] = {"words": words, "list": " "}
    if none:
        codec["none"] = none.pop()
    return codec


def _item(ports: Sequence[Port], codec: dict[str, Any], wires: Sequence[str]) -> Item:
    sets = {"carries": "port.N.functions", "baud": "port.N.baud"}
    names = {"inverted": "port.N.inverted", "half": "port.N.half_duplex"}
    sets.update({wire: names[wire] for wire in wires})
    first = ports[0].match
    baud = "[ {baud} ]" if "[" in first["open"] else "{baud}"
    head = f"{first['word']} " if first["word"] else ""
    at = f"{head}{{N}} {{carries}} {baud}{''.join(f' {{{wire}}}' for wire in wires)}"
    ticks = {text for port in ports for text in _BOX.findall(port.match["boxes"])}
    on = next((text for text in sorted(ticks) if not re.search(r"\[ \]|\( \)", text)), "[x]")
    off = next((text for text in sorted(ticks) if re.search(r"\[ \]|\( \)", text)), "[ ]")
    fields: dict[str, Any] = {"carries": codec}
    fields.update({wire: {"words": {"yes": on, "no": off}} for wire in wires})
    if any(port.match["baud"] == "-" for port in ports):
        fields["baud"] = {"none": "-"}
    expects = [
        Expect(port.sample, f"port.{int(port.match['N'])}.baud", port.row.line, port.match["baud"])
        for port in ports
        if port.match["baud"] != "-"
    ]
    form = {"at": at, "characters": True, "sets": sets, "fields": fields, "sure": False}
    return Item("ports-marked", "", (form,), tuple(expects), f"{len(ports)} rows of ports")


#: What counts one of several channels in a line.
_COUNT = (
    r"(?<![\w.,])(?P<word>(?:[^\W\d_]{1,10}[ .#\-]?)?)(?P<N>\d{1,2})(?![\d.,]\d|[ ]?%)"
    r"(?P<gap>\)?[ \t]*(?:[:=→⇒]|->|=>|:=|[(\[])?[ \t]*)"
)
_PULSE = r"(?:[7-9]\d\d|1\d{3}|2[0-2]\d\d)(?!\d)"
_ENDS = re.compile(
    rf"{_COUNT}(?P<low>{_PULSE})(?P<a>[^\d\w]{{1,4}}?)(?P<mid>{_PULSE})(?P<b>[^\d\w]{{1,4}}?)"
    rf"(?P<high>{_PULSE})"
)
_LOST = re.compile(
    rf"{_COUNT}(?P<value>{_PULSE}|[^\s\w()\[\]{{}};,|:=]{{1,2}}|=(?=\s|$)"
    r"|[^\W\d_]{2,12}(?: [^\W\d_]{2,12}){0,2})"
    r"(?=[ ]?(?:us|µs)?[ \t]*(?:[,;)\]}|]|$|[ \t](?=[^\W\d_]{0,10}[ .#\-]?\d)))"
)


def listed_channels(rows: Sequence[tuple[int, Row]]) -> tuple[list[Item], set[tuple[int, int]]]:
    """Several channels in a line, `(1) 1012·1498·2007`, or `1=keep 2=1100`."""
    items: list[Item] = []
    taken: set[tuple[int, int]] = set()
    notes = [row.text for _, row in rows]
    for pattern in (_ENDS, _LOST):
        groups: dict[tuple[str, str], list[_Listed]] = defaultdict(list)
        for sample, row in rows:
            hits = list(pattern.finditer(row.text))
            counts = [int(hit["N"]) for hit in hits]
            if not hits or counts != sorted(set(counts)) or counts[-1] > 18:
                continue
            rest = re.sub(r"\W", "", row.text[hits[0].start() : row.note])
            said = sum(len(re.sub(r"\W|[ ]?(?:us|µs)", "", hit.group())) for hit in hits)
            if len({hit["word"] for hit in hits}) == 1 and len(rest) <= said + 4 * len(hits):
                title = _over(row)
                groups[hits[0]["word"].strip(), title].append(_Listed(sample, row, hits))
        for (word, title), found in groups.items():
            several = any(len(one.hits) > 1 for one in found)
            made = _list_item(word, title, found, notes, len(items)) if several else None
            if made is not None:
                items.append(made)
                taken |= {(one.sample, one.row.line) for one in found}
    return items, taken


class _Listed(NamedTuple):
    """A line with the channels that it lists."""

    sample: int
    row: Row
    hits: list[re.Match[str]]


def _over(row: Row) -> str:
    title = row.titles[-1] if row.titles else None
    return " ".join(atom.text for atom in title.atoms if atom.kind != "mark") if title else ""


def _list_item(
    word: str, title: str, found: Sequence[_Listed], notes: Sequence[str], count: int
) -> Item | None:
    """The entry of lines that list channels: their ends, or what becomes of them on lost link."""
    hits = [hit for one in found for hit in one.hits]
    leads = {one.row.text[: one.hits[0].start()].strip(" \t:=({[") for one in found}
    about = {
        idea
        for text in (word, title, *leads)
        for part in split(english(text))
        for idea, sure in ideas(part)
        if sure >= 0.75
    }
    base = 0 if any(int(hit["N"]) == 0 for hit in hits) else 1
    fields: dict[str, Any] = {"N": {"first": 0}} if base == 0 else {}
    if "low" in hits[0].re.groupindex:
        sets = {end: f"channel.N.{end}_us" for end in ("low", "mid", "high")}
        if any(not int(h["low"]) < int(h["mid"]) < int(h["high"]) for h in hits):
            return None
        each = "{N} {low} {mid} {high}"
    else:
        texts = list(dict.fromkeys(hit["value"] for hit in hits))
        signs = {sign: said for said, sign in _signs(found, notes).items()}
        read = read_loss([text for text in texts if text not in signs], None, False)
        pulses = any(text.isdigit() for text in texts)
        if (len(signs) < len(texts) and not read) or not (pulses or "failsafe" in about):
            return None
        if about & {"port", "motor", "output"} and "failsafe" not in about:
            return None
        keys: dict[str, Any] = dict(read[0].keys) if read else {}
        keys["words"] = {**keys.get("words", {}), **{said: sign for sign, said in signs.items()}}
        if not keys["words"] or (read and read[0].opaque):
            return None
        if read and read[0].unsure:
            keys["unsure"] = list(read[0].unsure)
        sets, fields = {"value": "failsafe.channel.N"}, {**fields, "value": keys}
        each = "{N} {value}"
    expects = tuple(
        Expect(
            one.sample, name.replace("N", str(int(hit["N"]) + 1 - base)), one.row.line, hit[field]
        )
        for one in found
        for hit in one.hits
        for field, name in sets.items()
    )
    sure = {} if "failsafe" in about or len(sets) == 3 else {"sure": False}
    more = {"sets": sets, **({"fields": fields} if fields else {}), **sure}
    lead = clean(next(iter(leads))) if len(leads) == 1 else ""
    ways = [f"{lead} *".strip()]
    ways = [f"{clean(title)} > {ways[0]}", f"{clean(title)} *", *ways] if title else ways
    each = f"{clean(word)} {each}".strip()
    forms = tuple({"at": at, "each": each, **more} for at in ways)
    return Item(f"listed{count}", "", forms, expects, f"{len(found)} lists of channels")


def _signs(found: Sequence[_Listed], notes: Sequence[str]) -> dict[str, str]:
    """What signs say that channels become, as a line explains them: `= stays as it was`."""
    words: dict[str, str] = {}
    for sign in dict.fromkeys(hit["value"] for one in found for hit in one.hits):
        for text in notes:
            said = re.search(rf"(?<!\S)[(]?{re.escape(sign)} ([a-z][^,;()]*)", text)
            word = loss_meaning(said[1])[0] if said and not sign.isdigit() else ""
            if word:
                words.setdefault(word, sign)
    return words


__all__ = ["listed_channels", "marked_ports"]
