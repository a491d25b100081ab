"""A small checker for typed TOML tables: cards, dialect files and ``cfglint.toml`` share it.

A shape is put together from the functions below and checked with :func:`check_table`, which
names every mistake of a table, not only the first::

    SHAPE = table(
        {
            "name": text(required=True, about="what the hangar is called"),
            "margin_us": number(least=0, about="how near is too near"),
            "dialects": table(free=text(about="path of a dialect file")),
        }
    )
    raise_all(check_table(document, (), SHAPE))
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from cfglint.tomltext import Document, Path

Kind = Literal["text", "whole", "number", "flag", "list", "table", "any", "either"]


class Shape(NamedTuple):
    """What may stand at one place.  Made by the functions of this module, not by hand.

    ``about`` is a short clause for messages ("how near is too near").  ``check`` gets a value
    of the right type and says in one clause what is wrong with it, or ``""``.
    """

    kind: Kind
    about: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    item: Shape | None = None
    keys: Mapping[str, Shape] | None = None
    free: Shape | None = None
    free_key: Callable[[str], str] | None = None
    shapes: tuple[Shape, ...] = ()
    check: Callable[[Any], str] | None = None


def text(
    about: str = "",
    *,
    required: bool = False,
    choices: Iterable[str] = (),
    check: Callable[[Any], str] | None = None,
) -> Shape:
    """A string; one of ``choices`` if there are any."""
    return Shape("text", about, required, tuple(choices), check=check)


def whole(
    about: str = "",
    *,
    required: bool = False,
    least: float | None = None,
    most: float | None = None,
    check: Callable[[Any], str] | None = None,
) -> Shape:
    """An integer (no boolean) within inclusive bounds."""
    return Shape("whole", about, required, least=least, most=most, check=check)


def number(
    about: str = "",
    *,
    required: bool = False,
    least: float | None = None,
    most: float | None = None,
    check: Callable[[Any], str] | None = None,
) -> Shape:
    """An integer or a finite float within inclusive bounds."""
    return Shape("number", about, required, least=least, most=most, check=check)


def flag(about: str = "", *, required: bool = False) -> Shape:
    """``true`` or ``false``."""
    return Shape("flag", about, required)


def many(
    item: Shape,
    about: str = "",
    *,
    required: bool = False,
    least: int | None = None,
    most: int | None = None,
    check: Callable[[Any], str] | None = None,
) -> Shape:
    """An array whose items all have one shape (an array of tables too); bounds on its length."""
    return Shape("list", about, required, least=least, most=most, item=item, check=check)


def texts(
    about: str = "",
    *,
    required: bool = False,
    choices: Iterable[str] = (),
    least: int | None = None,
    most: int | None = None,
) -> Shape:
    """An array of strings, each one of ``choices`` if there are any."""
    return many(text(choices=choices), about, required=required, least=least, most=most)


def table(
    keys: Mapping[str, Shape] | None = None,
    about: str = "",
    *,
    required: bool = False,
    free: Shape | None = None,
    free_key: Callable[[str], str] | None = None,
    check: Callable[[Any], str] | None = None,
) -> Shape:
    """A table with these keys; with ``free`` any other key too, whose value has that shape.

    ``free_key`` says in one clause what is wrong with a free key, or ``""``.
    """
    return Shape(
        "table", about, required, keys=keys or {}, free=free, free_key=free_key, check=check
    )


def anything(
    about: str = "", *, required: bool = False, check: Callable[[Any], str] | None = None
) -> Shape:
    """Any value at all; ``check`` or whoever reads it checks it."""
    return Shape("any", about, required, check=check)


def either(*shapes: Shape, about: str = "", required: bool = False) -> Shape:
    """One of several shapes that differ in type: the one with the value's type is applied."""
    return Shape("either", about, required, shapes=shapes)


def check_table(document: Document, path: Path, shape: Shape) -> list[Problem]:
    """Every mistake of the value at ``path``, each with its place; an empty list if none.

    ``path`` must exist in ``document.data``; ``()`` is the whole document.  The order is that
    of the shape's walk; :func:`cfglint.errors.raise_all` sorts by line.
    """
    value: Any = document.data
    for step in path:
        value = value[step]
    found: list[Problem] = []
    _check(document, path, value, shape, found)
    return found


def _check(doc: Document, path: Path, value: Any, shape: Shape, found: list[Problem]) -> None:
    if shape.kind == "either":
        fitting = next((one for one in shape.shapes if _fits(value, one)), None)
        if fitting is None:
            kinds = " or ".join(dict.fromkeys(_called(one) for one in shape.shapes))
            found.append(_wrong_type(doc, path, value, kinds, shape.about))
            return
        shape = fitting
    if not _fits(value, shape):
        found.append(_wrong_type(doc, path, value, _called(shape), shape.about))
        return
    before = len(found)
    if shape.kind == "table":
        _check_keys(doc, path, value, shape, found)
    elif shape.kind == "list":
        assert shape.item is not None
        _check_bounds(doc, path, value, shape, found)
        for number_, item in enumerate(value):
            _check(doc, (*path, number_), item, shape.item, found)
    elif shape.kind in ("whole", "number"):
        _check_bounds(doc, path, value, shape, found)
    elif shape.choices and value not in shape.choices:
        from cfglint.near import listing, nearest

        close = nearest(value, shape.choices)
        instead = f"did you mean `{close}`? " if close else ""
        found.append(
            Problem(
                f"`{_short(value)}` is no word for {_name(path)}{_about(shape)}",
                span=doc.where_value(*path),
                instead=f"{instead}it may be {listing(shape.choices)}",
            )
        )
    if shape.check is not None and len(found) == before:
        wrong = shape.check(value)
        if wrong:
            found.append(Problem(f"{_name(path)} {wrong}", span=doc.where_value(*path)))


