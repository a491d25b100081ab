"""The dump itself: lines that did not arrive, or did not arrive as meant.

A setup that is lost on the way to the controller leaves no other trace than these lines.  From
the worst to the mildest: what cannot be read, what the controller refused, what it has no value
or no word for, and what it was told twice.

Any of these can come by the hundred when the wrong dialect or the wrong file is read.  Each rule
shows the first :data:`SHOWN` and then says how many more there are; nothing is left out silently.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from cfglint.craft import Missing
from cfglint.rule import Finding, Related, bad, good, rule

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cfglint.craft import Craft, Misread, Refusal, Repeat, Stray, Unreadable
    from cfglint.rule import Options
    from cfglint.span import Span

    Item = TypeVar("Item")

#: Findings of one of these rules that are shown for one craft.
SHOWN = 100


def _looked_over(craft: Craft, lines: Sequence[object]) -> None:
    """Raise Missing where the dialect file is a draft: then these lines may be its fault."""
    if lines and "kept" in craft.unsure:
        hint = "nobody has confirmed what it leaves out, so these lines may be right"
        raise Missing("kept", "dialect", hint)


def _first(
    craft: Craft, items: Sequence[Item], find: Callable[[Item], Finding], what: str
) -> Iterator[Finding]:
    """A finding for each item up to SHOWN, then one that counts the rest."""
    for item in items[:SHOWN]:
        yield find(item)
    rest = len(items) - SHOWN
    if rest > 0:
        yield Finding(
            craft.whole,
            f"{rest} more {what} not shown: so many in one dump mean, as a rule, that it is read "
            f"as the wrong dialect (`{craft.dialect}`) or is no dump at all",
            "check which dialect this file is read as, then put right what is left",
        )


# ---------------------------------------------------------------- lines that are no lines


@rule(
    "dump/unreadable-line",
    grade="fix",
    title="A line that cannot be read",
    why="""
    Whatever stands on a line that cannot be read is judged by no rule, and a controller that is
    given the dump will not take it either.  A copy cut short, two lines run together or a stray
    word are typical.  This finding cannot be accepted: nobody knows what is being accepted.
    """,
    source="common practice",
    examples=(
        good("let motor-signal be dshot300"),
        good(
            """
            -- notes are welcome

            let motor-signal be dshot300
            """
        ),
        bad(
            """
            let motor-signal be dshot300
            <<<<<<< before the update
            ^^^^^^^^^^^^^^^^^^^^^^^^^ cannot be read
            """
        ),
        bad(
            """
            use arm while channel 5 in 1785..2048
            6 in 1785..2048
            ^^^^^^^^^^^^^^^ cannot be read
            """
        ),
    ),
)
def unreadable_line(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every line that is no statement of the dialect."""

    def find(line: Unreadable) -> Finding:
        return Finding(
            line.span,
            f"this line cannot be read ({line.why}): what it was meant to set is not set and "
            "not checked",
            "write the line as the dialect has it, delete it, or teach the dialect about it",
        )

    _looked_over(craft, craft.unreadable)
    return _first(craft, craft.unreadable, find, "lines that cannot be read are")


