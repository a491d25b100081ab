"""A first hardware card: its facts from answers, its text, and what it leaves unknown.

An answer is put as a line of a card and read by the reader of cards, so that nothing can be
answered that a card cannot say.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.card import FIELDS, Card, SwitchCard
from cfglint.craft.settings import family, show_number
from cfglint.errors import Problem, Problems

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.craft import Craft
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.rule import Rule


class Question(NamedTuple):
    """One question of the dialogue; asked only if the field ``after`` was answered."""

    field: str
    text: str
    after: str = ""


#: What the rules need most, in the order in which it is found on a craft.
QUESTIONS = (
    Question("airframe.motors", "How many motors has it?"),
    Question("airframe.kind", "What can it do alone: nothing, keep level, or fly back?"),
    Question("esc.signals", "Which motor signals do its ESCs understand?"),
    Question("esc.firmware", "Which firmware version do the ESCs say they have?"),
    Question(
        "esc.firmware_order",
        "How do its versions count: is 2.10 later than 2.9 (dotted) or earlier (decimal)?",
        "esc.firmware",
    ),
    Question("receiver.link", "Which link does the receiver speak?"),
    Question("receiver.pad", "Does its pad carry the link as it is, or already turned to normal?"),
    Question("battery.chemistry", "What are the cells made of?"),
    Question("battery.cells", "How many cells are in series?"),
)
ASKED = tuple(row.field for row in QUESTIONS)
#: How the missing switch is named in what rules lack.
SWITCH = "switch on channel "
#: How a switch is written on the command line, and in the dialogue.
SWITCH_FORM = "NAME=CHANNEL:PULSE,PULSE"
#: A rule that waits for a chain of facts waits for no longer one.
MOST_FACTS = 8

#: Rules that cannot tell, by the fact of the card that they wait for.
Waits = dict[str, list[str]]


class Facts(NamedTuple):
    """What is known of one craft's hardware: values as a card has them, and switches."""

    values: Mapping[str, Any] = {}
    switches: tuple[SwitchCard, ...] = ()

    def plus(self, other: Facts) -> Facts:
        """Both together; where both say something, ``other`` counts."""
        names = {row.name for row in other.switches}
        kept = tuple(row for row in self.switches if row.name not in names)
        return Facts({**self.values, **other.values}, kept + other.switches)

    def card(self, file: str) -> Card:
        return Card(file, dict(self.values), self.switches)


# ------------------------------------------------------------------ answers


def facts_of_file(file: str, data: bytes) -> Facts:
    """The facts in a file of answers, which is written as a card is.  Raises Problem(s)."""
    from cfglint.craft.cards import read_card

    card = read_card(file, data)
    return Facts(card.values, card.switches)


def fact(field: str, text: str) -> Facts:
    """One field's value from the words of an answer.  Raises Problem for what cannot be meant."""
    from cfglint.tomlwrite import text as quoted

    words = text.strip()
    if field == "craft":
        return _read(f"craft = {quoted(words)}")
    if family(field) not in FIELDS or "N" in field.split("."):
        raise _no_field(field)
    kind = FIELDS[family(field)].kind
    if not words:
        raise Problem("the answer is empty", instead=f"write {choices(field)}")
    if kind == "words":
        value = ", ".join(quoted(one.strip()) for one in words.split(",") if one.strip())
        value = f"[{value}]"
    elif kind == "flag":
        value = {"yes": "true", "true": "true", "no": "false", "false": "false"}.get(words, "")
    elif kind in ("count", "number"):
        # Degrees go both ways; where less than nothing cannot be, the card's reader says so.
        sign = words[:1] == "-" and kind == "number"
        value = words if _is_number(words[sign:], whole=kind == "count") else ""
    else:
        value = quoted(words)
    if not value:
        raise Problem(f"`{words[:40]}` cannot be", instead=f"write {choices(field)}")
    return _read(f"{field} = {value}")


def switch(text: str) -> Facts:
    """A switch from ``K5=5:988,2012``, also ``K5=5:up=988,down=2012:momentary:jitter=2``.

    Raises Problem for what cannot be meant.
    """
    from cfglint.tomlwrite import text as quoted

    name, equals, rest = text.strip().partition("=")
    channel, colon, rest = rest.partition(":")
    positions, *more = rest.split(":")
    pairs = [part.strip().rpartition("=") for part in positions.split(",")]
    pulses = [pulse.strip() for _, _, pulse in pairs]
    if not equals or not colon or not all(map(_is_number, [channel.strip(), *pulses])):
        raise Problem(
            f"`{text.strip()[:60]}` describes no switch",
            instead="write its name, its channel and the pulses of its positions in µs: "
            "`K5=5:988,2012`",
        )
    lines = [
        "[[switch]]",
        f"name = {quoted(name.strip())}",
        f"channel = {channel.strip()}",
        f"positions_us = [{', '.join(pulses)}]",
    ]
    if any(named for _, named, _ in pairs):
        lines.append(f"names = [{', '.join(quoted(one.strip()) for one, _, _ in pairs)}]")
    for part in map(str.strip, more):
        if part == "momentary":
            lines.append("momentary = true")
        elif part.startswith("jitter=") and _is_number(part[7:]):
            lines.append(f"jitter_us = {part[7:]}")
        else:
            raise Problem(
                f"`{part[:40]}` says nothing about a switch",
                instead="after its pulses may stand `:momentary` and `:jitter=2`",
            )
    return _read("\n".join(lines))