def _check_keys(
    doc: Document, path: Path, value: dict[str, Any], shape: Shape, found: list[Problem]
) -> None:
    keys = shape.keys or {}
    for key, inner in value.items():
        known = keys.get(key)
        if known is not None:
            _check(doc, (*path, key), inner, known, found)
            continue
        wrong = shape.free_key(key) if shape.free is not None and shape.free_key else ""
        if shape.free is None or wrong:
            found.append(_unknown_key(doc, path, key, keys, wrong))
        else:
            _check(doc, (*path, key), inner, shape.free, found)
    for key, one in keys.items():
        if one.required and key not in value:
            place = f"the table {_name(path)}" if path else "the file"
            found.append(
                Problem(
                    f"{place} lacks `{key}`{_about(one)}",
                    span=doc.where_value(*path),
                    instead=f"write `{key} = …` with {_called(one)}",
                )
            )


def _unknown_key(
    doc: Document, path: Path, key: str, keys: Mapping[str, Shape], wrong: str
) -> Problem:
    from cfglint.near import listing, nearest

    close = nearest(key, keys)
    span = doc.where(*path, key)
    home = f"in {_name(path)}" if path else "here"
    if close:
        instead = f"did you mean `{close}`?"
    elif wrong:
        instead = ""
    else:
        instead = f"what may stand {home}: {listing(keys, 'and')}" if keys else "take it out"
    return Problem(
        f"`{_short(key)}` {wrong}" if wrong else f"`{_short(key)}` means nothing {home}",
        span=span,
        instead=instead,
    )


def _check_bounds(
    doc: Document, path: Path, value: Any, shape: Shape, found: list[Problem]
) -> None:
    """The bounds of a number, or of how many items a list has."""
    least, most = shape.least, shape.most
    size = len(value) if shape.kind == "list" else value
    if (least is None or size >= least) and (most is None or size <= most):
        return
    if least is not None and most is not None:
        bounds = f"{least:g} to {most:g}" if least != most else f"{least:g}"
    elif least is not None:
        bounds = f"{least:g} or more"
    else:
        bounds = f"{most:g} at most"
    items = shape.kind == "list"
    have = f"has {size:g} item{'' if size == 1 else 's'}" if items else f"is {_said(value)}"
    found.append(
        Problem(
            f"{_name(path)} {have}{_about(shape)}",
            span=doc.where_value(*path),
            instead=f"it {'needs' if items else 'may be'} {bounds}",
        )
    )


def _wrong_type(doc: Document, path: Path, value: Any, wanted: str, about: str) -> Problem:
    if wanted == "a text" and isinstance(value, int | float) and not isinstance(value, bool):
        # Versions above all: 3.60 without quotes would lose its nought.
        about = f"{about or 'it'} in quotes"
    return Problem(
        f"{_name(path)} must be {wanted}, not {_said(value)}",
        span=doc.where_value(*path),
        instead=f"write {about}" if about else "",
    )


def _fits(value: Any, shape: Shape) -> bool:
    kind = shape.kind
    if kind == "any":
        return True
    if kind == "either":
        return any(_fits(value, one) for one in shape.shapes)
    if isinstance(value, bool):
        return kind == "flag"
    if kind == "text":
        return isinstance(value, str)
    if kind == "whole":
        return isinstance(value, int)
    if kind == "number":
        # No comparison holds for nan, and no setup means an infinite number.
        return isinstance(value, int) or (isinstance(value, float) and abs(value) < float("inf"))
    return isinstance(value, {"list": list, "table": dict}.get(kind, ()))


def _called(shape: Shape) -> str:
    kind = shape.kind
    if kind == "list":
        assert shape.item is not None
        inner = {
            "text": "texts", "whole": "whole numbers", "number": "numbers", "table": "tables",
        }  # fmt: skip
        of = inner.get(shape.item.kind)
        return f"a list of {of}" if of else "a list"
    if kind == "either":
        return " or ".join(dict.fromkeys(_called(one) for one in shape.shapes))
    return {
        "text": "a text",
        "whole": "a whole number",
        "number": "a number",
        "flag": "`true` or `false`",
        "table": "a table",
        "any": "a value",
    }[kind]


def _said(value: Any) -> str:
    """A value as a message speaks of it."""
    if isinstance(value, bool):
        return "`true`" if value else "`false`"
    if isinstance(value, str):
        return f"the text `{_short(value)}`"
    if isinstance(value, int | float):
        return f"`{_short(str(value))}`"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    return f"`{value}`"


def _short(word: str) -> str:
    return word if len(word) <= 60 else word[:57] + "…"


def _name(path: Path) -> str:
    """A path as it would be written: `` `switch` 2, `channel` `` (items counted from 1)."""
    if not path:
        return "the file"
    words = ""
    for step in path:
        if isinstance(step, int):
            words += f"[{step + 1}]"
        else:
            words += f".{step}" if words else step
    return f"`{_short(words)}`"


def _about(shape: Shape) -> str:
    return f" ({shape.about})" if shape.about else ""
