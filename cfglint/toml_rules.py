"""Rules without code, in TOML: thresholds, required settings, combinations, agreement of a fleet.

::

    [[rule]]
    id = "tide/idle-too-low"
    grade = "fix"
    title = "Idle too low for the marsh wind"
    why = "Gusts off the water stop a motor that idles slowly, and it may not start again."
    source = "common practice"
    setting = "motor.idle_percent"
    at_least = 4.5
    message = "idle is {value}: a gust may stop a motor"
    instead = "set motor.idle_percent to {wanted}"

    [[rule.example]]
    kind = "bad"
    dump = '''
    let least-spin be 3
                      ^ 3 idle
    '''

What is written becomes an ordinary :class:`cfglint.rule.Rule`.  No code runs, so a repository
that is checked may name such files (``[hangar] rule_files`` of ``cfglint.toml``).
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, cast

from cfglint.conditions import (
    CARD,
    CHANNEL,
    MODE,
    TESTS,
    VERSIONS,
    Condition,
    Subject,
    Test,
    answer,
    subject,
    value_of,
    wanted_value,
)
from cfglint.errors import EXIT_UNREAD, Problem, raise_all
from cfglint.rule import GRADES, Example, Finding, Related, Rule, fleet_rule, rule

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator, Mapping

    from cfglint.craft import Craft, Missing
    from cfglint.rule import Options
    from cfglint.schema import Shape
    from cfglint.tomltext import Document, Path

#: What a rule demands; each has exactly one.
DEMANDS = ("setting", "must", "must_not", "agree")
#: What stands for something in `message` and `instead`.
HOLDERS = ("value", "wanted", "setting", "craft", "usual")
KINDS = ("good", "bad", "unknown", "not-for")


def rules_of_file(path: str, shown: str = "") -> tuple[Rule, ...]:
    """The rules of a file; ``shown`` is how messages name it.  Raises Problem(s)."""
    from cfglint.tomltext import MOST_BYTES

    file = (shown or path).replace(os.sep, "/")
    try:
        with open(path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as wrong:
        raise Problem(
            f"this file of rules cannot be read: {wrong.strerror or wrong}",
            file=file,
            instead="look at the path and its permissions",
            exit=EXIT_UNREAD,
        ) from None
    return rules_of_text(file, data)


def rules_of_text(file: str, data: bytes) -> tuple[Rule, ...]:
    """The rules in a file's bytes.  Raises Problem(s), each with line and column."""
    from cfglint.schema import check_table
    from cfglint.tomltext import load

    document = load(file, data)
    raise_all(check_table(document, (), _shape()))
    problems: list[Problem] = []
    rules: dict[str, Rule] = {}
    for at, row in enumerate(document.data["rule"]):
        reader = _Reader(document, at, row)
        item = reader.rule()
        problems += reader.problems
        if item is None:
            continue
        if item.id in rules:
            problems.append(
                Problem(
                    f"two rules of this file are called `{item.id}`",
                    span=document.where_value("rule", at, "id"),
                    instead="give each its own name",
                )
            )
        rules.setdefault(item.id, item)
    raise_all(problems)
    return tuple(rules.values())


def _shape() -> Shape:
    from cfglint.schema import anything, either, flag, many, number, table, text, texts

    tests: dict[str, Shape] = {
        "is": anything(),
        "not": anything(),
        "one_of": many(anything(), least=1),
        "none_of": many(anything(), least=1),
        "at_least": either(number(), text(), about="a number"),
        "at_most": either(number(), text(), about="a number"),
        "between": many(either(number(), text()), "the least and the most", least=2, most=2),
        "holds": text("a word of the list"),
        "set": flag(),
    }
    condition = either(
        text(), number(), flag(), table(tests), about="a value, or tests such as `{ at_least = 3 }`"
    )
    conditions = table(free=condition, free_key=_subject)
    example = table(
        {
            "kind": text("what must come of it", required=True, choices=KINDS),
            "dump": text("a dump in the dialect `plain`", required=True),
            "card": text("a hardware card"),
            "missing": text("the fact that an `unknown` example lacks"),
            "beside": texts("dumps of the fleet's other craft"),
        }
    )
    words = {
        "id": text("a name such as `tide/idle-too-low`", required=True),
        "grade": text("how bad it is", required=True, choices=GRADES),
        "title": text("what is wrong, in a few words", required=True, check=_filled),
        "why": text("why it matters", required=True, check=_filled),
        "source": text("where it is written, or `common practice`", required=True, check=_filled),
        "message": text("what is wrong, on which value", check=_holders),
        "instead": text("what to write instead", check=_holders),
        "aliases": texts("former names"),
        "when": conditions._replace(about="which craft the rule is for"),
        "setting": text("what the tests are about", check=_subject),
        "must": conditions,
        "must_not": conditions,
        "agree": text("what must be alike in the fleet", check=_subject),
        "example": many(example, "what must come of it"),
    }
    return table({"rule": many(table({**words, **tests}), required=True, least=1)})


