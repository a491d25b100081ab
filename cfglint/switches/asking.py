"""Asking the state graph, and what comes back: Answer, and settling what is not known.

Where the hardware card describes no switch on a channel, a question is put three times: with a
switch of two positions there, with one of three, and with anything at all that the link can
deliver.  Only what is the same in all three is an answer; the rest is unknown, with the missing
switch named.  Facts of the firmware that the dialect does not state are tried both ways alike.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.craft import Missing
from cfglint.facts.links import EDGE_MARGIN_US
from cfglint.switches.modes import Logic
from cfglint.switches.positions import STICKS, Assume, assumed, claims, from_card, wire_of
from cfglint.switches.states import Arming, Graph, Step, TooMany, arming, dial

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from cfglint.craft import Craft
    from cfglint.span import Span
    from cfglint.switches.modes import RangeEnds
    from cfglint.switches.positions import Switch

State = Literal["holds", "broken", "unknown"]

#: The modes that decide whether motors turn and how.
CORE = ("arm", "arm-permit", "self-right", "lost-link")


class Answer(NamedTuple):
    """What the graph says to one question about one thing (``subject``).

    ``words``: the answer in a sentence or two; ``steps``: the witness, a path from power-up
    where there is one; ``spans``: the lines it hangs on, the first one foremost; ``channels``:
    the lanes that show it.  ``assumed``: what was assumed, empty when nothing was.
    ``lacks``: the facts that would settle an unknown.  ``reasons``: why, in fixed words for
    programs, where there are several.
    """

    question: str
    subject: str
    state: State
    words: str
    instead: str = ""
    steps: tuple[Step, ...] = ()
    spans: tuple[Span, ...] = ()
    channels: tuple[int, ...] = ()
    assumed: str = ""
    lacks: tuple[Missing, ...] = ()
    reasons: tuple[str, ...] = ()

    def path(self) -> list[str]:
        """The witness, one numbered line a step."""
        lines = []
        for number, step in enumerate(self.steps, 1):
            outcome = step.outcome()
            lines.append(f"{number}. {step.words()}{': ' + outcome if outcome else ''}.")
        return lines


class Setup:
    """What is known of one craft's switches, whatever is asked."""

    __slots__ = ("_logics", "_loose", "_views", "claims", "craft", "wire")

    def __init__(self, craft: Craft) -> None:
        self.craft = craft
        self.wire = wire_of(craft)
        self.claims = claims(craft)
        self._logics: dict[RangeEnds, Logic] = {}
        self._views: dict[tuple[RangeEnds, Assume, bool], View] = {}
        self._loose: tuple[Setup, tuple[str, ...]] | None = None

    def wandering(self) -> tuple[Setup, tuple[str, ...]] | None:
        """The same with switches that wander as far as one may, where the card does not say how
        far they do, and these switches' names; None where it says it of all.
        """
        card = self.craft.card
        silent = [row for row in card.switches if not row.jitter_said] if card is not None else []
        if card is None or not silent:
            return None
        if self._loose is None:
            own = tuple(
                row if row.jitter_said else row._replace(jitter_us=EDGE_MARGIN_US, jitter_said=True)
                for row in card.switches
            )
            loose = self.craft.changed(card=card.with_switches(own))
            self._loose = Setup(loose), tuple(row.name for row in silent)
        return self._loose

    def logic(self, ends: RangeEnds | None = None) -> Logic:
        """The craft's formulas; with ends that the dialect does not state taken as half-open."""
        known = ends or self.craft.traits.range_ends or "half-open"
        if known not in self._logics:
            self._logics[known] = Logic(self.craft, known)
        return self._logics[known]

    def described(self, channel: int) -> bool:
        """Whether it is known what sends on a channel: a card's switch, a stick, or nothing."""
        if not self.wire.carries(channel):
            return True
        rows = self.claims.get(channel, [])
        return len(rows) == 1 or (not rows and channel <= STICKS)

    def switch(self, channel: int, assume: Assume) -> Switch:
        rows = self.claims.get(channel, [])
        if len(rows) == 1:
            return from_card(rows[0], self.wire)
        # Two switches on one channel say no more than none does; sticks are free.
        stick = not rows and channel <= STICKS
        return assumed(channel, self.wire, "free" if stick else assume)

    def view(self, ends: RangeEnds, assume: Assume, permit: bool) -> View:
        key = ends, assume, permit
        if key not in self._views:
            self._views[key] = View(self, self.logic(ends), assume, permit)
        return self._views[key]

    def sets_up(self, mode: str) -> bool:
        """Whether a mode has a range, or follows one that has: a link alone turns nothing on."""
        return bool(self.logic().cone((mode,)).channels)