@rule(
    "dump/refused-line",
    grade="fix",
    title="A line that the controller refused",
    why="""
    In the log of a pasted session the controller answers each line it does not take.  After an
    update names change, and a restored setup is refused line by line while the rest goes in: the
    craft then flies with a default in place of every refused setting.
    """,
    source="common practice",
    examples=(
        good(
            """
            >> let motor-signal be dshot300
            >> stow
            """
        ),
        bad(
            """
            >> let motor-signal be dshot300
            >> let least-spin be 6.4
               ^^^^^^^^^^^^^^^^^^^^^ refused
            !! not taken: no such word
            >> stow
            """
        ),
        bad(
            """
            !! not taken: no such word
            ^^^^^^^^^^^^^^^^^^^^^^^^^^ refused
            let motor-signal be dshot300
            """
        ),
    ),
)
def refused_line(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every refused line where it stands, with all answers to it; an answer alone by itself."""
    answers: dict[Span, list[Refusal]] = {}
    for refusal in craft.refusals:
        answers.setdefault(refusal.cause or refusal.span, []).append(refusal)

    def find(group: list[Refusal]) -> Finding:
        first = group[0]
        reasons = "; ".join(refusal.reason for refusal in group if refusal.reason)
        said = f" (it said: {reasons})" if reasons else ""
        if first.cause is None:
            return Finding(
                first.span,
                f"the controller refused a line that is not in this log{said}: whatever it was "
                "meant to set is not set",
                "look up what was sent before this answer, and set it anew",
            )
        return Finding(
            first.cause,
            f"the controller refused `{first.cause_text}`{said}: the craft keeps what it had "
            "before, or a default",
            "write the line as this firmware has it, send it again, and make a fresh dump",
            tuple(Related(refusal.span, "the controller's answer") for refusal in group),
        )

    return _first(craft, list(answers.values()), find, "refused lines are")


# ---------------------------------------------------------------- words that mean nothing


@rule(
    "dump/value-not-understood",
    grade="fix",
    title="A value that the setting cannot have",
    why="""
    A controller that is given a value it does not have keeps the old one, or its default.  The
    setting is not what the line says, and no rule can judge what it is instead.
    """,
    source="common practice",
    examples=(
        good("let motor-signal be dshot300"),
        good("let stick-low be 1083"),
        bad(
            """
            let motor-signal be dshott300
                                ^^^^^^^^^ dshott300 motor.signal dshot300 servo-pwm
            """
        ),
        bad(
            """
            let motor-answers be maybe
                                 ^^^^^ maybe motor.two_way
            """
        ),
        bad(
            """
            let lost-link-wait be soon
                                  ^^^^ soon failsafe.delay_s
            """
        ),
    ),
)
def value_not_understood(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every known setting with a value outside what it can have."""

    def find(slip: Misread) -> Finding:
        valid = f"; it can be {slip.valid}" if slip.valid else ""
        return Finding(
            slip.span,
            f"`{slip.written}` is no value of {slip.name}, so what the craft really uses is "
            f"unknown{valid}",
            f"write `{slip.nearest}`, if that was meant" if slip.nearest else "write one that is",
        )

    _looked_over(craft, craft.misread)
    return _first(craft, craft.misread, find, "values that are not understood are")


@rule(
    "dump/unknown-setting",
    grade="advise",
    title="A setting that the dialect does not know",
    why="""
    Such a line is well formed but means nothing to cfglint.  A name that is nearly right is most
    likely a slip of the pen, and the controller will refuse it too: that is to be put right.  A
    name that resembles none may be a setting that no rule needs; then nothing is lost.
    """,
    source="common practice",
    confidence="likely",
    examples=(
        good("let motor-signal be dshot300"),
        bad(
            """
            let motor-signol be dshot300
                ^^^^^^^^^^^^ motor-signol motor-signal
            """
        ),
        # Right until 7.9; the next version calls it otherwise.
        bad(
            """
            -- board SLATEX, firmware 7.10, full listing
            let lost-link-wait be 0.8
                ^^^^^^^^^^^^^^ lost-link-wait 7.10 loss-wait
            """
        ),
        # A word is missing: the name is right, the line is not.
        bad(
            """
            channel 3 spans 1000 1500
            ^^^^^^^^^^^^^^^^^^^^^^^^^ breaks off channel.3.high_us
            """
        ),
        bad(
            """
            let wallpaper-hue be 7
                ^^^^^^^^^^^^^ wallpaper-hue not checked
            """
        ),
    ),
)
def unknown_setting(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every stray line; one with a near name has the graver grade."""
    firmware = craft.get("craft.firmware")
    # A name can be right in one version and gone in the next.
    here = f"the dialect `{craft.dialect}`" + (f" at {firmware}" if firmware.known else "")

    def find(stray: Stray) -> Finding:
        if stray.lacks:
            return Finding(
                stray.span,
                f"this line breaks off: it lacks {stray.lacks}, and nothing of it is set",
                "enter the line whole, and make the dump again if it was cut there",
                grade="fix",
            )
        if stray.nearest == stray.name:
            return Finding(
                stray.name_span,
                f"`{stray.name}` is known to {here}, but not in a line of this form or in this "
                "place: as it stands nothing is set",
                "write the line as the firmware does; look for a word too many or missing",
                grade="fix",
            )
        if stray.nearest:
            return Finding(
                stray.name_span,
                f"`{stray.name}` is no setting of {here}, but `{stray.nearest}` is: under a wrong "
                "name nothing is set",
                f"write `{stray.nearest}`, if that was meant",
                grade="fix",
            )
        return Finding(
            stray.name_span,
            f"`{stray.name}` means nothing in {here}, so this line is not checked",
            "if a rule should know of it, give it a meaning in the dialect file",
        )

    _looked_over(craft, craft.strays)
    return _first(craft, craft.strays, find, "settings that the dialect does not know are")


# ---------------------------------------------------------------- said twice


@rule(
    "dump/set-twice",
    grade="fix",
    title="One setting, two values",
    why="""
    The controller goes by the later line.  Whoever reads the dump from the top sees the earlier
    one, changes it, and wonders why nothing happens.  Two dumps pasted together show like this.
    """,
    source="common practice",
    examples=(
        good("let least-spin be 3.8"),
        good(
            """
            let least-spin be 4.6
            let least-spin be 4.6
            """
        ),
        bad(
            """
            let least-spin be 7.2
            let least-spin be 5
                              ^ motor.idle_percent 5 7.2 counts
            """
        ),
        bad(
            """
            let cell-count be 4
            let cell-kind be lipo
            let cell-count be 3
                              ^ battery.cells 3 4
            """
        ),
    ),
)
def set_twice(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every setting that was given again with another value."""

    def find(pair: Repeat) -> Finding:
        earlier, later = pair.earlier, pair.later
        where = f" on line {earlier.span.line}" if earlier.span is not None else ""
        beside = (Related(earlier.span, "set here first"),) if earlier.span is not None else ()
        return Finding(
            craft.place(later),
            f"{later.name} is {later} here but {earlier}{where}: the later one counts, and "
            "nobody can tell which was meant",
            "delete the line that is not meant",
            beside,
        )

    return _first(craft, craft.repeats, find, "settings with two values are")
