"""``cfglint lint``: check dumps."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.apart import SECONDS
from cfglint.cli.parser import add_rules, add_shared, add_stdin, check_stdin, named_file, one_of
from cfglint.rule import GRADES

if TYPE_CHECKING:
    from argparse import Namespace
    from typing import Literal, TextIO

    from cfglint.cli.parser import Parser
    from cfglint.results import Run
    from cfglint.runner.lint import Request

ABOUT = """\
Checks dumps: the files named, and those found in the folders named.

In a hangar (a folder with cfglint.toml) its [[dumps]] say which files are dumps, how they are
read and which hardware card belongs to each; elsewhere every *.dump.txt and *.dump is one."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("paths", nargs="*", metavar="PATH", help="files and folders (here, if none is named); "
        "`-` reads standard input")  # fmt: skip
    add_stdin(parser)
    add(
        "--as",
        dest="form",
        type=report_form,
        default="text",
        metavar="FORM",
        help="write the report as `text` (for people), `sarif` (for programs), or as a pack offers",
    )
    add("--sarif", type=named_file, metavar="FILE", help="write SARIF to a file besides")
    add(
        "--profile",
        type=one_of("full", "hosted"),
        default="full",
        metavar="NAME",
        help="SARIF with everything (`full`), or for viewers that show every result as an "
        "alert (`hosted`)",
    )
    add(
        "--floor",
        type=one_of(*GRADES),
        metavar="GRADE",
        help="exit with 1 only for findings of this grade or worse: ground, fix, advise",
    )
    add(
        "--only",
        action="append",
        default=[],
        metavar="RULE",
        help="apply this rule or concern only (may be given again)",
    )
    add(
        "--without",
        action="append",
        default=[],
        metavar="RULE",
        help="leave this rule or concern out (may be given again)",
    )
    add_rules(parser)
    add("--dialect", default="", metavar="NAME|FILE", help="read all dumps by this dialect")
    add("--card", default="", metavar="FILE", help="the hardware card of all dumps")
    add_shared(parser)
    add("--show-accepted", action="store_true", help="list accepted findings too, with reasons")
    add("--all", action="store_true", help="list also findings that follow from others")
    add(
        "--diff",
        action="store_true",
        help="write the lines that cure findings as one patch, for `git apply`, and no report; "
        "no file is changed",
    )
    add("-q", "--quiet", action="store_true", help="one line a finding")
    add("--debug", action="store_true", help="show where a rule crashed")
    add(
        "--rule-time",
        type=seconds,
        default=SECONDS,
        metavar="SECONDS",
        help=f"how long a rule that is not built in may take on one craft (default: {SECONDS:g})",
    )
    add(
        "--explain-config",
        action="store_true",
        help="check nothing; show each setting and where it comes from",
    )


def report_form(text: str) -> str:
    """An argument type: the name of a form of report."""
    from cfglint.plugins import host

    if host().named("cfglint_reports", text) is None:
        one_of(*(form.name for form in host().every("cfglint_reports")))(text)
    return text


def seconds(text: str) -> float:
    """A stretch of time.  Raises ArgumentTypeError, which argparse tells."""
    from argparse import ArgumentTypeError

    try:
        found = float(text)
    except ValueError:
        found = 0.0
    if not 0.1 <= found <= 86_400:
        raise ArgumentTypeError(f"`{text[:40]}` is no time: write seconds, 0.1 to 86400")
    return found


def run(options: Namespace) -> int:
    from cfglint.cli.output import complain_of, complain_of_troubles
    from cfglint.cli.progress import at_work
    from cfglint.cli.whole import write_report as write_file
    from cfglint.errors import Problem
    from cfglint.runner.here import Here
    from cfglint.runner.lint import Request, lint

    check_stdin(options, list(dict.fromkeys(options.paths)))
    sarif = options.form == "sarif"
    machine = options.form != "text"
    request = Request(
        tuple(options.paths),
        options.config,
        options.dialect,
        options.card,
        tuple(options.only),
        tuple(options.without),
        options.floor or "",
        hashes=sarif or bool(options.sarif),
        debug=options.debug or bool(os.environ.get("CFGLINT_DEBUG")),
        rules=options.rules,
        stdin_name=options.stdin_filename,
        seconds=options.rule_time,
    )
    if options.explain_config:
        return explained(request)
    quiet = machine or options.quiet or options.diff
    with at_work("checking dumps", quiet=quiet) as tell:
        result = lint(request._replace(tell=tell))
    codes = [result.exit_code()]
    if options.diff:
        codes.append(write_patch(result))
    else:
        codes.append(write_report(result, options))
        if machine:
            complain_of_troubles(Here(result.root).run(result).troubles)
    if options.sarif:
        try:
            write_file(options.sarif, as_sarif(result, options.profile))
        except Problem as problem:
            complain_of(problem)
            codes.append(problem.exit)
    return max(codes)