def _filled(value: str) -> str:
    return "" if value.strip() else "is blank"


def _holders(value: str) -> str:
    import re

    from cfglint.near import suggestion

    for name in re.findall(r"\{([^{}]*)\}", value):
        if name not in HOLDERS:
            return f"holds `{{{name[:40]}}}`, which stands for nothing; {suggestion(name, HOLDERS)}"
    return _filled(value)


def _subject(name: str) -> str:
    try:
        subject(name)
    except ValueError as wrong:
        return str(wrong)
    return ""


class _Reader:
    """Makes one rule of its table, whose keys and types are known to be right."""

    def __init__(self, document: Document, at: int, row: Mapping[str, Any]) -> None:
        self.document = document
        self.path: Path = ("rule", at)
        self.row = row
        self.problems: list[Problem] = []

    def wrong(self, message: str, *path: str, instead: str = "", key: bool = False) -> None:
        where = self.document.where if key else self.document.where_value
        self.problems.append(Problem(message, span=where(*self.path, *path), instead=instead))

    def rule(self) -> Rule | None:
        """The rule, or None and what is wrong in ``problems``."""
        row = self.row
        when = self.conditions("when")
        demand = self.demand()
        examples = tuple(map(_example, row.get("example", ())))
        if self.problems:
            return None
        words = {
            **{key: row[key] for key in ("grade", "title", "why", "source")},
            "examples": examples,
            "aliases": tuple(row.get("aliases", ())),
        }
        says = _Says(row.get("message", ""), row.get("instead", ""), self.document.file)
        try:
            if demand == "agree":
                what = subject(row["agree"])
                asks = tuple(dict.fromkeys(_ask(one) for one in (what, *(c.subject for c in when))))
                return fleet_rule(row["id"], asks=asks, **words)(_Agree(what, when, says))
            if demand == "must_not":
                return rule(row["id"], **words)(_MustNot(self.conditions("must_not"), when, says))
            must = self.conditions("must") if demand == "must" else self.tests_of_setting()
            item = rule(row["id"], **words)(_Must(must, when, says))
        except ValueError as wrong:
            self.wrong(str(wrong), "id", instead="write a name such as `tide/idle-too-low`")
            return None
        return None if self.problems else item

    def demand(self) -> str:
        """The one key that says what the rule demands."""
        from cfglint.near import listing

        row = self.row
        given = [key for key in DEMANDS if key in row]
        if len(given) != 1:
            said = f"says both `{given[0]}` and `{given[1]}`" if given else "demands nothing"
            self.wrong(
                f"this rule {said}",
                *given[1:2],
                instead=f"write one of {listing(DEMANDS)}",
                key=True,
            )
            return ""
        demand = given[0]
        tests = [key for key in TESTS if key in row]
        if tests and demand != "setting":
            self.wrong(
                f"`{tests[0]}` tests nothing here",
                tests[0],
                instead="it belongs to `setting`, or into a condition's braces",
                key=True,
            )
        elif demand == "setting":
            if tests:
                self.tests_of_setting()
            else:
                self.wrong(
                    "`setting` stands here without a test",
                    "setting",
                    instead=f"add one of {listing(TESTS)}",
                )
        elif demand == "agree":
            self.fleet()
        elif not row[demand]:
            self.wrong(f"`{demand}` is empty", demand, instead="write a condition in it")
        else:
            self.conditions(demand)
        return demand

    def fleet(self) -> None:
        """Fleet rules see no cards."""
        places = [("agree", self.row["agree"])]
        places += [("when", name) for name in self.row.get("when", ())]
        for key, name in places:
            if name.startswith(CARD):
                path = (key,) if key == "agree" else (key, name)
                self.wrong(
                    f"`{name}` is on the cards, which a fleet is not compared by",
                    *path,
                    instead="name a setting or a mode",
                    key=key == "when",
                )

    def conditions(self, key: str) -> tuple[Condition, ...]:
        """The conditions of a table, in its order."""
        return tuple(
            self.condition(
                subject(name), said if isinstance(said, dict) else {"is": said}, key, name
            )
            for name, said in self.row.get(key, {}).items()
        )

    def tests_of_setting(self) -> tuple[Condition, ...]:
        row = self.row
        tests = {key: row[key] for key in TESTS if key in row}
        return (self.condition(subject(row["setting"]), tests),)

    def condition(self, what: Subject, tests: Mapping[str, Any], *path: str) -> Condition:
        if not tests:
            self.wrong("this condition tests nothing", *path, instead="write a test in its braces")
        made = []
        for verb, value in tests.items():
            inner = self.row.get(path[0], {}).get(path[1]) if path else self.row
            place = (*path, verb) if isinstance(inner, dict) else path
            wrong, instead = _unfit(what, verb, value)
            if wrong:
                self.wrong(wrong, *place, instead=instead)
            made.append(Test(verb, float(value) if _counts(what, value) else value))
        return Condition(what, tuple(made))


