"""Fleet rules in a run: one outcome each, the same for a part of the hangar as for the whole."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft import Missing, NotForThisCraft
from cfglint.craft.fleet import Fleet, FleetCraft, among, index, lean, usual
from cfglint.kit.build import build_craft
from cfglint.plugins import Loaded, load_rules
from cfglint.rule import Finding, FleetRule, Options, Related, fleet_rule, judge
from cfglint.runner.fleet import NO_HANGAR, NOT_OF_IT
from cfglint.runner.lint import Request, lint

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from cfglint.craft import Craft
    from cfglint.results import Run

    from .conftest import Write

CONFIG = '[[dumps]]\nfiles = "dumps/*.dump.txt"\ndialect = "plain"\ncraft = "{stem}"\n'
HEAD = "-- board SLATE, firmware 7.9, full listing\n"
NAMES = ("avocet", "bittern", "curlew", "dunlin")


def files(*mhz: int | str) -> dict[str, str | bytes]:
    rows: dict[str, str | bytes] = {"cfglint.toml": CONFIG}
    for name, value in zip(NAMES, mhz, strict=False):
        rows[f"dumps/{name}.dump.txt"] = HEAD + f"let video-mhz be {value}\n"
    return rows


def ran(*paths: Path, only: str = "fleet/one-video-frequency", **more: Any) -> Run:
    return lint(Request(paths=[str(path) for path in paths], only=[only], **more))


def states(run: Run) -> dict[str, str]:
    return {one.file.partition("/")[2].partition(".")[0]: one.state for one in run.verdicts}


def test_every_craft_has_one_outcome(write: Write) -> None:
    run = ran(write(files(5800, 5840, 5801)))
    assert states(run) == {"avocet": "broken", "bittern": "holds", "curlew": "broken"}
    assert len(run.verdicts) == 3
    assert run.troubles == ()
    first = run.found[0]
    assert (first.file, first.span.line, first.span.column) == ("dumps/avocet.dump.txt", 2, 18)
    assert first.excerpt.lines == ("let video-mhz be 5800",)
    (beside,) = first.beside
    assert beside.span.file == "dumps/curlew.dump.txt"
    assert beside.excerpt.lines == ("let video-mhz be 5801",)
    assert first.print


def test_a_part_of_the_hangar_comes_out_as_in_the_whole(write: Write) -> None:
    root = write(files(5800, 5840, 5801))
    whole = {one.file: one for one in ran(root, hashes=True).verdicts}
    for name in NAMES[:3]:
        part = ran(root / "dumps" / f"{name}.dump.txt", hashes=True)
        (verdict,) = part.verdicts
        assert verdict == whole[verdict.file]
        assert [craft.name for craft in part.crafts] == [name]


def test_in_several_processes_as_in_one(write: Write) -> None:
    root = write(files(5800, 5840, 5801))
    assert ran(root, processes=2) == ran(root, processes=1)


def test_all_rules_together_give_one_outcome_for_each_craft(write: Write) -> None:
    run = lint(Request(paths=[str(write(files(5800, 5840, 5801)))]))
    pairs = [(one.file, one.rule) for one in run.verdicts]
    assert len(pairs) == len(set(pairs)) == 3 * len(run.rules)


def test_a_craft_that_cannot_be_read_leaves_the_others_unknown(write: Write) -> None:
    root = write({**files(5800, 5840, 5801), "dumps/dunlin.dump.txt": b""})
    run = ran(root)
    assert states(run) == {"avocet": "broken", "bittern": "unknown", "curlew": "broken"}
    lack = next(one for one in run.verdicts if one.state == "unknown").lacks[0]
    assert lack.text == "`dumps/dunlin.dump.txt`, which could not be read"
    assert [one.file for one in run.troubles] == ["dumps/dunlin.dump.txt"]
    # The same where only the sound one was asked for; nothing more is told of the other.
    part = ran(root / "dumps" / "bittern.dump.txt")
    assert states(part) == {"bittern": "unknown"}
    assert part.troubles == ()


def test_a_fact_missing_in_another_craft_is_named(write: Write) -> None:
    root = write({**files(5800, 5840), "dumps/curlew.dump.txt": HEAD})
    run = ran(root)
    assert set(states(run).values()) == {"unknown"}
    assert "curlew" in run.verdicts[0].lacks[0].text


def test_without_a_hangar_there_is_no_fleet(write: Write) -> None:
    rows = files(5800, 5800)
    del rows["cfglint.toml"]
    run = ran(write(rows))
    assert {one.reason for one in run.verdicts} == {NO_HANGAR}
    assert len(run.verdicts) == 2


def test_a_dump_that_no_entry_fits_is_not_of_the_fleet(write: Write) -> None:
    root = write({**files(5800, 5840), "updates/avocet.txt": HEAD + "let video-mhz be 5800\n"})
    run = ran(root / "updates" / "avocet.txt")
    assert [one.reason for one in run.verdicts] == [NO_HANGAR]
    run = ran(root / "updates" / "avocet.txt", root / "dumps" / "bittern.dump.txt")
    assert [(one.state, one.reason) for one in run.verdicts] == [
        ("holds", ""),
        ("not for this craft", NOT_OF_IT),
    ]


def test_grade_options_and_off(write: Write) -> None:
    rows = files(5800, 5840)
    rows["cfglint.toml"] = (
        CONFIG + '[rules]\n"fleet/one-video-frequency" = { grade = "advise", mhz = 60 }\n'
    )
    run = ran(write(rows))
    assert [one.grade for one in run.found] == ["advise", "advise"]


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[FleetRule]:
    wanted: list[FleetRule] = []
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded(tuple(wanted), ()))
    return wanted


def rule_of(check: Any, asks: tuple[str, ...] = ("video.frequency_mhz",)) -> FleetRule:
    words: dict[str, Any] = {"grade": "fix", "title": "t", "why": "w", "source": "common practice"}
    return fleet_rule("club/made", asks=asks, **words)(check)


@pytest.mark.parametrize(
    "ask",
    [
        lambda craft: craft.get("motor.poles"),
        lambda craft: craft.need("motor.poles"),
        lambda craft: craft.others[0].get("motor.poles"),
        lambda craft: craft.ranges_of("arm"),
        lambda craft: craft.from_card("battery.cells"),
        lambda craft: craft.maybe_card("battery.cells"),
    ],
)
def test_a_question_that_is_not_listed_is_a_crash(
    write: Write, made: list[FleetRule], ask: Any
) -> None:
    def check(craft: Craft, options: Options) -> Iterator[Finding]:
        ask(craft)
        yield from ()

    made.append(rule_of(check))
    run = ran(write(files(5800, 5840)), only="club/made")
    assert [(one.kind, one.exit, one.rule) for one in run.troubles] == [
        ("crash", 3, "club/made"),
        ("crash", 3, "club/made"),
    ]
    assert "LookupError" in run.troubles[0].detail
    assert run.verdicts == ()


def test_findings_of_a_fleet_rule_are_checked_like_any(write: Write, made: list[FleetRule]) -> None:
    def check(craft: Craft, options: Options) -> Iterator[Any]:
        value = craft.need("video.frequency_mhz")
        related = (Related(craft.place(value)._replace(file="none.txt"), "nowhere"),)
        yield Finding(craft.place(value), "odd", "set motor.poles", related)
        if craft.name == "bittern":
            yield "no finding"

    made.append(rule_of(check))
    run = ran(write(files(5800, 5840)), only="club/made")
    assert [one.kind for one in run.troubles] == ["crash"]
    (found,) = run.found
    assert found.instead == "set motor.poles; here, motor.poles is written `let bell-magnet be …`"
    assert found.beside[0].excerpt.lines == ()


# ------------------------------------------------------------------ what a fleet's craft know


def test_a_craft_cut_down_keeps_what_is_asked() -> None:
    craft = build_craft(
        {"port.2.baud": 100000.0, "motor.poles": 14},
        ranges=[("arm", 5, 1735.0, 2135.0), ("log", 6, 1735.0, 2135.0)],
        links=[("arm", "log"), ("log", "arm")],
    )
    short = lean(craft, ("port.N.baud", "mode.arm"))
    assert isinstance(short, FleetCraft)
    assert list(short.values) == ["port.2.baud"]
    assert [row.mode for row in short.mode_ranges] == ["arm"]
    assert [row.mode for row in short.mode_links] == ["arm"]
    assert short.get("port.3.baud").origin == "missing"
    assert lean(short, ("port.N.baud", "mode.arm")) is short
    assert lean(short, ("mode.arm",)) is not short


# ------------------------------------------------------------------ the index


def fleet_of(values: list[int | None]) -> list[Craft]:
    """Craft of one fleet, each with a number of poles, or none."""
    crafts = [
        build_craft({} if poles is None else {"motor.poles": poles}, name=f"C{at}")
        for at, poles in enumerate(values)
    ]
    fleet = Fleet(crafts)
    return [among(fleet, at, ("motor.poles",)) for at in range(len(crafts))]


def poles(craft: Craft) -> int | None:
    value: int | None = craft.get("motor.poles").value
    return value


@given(st.lists(st.none() | st.integers(2, 9), min_size=1, max_size=12))
def test_the_index_says_what_asking_each_would(values: list[int | None]) -> None:
    for at, craft in enumerate(fleet_of(values)):
        rest = [(f"C{one}", value) for one, value in enumerate(values) if one != at]
        assert [other.name for other in craft.others] == [name for name, _ in rest]
        found = index(craft, poles)
        for wanted in range(2, 10):
            same = [name for name, value in rest if value == wanted]
            near = [name for name, value in rest if value is not None and 2 < value <= wanted]
            assert [other.name for other in found.others_of(wanted)] == same
            assert [other.name for other in found.others_between(3, wanted)] == near
        assert [other.name for other in found.silent] == [name for name, v in rest if v is None]


@given(st.lists(st.none() | st.integers(2, 4), min_size=1, max_size=9))
def test_usual_is_what_counting_says(values: list[int | None]) -> None:
    for at, craft in enumerate(fleet_of(values)):
        known = Counter(value for value in values if value is not None)
        silent = values.count(None)
        value, count = known.most_common(1)[0] if known else (None, 0)
        if values[at] is None:
            with pytest.raises(Missing):
                usual(craft, "motor.poles", poles)
        elif len(values) < 3 or (count + silent) * 2 <= len(values):
            with pytest.raises(NotForThisCraft):
                usual(craft, "motor.poles", poles)
        elif count * 2 <= len(values):
            with pytest.raises(Missing):
                usual(craft, "motor.poles", poles)
        else:
            found = usual(craft, "motor.poles", poles)
            assert found.value == value
            assert [one.name for one in found.crafts] == [
                f"C{one}" for one, mine in enumerate(values) if mine == value
            ]


def asked_for(count: int) -> int:
    """How often craft are asked something while all fleet rules judge a fleet of that size."""
    asked = 0

    class Counted(FleetCraft):
        def get(self, name: str) -> Any:
            nonlocal asked
            asked += 1
            return super().get(name)

        def ranges_of(self, mode: str) -> Any:
            nonlocal asked
            asked += 1
            return super().ranges_of(mode)

    for item in load_rules().rules:
        if not isinstance(item, FleetRule):
            continue
        crafts = [
            Counted(
                build_craft(
                    {"video.frequency_mhz": 5000.0 + at, "craft.name": f"C{at}"},
                    ranges=[("arm", 5, 1735.0, 2135.0)],
                    name=f"C{at}",
                ),
                item.asks,
                (),
            )
            for at in range(count)
        ]
        fleet = Fleet(crafts)
        for at in range(count):
            options = Options({option.name: option.default for option in item.options})
            judge(item, among(fleet, at, item.asks), options)
    return asked


def test_a_fleet_ten_times_as_large_is_asked_ten_times_as_often() -> None:
    few, many = asked_for(20), asked_for(200)
    assert 8 * few < many < 12 * few


def test_a_large_fleet_is_told_of_in_few_words(write: Write) -> None:
    """Of more than five others none is named, quoted or pointed at; they are counted."""
    rows: dict[str, str | bytes] = {"cfglint.toml": CONFIG}
    for at in range(40):
        rows[f"dumps/c{at}.dump.txt"] = (
            HEAD + f'let name-given be "Avocet"\nlet video-mhz be {5800 + at / 100}\n'
        )
    rows["dumps/mute.dump.txt"] = HEAD
    rows["dumps/silent.dump.txt"] = HEAD
    run = lint(Request(paths=[str(write(rows))], only=["fleet"]))
    for one in run.found:
        assert len(one.beside) == 5
        assert one.message.count(" (58") <= 5
        if one.rule == "fleet/one-video-frequency":
            assert " and 34 more: whoever" in one.message
    assert {one.rule for one in run.found} == {"fleet/one-video-frequency", "fleet/two-of-one-name"}
    lacks = [one.lacks for one in run.verdicts if one.rule == "fleet/one-video-frequency"]
    assert {len(row) for row in lacks} == {1}
    assert "mute and silent" in lacks[0][0].text


def test_a_clubs_rule_is_cut_short_too(write: Write, made: list[FleetRule]) -> None:
    def check(craft: Craft, options: Options) -> Iterator[Finding]:
        value = craft.need("video.frequency_mhz")
        others = (Related(one.place(one.get(value.name)), one.name) for one in craft.others)
        yield Finding(craft.place(value), "odd", related=tuple(others))

    made.append(rule_of(check))
    rows: dict[str, str | bytes] = {"cfglint.toml": CONFIG}
    for at in range(9):
        rows[f"dumps/c{at}.dump.txt"] = HEAD + "let video-mhz be 5800\n"
    run = ran(write(rows), only="club/made")
    assert [one.message for one in run.found[0].beside] == [
        "c1", "c2", "c3", "c4", "c5 (and 3 more)",
    ]  # fmt: skip


def test_what_others_leave_unconfirmed_is_counted_beyond_five() -> None:
    crafts = fleet_of([14] * 9)
    doubted = frozenset({"motor.poles"})
    unsure = Fleet(
        [
            one.changed(
                unsure=doubted,
                values={name: value._replace(sure=False) for name, value in one.values.items()},
                others=(),
            )
            for one in crafts
        ]
    )

    def check(craft: Craft, options: Options) -> Iterator[Finding]:
        usual(craft, "motor.poles", poles)
        yield from ()

    item = rule_of(check, ("motor.poles",))
    outcome = judge(item, among(unsure, 2, item.asks), Options({}))
    assert outcome.rests == (
        "motor.poles",
        "motor.poles of 3 more",
        *(f"motor.poles of C{at}" for at in (0, 1, 3, 4, 5)),
    )


def test_names_of_those_that_agree() -> None:
    crafts = [build_craft({"motor.poles": 14}, name=name) for name in ("A", "B", "C", "D", "E")]
    crafts[0] = crafts[0].changed(others=tuple(crafts[1:]))
    found = usual(crafts[0], "motor.poles", lambda craft: craft.get("motor.poles").value)
    assert found.names() == "A, B, C, D and 1 more"
    assert found.names(9) == "A, B, C, D and E"
    assert found._replace(crafts=(crafts[0],)).names() == "A"


def test_asks_is_a_tuple_and_an_id_has_two_parts() -> None:
    words: dict[str, Any] = {"grade": "fix", "title": "t", "why": "w", "source": "common practice"}
    with pytest.raises(TypeError, match="tuple of names"):
        fleet_rule("club/made", asks="motor.poles", **words)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="concern/what-is-wrong"):
        fleet_rule("made", asks=(), **words)
