"""Which rules a run applies, with which grades and options."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.apart import Fault
from cfglint.errors import EXIT_NOTHING, Problem
from cfglint.foreign import call
from cfglint.rule import Grade, Option, Options, Rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.runner.config import Config


class Chosen(NamedTuple):
    """A rule to apply.  ``grade`` is the hangar's own (None: the rule's or the finding's)."""

    rule: Rule
    options: Options
    grade: Grade | None = None


class Selection(NamedTuple):
    rules: tuple[Chosen, ...]
    problems: tuple[Problem, ...]


def select(
    rules: Sequence[Rule],
    config: Config | None,
    only: Sequence[str] = (),
    without: Sequence[str] = (),
) -> Selection:
    """The rules of a run.

    ``only`` and ``without`` hold rule names, former names or whole concerns (``motor``); they
    go before the configuration, so that ``only`` runs a rule that the hangar switched off.
    ``problems`` names what is wrong with them and with ``[rules]``: unknown rules and options,
    values that an option cannot have.
    """
    problems: list[Problem] = []
    settings: dict[str, tuple[str, dict[str, Any]]] = {}
    if config is not None:
        problems += settings_of(rules, config, settings)
    wanted = set(_named(rules, only, "--only", problems))
    unwanted = set(_named(rules, without, "--without", problems))
    chosen: list[Chosen] = []
    for rule in rules:
        grade, values = settings.get(rule.id, ("", {}))
        if rule.id in unwanted or (only and rule.id not in wanted):
            continue
        if grade == "off" and not only:
            continue
        options = Options({option.name: option.default for option in rule.options} | values)
        own: Any = None if grade in ("", "off") else grade
        chosen.append(Chosen(rule if own is None else rule._replace(grade=own), options, own))
    if rules and not chosen and not problems:
        problems.append(
            Problem(
                "no rule is left to apply",
                instead="look at --only, --without and the rules that are `off`",
                exit=EXIT_NOTHING,
            )
        )
    return Selection(tuple(chosen), tuple(problems))


def _named(
    rules: Sequence[Rule], words: Iterable[str], option: str, problems: list[Problem]
) -> Iterator[str]:
    """The ids of the rules that the words of an option mean."""
    for word in words:
        found = [rule.id for rule in rules if word in (rule.id, *rule.aliases)]
        found = found or [rule.id for rule in rules if rule.id.partition("/")[0] == word]
        if not found:
            problems.append(
                Problem(f"{option}: there is no rule `{word}`", instead=near(rules, word))
            )
        yield from found


def near(rules: Iterable[Rule], word: str) -> str:
    """What to do about a rule's name that there is not."""
    from cfglint.near import nearest

    names = [name for rule in rules for name in (rule.id, *rule.aliases)]
    close = nearest(word, names)
    if not close:
        # Half a name is remembered more often than the whole.
        tails = {name.partition("/")[2]: name for name in names}
        close = tails.get(nearest(word.rpartition("/")[2], tails), "")
    return f"did you mean `{close}`?" if close else "`cfglint rules` lists them"


# ------------------------------------------------------------------ [rules]


def settings_of(
    rules: Sequence[Rule], config: Config, settings: dict[str, tuple[str, dict[str, Any]]]
) -> Iterator[Problem]:
    """Fill ``settings`` with what ``[rules]`` says: rule id → grade (``""`` if it says none) and
    options.  Yields what is wrong with it.
    """
    given: dict[str, str] = {}
    for name, said in config.rules.items():
        rule = next((one for one in rules if name in (one.id, *one.aliases)), None)
        span = config.document.where("rules", name)
        if rule is None:
            yield Problem(f"there is no rule `{name}`", span=span, instead=near(rules, name))
            continue
        if rule.id in given:
            yield Problem(
                f"`{name}` and `{given[rule.id]}` are the same rule, set twice",
                span=span,
                instead=f"keep one of the two, best `{rule.id}`",
            )
            continue
        given[rule.id] = name
        if isinstance(said, str):
            settings[rule.id] = (said, {})
            continue
        values: dict[str, Any] = {}
        for key, value in said.items():
            if key == "grade":
                continue
            option = next((one for one in rule.options if one.name == key), None)
            if option is None:
                message, instead = _no_option(rule, key)
                span = config.document.where("rules", name, key)
                yield Problem(message, span=span, instead=instead)
                continue
            wrong = _unfit(rule, option, value)
            if wrong is not None:
                span = config.where("rules", name, key)
                yield Problem(wrong[0], span=span, instead=wrong[1])
                continue
            values[key] = float(value) if isinstance(option.default, float) else value
        settings[rule.id] = (said.get("grade", ""), values)


def _no_option(rule: Rule, key: str) -> tuple[str, str]:
    from cfglint.near import suggestion

    names = [option.name for option in rule.options]
    instead = suggestion(key, ["grade", *names])
    return f"the rule `{rule.id}` has no option `{key}`", instead


def _unfit(rule: Rule, option: Option, value: Any) -> tuple[str, str] | None:
    """What is wrong with an option's value, and what to write; None if nothing is."""
    default = option.default
    number = isinstance(default, int | float) and not isinstance(default, bool)
    if number:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        # nan fits no bound, and a whole number stays whole where the rule counts something.
        fits = fits and abs(value) < float("inf")
        fits = fits and (isinstance(default, float) or float(value).is_integer())
        kind = "a number" if isinstance(default, float) else "a whole number"
    else:
        fits = type(value) is type(default)
        kind = {bool: "`true` or `false`", str: "a text", list: "a list"}.get(
            type(default), f"like `{default}`"
        )
    if not fits:
        return f"the option `{option.name}` must be {kind}", f"write {option.about}"
    low, high = option.least, option.most
    if number and ((low is not None and value < low) or (high is not None and value > high)):
        if low is not None and high is not None:
            bounds = f"{low:g} to {high:g}"
        else:
            bounds = f"{low:g} or more" if low is not None else f"{high:g} at most"
        return f"the option `{option.name}` is {value:g}", f"it may be {bounds} ({option.about})"
    wrong: str | Fault = ""
    if option.check is not None:
        check = option.check
        wrong = call(rule, lambda: check(value))
    if isinstance(wrong, Fault):
        wrong = f"could not be checked, for its check failed: {wrong.text}"
    return (f"the option `{option.name}` {wrong}", f"write {option.about}") if wrong else None
