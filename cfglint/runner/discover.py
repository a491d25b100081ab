"""Which files a run checks, from the paths on the command line.

=============================  ==========================================================
a file                         that file, whatever it is called; an entry of the hangar's
                               ``[[dumps]]`` that fits its name says how to read it
a hangar's root                every file that an entry of ``[[dumps]]`` fits
another folder of a hangar     those of them that lie below it
a folder outside any hangar    every ``*.dump.txt`` and ``*.dump`` below it
``-``                          standard input, as if it were the file that it is said to be
=============================  ==========================================================

A hangar is a folder with ``cfglint.toml`` in it; it is looked for at each path and upwards, and
for paths outside of any at the current folder.  One run is about one hangar.  Links to files are
followed, links to folders are not (so a loop is none), names that begin with a dot are passed
over.  So are packed dumps, and that is said.  Files come sorted by name, each once.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple

from cfglint.errors import EXIT_CLEAR, EXIT_NOTHING, EXIT_UNREAD, EXIT_USE, Problem
from cfglint.results import Trouble
from cfglint.runner.config import NAME, Config, Dumps, find_root, own_config, read_config
from cfglint.runner.names import SUFFIXES, compiled, is_dump_name, is_wild, unpacked
from cfglint.runner.reading import STDIN, check_within, standard_input

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


class Dump(NamedTuple):
    """A file to be checked: where it is, how it is named, and the entry that fits it.

    ``data`` are its bytes if they came from standard input.  ``below`` is the folder that was
    searched for it, where that is of no hangar.
    """

    path: str
    file: str
    entry: Dumps | None
    named: bool
    data: bytes | None = None
    below: str = ""


class Finds(NamedTuple):
    """What there is to check.  ``root`` is what file names are relative to (absolute)."""

    root: str
    config: Config | None
    dumps: tuple[Dump, ...]
    troubles: tuple[Trouble, ...]


def discover(paths: Sequence[str], config_file: str = "", stdin_name: str = "") -> Finds:
    """Find what the paths mean.

    ``stdin_name`` is the file that standard input is to count as, which need not be there.  Paths
    that lead nowhere become troubles, so that the others are still checked.  Raises Problem(s)
    for a wrong configuration, for paths that belong to different hangars and for a standard input
    that cannot be read.
    """
    there = [path for path in paths if path == "-" or os.path.lexists(path)]
    if config_file:
        config: Config | None = read_config(config_file)
    else:
        config = _common_config([stdin_name if path == "-" else path for path in there])
    root = config.root if config is not None else _common_folder([p for p in there if p != "-"])
    search = _Search(root, config)
    for path in dict.fromkeys(there):
        if path == "-":
            search.standard_input(stdin_name)
        else:
            search.add(path)
    troubles = [_no_such_path(path, search) for path in paths if path not in there]
    troubles += search.troubles
    dumps = tuple(sorted(search.dumps.values(), key=lambda dump: dump.file))
    if there and not dumps and not any(trouble.kind == "file" for trouble in troubles):
        # One message for a hangar that is still empty, not one more for each of its entries.
        troubles = [one for one in troubles if one not in search.unfit]
        troubles.append(_nothing(there, config))
    if search.packed:
        troubles.append(_passed_over(sorted(search.packed)))
    return Finds(root, config, dumps, tuple(troubles))


def dumps_of(config: Config) -> tuple[Dump, ...]:
    """Every dump that a hangar's ``[[dumps]]`` name, by file."""
    search = _Search(config.root, config)
    search.hangar(config, config.root)
    return tuple(sorted(search.dumps.values(), key=lambda dump: dump.file))


def fitting(config: Config, pattern: str) -> list[str]:
    """The files (whole paths) of a hangar that a pattern fits, sorted."""
    return sorted(_Search(config.root, config).expand(pattern))