def choices(field: str) -> str:
    """What an answer may be, in a few words."""
    from cfglint.near import listing

    row = FIELDS[family(field)]
    if row.kind == "words":
        return f"one or more of {listing(row.words, 'and')}, commas between"
    if row.words:
        return listing(row.words)
    if row.kind == "flag":
        return "`yes` or `no`"
    if row.kind == "text":
        return "the text itself"
    return "a whole number" if row.kind == "count" else f"a number, in {row.unit}"


def check(facts: Facts) -> None:
    """Raises Problem(s) where facts that are sound by themselves do not go together."""
    _read("\n".join(_tables(facts, {}, ())))


def _read(text: str) -> Facts:
    import re

    from cfglint.craft.cards import read_card

    try:
        card = read_card("", text.encode("utf-8"))
    except Problem as wrong:
        # The place is one in a file that there is not.
        each = wrong.each if isinstance(wrong, Problems) else (wrong,)
        message = re.sub(
            r" \((the other on )?line \d+\)", "", "; ".join(one.message for one in each)
        )
        raise Problem(message, instead=each[0].instead) from None
    return Facts(card.values, card.switches)


def _is_number(text: str, *, whole: bool = False) -> bool:
    head, dot, tail = text.partition(".")
    if dot and (whole or not (tail.isascii() and tail.isdigit())):
        return False
    # TOML takes no number that begins with a nought.
    return head.isascii() and head.isdigit() and str(int(head[:9])) == head[:9]


def _no_field(field: str) -> Problem:
    from cfglint.near import nearest

    close = nearest(field, [*FIELDS, "craft"])
    hint = f"did you mean `{close}`?" if close else f"the fields are {', '.join(FIELDS)}"
    if "N" in close.split("."):
        hint = hint.replace(".N.", ".2.")
    return Problem(f"a card has no field `{field[:60]}`", instead=hint)


# ------------------------------------------------------------------ what it leaves unknown


def waits(
    source: Source, dialect: Dialect, facts: Facts, name: str, rules: Iterable[Rule]
) -> Waits:
    """Which rules cannot tell of this craft, by the fact of its card that they wait for.

    A rule says only which fact it misses first.  So that fact is given a value from the rule's
    own examples, and the rule is asked once more what it misses then.
    """
    from cfglint.rule import FleetRule, Options

    found: Waits = {}
    craft = _craft(source, dialect, facts, name)
    for item in rules:
        if isinstance(item, FleetRule):
            continue
        options = Options({option.name: option.default for option in item.options})
        known, asked = facts, craft
        for _ in range(MOST_FACTS):
            lacks = _lacks(item, asked, options)
            for one in lacks:
                rows = found.setdefault(one, [])
                if item.id not in rows:
                    rows.append(item.id)
            filled = {one: _instance(item, one) for one in lacks if one not in known.values}
            filled = {one: value for one, value in filled.items() if value is not None}
            if not filled:
                break
            known = known.plus(Facts(filled))
            asked = _craft(source, dialect, known, name)
    return found


def _craft(source: Source, dialect: Dialect, facts: Facts, name: str) -> Craft:
    from cfglint.dialect import read_craft

    return read_craft(source, dialect, facts.card("the card"), name)


def _lacks(item: Rule, craft: Craft, options: Any) -> list[str]:
    from cfglint.apart import Fault
    from cfglint.foreign import ask

    outcome = ask(item, craft, options)
    if isinstance(outcome, Fault):  # the lint that follows tells of a rule that crashes
        return []
    return [lack.fact for lack in outcome.lacks if lack.where == "card"]


def _instance(item: Rule, name: str) -> Any:
    """A value that a field (or its like on another port) has in one of a rule's examples, None
    if it has none.
    """
    from cfglint.craft.cards import read_card

    for example in item.examples:
        if example.card:
            values = read_card("", example.card.encode("utf-8")).values
            for other, value in values.items():
                if family(other) == family(name):
                    return value
    return None


def left_out(facts: Facts, waiting: Waits | None) -> list[str]:
    """The facts that a card's commented lines speak of: asked for and not said, or waited for."""
    wanted = dict.fromkeys((*ASKED, *(waiting or ())))
    return [one for one in wanted if one not in facts.values]


