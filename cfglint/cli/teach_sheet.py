"""``cfglint teach SAMPLE ... -o mine.toml --sheet FILE``: a draft in marks and map, and one sheet.

The sheet asks all that the samples leave open, at once.  It is filled in with an editor and read
back by the same command, which drafts anew and leaves in it what is still open.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Mapping

    from cfglint.teach.openings import Draft


def run(options: Namespace, name: str) -> int:
    """Draft by the sheet's answers, write both.  Raises Problem."""
    from cfglint.cli.output import to_stdout
    from cfglint.cli.teach_files import check_output, read_samples, sealed, write_whole
    from cfglint.errors import Problem
    from cfglint.teach.sheet import answers_of, text
    from cfglint.teach.taught import teach

    if not options.output:
        raise Problem("--sheet needs a file to draft into", instead="add `-o mine.toml`")
    check_output(options.output, replace=options.replace, whole=False)
    sources, notes = read_samples(options.samples)
    filled = _filled(options.sheet)
    draft = teach(sources, name, options.language, answers_of(filled))
    write_whole(options.output, sealed(draft.text))
    write_whole(options.sheet, text(draft.questions, filled).encode())
    lines = [f"note: {note}" for note in notes] + list(_told(draft, options))
    code = to_stdout(lambda stream: stream.write("\n".join(lines) + "\n"))
    return max(code, 1 if draft.questions else 0)


def _filled(path: str) -> dict[str, str]:
    """The answers of a sheet; none if there is no sheet yet.  Raises Problems."""
    from cfglint.errors import Problem, raise_all
    from cfglint.span import on_line
    from cfglint.teach.sheet import parse

    if not os.path.lexists(path):
        return {}
    try:
        with open(path, encoding="utf-8-sig") as file:
            sheet = file.read()
    except (OSError, UnicodeDecodeError) as wrong:
        raise Problem(
            f"{path}: cannot be read: {wrong}", instead="name a sheet of this command"
        ) from None
    found, wrong_lines = parse(sheet)
    raise_all(
        [
            Problem(
                f"`{line.strip()[:60]}` is no question of a sheet",
                span=on_line(path, at, 0, len(line)),
                instead="write answers behind the `=` of the sheet's own lines; remarks begin with `#`",  # noqa: E501
            )
            for at, line in wrong_lines
        ]
    )
    return found


def _told(draft: Draft, options: Namespace) -> list[str]:
    mapped: Mapping[str, object] = draft.data["map"]
    out = [f"{options.output}: {len(mapped)} settings, {len(draft.data['rows'])} families of rows"]
    out += [f"left out: {one}" for one in draft.dropped]
    out += [f"contradicts the samples, and is asked again: {name}" for name in draft.reopened]
    if draft.questions:
        out.append(
            f"{options.sheet}: {len(draft.questions)} questions; fill in what you know and run this again"  # noqa: E501
        )
    else:
        out.append("nothing is open")
    return out
