"""The public interface for rule authors: Rule, Finding, Outcome, and the examples of a rule.

A rule is one pure function of a craft.  It yields findings; it may raise (or yield)
:class:`cfglint.craft.Missing` (most simply through ``craft.need``) when a fact is missing, and
:class:`cfglint.craft.NotForThisCraft` when it has nothing to say.  From that the runner makes
exactly one outcome for every rule and craft::

    @rule(
        "motor/left-on-default-signal",
        grade="ground",
        title="Motor signal left on brushed",
        why="A brushless craft on a brushed output may spin some motors at full drive.",
        source="common practice",
        examples=(good("let motor-signal be dshot300"), ...),
    )
    def left_on_default_signal(craft: Craft, options: Options) -> Iterator[Finding]:
        signal = craft.need("motor.signal")
        if signal.value == "brushed":
            yield Finding(craft.place(signal), "…", instead="…")
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple, cast

from cfglint.span import Excerpt

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from cfglint.craft import Craft, Missing, ModeRange, Unread
    from cfglint.span import Span

#: The version of this interface.  A plug-in states the versions that it is written for.
API_VERSION = 1

Grade = Literal["ground", "fix", "advise"]
State = Literal["holds", "broken", "unknown", "not for this craft"]
Confidence = Literal["certain", "likely", "hint"]

#: Worst first.
GRADES: tuple[Grade, ...] = ("ground", "fix", "advise")

#: No text of a rule or of its findings is longer, in characters; no rule finds more on one craft.
MOST_TEXT, MOST_FINDINGS = 20_000, 10_000


class Edit(NamedTuple):
    """Replace the text of ``span`` by ``text`` (an empty span inserts)."""

    span: Span
    text: str


class Put(NamedTuple):
    """What cures a finding, in neutral words: the setting ``name`` has ``value``.

    Where the dialect cannot write that very number, the nearest that it can from ``least`` to
    ``most`` will do; without them it must be that one.
    """

    name: str
    value: Any
    least: float | None = None
    most: float | None = None


class Move(NamedTuple):
    """What cures a finding: a mode range has other ends."""

    row: ModeRange
    low_us: float
    high_us: float


class Drop(NamedTuple):
    """What cures a finding: the line(s) of ``span`` are not there; they say nothing else."""

    span: Span


class Related(NamedTuple):
    """Another place that a finding speaks of, and what it has to do with it.

    The ``excerpt`` is put in by the runner, whatever a rule says.
    """

    span: Span
    message: str
    excerpt: Excerpt = Excerpt(1, ())


class Finding(NamedTuple):
    """One thing that is wrong.

    ``message`` says what is wrong, on which value, and why it matters in one clause;
    ``instead`` what to write or do; ``picture`` is an optional few lines of plain text drawn
    below the message; ``grade`` overrides the rule's own.

    ``edits`` is the cure in neutral words, all of it together, where lines of the dump can cure
    the finding and it is clear what they should say: the runner writes them as the craft's dialect
    does, and says where they go.  No edits are offered where somebody has to look, to choose or to
    solder: that is told as a matter of the ``hand``, or of the ``card`` where it is that which has
    to be put right.  ``fix`` is a cure in characters, for what has no neutral name.
    """

    span: Span
    message: str
    instead: str = ""
    related: tuple[Related, ...] = ()
    grade: Grade | None = None
    fix: tuple[Edit, ...] = ()
    picture: str = ""
    edits: tuple[Put | Move | Drop, ...] = ()
    by: Literal["hand", "card"] = "hand"


class Lack(NamedTuple):
    """A fact that would settle a rule: a setting or card field, and where to write it."""

    fact: str
    where: str
    text: str


class Example(NamedTuple):
    """One example of a rule: a dump in the bundled ``plain`` dialect, and what must come of it.

    In a ``bad`` example the line below an offending line holds carets under the exact text and,
    after them, words that the message must contain; it is not part of the dump.  ``unknown``
    examples name the missing fact.  ``card`` is the text of a hardware card.  ``beside`` are the
    dumps of the fleet's other craft, for fleet rules.
    """

    kind: Literal["good", "bad", "unknown", "not-for"]
    dump: str
    card: str = ""
    missing: str = ""
    options: tuple[tuple[str, Any], ...] = ()
    dialect: str = "plain"
    beside: tuple[str, ...] = ()


class Option(NamedTuple):
    """One number or word of a rule that a club may set.

    ``check`` says in one clause what is wrong with a value of the right type, or ``""``.
    """

    name: str
    default: Any
    about: str
    least: float | None = None
    most: float | None = None
    check: Callable[[Any], str] | None = None


class Options:
    """A rule's options as attributes: ``options.margin_us``."""

    __slots__ = ("_values",)

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = values

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        try:
            return self._values[name]
        except KeyError:
            raise AttributeError(f"this rule has no option {name!r}") from None


