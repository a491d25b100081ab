"""``cfglint start``: write a first version of something of one's own."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.cli.parser import Parser

ABOUT = """\
Writes a first version of something of your own, that works at once and is yours to change.
Nothing that is there already is ever written over.

  cfglint start hangar [FOLDER]
      a folder with all that belongs to your craft: copies of their dumps, a hardware card for
      each, a dialect, cfglint.toml, a README, what pre-commit and a check script need. Then it
      is checked for the first time, and the exit code is that of the check. Run again, it adds
      what is missing (the next dump, with its card) and leaves the rest alone
  cfglint start demo [FOLDER]
      a copy of the demo fleet (in `saltmarsh`, if no folder is named), to try every command on
  cfglint start rule CONCERN/WHAT-IS-WRONG
      a rule with examples, and what pytest needs to test it by them; in Python, or (for what
      needs no code: limits, required settings, combinations) in TOML

In a terminal, `cfglint start` alone asks for what a hangar needs."""

#: What can be started, and how it is asked for.
KINDS = {
    "hangar": "cfglint start hangar [FOLDER]",
    "demo": "cfglint start demo [FOLDER]",
    "rule": "cfglint start rule CONCERN/WHAT-IS-WRONG",
}
#: Where the demo fleet goes unless a folder is named.
DEMO = "saltmarsh"

#: Where rules go unless a folder is named.
FOLDER = "club-rules"

#: What an option is when it is not given, by the kind that it is for.
DEFAULTS: dict[str, dict[str, Any]] = {
    "rule": {"form": "python", "folder": FOLDER},
    "hangar": {
        "dump": (),
        "dialect": "",
        "teach": "",
        "set": (),
        "switch": (),
        "answers": (),
        "title": "",
        "repo": "",
        "hook": "pre-commit",
        "ci": "script",
        "ask": None,
    },
}
#: Options that are not called as what they mean.
WRITTEN = {"form": "as", "folder": "in", "title": "name"}


def arguments(parser: Parser) -> None:
    from cfglint.cli.parser import one_of

    add = parser.add_argument
    kinds = ", ".join(KINDS)
    add("kind", nargs="?", type=one_of(*KINDS), metavar="KIND", help=f"what to start: {kinds}")
    add(
        "name",
        nargs="?",
        default="",
        metavar="NAME",
        help="a hangar's folder (here, if none is named), the demo's, or a rule's name, as in "
        "tide/no-float-mode",
    )
    _hangar_arguments(parser)
    add = parser.add_argument_group("for a rule").add_argument
    add(
        "--as",
        dest="form",
        type=one_of("python", "toml"),
        metavar="FORM",
        help="write it in `python`, or in `toml`, which needs no code",
    )
    add(
        "--in",
        dest="folder",
        metavar="FOLDER",
        help=f"the folder to write into, made if need be (default: {FOLDER})",
    )


def _hangar_arguments(parser: Parser) -> None:
    from cfglint.cli.parser import one_of

    add = parser.add_argument_group("for a hangar").add_argument
    add(
        "--dump",
        action="append",
        metavar="FILE",
        help="copy this dump, byte for byte; its name is the craft's (may be given again)",
    )
    add(
        "--dialect",
        metavar="NAME|FILE",
        help="what reads the dumps: a bundled dialect, or a file, which is copied. Without it "
        "they are recognised, and what no dialect reads is taught",
    )
    add("--teach", metavar="NAME", help="draft a dialect of this name from the dumps")
    add(
        "--set",
        action="append",
        metavar="[CRAFT:]FIELD=VALUE",
        help="say this on the new card, as in esc.signals=dshot300,dshot600 (may be given again; "
        "with several new cards CRAFT says which)",
    )
    add(
        "--switch",
        action="append",
        metavar="[CRAFT:]SWITCH",
        help="describe a switch on the new card, as in K5=5:988,2012 or "
        "K1=6:up=988,middle=1500,down=2012 (may be given again)",
    )
    add(
        "--answers",
        action="append",
        metavar="[CRAFT:]FILE",
        help="put the facts of this file, written as a card is, on the new card",
    )
    add("--name", dest="title", metavar="TEXT", help="what the hangar is called")
    add("--repo", metavar="ADDRESS", help="where pre-commit is to take cfglint from")
    add(
        "--hook",
        type=one_of("pre-commit", "none"),
        metavar="WHAT",
        help="pre-commit (default) or none",
    )
    add(
        "--ci",
        type=one_of("script", "none"),
        metavar="WHAT",
        help="script (default), which any CI can call, or none",
    )
    add("--ask", action="store_true", default=None, help="ask for what is not said")
    add(
        "--no-ask",
        dest="ask",
        action="store_false",
        help="ask nothing (default where there is no terminal)",
    )


def run(options: Namespace) -> int:
    from cfglint.cli.output import to_stdout
    from cfglint.errors import Problem

    options.bare = not options.kind
    if options.bare:
        from cfglint.cli.start_run import at_terminal
        from cfglint.near import listing

        if any(
            vars(options)[name] is not None
            for defaults in DEFAULTS.values()
            for name in defaults
            if name != "ask"
        ):
            raise Problem(
                "it is not said what to start", instead=f"write {listing(KINDS.values())}"
            )
        if not options.ask and not (at_terminal() and options.ask is None):
            rows = "".join(f"  {line}\n" for line in KINDS.values())
            more = "`cfglint start --help` tells more.\n"
            return to_stdout(lambda stream: stream.write(f"What can be started:\n{rows}{more}"))
        options.kind = "hangar"
    _fit(options)
    if options.kind == "hangar":
        from cfglint.cli.start_run import run as start_hangar

        return start_hangar(options)
    if options.kind == "demo":
        from cfglint.cli.start_demo import start_demo

        steps = start_demo(options.name or DEMO)
        return to_stdout(lambda stream: stream.write(steps))
    if not options.name:
        raise Problem("the rule needs a name", instead=f"write `{KINDS['rule']}`")
    text = start_rule(options.name, options.folder, options.form)
    return to_stdout(lambda stream: stream.write(text))


def _fit(options: Namespace) -> None:
    """Options of the other kind are an error; those that are not given get their defaults."""
    from cfglint.errors import Problem

    given = vars(options)
    for kind, defaults in DEFAULTS.items():
        for name, default in defaults.items():
            if given[name] is None:
                given[name] = default
            elif kind != options.kind:
                raise Problem(
                    f"--{WRITTEN.get(name, name)} is for `cfglint start {kind}`, not for a "
                    f"{options.kind}",
                    instead="leave it out; `cfglint start --help` shows what is for which",
                )


# ------------------------------------------------------------------ a rule


def start_rule(name: str, folder: str, form: str = "python") -> str:
    """Write a rule of this name and what pytest needs; gives the next three steps.

    Raises Problem for a name that cannot be or is taken, and for a file that is there already or
    cannot be written.
    """
    from cfglint.rule import API_VERSION

    _check_name(name)
    file = os.path.join(folder, _file_name(name, ".toml" if form == "toml" else ".py"))
    what = name.partition("/")[2]
    text = (TOML if form == "toml" else RULE).format(
        name=name,
        api=API_VERSION,
        title=what.replace("-", " ").capitalize(),
        function=_function_name(what),
    )
    settings = os.path.join(folder, "pytest.ini")
    try:
        os.makedirs(folder, exist_ok=True)
    except OSError as wrong:
        raise _unwritten(folder, wrong) from None
    _write(file, text)
    test = f"pytest {_quoted(folder)}"
    if not os.path.lexists(settings):
        _write(settings, SETTINGS)
    elif not _asks_for_rules(settings):
        test = f"pytest --cfglint-rules {_quoted(folder)} {_quoted(folder)}"
    return STEPS.format(file=file, test=test, folder=_quoted(folder), name=name)


def _check_name(name: str) -> None:
    from cfglint.errors import Problem
    from cfglint.plugins import load_rules
    from cfglint.rule import rule

    try:
        rule(name, grade="fix", title="", why="", source="")
    except ValueError:
        raise Problem(
            f"`{name}` cannot be a rule's name",
            instead="write what it concerns, a slash and what is wrong, in small letters, digits "
            "and hyphens: `tide/no-float-mode`",
        ) from None
    for other in load_rules().rules:
        if name in (other.id, *other.aliases):
            raise Problem(
                f"a rule is called `{name}` already, in the pack `{other.pack}`",
                instead=f"choose another name; `cfglint why {name}` shows what that one does",
            )


def _file_name(name: str, end: str) -> str:
    stem = name.replace("/", "_").replace("-", "_")
    # pytest's own tests and helpers are called so; see cfglint.rulefiles.
    return f"rule_{stem}{end}" if stem.startswith(("test_", "_")) else f"{stem}{end}"


def _function_name(what: str) -> str:
    from keyword import iskeyword

    name = what.replace("-", "_")
    plain = name.isidentifier() and not name.startswith("_") and not iskeyword(name)
    return name if plain and name not in TAKEN else f"rule_{name}"


def _asks_for_rules(settings: str) -> bool:
    try:
        with open(settings, encoding="utf-8", errors="replace") as file:
            return "cfglint_rules" in file.read()
    except OSError:
        return False


def _quoted(path: str) -> str:
    from shlex import quote

    return quote(path)


def _write(path: str, text: str) -> None:
    """Write a new file; one that is there, a link to nowhere included, is left alone."""
    from cfglint.cli.whole import write_text
    from cfglint.errors import Problem

    instead = "name another folder with --in, or look at its permissions"
    if not write_text(path, text, over=False, instead=instead):
        raise Problem(
            "this file is there already, and nothing was written",
            file=path,
            instead="choose another name, or another folder with --in",
        )


def _unwritten(path: str, wrong: OSError) -> Exception:
    from cfglint.errors import Problem

    return Problem(
        f"cannot be written: {wrong.strerror or wrong}",
        file=path,
        instead="name another folder with --in, or look at its permissions",
    )


#: Names that the file uses itself.
TAKEN = frozenset({"rule", "good", "bad", "unknown", "cfglint_api", "cfglint_rules", "annotations"})

SETTINGS = """\
# `pytest` in this folder, or `pytest` with its name, tests the rules by the examples beside them.
# To test them with all else, put `cfglint_rules = <this folder>` into the settings of the whole.
[pytest]
cfglint_rules = .
"""

STEPS = """\
{file} is written, a rule that works. Next:

