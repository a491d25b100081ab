"""The kit must catch every way in which a rule and its examples can disagree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import cfglint.kit
from cfglint.craft import Craft, Missing, NotForThisCraft
from cfglint.kit import ExampleError, build_craft, check_example, check_rule, parse_example
from cfglint.kit.examples import CARD, DUMP, expected_and_found, read_example
from cfglint.rule import (
    Edit,
    Example,
    Finding,
    Option,
    Options,
    Related,
    bad,
    good,
    judge,
    not_for,
    rule,
    unknown,
)
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.rule import Rule


def made(check: Callable[[Craft, Options], Any], *examples: Example, **more: Any) -> Rule:
    words: dict[str, Any] = {"title": "T", "why": "W", "source": "common practice"} | more
    return rule("kit/tried", grade="fix", examples=examples, **words)(check)


def too_hot(craft: Craft, options: Options) -> Iterator[Finding]:
    """Idle above a limit: a rule with an option, a card field and a missing fact."""
    if craft.get("motor.signal").value == "brushed":
        raise NotForThisCraft("no idle on brushed")
    idle = craft.need("motor.idle_percent")
    if idle.value > options.most:
        yield Finding(craft.place(idle), f"idle {idle} is too high")


HOT = made(too_hot, options=(Option("most", 10, "highest idle, %"),))


# ---------------------------------------------------------------- taking an example apart


def test_carets_are_taken_out_and_become_marks() -> None:
    case = parse_example(
        bad(
            """
            -- first
            let motor-idle be 50
                              ^^ too high
                ^^^^^^^^^^

            -- last
            """,
            card="""
            craft = "Dunlin"
                    ^^^^^^^^
            """,
        )
    )
    assert case.dump == "-- first\nlet motor-idle be 50\n\n-- last\n"
    assert case.card == 'craft = "Dunlin"\n'
    assert [(mark.span, mark.words) for mark in case.marks] == [
        (on_line(DUMP, 2, 18, 20), ("too", "high")),
        (on_line(DUMP, 2, 4, 14), ()),
        (on_line(CARD, 1, 8, 16), ()),
    ]


def test_carets_count_characters_not_bytes() -> None:
    case = parse_example(bad("-- Mövenmoor 🪶 x\n             ^"))
    craft, sources = read_example(case, "plain")
    assert sources[DUMP].slice(case.marks[0].span) == "🪶"
    assert craft.lines == 1


def test_a_line_on_one_line_and_an_empty_example() -> None:
    assert parse_example(good("save")).dump == "save\n"
    assert parse_example(good("")) == ("", "", (), ())
    craft, _ = read_example(parse_example(good("")), "plain")
    assert craft.values == {}


@pytest.mark.parametrize(
    ("example", "says"),
    [
        (bad("save"), "must mark"),
        (good("save\n^^^^"), "example that is good"),
        (bad("^^^^\nsave"), "under no line"),
        (bad("save\n  ^^^^ too far"), "past the end of line 1"),
        (unknown("save", missing=""), "must name the fact"),
        (Example("bad", "save", "\n^"), "card.toml: carets stand under no line"),
    ],
)
def test_an_example_written_wrongly(example: Example, says: str) -> None:
    with pytest.raises(ExampleError, match=says):
        parse_example(example)
    assert says in check_example(HOT, example)[0]


# ---------------------------------------------------------------- what passes


@pytest.mark.parametrize(
    "example",
    [
        good("let motor-idle be 5.8"),
        good("let motor-idle be 50", options={"most": 60}),
        bad("let motor-idle be 50\n                  ^^ 50% too HIGH"),
        unknown("let motor-signal be dshot300", missing="motor.idle_percent"),
        not_for("let motor-signal be brushed"),
    ],
    ids=lambda example: example.kind,
)
def test_sound_examples(example: Example) -> None:
    assert check_example(HOT, example) == []


# ---------------------------------------------------------------- what does not


@pytest.mark.parametrize(
    ("example", "says"),
    [
        # States.
        (good("let motor-idle be 50"), ["should be `holds` but is `broken`", "not marked"]),
        (good("save"), ["should be `holds` but is `unknown`: missing motor.idle_percent"]),
        (
            good("let motor-signal be brushed"),
            ["should be `holds` but is `not for this craft`: no idle on brushed"],
        ),
        (not_for("let motor-idle be 5"), ["should be `not for this craft` but is `holds`"]),
        (unknown("let motor-idle be 5", missing="x"), ["should be `unknown` but is `holds`"]),
        (
            unknown("save", missing="motor.signal"),
            ["should miss `motor.signal` but misses motor.idle_percent"],
        ),
        # Marks.
        (
            bad("let motor-idle be 5\n                  ^"),
            ["should be `broken` but is `holds`", "marked, but nothing was found"],
        ),
        (
            bad("let motor-idle be 50\n    ^^^^^^^^^^"),
            ["1:5: marked, but nothing was found", "1:19: found, but not marked: idle 50%"],
        ),
        (
            bad("let motor-idle be 50\n                  ^"),
            ["marked, but nothing was found", "found, but not marked"],
        ),
        (
            bad("let motor-idle be 50\n                  ^^ idle cold wet"),
            ["the message lacks `cold`, `wet`: idle 50% is too high"],
        ),
        # Options and cards.
        (good("save", options={"least": 1}), ["sets option 'least', which kit/tried does not"]),
        (good("save", card="[esc]\nsignals = 3"), ["cannot be read"]),
        (good("save", card="[esc"), ["cannot be read: card.toml:1"]),
    ],
)
def test_each_disagreement_is_named(example: Example, says: list[str]) -> None:
    complaints = check_example(HOT, example)
    assert len(complaints) == len(says), complaints
    for complaint, words in zip(complaints, says, strict=True):
        assert words in complaint


def test_a_complaint_draws_the_line_as_the_example_should_have_it() -> None:
    (_, complaint) = check_example(HOT, good("let motor-idle be 50"))
    assert complaint.endswith("    let motor-idle be 50\n                      ^^")


def test_two_findings_in_one_place_need_two_marks() -> None:
    def twice(craft: Craft, options: Options) -> Iterator[Finding]:
        place = craft.place(craft.need("motor.idle_percent"))
        yield Finding(place, "first thing")
        yield Finding(place, "second thing")

    one = "let motor-idle be 50\n                  ^^ thing"
    (complaint,) = check_example(made(twice), bad(one))
    assert "found, but not marked: second thing" in complaint
    # Each mark finds the finding that fits it, in whatever order they stand.
    assert check_example(made(twice), bad(f"{one} second\n                  ^^ first")) == []


def test_a_crash_is_a_complaint() -> None:
    def falls(craft: Craft, options: Options) -> Iterator[Finding]:
        yield Finding(craft.whole, str(1 // 0))

    (complaint,) = check_example(made(falls), good("save"))
    first, line = complaint.split("\n")
    assert first == "kit/tried crashed: ZeroDivisionError: integer division or modulo by zero"
    assert line.endswith("of the rule: yield Finding(craft.whole, str(1 // 0))")


def test_a_rule_that_remembers_is_caught() -> None:
    calls: list[int] = []

    def remembers(craft: Craft, options: Options) -> Iterator[Finding]:
        calls.append(1)
        yield Finding(craft.whole, f"call {len(calls)}")

    complaints = check_example(made(remembers), bad("save\n^^^^"))
    assert complaints == ["kit/tried says something else when it is asked a second time"]


def test_a_rule_that_forgets_between_readings_is_caught() -> None:
    seen: list[Craft] = []

    def first_only(craft: Craft, options: Options) -> Iterator[Finding]:
        if craft not in seen[:1]:
            seen.append(craft)
        if craft is seen[0]:
            yield Finding(craft.whole, "once")

    complaints = check_example(made(first_only), bad("save\n^^^^"))
    assert complaints[0] == ("should be `broken` but is `holds` (with CRLF line endings)")


NOWHERE = [
    Span("elsewhere.txt", 1, 1, 1, 2),
    Span(DUMP, 2, 1, 2, 2),
    Span(DUMP, 0, 1, 1, 2),
    Span(DUMP, 1, 1, 1, 99),
    Span(DUMP, 1, 0, 1, 2),
    Span(DUMP, 1, 4, 1, 2),
    Span(CARD, 1, 1, 1, 2),
]


@pytest.mark.parametrize("span", NOWHERE, ids=str)
def test_places_that_are_not_there(span: Span) -> None:
    def points(craft: Craft, options: Options) -> Iterator[Finding]:
        yield Finding(craft.whole, "whole", related=(Related(span, "beside"),))
        yield Finding(craft.whole, "whole", fix=(Edit(span, "better"),))
        yield Finding(span, "elsewhere")

    complaints = check_example(made(points), bad("save\n^^^^\n^^^^"))
    missing = [complaint for complaint in complaints if "no such place in the example" in complaint]
    assert len(missing) == 3
    assert all(complaint.startswith(f"{span}: ") for complaint in missing)


def test_an_empty_dump_has_one_empty_place() -> None:
    def empty(craft: Craft, options: Options) -> Iterator[Finding]:
        yield Finding(craft.whole, "nothing here")

    (state, complaint) = check_example(made(empty), good("", card='craft = "Dunlin"'))
    assert "should be `holds` but is `broken`" in state
    assert complaint.endswith("found, but not marked: nothing here\n")


def test_an_empty_example_tests_nothing() -> None:
    (complaint,) = check_example(made(lambda craft, options: ()), good("\n  \n"))
    assert complaint.startswith("the example is empty")


def test_silence_is_a_complaint() -> None:
    def mute(craft: Craft, options: Options) -> Iterator[Finding]:
        yield Finding(craft.whole, "  ")

    assert check_example(made(mute), bad("save\n^^^^")) == [
        f"{DUMP}:1:1: the finding has no message"
    ]

    def no_reason(craft: Craft, options: Options) -> list[Finding]:
        raise NotForThisCraft("")

    assert check_example(made(no_reason), not_for("save")) == [
        "is not for this craft, but gives no reason"
    ]


def test_a_finding_over_two_lines_is_drawn_to_the_end_of_its_first() -> None:
    def wide(craft: Craft, options: Options) -> Iterator[Finding]:
        yield Finding(Span(DUMP, 1, 4, 2, 2), "wide")

    complaints = check_example(made(wide), good("save\nsave"))
    assert complaints[1].endswith("    save\n       ^")


# ---------------------------------------------------------------- a rule as a whole


def test_a_sound_page() -> None:
    page = made(
        too_hot,
        good("let motor-idle be 5.8"),
        bad("let motor-idle be 50\n                  ^^"),
        unknown("save", missing="motor.idle_percent"),
        options=HOT.options,
    )
    assert check_rule(page) == []


def test_what_a_page_lacks() -> None:
    page = made(too_hot, options=HOT.options, title=" ", why="", source="")
    assert check_rule(page) == [
        "kit/tried: `title` is empty",
        "kit/tried: `why` is empty",
        "kit/tried: `source` is empty",
        "kit/tried: no good example",
        "kit/tried: no bad example",
    ]


@pytest.mark.parametrize(
    ("needs", "fact"),
    [
        (lambda craft: craft.need("motor.signal"), "motor.signal"),
        (lambda craft: craft.from_card("esc.two_way"), "esc.two_way"),
        (lambda craft: craft.trait("inversion"), "traits.inversion"),
        (lambda craft: craft.card and craft.from_card("esc.two_way"), "esc.two_way"),
        (lambda craft: craft.values and craft.need("loop.rate_hz"), "loop.rate_hz"),
        (lambda craft: None, ""),
    ],
)
def test_whether_a_rule_can_be_unknown_is_found_out(
    needs: Callable[[Craft], object], fact: str
) -> None:
    def asks(craft: Craft, options: Options) -> Iterator[Finding]:
        needs(craft)
        if craft.get("motor.idle_percent").known:
            yield Finding(craft.whole, "idle")

    page = made(
        asks,
        good(
            """
            -- board SLATE, firmware 4.9, full listing
            let motor-signal be dshot300
            let loop-rate be 4000
            """,
            card="[esc]\ntwo_way = true\nreverses = true",
        ),
        bad(
            """
            -- board SLATE, firmware 4.9, full listing
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
            let motor-idle be 5.8
            let motor-signal be dshot300
            let loop-rate be 4000
            """,
            card="[esc]\ntwo_way = true",
        ),
    )
    assert [check_example(page, example) for example in page.examples] == [[], []]
    expected = [f"kit/tried: no unknown example, though `{fact}` can be missing"] if fact else []
    assert check_rule(page) == expected


# ---------------------------------------------------------------- crafts built by hand


def test_a_built_craft_reads_like_one_from_a_dump() -> None:
    craft = build_craft(
        {"motor.signal": "dshot300", "motor.two_way": True, "motor.pulse_min_us": 1090.0},
        card={"esc.two_way": False, "esc.signals": frozenset({"dshot300"})},
        ranges=[("arm", 5, 1645, 2055)],
        links=[("beacon", "lost-link")],
        defaults={"loop.rate_hz": 8000, "motor.two_way": False},
        extent="changes",
    )
    assert craft.need("motor.signal").value == "dshot300"
    assert craft.get("motor.two_way").origin == "set"
    assert craft.get("motor.two_way").written == "yes"
    assert craft.get("loop.rate_hz").origin == "default"
    assert craft.ranges_of("arm")[0].low_us == 1645
    assert craft.mode_links[0].follows == "lost-link"
    assert craft.from_card("esc.two_way").value is False
    spans = [craft.get(name).span for name in ("motor.signal", "motor.two_way")]
    assert len(set(spans)) == 2
    card = craft.card
    assert card is not None
    assert card.get("esc.signals").span == on_line("built.toml", 2, 0, len("esc.signals dshot300"))


def test_a_built_craft_without_a_card_misses_it() -> None:
    with pytest.raises(Missing, match="no card"):
        build_craft().from_card("esc.two_way")
    outcome = judge(HOT, build_craft({"motor.idle_percent": 50.0}), Options({"most": 10}))
    assert [str(finding.span) for finding in outcome.findings] == ["built.txt:2:20"]


# ---------------------------------------------------------------- shown to a person


def cold(craft: Craft, options: Options) -> Iterator[Finding]:
    """Finds the idle, with a fix; the craft, without; and something beyond the example."""
    idle = craft.need("motor.idle_percent")
    if idle.value > 10:
        place = craft.place(idle)
        yield Finding(place, f"idle {idle}", fix=(Edit(place, "5"),))
    yield Finding(craft.whole, "here")


def test_findings_with_and_without_a_fix() -> None:
    tried = made(cold)
    example = bad(
        """
        let motor-idle be 50
                          ^^ idle
        ^^^^^^^^^^^^^^^^^^^^ here
        """
    )
    assert check_example(tried, example) == []


def test_expected_and_found() -> None:
    tried = made(cold)
    example = bad("let motor-idle be 50\n\n\n\t-- x\n\t^^ tab", card='craft = "x"\n')
    assert expected_and_found(tried, example) == (
        "expected (broken):\n"
        "    let motor-idle be 50\n"
        "    \n"
        "    \n"
        "    \t-- x\n"
        "    \t^^ tab\n"
        "  card.toml:\n"
        '    craft = "x"\n'
        "found (broken):\n"
        "    let motor-idle be 50\n"
        "    ^^^^^^^^^^^^^^^^^^^^ here\n"
        "                      ^^ idle 50%\n"
        "    \n"
        "    \n"
        "    \t-- x\n"
        "  card.toml:\n"
        '    craft = "x"'
    )


def test_what_cannot_be_shown_is_left_out() -> None:
    assert expected_and_found(made(cold), bad("save")) == ""
    assert expected_and_found(made(cold), good("save", card="craft = 1")) == ""

    def beyond(craft: Craft, options: Options) -> Iterator[Finding]:
        yield Finding(on_line(DUMP, 7, 0, 1), "beyond")

    assert expected_and_found(made(beyond), good("save")) == (
        "expected (holds):\n    save\nfound (broken):\n    save"
    )


def test_a_card_that_cannot_be_read_is_told_once() -> None:
    example = good("save", card="craft = 1")
    assert "cannot be read" in check_example(HOT, example)[0]
    assert not any("craft" in text for text in check_rule(made(too_hot, example)))


def test_a_crash_outside_the_rule_is_told_in_one_line() -> None:
    (complaint,) = check_example(made(divmod), good("save"))
    assert complaint.startswith("kit/tried crashed: TypeError: unsupported operand")
    assert "\n" not in complaint


def test_carets_beside_mark_nothing() -> None:
    with pytest.raises(ExampleError, match="only the first craft is judged"):
        parse_example(good("save", beside=("save\n^^^^",)))


def test_the_kit_has_no_other_names() -> None:
    with pytest.raises(AttributeError, match="has no attribute 'examine'"):
        cfglint.kit.examine  # noqa: B018
