"""The dump itself: lines that did not arrive, or did not arrive as meant.

A setup that is lost on the way to the controller leaves no other trace than these lines.  From
the worst to the mildest: what cannot be read, what the controller refused, what it has no value
or no word for, and what it was told twice.

Any of these can come by the hundred when the wrong dialect or the wrong file is read.  Each rule
shows the first :data:`SHOWN` and then says how many more there are; nothing is left out silently.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from cfglint.craft import Missing, NotForThisCraft, unwatched
from cfglint.rule import Drop, Example, Finding, Related, Respell, bad, good, not_for, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cfglint.craft import Craft, Misread, Refusal, Repeat, Stray, Unreadable, Value
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


def _described(craft: Craft) -> None:
    """Raises Missing where nobody can say which words the craft's firmware has."""
    if craft.outside:
        hint = f"it describes {craft.outside}, and other versions may have other words"
        raise Missing("craft.firmware", "dialect", hint)


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
    _described(craft)

    def find(slip: Misread) -> Finding:
        valid = f"; it can be {slip.valid}" if slip.valid else ""
        return Finding(
            slip.span,
            f"`{slip.written}` is no value of {slip.name}, so what the craft really uses is "
            f"unknown{valid}",
            f"write `{slip.nearest}`, if that was meant" if slip.nearest else "write one that is",
            # A mode that the dialect does not know is hardly ever a slip of the pen.
            choices=(Respell(slip.span, slip.nearest),)
            if slip.nearest and "." in slip.name
            else (),
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
    _described(craft)
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
                edits=(Respell(stray.name_span, stray.nearest),) if stray.meant else (),
            )
        return Finding(
            stray.name_span,
            f"`{stray.name}` means nothing in {here}, so this line is not checked",
            "if a rule should know of it, give it a meaning in the dialect file",
        )

    _looked_over(craft, craft.strays)
    return _first(craft, craft.strays, find, "settings that the dialect does not know are")


# ---------------------------------------------------------------- a version nobody described


@rule(
    "dump/firmware-not-described",
    grade="fix",
    title="A firmware version that the dialect does not describe",
    why="""
    From one version to the next a setting may change its name, its measure, its default or its
    sense, under words that look the same.  Read by a dialect file that does not describe the
    craft's version, no line is sure to mean what it says: nothing of it holds, and what is found
    fault with may be right.
    """,
    source="common practice",
    examples=(
        good("-- board SLATE, firmware 7.9, full listing"),
        good("let motor-signal be dshot300"),
        bad(
            """
            -- board SLATE, firmware 11.2, full listing
                                     ^^^^ 11.2 plain 7.9
            let motor-signal be dshot300
            """
        ),
    ),
)
def firmware_not_described(craft: Craft, options: Options) -> Iterator[Finding]:
    """The firmware is among the versions that the dialect file says it describes."""
    if craft.outside:
        firmware = craft.get("craft.firmware")
        yield Finding(
            craft.place(firmware),
            f"the dialect `{craft.dialect}` describes {craft.outside} and not firmware {firmware}: "
            "what its lines mean may have changed, so no rule that looks at them can tell",
            "read the dump by a dialect file that describes this version, or find out what "
            "changed, say it in `[[changes]]` and widen `versions`",
        )


# ---------------------------------------------------------------- a dump that is not whole


