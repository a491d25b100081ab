"""Plug-ins: one pluggy host a run, which rules, dialects, report formats and commands come from.

A plug-in is a module that an installed distribution names under the entry point group
``cfglint.rules``, or a file of rules of one's own (:mod:`cfglint.rulefiles`).  An installed one
states the versions of the interface it is written for, and offers hooks::

    cfglint_api = (1, 1)  # least and greatest cfglint.rule.API_VERSION it works with

    def cfglint_rules():
        from club_rules import tide
        return [tide.float_fitted]

A function that is called like a hook is one.  Marked with ``pluggy.HookimplMarker("cfglint")`` it
may be all that pluggy offers: a wrapper, first or last, of another name (``specname``).

Built-in plug-ins go through the same hooks.  A plug-in that cannot be loaded or fails is named and
left out, and all are asked again.  Plug-ins are never imported from the repository being checked:
the current folder does not count, even where Python itself would look there.
"""

from __future__ import annotations

import os
from functools import wraps
from inspect import isgeneratorfunction, isroutine
from typing import TYPE_CHECKING, Any, NamedTuple

from pluggy import HookspecMarker, PluginManager

from cfglint.apart import Fault, apart, last_line
from cfglint.errors import EXIT_UNREAD, EXIT_USE, Problem, Problems
from cfglint.installed import BUILTIN as BUILTIN  # noqa: PLC0414  (exported, like Entry)
from cfglint.installed import Entry as Entry  # noqa: PLC0414
from cfglint.installed import find
from cfglint.rule import API_VERSION, Rule, unsound

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from types import ModuleType
    from typing import TextIO

    from cfglint.results import Run

#: Names packs that are not to be loaded, divided as in ``PATH``.
BLOCKED = "CFGLINT_BLOCK"


class Loaded(NamedTuple):
    """All rules, built-in ones first, and what was wrong with any plug-in."""

    rules: tuple[Rule, ...]
    problems: tuple[Problem, ...]


class Command(NamedTuple):
    """A command: its name, what it does in a few words, and the module that runs it.

    The module has ``ABOUT``, a text; ``arguments(parser)``; and ``run(options)``, which gives the
    exit code.  It is imported only when the command is asked for.
    """

    name: str
    about: str
    module: str


class Report(NamedTuple):
    """A form in which ``lint`` writes what it found: its name, who it is for, and what writes it.

    ``options`` are those of the command line.
    """

    name: str
    about: str
    write: Callable[[Run, Namespace, TextIO], None]


_spec = HookspecMarker("cfglint")


class Hooks:
    """The hook specifications.  A later version may add hooks; none changes its arguments."""

    @_spec
    def cfglint_rules(self) -> Iterable[Rule]:  # type: ignore[empty-body]
        """The rules that the plug-in offers."""

    @_spec
    def cfglint_dialects(self) -> Iterable[str]:  # type: ignore[empty-body]
        """Paths of dialect files; each dialect goes by its file's name, without ``.toml``."""

    @_spec
    def cfglint_reports(self) -> Iterable[Report]:  # type: ignore[empty-body]
        """Forms of reports for ``cfglint lint --as``."""

    @_spec
    def cfglint_commands(self) -> Iterable[Command]:  # type: ignore[empty-body]
        """Commands of ``cfglint``."""

    @_spec(historic=True)
    def cfglint_host(self, host: Host) -> None:
        """Told once of the host that a plug-in is registered with, however late that is."""


#: What the items are that each hook offers.
HOOKS: dict[str, type] = {
    "cfglint_rules": Rule,
    "cfglint_dialects": str,
    "cfglint_reports": Report,
    "cfglint_commands": Command,
}
#: How one such item is called.
WORDS = {
    "cfglint_rules": "rule",
    "cfglint_dialects": "dialect",
    "cfglint_reports": "report",
    "cfglint_commands": "command",
}
#: How a rule that is none is put right.
MADE = "make it with `cfglint.rule.rule`"
#: The names of what is built in: the rules, and the commands and reports.
OURS = ("builtin", "cfglint")


