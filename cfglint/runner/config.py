"""``cfglint.toml``, the file at the root of a hangar.

It names things and sets numbers; nothing in it (and nothing else of a checked repository) is
ever executed::

    [hangar]
    name = "Saltmarsh Survey Club"
    rule_files = ["rules/*.toml"]   # rules without code; see cfglint.toml_rules

    [[dumps]]                       # the first entry that fits a file counts
    files = ["dumps/*.dump.txt"]    # or one text; * and ? stay within a folder, ** does not
    dialect = "plain"               # bundled, or named below; left out: recognised
    card = "cards/{stem}.toml"      # {stem}: avocet of dumps/avocet.dump.txt; {folder}: dumps
    craft = "{stem}"                # name, unless the dump itself or the card says it
    extent = "full"                 # or "changes", unless the dump says it

    [dialects]
    mine = "dialects/mine.toml"

    [rules]
    "motor/left-on-default-signal" = "off"                      # or a grade
    "modes/edge-too-near" = { grade = "advise", margin_us = 30 }

    [lint]
    floor = "fix"                   # findings below this grade do not make the run fail

    [[accept]]                      # see cfglint.runner.accept_file
    rule = "modes/near-a-range-edge"
    craft = "Avocet"
    reason = "the switch has a detent there"
    by = "Ines"
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.errors import EXIT_UNREAD, Problem, raise_all
from cfglint.rule import GRADES
from cfglint.runner.here import Here, from_here
from cfglint.runner.names import stem
from cfglint.runner.reading import check_within

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from cfglint.schema import Shape
    from cfglint.span import Span
    from cfglint.tomltext import Document

NAME = "cfglint.toml"
#: The file beside it that ``cfglint accept`` writes (see cfglint.runner.accept_file).
ACCEPTED = "accepted.toml"
PLACEHOLDERS = ("stem", "folder")


class Dumps(NamedTuple):
    """One ``[[dumps]]`` entry; empty texts where it says nothing."""

    files: tuple[str, ...]
    dialect: str
    card: str
    craft: str
    extent: str
    at: int

    def card_of(self, file: str) -> str:
        """The card of a dump (both relative to the root), ``""`` if the entry names none."""
        return fill(self.card, file)

    def craft_of(self, file: str) -> str:
        return fill(self.craft, file)


class Config:
    """A hangar's settings.  ``root`` is absolute, all paths in it are relative to that."""

    __slots__ = (
        "dialects",
        "document",
        "dumps",
        "file",
        "floor",
        "name",
        "root",
        "rule_files",
        "rules",
    )

    def __init__(self, root: str, document: Document) -> None:
        data = document.data
        self.root = root
        self.document = document
        self.file = document.file
        self.name: str = data.get("hangar", {}).get("name", "")
        self.dumps = tuple(_entry(at, row) for at, row in enumerate(data.get("dumps", ())))
        rule_files = data.get("hangar", {}).get("rule_files", ())
        self.rule_files = (rule_files,) if isinstance(rule_files, str) else tuple(rule_files)
        self.dialects: Mapping[str, str] = data.get("dialects", {})
        self.rules: Mapping[str, Any] = data.get("rules", {})
        self.floor: str = data.get("lint", {}).get("floor", "")

    def where(self, *path: str | int) -> Span:
        return self.document.where_value(*path)


def find_root(start: str) -> str:
    """The nearest folder at or above ``start`` that holds a ``cfglint.toml``, ``""`` if none."""
    folder = os.path.abspath(start)
    while True:
        path = os.path.join(folder, NAME)
        # A dangling link counts: it was meant to be one, and reading it will say so.
        if os.path.lexists(path) and not os.path.isdir(path):
            return folder
        above = os.path.dirname(folder)
        if above == folder:
            return ""
        folder = above


def own_config(root: str) -> Config:
    """The configuration that lies in a hangar.  Raises Problem(s), as read_config and
    check_within do.
    """
    path = os.path.join(root, NAME)
    check_within(root, path, from_here(path))
    return read_config(path)


def read_config(path: str, root: str = "") -> Config:
    """The configuration in a file; ``root`` is its own folder unless said otherwise.

    Raises Problem(s): unreadable, not TOML, unknown keys, wrong types, paths that leave the
    hangar.  Rules are checked later, when they are known (see ``cfglint.runner.select``).
    """
    path = os.path.abspath(path)
    root = os.path.abspath(root) if root else os.path.dirname(path)
    shown = os.path.relpath(path, root).replace(os.sep, "/")
    try:
        with open(path, "rb") as file:
            data = file.read()
    except OSError as wrong:
        raise Problem(
            f"the configuration cannot be read: {wrong.strerror or wrong}",
            file=from_here(path),
            instead="put the file right or name another with --config",
            exit=EXIT_UNREAD,
        ) from None
    try:
        return parse_config(shown, root, data)
    except Problem as problem:
        raise Here(root).problem(problem) from None


def parse_config(file: str, root: str, data: bytes) -> Config:
    """The configuration that ``data`` holds (see :func:`read_config`)."""
    from cfglint.schema import check_table
    from cfglint.tomltext import load

    document = load(file, data)
    raise_all(check_table(document, (), shape()))
    config = Config(root, document)
    raise_all(_unknown_dialects(config))
    return config


def fill(template: str, file: str) -> str:
    """A template with its placeholders replaced for one file."""
    if "{" not in template:
        return template
    folder = os.path.dirname(file)
    filled = template.replace("{stem}", stem(file)).replace("{folder}", folder or ".")
    return os.path.normpath(filled).replace(os.sep, "/") if "{folder}" in template else filled


