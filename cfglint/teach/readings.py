"""How the texts written at one address can be read as a neutral setting, as a dialect says it.

Numbers that carry their unit are read by it and need no guess; others are given to
:mod:`cfglint.teach.fits`, which knows what is sensible.  Only words that samples hold are written.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import setting
from cfglint.dialect.values import PERIODS, UNITS
from cfglint.teach.fits import Habits, ValueFit, unquoted, value_fits
from cfglint.teach.meanings import FOREIGN_YES_NO
from cfglint.teach.numbers import BAUDS, SENSES
from cfglint.teach.sense import best, english, is_nothing, said_of, told

if TYPE_CHECKING:
    from collections.abc import Sequence

_NUMBER = re.compile(
    r"(?P<number>[+\-\u2212]?(?:\d{1,3}(?:[ \u202f\xa0']\d{3})+|\d+)(?:[.,]\d+)?)(?P<gap>[ \t]?)(?P<unit>[%‰]|µs|[^\W\d_]+(?:/s)?)?(?P<rest>.*)"  # noqa: E501
)
_POINTED = re.compile(r"(\d+)([kKvV])(\d{1,3})(?:/s)?")
_ALL_UNITS = {unit for units in UNITS.values() for unit in units} | set(PERIODS)
#: Units of what no neutral setting is.
_OTHER_UNITS = frozenset("deg ° m mm cm g kg a ma mah ah db c rpm °c m/s km/h".split())
_STICKS = re.compile(r"[AETR]{4}", re.I)
_STICK_WORDS = {
    "A": ("a", "aileron", "ailerons", "roll"),
    "E": ("e", "elevator", "pitch", "nick"),
    "T": ("t", "throttle", "gas", "collective"),
    "R": ("r", "rudder", "yaw"),
}


def is_unit(text: str) -> bool:
    """Whether a word is a unit."""
    return text.lower().strip(",;.") in _ALL_UNITS | _OTHER_UNITS


#: Habits of a dump of which nothing else is known.
PLAIN = Habits("yes", "no", (), ",")


class Reading(NamedTuple):
    """One way to read texts: keys of an entry, how well it fits, how far it is seen for this alone.

    ``unsure`` are neutral words that are guessed, ``opaque`` written ones that nobody understood;
    ``guessed`` says that scale or code is a guess; ``cut`` that words stand behind the value.
    """

    keys: dict[str, Any]
    fit: float
    specific: float = 0.0
    unsure: tuple[str, ...] = ()
    opaque: tuple[str, ...] = ()
    guessed: bool = False
    cut: bool = False
    note: str = ""


class Number(NamedTuple):
    value: float
    unit: str
    rest: str
    text: str


def number(text: str, comma: bool) -> Number | None:
    """A text that begins with a number: its value, its unit and what stands behind it."""
    pointed = _POINTED.fullmatch(text.strip())
    if pointed is not None:
        # A letter stands for the decimal sign: `5k8`, `3V52`.
        value = float(f"{pointed[1]}.{pointed[3]}")
        thousands = pointed[2] in "kK"
        return Number(value * 1000 if thousands else value, "" if thousands else "v", "", text)
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        return None
    body = re.sub("[ \u202f\xa0']", "", match["number"]).replace("\u2212", "-")
    if "," in body:
        if not comma:
            return None
        body = body.replace(",", ".")
    unit = match["unit"] or ""
    rest = match["rest"]
    if unit and unit.lower() not in _ALL_UNITS and unit.lower() not in _OTHER_UNITS:
        if not match["gap"]:
            return (
                None
                if len(unit) > 3 or rest[:1].isalnum()
                else Number(float(body), "?" + unit, rest, text)
            )
        rest = unit + rest
        unit = ""
    whole = text.strip()
    return Number(float(body), unit.lower(), rest.strip(), whole[: len(whole) - len(rest)].strip())


def _converted(name: str, one: Number) -> float | None:
    """A number with a unit in the setting's neutral one; None where the unit is another's."""
    row = setting(name)
    known = UNITS.get(row.unit, {})
    if row.unit == "Hz" and one.unit in PERIODS and one.value:
        return PERIODS[one.unit] / one.value
    if one.unit in known:
        return one.value * known[one.unit]
    return None


def read_numbers(
    name: str, texts: Sequence[str], unit: str, habits: Habits | None, comma: bool
) -> list[Reading]:
    row = setting(name)
    found = [number(text, comma) for text in texts]
    if any(one is None for one in found):
        return []
    numbers = [one for one in found if one is not None]
    cut = any(one.rest for one in numbers)
    poor = 0.55 if any(re.search(r"\d", one.rest) for one in numbers) else 0.93 if cut else 1.0
    units = {one.unit for one in numbers}
    if units != {""} and "" in units and len(units) > 1 and any(u for u in units):
        units.discard("")
    if (len(units) == 1 and units != {""}) or len(units) > 1:
        values = [_converted(name, one) for one in numbers if one.unit]
        if any(value is None for value in values):
            return []
        return _in_sense(name, [v for v in values if v is not None], poor, cut, "k" in units)
    bare = [
        f"{one.value:g}"
        if one.value == int(one.value) and "." not in one.text.replace(",", ".")
        else one.text.replace(",", ".")
        for one in numbers
    ]
    out = []
    for one in value_fits(
        name, [re.sub("[ \u202f\xa0']", "", text) for text in bare], unit, habits or PLAIN
    ):
        read = from_fit(name, one, one.fit * poor, cut, unit)
        if row.unit == "deg" and not unit and any(n.value % 45 for n in numbers):
            # Boards lie at right angles or half of one: any other number may be of another unit.
            read = read._replace(guessed=True)
        out.append(read)
    if row.unit == "%" and "motor" in name and not out:
        return []
    return out


def _in_sense(
    name: str, values: Sequence[float], poor: float, cut: bool, loose: bool
) -> list[Reading]:
    """The reading of numbers in their own units; ``loose``: the unit may be another's."""
    row = setting(name)
    if row.unit == "baud":
        if all(any(abs(value - baud) <= 0.05 * baud for baud in BAUDS) for value in values):
            return [Reading({}, 0.95 * poor, 0.3, cut=cut)]
        odd = not loose and all(value >= 1000 for value in values)
        return [Reading({}, 0.9 * poor, 0.2, cut=cut)] if odd else []
    sense = SENSES.get(name)
    low, high = sense.wide if sense is not None else (row.least or 0, row.most or 0)
    if not all(low - 1e-9 <= value <= high + 1e-9 for value in values):
        return []
    special = 0.15
    if name == "video.frequency_mhz" and all(5600 <= value <= 5950 for value in values):
        special = 0.75
    if name == "video.power_mw":
        special = 0.6
    return [Reading({}, poor, special, cut=cut)]


