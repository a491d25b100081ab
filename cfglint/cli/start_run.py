"""``cfglint start hangar``: what is asked for, the plan, the files, and the first lint."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from cfglint.cli.output import to_screen
from cfglint.cli.start_hangar import Sample, Wish, place_of
from cfglint.errors import Problem
from cfglint.report.blocks import Heading, Lines, Prose, Title, count

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterator, Sequence

    from cfglint.cli.start_ask import Talk
    from cfglint.cli.start_card import Facts
    from cfglint.cli.start_files import Fate
    from cfglint.cli.start_hangar import Given, Plan
    from cfglint.dump.source import Source
    from cfglint.report.blocks import Block
    from cfglint.results import Run
    from cfglint.runner.config import Config
    from cfglint.teach.whole import Whole

HOOK, IGNORED = ".pre-commit-config.yaml", ".gitignore"


def at_terminal() -> bool:
    """Whether somebody sits there who can be asked."""
    try:
        return sys.stdin.isatty() and sys.stdout.isatty()
    except (AttributeError, ValueError):  # started without one
        return False


def run(options: Namespace) -> int:
    """Set up a hangar, or add what it lacks; the exit code is that of its first lint.

    Raises Problem(s).
    """
    from cfglint.cli.start_files import look, write
    from cfglint.cli.start_hangar import FOLDERS, plan

    talk = _talk(options)
    folder = options.name
    if not folder and talk is not None and options.bare:
        from cfglint.cli.start_ask import ask_folder

        folder = ask_folder(talk, _hangar_at)
    folder = os.path.normpath(folder or ".")
    config = _hangar_at(folder)
    wish = _wish(options, folder)
    samples = _samples(options, folder, config, talk)
    facts = _facts(options, folder, config, samples, talk)
    planned = plan(
        wish,
        samples,
        facts,
        root=os.path.abspath(folder),
        config=config,
        there=lambda path: os.path.lexists(os.path.join(folder, path)),
        teach=_teach,
    )
    # A hangar with a shape of its own gets no empty folders.
    folders = FOLDERS if config is None else ()
    look(folder, folders, planned.files)
    fates: list[Fate] = []
    try:
        write(folder, folders, planned.files, fates.append)
    except Problem:
        if any(one.made for one in fates):
            to_screen(options, _told(folder, fates, ()))
        raise
    made = any(one.made for one in fates)
    codes = [to_screen(options, _told(folder, fates, planned.kept))]
    codes.append(to_screen(options, _notes(options, folder, fates, planned)))
    found = False
    if made and samples:
        result = _first_lint(options, folder, codes)
        found = bool(result.found or result.troubles)
    if made:
        codes.append(to_screen(options, _next(folder, fates, planned, found)))
    return max(codes)


def _teach(sources: Sequence[Source], name: str) -> Whole:
    from cfglint.teach.whole import whole

    return whole(sources, name)


def _talk(options: Namespace) -> Talk | None:
    from cfglint.cli.start_ask import Talk

    ask = at_terminal() if options.ask is None else options.ask
    return Talk(sys.stdin, sys.stdout) if ask else None


# ------------------------------------------------------------------ what is asked for


def _hangar_at(folder: str) -> Config | None:
    """The configuration of a hangar at a folder, None where there is none yet.

    Raises Problem for a folder that cannot be one: a file, a place inside another hangar.
    """
    from cfglint.runner.config import NAME, find_root, own_config

    root = os.path.abspath(folder)
    if os.path.lexists(folder) and not os.path.isdir(folder):
        raise Problem("this is no folder, and a hangar is one", file=folder, instead="name another")
    path = os.path.join(root, NAME)
    if os.path.lexists(path) and not os.path.isdir(path):
        return own_config(root)
    above = find_root(os.path.dirname(root))
    if above:
        raise Problem(
            f"this folder lies in the hangar `{os.path.relpath(above)}`, and none is checked "
            "within another",
            file=folder,
            instead="add to that one, or name a folder outside it",
        )
    return None


def _wish(options: Namespace, folder: str) -> Wish:
    from cfglint.cli.lint import inside_repository

    whole = os.path.abspath(folder)
    if options.dialect and options.teach:
        raise Problem(
            "--dialect and --teach exclude each other",
            instead="name a dialect that there is, or have one drafted",
        )
    named, own = options.dialect, _given(options.dialect)
    if own is not None:
        named = ""
    if options.teach:
        _check_name(options.teach, "--teach")
    return Wish(
        options.title or os.path.basename(whole) or "Hangar",
        named,
        own,
        options.teach,
        options.repo,
        options.hook != "none",
        options.ci != "none",
        inside_repository(whole),
    )


def _given(dialect: str) -> Given | None:
    """The dialect file that was named, None where a name was, or nothing."""
    from cfglint.cli.start_hangar import given
    from cfglint.runner.check import is_path
    from cfglint.runner.reading import read_bytes

    if not dialect or not is_path(dialect):
        return None
    found = given(dialect, read_bytes(dialect, dialect))
    _check_name(found.name, dialect)
    return found


def _check_name(name: str, where: str) -> None:
    from cfglint.dialect.load import bundled_names

    plain = name.replace("-", "").replace("_", "")
    if not (plain.isascii() and plain.isalnum()):
        raise Problem(
            f"{where}: `{name}` cannot be a dialect's name here, where a file is called by it",
            instead="write it in letters, digits and hyphens",
        )
    if name in bundled_names():
        raise Problem(
            f"{where}: `{name}` is the name of a bundled dialect", instead="choose another"
        )


# ------------------------------------------------------------------ dumps


def _samples(
    options: Namespace, folder: str, config: Config | None, talk: Talk | None
) -> list[Sample]:
    """The dumps that were named, then those that are there."""
    found: dict[str, Sample] = {}
    for path in options.dump:
        _take(path, folder, config, found)
    there = list(_there(folder, config))
    if talk is not None and not options.dump and not there:
        from cfglint.cli.start_ask import ask_dumps

        ask_dumps(talk, lambda path: _take(path, folder, config, found))
    for one in there:
        found.setdefault(one.path, one)
    return list(found.values())


def _take(path: str, folder: str, config: Config | None, found: dict[str, Sample]) -> None:
    """Add a dump that was named.  Raises Problem for one that cannot be."""
    from cfglint.cli.start_files import read_there
    from cfglint.runner.check import as_source
    from cfglint.runner.reading import read_bytes

    if path == "-" and not os.path.lexists(path):
        raise Problem(
            "--dump -: a dump's name is the craft's, and standard input has none",
            instead="write it to a file first, such as `avocet.dump.txt`",
        )
    data = read_bytes(path, path)
    as_source(data, path)
    place = place_of(path, folder, config)
    for other in found.values():
        if other.path.casefold() != place.casefold():
            continue
        if os.path.realpath(other.origin) == os.path.realpath(path):
            return
        raise Problem(
            f"this dump and `{other.origin}` would both be `{place}`",
            file=path,
            instead="rename one of them; the name is the craft's",
        )
    there = os.path.join(folder, place)
    if os.path.exists(there) and os.path.samefile(path, there):
        found[place] = Sample(place, data)
    else:
        kept = read_there(folder, place)
        found[place] = Sample(place, data, path, kept=None if kept == data else kept)


def _there(folder: str, config: Config | None) -> Iterator[Sample]:
    """The dumps that are in the hangar already; one that cannot be read is left to the lint."""
    from cfglint.cli.start_files import read_there
    from cfglint.cli.start_hangar import PATTERN
    from cfglint.runner.discover import dumps_of
    from cfglint.runner.names import compiled

    if config is not None:
        files = [one.file for one in dumps_of(config)]
    else:
        try:
            names = sorted(os.listdir(os.path.join(folder, "dumps")))
        except OSError:
            names = []
        files = [f"dumps/{one}" for one in names if not one.startswith(".")]
        files = [one for one in files if compiled(PATTERN).fullmatch(one)]
    for file in files:
        data = read_there(folder, file)
        if data is not None:
            yield Sample(file, data, own=False)


# ------------------------------------------------------------------ cards


def _facts(
    options: Namespace,
    folder: str,
    config: Config | None,
    samples: Sequence[Sample],
    talk: Talk | None,
) -> dict[str, Facts]:
    """What is known of the hardware of each craft that has no card yet."""
    from cfglint.cli.start_card import Facts, check
    from cfglint.cli.start_hangar import card_of

    fresh = [
        one.craft
        for one in samples
        if not os.path.lexists(os.path.join(folder, card_of(config, one.path)))
    ]
    crafts = [one.craft for one in samples]
    found = {craft: Facts() for craft in crafts}
    for option, text in _answers(options):
        craft, rest = _meant(option, text, crafts, fresh)
        try:
            said = _said(option, rest)
            if craft:
                both = found[craft].plus(said)
                check(both)
                found[craft] = both
        except Problem as wrong:
            if wrong.file:  # a mistake in a file of answers has its place
                raise
            raise Problem(f"{option} {rest}: {wrong.message}", instead=wrong.instead) from None
    if talk is not None:
        from cfglint.cli.start_ask import ask_card

        for craft in fresh:
            found[craft] = ask_card(talk, craft, found[craft])
    return found


def _answers(options: Namespace) -> Iterator[tuple[str, str]]:
    for option in ("answers", "set", "switch"):
        for text in getattr(options, option):
            yield f"--{option}", text


def _meant(option: str, text: str, crafts: Sequence[str], fresh: Sequence[str]) -> tuple[str, str]:
    """The craft that an answer is for (``""`` where no card is to be made), and the answer."""
    from cfglint.near import listing, suggestion

    head, colon, rest = text.partition(":")
    if colon and head in crafts:
        return head, rest
    if colon and "=" not in head and option != "--answers":
        raise Problem(
            f"{option} {text}: there is no dump of a craft `{head}`",
            instead=suggestion(head, crafts) or "name its dump with --dump",
        )
    if not crafts:
        raise Problem(
            f"{option} {text}: there is no dump yet, and so no card to say it on",
            instead="name the craft's dump with --dump",
        )
    if len(fresh) > 1:
        raise Problem(
            f"{option} {text}: which craft is that of? Cards are to be made for "
            f"{listing(fresh[:12], 'and')}",
            instead=f"write `{option} {fresh[0]}:{text}`",
        )
    return (fresh[0] if fresh else ""), text


def _said(option: str, text: str) -> Facts:
    from cfglint.cli.start_card import fact, facts_of_file, switch
    from cfglint.runner.reading import read_bytes

    if option == "--answers":
        return facts_of_file(text, read_bytes(text, text))
    if option == "--switch":
        return switch(text)
    field, equals, value = text.partition("=")
    if not equals:
        raise Problem("there is no `=` in it", instead="write `--set FIELD=VALUE`")
    return fact(field.strip(), value)


# ------------------------------------------------------------------ what is told


def _told(folder: str, fates: Sequence[Fate], kept: Sequence[str]) -> Iterator[Block]:
    """What was made, and what was there."""
    made = [one for one in fates if one.made]
    there = [one for one in fates if not one.made]
    told = [f"{count(len(made), 'file', 'files')} made" if made else "nothing made"]
    number = len(there) + len(kept)
    told += [f"{number} there already"] if number else []
    yield Heading(
        (
            f"Hangar {folder}",
            ", ".join(told),
        )
    )
    for one in made:
        origin = f", copied from {one.file.origin}" if one.file.origin else ""
        yield Prose("made", f"{_place(folder, one.file.path)}{origin}")
    for one in there:
        if one.differs:
            yield Title("there", _place(folder, one.file.path), label_style="bold", style="")
            yield Prose(
                "",
                f"it is another than {one.file.origin}, and was left as it is: `cfglint compare "
                f"{_quoted(folder, one.file.path)} {_quoted('', one.file.origin)}` says how they "
                "differ; to have that one checked, put it there",
            )
        else:
            yield Prose("there", _place(folder, one.file.path))
    for path in kept:
        yield Prose("there", _place(folder, path))


def _notes(
    options: Namespace, folder: str, fates: Sequence[Fate], planned: Plan
) -> Iterator[Block]:
    """What is to be added by hand, and answers that went nowhere."""
    from cfglint.cli.start_texts import IGNORE, hook_block

    lines = list(planned.lines)
    if _lacks(folder, fates, HOOK, b"cfglint"):
        lines.append((_place(folder, HOOK), hook_block(options.repo)))
    if _lacks(folder, fates, IGNORED, IGNORE.strip().encode()):
        lines.append((_place(folder, IGNORED), IGNORE))
    for where, block in lines:
        yield Prose("add", f"to {where}:")
        yield Lines("", block)
    if any(True for _ in _answers(options)) and not planned.gaps:
        yield Prose("note", "every card is there already, so no answer was written into one")
    if not any(one.made for one in fates) and not lines:
        yield Prose("", f"nothing was changed; `cfglint lint {_quoted('', folder)}` checks it")


def _lacks(folder: str, fates: Sequence[Fate], path: str, words: bytes) -> bool:
    """Whether a file was there already and does not hold these words."""
    from cfglint.cli.start_files import read_there

    return any(
        one.file.path == path and not one.made and words not in (read_there(folder, path) or b"")
        for one in fates
    )


def _first_lint(options: Namespace, folder: str, codes: list[int]) -> Run:
    from cfglint.cli.output import colour_of, to_stdout
    from cfglint.report.terminal import write_text
    from cfglint.runner.here import Here
    from cfglint.runner.lint import Request, lint

    result = lint(Request((folder,)))
    codes.append(to_stdout(lambda stream: stream.write("\n")))
    shown = Here(result.root).run(result)
    codes.append(
        to_stdout(
            lambda stream: write_text(
                shown, file=stream, width=options.width, colour=colour_of(options)
            )
        )
    )
    codes.append(result.exit_code())
    return result


def _next(folder: str, fates: Sequence[Fate], planned: Plan, found: bool) -> Iterator[Block]:
    """What to do now, in order."""
    from cfglint.cli.start_texts import CAUTIONS

    yield None
    yield Heading(("Next",))
    for number, step in enumerate(_steps(folder, fates, planned, found), 1):
        yield Prose(f"{number}.", step)
    yield None
    yield Prose("caution", CAUTIONS)


def _steps(folder: str, fates: Sequence[Fate], planned: Plan, found: bool) -> Iterator[str]:

    here = _quoted("", folder)
    if not planned.samples:
        yield f"Make a dump of a craft, then `cfglint start hangar {here} --dump FILE`."
    if planned.draft is not None:
        path, number, drafted_from = planned.draft
        dumps = " ".join(_quoted(folder, one) for one in drafted_from)
        yield (
            f"{_place(folder, path)} is a draft with "
            f"{count(number, 'open question', 'open questions')}, and what rests on a guess is "
            "marked unconfirmed. "
            f"`cfglint teach {dumps} --ask -o {_quoted(folder, path)}` asks them."
        )
    for path, number in planned.gaps:
        if number:
            yield (
                f"{_place(folder, path)} leaves out {count(number, 'fact', 'facts')}. Fill in "
                "what you can see on the craft; each names the rules that wait for it."
            )
    if found:
        first = "Once the dialect is confirmed, put" if planned.draft is not None else "Put"
        yield (
            f"{first} right what was found at the controller, make the dump again, put it in the "
            f"old one's place, and `cfglint lint {here}`."
        )
    if planned.samples:
        one = next((one for one in planned.samples if one.own), planned.samples[0])
        yield f"`cfglint bench {_quoted(folder, one.path)}` prints the sheet for the bench."
    if any(one.file.path == HOOK and one.made for one in fates):
        yield "Put the folder under version control; `pre-commit install` turns its hook on."


def _quoted(folder: str, path: str) -> str:
    from shlex import quote

    return quote(_place(folder, path))


def _place(folder: str, path: str) -> str:
    """A file of the hangar as it is told: from where the person stands."""
    return os.path.normpath(os.path.join(folder, path))