class Plug(NamedTuple):
    """A plug-in as it is loaded.

    ``load`` imports it, and may raise anything.  ``who`` is how messages call it and ``cure`` what
    can be done about it; of a file of somebody's own it is ``file`` that tells who.  ``pack`` is
    that of its rules.  ``apart``: it is the code of others, and tried in a process of its own.
    """

    name: str
    pack: str
    load: Callable[[], object]
    who: str = ""
    cure: str = "put that right"
    file: str = ""
    apart: bool = False

    @property
    def called(self) -> str:
        return f"`{self.file}`" if self.file else f"pack `{self.pack}`"

    def problem(self, said: str, instead: str = "", code: int = 0) -> Problem:
        """What is wrong with it: with a pack that is there, or with a file that somebody named."""
        text = f"{self.who} {said}".lstrip()
        code = code or (EXIT_USE if self.file else EXIT_UNREAD)
        return Problem(text, file=self.file, instead=instead or self.cure, exit=code)


class _Watched:
    """What is registered of a plug-in: its hooks, of which the host knows whose they are."""

    def __init__(self, host: Host, plug: Plug, plugin: object) -> None:
        self.plugin = plugin
        for name in dir(plugin):
            function = getattr(plugin, name, None)
            marks = getattr(function, "cfglint_impl", None)
            if isroutine(function) and (isinstance(marks, dict) or name.startswith("cfglint_")):
                setattr(self, name, host.watched(plug, name, function, marks or {}))


