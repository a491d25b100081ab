"""What the owner answered, understood."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import MODES, setting
from cfglint.errors import Problem
from cfglint.record import NamedTuple
from cfglint.teach.fits import loss_word
from cfglint.teach.meanings import TABLES, best

if TYPE_CHECKING:
    from collections.abc import Mapping

NONE = frozenset(("none", "no line", "nothing sets it", "not here"))


class Told(NamedTuple):
    """Answers by kind: setting → line, setting → value, subject → written word → neutral word."""

    lines: dict[str, str]
    values: dict[str, str]
    words: dict[str, dict[str, str]]
    range: tuple[int, float, float] | None


def understand(answers: Mapping[str, str]) -> Told:
    """Answers sorted by what they are about.  Raises Problem for one that cannot be meant."""
    told = Told({}, {}, {}, None)
    for identity, raw in answers.items():
        kind, _, subject = identity.partition(" ")
        text = str(raw).strip()
        if not text or text == "?":
            continue
        if kind == "line":
            told.lines[subject] = text
        elif kind == "value":
            told.values[subject] = text
        elif kind == "words":
            told.words[subject] = _pairs(identity, subject, text)
        elif identity == "range" and text.lower() in NONE:
            continue
        elif identity == "range":
            told = told._replace(range=_range(text))
        else:
            raise Problem(
                f"there is no question `{identity}`",
                instead="keep the names of questions as `cfglint teach --ask` wrote them",
            )
    return told


def _pairs(identity: str, subject: str, text: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        written, mark, word = part.partition("=")
        if not mark:
            raise Problem(
                f"`{part.strip()}` is no answer to `{identity}`",
                instead="write pairs: `0 = arm, 6 = self-right`",
            )
        neutral = _neutral(subject, word.strip())
        if neutral:
            found[written.strip().strip('"')] = neutral
    return found


def _neutral(subject: str, word: str) -> str:
    """The neutral word that is meant; ``""`` for one that says it is not known."""
    if word.lower() in ("", "?", "-", "unknown", "other"):
        return ""
    if subject == "mode" and word.lower() in ("none", "no mode", "another"):
        return ""
    if word.lower() == "nothing" and subject == "port.N.functions":
        return "nothing"
    words: tuple[str, ...]
    if subject == "failsafe.channel.N" and loss_word(word):
        return loss_word(word)
    if subject == "mode":
        words = tuple(MODES)
    elif subject == "failsafe.channel.N":
        words = ("hold", "drop")
    elif subject in TABLES:
        words = TABLES[subject][0]
    else:
        return word
    if word in words:
        return word
    meant, weight = best(subject, word) if subject in TABLES else ("", 0.0)
    if weight >= 0.9:
        return meant
    from cfglint.near import suggestion

    raise Problem(
        f"`{word}` is no {'mode' if subject == 'mode' else 'value of ' + subject}",
        instead=suggestion(word, words, most=20),
    )


def _range(text: str) -> tuple[int, float, float]:
    match = re.fullmatch(
        r"(?i)\s*(?:channel|ch)?\s*(\d{1,2})(?:\s*[,:]\s*(?:from\s*)?|\s+(?:from\s+)?)(\d{3,4}(?:\.\d+)?)\s*(?:to|-|\.\.|–|,)\s*(\d{3,4}(?:\.\d+)?)\s*(?:us|µs)?\s*",
        text,
    )
    if match is None:
        raise Problem(
            f"`{text}` is no range", instead="write `channel 9, 1760 to 2140`: the channel and µs"
        )
    return int(match[1]), float(match[2]), float(match[3])


def neutral_value(name: str, text: str) -> Any:
    """An answer as a setting's neutral value.  Raises Problem for one that it cannot have."""
    row = setting(name)
    text = text.strip().strip('"')
    if row.kind == "flag":
        small = text.lower()
        if small in ("yes", "true", "on", "1"):
            return True
        if small in ("no", "false", "off", "0"):
            return False
        raise Problem(f"`{text}` is no value of {name}", instead="write yes or no")
    if row.kind in ("count", "number"):
        match = re.fullmatch(r"(-?\d+(?:\.\d+)?)\s*([^\d\s]*)", text)
        if match is None:
            unit = f" in {row.unit}" if row.unit else ""
            raise Problem(f"`{text}` is no value of {name}", instead=f"write a number{unit}")
        value = float(match[1])
        assert row.least is not None
        assert row.most is not None
        if not row.least <= value <= row.most:
            raise Problem(
                f"`{text}` cannot be {name}",
                instead=f"write a number, {row.least:g} to {row.most:g} {row.unit}".rstrip(),
            )
        return value
    if row.kind == "word":
        return _neutral(name, text) if name in TABLES else text
    if row.kind == "words":
        if text.lower() in ("nothing", ""):
            return frozenset()
        return frozenset(
            _neutral(name, part.strip()) for part in re.split(r"[,+/]|\s{1,}", text) if part.strip()
        )
    return text