# ------------------------------------------------------------------ its text


def card_text(name: str, facts: Facts, waiting: Waits | None) -> str:
    """The card of a craft; ``waiting`` is None where its dump could not be read."""
    head = [
        f"# Hardware card of {name}: what the dump cannot say. Look at the craft, not at the dump.",
        "# A commented line is a fact that nobody has given yet: put it in place of the …, take",
        "# the first mark away, and the rules named with it can tell.",
    ]
    tables = _tables(facts, waiting, left_out(facts, waiting))
    return "\n".join([*head, *tables, *_no_switch(facts, waiting), ""])


def _tables(facts: Facts, waiting: Waits | None, left: Sequence[str]) -> Iterator[str]:
    """A card's tables, with the fields that are left out as commented lines."""
    from cfglint.tomlwrite import text as quoted

    if "craft" in facts.values:
        yield f"craft = {quoted(facts.values['craft'])}"
    names = [one for one in (*facts.values, *left) if family(one) in FIELDS]
    heads = {name.rpartition(".")[0] for name in names}
    order = list(FIELDS)
    for head in sorted(heads, key=_place):
        rows = [name for name in names if name.rpartition(".")[0] == head]
        yield from ("", f"[{head}]")
        fresh = True
        for name in sorted(rows, key=lambda one: order.index(family(one))):
            row = FIELDS[family(name)]
            key = name.rpartition(".")[2]
            if name in facts.values:
                yield f"{key} = {value_text(facts.values[name], row.words)}  # {row.about}"
            else:
                if not fresh:
                    yield ""
                blank = {"words": "[ … ]", "word": '"…"', "text": '"…"'}.get(row.kind, "…")
                yield from _wrapped(f"{row.about[0].upper()}{row.about[1:]}{_may_be(name)}.")
                yield f"# {key} = {blank}"
                yield from _waiting(name, waiting)
            fresh = False
    for one in facts.switches:
        yield from ("", *_switch(one))


def _place(head: str) -> tuple[int, int]:
    """Where a table stands in a card: as in the table of fields, and by its number."""
    kind, _, number = head.partition(".")
    kinds = list(dict.fromkeys(name.partition(".")[0] for name in FIELDS))
    return kinds.index(kind), int(number or 0)


def _may_be(name: str) -> str:
    row = FIELDS[family(name)]
    if row.kind == "text":
        return ""
    if row.kind == "flag":
        return " (true or false)"
    # In the card words stand in quotes.
    return f" ({choices(name).replace('`', chr(34))})"


def _waiting(name: str, waiting: Waits | None) -> Iterator[str]:
    if waiting is None:
        yield "# Which rules that leaves unknown is not known: no dialect reads the dump yet."
    elif waiting.get(name):
        yield from _wrapped(f"Left out, so unknown: {', '.join(waiting[name])}.")
    else:
        yield "# Left out; as the dump stands, no rule waits for it."


def _switch(one: SwitchCard) -> Iterator[str]:
    from cfglint.tomlwrite import text as quoted

    yield "[[switch]]"
    yield f"name = {quoted(one.name)}"
    yield f"channel = {one.channel}"
    if one.names:
        yield f"names = {value_text(list(one.names), ())}"
    yield f"positions_us = [{', '.join(map(show_number, one.positions))}]"
    if one.jitter_us:
        yield f"jitter_us = {show_number(one.jitter_us)}"
    if one.momentary:
        yield "momentary = true"


def _no_switch(facts: Facts, waiting: Waits | None) -> Iterator[str]:
    """Commented switches: of the channels that rules wait for, or one if there is none at all."""
    lacking = sorted(
        (one for one in waiting or () if one.startswith(SWITCH)),
        key=lambda one: int(one.removeprefix(SWITCH)),
    )
    if facts.switches and not lacking:
        return
    yield ""
    yield "# Switches: a table for each, with its pulses in the order in which it is flicked."
    for at, one in enumerate(lacking or [f"{SWITCH}…"]):
        if at:
            yield ""
        yield from _blank_switch(one.removeprefix(SWITCH))
        yield from _waiting(one, waiting)


def _blank_switch(channel: str) -> tuple[str, ...]:
    return (
        "# [[switch]]",
        '# name = "…"',
        f"# channel = {channel}",
        "# positions_us = [ … ]",
    )


def value_text(value: Any, order: Sequence[str]) -> str:
    """A card's value as TOML; the words of a set in the order of the table of fields."""
    from cfglint.tomlwrite import value as written

    if isinstance(value, float):
        return show_number(value)
    return written(sorted(value, key=order.index) if isinstance(value, frozenset) else value)


def _wrapped(text: str) -> list[str]:
    from textwrap import wrap

    return wrap(
        text, 98, initial_indent="# ", subsequent_indent="#   ", break_on_hyphens=False,
        break_long_words=False,
    )  # fmt: skip
