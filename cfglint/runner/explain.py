"""Where each value of a run comes from: a default, ``cfglint.toml``, the command line or the
environment.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.runner.config import ACCEPTED
from cfglint.runner.here import Here

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from cfglint.runner.config import Config
    from cfglint.runner.lint import Request
    from cfglint.span import Span
    from cfglint.tomltext import Document

DEFAULT, LINE, ENVIRONMENT = "default", "command line", "environment"
#: What the environment can say, and what holds without it.
VARIABLES = {
    "CFGLINT_DEBUG": "off",
    "CFGLINT_RULES": "none",
    "COLUMNS": "the terminal's width",
    "FORCE_COLOR": "off",
    "NO_COLOR": "off",
}


class Row(NamedTuple):
    """One value, as it would be written, and its origin: a word or ``file:line:column``."""

    name: str
    value: str
    origin: str


def explain(
    request: Request, config: Config | None, environment: Mapping[str, str] | None = None
) -> Iterator[Row]:
    """Every value that a run as asked for would go by."""
    where = LINE if request.config else DEFAULT
    if config is None:
        yield Row("configuration", "none: no cfglint.toml here or above", where)
    else:
        yield Row("configuration", shown(Here(config.root).file(config.file)), where)
    yield Row("paths", shown(list(request.paths) or ["."]), LINE if request.paths else DEFAULT)
    said = config.document if config is not None else None
    if config is not None and said is not None:
        # The command line goes before the file.
        yield from (
            row
            for row in _said(said, Here(config.root))
            if not (request.floor and row.name == "lint.floor")
        )
    for name, value in (("only", request.only), ("without", request.without)):
        yield Row(name, shown(list(value)), LINE if value else DEFAULT)
    if request.floor:
        yield Row("lint.floor", shown(request.floor), LINE)
    elif said is None or not said.has("lint", "floor"):
        yield Row("lint.floor", shown("advise"), DEFAULT)
    recorded = config is not None and os.path.lexists(os.path.join(config.root, ACCEPTED))
    yield Row("accepted.toml", "read" if recorded else "none", DEFAULT)
    for name, value in (("dialect", request.dialect), ("card", request.card)):
        if value:
            yield Row(f"{name} of all dumps", shown(value), LINE)
    environment = os.environ if environment is None else environment
    for name, otherwise in VARIABLES.items():
        if environment.get(name):
            yield Row(name, shown(environment[name]), ENVIRONMENT)
        else:
            yield Row(name, otherwise, DEFAULT)


def _said(document: Document, here: Here) -> Iterator[Row]:
    """What a ``cfglint.toml`` says, value by value, in its own order of tables."""

    def told(place: Span) -> str:
        return str(here.span(place))

    data = document.data
    for table in ("hangar", "dialects", "rules", "lint"):
        for key, value in data.get(table, {}).items():
            inner = value.items() if isinstance(value, dict) else ((None, value),)
            for option, one in inner:
                path = (table, key) if option is None else (table, key, option)
                yield Row(_name(path), shown(one), told(document.where_value(*path)))
    for at, row in enumerate(data.get("dumps", ())):
        for key, value in row.items():
            place = document.where_value("dumps", at, key)
            yield Row(f"dumps[{at + 1}].{key}", shown(value), told(place))
    for at, row in enumerate(data.get("accept", ())):
        place = document.where_value("accept", at)
        yield Row(f"accept[{at + 1}]", shown(row["rule"]), told(place))


def _name(path: tuple[str, ...]) -> str:
    plain = (part.replace("-", "").replace("_", "").isalnum() for part in path)
    return ".".join(p if ok else f'"{p}"' for p, ok in zip(path, plain, strict=True))


def shown(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(shown, value)) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {shown(one)}" for key, one in value.items()) + " }"
    return str(value)
