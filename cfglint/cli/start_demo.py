"""``cfglint start demo``: a copy of the demo fleet, to look at and to try things on."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.cli.start_files import Planned, look, write
from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator
    from importlib.resources.abc import Traversable


def start_demo(folder: str) -> str:
    """Copy the demo fleet into a folder, made if need be; gives what to type next.

    Raises Problem where something of the fleet's stands there already.
    """
    from importlib.resources import files
    from shlex import quote

    fleet = [Planned(name, data) for name, data in _files(files("cfglint_fixtures") / "saltmarsh")]
    folder = os.path.normpath(folder)
    there = next((one.file.path for one in look(folder, (), fleet) if not one.made), "")
    if there:
        raise Problem(
            "this file is there already, and nothing was written",
            file=os.path.join(folder, there),
            instead="name another folder for the demo fleet",
        )
    write(folder, (), fleet, lambda _fate: None)
    return STEPS.format(count=len(fleet), folder=folder, quoted=quote(folder))


def _files(node: Traversable, above: str = "") -> Iterator[tuple[str, bytes]]:
    """Every file below a folder of the package: its path, with slashes, and its bytes."""
    for child in sorted(node.iterdir(), key=lambda one: one.name):
        if child.is_dir():
            if child.name != "__pycache__":
                yield from _files(child, f"{above}{child.name}/")
        else:
            yield f"{above}{child.name}", child.read_bytes()


STEPS = """\
The demo fleet is in {folder}, {count} files.
Eight craft of an invented club, two of them faulty:

  cfglint lint {quoted}
  cfglint switches {quoted}/dumps/avocet.dump.txt
  cfglint compare {quoted}/updates/egret-before.dump.txt \\
    {quoted}/updates/egret-after.dump.txt
  cfglint bench {quoted}/dumps/plover.dump.txt

Its README.md tells which faults were put in.
"""
