"""Options that other command-line programs usually have, and what stands for them here.

Somebody who types one knows what it does elsewhere: the answer is exact, and never the option
that happens to be spelt most alike.
"""

from __future__ import annotations

TYPE_CHECKING = False  # as in cfglint.cli
if TYPE_CHECKING:
    from collections.abc import Collection

#: What is wanted → what stands for it, the first that the command has; then what to do without.
_STANDS: dict[str, tuple[tuple[str, ...], str]] = {
    "form": (("--as",), "this command writes text"),
    "only": (("--only",), "`cfglint lint --only RULE` applies single rules"),
    "without": (("--without",), "`cfglint lint --without RULE` leaves rules out"),
    "file": (("--output", "--sarif"), "write `> FILE` behind the command"),
    "quiet": (("--quiet",), "write `> /dev/null` behind the command; its exit code tells"),
    "config": (("--config",), "name the dialect or the files by this command's own options"),
    "colour": (("--colour",), "what it writes has no colour"),
    "debug": (("--debug",), "set CFGLINT_DEBUG=1 to see where cfglint itself fails"),
    "fix": ((), "nothing is changed for you: each finding says what to enter at the controller, "
            "and `cfglint compare` ends with the lines to enter"),
    "diff": ((), "`cfglint compare BEFORE AFTER` says what differs between two dumps"),
    "zero": (("--floor",), "write `|| true` behind the command"),
    "counts": ((), "the last line of `cfglint lint` counts craft, rules and outcomes"),
    "jobs": ((), "as many processes are used as pay"),
    "cache": ((), "nothing is kept of a lint"),
    "strict": (("--floor",), "its exit code tells"),
    "exclude": ((), "name the files and folders to be read; in a hangar [[dumps]] in cfglint.toml "
                "says which there are"),
    "check": ((), "no command changes a dump: checking is all that `cfglint lint` does"),
    "watch": ((), "each run is one check; run it again after a change"),
    "list": ((), "`cfglint rules` lists them, `cfglint why RULE` explains one"),
    "version": ((), "`cfglint --version` tells it"),
}  # fmt: skip

#: How programs usually call it.
_USUAL = {
    "--format": "form",
    "--output-format": "form",
    "-f": "form",
    "--json": "form",
    "--select": "only",
    "--enable": "only",
    "--rule": "only",
    "--ignore": "without",
    "--disable": "without",
    "--extend-ignore": "without",
    "--output-file": "file",
    "--output": "file",
    "--out": "file",
    "-o": "file",
    "-q": "quiet",
    "--quiet": "quiet",
    "--silent": "quiet",
    "-s": "quiet",
    "-c": "config",
    "--config-file": "config",
    "--no-color": "colour",
    "--no-colour": "colour",
    "-v": "debug",
    "--verbose": "debug",
    "--fix": "fix",
    "--fix-only": "fix",
    "--unsafe-fixes": "fix",
    "--diff": "diff",
    "--exit-zero": "zero",
    "--statistics": "counts",
    "--stats": "counts",
    "--count": "counts",
    "-j": "jobs",
    "--jobs": "jobs",
    "--no-cache": "cache",
    "--strict": "strict",
    "--fail-on": "strict",
    "--exclude": "exclude",
    "--extend-exclude": "exclude",
    "--check": "check",
    "--dry-run": "check",
    "--watch": "watch",
    "-w": "watch",
    "--list-rules": "list",
    "--explain": "list",
    "--version": "version",
    "-V": "version",
}

#: Said after the option that stands for it.
_MORE = {
    "--sarif": "which writes SARIF; text goes to a file with `> FILE`",
    "--floor": "which says from which grade on findings end with 1; `|| true` ends with 0 always",
    "--colour": "as in `--colour never`",
    "--debug": "which shows where a rule crashed",
}


def usual(option: str, known: Collection[str]) -> str:
    """What to say of an option that other programs have, given those of the command at hand; ``""``
    if it is none.
    """
    want = _USUAL.get(option)
    if want is None:
        return ""
    here, otherwise = _STANDS[want]
    found = next((one for one in here if one in known), "")
    if not found:
        return f"there is no option `{option}`: {otherwise}"
    more = f", {_MORE[found]}" if found in _MORE else ""
    return f"`{option}` is called `{found}` here{more}"
