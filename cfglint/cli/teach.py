"""``cfglint teach``: draft a dialect from sample dumps, and ask what they do not tell."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Mapping

    from cfglint.cli.parser import Parser
    from cfglint.dump.source import Source
    from cfglint.report.teach import Taught
    from cfglint.teach.whole import Whole

ABOUT = """\
Drafts a dialect file from dumps of a firmware that no dialect describes yet. Several samples
must be of one firmware; the more they hold, the more can be told.

  cfglint teach SAMPLE ... -o mine.toml         drafts, says what is sure and what is not, and
                                                asks what is open in mine.sheet.txt: fill in what
                                                you know there, and give the command once more
  cfglint teach SAMPLE ... -o mine.toml --ask   asks the same one by one, what can do most harm
                                                first; each answer is kept in the sheet at once
  cfglint teach SAMPLE ...                      prints the draft

From dumps of the same craft before and after an update it drafts what the update changed:

  cfglint teach --before A --after B -o mine.toml
                                                drafts the dialect from A, the changes from both
  cfglint teach --before A --after B --dialect FILE
                                                prints the changes, to be pasted into FILE, which
                                                is never changed; with -o it makes a new file,
                                                with --sheet FILE it asks what is open there

The file is drafted anew each time, by the answers in the sheet. One that you have changed is
never written over unless you say --replace. A drafted dialect is a guess: look it over before
anybody trusts a lint by it with propellers on.

It ends with 0 if everything is confirmed and answered, 1 if it was drafted and something is not,
2 for wrong use or a wrong answer, 3 if a sample cannot be read or is no dump."""

#: What a dialect is called that is only printed.
NAME = "mine"


def arguments(parser: Parser) -> None:
    from cfglint.cli import teach_update
    from cfglint.cli.parser import add_form, add_stdin

    add = parser.add_argument
    add("samples", nargs="*", metavar="SAMPLE", help="a dump, as the controller printed it; "
        "`-` reads standard input")  # fmt: skip
    add_stdin(parser)
    add("-o", "--output", default="", metavar="FILE", help="write the dialect file here")
    add("--name", default="", metavar="NAME", help="what the dialect is called (default: as FILE)")
    add(
        "--replace",
        action="store_true",
        help="write over FILE even if it was changed, or was never drafted",
    )
    add(
        "--sheet",
        default="",
        metavar="FILE",
        help="the sheet of questions and answers (default: beside FILE, as mine.sheet.txt)",
    )
    add("--ask", action="store_true", help="ask the sheet's questions one by one")
    add(
        "--card",
        default="",
        metavar="FILE",
        help="the hardware card of the first sample's craft: what it says the dump says too",
    )
    add(
        "--changed",
        nargs=3,
        action="append",
        default=[],
        metavar=("SETTING", "A", "B"),
        help="A and B are dumps between which this one setting was changed; A is a sample",
    )
    add(
        "--language",
        default="",
        metavar="L",
        help="the language of the dumps' words: en, de, es, fr or nl (default: found out)",
    )
    add_form(parser, "text (for people) or json (for programs)", "text", "json")
    teach_update.arguments(parser)


def run(options: Namespace) -> int:
    """Draft, ask, write and tell.  Raises Problem(s)."""
    from cfglint.cli import teach_update

    if teach_update.wanted(options):
        return teach_update.run(options)
    from cfglint.cli.teach_files import check_output, read_samples, sealed, write_draft
    from cfglint.cli.teach_sheet import read_answers, write_sheet
    from cfglint.report.teach import taught

    name = name_of(options)
    out, sheet = options.output, sheet_of(options)
    _check(options, sheet)
    if out:
        check_output(out, replace=options.replace, whole=False)
    firsts = [a for _, a, _ in options.changed]
    sources, notes = read_samples([*firsts, *options.samples], options.stdin_filename)
    answers = read_answers(sheet, sources)
    given = _given(options, sources)
    made = _drafted(options, sources, name, {**given, **answers})
    if options.ask:
        from cfglint.cli.teach_ask import Dialogue

        def again(said: Mapping[str, str]) -> Whole:
            return _drafted(options, sources, name, {**given, **said})

        made = Dialogue(options, sheet, again, answers).run(made)
    if out:
        # Somebody may have changed it while questions were answered.
        check_output(out, replace=options.replace, whole=False)
        write_draft(out, sealed(made.text))
    if sheet:
        write_sheet(sheet, made, answers)
    found = taught(made, (*notes, *made.notes), len(answers), out, sheet)
    return max(_print(options, found), found.exit_code())


# ---------------------------------------------------------------- what is asked for


def name_of(options: Namespace) -> str:
    """The dialect's name, which may be one.  Raises Problem."""
    from cfglint.cli.start_run import _check_name
    from cfglint.errors import Problem

    file = os.path.basename(options.output)
    if options.output and (not file.endswith(".toml") or file == ".toml"):
        raise Problem(
            f"-o {options.output}: a dialect file's name ends in `.toml`",
            instead="write `-o mine.toml`",
        )
    name: str = options.name or file.removesuffix(".toml") or NAME
    if name != NAME:
        _check_name(name, "--name" if options.name else f"-o {options.output}")
    return name