class _Search:
    """Collects dumps below one root."""

    def __init__(self, root: str, config: Config | None) -> None:
        self.root = root
        self.config = config
        self.dumps: dict[str, Dump] = {}
        self.troubles: list[Trouble] = []
        self.unfit: list[Trouble] = []
        self.packed: set[str] = set()

    def add(self, path: str) -> None:
        """What one path of the command line means."""
        whole = os.path.abspath(path)
        if not os.path.isdir(whole):
            file = self.name(whole)
            self.dumps[whole] = Dump(whole, file, self.entry(file), named=True)
        elif self.config is None or not _within(whole, self.root):
            self.loose(whole)
        else:
            self.hangar(self.config, whole)

    def standard_input(self, name: str) -> None:
        """Standard input, which counts as the file ``name`` if that is said."""
        whole = os.path.abspath(name) if name else STDIN
        file = self.name(whole) if name else STDIN
        entry = self.entry(file) if name else None
        self.dumps[whole] = Dump(whole, file, entry, True, standard_input(file))

    def loose(self, folder: str) -> None:
        """Files named like dumps, below a folder that belongs to no hangar."""
        for path, is_folder in self.walk(folder, depth=-1):
            if is_folder and os.path.lexists(os.path.join(path, NAME)):
                self.troubles.append(self.inner_hangar(path))
            elif is_dump_name(os.path.basename(path)):
                # Of a folder that is named like a dump, reading says what is wrong.
                self.dumps.setdefault(
                    path, Dump(path, self.name(path), None, named=False, below=folder)
                )
            elif not is_folder and is_dump_name(unpacked(os.path.basename(path))):
                self.packed.add(self.name(path))

    def hangar(self, config: Config, folder: str) -> None:
        """Files that an entry fits, below a folder of a hangar."""
        below = "" if folder == self.root else self.name(folder) + "/"
        for entry in config.dumps:
            found = False
            for pattern in entry.files:
                for path in self.expand(pattern, below):
                    found = True
                    file = self.name(path)
                    if file.startswith(below) and path not in self.dumps:
                        # An entry before this one may fit too; the first counts.
                        self.dumps[path] = Dump(path, file, self.entry(file), named=False)
            if not found:
                self.unfitted(config, entry)

    def unfitted(self, config: Config, entry: Dumps) -> None:
        """A whole entry that fits nothing is a slip, most likely in a folder's name."""
        trouble = Trouble(
            "config",
            "this entry of [[dumps]] fits no file: " + ", ".join(f"`{one}`" for one in entry.files),
            "look at the folder's name, or take the entry out",
            EXIT_USE,
            config.file,
            config.where("dumps", entry.at, "files"),
        )
        if trouble not in self.unfit:
            self.unfit.append(trouble)
            self.troubles.append(trouble)

    def expand(self, pattern: str, below: str = "") -> Iterator[str]:
        """The files below the root that a pattern fits, in no promised order.

        Packed ones that it would fit are noted if their names begin with ``below``.
        """
        parts = [part for part in pattern.split("/") if part not in ("", ".")]
        fixed = 0
        while fixed < len(parts) and not is_wild(parts[fixed]):
            fixed += 1
        base = os.path.join(self.root, *parts[:fixed])
        if fixed == len(parts):
            if os.path.lexists(base):
                yield base
            return
        if not os.path.isdir(base) or self.leads_out(base):
            return
        fits = compiled(pattern).fullmatch
        depth = -1 if "**" in parts else len(parts) - fixed
        for path, is_folder in self.walk(base, depth):
            # `*` fits folders too, and none is meant; a folder that fits `*.txt` is odd.
            wanted = not is_folder or parts[-1] not in ("*", "**")
            name = self.name(path)
            if wanted and fits(name):
                yield path
            elif not is_folder and name.startswith(below) and fits(unpacked(name)):
                self.packed.add(name)

    def leads_out(self, folder: str) -> bool:
        """Whether a folder that the hangar names is none of its own; said once."""
        try:
            check_within(self.root, folder, self.name(folder))
        except Problem as problem:
            trouble = Trouble("file", problem.message, problem.instead, problem.exit, problem.file)
            if trouble not in self.troubles:
                self.troubles.append(trouble)
            return True
        return False

    def walk(self, folder: str, depth: int) -> Iterator[tuple[str, bool]]:
        """Every file and folder below one, to a depth (-1: all), and whether it is a folder.

        Folders that are named like a dump, that hold a hangar of their own or that are links
        are given and not entered.
        """
        # Not by calling itself: folders may lie deeper in one another than calls can.
        rows = [self._rows(folder)]
        while rows:
            row = next(rows[-1], None)
            if row is None:
                rows.pop()
                continue
            if row.name.startswith("."):
                continue
            try:
                is_folder = row.is_dir()
            except OSError:  # a loop of links, say: reading it will tell
                is_folder = False
            yield row.path, is_folder
            if (
                is_folder
                and len(rows) != depth
                and not row.is_symlink()
                and not is_dump_name(row.name)
                and not os.path.lexists(os.path.join(row.path, NAME))
            ):
                rows.append(self._rows(row.path))

    def _rows(self, folder: str) -> Iterator[os.DirEntry[str]]:
        """What lies in a folder, by name; nothing, and a trouble, if it cannot be read."""
        try:
            with os.scandir(folder) as rows:
                return iter(sorted(rows, key=lambda row: row.name))
        except OSError as wrong:
            self.troubles.append(
                Trouble(
                    "file",
                    f"this folder cannot be read: {wrong.strerror or wrong}",
                    "look at its permissions",
                    EXIT_UNREAD,
                    self.name(folder),
                )
            )
            return iter(())

    def entry(self, file: str) -> Dumps | None:
        """The first entry that fits a file."""
        if self.config is None:
            return None
        for entry in self.config.dumps:
            if any(compiled(pattern).fullmatch(file) for pattern in entry.files):
                return entry
        return None

    def name(self, path: str) -> str:
        """A path as it is shown: relative to the root, or absolute outside it; with slashes."""
        if path == self.root:
            return "."
        start = self.root if self.root.endswith(os.sep) else self.root + os.sep
        shown = path[len(start) :] if path.startswith(start) else path
        return shown.replace(os.sep, "/")

    def inner_hangar(self, folder: str) -> Trouble:
        return Trouble(
            "config",
            "this folder is a hangar of its own and was not checked",
            f"check it by itself: `cfglint lint {os.path.relpath(folder)}`",
            EXIT_USE,
            self.name(folder),
        )