@lru_cache(maxsize=2)
def setup_of(craft: Craft) -> Setup:
    """The craft's Setup; made once for all the rules that ask about the same craft."""
    return Setup(craft)


class View:
    """One set of assumptions: what an unknown switch is, which ends belong to a range, and
    whether arming needs the permit.
    """

    __slots__ = ("_armings", "_graphs", "assume", "logic", "permit", "setup")

    def __init__(self, setup: Setup, logic: Logic, assume: Assume, permit: bool) -> None:
        self.setup = setup
        self.logic = logic
        self.assume: Assume = assume
        self.permit = permit
        self._graphs: dict[tuple[str, ...], Graph] = {}
        self._armings: dict[bool, Arming] = {}

    def graph(self, modes: tuple[str, ...]) -> Graph:
        """The states that these modes can tell apart.  Raises TooMany, or Missing."""
        if modes not in self._graphs:
            cone = self.logic.cone(modes)
            dials = [
                dial(
                    self.logic,
                    self.setup.switch(channel, self.assume),
                    self.setup.wire,
                    cone.ranges,
                )
                for channel in cone.channels
            ]
            self._graphs[modes] = Graph(self.logic, cone, dials)
        return self._graphs[modes]

    def arming(self, *, surely: bool = False) -> Arming:
        """What can be reached armed; ``surely``: by notches and without any chatter."""
        if surely not in self._armings:
            self._armings[surely] = arming(self.core(), permit=self.permit, surely=surely)
        return self._armings[surely]

    def core(self) -> Graph:
        """The states that decide whether motors turn, and how."""
        return self.graph(_without_permit(CORE, self.permit))

    def carried(self, channel: int) -> list[str]:
        """The modes with a range of their own on a channel."""
        return list(dict.fromkeys(row.mode for row in self.logic.rows_on(channel)))

    def arm_channels(self) -> set[int]:
        """The channels of the arm switches: those that carry nothing but arm and its permit,
        and whatever carries arm's first range.
        """
        cone = self.logic.cone(("arm",)).channels
        found = {ch for ch in cone if set(self.carried(ch)) <= {"arm", "arm-permit"}}
        rows = self.setup.craft.ranges_of("arm")
        first = [row.channel for row in rows if row.join == "any"] or [row.channel for row in rows]
        found.update(first[:1] or cone[:1])
        return found


class Question(NamedTuple):
    """One question: ``modes`` are those whose states it is about (their switches must be
    known), ``ask`` yields an answer for everything that is not as it should be.

    ``permit``: whether arming comes into it.  ``needs_switches``: a pilot must be able to do
    something, so that "holds" under an assumption is not enough.
    """

    name: str
    modes: tuple[str, ...]
    ask: Callable[[View], Iterable[Answer]]
    permit: bool = False
    needs_switches: bool = False


def settle(setup: Setup, question: Question) -> list[Answer]:
    """The answers to a question, whatever is not known: never empty.

    One "holds" when nothing is wrong and nothing missing; otherwise one answer for everything
    that is broken or unknown.  What holds only if a switch whose jitter nobody told stands quite
    still is unknown.
    """
    found = _settle(setup, question)
    loose = setup.wandering()
    if loose is None or any(answer.state == "unknown" for answer in found):
        return found
    known = {answer.subject for answer in found if answer.state == "broken"}
    gaps = tuple(Missing(f"jitter_us of switch {name}", "card") for name in loose[1])
    doubts = [
        _unknown(question.name, answer.subject, "", gaps)._replace(channels=answer.channels)
        for answer in _settle(loose[0], question)
        if answer.state != "holds" and answer.subject not in known
    ]
    return [*(answer for answer in found if answer.state != "holds"), *doubts] or found


