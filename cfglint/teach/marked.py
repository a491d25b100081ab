"""Rows of ports in a form: marks under the names of what ports carry, speeds, boxes of wires."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import PORT_FUNCTIONS
from cfglint.teach.families import Expect, Item
from cfglint.teach.numbers import BAUDS
from cfglint.teach.readings import loss_meaning
from cfglint.teach.sense import best, english, phrase

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


_ENDS = re.compile(
    r"(?P<open>\(?)(?P<N>\d{1,2})(?P<gap>\)?[ :=]+)(?P<low>\d{3,4})(?P<a>[^\d\s]{1,2})(?P<mid>\d{3,4})"  # noqa: E501
    r"(?P<b>[^\d\s]{1,2})(?P<high>\d{3,4})(?!\d)"
)
_LOST = re.compile(r"(?<!\S)(?P<N>\d{1,2}):(?P<value>[^\s\w]{1,2}|\d{3,4})(?!\S)")


def listed_channels(rows: Sequence[tuple[int, Row]]) -> tuple[list[Item], set[tuple[int, int]]]:
    """Several channels in a line, `(1) 1012·1498·2007`, or `1:=  2:1100`, under a line that says
    what they are.
    """
    items: list[Item] = []
    taken: set[tuple[int, int]] = set()
    for name, pattern in (("listed-ends", _ENDS), ("listed-lost", _LOST)):
        found = [
            (sample, row, hits)
            for sample, row in rows
            if len(hits := list(pattern.finditer(row.text))) >= 2 and row.titles
        ]
        words = _signs(found, [row.text for _, row in rows]) if name == "listed-lost" else {}
        if not found or (name == "listed-lost" and not words):
            continue
        first = found[0][2][0]
        each = "{N}:{value}"
        sets = {"value": "failsafe.channel.N"}
        if name == "listed-ends":
            each = (
                f"{first['open']}{{N}}{first['gap']}{{low}}{first['a']}{{mid}}{first['b']}{{high}}"
            )
            sets = {end: f"channel.N.{end}_us" for end in ("low", "mid", "high")}
        titles = dict.fromkeys(
            " ".join(atom.text for atom in row.titles[-1].atoms[:3]) + " *" for _, row, _ in found
        )
        at = list(titles)
        form: dict[str, Any] = {
            "at": at[0] if len(at) == 1 else at, "each": re.sub(r"[ ]+", " ", each), "sets": sets, "sure": False,  # noqa: E501
        }  # fmt: skip
        if words:
            form["fields"] = {"value": {"words": words}}
        expects = [
            Expect(sample, one.replace("N", str(int(hit["N"]))), row.line, hit[field])
            for sample, row, hits in found
            for hit in hits
            for field, one in sets.items()
        ]
        items.append(Item(name, "", (form,), tuple(expects), f"{len(found)} lists of channels"))
        taken |= {(sample, row.line) for sample, row, _ in found}
    return items, taken


def _signs(
    found: Sequence[tuple[int, Row, list[re.Match[str]]]], notes: Sequence[str]
) -> dict[str, str]:
    """What signs say that channels become, as a line explains them: `= stays as it was`."""
    words: dict[str, str] = {}
    for sign in dict.fromkeys(hit["value"] for *_, hits in found for hit in hits):
        for text in notes:
            said = re.search(rf"(?<!\S)[(]?{re.escape(sign)} ([a-z][^,;()]*)", text)
            word = loss_meaning(said[1])[0] if said and not sign.isdigit() else ""
            if word:
                words.setdefault(word, sign)
    return words


__all__ = ["listed_channels", "marked_ports"]
