"""Numbered lines, told by their columns: ends of channels, ports, what a channel does on loss."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from cfglint.teach.fits import flag_words, known_baud, loss_word, spelling
from cfglint.teach.meanings import YES_NO, best, is_nothing

if TYPE_CHECKING:
    from collections.abc import Sequence

from cfglint.teach.columns import (
    about_of,
    constant,
    from_one,
    headed,
    index_of,
    literal_words,
    mode_share,
    number_columns,
    number_of,
    whole_numbers,
    word_before,
    wordy,
)
from cfglint.teach.forms import FormGuess, line_form
from cfglint.teach.records import Record
from cfglint.teach.words import ideas_of


def channel_guess(record: Record) -> FormGuess | None:
    """The record as the ends of channels, or None."""
    about = about_of(record)
    floats = number_columns(record)
    numbered = "{N}" in record.within
    pulses = [at for at, values in floats.items() if all(600 <= v <= 2500 for v in values)]
    if not 2 <= len(pulses) <= 3 or len(record.rows) < 2 or "aux" in about:
        return None
    ends = sorted(pulses, key=lambda at: sum(floats[at]))
    wide = all(a < 1200 for a in floats[ends[0]]) and all(b > 1750 for b in floats[ends[-1]])
    if len(pulses) == 2 and (
        not wide or any(best("mode", word)[1] >= 0.8 for word in literal_words(record))
    ):
        return None  # the ends of ranges
    if not about & {"channel", "stick", "receiver"} and wide and len(record.rows) >= 4:
        about = about | {"stick"}
    if not about & {"channel", "stick", "receiver"} and (len(pulses) < 3 or len(record.rows) < 4):
        return None
    rest = [at for at in floats if at not in pulses]
    index = next((at for at in rest if index_of(record, at) is not None), None)
    if index is None and not numbered:
        return None
    loss = _loss_column(record, {*pulses, index})
    if any(
        wordy(record.column(at)) and not constant(record.column(at))
        for at in record.fields
        if at != loss
    ):
        return None
    order = sorted(pulses, key=lambda at: sum(floats[at]))
    names = ["low", "mid", "high"] if len(pulses) == 3 else ["low", "high"]
    for lower, upper in pairwise(order):
        if any(a >= b for a, b in zip(floats[lower], floats[upper], strict=True)):
            return None
    if sum(floats[order[0]]) / len(record.rows) > 1350:
        return None
    roles = dict(zip(names, order, strict=True))
    fields: dict[str, dict[str, Any]] = {}
    doubts: dict[str, str] = {}
    if index is not None and not numbered:
        roles["N"] = index
        counted = index_of(record, index)
        if counted:
            fields["N"] = counted
        elif not from_one(record, index):
            doubts["N"] = "taken as counted from 1"
    sets = {name: f"channel.N.{name}_us" for name in names}
    if loss is not None:
        roles["loss"], sets["loss"] = loss, "failsafe.channel.N"
        table = _loss_words(record.column(loss))
        if table:
            fields["loss"] = {"values": table}
        if not _about_loss(record, loss):
            doubts["loss"] = "the last word is taken for what a channel does on loss"
    line = line_form(record, roles, fields)
    return FormGuess(
        "settings", line, record.within, sets, fields, roles, record,
        0.96 if "channel" in about else 0.82,
        f"{len(record.rows)} numbered lines with {len(pulses)} pulses in µs, "
        "each higher than the last",
        {}, doubts,
    )  # fmt: skip


def _loss_column(record: Record, taken: set[int | None]) -> int | None:
    """The column that says what a channel does on loss, beside its ends; None for none."""
    for at in record.fields:
        texts = record.column(at)
        if at in taken or not all(loss_word(t) or _pulse(t) for t in texts):
            continue
        worded = any(map(loss_word, texts))
        plain = any((loss_word(t) and len(t) > 1) or _pulse(t) for t in texts)
        if _about_loss(record, at) or (worded and plain):
            return at
    return None


def _about_loss(record: Record, at: int) -> bool:
    """Whether a column's head, or the word before it, speaks of loss."""
    return headed(record, at, "failsafe") or "failsafe" in ideas_of([word_before(record, at)])


def _pulse(text: str) -> bool:
    return text.isdigit() and 700 <= int(text) <= 2300


def _loss_words(texts: Sequence[str]) -> dict[str, str]:
    """Neutral word → written word; empty where they are the same."""
    words = {loss_word(text): text for text in texts if loss_word(text)}
    return words if any(word != text for word, text in words.items()) else {}