def write_report(result: Run, options: Namespace) -> int:
    """Write the report in the form that was asked for; one of others is made in a process of its
    own.
    """
    from cfglint.apart import Fault, apart
    from cfglint.away import Away
    from cfglint.cli.output import complain, to_stdout
    from cfglint.plugins import host

    form = host().named("cfglint_reports", options.form)
    if not isinstance(form.write, Away):
        return to_stdout(lambda stream: form.write(result, options, stream))

    def made() -> str:
        from io import StringIO

        page = StringIO()
        form.write(result, options, page)
        return page.getvalue()

    text = next(apart([made], options.rule_time))
    if isinstance(text, Fault):
        complain(f"the report `{form.name}` could not be written: {text.text}; tell its author")
        return 3
    return to_stdout(lambda stream: stream.write(text))


def write_patch(result: Run) -> int:
    """Write all cures as a patch; what is not in it is told on standard error."""
    import sys

    from cfglint.cli.output import complain, complain_of_troubles, to_stdout
    from cfglint.report.patch import patch_of
    from cfglint.runner.here import Here
    from cfglint.runner.reading import STDIN, read_bytes

    here = Here(result.root)

    def read(file: str) -> bytes:
        return read_bytes(os.path.join(result.root, file), here.file(file))

    files = {one.file for one in result.crafts}
    if STDIN in files:
        complain("a patch needs a file to change; standard input is none")
        return 2
    patch = patch_of(result, read, here.file)

    def write(stream: TextIO) -> None:
        stream.flush()
        getattr(stream, "buffer", sys.stdout.buffer).write(patch.data)

    code = to_stdout(write)
    complain_of_troubles(here.run(result).troubles)
    for clause in patch.left_out:
        complain(f"left out: {clause}")
    held = sum(map(len, result.held_back().values()))
    rest = sum(one.accepted is None for one in result.findings) - held
    follow = f"; {held} more follow from others" if held else ""
    complain(f"this patch cures {patch.cures} of {rest} findings, the rest need a hand{follow}")
    return code


def explained(request: Request) -> int:
    """Show where each setting of a run comes from; the exit code."""
    from cfglint.cli.output import to_stdout
    from cfglint.report.plain import visible
    from cfglint.runner.discover import discover
    from cfglint.runner.explain import explain

    above = os.path.dirname(request.config) or "."
    paths = request.paths or [above if request.config else "."]
    # Standard input is not waited for: where it counts as being is all that matters.
    found = discover([request.stdin_name or "." if one == "-" else one for one in paths],
                     request.config)  # fmt: skip

    def write(stream: TextIO) -> None:
        encoding = stream.encoding or "utf-8"
        rows = [
            (visible(f"{row.name} = {row.value}", encoding), visible(row.origin, encoding))
            for row in explain(request, found.config)
        ]
        # Long values stand on lines of their own, so that the origins stay in one column.
        widest = max(len(text) for text, _ in rows if len(text) <= 48)
        for text, origin in rows:
            gap = "\n" + " " * widest if len(text) > widest else " " * (widest - len(text))
            stream.write(f"{text}{gap}  # {origin}\n")

    return to_stdout(write)


def as_sarif(result: Run, profile: Literal["full", "hosted"]) -> str:
    """The run as SARIF.  Hosted viewers take file names to start at the repository's root."""
    from cfglint.report.sarif import write_sarif

    prefix = inside_repository(result.root) if profile == "hosted" else ""
    return write_sarif(result, profile=profile, prefix=prefix)


def inside_repository(root: str) -> str:
    """Where a folder lies in the Git repository around it, ``""`` at its top or without one."""
    folder = root
    while True:
        if os.path.lexists(os.path.join(folder, ".git")):
            inside = os.path.relpath(root, folder).replace(os.sep, "/")
            return "" if inside == "." else inside
        above = os.path.dirname(folder)
        if above == folder:
            return ""
        folder = above
