"""Rules in files of one's own: a path in, rules out.

For rules that are not installed as a plug-in but lie in a folder that somebody names.  Each form
of file has a loader in :data:`LOADERS`; a new form is one more row there, and the test kit and
every command that takes a folder of rules know it at once.

Python files are imported, so this is for folders that were named on purpose (a command line, a
test configuration), never for whatever a checked repository happens to hold.
"""

from __future__ import annotations

import os
import sys
from inspect import isroutine
from typing import TYPE_CHECKING, Any

from cfglint.apart import last_line
from cfglint.errors import EXIT_UNREAD, Problem, raise_all
from cfglint.plugins import Host, Plug, check_api
from cfglint.rule import Rule, unsound
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from types import ModuleType

#: Files of these names are about the tests or the folder and hold no rules; nor do those that
#: begin with ``_`` (helpers that rules import), ``.`` or ``test_``.
NO_RULES = frozenset({"conftest.py", "setup.py", "cfglint.toml", "pyproject.toml"})


def rule_files(path: str) -> list[str]:
    """The rule files that a path means: itself, or those directly in the folder, sorted.

    Raises Problem for a path that is not there, and for a file of no form that is known.
    """
    if os.path.isdir(path):
        names = sorted(name for name in os.listdir(path) if is_rule_file(name))
        files = (os.path.join(path, name) for name in names)
        return [file for file in files if os.path.isfile(file)]
    if not os.path.isfile(path):
        raise Problem("there is no such file or folder of rules", file=path)
    if os.path.splitext(path)[1] not in LOADERS:
        from cfglint.near import listing

        raise Problem(
            "this is no file of rules", file=path, instead=f"it ends in {listing(LOADERS)}"
        )
    return [path]


def is_rule_file(name: str) -> bool:
    """Whether a file of this name, in a folder of rules, holds rules."""
    return (
        os.path.splitext(name)[1] in LOADERS
        and name not in NO_RULES
        and not name.startswith(("_", ".", "test_"))
    )


def plug_of(path: str, shown: str = "", pack: str = "") -> Plug:
    """A file of rules as a plug-in; ``shown`` is how messages name it, and its rules' ``pack`` is
    the folder's name if not said.  Raises Problem for a file of no form that is known.
    """
    end = os.path.splitext(path)[1]
    if end not in LOADERS:
        rule_files(path)
        raise Problem("this folder holds many files of rules", file=path, instead="name one")
    whole = os.path.abspath(path)
    return Plug(
        os.path.realpath(path),
        pack or os.path.basename(os.path.dirname(whole)),
        lambda: LOADERS[end](path, shown or path),
        cure="put that right; what a rule has to say, it yields",
        file=shown or path,
        apart=end != ".toml",
    )


def rules_of_file(path: str) -> tuple[Rule, ...]:
    """The rules of one file, in its order, their ``pack`` being the folder's name.

    Raises Problem(s) for a file that cannot be loaded or holds none.
    """
    loaded = Host(()).rules([plug_of(path)])
    raise_all(loaded.problems)
    if not loaded.rules:
        raise _none(path)
    return loaded.rules


def _none(path: str) -> Problem:
    return Problem(
        "no rule is in this file",
        file=path,
        instead="put `@rule(…)` above its function, or begin the name of a file that only "
        "helps others with `_`",
    )


class OfFile:
    """What a file gives as a plug-in: its rules, and hooks of its own."""

    def __init__(self, rules: Iterable[Rule], hooks: Mapping[str, Any] | None = None) -> None:
        found = list(rules)
        self.cfglint_rules = lambda: found
        vars(self).update(hooks or {})


def rules_of(path: str) -> tuple[Rule, ...]:
    """The rules of a file, or of every rule file directly in a folder.  Raises Problem(s)."""
    files = rule_files(path)
    if not files:
        raise Problem(
            "no file of rules is in this folder",
            file=path,
            instead="`cfglint start rule CONCERN/WHAT-IS-WRONG` writes a first one",
        )
    return tuple(item for file in files for item in rules_of_file(file))


# ------------------------------------------------------------------ Python


def _python(path: str, shown: str) -> OfFile:
    _check_text(path, shown)
    module = _import(path, shown)
    if hasattr(module, "cfglint_api"):
        check_api(module, "this file", os.path.basename(os.path.dirname(os.path.abspath(path))))
    rules: dict[int, Rule] = {}
    for item in _rules_in(module):
        wrong = unsound(item)
        if wrong:
            raise Problem(
                f"a rule in this file is not sound: {wrong}",
                file=shown,
                instead="make it with `cfglint.rule.rule`",
                exit=EXIT_UNREAD,
            )
        rules.setdefault(id(item), item)
    hooks = {name: value for name, value in vars(module).items() if _is_hook(name, value)}
    if not rules and not hooks:
        raise _none(shown)
    offer = hooks.get("cfglint_rules")
    if offer is None:
        return OfFile(rules.values(), hooks)
    if hasattr(offer, "cfglint_impl"):  # it may be a wrapper
        offer.cfglint_impl["specname"] = offer.cfglint_impl.get("specname") or "cfglint_rules"
        hooks["marked"] = hooks.pop("cfglint_rules")
        return OfFile(rules.values(), hooks)

    def offered() -> Iterator[Any]:
        yield from rules.values()
        for item in offer():
            known = isinstance(item, Rule) and _at_home_elsewhere(item, module)
            if id(item) not in rules and not known:
                yield item

    return OfFile((), {**hooks, "cfglint_rules": offered})