1. {test}
   tests it by its examples. Run it again after every change.
2. Make it yours in {file}: first the examples, then the
   question; the comments say how.
3. cfglint lint --rules {folder} --only {name}
   asks it of your craft. Run it in their hangar.
"""

RULE = '''\
"""A rule of our own.  What stands here works; change it, examples first, into what you mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.rule import Finding, Option, bad, good, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Options

#: The versions of cfglint's rule interface that this file is written for.
cfglint_api = ({api}, {api})


@rule(
    "{name}",
    # ground: do not fly; fix: put right before the next flight; advise: worth a look.
    grade="fix",
    title="{title}",
    why="""
    Say here what happens to a craft on which this is wrong.
    """,
    # Where this is published, or `common practice`.
    source="common practice",
    # A number or word that a hangar may set for itself in cfglint.toml.
    options=(Option("most_percent", 10.0, "highest idle, % of full throttle", least=0, most=100),),
    # The examples are the tests, and what `cfglint why` shows.  Dumps are written in the bundled
    # dialect `plain`; the carets stand under what is wrong, and after them words of the message.
    examples=(
        good("let least-spin be 5.4"),
        bad(
            """
            let least-spin be 15
                              ^^ 15% 10%
            """
        ),
        # Where nobody says, the rule must not guess.
        unknown("let motor-signal be dshot300", missing="motor.idle_percent"),
    ),
)
def {function}(craft: Craft, options: Options) -> Iterator[Finding]:
    idle = craft.need("motor.idle_percent")  # ends here, as unknown, if nobody says
    if idle.value > options.most_percent:
        yield Finding(
            craft.place(idle),
            # What is wrong, on which value, and why it matters.
            f"the motors idle at {{idle}}, above {{options.most_percent:g}}%: it may creep unasked",
            instead=f"set motor.idle_percent to {{options.most_percent:g}} or less",
        )
'''

TOML = '''\
# A rule of our own.  What stands here works; change it, examples first, into what you mean.

[[rule]]
id = "{name}"
# ground: do not fly; fix: put right before the next flight; advise: worth a look.
grade = "fix"
title = "{title}"
why = "Say here what happens to a craft on which this is wrong."
# Where this is published, or `common practice`.
source = "common practice"
# What is asked, and what must hold: at_least, at_most, between, is, not, one_of, none_of, …
setting = "motor.idle_percent"
at_most = 10
# What is wrong, on which value, and why it matters; then what to do.
message = "the motors idle at {{value}}, which is not {{wanted}}: it may creep unasked"
instead = "set motor.idle_percent to {{wanted}}"

# The examples are the tests, and what `cfglint why` shows.  Dumps are written in the bundled
# dialect `plain`; the carets stand under what is wrong, and after them words of the message.
[[rule.example]]
kind = "good"
dump = "let least-spin be 5.4"

[[rule.example]]
kind = "bad"
dump = """
let least-spin be 15
                  ^^ 15% 10%
"""

# Where nobody says, the rule does not guess.
[[rule.example]]
kind = "unknown"
missing = "motor.idle_percent"
dump = "let motor-signal be dshot300"
'''
