"""``cfglint teach``: draft a dialect from sample dumps, and ask what they do not tell."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Mapping, Sequence
    from typing import TextIO

    from cfglint.cli.parser import Parser
    from cfglint.cli.teach_files import Answers
    from cfglint.dump.source import Source
    from cfglint.report.teach import Taught, Told
    from cfglint.teach.model import Draft

ABOUT = """\
Drafts a dialect file from dumps of a firmware that no dialect describes yet. Several samples
must be of one firmware; the more they hold, the more can be told.

  cfglint teach SAMPLE ... -o mine.toml         drafts, and says what is sure and what is not
  cfglint teach SAMPLE ... -o mine.toml --ask   also asks what only you know; each answer is kept
                                                in mine.answers.toml, so it can be broken off
  cfglint teach SAMPLE ...                      prints the draft

From dumps of the same craft before and after an update it drafts what the update changed:

  cfglint teach --before A --after B -o mine.toml
                                                drafts the dialect from A, the changes from both
  cfglint teach --before A --after B --dialect FILE
                                                prints the changes, to be pasted into FILE, which
                                                is never changed; with -o it makes a new file,
                                                with --sheet FILE it asks what is open there

The file is drafted anew each time, by the answers kept beside it. One that you have changed is
never written over unless you say --replace. A drafted dialect is a guess: look it over before
anybody trusts a lint by it with propellers on.

It ends with 0 if everything that matters is confirmed, 1 if it was drafted and something is
unconfirmed or not answered, 2 for wrong use or a wrong answer, 3 if a sample cannot be read or
is no dump."""

#: What a dialect is called that is only printed.
NAME = "mine"


def arguments(parser: Parser) -> None:
    from cfglint.cli import teach_update
    from cfglint.cli.parser import add_form, add_page, add_stdin

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
    add("--ask", action="store_true", help="ask what the samples do not tell")
    add(
        "--most",
        type=_positive,
        metavar="N",
        help="ask so many questions before asking whether to go on (default: 8)",
    )
    add("--again", action="store_true", help='ask again what was answered with "I don\'t know"')
    add(
        "--answers",
        default="",
        metavar="FILE",
        help="take these answers first, then those kept beside the output; they are not asked for",
    )
    add(
        "--sheet",
        default="",
        metavar="FILE",
        help="write all that is open into one sheet, and take the answers that stand in it",
    )
    add_form(parser, "text (for people) or json (for programs)", "text", "json")
    add_page(parser)
    teach_update.arguments(parser)


def _positive(text: str) -> int:
    from argparse import ArgumentTypeError

    if text.isascii() and text.isdigit() and int(text[:9]) > 0:
        return int(text)
    raise ArgumentTypeError(f"`{text}` is no number of questions; write a whole one, from 1")


def run(options: Namespace) -> int:
    """Draft, ask, write and tell.  Raises Problem(s)."""
    from cfglint.cli import teach_update
    from cfglint.cli.progress import at_work

    if teach_update.wanted(options):
        return teach_update.run(options)
    from cfglint.cli.teach_files import (
        check_output,
        read_answers,
        read_samples,
        sealed,
        write_whole,
    )
    from cfglint.report.teach import taught

    name = _name(options)
    out = options.output
    _check(options)
    if out:
        check_output(out, replace=options.replace, whole=False)
    sources, notes = read_samples(options.samples, options.stdin_filename)
    given = read_answers(options.answers) if options.answers else None
    kept = _kept(out)
    asked = {} if given is None else given.texts
    with at_work("drafting a dialect", quiet=options.form == "json", timed=True):
        draft = _first(sources, [one for one in (kept, given) if one is not None], name)
    if options.ask:
        draft = _ask(options, sources, kept, asked, draft, name)
    if out:
        # Somebody may have changed it while questions were answered.
        check_output(out, replace=options.replace, whole=False)
        write_whole(out, sealed(draft.text))
    with at_work("looking over the answers", quiet=options.form == "json", timed=True):
        told = _told(sources, kept, given, draft, name)
    found = taught(draft, sources, told, notes, out)
    return max(_print(options, found), found.exit_code())


# ---------------------------------------------------------------- what is asked for


def _name(options: Namespace) -> str:
    """The dialect's name, which may be one.  Raises Problem."""
    from cfglint.cli.start_run import _check_name
    from cfglint.errors import Problem

    file = os.path.basename(options.output)
    if options.output and (not file.endswith(".toml") or file == ".toml"):
        raise Problem(
            f"-o {options.output}: a dialect file's name ends in `.toml`",
            instead="write `-o mine.toml`",
        )
    if options.name:
        _check_name(options.name, "--name")
        return str(options.name)
    if not options.output:
        return NAME
    name: str = file.removesuffix(".toml")
    _check_name(name, f"-o {options.output}")
    return name