class Host(PluginManager):
    """The one manager of a run.  ``entries`` are the installed plug-ins, found if not said."""

    def __init__(self, entries: Iterable[Entry] | None = None) -> None:
        super().__init__("cfglint")
        self.add_hookspecs(Hooks)
        #: What was wrong with plug-ins, and nobody was told of yet.
        self.untold: list[Problem] = []
        self._problems: list[tuple[Plug, Problem]] = []
        self._plugs: dict[str, Plug] = {}
        self._own: tuple[Plug, ...] = ()
        self._entries = entries
        self._loaded = False
        self._dialects: dict[str, str] | None = None
        #: Who offered what, by its name, in the order in which plug-ins were asked.
        self._homes: dict[str, list[Plug]] = {}
        #: Which plug-ins failed at the question at hand, the innermost first.
        self._failed: dict[str, BaseException] = {}
        for name in filter(None, os.environ.get(BLOCKED, "").split(os.pathsep)):
            if name in OURS:
                self.untold.append(
                    Problem(f"{BLOCKED}: what is built in cannot be blocked (`{name}`)")
                )
            else:
                self.set_blocked(name)
        self.hook.cfglint_host.call_historic(kwargs={"host": self})

    # -- what is asked of it -----------------------------------------------------------------

    def rules(self, own: Iterable[Plug] = ()) -> Loaded:
        """The rules of all plug-ins; ``own`` are those of the run besides the installed ones.

        Built-in rules are as their pack gives them, whatever a wrapper of others makes of them.
        """
        self.load()
        for plug in self._own:
            self._drop(plug.name)
        self._problems = [row for row in self._problems if row[0] not in self._own]
        self._own = tuple(own)
        self._take_in(self._own)
        ours: list[Rule] = self._ask("cfglint_rules", ours=True)
        given: list[Rule] = self._ask("cfglint_rules")
        problems = list({str(problem): problem for _, problem in self._problems}.values())
        by_id = {rule.id: rule for rule in ours}
        there = {rule.id for rule in given if by_id.get(rule.id) == rule}
        left = [rule for rule in given if by_id.get(rule.id) != rule]
        missed = [rule.id for rule in ours if rule.id not in there]
        if missed:
            problems.append(self._put_back(missed))
            left = [rule for rule in left if rule.id not in missed]
        rules = self._once([*ours, *left], lambda rule: (rule.id, *rule.aliases), problems.append)
        self.untold.clear()
        # An old wrapper may have put in rules of nobody's.
        by = self._outermost("cfglint_rules")
        named = (rule if rule.pack else rule._replace(pack=by) for rule in rules)
        return Loaded(tuple(named), tuple(problems))

    def dialects(self) -> dict[str, str]:
        """The dialect files that packs offer, by name."""
        if self._dialects is not None:
            return self._dialects
        from cfglint.dialect.load import bundled_names

        self.load()
        paths = self._ask("cfglint_dialects")
        bundled = bundled_names()
        for name in bundled:
            self._homes.setdefault(name, []).insert(0, Plug(OURS[0], OURS[0], list))
        kept = self._once([*bundled, *paths], lambda path: (_stem(path),))
        self._dialects = {_stem(path): path for path in kept if path not in bundled}
        return self._dialects

    def named(self, hook: str, name: str) -> Any:
        """The command or report of that name, None if there is none.  For a built-in one no other
        plug-in is loaded, and none can stand in for it.
        """
        ours = {item.name: item for item in self._ask(hook, ours=True)}
        return ours.get(name) or {item.name: item for item in self.every(hook)}.get(name)

    def every(self, hook: str) -> list[Any]:
        """All commands or reports, built-in ones first."""
        self.load()
        ours = self._ask(hook, ours=True)
        others = [item for item in self._ask(hook) if item not in ours]
        return self._once([*ours, *others], lambda item: (item.name,))

    def _once(
        self,
        items: list[Any],
        names: Callable[[Any], tuple[str, ...]],
        tell: Callable[[Problem], object] | None = None,
    ) -> list[Any]:
        """The items, of which each name counts once: the first has it, the others are told of."""
        taken: dict[str, Plug] = {}
        met: dict[str, int] = {}
        kept = []
        for item in items:
            first = names(item)[0]
            # What a wrapper of somebody's made has no home.
            homes = self._homes.get(first) or [Plug("", "of a wrapper", list)]
            home = homes[min(met.get(first, 0), len(homes) - 1)]
            met[first] = met.get(first, 0) + 1
            twice = next((name for name in names(item) if name in taken), "")
            if twice:
                problem = Problem(
                    f"two {_kind(item)}s are called `{twice}`: one of {taken[twice].called}, "
                    f"one of {home.called}; only the first was used",
                    file=home.file,
                    instead="give one of the two another name, or take it out",
                )
                if tell is None:
                    self._note(home, problem)
                else:
                    tell(problem)
                continue
            taken.update(dict.fromkeys(names(item), home))
            kept.append(item)
        return kept

    def _put_back(self, missed: list[str]) -> Problem:
        """What to say of built-in rules that a wrapper of others took away or changed."""
        impls = self.hook.cfglint_rules.get_hookimpls()
        names = [one.plugin_name for one in impls if one.wrapper or one.hookwrapper]
        who = " or ".join(f"`{name}`" for name in names) or "a plug-in"
        listed = ", ".join(f"`{one}`" for one in missed[:5])
        listed += f" and {len(missed) - 5} more" if missed[5:] else ""
        return Problem(
            f"the wrapper of {who} takes built-in rules away or changes them ({listed}); they "
            "were asked as they are",
            instead="switch a rule off or give it another grade under [rules] in cfglint.toml",
            exit=EXIT_UNREAD,
        )

    # -- loading -----------------------------------------------------------------------------

    def load(self) -> None:
        """Load the installed plug-ins, once."""
        if not self._loaded:
            self._loaded = True
            self._take_in(list(self._installed(find() if self._entries is None else self._entries)))

    def _installed(self, entries: Iterable[Entry]) -> Iterator[Plug]:
        names = set(OURS)
        for entry in entries:
            ours = entry.module == BUILTIN
            name = OURS[0] if ours else entry.name
            if name in names and not ours:
                name = f"{entry.name} of {entry.distribution}, {entry.module}"
            names.add(name)
            yield Plug(
                name,
                entry.name,
                lambda entry=entry: _installed_module(entry),  # type: ignore[misc]
                f"rule pack `{entry.name}` of `{entry.distribution}`",
                f"put it right or uninstall `{entry.distribution}`",
                apart=not ours,
            )

    def _take_in(self, plugs: Sequence[Plug]) -> None:
        """Load plug-ins and register them, the last one first: pluggy asks that last which it was
        given first.
        """
        plugs = [plug for plug in plugs if not self.is_blocked(plug.name)]
        ended = self._tried([plug for plug in plugs if plug.apart])
        ready = []
        for plug in plugs:
            if plug.name in ended:
                self._note(
                    plug, plug.problem(f"cannot be loaded: {ended[plug.name]}", code=EXIT_UNREAD)
                )
                continue
            try:
                ready.append((plug, plug.load()))
            except (Exception, SystemExit, GeneratorExit) as wrong:
                self._note(plug, _as_problem(plug, wrong, "cannot be loaded"))
        for plug, plugin in reversed(ready):
            self._register(plug, plugin)

    def _tried(self, plugs: Sequence[Plug]) -> dict[str, str]:
        """Load plug-ins of others, and ask all that are there, in a process of its own first: what
        each did that could not be taken back here (it ended the process, hung, or wrote to standard
        output).  What one merely raises is told of when it happens here.
        """
        ended: dict[str, str] = {}
        done: set[str] = set()

        def work(last: int) -> None:
            for plug in plugs[: last + 1]:
                if plug.name in ended or plug.name in done:
                    continue
                done.add(plug.name)
                try:
                    self._register(plug, plug.load())
                except EOFError:
                    raise  # here it would wait for somebody to type
                except Exception:
                    continue
            for hook in HOOKS:
                self._ask(hook)
            for wrong in self._failed.values():
                if isinstance(wrong, EOFError):
                    raise wrong

        jobs = [lambda at=at: work(at) for at in range(len(plugs))]
        for plug, said in zip(plugs, apart(jobs), strict=True):
            if isinstance(said, Fault):
                ended[plug.name] = said.text
        return ended

    def register(self, plugin: object, name: str | None = None) -> str | None:
        """Register a plug-in, as any other may do that was told of the host.  Raises ValueError for
        a name of what is built in.
        """
        name = name or self.get_canonical_name(plugin)
        if name in OURS:
            raise ValueError("no plug-in can stand in for what is built in")
        self._register(Plug(name, name, lambda: plugin, f"plug-in `{name}`"), plugin)
        return name

    def register_ours(self, plugin: object) -> None:
        """Register what is built in besides the rules."""
        self._register(Plug(OURS[1], OURS[1], lambda: plugin), plugin)

    def _register(self, plug: Plug, plugin: object) -> None:
        hooks = _Watched(self, plug, plugin)
        self._plugs[plug.name] = plug
        try:
            if super().register(hooks, plug.name) is None:
                return  # another plug-in has blocked it
        except (Exception, SystemExit, GeneratorExit) as wrong:
            self._note(plug, _as_problem(plug, wrong, "cannot be loaded"))
            self._drop(plug.name)
            return
        callers = self.get_hookcallers(hooks) or []
        strange = next((one.name for one in callers if not one.has_spec()), "")
        if callers and not strange:
            return
        self._drop(plug.name)
        if strange:
            from cfglint.near import suggestion

            said = f"has a function `{strange}`, which is no hook of cfglint"
            self._note(plug, plug.problem(said, suggestion(strange, [*HOOKS, "cfglint_host"])))
        else:
            instead = "give its module a function `cfglint_rules()` that returns its rules"
            self._note(plug, plug.problem("offers nothing", instead))

    def unregister(self, plugin: Any = None, name: str | None = None) -> Any:
        """As pluggy does it; raises ValueError for what is built in."""
        if (name or self.get_name(plugin)) in OURS:
            raise ValueError("what is built in stays")
        return super().unregister(plugin, name)

    def parse_hookimpl_opts(self, plugin: object, name: str) -> Any:
        """Marks are not needed: a function that is called like a hook is one."""
        marks = super().parse_hookimpl_opts(plugin, name)
        return {} if marks is None and name.startswith("cfglint_") else marks

    def _drop(self, name: str) -> None:
        if self.has_plugin(name):
            self.unregister(name=name)

    def _note(self, plug: Plug, problem: Problem) -> None:
        for one in problem.each if isinstance(problem, Problems) else (problem,):
            self._problems.append((plug, one))
            self.untold.append(one)

    # -- asking ------------------------------------------------------------------------------

    def _ask(self, hook: str, *, ours: bool = False) -> list[Any]:
        """What plug-ins offer by a hook, or only ours.  One that fails is named and left out, and
        the others are asked again.
        """
        while True:
            self._failed = {}
            self._homes = {}
            caller = getattr(self.hook, hook)
            if ours:
                others = [one for name, one in self.list_name_plugin() if name not in OURS]
                caller = self.subset_hook_caller(hook, [one for one in others if one is not None])
            try:
                items = [item for batch in caller() for item in batch]
                # What a plug-in gives was looked at; an old wrapper puts in what it likes.
                if wrong_with := next(filter(None, (_wrong_with(one, hook) for one in items)), ""):
                    raise TypeError(f"it gave {wrong_with}")
            except (Exception, SystemExit, GeneratorExit) as wrong:
                name = next(iter(self._failed), "") or self._outermost(hook)
                if not name or name in OURS:
                    raise
                self._note_failed(name, self._failed.get(name, wrong), hook)
                self._drop(name)
            else:
                # A wrapper may have gone on without what failed; it is named nevertheless.
                for name, wrong_ in self._failed.items():
                    self._note_failed(name, wrong_, hook)
                return items

    def _note_failed(self, name: str, wrong: BaseException, hook: str) -> None:
        said = f"failed while offering its {WORDS[hook]}s"
        self._note(self._plugs[name], _as_problem(self._plugs[name], wrong, said))

    def _outermost(self, hook: str) -> str:
        """The wrapper that has the last word: it gave what cannot be used."""
        impls = getattr(self.hook, hook).get_hookimpls()
        names = [one.plugin_name for one in impls if one.wrapper or one.hookwrapper]
        return names[-1] if names else ""

    def watched(
        self, plug: Plug, name: str, function: Callable[..., Any], marks: dict[str, Any]
    ) -> Callable[..., Any]:
        """A hook of a plug-in that says when it fails, and gives only what is sound."""
        hook = marks.get("specname") or name

        def failed(wrong: BaseException) -> None:
            self._failed.setdefault(plug.name, wrong)

        if marks.get("hookwrapper") or marks.get("wrapper"):
            if not isgeneratorfunction(function):
                return function  # which pluggy refuses

            @wraps(function)
            def wrapper(*words: Any) -> Any:
                try:
                    given = yield from function(*words)
                    if marks.get("hookwrapper"):
                        return None  # what it gives it puts into the result
                    return [self._sound(plug, hook, batch) for batch in given]
                except GeneratorExit:
                    raise  # pluggy gives it up, and says why
                except BaseException as wrong:
                    failed(wrong)
                    raise

            return wrapper

        @wraps(function)
        def plain(*words: Any) -> Any:
            try:
                given = function(*words)
                if hook not in HOOKS or given is None:
                    return given
                sound = self._sound(plug, hook, given)
            except BaseException as wrong:
                failed(wrong)
                raise
            for item in sound:
                homes = self._homes.setdefault(_name_of(item), [])
                homes.insert(0 if plug.name in OURS else len(homes), plug)
            return sound

        return plain

    def _sound(self, plug: Plug, hook: str, batch: Iterable[Any]) -> list[Any]:
        """The items that can be used, those of a rule pack with its name; what is wrong with the
        others is told.
        """
        sound = []
        for item in batch:
            wrong = _wrong_with(item, hook)
            if wrong:
                # A file's own mistake is one of use; what is not sound could crash a report.
                code = EXIT_UNREAD if "not sound" in wrong else 0
                instead = MADE if hook == "cfglint_rules" else ""
                self._note(plug, plug.problem(f"offers {wrong}", instead, code))
            else:
                named = isinstance(item, Rule) and not item.pack
                sound.append(item._replace(pack=plug.pack) if named else item)
        return sound


