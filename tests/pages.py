"""Every page and table that is generated, written anew by one command.

    python tests/pages.py           write what is out of date
    python tests/pages.py --check   write nothing; name what is out of date, and end with 1

What is here is made from what it describes: the reference of rules and of dialect files, the
schema of ``cfglint.toml``, the bundled dialects as they are shipped, and what the pages quote of
real runs.  Look over what it wrote: a run quoted anew is not thereby right.
"""

from __future__ import annotations

import runpy
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
#: Where generated text stands.
PAGES = (
    "README.md",
    "rules/REFERENCE.md",
    "grammars/REFERENCE.md",
    "grammars/parsed.py",
    "grammars/scanners.py",
    "cfglint/cfglint.schema.json",
    "fixtures/saltmarsh/README.md",
)


def reference() -> None:
    from cfglint.cli.why import reference as page
    from cfglint.plugins import BUILTIN, Entry, load_rules

    rules = load_rules([Entry("builtin", BUILTIN, "cfglint-craft")]).rules
    (ROOT / "rules" / "REFERENCE.md").write_text(page(rules), encoding="utf-8")


def quoted(name: str) -> Callable[[], None]:
    """What a script beside the tests of the fixtures writes."""

    def write() -> None:
        script: dict[str, Any] = runpy.run_path(str(ROOT / "tests" / "fixtures" / f"{name}.py"))
        script["write"]()

    return write


def steps() -> list[Callable[[], None]]:
    """What writes the pages, in an order in which none needs a later one."""
    from cfglint import schema_json
    from cfglint.dialect import reference as dialect_reference
    from cfglint.dialect import ship

    return [
        ship.main, dialect_reference.main, schema_json.main, reference, quoted("pages"),
        quoted("guide"),
    ]  # fmt: skip


def main(check: bool) -> int:
    before = {name: (ROOT / name).read_bytes() for name in PAGES}
    try:
        for step in steps():
            step()
        stale = [name for name in PAGES if (ROOT / name).read_bytes() != before[name]]
    finally:
        if check:
            for name, data in before.items():
                if (ROOT / name).read_bytes() != data:
                    (ROOT / name).write_bytes(data)
    for name in stale:
        print(f"{name}: {'out of date; run python tests/pages.py' if check else 'written'}")
    return int(check and bool(stale))


if __name__ == "__main__":
    sys.exit(main("--check" in sys.argv[1:]))
