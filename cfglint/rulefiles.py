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
from typing import TYPE_CHECKING, Any

from cfglint.apart import last_line, tried
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.plugins import Entry, _check_api, _kind
from cfglint.rule import Rule, unsound
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
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


def rules_of_file(path: str) -> tuple[Rule, ...]:
    """The rules of one file, in its order, their ``pack`` being the folder's name.

    Raises Problem(s) for a file that cannot be loaded or holds none.
    """
    load = LOADERS.get(os.path.splitext(path)[1])
    if load is None:
        rule_files(path)
        raise Problem("this folder holds many files of rules", file=path, instead="name one")
    pack = os.path.basename(os.path.dirname(os.path.abspath(path)))
    rules = tuple(item._replace(pack=item.pack or pack) for item in load(path))
    if not rules:
        raise Problem(
            "no rule is in this file",
            file=path,
            instead="put `@rule(…)` above its function, or begin the name of a file that only "
            "helps others with `_`",
        )
    return rules


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


def _python(path: str) -> Iterable[Rule]:
    _check_text(path)
    _try_apart(path)
    module = _import(path)
    if hasattr(module, "cfglint_api"):
        folder = os.path.basename(os.path.dirname(os.path.abspath(path)))
        try:
            _check_api(Entry(os.path.basename(path), path, folder), module)
        except Problem as problem:
            problem.file = path
            raise
    rules: dict[int, Rule] = {}
    for item in _offered(module):
        if not isinstance(item, Rule):
            continue
        wrong = unsound(item)
        if wrong:
            raise Problem(
                f"a rule in this file is not sound: {wrong}",
                file=path,
                instead="make it with `cfglint.rule.rule`",
                exit=EXIT_UNREAD,
            )
        if not _at_home_elsewhere(item, module):
            rules.setdefault(id(item), item)
    return rules.values()


def _try_apart(path: str) -> None:
    """Load a file in a process of its own first.  Raises Problem if it ends that, hangs or writes
    to standard output: what it would then do here cannot be taken back.
    """

    if said := tried(lambda: list(_offered(_import(path)))):
        raise Problem(
            f"cannot be loaded: {said}",
            file=path,
            instead="put that right; what a rule has to say, it yields",
            exit=EXIT_UNREAD,
        )


def _offered(module: ModuleType) -> Iterator[Any]:
    """All that may be a rule: the module's names, what its lists hold, what its hook gives."""
    for value in list(vars(module).values()):
        yield value
        if isinstance(value, list | tuple) and not isinstance(value, Rule):
            yield from value
    hook = getattr(module, "cfglint_rules", None)
    if not callable(hook):
        return
    file = module.__file__ or ""
    try:
        offered = list(hook())
    except (Exception, SystemExit, GeneratorExit) as wrong:
        raise Problem(
            f"`cfglint_rules` failed: {last_line(wrong)}", file=file, exit=EXIT_UNREAD
        ) from wrong
    for item in offered:
        if not isinstance(item, Rule):
            raise Problem(
                f"`cfglint_rules` offers {_kind(item)}, which is no rule",
                file=file,
                instead="make it with `cfglint.rule.rule`",
            )
        yield item


def _at_home_elsewhere(item: Rule, module: ModuleType) -> bool:
    """Whether a rule was only imported here and counts where it stands."""
    home = getattr(item.check, "__module__", "")
    if home == module.__name__:
        return False
    if not home.startswith(f"{module.__package__}."):
        return home.startswith("cfglint_rules.")
    return not home.rpartition(".")[2].startswith("_")


def _check_text(path: str) -> None:
    """What Python would take without a word: a rule that another of its name replaces, and a
    function of a craft that was never made a rule.
    """
    import ast

    try:
        with open(path, "rb") as file:
            tree = ast.parse(file.read(), path)
    except OSError as wrong:
        raise Problem(f"cannot be read: {wrong.strerror or wrong}", file=path) from None
    except (SyntaxError, ValueError) as wrong:
        line, column = getattr(wrong, "lineno", None) or 1, getattr(wrong, "offset", None) or 1
        raise Problem(
            f"this is no Python: {getattr(wrong, 'msg', wrong)}",
            span=Span(path, line, column, line, column),
        ) from None
    seen: dict[str, int] = {}
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        start = node.col_offset + 1
        place = Span(path, node.lineno, start, node.lineno, start)
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


def _import(path: str) -> ModuleType:
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
            file=path,
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
            file=path,
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


def _toml(path: str) -> Iterable[Rule]:
    from cfglint.toml_rules import rules_of_file as read

    return read(path)


#: A loader for each form of file, by the end of its name: path in, rules out, in the file's
#: order.  It raises Problem(s) for what is wrong with the file.
LOADERS: dict[str, Callable[[str], Iterable[Rule]]] = {".py": _python, ".toml": _toml}