def _counts(what: Subject, value: Any) -> bool:
    return what.kind == "number" and isinstance(value, int) and not isinstance(value, bool)


def _unfit(what: Subject, verb: str, value: Any) -> tuple[str, str]:
    """What is wrong with a test's value for a subject, and what to write; empty if nothing is."""
    from cfglint.near import listing, nearest

    form = TESTS[verb]
    if form == "flag":
        if what.name.startswith(MODE):
            return f"`{what.name}` has no test `set`", f'write `"{what.name}" = "set"`'
        return "", ""
    ordered = what.kind in ("count", "number") or what.name in VERSIONS
    if form in ("number", "pair") and not ordered:
        return f"`{what.name}` is no number, so `{verb}` cannot test it", "use `is` or `one_of`"
    if (form == "word") != (what.kind == "words") and form == "word":
        return f"`{what.name}` is no list, so `{verb}` cannot test it", "use `is` or `one_of`"
    if what.kind == "words" and verb in ("is", "not") and isinstance(value, list):
        form = "list"
    items = value if form in ("list", "pair") else [value]
    if form == "pair" and all(map(_is_number, items)) and items[0] > items[1]:
        return "the least is more than the most", "write the smaller number first"
    for item in items:
        if what.kind in ("count", "number"):
            if not _is_number(item):
                return f"`{what.name}` is a number, not `{item}`", "write a number without quotes"
        elif what.kind == "flag":
            if not isinstance(item, bool):
                return f"`{what.name}` is yes or no, not `{item}`", "write `true` or `false`"
        elif not isinstance(item, str):
            return f"`{what.name}` is a text, not `{item}`", "write it in quotes"
        elif what.words and item not in what.words:
            close = nearest(item, what.words)
            near = f"did you mean `{close}`? " if close else ""
            return (
                f"`{what.name}` is never `{item[:60]}`",
                f"{near}it may be {listing(what.words)}",
            )
    return "", ""


def _is_number(value: Any) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and abs(value) < float("inf")  # no comparison holds for nan


def _example(row: Mapping[str, Any]) -> Example:
    return Example(
        row["kind"],
        row["dump"],
        row.get("card", ""),
        row.get("missing", ""),
        beside=tuple(row.get("beside", ())),
    )


def _ask(what: Subject) -> str:
    return what.name.removesuffix(CHANNEL) if what.name.startswith(MODE) else what.name


# ------------------------------------------------------------------ the checks


class _Says:
    """The words of a finding, with what stands for something in them filled in.

    ``file`` is where they stand.
    """

    def __init__(self, message: str, instead: str, file: str = "") -> None:
        self.message = message
        self.instead = instead
        self.file = file

    def __call__(self, craft: Craft, usual_message: str, **known: str) -> tuple[str, str]:
        known["craft"] = craft.name
        return _fill(self.message or usual_message, known), _fill(self.instead, known)


def _fill(text: str, known: Mapping[str, str]) -> str:
    import re

    return re.sub(r"\{(\w+)\}", lambda found: known.get(found[1], found[0]), text)


def _applies(craft: Craft, when: Iterable[Condition]) -> None:
    """Raises NotForThisCraft where a condition is not met, else Missing where one is not known."""
    from cfglint.craft import Missing, NotForThisCraft

    gap: Missing | None = None
    for condition in when:
        try:
            found = answer(craft, condition)
        except Missing as missing:
            gap = gap or missing
            continue
        if found.state != "yes":
            raise NotForThisCraft(f"{condition.subject.name} is {found.shown}")
    if gap is not None:
        raise gap


