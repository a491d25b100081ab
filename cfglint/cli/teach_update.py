"""``cfglint teach --before … --after …``: draft what an update changed."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from cfglint.cli.parser import Parser
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.teach.updates_model import Changes


def arguments(parser: Parser) -> None:
    """Options of the update."""
    add = parser.add_argument
    add(
        "--before",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="dumps from before an update, one a craft",
    )
    add(
        "--after",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="the same craft's dumps from after the update, in the same order",
    )
    add(
        "--dialect",
        default="",
        metavar="FILE",
        help="with --before and --after: the dialect that the changes belong into, a file or the "
        "name of a bundled one",
    )
    add(
        "--at",
        default="",
        metavar="VERSION",
        help="the first version that has the changes (default: as the dump after says)",
    )


def wanted(options: Namespace) -> bool:
    """Whether an update is spoken of."""
    return bool(options.before or options.after or options.dialect or options.at)


def run(options: Namespace) -> int:
    """Draft, write and tell.  Raises Problem(s)."""
    from cfglint.cli.output import complain, to_screen, to_stdout
    from cfglint.cli.teach_files import check_output, read_samples, sealed, write_draft
    from cfglint.cli.teach_sheet import read_sheet
    from cfglint.dialect import load_dialect
    from cfglint.report.teach_update import Updated, summary, updated, updated_json
    from cfglint.teach.updates import changes_between
    from cfglint.teach.updates_text import parse_sheet, sheet

    _check(options)
    out = options.output
    if out:
        check_output(out, replace=options.replace)
    before, notes = read_samples(options.before)
    after, more = read_samples(options.after)
    base, dialect = _dialect(options, before)
    name = options.dialect or out or "drafted from these dumps"
    answers, _ = read_sheet(options.sheet, parse_sheet)
    found = changes_between(before, after, dialect, name=name, at=options.at, answers=answers)
    if out:
        text = _whole(base, found, options.dialect)
        load_dialect(out, text.encode())
        write_draft(out, sealed(text))
    if options.sheet:
        told_by = {ask: answer for ask, answer in answers.items() if ask not in found.open}
        write_draft(options.sheet, sheet(found.open, told_by).encode())
    told = Updated(
        out,
        options.dialect,
        options.sheet,
        tuple(one.file for one in before),
        tuple(one.file for one in after),
        found,
        (*notes, *more),
    )
    if options.form == "json":
        text = updated_json(told)
        code = to_stdout(lambda stream: stream.write(text))
    elif out:
        code = to_screen(options, updated(told))
    else:
        text = found.text if options.dialect else _whole(base, found, "")
        for note in told.notes:
            complain(note)
        complain(summary(told))
        code = to_stdout(lambda stream: stream.write(text))
    return max(code, 1 if found.rows or found.differs else 0)


def _check(options: Namespace) -> None:
    """Raises Problem for options that do not go together."""
    from cfglint.errors import Problem

    if options.samples:
        raise Problem(
            f"`{options.samples[0]}` is a sample, and an update has dumps before and after it",
            instead="write --before FILE or --after FILE, or leave --before and --after out",
        )
    for side, files in (("before", options.before), ("after", options.after)):
        if not files:
            raise Problem(
                f"no dump from {side} the update is named",
                instead="write `cfglint teach --before A --after B`, dumps of the same craft",
            )
    for option in ("ask", "card", "changed", "language"):
        if getattr(options, option):
            raise Problem(
                f"--{option} is for a dialect, not for an update",
                instead="write `--sheet open.txt`: all that is open is asked there",
            )
    if options.dialect and options.name:
        raise Problem(
            "--name is for a dialect that is drafted, and --dialect names one",
            instead="leave one of the two out",
        )
    if options.output and options.dialect and _same_file(options.output, options.dialect):
        raise Problem(
            "this file is yours, and is never written over",
            file=options.output,
            instead="leave -o out and paste what is printed, or name another file with -o",
        )


def _same_file(one: str, other: str) -> bool:
    return os.path.realpath(one) == os.path.realpath(other)


def _dialect(options: Namespace, before: Sequence[Source]) -> tuple[str, Dialect]:
    """The text of the dialect that reads the dumps before, and itself."""
    if not options.dialect:
        # As it would be drafted from these dumps alone.
        from cfglint.cli.teach import name_of
        from cfglint.teach.whole import whole

        made = whole(before, name_of(options))
        return made.text, made.dialect
    from cfglint.cli.dialect import _bytes, _load

    dialect = _load(options.dialect)
    return _bytes(options.dialect).decode("utf-8-sig").replace("\r\n", "\n"), dialect


def _whole(base: str, found: Changes, file: str) -> str:
    """The dialect's text with the changes in it.  Raises Problem where they cannot be added."""
    from cfglint.errors import Problem
    from cfglint.facts.versions import compare
    from cfglint.tomltext import load

    document = load(file or "the draft", base.encode())
    rows = document.data.get("changes", [])
    order = found.dialect.order
    if any(compare(row["at"], found.at, order) >= 0 for row in rows):
        raise Problem(
            f"this dialect has changes of {rows[-1]['at']} already, and these are of {found.at}",
            file=file,
            instead="leave -o out and put what is printed where it belongs by hand",
        )
    if found.versions:
        span = document.where_value("dialect", "versions")
        lines = base.split("\n")
        line = lines[span.line - 1]
        lines[span.line - 1] = (
            f'{line[: span.column - 1]}"{found.versions}"{line[span.end_column - 1 :]}'
        )
        base = "\n".join(lines)
    return f"{base.rstrip()}\n\n{found.text}"