def _is_hook(name: str, value: object) -> bool:
    return isroutine(value) and (name.startswith("cfglint_") or hasattr(value, "cfglint_impl"))


def _rules_in(module: ModuleType) -> Iterator[Rule]:
    """The rules of a module: what its names say, and what its lists hold."""
    for value in list(vars(module).values()):
        held = value if type(value) in (list, tuple) else [value]
        for item in held:
            if isinstance(item, Rule) and not _at_home_elsewhere(item, module):
                yield item


def _at_home_elsewhere(item: Rule, module: ModuleType) -> bool:
    """Whether a rule was only imported here and counts where it stands."""
    home = getattr(item.check, "__module__", "")
    if home == module.__name__:
        return False
    if not home.startswith(f"{module.__package__}."):
        return home.startswith("cfglint_rules.")
    return not home.rpartition(".")[2].startswith("_")


def _check_text(path: str, shown: str) -> None:
    """What Python would take without a word: a rule that another of its name replaces, and a
    function of a craft that was never made a rule.
    """
    import ast

    try:
        with open(path, "rb") as file:
            tree = ast.parse(file.read(), path)
    except OSError as wrong:
        raise Problem(f"cannot be read: {wrong.strerror or wrong}", file=shown) from None
    except (SyntaxError, ValueError) as wrong:
        line, column = getattr(wrong, "lineno", None) or 1, getattr(wrong, "offset", None) or 1
        raise Problem(
            f"this is no Python: {getattr(wrong, 'msg', wrong)}",
            span=Span(shown, line, column, line, column),
        ) from None
    seen: dict[str, int] = {}
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        start = node.col_offset + 1
        place = Span(shown, node.lineno, start, node.lineno, start)
        if node.name in seen:
            raise Problem(
                f"`{node.name}` stands here and on line {seen[node.name]}: the first is lost",
                span=place,
                instead="give one of the two functions another name",
            )
        seen[node.name] = node.lineno
        names = [arg.arg for arg in (*node.args.posonlyargs, *node.args.args)]
        if names == ["craft", "options"] and not node.decorator_list and node.name[0] != "_":
            raise Problem(
                f"`{node.name}` takes a craft and options but is no rule, so it is never asked",
                span=place,
                instead=f"put `@rule(…)` above it or, if it only helps, call it `_{node.name}`",
            )


def _import(path: str, shown: str) -> ModuleType:
    """The module of a file.  Its folder stands in for a package, so that ``from ._helper import``
    works, under a name that no installed package has.
    """
    from importlib import import_module, invalidate_caches
    from zlib import crc32

    folder, name = os.path.split(os.path.abspath(path))
    stem = name.removesuffix(".py")
    if "." in stem:
        raise Problem(
            "a Python file with a dot in its name cannot be imported",
            file=shown,
            instead="write `-` or `_` for it",
        )
    package = f"cfglint_folder_{crc32(os.fsencode(folder)):08x}"
    # A file that was written just now may not be in the listings that Python keeps.
    invalidate_caches()
    try:
        if package not in sys.modules:
            _make_package(package, folder)
        return import_module(f"{package}.{stem}")
    except (Exception, SystemExit, GeneratorExit) as wrong:
        raise Problem(
            f"cannot be loaded: {last_line(wrong)}{_where(wrong, folder)}",
            file=shown,
            exit=EXIT_UNREAD,
        ) from wrong


def _make_package(package: str, folder: str) -> None:
    from importlib.util import module_from_spec, spec_from_file_location
    from types import ModuleType

    start = os.path.join(folder, "__init__.py")
    if not os.path.isfile(start):
        made = ModuleType(package)
        made.__path__ = [folder]
        sys.modules[package] = made
        return
    spec = spec_from_file_location(package, start, submodule_search_locations=[folder])
    if spec is None or spec.loader is None:  # pragma: no cover  (a file is there)
        raise ImportError(start)
    sys.modules[package] = module = module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except BaseException:
        del sys.modules[package]
        raise


def _where(wrong: BaseException, folder: str) -> str:
    """The last line of the folder's own that the exception passed through."""
    from traceback import extract_tb

    own = [row for row in extract_tb(wrong.__traceback__) if row.filename.startswith(folder)]
    return f" (line {own[-1].lineno} of {os.path.basename(own[-1].filename)})" if own else ""


# ------------------------------------------------------------------ TOML


def _toml(path: str, shown: str) -> OfFile:
    from cfglint.toml_rules import rules_of_file as read

    return OfFile(read(path, shown))


#: A loader for each form of file, by the end of its name: from a path, and how messages name it,
#: to a plug-in.  It raises Problem(s) for what is wrong with the file.
LOADERS: dict[str, Callable[[str, str], object]] = {".py": _python, ".toml": _toml}