def from_fit(name: str, one: ValueFit, fit: float, cut: bool, unit: str) -> Reading:
    """A reading from what :mod:`cfglint.teach.fits` says."""
    keys: dict[str, Any] = {}
    codec = dict(one.codec)
    if "yes" in codec:
        keys["words"] = {"yes": codec["yes"], "no": codec["no"]}
    if "values" in codec:
        keys["words"] = {
            word: text
            for word, text in codec["values"].items()
            if word != text or name != "battery.cells"
        }
    if "base" in codec:
        keys["first"] = codec["base"]
    for key in ("scale", "offset", "over", "quoted", "list", "none"):
        if key in codec:
            keys[key] = codec[key]
    scaled = any(key in keys for key in ("scale", "offset", "over"))
    guessed = bool(one.opaque) or (scaled and not unit)
    return Reading(keys, fit, one.specific, one.doubt, one.opaque, guessed, cut, one.note)


def read_words(name: str, texts: Sequence[str], habits: Habits | None) -> list[Reading]:
    """Texts as words of a setting: what each means, and which are only guessed."""
    found: dict[str, list[str]] = {}
    weights, opaque, unsure = [], [], set()
    for text in dict.fromkeys(unquoted(one) for one in texts):
        if re.fullmatch(r"[\W\d]*", text):
            return []
        word, weight = best(name, text)
        if not word or weight < 0.5:
            opaque.append(text)
            weights.append(0.0)
            continue
        found.setdefault(word, []).append(text)
        weights.append(weight)
        if weight < 0.85:
            unsure.add(word)
    if not found:
        return []
    fit = sum(weights) / len(weights)
    special = {
        "motor.signal": 0.8,
        "receiver.link": 0.85,
        "battery.chemistry": 0.75,
        "failsafe.action": 0.25,
    }.get(name, 0.4)
    keys: dict[str, Any] = {
        "words": {word: every[0] if len(every) == 1 else every for word, every in found.items()}
    }
    return [Reading(keys, fit, special * fit, tuple(sorted(unsure)), tuple(opaque))]