class Rule(NamedTuple):
    """A rule: its page in the handbook and its function."""

    id: str
    grade: Grade
    title: str
    why: str
    source: str
    check: Callable[[Craft, Options], Iterable[Finding | Missing]]
    options: tuple[Option, ...] = ()
    examples: tuple[Example, ...] = ()
    confidence: Confidence = "certain"
    aliases: tuple[str, ...] = ()
    pack: str = ""
    #: What a fleet rule asks of every craft: settings, families of settings, ``mode.arm``.
    asks: tuple[str, ...] = ()


class FleetRule(Rule):
    """A rule that compares a craft with the others of its hangar.

    It is asked once for each craft, as any other rule, and what it finds belongs to that craft;
    the others are in ``craft.others``.  All of them hold only what the rule lists in ``asks``.
    """

    __slots__ = ()


class Outcome(NamedTuple):
    """What one rule said of one craft.

    ``lacks`` names missing facts: always for ``unknown``, and for ``broken`` where some
    findings were certain before a fact was missed.  ``rests`` names the unconfirmed mappings
    that the rule looked at, in any state (see ``Craft.unsure``).
    """

    rule: Rule
    craft: Craft
    state: State
    findings: tuple[Finding, ...] = ()
    lacks: tuple[Lack, ...] = ()
    reason: str = ""
    rests: tuple[str, ...] = ()


def rule(
    id: str,  # noqa: A002  (the word a rule author uses)
    *,
    grade: Grade,
    title: str,
    why: str,
    source: str,
    options: tuple[Option, ...] = (),
    examples: tuple[Example, ...] = (),
    confidence: Confidence = "certain",
    aliases: tuple[str, ...] = (),
) -> Callable[[Callable[[Craft, Options], Iterable[Finding | Missing]]], Rule]:
    """Make a Rule of the decorated function.

    ``source`` is plain text; a key of ``cfglint.facts.sources`` in braces stands for that source.
    Raises ValueError for an id that is not ``concern/what-is-wrong`` or an unknown grade.
    """
    _check_words(id, grade)

    def make(check: Callable[[Craft, Options], Iterable[Finding | Missing]]) -> Rule:
        return Rule(
            id, grade, title, why, _cited(source), check, options, examples, confidence, aliases
        )

    return make


def fleet_rule(
    id: str,  # noqa: A002
    *,
    grade: Grade,
    title: str,
    why: str,
    source: str,
    asks: tuple[str, ...],
    options: tuple[Option, ...] = (),
    examples: tuple[Example, ...] = (),
    confidence: Confidence = "certain",
    aliases: tuple[str, ...] = (),
) -> Callable[[Callable[[Craft, Options], Iterable[Finding | Missing]]], FleetRule]:
    """Make a FleetRule of the decorated function, as :func:`rule` makes a Rule.

    ``asks`` lists the settings (or families: ``port.N.functions``) and modes (``mode.arm``) that
    it asks of a craft and of ``craft.others``; a craft's name, file, firmware and traits are
    always there.
    """
    _check_words(id, grade)
    if not isinstance(asks, tuple):  # one name in brackets is none
        raise TypeError(f"rule {id}: `asks` must be a tuple of names")

    def make(check: Callable[[Craft, Options], Iterable[Finding | Missing]]) -> FleetRule:
        return FleetRule(
            id,
            grade,
            title,
            why,
            _cited(source),
            check,
            options,
            examples,
            confidence,
            aliases,
            "",
            asks,
        )

    return make


def _cited(source: str) -> str:
    if "{" not in source:
        return source
    from cfglint.facts.sources import cite

    return cite(source)


def unsound(item: Rule) -> str:
    """What is wrong with a rule that somebody made by hand, in one clause; ``""`` if nothing is.

    Reports rely on all parts of a rule, whoever wrote it.
    """
    if type(item) not in (Rule, FleetRule):
        return "it is of a kind of its own"
    texts: list[Any] = [*item[:5], item.confidence, item.pack]
    rows: tuple[tuple[Any, type], ...] = ((item.options, Option), (item.examples, Example))
    for parts, kind in rows:
        if not isinstance(parts, tuple) or not all(type(one) is kind for one in parts):
            return f"it holds something else than a tuple of {kind.__name__}"
    lists: tuple[Any, ...] = (item.aliases, item.asks)
    for names in lists:
        if not isinstance(names, tuple):
            return "its `aliases` and `asks` must be tuples"
        texts += names
    for option in item.options:
        texts += (option.name, option.about)
    for example in item.examples:
        texts += (example.kind, example.dump, example.card, example.missing, example.dialect)
        texts += example.beside
    for text in texts:
        if type(text) is not str:
            return f"it holds {type(text).__name__} where a text must be"
        if len(text) > MOST_TEXT or (not text.isascii() and _lone(text)):
            return "it holds a text that is too long, or no text that can be written"
    if item.confidence not in ("certain", "likely", "hint"):
        return f"its confidence is `{item.confidence[:40]}`"
    check: Any = item.check
    if not callable(check):
        return "its `check` is no function"
    try:
        _check_words(item.id, item.grade)
    except ValueError as wrong:
        return str(wrong)
    return ""


def _lone(text: str) -> bool:
    return any("\ud800" <= char <= "\udfff" for char in text)