def _settle(setup: Setup, question: Question) -> list[Answer]:
    craft, logic = setup.craft, setup.logic()
    asked = question.permit and setup.sets_up("arm-permit")
    needs = craft.traits.arm_needs_permit
    permits = (False, True) if asked and needs is None else (bool(asked and needs),)
    modes = _without_permit(question.modes, permits[-1])
    blank = [ch for ch in logic.cone(modes).channels if not setup.described(ch)]
    assumes: tuple[Assume, ...] = ("two", "three", "free") if blank else ("two",)
    known = craft.traits.range_ends
    ends: tuple[RangeEnds, ...] = (known,) if known is not None else ("half-open", "closed")

    found: dict[tuple[RangeEnds, Assume, bool], dict[str, Answer]] = {}
    for key in [(end, assume, permit) for end in ends for assume in assumes for permit in permits]:
        try:
            found[key] = {row.subject: row for row in question.ask(setup.view(*key))}
        except Missing as gap:
            return [_unknown(question.name, "", "", (gap,))]
        except TooMany as many:
            count = Missing("fewer joined ranges", "dump", str(many))
            return [_unknown(question.name, "", str(many), (count,))]
    subjects = dict.fromkeys(subject for rows in found.values() for subject in rows)
    answers = [_settled(question, subject, found, blank) for subject in subjects]
    if not any(row.state == "broken" for row in answers) and question.needs_switches and blank:
        return answers or [_unknown(question.name, "", "", _switch_gaps(blank))]
    return answers or [Answer(question.name, "", "holds", "")]


def _without_permit(modes: tuple[str, ...], permit: bool) -> tuple[str, ...]:
    """A permit that arming does not need decides nothing, so its switch need not be known."""
    return modes if permit else tuple(mode for mode in modes if mode != "arm-permit")


def _settled(
    question: Question,
    subject: str,
    found: dict[tuple[RangeEnds, Assume, bool], dict[str, Answer]],
    blank: list[int],
) -> Answer:
    """One subject's answer: what all assumptions agree on, or what keeps them apart."""
    keys = list(found)
    rows = [found[key].get(subject) for key in keys]
    states = ["holds" if row is None else row.state for row in rows]
    first = next(row for row in rows if row is not None)
    if all(state == "broken" for state in states):
        text = f"assuming {_switches(blank)}" if blank else ""
        return first._replace(assumed=text)
    own = tuple(gap for row in rows if row is not None for gap in row.lacks)
    gaps = list(own)
    for index, facts in (
        (0, (Missing("traits.range_ends", "dialect"),)),
        (1, _switch_gaps(blank)),
        (2, (Missing("traits.arm_needs_permit", "dialect"),)),
    ):
        others = {tuple(part for at, part in enumerate(key) if at != index) for key in keys}
        for other in others:
            group = {
                state
                for key, state in zip(keys, states, strict=True)
                if tuple(part for at, part in enumerate(key) if at != index) == other
            }
            if len(group) > 1:
                gaps.extend(facts)
                break
    # The same fact may be missed in several variants.
    by_text = {str(lack): lack for lack in gaps}
    answer = _unknown(question.name, subject, "", tuple(by_text.values()))
    return answer._replace(channels=first.channels)


def _unknown(question: str, subject: str, words: str, lacks: tuple[Missing, ...]) -> Answer:
    said = words or f"it cannot be told without {' and '.join(str(lack) for lack in lacks)}"
    return Answer(question, subject, "unknown", said, lacks=lacks)


def words_list(words: list[str]) -> str:
    """Words in a sentence: ``arm``, ``arm and beacon``, ``arm, beacon and lights``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _channels(channels: list[int]) -> str:
    words = words_list([str(channel) for channel in channels])
    return f"channel{'s' if len(channels) > 1 else ''} {words}"


def _switches(blank: list[int]) -> str:
    one = len(blank) == 1
    return (
        f"{'a switch' if one else 'switches'} of two or three positions on {_channels(blank)}, "
        f"which the card does not describe"
    )


def _switch_gaps(blank: list[int]) -> tuple[Missing, ...]:
    return tuple(Missing(f"switch on channel {channel}", "card") for channel in blank)