#: The sticks in other languages, by what moves.
_MORE_STICKS = {"A": ("quer", "querruder", "roulis", "ailerons"), "E": ("höhe", "höhenruder", "tangage", "profondeur"),  # noqa: E501
                "T": ("gas", "gaz"), "R": ("seite", "seitenruder", "lacet", "direction", "gieren")}  # fmt: skip  # noqa: E501


def read_order(texts: Sequence[str]) -> list[Reading]:
    names = {word: letter for letter, words in _STICK_WORDS.items() for word in words}
    more = {word: letter for letter, words in _MORE_STICKS.items() for word in words}
    own: dict[str, str] = {}
    for text in texts:
        parts = re.findall(r"[^\W\d_]+", unquoted(text))
        if len(parts) == 1:
            parts = list(parts[0])
        letters = [names.get(part.lower(), more.get(part.lower(), "")) for part in parts]
        if sorted(letters) != sorted("AETR"):
            return []
        own.update(
            {
                letter: part
                for letter, part in zip(letters, parts, strict=True)
                if part.lower() not in names
            }
        )
    return [Reading({"words": own} if own else {}, 1.0, 0.8)]


def read_text(name: str, texts: Sequence[str]) -> list[Reading]:
    if name == "craft.firmware":
        fits = all(re.search(r"\d", text) for text in texts)
        return [Reading({}, 0.95 if fits else 0.3)]
    if any(number(text, True) is not None for text in texts):
        return [Reading({}, 0.15)]
    named = all(re.search(r"[^\W\d_]{2,}", text) for text in texts)
    flags = all(text.lower() in ("yes", "no", "on", "off", "none") for text in texts)
    return [Reading({}, 0.2 if flags else 0.92 if named else 0.4)]


_PORT_LETTER = re.compile(r"(?P<word>.*?)(?P<letter>(?<![^\W_])[A-Za-z]|\d{1,2})(?P<rest>\W*)")


def read_port(texts: Sequence[str]) -> list[Reading]:
    """A port by its number, its letter, or the name that ports have here."""
    parts = [_PORT_LETTER.fullmatch(unquoted(text)) for text in texts]
    if any(part is None for part in parts):
        return []
    matches = [part for part in parts if part is not None]
    letters = [part["letter"] for part in matches]
    if all(one.isdigit() for one in letters):
        if max(int(one) for one in letters) > 20:
            return []
        word = matches[0]["word"]
        first = {"first": 0} if "0" in letters else {}
        if word.strip():
            zero = 0 if first else 1
            table = {
                str(int(one) + 1 - zero): text.strip()
                for one, text in zip(letters, texts, strict=True)
            }
            return [Reading({"words": table}, 0.85, 0.1)]
        return [Reading(first, 0.85)]
    if any(one.isdigit() for one in letters):
        return []
    table = {
        str(ord(one.lower()) - 96): text.strip() for one, text in zip(letters, texts, strict=True)
    }
    return [Reading({"words": table}, 0.8, 0.1)] if all(int(n) < 13 for n in table) else []


