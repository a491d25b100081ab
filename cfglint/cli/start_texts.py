"""What the files of a new hangar say, but for its cards."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def config(name: str, dialects: Mapping[str, str], read_by: Mapping[str, Sequence[str]]) -> str:
    """The ``cfglint.toml`` of a hangar.

    ``dialects`` are its own, name → path.  ``read_by`` says which dialect reads which dumps
    (patterns), in the order in which the entries count; ``""`` is for those that are recognised.
    """
    from cfglint.tomlwrite import text as quoted

    parts = [CONFIG.format(name=quoted(name))]
    parts += [entry(files, dialect) for dialect, files in read_by.items()]
    if dialects:
        parts.append(own(dialects))
    return "\n".join([*parts, FLOOR])


def entry(files: Sequence[str], dialect: str) -> str:
    """One ``[[dumps]]`` entry."""
    from cfglint.tomlwrite import text as quoted

    rows = quoted(files[0]) if len(files) == 1 else f"[{', '.join(map(quoted, files))}]"
    read = f"dialect = {quoted(dialect)}\n" if dialect else RECOGNISED
    return f'[[dumps]]\nfiles = {rows}\n{read}card = "cards/{{stem}}.toml"\n'


def own(dialects: Mapping[str, str]) -> str:
    """The ``[dialects]`` table."""
    from cfglint.tomlwrite import text as quoted

    rows = "".join(f"{quoted(one)} = {quoted(path)}\n" for one, path in dialects.items())
    return f"[dialects]\n{rows}"


def pre_commit(repo: str) -> str:
    """``.pre-commit-config.yaml``: the published hook at ``repo``, or the installed command."""
    from json import dumps

    return HOOK.format(repo=dumps(repo, ensure_ascii=False)) if repo else LOCAL_HOOK


def hook_block(repo: str, inside: str = "") -> str:
    """What a ``.pre-commit-config.yaml`` that is there lacks; ``inside`` is where the hangar lies
    in the repository.
    """
    from json import dumps

    text = pre_commit(repo)
    block = text[text.index("\nrepos:\n") + 1 :]
    return block + (f"        args: [{dumps(inside, ensure_ascii=False)}]\n" if inside else "")


CONFIG = """\
# A hangar: each dump in dumps/ has its hardware card in cards/. README.md says what is where.

[hangar]
name = {name}
# Rules of your own that need no code; `cfglint start rule CONCERN/WHAT-IS-WRONG --as toml
# --in rules` writes a first one. Once there is one, take the mark away:
# rule_files = ["rules/*.toml"]
"""

RECOGNISED = "# No dialect is named: that of each dump is recognised.\n"

FLOOR = """\
# Findings below this grade do not make a run fail: ground, fix or advise.
[lint]
floor = "advise"
"""

HOOK = """\
# `pre-commit install` turns it on: a commit is refused while a dump has findings.
# HEAD is the commit that stands there when the hook is first used. `pre-commit autoupdate
# --bleeding-edge` puts its number here instead, so that everybody has the same.
repos:
  - repo: {repo}
    rev: HEAD
    hooks:
      - id: cfglint
"""

LOCAL_HOOK = """\
# `pre-commit install` turns it on: a commit is refused while a dump has findings.
# It runs the cfglint that is installed. To have it installed by pre-commit, put in place of the
# block below, with the address of cfglint's repository:
#
#   - repo: ADDRESS
#     rev: HEAD
#     hooks:
#       - id: cfglint
#
# and `pre-commit autoupdate --bleeding-edge` puts the number of a commit in place of HEAD.
repos:
  - repo: local
    hooks:
      - id: cfglint
        name: cfglint
        entry: cfglint lint
        language: system
        types: [file]
        pass_filenames: false
        require_serial: true
"""

SCRIPT = """\
#!/bin/sh
# Checks this hangar. Whatever runs your checks calls it: `sh .ci/lint`.
#
# It needs cfglint on the path, and ends as `cfglint lint` does: 0 all clear, 1 findings, 2 wrong
# use or configuration, 3 something could not be read, 4 nothing to check. The report is printed;
# SARIF, for whatever shows findings beside the lines, goes to $SARIF, or to cfglint.sarif beside
# cfglint.toml, which .gitignore names. Words after `.ci/lint` go to `cfglint lint`, such as
# `--profile hosted`.
set -eu
hangar=$(dirname "$0")/..
exec cfglint lint --sarif "${SARIF:-$hangar/cfglint.sarif}" --colour never "$@" "$hangar"
"""

#: What a run of the script leaves behind.
IGNORE = """\
cfglint.sarif
"""

README = """\
# {name}

The setups of our craft, checked by `cfglint` before they fly.

| where | what |
|---|---|
| `dumps/` | what each controller printed when asked for its settings, unchanged: `NAME.dump.txt` |
| `cards/` | what a dump cannot say, one hardware card a craft: `NAME.toml` |
| `dialects/` | how our firmware writes its dumps, if no bundled dialect reads them |
| `rules/` | rules of our own |
| `cfglint.toml` | which files are dumps, and which rules count how much |
| `accepted.toml` | findings that we live with, if there are any; `cfglint accept` writes it |

`cfglint lint` here checks everything, `cfglint why RULE` explains a finding, `cfglint bench
dumps/NAME.dump.txt` prints the sheet to walk through at the bench. A new craft: `cfglint start
hangar --dump FILE`; what is there already stays as it is.

## Around a firmware update

1. Before: make a dump, put it into `dumps/` and keep it (commit it). If the update goes wrong it
   is all that is left.
2. Update as the maker says, propellers off.
3. After: make a dump again, before anything is entered. `cfglint compare BEFORE AFTER` says
   what was lost or means something else now, and what to enter. With Git and the new dump in the
   old one's place: `cfglint compare --at HEAD dumps/NAME.dump.txt`.
4. Enter it, make a last dump, put it into `dumps/`, and run `cfglint lint`.
5. Go through the bench sheet. A dump says what is set, not which way a motor turns.

## Cautions

A clean run does not make a craft safe to fly: cfglint has read text, it has not seen the craft.
Local aviation rules and the makers' instructions come first. Propellers are off before a battery is
connected at the bench, and the first power after any change of wiring or firmware comes through a
current limiter. Motors are tested one at a time, and failsafe by switching the transmitter off,
propellers still off. Damaged packs are neither flown nor charged.
"""

CAUTIONS = (
    "Before anybody goes to the bench: propellers off before a battery is connected, the first "
    "power after a change of wiring or firmware through a current limiter, motors one at a time. "
    "Local aviation rules and the makers' instructions come first; a clean run does not make a "
    "craft safe to fly."
)