# ------------------------------------------------------------------ the host of this run

_host: Host | None = None


def host() -> Host:
    """The host of this run, made when it is first asked for."""
    global _host  # noqa: PLW0603  (there is one a process, like the run itself)
    if _host is None:
        _host = Host()
    return _host


def begin() -> None:
    """Begin a run: its host is made anew."""
    global _host  # noqa: PLW0603
    _host = None


def load_rules(entries: Iterable[Entry] | None = None, own: Iterable[Plug] = ()) -> Loaded:
    """The rules of all plug-ins of this run, and of those of ``own``.

    ``entries`` are other installed plug-ins than there are, and have a host of their own.
    """
    return (host() if entries is None else Host(entries)).rules(own)


# ------------------------------------------------------------------ what plug-ins offer


def _kind(item: Any) -> str:
    return next(WORDS[hook] for hook, kind in HOOKS.items() if isinstance(item, kind))


def _name_of(item: Any) -> str:
    if isinstance(item, str):
        return _stem(item)
    return str(item.id if isinstance(item, Rule) else item.name)


def _stem(path: str) -> str:
    return os.path.basename(path).removesuffix(".toml")


def _wrong_with(item: Any, hook: str) -> str:
    """What is wrong with an item that a plug-in offers, ``""`` if nothing is."""
    kind: Any = HOOKS[hook]
    if not isinstance(item, kind):
        name = getattr(item, "__name__", "")
        what = f"`{name}`" if name else f"a {type(item).__name__}"
        return f"{what}, which is no {WORDS[hook]}"
    if isinstance(item, Rule):
        wrong = unsound(item)
        return f"a rule that is not sound: {wrong}" if wrong else ""
    if isinstance(item, str):
        there = item.endswith(".toml") and os.path.isfile(item)
        return "" if there else f"`{item[:200]}`, which is no dialect file that is there"
    texts = (item.name, item.about, getattr(item, "module", "-"))
    sound = all(isinstance(text, str) and text for text in texts) and item.name.isidentifier()
    return "" if sound else f"a {WORDS[hook]} without a name of one word, or a text"