def sheet_of(options: Namespace) -> str:
    """The sheet's file: what was said, else beside the output; ``""`` where there is neither."""
    beside = f"{options.output.removesuffix('.toml')}.sheet.txt" if options.output else ""
    return str(options.sheet or beside)


def _check(options: Namespace, sheet: str) -> None:
    """Raises Problem for options that do not go together."""
    from cfglint.cli.parser import check_stdin
    from cfglint.errors import Problem

    files = [*options.samples, *(file for _, *pair in options.changed for file in pair)]
    if not files:
        raise Problem(
            "no sample is named",
            instead="write `cfglint teach DUMP -o mine.toml`, with the dumps to learn from",
        )
    check_stdin(options, options.samples)
    wrong = (
        (options.ask and not options.output, "--ask needs a file to draft into",
         "add `-o mine.toml`"),
        (options.ask and "-" in files, "`-` is no sample with --ask: answers come from standard "
         "input", "name a file"),
        (options.ask and options.form == "json", "--ask talks in text",
         "leave `--as json` out, and run it once more"),
        (options.ask and (sys.stdin is None or sys.stdout is None), "there is nobody to ask: "
         "standard input or output is closed", "leave --ask out"),
        (options.replace and not options.output, "--replace is for a file that is written",
         "add `-o mine.toml`"),
    )  # fmt: skip
    for is_so, why, instead in wrong:
        if is_so:
            raise Problem(why, instead=instead)
    used = [os.path.realpath(file) for file in (*files, options.output, options.card) if file]
    if sheet and os.path.realpath(sheet) in used:
        raise Problem("this file is no sheet", file=sheet, instead="name another with --sheet")


def _given(options: Namespace, sources: list[Source]) -> dict[str, str]:
    """What the card and dumps with one change tell, as answers.  Raises Problem(s)."""
    from cfglint.cli.teach_files import read_samples
    from cfglint.cli.teach_sheet import bytes_of, of_card, of_change
    from cfglint.craft.cards import read_card
    from cfglint.errors import Problem
    from cfglint.teach.sense import LANGUAGES

    if options.language not in ("", "en", *LANGUAGES):
        raise Problem(
            f"--language {options.language}: there is no list of its words",
            instead=f"it may be {', '.join(('en', *LANGUAGES))}, or leave it out",
        )
    found: dict[str, str] = {}
    if options.card:
        found |= of_card(read_card(options.card, bytes_of(options.card)))
    first = sources[0]
    for setting, a, b in options.changed:
        (one, two), _ = read_samples([a, b])
        if one.lines != first.lines:
            raise Problem(
                f"--changed {setting}: places are told of the first sample, which is {first.file}",
                file=a,
                instead="make all changes from the same dump",
            )
        found |= of_change(setting, one, two)
    return found


def _drafted(
    options: Namespace, sources: list[Source], name: str, answers: Mapping[str, str]
) -> Whole:
    """The draft by some answers.  Raises Problem."""
    from cfglint.cli.progress import at_work
    from cfglint.teach.whole import whole

    with at_work("drafting a dialect", quiet=options.form == "json", timed=True):
        return whole(sources, name, options.language, answers)


# ---------------------------------------------------------------- telling


def _print(options: Namespace, found: Taught) -> int:
    from cfglint.cli.output import complain, to_screen, to_stdout
    from cfglint.report.teach import draft, summary, taught_json

    if options.form == "json":
        text = taught_json(found)
        return to_stdout(lambda stream: stream.write(text))
    if not options.output:
        code = to_stdout(lambda stream: stream.write(found.made.text))
        for note in found.notes:
            complain(note)
        complain(f"{summary(found)}; with `-o mine.toml` all of it is told")
        return code
    return to_screen(options, draft(found, _command(options)))


def _command(options: Namespace) -> str:
    """The command, to be given once more."""
    from shlex import quote

    words = ["cfglint teach", *map(quote, options.samples), "-o", quote(options.output)]
    for change in options.changed:
        words += ["--changed", *map(quote, change)]
    for option in ("name", "sheet", "card", "language"):
        if getattr(options, option):
            words += [f"--{option}", quote(getattr(options, option))]
    return " ".join(words)
