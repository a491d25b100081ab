"""The engine's own rules about accepts: their pages.

No craft breaks them, only what somebody wrote to accept; the runner makes their findings
(``cfglint.runner.accept``), so what they would say of a craft alone is nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.rule import rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Finding, Options, Rule


def _no_craft(craft: Craft, options: Options) -> Iterator[Finding]:
    from cfglint.craft import NotForThisCraft

    raise NotForThisCraft("it is about what is accepted, not about a craft")


WITHOUT_REASON = rule(
    "accept/without-reason",
    grade="fix",
    title="An accept without a reason or a name",
    why="""
    A finding that is lived with is a decision.  Whoever flies the craft next year must be able to
    read why it was taken, and whom to ask.
    """,
    source="common practice",
)(_no_craft)

UNKNOWN_RULE = rule(
    "accept/unknown-rule",
    grade="fix",
    title="An accept for a rule that cannot be accepted",
    why="""
    Under a wrong name nothing is accepted, and the finding goes on counting.  Lines that cannot be
    read, crashed rules and faults of an accept itself are never accepted: nobody knows what would
    be.
    """,
    source="common practice",
)(_no_craft)

OUT_OF_DATE = rule(
    "accept/out-of-date",
    grade="fix",
    title="An accept that is out of date",
    why="""
    A date makes somebody look again.  Past it the finding counts as before.  A finding that grounds
    the craft is never accepted without one.
    """,
    source="common practice",
)(_no_craft)

MATCHES_NOTHING = rule(
    "accept/matches-nothing",
    grade="advise",
    title="An accept that fits no finding",
    why="""
    The fault was put right, or the accept stands in the wrong place.  Left where it is, it would
    hide the same fault when that comes back.
    """,
    source="common practice",
)(_no_craft)

TWO_CRAFT = rule(
    "accept/two-craft",
    grade="fix",
    title="An accept that could be for either of two dumps",
    why="""
    A dump that was copied for a start still has the first craft's name.  What was accepted for that
    one would pass for the other, which nobody has looked at.
    """,
    source="common practice",
)(_no_craft)

RULES: tuple[Rule, ...] = (WITHOUT_REASON, UNKNOWN_RULE, OUT_OF_DATE, MATCHES_NOTHING, TWO_CRAFT)