def _as_problem(plug: Plug, wrong: BaseException, said: str) -> Problem:
    """What a plug-in raised, as a message that names it."""
    if isinstance(wrong, Problem):
        each: Sequence[Problem] = wrong.each if isinstance(wrong, Problems) else (wrong,)
        for one in each:
            one.file = one.file or plug.file
            one.exit = one.exit if plug.file else EXIT_UNREAD
        return wrong
    return plug.problem(f"{said}: {last_line(wrong)}", code=EXIT_UNREAD)


# ------------------------------------------------------------------ loading


def _installed_module(entry: Entry) -> ModuleType:
    from importlib import import_module

    try:
        module = import_module(entry.module)
    except ModuleNotFoundError as wrong:
        if wrong.name != entry.module:
            raise
        raise Problem(
            f"rule pack `{entry.name}` of `{entry.distribution}` cannot be loaded: there is no "
            f"module `{entry.module}`",
            instead="install it again; cfglint itself from its checkout with `pip install .`",
        ) from None
    check_api(module, f"rule pack `{entry.name}` of `{entry.distribution}`", entry.distribution)
    return module


def check_api(module: ModuleType, who: str, upgrade: str) -> None:
    """The versions of the interface that a plug-in states against ours.  Raises Problem, which
    names the side to upgrade.
    """
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
            instead=f"write `cfglint_api = ({API_VERSION}, {API_VERSION})` in `{module.__name__}`",
        )
    if least <= API_VERSION <= most:
        return
    wanted = f"version {least}" if least == most else f"versions {least} to {most}"
    older = least > API_VERSION
    raise Problem(
        f"{who} is written for {wanted} of the rule interface, this cfglint has {API_VERSION}",
        instead="upgrade cfglint" if older else f"upgrade `{upgrade}`",
    )