class _Must:
    """Every condition must be met."""

    def __init__(self, must: tuple[Condition, ...], when: tuple[Condition, ...], says: _Says):
        self.must = must
        self.when = when
        self.says = says

    def __call__(self, craft: Craft, options: Options) -> Iterator[Finding | Missing]:
        from cfglint.craft import Missing, NotForThisCraft

        _applies(craft, self.when)
        asked = False
        for condition in self.must:
            try:
                found = answer(craft, condition)
            except Missing as missing:
                asked = True
                yield missing
                continue
            asked = asked or found.state != "nothing"
            if found.state == "no":
                name = condition.subject.name
                message, instead = self.says(
                    craft,
                    "{setting} is {value} and must be {wanted}",
                    value=found.shown,
                    wanted=found.wanted,
                    setting=name,
                )
                put = wanted_value(craft, condition)
                yield Finding(found.span, message, instead, edits=(put,) if put else ())
        if not asked:
            raise NotForThisCraft(f"{self.must[0].subject.name.removesuffix(CHANNEL)} is absent")


class _MustNot:
    """The conditions must not be met all at once."""

    def __init__(self, never: tuple[Condition, ...], when: tuple[Condition, ...], says: _Says):
        self.never = never
        self.when = when
        self.says = says

    def __call__(self, craft: Craft, options: Options) -> Iterator[Finding]:
        from cfglint.craft import Missing

        _applies(craft, self.when)
        gap: Missing | None = None
        met = []
        for condition in self.never:
            try:
                found = answer(craft, condition)
            except Missing as missing:
                gap = gap or missing
                continue
            if found.state != "yes":
                return
            met.append((condition.subject.name, found))
        if gap is not None:
            raise gap
        name, first = met[0]
        all_told = " and ".join(f"{name} is {found.shown}" for name, found in met)
        message, instead = self.says(
            craft, f"{all_told}, which must not be", value=first.shown, wanted="", setting=name
        )
        related = tuple(Related(found.span, f"{name} is {found.shown}") for name, found in met[1:])
        yield Finding(first.span, message, instead, related)


class _Agree:
    """The craft must have what more than half of the fleet have."""

    def __init__(self, what: Subject, when: tuple[Condition, ...], says: _Says):
        self.what = what
        self.when = when
        self.says = says

    def __call__(self, craft: Craft, options: Options) -> Iterator[Finding]:
        from cfglint.craft.fleet import usual

        _applies(craft, self.when)
        name = self.what.name
        common = usual(craft, _ask(self.what), self.tell)
        mine = self.tell(craft)
        if mine == common.value:
            return
        told, others = _shown(name, mine), _shown(name, common.value)
        message, instead = self.says(
            craft,
            f"{{setting}} is {{value}}, in {common.names()} it is {{usual}}",
            value=told,
            usual=others,
            wanted=others,
            setting=name,
        )
        like = common.crafts[0]
        related = (Related(_place(like, name), f"as {like.name} has it"),)
        yield Finding(_place(craft, name), message, instead, related)

    def tell(self, craft: Craft) -> Hashable | None:
        from cfglint.craft import Missing, NotForThisCraft

        try:
            _applies(craft, self.when)
        except Missing:
            return None
        name = self.what.name
        if not name.startswith(MODE):
            return cast("Hashable | None", value_of(craft, name).value)
        mode, channel, _ = name[len(MODE) :].partition(CHANNEL)
        rows = craft.ranges_of(mode)
        if not channel:
            return "set" if rows else "absent"
        if not rows:
            raise NotForThisCraft(f"{MODE}{mode} is absent")
        return tuple(sorted({row.channel for row in rows}))


def _shown(name: str, value: Any) -> str:
    from cfglint.craft.model import show

    if isinstance(value, tuple):
        return " and ".join(map(str, value))
    return show(name, value)


def _place(craft: Craft, name: str) -> Any:
    if not name.startswith(MODE):
        return craft.place(value_of(craft, name))
    mode, channel, _ = name[len(MODE) :].partition(CHANNEL)
    rows = craft.ranges_of(mode)
    if not rows:
        return craft.whole
    return rows[0].channel_span if channel else rows[0].span