@rule(
    "dump/not-saved",
    grade="fix",
    title="No line that saves, or lines after it",
    why="""
    What is entered holds until the power is cut, unless the controller is told to keep it.  A
    listing ends with the line that does so; where it is missing the dump was cut off, and what
    is entered from it is gone at the next battery.  So is what stands after that line.
    """,
    source="common practice",
    examples=(
        good(
            """
            -- board SLATE, firmware 7.9, changes only
            let motor-signal be dshot300
            stow
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ stow cut off
            let motor-signal be dshot300
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let motor-signal be dshot300
            stow
            let loop-rate be 2600
            ^^^^^^^^^^^^^^^^^^^^^ stow not kept
            """
        ),
        not_for("let motor-signal be dshot300"),
    ),
)
def not_saved(craft: Craft, options: Options) -> Iterator[Finding]:
    """The dialect's saving line stands after all that sets something."""
    listing = craft.listing
    if not listing.named:
        raise NotForThisCraft("it is an excerpt: no line says which controller it is of")
    if not listing.save:
        raise NotForThisCraft(f"the dialect `{craft.dialect}` knows no line that saves")
    if not listing.saved:
        yield Finding(
            craft.whole,
            f"no line `{listing.save}` ends this dump: it may be cut off, and what is entered from "
            "it is not kept when the power is cut",
            f"take a fresh dump, or look whether all is there and add `{listing.save}` as its "
            "last line",
        )
    elif listing.unsaved is not None:
        yield Finding(
            listing.unsaved,
            f"this line stands after the last `{listing.save}`: entered like this, it is not kept "
            "when the power is cut",
            f"move `{listing.save}` to the end",
        )


