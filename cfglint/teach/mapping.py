"""One setting and the slot that sets it, ready to be written down."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import setting
from cfglint.record import NamedTuple
from cfglint.teach.answers import NONE, Told
from cfglint.teach.fits import Habits, unquoted
from cfglint.teach.match import Choice, Pair
from cfglint.teach.slots import Slot

if TYPE_CHECKING:
    from collections.abc import Mapping

from cfglint.teach.codecs import codec_by_value, counted_from_0, still_open
from cfglint.teach.counting import receiver_base
from cfglint.teach.functions import function_codec

#: From here on a mapping is left unmarked.
SURE = 0.80


#: How sure a way to read numbers has to be.
CODEC_SURE = 0.66


class Mapped(NamedTuple):
    """One setting and the slot that sets it, ready to be written down.

    ``codec`` are the keys of its entry; ``unsure`` words that are only guessed; ``opaque``
    written words that nobody explained; ``open_codec`` whether its unit is in doubt.
    """

    setting: str
    slot: Slot
    codec: dict[str, Any]
    confidence: float
    sure: bool
    reason: str
    rival: str
    told: bool
    opaque: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
    open_codec: bool = False


def mapped_of(
    name: str,
    choice: Choice,
    told: Told,
    habits: Habits,
    bases: Mapping[str, int],
    receivers: Mapping[str, frozenset[int]],
    guessed: frozenset[str] = frozenset(),
) -> Mapped | None:
    """The slot chosen for a setting, ready to be written; None if the owner said that it is none.

    ``guessed`` are words that only their company explains: no mapping by them is sure.
    """
    pair = choice.pair
    slot = pair.slot
    value = pair.fits[0]
    confidence = choice.confidence
    codec = dict(value.codec)
    opaque, doubt = value.opaque, value.doubt
    open_codec = setting(name).kind == "number" and choice.codec_confidence < CODEC_SURE
    told_value = told.values.get(name, "")
    notes = [_said(pair)]
    if told_value.lower() in NONE and told_value.lower() not in setting(name).words:
        return None
    if told_value:
        codec, note = codec_by_value(name, slot, told_value, codec, value, habits)
        open_codec = still_open(name, slot, told_value)
        opaque = tuple(text for text in opaque if text != unquoted(slot.written[0]))
        confidence = max(confidence, 0.97)
        notes.append(note)
    words = told.words.get(name, {})
    if words:
        if name == "port.N.functions":
            codec, opaque = function_codec(slot.written, words)
        else:
            table = {k: v for k, v in codec.get("values", {}).items() if v not in words}
            table.update({word: text for text, word in words.items()})
            codec["values"] = table
            opaque = tuple(text for text in opaque if text not in words)
        doubt = tuple(text for text in doubt if text not in words)
        confidence = max(confidence, 0.97)
        notes.append("explained by the owner")
    if name == "receiver.port" and bases.get("port") == 0 and not told_value:
        codec = counted_from_0(codec)
    if name == "receiver.port" and "values" not in codec and not told_value:
        carried = receiver_base(slot, receivers)
        if carried is not None:
            codec.pop("base", None)
            if carried == 0:
                codec["base"] = 0
            # The port that it names carries a receiver: that is no chance find.
            confidence += (1 - confidence) * 0.5
            if "port" not in bases:
                # Both may count from 0 all the same.
                confidence = min(confidence, SURE - 0.01)
        elif receivers:
            confidence *= 0.8  # the port that it names carries no receiver
        elif bases.get("port") == 0:
            codec["base"] = 0
            confidence = min(confidence, SURE - 0.01)
        elif bases.get("port") == 1:
            codec.pop("base", None)
            confidence = min(confidence, SURE - 0.01)
        elif "base" not in codec:
            confidence = min(confidence * 0.82, SURE - 0.01)
    if ".N" in name:
        group = "port" if name.startswith("port.") else "channel"
        if group not in bases:
            confidence = min(confidence * 0.85, SURE - 0.01)
            notes.append("taken as counted from 1")
    if name == "port.N.functions" and not words:
        codec, opaque = function_codec(slot.written, {})
    if value.note and not told_value:
        notes.append(value.note)
    if choice.told:
        notes.append("named by the owner")
    elif not told_value and not words and guessed & set(pair.name.words):
        confidence = min(confidence, SURE - 0.01)
    if _set_again(slot):
        # Which of them counts, a profile's or another's, its name does not say.
        confidence = min(confidence, SURE - 0.01)
        notes.append("set more than once")
    back = {text: word for word, text in codec.get("values", {}).items()}
    unsure = tuple(back[text] for text in doubt if text in back)
    kind = setting(name).kind
    if opaque and kind == "number" and not codec.get("values"):
        # Codes read as they stand would be numbers that they are not.
        confidence = min(confidence, 0.3)
    if opaque and kind in ("word", "words") and not codec.get("values") and not codec.get("mask"):
        # Nothing of it can be read yet: what it sets is known, what it says is not.
        notes.append("what its words mean nobody said yet")
    sure = confidence >= SURE and not open_codec
    rival = ""
    if choice.rival is not None:
        rival = f"`{choice.rival.slot.name}` ({choice.rival.score:.2f})"
    return Mapped(
        name, slot, codec, min(confidence, 1.0), sure, "; ".join(note for note in notes if note),
        rival, choice.told or bool(told_value), opaque, unsure, open_codec,
    )  # fmt: skip


def _set_again(slot: Slot) -> bool:
    """Whether a sample sets a slot to several values, no number telling them apart."""
    if slot.numbers or slot.profiled:
        return False
    seen: dict[str, set[str]] = {}
    for row, text in zip(slot.rows, slot.written, strict=True):
        seen.setdefault(row.file, set()).add(text)
    return any(len(texts) > 1 for texts in seen.values())


def _said(pair: Pair) -> str:
    words = pair.name.words
    if not words:
        return "by its values"
    said = " and ".join(f"`{word}`" for word in words)
    return f"{said} in its name"