def _within(path: str, root: str) -> bool:
    return path == root or path.startswith(root if root.endswith(os.sep) else root + os.sep)


def _common_config(paths: Sequence[str]) -> Config | None:
    """The configuration of the one hangar that all paths belong to; None without a hangar.

    What is in none, standard input (``""``) too, counts to the hangar that the person stands in.
    """
    roots: dict[str, str] = {}
    for path in paths:
        whole = os.path.abspath(path or ".")
        start = whole if os.path.isdir(whole) else os.path.dirname(whole)
        roots.setdefault(find_root(start) or find_root(os.getcwd()), path or "-")
    if not paths:
        roots[find_root(os.getcwd())] = "."
    if len(roots) > 1:
        (one, first), (other, second) = list(roots.items())[:2]
        homes = [f"to the hangar `{os.path.relpath(root)}`" if root else "to none"
                 for root in (one, other)]  # fmt: skip
        raise Problem(
            f"`{first}` belongs {homes[0]}, `{second}` {homes[1]}",
            instead="check them in separate runs, or name one configuration with --config",
        )
    root = next(iter(roots), "")
    return own_config(root) if root else None


def _common_folder(paths: Sequence[str]) -> str:
    """What names are relative to without a hangar: the current folder or, for paths outside
    it, the nearest folder above all of them.
    """
    here = os.getcwd()
    wholes = [os.path.abspath(path) for path in paths]
    folders = [whole if os.path.isdir(whole) else os.path.dirname(whole) for whole in wholes]
    if not folders:
        return here
    try:
        if os.path.commonpath([here, *folders]) == here:
            return here
        return os.path.commonpath(folders)
    except ValueError:  # different drives
        return here


def _no_such_path(path: str, search: _Search) -> Trouble:
    from cfglint.near import nearest

    folder, name = os.path.split(os.path.normpath(path))
    try:
        close = nearest(name, sorted(os.listdir(folder or ".")))
    except OSError:
        close = ""
    near = os.path.join(folder, close)
    instead = f"did you mean `{near}`?" if close else "look at the path"
    file = search.name(os.path.abspath(path))
    return Trouble("config", "there is no such file or folder", instead, EXIT_USE, file)


def _passed_over(packed: Sequence[str]) -> Trouble:
    """Somebody may count on them being checked; kept beside a newer dump they are no fault."""
    more = f" and {len(packed) - 1} more were" if len(packed) > 1 else " was"
    return Trouble(
        "file",
        f"this packed dump{more} passed over",
        "unpack what is to be checked",
        EXIT_CLEAR,
        packed[0],
    )


def _nothing(paths: Sequence[str], config: Config | None) -> Trouble:
    where = ", ".join(f"`{path}`" for path in paths[:5]) + (", …" if len(paths) > 5 else "")
    patterns = [pattern for entry in config.dumps for pattern in entry.files] if config else []
    if config is not None and not patterns:
        instead = 'say which files are dumps: `[[dumps]]` with `files = "dumps/*.dump.txt"`'
        return Trouble(
            "nothing",
            f"nothing to check in {where}: the hangar names no dumps",
            instead,
            EXIT_NOTHING,
            config.file,
        )
    looked = patterns or [f"*{suffix}" for suffix in SUFFIXES]
    return Trouble(
        "nothing",
        f"nothing to check in {where}",
        "looked for " + ", ".join(f"`{one}`" for one in looked[:8]) + "; other files are checked "
        "when they are named themselves",
        EXIT_NOTHING,
    )