def _check(options: Namespace) -> None:
    """Raises Problem for options that do not go together."""
    from cfglint.cli.parser import check_stdin
    from cfglint.errors import Problem

    if not options.samples:
        raise Problem(
            "no sample is named",
            instead="write `cfglint teach DUMP --ask -o mine.toml`, with the dumps to learn from",
        )
    if options.ask and not options.output:
        raise Problem(
            "--ask needs a file to draft into, beside which the answers are kept",
            instead="add `-o mine.toml`",
        )
    if options.ask and "-" in options.samples:
        raise Problem(
            "`-` is no sample with --ask: answers come from standard input", instead="name a file"
        )
    check_stdin(options, options.samples)
    if options.ask and options.form == "json":
        raise Problem("--ask talks in text", instead="leave `--as json` out, and run it once more")
    if not options.ask:
        for option, value in (("--most", options.most), ("--again", options.again)):
            if value:
                raise Problem(f"{option} is for a dialogue", instead="add --ask")
    if options.replace and not options.output:
        raise Problem("--replace is for a file that is written", instead="add `-o mine.toml`")


def _kept(out: str) -> Answers | None:
    """The answers beside the output, empty if there are none yet; None without an output."""
    from cfglint.cli.teach_files import Answers, read_answers

    if not out:
        return None
    path = f"{out.removesuffix('.toml')}.answers.toml"
    return read_answers(path) if os.path.lexists(path) else Answers(path, {}, {})


# ---------------------------------------------------------------- drafting


def _draft(sources: Sequence[Source], answers: Mapping[str, str], name: str) -> Draft:
    """The draft by some answers.  Raises Problem."""
    from cfglint.cli.teach_ask import NONE, sample_of
    from cfglint.cli.teach_files import UNKNOWN
    from cfglint.errors import EXIT_UNREAD, Problem
    from cfglint.teach import teach

    told: dict[str, str] = {}
    for key, text in answers.items():
        if text == UNKNOWN:
            continue
        if key.startswith("line ") and text.lower() not in NONE:
            file, colon, number = text.rpartition(":")
            source = sample_of(file, sources) if colon else None
            told[key] = text if source is None else f"{source.file}:{number}"
        else:
            told[key] = text
    try:
        return teach(sources, told, name=name)
    except Problem as wrong:
        if wrong.file != f"{name}.toml":
            raise
        # The draft itself: nothing that a person could put right there.
        raise Problem(
            f"what was drafted is no sound dialect file: {wrong.message}",
            instead="give another answer, or none"
            if told
            else "nothing was written; this is a fault in cfglint, please report it",
            exit=wrong.exit if told else EXIT_UNREAD,
        ) from None