@rule(
    "dump/section-left-open",
    grade="fix",
    title="The dump ends in the middle of a section",
    why="""
    A section that is opened and not closed was cut off, and with it whatever came after.  Nothing
    of that is checked, and a controller that is given the dump waits for the rest.
    """,
    source="common practice",
    examples=(
        good("let motor-signal be dshot300"),
        Example(
            "good",
            """
            drive {
              magnets: 22
            }
            """,
            dialect="blocks",
        ),
        Example(
            "bad",
            """
            drive {
              magnets: 22
            }
            loop {
            ^^^^^^ never closed
              turns: 3.1
            """,
            dialect="blocks",
        ),
    ),
)
def section_left_open(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every section that the dialect closes by a mark is closed."""

    def find(span: Span) -> Finding:
        return Finding(
            span,
            "the section that opens here is never closed: the dump is cut off, or a line of it was "
            "lost",
            "take a fresh dump; do not close the section by hand unless all of it is there",
        )

    return _first(craft, craft.listing.unclosed, find, "sections left open are")


@rule(
    "dump/rows-missing",
    grade="fix",
    title="A full listing that does not list all",
    why="""
    A full listing has a line for each channel and each port.  Where some are there and some are
    not, it was cut off or edited, and what the missing ones say is not checked: that they are at
    their defaults is more than anybody knows.
    """,
    source="common practice",
    examples=(
        good(
            """
            -- board SLATE, firmware 7.9, changes only
            channel 1 spans 1000 1500 2000
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ port 3 of 6
            port 1 carries telemetry at 57600
            port 2 carries receiver at 100000
            port 4 carries nothing
            port 5 carries nothing
            port 6 carries nothing
            """
        ),
        not_for("channel 1 spans 1000 1500 2000"),
    ),
)
def rows_missing(craft: Craft, options: Options) -> Iterator[Finding]:
    """In a full listing each of what is counted has its line, if any of them has."""
    listing = craft.listing
    if not listing.named:
        raise NotForThisCraft("it is an excerpt: no line says which controller it is of")
    if craft.extent == "changes":
        return
    gone: dict[tuple[str, int], set[int]] = {}
    for whole, many in listing.counts.items():
        head, rest = whole.split("N", 1)
        there = {
            number
            for number in range(1, many + 1)
            if craft.get(f"{head}{number}{rest}").origin == "set"
        }
        if there:
            gone.setdefault((head[:-1], many), set()).update({*range(1, many + 1)} - there)
    for (what, many), gaps in gone.items():
        if gaps:
            yield Finding(
                craft.whole,
                f"this is said to be a full listing, but lines of {what} {_numbers(gaps)} of "
                f"{many} are not there: it is cut off or was edited, and what they say is not "
                "checked",
                "take a fresh dump; if it is meant to hold only some lines, say so in its heading",
            )


@rule(
    "dump/beyond-the-count",
    grade="fix",
    title="A channel or port that the controller does not have",
    why="""
    A controller has so many channels and ports and no more.  A line about another is refused, or
    taken for something else; most often it is a slip of the pen for one that does exist, which is
    then not set.
    """,
    source="by arithmetic, from the counts in the dialect file",
    examples=(
        good("port 6 carries telemetry at 57600"),
        bad(
            """
            port 8 carries telemetry at 57600
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ port 8 6
            """
        ),
        bad(
            """
            channel 17 spans 1000 1500 2000
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ channel 17 16
            """
        ),
        bad(
            """
            let receiver-port be 7
                                 ^ port 7 6
            """
        ),
        bad(
            """
            on loss channel 23 becomes hold
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ channel 23 16
            """
        ),
    ),
)
def beyond_the_count(craft: Craft, options: Options) -> Iterator[Finding]:
    """No number is higher than the dialect's count."""
    counts: dict[str, int] = {}
    for whole, many in craft.listing.counts.items():
        head = whole.partition(".N")[0]
        counts[head] = max(many, counts.get(head, 0))
    said: set[tuple[str, int]] = set()
    rows: list[tuple[str, int, Value]] = []
    port = craft.get("receiver.port")
    if port.span is not None:
        rows.append(("port", int(port.value), port._replace(line_span=port.span)))
    for name in unwatched(craft.values):
        head, _, rest = name.removeprefix("failsafe.").partition(".")
        place = rest.partition(".")[0]
        if place.isdigit() and int(place) > counts.get(head, int(place)):
            value = craft.get(name)
            if value.span is not None:
                rows.append((head, int(place), value))
    for what, number, value in rows:
        if number <= counts.get(what, number) or (what, number) in said:
            continue
        said.add((what, number))
        yield Finding(
            value.line_span or craft.place(value),
            f"this is about {what} {number}, but the controller has {counts[what]}: the line is "
            "refused, or sets something else",
            f"write a {what} from 1 to {counts[what]}, or delete the line",
            choices=(Drop(value.line_span),) if value.line_span is not None else (),
        )


def _numbers(found: set[int]) -> str:
    """``3``, ``1 to 4``, ``1, 2, 7 to 16``."""
    runs: list[list[int]] = []
    for number in sorted(found):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


@rule(
    "dump/name-unlike-card",
    grade="fix",
    title="Dump and card are of different craft",
    why="""
    A dump that is judged by another craft's card is judged wrongly in all that matters, and a
    dump sent to the wrong craft sets it up as another.
    """,
    source="common practice",
    examples=(
        good('let name-given be "Avocet"', card='craft = "Avocet"'),
        # How a name is written does not matter.
        good('let name-given be "AVOCET 2"', card='craft = "Avocet-2"'),
        bad(
            """
            let name-given be "Egret"
                              ^^^^^^^ Egret Avocet
            """,
            card='craft = "Avocet"',
        ),
        unknown("let loop-rate be 2500", card='craft = "Avocet"', missing="craft.name"),
        not_for('let name-given be "Avocet"'),
        not_for('let name-given be "Avocet"', card="[esc]\ntwo_way = true"),
    ),
)
def name_unlike_card(craft: Craft, options: Options) -> Iterator[Finding]:
    """The name in the dump is the card's, letter case and joints apart."""
    meant = craft.maybe_card("craft")
    if not meant.known:
        raise NotForThisCraft("no card names this craft")
    called = craft.need("craft.name")
    if _plain(called.value) != _plain(meant.value):
        yield Finding(
            craft.place(called),
            f"the dump calls itself {called.value}, but the card is of {meant.value}: one of them "
            "belongs to another craft",
            "give this dump its own card, or correct the name",
            (Related(meant.span, "the card's name"),) if meant.span else (),
        )


def _plain(name: str) -> str:
    return "".join(char for char in str(name).casefold() if char.isalnum())


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
            choices=tuple(Drop(one.line_span) for one in (earlier, later) if one.line_span),
        )

    return _first(craft, craft.repeats, find, "settings with two values are")