def read_functions(texts: Sequence[str], habits: Habits | None) -> list[Reading]:
    """Sets of port functions: what divides them, what says that there are none."""
    if all(re.fullmatch(r"[\W\d]*", text) for text in texts):
        return []
    divider = divider_of(texts)
    found: dict[str, list[str]] = {}
    weights, opaque, unsure, none = [], [], set(), []
    for text in texts:
        parts = [text] if not divider else [part.strip() for part in _parts(text, divider)]
        for part in dict.fromkeys(parts):
            if not part:
                continue
            if is_nothing(part):
                if part not in none:
                    none.append(part)
                continue
            word, weight = best("port.N.functions", part)
            if weight < 0.5:
                opaque.append(part)
                weights.append(0.0)
                continue
            if part not in found.setdefault(word, []):
                found[word].append(part)
            weights.append(weight)
            if weight < 0.85:
                unsure.add(word)
    if not found:
        return []
    keys: dict[str, Any] = {"words": {w: e[0] if len(e) == 1 else e for w, e in found.items()}}
    if none:
        keys["none"] = none if len(none) > 1 else none[0]
    if divider and divider != ",":
        keys["list"] = divider
    fit = sum(weights) / max(1, len(weights))
    return [Reading(keys, fit, 0.4 * fit, tuple(sorted(unsure)), tuple(dict.fromkeys(opaque)))]


_DIVIDERS = (",", "+", "&", "/", "|", " and ", " und ", " et ", " ")


def _parts(text: str, divider: str) -> list[str]:
    return text.split(divider)


def divider_of(texts: Sequence[str]) -> str:
    """What divides a list: the mark whose parts are port functions."""
    hits = {}
    every = Counter(texts)
    for mark in _DIVIDERS:
        good = 0
        for text, many in every.items():
            parts = [part.strip() for part in text.split(mark) if part.strip()]
            known = [best("port.N.functions", part)[1] >= 0.5 for part in parts]
            whole = best("port.N.functions", text)[1]
            if (
                len(parts) > 1
                and (all(known) if mark == " " else sum(known) * 2 >= len(parts))
                and whole < 0.88
            ):
                good += many
        hits[mark] = good
    # A blank divides only where nothing else does.
    mark = max(hits, key=lambda one: (one != " " and hits[one] > 0, hits[one]))
    return mark if hits[mark] else ""


def readings_of(
    name: str, texts: Sequence[str], unit: str, habits: Habits | None, comma: bool = False
) -> list[Reading]:
    """The ways to read texts as a setting, the likeliest first; empty where there is none."""
    row = setting(name)
    texts = [text.strip() for text in texts if text.strip()]
    if not texts or any(re.match(r"\[[ xX]?\]", text) for text in texts):
        return []  # boxes to tick are no values
    if name == "receiver.channel_order":
        return read_order(texts)
    if name == "receiver.port":
        return read_port(texts)
    if row.kind == "word":
        return read_words(name, texts, habits) or (
            [Reading({}, 0.5, opaque=tuple(dict.fromkeys(texts)), guessed=True)]
            if all(re.fullmatch(r"\d{1,2}", text) for text in texts)
            else []
        )
    if row.kind == "words":
        return read_functions(texts, habits)
    if name == "failsafe.channel.N":
        return read_loss(texts, habits, comma)
    if row.kind == "text":
        return read_text(name, texts)
    if row.kind == "flag":
        return read_flag(name, texts, habits)
    worded = {text for text in texts if number(text, comma) is None}
    if (
        name == "battery.cells"
        and len(worded) == 1
        and all(0 < int(one.value) <= 14 for text in texts if (one := number(text, comma)))
    ):
        word = next(iter(worded))
        known = bool(re.search(r"(?i)auto|count|detect|measure|guess|zähl|compt", word))
        if not re.search(r"\d", word) and word.lower() not in ("yes", "no", "on", "off"):
            return [
                Reading(
                    {"words": {"0": word}}, 0.85 if known else 0.5, 0.0, () if known else ("0",)
                )
            ]
    if name == "battery.cells" and worded:
        return [
            from_fit(name, one, one.fit, False, unit)
            for one in value_fits(name, [unquoted(t) for t in texts], unit, habits or PLAIN)
        ]
    return read_numbers(name, texts, unit, habits, comma)