def port_guess(record: Record) -> FormGuess | None:
    """The record as ports and what they carry, or None."""
    about = about_of(record)
    numbered = "{N}" in record.within
    if len(record.rows) < 2 or not ("port" in about or _carries(record)):
        return None
    index = next(
        (
            at
            for at in record.fields
            if index_of(record, at, 20) is not None and not mode_share(record.column(at))
        ),
        None,
    )
    if index is None and not numbered:
        return None
    roles: dict[str, int] = {} if numbered or index is None else {"N": index}
    sets: dict[str, str] = {}
    fields: dict[str, dict[str, Any]] = {}
    codes: dict[str, tuple[str, ...]] = {}
    doubts: dict[str, str] = {}
    for at in record.fields:
        texts = record.column(at)
        if at == index or (constant(texts) and wordy(texts) and len(record.rows) > 1):
            continue
        if (
            "baud" not in sets
            and all(known_baud(text) or text == "0" for text in texts)
            and any(map(known_baud, texts))
        ):
            roles["baud"], sets["baud"] = at, "port.N.baud"
        elif (
            "functions" not in sets
            and wordy([t for t in texts if not is_nothing(t)] or texts)
            and _functions(texts) >= 0.5
        ):
            roles["functions"], sets["functions"] = at, "port.N.functions"
    if "baud" not in sets:
        for at in record.fields:
            ints = whole_numbers(record.column(at))
            if at in roles.values() or ints is None or max(ints) < 96:
                continue
            if all(v == 0 or known_baud(str(v * 100)) for v in ints):
                roles["baud"], sets["baud"] = at, "port.N.baud"
                fields["baud"] = {"scale": 100}
                break
    # Numbers for words: a column before the baud that is neither.
    if "functions" not in sets:
        for at in record.fields:
            ints = whole_numbers(record.column(at))
            if at in roles.values() or ints is None or constant(record.column(at)):
                continue
            roles["functions"], sets["functions"] = at, "port.N.functions"
            bits = sorted({bit for value in ints for bit in range(16) if value >> bit & 1})
            codes["functions"] = tuple(str(1 << bit) for bit in bits)
            break
    if "functions" not in sets:
        speeds = "baud" in roles and bool(ideas_of(literal_words(record)) & {"baud", "rate"})
        return _speeds(record, roles, sets, fields, index) if speeds else None
    if all(row.kind == "assignment" for row in record.rows) and _listed(record, roles["functions"]):
        return None  # a few lines whose lists have words that nobody knows
    varying = [at for at in record.fields if not constant(record.column(at))]
    if len(varying) <= 2 and all(row.kind == "assignment" for row in record.rows):
        return None  # a family of names; nothing here that names do not say
    if "baud" not in sets:
        for at in record.fields:
            ints = whole_numbers(record.column(at))
            if at in roles.values() or ints is None:
                continue
            if max(ints) <= 20 and len(set(ints)) > 1 and set(ints) != {0, 1}:
                roles["baud"], sets["baud"] = at, "port.N.baud"
                codes["baud"] = tuple(dict.fromkeys(record.column(at)))
            else:
                continue
            break
    for name, idea in (("inverted", "invert"), ("half_duplex", "one-wire")):
        for at in record.fields:
            texts = record.column(at)
            codec = _flag_codec(name, texts)
            if at in roles.values() or at == index or codec is None or name in sets:
                continue
            if headed(record, at, idea) or idea in ideas_of([word_before(record, at)]):
                roles[name], sets[name], fields[name] = at, f"port.N.{name}", codec
    for at in record.fields:
        texts = record.column(at)
        pair = {text.lower() for text in texts}
        if (
            at in roles.values()
            or at == index
            or not wordy(texts)
            or at < roles.get("functions", 99)
        ):
            continue
        yes_no = next(
            ((yes, no) for yes, no in YES_NO if pair <= {yes, no} and not yes.isdigit()), None
        )
        if yes_no is not None and "inverted" not in sets and "functions" in sets:
            spell = spelling(texts)
            roles["inverted"], sets["inverted"] = at, "port.N.inverted"
            fields["inverted"] = {"yes": spell(yes_no[0]), "no": spell(yes_no[1])}
            doubts["inverted"] = "the flag is taken for the port's inversion"
    counted = index_of(record, index, 20) if index is not None else None
    if index is not None and counted == {} and not from_one(record, index):
        doubts["N"] = "taken as counted from 1"
    if numbered and any(number_of(row) == 0 for row in record.rows):
        counted = {"base": 0}
    if counted:
        fields["N"] = counted
    line = line_form(record, roles, fields)
    return FormGuess(
        "settings", line, record.within, sets, fields, roles, record,
        0.9 if "functions" not in codes else 0.55,
        f"{len(record.rows)} numbered lines that name what a port carries", codes, doubts,
    )  # fmt: skip


