"""What the packaging tests know about the tree, read from the tree itself."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

#: Folder of the checkout → name under which it is installed.
HOUSES = {
    "cfglint": "cfglint",
    "fixtures": "cfglint_fixtures",
    "grammars": "cfglint_grammars",
    "rules": "cfglint_rules",
}


def is_module(path: Path) -> bool:
    """Whether a file is a module of ours; the demo club's rules are data."""
    first, *rest = path.parts
    return path.suffix == ".py" and first in HOUSES and (first != "fixtures" or len(rest) == 1)


def project(root: Path) -> dict[str, Any]:
    return tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))


def files(top: Path) -> list[Path]:
    """Every file below a clean copy, relative to it."""
    return sorted(path.relative_to(top) for path in top.rglob("*") if path.is_file())


def installed_name(path: Path) -> str | None:
    """Where a file of the tree lies in the wheel; None for what the wheel does not hold."""
    first, *rest = path.parts
    if path.name == "README.md" and first != "fixtures":
        return None  # for developers
    return "/".join([HOUSES[first], *rest]) if first in HOUSES and rest else None


def block(text: str, mark: str) -> str:
    """The fenced block of a Markdown text that follows ``<!-- command: mark -->``."""
    after = text.partition(f"<!-- command: {mark} -->\n")[2]
    return after.partition("```sh\n")[2].partition("\n```")[0]
