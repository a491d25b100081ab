"""Plug-ins: where rules come from, the built-in ones included.

A plug-in is a module that an installed distribution names under the entry point group
``cfglint.rules``.  It states the versions of the rule interface it is written for and offers
hooks, plain functions known by their names (no import of pluggy is needed)::

    cfglint_api = (1, 1)  # least and greatest cfglint.rule.API_VERSION it works with

    def cfglint_rules():
        from club_rules import tide
        return [tide.float_fitted]

A hook may be marked with pluggy (``pluggy.HookimplMarker("cfglint")``) for what pluggy offers
beyond that, such as wrappers; then it is called through pluggy.  A plain function is called
directly, which comes to the same and saves importing pluggy: that takes as long as half the
start of the interpreter.

Built-in and other packs have equal standing: a broken one is named and the rest still run.
Plug-ins are imported only when rules are wanted, and never from the repository being checked:
the current folder does not count, even where Python itself would look there.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.apart import last_line, tried
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.rule import API_VERSION, Rule, unsound

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from types import ModuleType

    from pluggy import PluginManager

GROUP = "cfglint.rules"
#: Found by its entry point like any other; the name serves a copy that was installed without
#: its metadata.
BUILTIN = "cfglint_rules"


class Entry(NamedTuple):
    """One entry point: its name, the module it points to, and who installed it."""

    name: str
    module: str
    distribution: str


class Loaded(NamedTuple):
    """The rules of all packs, in the order of the packs, and what was wrong with any of them."""

    rules: tuple[Rule, ...]
    problems: tuple[Problem, ...]


class Hooks:
    """The hook specifications.  A later version may add hooks; none changes its arguments."""

    def cfglint_rules(self) -> Iterable[Rule]:  # type: ignore[empty-body]
        """The rules that the plug-in offers.  Called once a run, before any dump is read."""


_HOOKS = tuple(name for name in vars(Hooks) if name.startswith("cfglint_"))


def load_rules(entries: Iterable[Entry] | None = None) -> Loaded:
    """Import every plug-in and collect its rules.

    Plug-ins that cannot be imported, that want another interface or that offer something else
    than rules are left out and named in ``problems``; so is the second of two rules of one id.
    """
    problems: list[Problem] = []
    packs: list[tuple[str, ModuleType]] = []
    for entry in find() if entries is None else entries:
        try:
            _try_apart(entry)
            module = _import(entry)
            _check_api(entry, module)
            _check_hooks(entry, module)
            packs.append((entry.name, module))
        except Problem as problem:
            problems.append(problem)
    rules: dict[str, Rule] = {}
    for pack, module in packs:
        try:
            offered = _offered(module)
        except (Exception, SystemExit, GeneratorExit) as wrong:
            problems.append(
                Problem(
                    f"rule pack `{pack}` failed while offering its rules: {last_line(wrong)}",
                    instead=f"its author must put this right (module `{module.__name__}`)",
                    exit=EXIT_UNREAD,
                )
            )
            continue
        for item in offered:
            mistake = _take(item, pack, module, rules)
            if mistake is not None:
                problems.append(mistake)
    return Loaded(tuple(rules.values()), tuple(problems))


def _offered(module: ModuleType) -> list[Any]:
    """What a plug-in's hook gives, asked on its own, so that one that fails takes no other
    with it.  Raises whatever the hook raises.
    """
    hook: Any = vars(module)["cfglint_rules"]
    if getattr(hook, "cfglint_impl", None) is None:
        return list(hook())
    manager = _manager()
    manager.register(module)
    return [item for batch in manager.hook.cfglint_rules() for item in batch]


def _take(item: Any, pack: str, module: ModuleType, rules: dict[str, Rule]) -> Problem | None:
    if not isinstance(item, Rule):
        return Problem(
            f"rule pack `{pack}` offers {_kind(item)}, which is no rule",
            instead=f"make it with `cfglint.rule.rule` (module `{module.__name__}`)",
        )
    wrong = unsound(item)
    if wrong:
        return Problem(
            f"rule pack `{pack}` offers a rule that is not sound: {wrong}",
            instead=f"make it with `cfglint.rule.rule` (module `{module.__name__}`)",
            exit=EXIT_UNREAD,
        )
    named = item._replace(pack=item.pack or pack)
    for name in (item.id, *item.aliases):
        other = next((one for one in rules.values() if name in (one.id, *one.aliases)), None)
        if other is not None:
            return Problem(
                f"two rules are called `{name}`: one of pack `{other.pack}`, "
                f"one of pack `{named.pack}`; only the first was used",
                instead="take one of the packs out, or ask its author for another name",
            )
    rules[item.id] = named
    return None


# ------------------------------------------------------------------ finding


def find(path: Iterable[str] | None = None) -> list[Entry]:
    """The entry points of our group in all installed distributions, built-in rules first.

    Read by hand from ``*.dist-info/entry_points.txt`` and ``*.egg-info/entry_points.txt``: the
    standard library's reader takes several times as long to import and scan.
    """
    found: dict[str, Entry] = {}
    seen: set[str] = set()
    for folder in sys.path if path is None else path:
        if path is None and _is_checked_folder(folder):
            continue
        for distribution, text in _metadata(folder):
            if distribution in seen:
                continue  # an earlier folder on the path hides this one
            seen.add(distribution)
            for name, module in _entries(text):
                found.setdefault(module, Entry(name, module, distribution))
    found.setdefault(BUILTIN, Entry("builtin", BUILTIN, "cfglint-craft"))
    return sorted(
        found.values(), key=lambda row: (row.module != BUILTIN, row.distribution, row.name)
    )


def _is_checked_folder(folder: str) -> bool:
    """Whether a folder of ``sys.path`` is where the run was started, and not our own home."""
    here = os.getcwd()
    if os.path.abspath(folder or here) != here:
        return False
    home = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    return os.path.realpath(here) != os.path.realpath(home)


def _metadata(folder: str) -> Iterator[tuple[str, str]]:
    """Name and entry point text of each distribution in one folder, by name."""
    try:
        names = os.listdir(folder or ".")
    except OSError:
        return
    for name in sorted(names):
        stem, dot, kind = name.rpartition(".")
        if not dot or kind not in ("dist-info", "egg-info"):
            continue
        try:
            with open(os.path.join(folder, name, "entry_points.txt"), encoding="utf-8") as file:
                text = file.read()
        except (OSError, ValueError):
            continue
        yield stem.partition("-")[0].replace("_", "-").lower(), text


def _entries(text: str) -> Iterator[tuple[str, str]]:
    if GROUP not in text:
        return
    ours = False
    for line in text.split("\n"):
        row = line.partition("#")[0].strip()
        if row.startswith("["):
            ours = row.strip("[] \t") == GROUP
        elif ours and "=" in row:
            name, _, target = row.partition("=")
            yield name.strip(), target.partition("[")[0].partition(":")[0].strip()


# ------------------------------------------------------------------ loading


def _manager() -> PluginManager:
    from pluggy import HookspecMarker, PluginManager

    HookspecMarker("cfglint")(Hooks.cfglint_rules)
    manager = PluginManager("cfglint")
    manager.add_hookspecs(Hooks)
    return manager


def _try_apart(entry: Entry) -> None:
    """Load a pack of others in a process of its own first.  Raises Problem if it ends that, hangs
    or writes to standard output: what it would then do here cannot be taken back.
    """
    if entry.module == BUILTIN or entry.module in sys.modules:
        return

    if said := tried(lambda: _offered(_import(entry))):
        raise Problem(
            f"rule pack `{entry.name}` of `{entry.distribution}` cannot be loaded: {said}",
            instead=f"put it right or uninstall `{entry.distribution}`",
            exit=EXIT_UNREAD,
        )


def _import(entry: Entry) -> ModuleType:
    from importlib import import_module

    try:
        return import_module(entry.module)
    except (Exception, SystemExit, GeneratorExit) as wrong:
        what = f"rule pack `{entry.name}` of `{entry.distribution}` cannot be loaded"
        if isinstance(wrong, ModuleNotFoundError) and wrong.name == entry.module:
            raise Problem(
                f"{what}: there is no module `{entry.module}`",
                instead="install it again; cfglint itself from its checkout with `pip install .`",
            ) from None
        raise Problem(
            f"{what}: {last_line(wrong)}",
            instead=f"put it right or uninstall `{entry.distribution}`",
            exit=EXIT_UNREAD,
        ) from None


def _check_api(entry: Entry, module: ModuleType) -> None:
    """The plug-in's versions of the interface against ours, naming which side to upgrade."""
    who = f"rule pack `{entry.name}` of `{entry.distribution}`"
    stated: Any = getattr(module, "cfglint_api", None)
    if isinstance(stated, int) and not isinstance(stated, bool):
        stated = (stated, stated)
    pair = tuple(stated) if isinstance(stated, tuple | list) else ()
    whole = len(pair) == 2 and all(type(number) is int for number in pair)
    least, most = pair if whole else (0, 0)
    if not 1 <= least <= most:
        said = "states no version" if stated is None else f"states {stated!r} as the version"
        raise Problem(
            f"{who} {said} of the rule interface it is written for",
            instead=f"write `cfglint_api = ({API_VERSION}, {API_VERSION})` in `{entry.module}`",
        )
    if least <= API_VERSION <= most:
        return
    wanted = f"version {least}" if least == most else f"versions {least} to {most}"
    older = least > API_VERSION
    raise Problem(
        f"{who} is written for {wanted} of the rule interface, this cfglint has {API_VERSION}",
        instead="upgrade cfglint" if older else f"upgrade `{entry.distribution}`",
    )


def _check_hooks(entry: Entry, module: ModuleType) -> None:
    """A function named like a hook that is none would silently do nothing."""
    names: Mapping[str, Any] = vars(module)
    for name, value in names.items():
        if not name.startswith("cfglint_") or name in _HOOKS or not callable(value):
            continue
        from cfglint.near import suggestion

        raise Problem(
            f"rule pack `{entry.name}` of `{entry.distribution}` has a function `{name}`, "
            "which is no hook of cfglint",
            instead=suggestion(name, _HOOKS),
        )
    if not any(callable(names.get(name)) for name in _HOOKS):
        raise Problem(
            f"rule pack `{entry.name}` of `{entry.distribution}` offers nothing",
            instead=f"give `{entry.module}` a function `cfglint_rules()` that returns its rules",
        )


def _kind(item: Any) -> str:
    name = getattr(item, "__name__", "")
    return f"`{name}`" if name else f"a {type(item).__name__}"