def _listed(record: Record, at: int) -> bool:
    """Whether another word follows a column's behind a mark that divides lists."""
    cells = record.cells[0]
    if at + 2 >= len(cells) or not wordy(record.column(at + 2)):
        return False
    if len(record.rows) > 3 or _flag_codec("port.N.inverted", record.column(at + 2)):
        return False
    return cells[at + 1].text.strip() in set(",/+|&;") - {""}


def _speeds(
    record: Record,
    roles: dict[str, int],
    sets: dict[str, str],
    fields: dict[str, dict[str, Any]],
    index: int | None,
) -> FormGuess:
    """Numbered lines that say ports' speeds and nothing else."""
    doubts = {}
    counted = index_of(record, index, 20) if index is not None else None
    if counted:
        fields["N"] = counted
    elif index is not None and not from_one(record, index):
        doubts["N"] = "taken as counted from 1"
    line = line_form(record, roles, fields)
    return FormGuess(
        "settings", line, record.within, sets, fields, roles, record, 0.85,
        f"{len(record.rows)} numbered lines of ports' speeds", {}, doubts,
    )  # fmt: skip


def _carries(record: Record) -> bool:
    """Whether a table can be nothing but ports: a use and a speed in every line."""
    columns = [record.column(at) for at in record.fields]
    speeds = any(all(len(t) >= 4 and known_baud(t) for t in texts) for texts in columns)
    uses = any(
        wordy([t for t in texts if not is_nothing(t)] or texts)
        and not constant(texts)
        and _functions(texts) >= 0.6
        for texts in columns
    )
    return speeds and uses and len(record.rows) >= 3


def _flag_codec(name: str, texts: Sequence[str]) -> dict[str, str] | None:
    """The words of a column of flags; None where it holds something else."""
    pair = flag_words(name, texts)
    if pair is None:
        lower = {text.lower() for text in texts}
        plain = next(((yes, no) for yes, no in YES_NO if lower <= {yes, no}), None)
        if plain is None:
            return None
        spell = spelling(texts)
        pair = (spell(plain[0]), spell(plain[1]))
    return {"yes": pair[0], "no": pair[1]}


def _functions(texts: Sequence[str]) -> float:
    weights = []
    for text in dict.fromkeys(texts):
        if is_nothing(text):
            continue
        parts = re.split(r"[,/+|&;]", text)
        weights += [best("port.N.functions", part)[1] for part in parts]
    return sum(weights) / len(weights) if weights else 0.0


def loss_guess(record: Record) -> FormGuess | None:
    """The record as what channels do on a lost link, or None."""
    about = about_of(record)
    if "failsafe" not in about or len({row.number for row in record.rows}) < 2:
        return None
    pulses = [
        at for at in record.fields if all(re.fullmatch(r"\d{3,4}", t) for t in record.column(at))
    ]
    if len(pulses) > 1:
        return None
    numbered = "{N}" in record.within
    counts = (at for at in record.fields if index_of(record, at) is not None)
    # One number in all samples numbers nothing.
    index = next((at for at in counts if not constant(record.column(at))), None)
    if index is None and not numbered:
        return None

    def fixed(at: int) -> bool:
        return constant(record.column(at)) and len(record.rows) > 1 and wordy(record.column(at))

    # A word that is in every line is what all channels do, if nothing else can be.
    for at in sorted(record.fields, key=fixed):
        texts = record.column(at)
        if at == index or (fixed(at) and at < (index or 0)):
            continue
        strange = tuple(dict.fromkeys(t for t in texts if not loss_word(t) and not _pulse(t)))
        if len(strange) > (2 if at > (index or 0) else 0) or len(set(texts)) == len(strange):
            continue
        if all(re.match(r"[A-Za-z]", text) for text in strange):
            return _loss_form(record, at, None if numbered else index, strange)
    return None


def _loss_form(record: Record, at: int, index: int | None, strange: tuple[str, ...]) -> FormGuess:
    """What channels do on loss, in one column; ``strange`` are its words that nobody knows."""
    roles = {"value": at}
    fields: dict[str, dict[str, Any]] = {}
    if index is not None:
        roles["N"] = index
        counted = index_of(record, index)
        if counted:
            fields["N"] = counted
    table = _loss_words(record.column(at))
    if table or strange:
        fields["value"] = {"values": table}
    line = line_form(record, roles, fields)
    return FormGuess(
        "settings", line, record.within, {"value": "failsafe.channel.N"}, fields, roles, record,
        0.85 if not strange else 0.7,
        f"{len(record.rows)} numbered lines of what a channel does on loss",
        {"value": strange} if strange else {}, {},
    )  # fmt: skip
