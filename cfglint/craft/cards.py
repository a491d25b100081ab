"""Reading a hardware card file: TOML, typed and checked, every mistake named at its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.card import FIELDS, Card, Field, SwitchCard
from cfglint.errors import Problem, raise_all
from cfglint.schema import Shape, check_table, flag, many, number, table, text, texts, whole
from cfglint.tomltext import load

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.span import Span
    from cfglint.tomltext import Document, Path

#: Pulses that a servo signal can carry at all, in µs (common practice; equipment as found in
#: {servo-pulse} stays within 850 to 2200).  Some motor pulses are shorter, so those of the
#: ESCs have the bounds of the settings table.
PULSE_LOW_US, PULSE_HIGH_US = 500, 2500
#: More channels than this no link in the table of links carries.
CHANNELS = 32
SWITCH_POSITIONS = 64
JITTER_US = 500

#: Pairs of which the first must be lower than the second.
ORDERED = (
    ("receiver.low_us", "receiver.high_us"),
    ("transmitter.low_us", "transmitter.centre_us"),
    ("transmitter.centre_us", "transmitter.high_us"),
    ("esc.pulse_min_us", "esc.pulse_max_us"),
    ("transmitter.low_us", "transmitter.high_us"),
)


def read_card(file: str, data: bytes) -> Card:
    """The card that ``data`` holds; ``file`` is the name that spans carry.

    The card's values are typed as :data:`cfglint.craft.card.FIELDS` says (``words`` as
    frozenset, ``number`` as float); the craft's name stands under ``craft`` if it is given.
    Raises Problem, or Problems for several mistakes, with file, line and column.
    """
    document = load(file, data)
    raise_all(check_table(document, (), _shape()))
    values = dict(_values(document.data))
    switches = tuple(_switches(document))
    raise_all([*_order(document, values), *_clashes(document, switches)])
    return Card(file, values, switches, _locator(document))


def _locator(document: Document) -> Callable[[str], Span | None]:
    def locate(field: str) -> Span | None:
        path = tuple(field.split("."))
        return document.where_value(*path) if document.has(*path) else None

    return locate


# ------------------------------------------------------------------ shape


def _shape() -> Shape:
    """The shape of a card, made from the table of fields."""
    tables: dict[str, dict[str, Shape]] = {}
    for name, field in FIELDS.items():
        head, _, key = name.rpartition(".")
        tables.setdefault(head, {})[key] = _field(field)
    keys = {head: table(rows) for head, rows in tables.items() if not head.endswith(".N")}
    for head, rows in tables.items():
        if head.endswith(".N"):
            many_of = head.removesuffix(".N")
            keys[many_of] = table(
                free=table(rows),
                free_key=lambda key, what=many_of: _number_of(what, key),
                about=f"one table a {many_of}",
            )
    keys["switch"] = many(_switch())
    keys["craft"] = text("what the craft is called", check=_not_blank)
    return table(keys)


def _field(field: Field) -> Shape:
    if field.kind == "word":
        return text(field.about, choices=field.words)
    if field.kind == "words":
        return texts(field.about, choices=field.words, least=1)
    if field.kind == "flag":
        return flag(field.about)
    if field.kind == "count":
        return whole(field.about, least=1, most=99)
    if field.kind == "number":
        if field.name.endswith("jitter_us"):
            return number(field.about, least=0, most=JITTER_US)
        if field.unit == "deg":
            return number(field.about, least=-360, most=360)
        if field.unit != "µs":
            return number(field.about, least=1)
        if field.name.startswith("esc."):
            return number(field.about, least=0, most=3000)
        return number(field.about, least=PULSE_LOW_US, most=PULSE_HIGH_US)
    check = _stick_order if field.name == "transmitter.channel_order" else _not_blank
    return text(field.about, check=check)


def _switch() -> Shape:
    return table(
        {
            "name": text("what the pilot calls the switch", required=True, check=_not_blank),
            "channel": whole("its channel, from 1", required=True, least=1, most=CHANNELS),
            "positions_us": many(
                number(least=PULSE_LOW_US, most=PULSE_HIGH_US),
                "pulses in µs, in the order in which the switch is flicked",
                required=True,
                least=2,
                most=SWITCH_POSITIONS,
                check=_different,
            ),
            "names": many(text(check=_not_blank), "one name a position", check=_different),
            "jitter_us": number("how far a position wanders", least=0, most=JITTER_US),
            "momentary": flag("whether it springs back to its first position"),
        },
        check=_names_match,
    )


def _not_blank(value: str) -> str:
    return "" if value.strip() else "is blank"


def _number_of(what: str, key: str) -> str:
    # Ports are counted from 1 and written without noughts in front: port.2, not port.02.
    if key.isascii() and key.isdigit() and not key.startswith("0") and len(key) < 3:
        return ""
    return f"is no {what}'s number; {what}s are counted from 1, as in `[{what}.2]`"


def _stick_order(value: str) -> str:
    if sorted(value) == sorted("AETR"):
        return ""
    return (
        f"is `{value[:20]}`, which must hold A (roll), E (pitch), T (throttle) and R (yaw) "
        "once each, as in `AETR`"
    )


def _different(value: list[Any]) -> str:
    seen: set[Any] = set()
    for item in value:
        if item in seen:
            return f"holds `{item}` twice, so two positions cannot be told apart"
        seen.add(item)
    return ""


def _names_match(value: dict[str, Any]) -> str:
    names, positions = value.get("names"), value["positions_us"]
    if names is None or len(names) == len(positions):
        return ""
    return f"names {len(names)} of its {len(positions)} positions; give each position one name"


# ------------------------------------------------------------------ values


def _values(data: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    if "craft" in data:
        yield "craft", data["craft"]
    for name, field in FIELDS.items():
        head, _, key = name.rpartition(".")
        if head.endswith(".N"):
            many_of = head.removesuffix(".N")
            for number_, row in data.get(many_of, {}).items():
                if key in row:
                    yield f"{many_of}.{number_}.{key}", _typed(field.kind, row[key])
        elif key in data.get(head, ()):
            yield name, _typed(field.kind, data[head][key])


def _typed(kind: str, value: Any) -> Any:
    if kind == "words":
        return frozenset(value)
    return float(value) if kind == "number" else value


def _switches(document: Document) -> Iterator[SwitchCard]:
    for at, row in enumerate(document.data.get("switch", ())):
        path: Path = ("switch", at)
        positions = tuple(float(pulse) for pulse in row["positions_us"])
        yield SwitchCard(
            row["name"],
            row["channel"],
            positions,
            tuple(row.get("names", ())),
            float(row.get("jitter_us", 0)),
            row.get("momentary", False),
            document.where_value(*path),
            document.where_value(*path, "channel"),
            tuple(
                document.where_value(*path, "positions_us", number_)
                for number_ in range(len(positions))
            ),
        )


# ------------------------------------------------------------------ what must fit together


def _order(document: Document, values: dict[str, Any]) -> Iterator[Problem]:
    for low, high in ORDERED:
        if low in values and high in values and values[low] >= values[high]:
            if (low, high) == ORDERED[-1] and "transmitter.centre_us" in values:
                continue  # said already, of the centre
            yield Problem(
                f"`{low}` is {values[low]:g} µs, not below `{high}` at {values[high]:g} µs",
                span=document.where_value(*low.split(".")),
                instead="one of the two is mistyped, or they are the wrong way round",
            )


def _clashes(document: Document, switches: tuple[SwitchCard, ...]) -> Iterator[Problem]:
    by_channel: dict[int, SwitchCard] = {}
    by_name: dict[str, SwitchCard] = {}
    for at, switch in enumerate(switches):
        other = by_channel.setdefault(switch.channel, switch)
        if other is not switch:
            yield Problem(
                f"switches `{other.name}` (line {other.channel_span.line}) and `{switch.name}` "
                f"are both on channel {switch.channel}, which carries only one",
                span=switch.channel_span,
                instead="give each its own channel; two switches mixed on one channel in the "
                "transmitter are one switch with more positions here",
            )
        other = by_name.setdefault(switch.name, switch)
        if other is not switch:
            yield Problem(
                f"two switches are called `{switch.name}` (the other on line {other.span.line})",
                span=document.where_value("switch", at, "name"),
                instead="give each its own name",
            )