def _check_words(id: str, grade: str) -> None:  # noqa: A002
    concern, _, what = id.partition("/")
    for part in (concern, what):
        if not part or not part.replace("-", "").isalnum() or part != part.lower():
            raise ValueError(f"rule id {id!r} is not of the form concern/what-is-wrong")
    if grade not in GRADES:
        raise ValueError(f"rule {id}: grade {grade!r} is none of {', '.join(GRADES)}")


def good(
    dump: str,
    *,
    card: str = "",
    options: Mapping[str, Any] | None = None,
    beside: tuple[str, ...] = (),
) -> Example:
    """An example in which the rule holds."""
    return Example("good", dump, card, "", tuple((options or {}).items()), beside=beside)


def bad(
    dump: str,
    *,
    card: str = "",
    options: Mapping[str, Any] | None = None,
    beside: tuple[str, ...] = (),
) -> Example:
    """An example in which the rule is broken exactly where the carets stand."""
    return Example("bad", dump, card, "", tuple((options or {}).items()), beside=beside)


def unknown(
    dump: str,
    *,
    missing: str,
    card: str = "",
    options: Mapping[str, Any] | None = None,
    beside: tuple[str, ...] = (),
) -> Example:
    """An example in which the rule cannot tell, for want of the fact ``missing``."""
    return Example("unknown", dump, card, missing, tuple((options or {}).items()), beside=beside)


def not_for(
    dump: str,
    *,
    card: str = "",
    options: Mapping[str, Any] | None = None,
    beside: tuple[str, ...] = (),
) -> Example:
    """An example in which the rule has nothing to say."""
    return Example("not-for", dump, card, "", tuple((options or {}).items()), beside=beside)


def _doubted(found: Finding, craft: Craft, unread: Iterable[Unread]) -> bool:
    """Whether a finding hangs on what was not read: it is about what is absent, and that may be
    it; or nothing that was read is sure to mean what it says.
    """
    if not unread:
        return False
    from cfglint.craft.model import EVERYTHING

    absent = found.span == craft.whole
    return any(
        # A line that is lacking is no line that may have said it.
        (absent and (row.span is not None or row.where == "dialect"))
        or (EVERYTHING in row.names and not row.guessed)
        for row in unread
    )


def _unsure(others: Sequence[Craft]) -> bool:
    """Whether a mapping of any of them is not confirmed; a fleet knows it of itself."""
    known: bool | None = getattr(others, "unsure", None)
    return any(other.unsure for other in others) if known is None else known


def _plain(finding: Finding) -> Finding:
    """A finding whose edits hold ranges as the dump has them: neither watched nor in doubt."""
    if not any(isinstance(one, Move) for one in getattr(finding, "edits", ())):
        return finding
    from cfglint.craft import ModeRange

    def plain(row: ModeRange) -> ModeRange:
        fields: list[Any] = list(tuple.__iter__(row))
        return ModeRange(*fields[:-1])

    return finding._replace(
        edits=tuple(
            one._replace(row=plain(one.row)) if isinstance(one, Move) else one
            for one in finding.edits
        )
    )


def judge(item: Rule, craft: Craft, options: Options) -> Outcome:
    """The one outcome of a rule on a craft.

    A rule that asks several questions may yield a Missing for one and go on to the next.
    What was not read and may be about what the rule looked at is a missing fact, too: nothing
    then holds, and what is absent is not found fault with.  Findings about what a line says stay,
    unless no line is sure to mean what it says.
    Exceptions other than Missing and NotForThisCraft are the rule's own fault and pass through.
    """
    from cfglint.craft import Missing, NotForThisCraft

    findings: list[Finding] = []
    lacks: list[Lack] = []
    shown = craft
    if isinstance(item, FleetRule):
        from cfglint.craft.fleet import lean

        shown = lean(craft, item.asks)
    seen: dict[str, None] = {}
    unread: dict[Unread, None] = {}
    if shown.unsure or shown.unread or _unsure(shown.others):
        from cfglint.craft.unsure import watched

        shown = watched(shown, seen, unread)
    reason: str | None = None
    try:
        for found in item.check(shown, options):
            if isinstance(found, Missing):
                lacks.append(Lack(found.fact, found.where, str(found)))
            elif not _doubted(found, craft, unread):
                findings.append(_plain(found))
            if len(findings) + len(lacks) > MOST_FINDINGS:
                raise ValueError(f"the rule yields more than {MOST_FINDINGS} findings")
    except Missing as gap:
        lacks.append(Lack(gap.fact, gap.where, str(gap)))
    except NotForThisCraft as no:
        reason = str(no)
    known = {(lack.fact, lack.where) for lack in lacks}
    lacks += [Lack(*row[1:4]) for row in unread if (row.fact, row.where) not in known]
    rests = tuple(sorted(seen))
    if reason is not None and not findings and not lacks:
        return Outcome(item, craft, "not for this craft", reason=reason, rests=rests)
    state: State = "broken" if findings else "unknown" if lacks else "holds"
    once = cast("tuple[Lack, ...]", tuple(dict.fromkeys(lacks)))
    return Outcome(item, craft, state, tuple(findings), once, rests=rests)