def _first(sources: Sequence[Source], files: Sequence[Answers], name: str) -> Draft:
    """The draft by the answers of files, later ones first.

    Raises Problem(s): of answers, each at its place.
    """
    from cfglint.cli.teach_files import merged
    from cfglint.errors import EXIT_USE, Problem, raise_all

    answers = merged(*(one.texts for one in files))
    try:
        return _draft(sources, answers, name)
    except Problem as wrong:
        if not answers or wrong.exit != EXIT_USE:
            raise
        whole = wrong
    spans = {key: span for one in files for key, span in one.spans.items()}
    found: list[Problem] = []
    good: dict[str, str] = {}
    for key, text in answers.items():
        try:
            _draft(sources, {**good, key: text}, name)
            good[key] = text
        except Problem as wrong:
            message = wrong.message
            if f"`{key}`" not in message:
                message = f"`{key}`: {message}"
            found.append(Problem(message, span=spans[key], instead=wrong.instead))
    raise_all(found)
    raise whole


# ---------------------------------------------------------------- asking


def _ask(
    options: Namespace,
    sources: Sequence[Source],
    kept: Answers | None,
    given: Mapping[str, str],
    draft: Draft,
    name: str,
) -> Draft:
    from cfglint.cli.start_ask import Talk
    from cfglint.cli.teach_ask import MOST, Dialogue, Redraft
    from cfglint.errors import Problem
    from cfglint.report.layout import page_of, write_lines

    if sys.stdin is None or sys.stdout is None:
        raise Problem(
            "there is nobody to ask: standard input or output is closed", instead="leave --ask out"
        )
    assert kept is not None
    stream = sys.stdout
    dialogue = Dialogue(
        Talk(sys.stdin, stream),
        page_of(stream, options.width),
        lambda lines: write_lines(lines, stream, _colour(options)),
        Redraft(lambda answers: _draft(sources, answers, name), sources),
        kept,
        given,
        again=options.again,
    )
    return dialogue.run(draft, options.most or MOST)


# ---------------------------------------------------------------- telling


def _told(
    sources: Sequence[Source],
    kept: Answers | None,
    given: Answers | None,
    draft: Draft,
    name: str,
) -> Told:
    """The answers that the draft rests on."""
    from cfglint.cli.teach_files import UNKNOWN, merged
    from cfglint.report.teach import Told

    files = [one for one in (kept, given) if one is not None and one.texts]
    answers = merged(*(one.texts for one in files))
    unknown = tuple(key for key, text in answers.items() if text == UNKNOWN)
    stale: tuple[str, ...] = ()
    if answers:
        asked = {one.id for one in (*_draft(sources, {}, name).questions, *draft.questions)}
        stale = tuple(key for key in answers if not _asked(key, asked, answers))
    return Told(tuple(one.path for one in files), len(answers) - len(unknown), unknown, stale)


def _asked(key: str, asked: set[str], answers: Mapping[str, str]) -> bool:
    """Whether a question is one that is put, or followed from an answer."""
    subject = key.partition(" ")[2]
    return key in asked or (not key.startswith("line ") and f"line {subject}" in answers)


def _colour(options: Namespace) -> bool | None:
    return {"always": True, "never": False}.get(options.colour)


def _print(options: Namespace, found: Taught) -> int:
    from cfglint.cli.output import complain, to_stdout
    from cfglint.report.teach import summary, taught_json, write_taught

    if options.form == "json":
        text = taught_json(found)
        return to_stdout(lambda stream: stream.write(text))
    if not options.output:
        code = to_stdout(lambda stream: stream.write(found.draft.text))
        for note in found.notes:
            complain(note)
        complain(f"{summary(found)}; with `-o mine.toml` all of it is told")
        return code

    def write(stream: TextIO) -> None:
        write_taught(
            found,
            file=stream,
            command=_command(options),
            width=options.width,
            colour=_colour(options),
        )

    return to_stdout(write)


def _command(options: Namespace) -> str:
    """The command, to be given once more."""
    from shlex import quote

    words = ["cfglint teach", *map(quote, options.samples), "-o", quote(options.output)]
    if options.name:
        words += ["--name", quote(options.name)]
    if options.answers:
        words += ["--answers", quote(options.answers)]
    return " ".join(words)