def read_flag(name: str, texts: Sequence[str], habits: Habits | None) -> list[Reading]:
    # What the dump itself says that words mean counts before what they are elsewhere.
    explained = {
        side: text
        for text in dict.fromkeys(texts)
        for said in said_of(text)
        if (side := english(said).lower()) in ("yes", "no")
    }
    if len(explained) == len(set(texts)):
        return [Reading({"words": explained}, 0.95, 0.2)]
    low = {text.lower() for text in texts}
    for yes, no in FOREIGN_YES_NO:
        # `no` alone is English as well as Spanish: what yes is then shows elsewhere in the dump.
        if low <= {yes, no} and (low != {"no"} or (habits or PLAIN).yes == yes):
            back = {text.lower(): text for text in texts}
            yes, no = back.get(yes, yes), back.get(no, no)  # noqa: PLW2901
            return [Reading({"words": {"yes": yes, "no": no}}, 0.9, 0.1)]
    said = [english(text).lower() for text in texts]
    if said != [text.lower() for text in texts] and set(said) <= {"yes", "no"}:
        sides = dict(zip(said, texts, strict=True))
        return [Reading({"words": sides}, 0.85, 0.1)]
    out = [
        from_fit(name, one, one.fit, False, "")
        for one in value_fits(name, [unquoted(t) for t in texts], "", habits or PLAIN)
    ]
    if out and not out[0].keys.get("words"):
        out[0].keys["words"] = {"yes": (habits or PLAIN).yes, "no": (habits or PLAIN).no}
    return out


def read_loss(texts: Sequence[str], habits: Habits | None, comma: bool) -> list[Reading]:
    """What channels become on lost link: pulses, and words for holding and for no pulse."""
    found: dict[str, list[str]] = {}
    pulses, opaque, unsure = 0, [], set()
    for text in dict.fromkeys(texts):
        one = number(text, comma)
        if one is not None and 700 <= one.value <= 2300:
            pulses += 1
            continue
        word, weight = loss_meaning(text)
        if not word:
            if one is not None or len(text) > 24:
                return []
            opaque.append(text)
            continue
        found.setdefault(word, []).append(text)
        if weight < 0.9:
            unsure.add(word)
    if (not found and not pulses) or len(opaque) > 2:
        return []
    keys: dict[str, Any] = (
        {"words": {w: e[0] if len(e) == 1 else e for w, e in found.items()}} if found else {}
    )
    # Two kinds of words are there and one is known: the other is the other, as a guess.
    left = {"hold", "drop"} - set(found)
    if len(opaque) == 1 and len(left) == 1 and re.search(r"\w", opaque[0]):
        word = left.pop()
        keys.setdefault("words", {})[word] = opaque[0]
        unsure.add(word)
        opaque = []
    return [Reading(keys, 0.85 if not opaque else 0.65, 0.1, tuple(sorted(unsure)), tuple(opaque))]


_HOLD_PARTS = frozenset(
    "holds hold keep keeps last held freeze frozen stay stays stayed same latch as previous remain remains before".split()  # noqa: E501
)
_DROP_PARTS = frozenset(
    "drop drops quiet silent silence none no nothing absent off mute falls gone cut nopulse dead empty".split()  # noqa: E501
)


def loss_meaning(text: str) -> tuple[str, float]:
    from cfglint.teach.fits import loss_word

    if spoken := told("failsafe.channel.N", text):
        return (spoken, 1.1) if spoken in ("hold", "drop") else ("", 0.0)
    word = loss_word(text)
    if word:
        # What says of anything that it is not set may do so here as well.
        return word, 0.8 if text.lower() in (
            "null",
            "nil",
            "void",
            "empty",
            "x",
            "off",
            "none",
            "nothing",
        ) else 1.0
    said = " ".join([english(text), *said_of(text)])
    parts = set(re.findall(r"[a-z]+", said.lower()))
    hold, drop = bool(parts & _HOLD_PARTS), bool(parts & _DROP_PARTS)
    if hold != drop:
        return ("hold" if hold else "drop"), 0.9
    return "", 0.0