def _entry(at: int, row: Mapping[str, Any]) -> Dumps:
    files = row["files"]
    return Dumps(
        (files,) if isinstance(files, str) else tuple(files),
        row.get("dialect", ""),
        row.get("card", ""),
        row.get("craft", ""),
        row.get("extent", ""),
        at,
    )


def shape() -> Shape:
    """All that a ``cfglint.toml`` may say."""
    from cfglint.schema import anything, either, many, table, text

    files = "which files, as in `dumps/*.dump.txt`"
    entry = table(
        {
            "files": either(
                text(check=_pattern),
                many(text(check=_pattern), least=1),
                about=files,
                required=True,
            ),
            "dialect": text("a bundled dialect or one of [dialects]", check=_filled),
            "card": text("a path such as `cards/{stem}.toml`", check=_card),
            "craft": text("a name such as `{stem}`", check=_template),
            "extent": text("what the dumps list", choices=("full", "changes")),
        }
    )
    rule = either(
        text(choices=("off", *GRADES)),
        table({"grade": text(choices=("off", *GRADES))}, free=anything()),
        about="`off`, a grade, or a table of the rule's options",
    )
    return table(
        {
            "hangar": table(
                {
                    "name": text("what the hangar is called", check=_filled),
                    "rule_files": either(
                        text(check=_rule_files),
                        many(text(check=_rule_files), least=1),
                        about="files of rules in TOML, as in `rules/*.toml`",
                    ),
                }
            ),
            "dumps": many(entry, "which files are dumps, and how each is read"),
            "dialects": table(free=text("path of a dialect file", check=_path)),
            "rules": table(free=rule),
            "lint": table(
                {"floor": text("the mildest grade that makes a run fail", choices=GRADES)}
            ),
            "accept": many(accept_shape(), "findings that are lived with, and why"),
        }
    )


def accept_shape() -> Shape:
    """One ``[[accept]]``.  What it lacks of a decision (reason, name) is a finding, not a mistake
    here.
    """
    from cfglint.schema import anything, table, text

    return table(
        {
            "rule": text("the rule whose finding is accepted", required=True, check=_filled),
            "craft": text("the craft's name", check=_filled),
            "file": text("the dump, as in `dumps/avocet.dump.txt`", check=_path),
            "line": text("the text of the line that the finding begins on", check=_filled),
            "setting": text("a setting such as `motor.idle_percent`", check=_setting),
            "print": text("the finding's fingerprint", check=_filled),
            "reason": text("why it can be lived with"),
            "by": text("who decided it"),
            "until": anything("the last day it holds for, as in `2027-03-31`", check=_date),
        },
        check=_place,
    )


def _place(row: Mapping[str, Any]) -> str:
    return "" if "craft" in row or "file" in row else "says neither `craft` nor `file`; name one"


def _date(value: Any) -> str:
    from cfglint.runner.accept import day

    return "" if day(str(value)) else f"is `{str(value)[:40]}`, which is no date as `2027-03-31`"


def _setting(value: str) -> str:
    from cfglint.craft.card import FIELDS
    from cfglint.craft.settings import SETTINGS, family
    from cfglint.near import suggestion

    if family(value) in SETTINGS or family(value) in FIELDS:
        return ""
    instead = suggestion(value, [*SETTINGS, *FIELDS])
    return f"is `{value[:60]}`, which is no setting" + (f"; {instead}" if instead else "")


def _filled(value: str) -> str:
    return "" if value.strip() else "is blank"


def _path(value: str) -> str:
    if not value.strip():
        return "is blank"
    parts = value.replace("\\", "/").split("/")
    if value.startswith(("/", "\\", "~")) or value[1:2] == ":" or ".." in parts:
        return f"is `{value[:60]}`, which leads out of the hangar; write a path inside it"
    return ""


def _pattern(value: str) -> str:
    from cfglint.runner.names import compiled

    wrong = _path(value)
    if wrong:
        return wrong
    try:
        compiled(value)
    except ValueError as bad:
        return f"is `{value[:60]}`, which is no pattern: {bad}"
    return ""


def _rule_files(value: str) -> str:
    wrong = _pattern(value)
    if not wrong and value.endswith(".py"):
        return "names Python, which a hangar cannot have run; name its folder with --rules"
    return wrong or ("" if value.endswith(".toml") else "must end in `.toml`")


def _template(value: str) -> str:
    import re

    from cfglint.near import suggestion

    for name in re.findall(r"\{([^{}]*)\}?", value):
        if name not in PLACEHOLDERS:
            instead = suggestion(name, PLACEHOLDERS)
            return f"holds `{{{name[:40]}}}`, which stands for nothing; {instead}"
    return _filled(value)


def _card(value: str) -> str:
    return _path(value) or _template(value)


def own_dialects(config: Config | None) -> dict[str, str]:
    """The files of dialects that are not bundled, by name: the hangar's, from its root, and those
    that packs offer, by their whole paths.
    """
    from cfglint.plugins import host

    own = config.dialects if config is not None else {}
    return {**own, **{name: path for name, path in host().dialects().items() if name not in own}}


def _unknown_dialects(config: Config) -> Iterator[Problem]:
    from cfglint.dialect.load import bundled_names
    from cfglint.near import suggestion

    bundled = bundled_names()
    for name in config.dialects:
        if name in bundled:
            yield Problem(
                f"`{name}` is the name of a bundled dialect",
                span=config.document.where("dialects", name),
                instead="give the hangar's own dialect another name",
            )
    known = [*config.dialects, *bundled]
    for entry in config.dumps:
        if entry.dialect and entry.dialect not in known:
            known = [*own_dialects(config), *bundled]
        if entry.dialect and entry.dialect not in known:
            yield Problem(
                f"there is no dialect `{entry.dialect}`",
                span=config.where("dumps", entry.at, "dialect"),
                instead=suggestion(entry.dialect, known) or "name its file under [dialects]",
            )
