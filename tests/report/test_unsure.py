"""Reports of craft whose dialect file is a draft: what rests on its guesses is never silent."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.dialect.unsure import Unsure
from cfglint.report.sarif import write_sarif
from cfglint.report.terminal import summary, write_text
from cfglint.report.unsure import by_craft, caution, listed, named
from cfglint.runner.lint import Request, lint

from .samples import saltmarsh
from .sarif_checks import trouble
from .test_sarif import PROFILES, invalid

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from cfglint.report.sarif import Profile
    from cfglint.results import Run

CONFIG = """\
[dialects]
reed = "reed.toml"
[[dumps]]
files = "*.dump.txt"
dialect = "reed"
craft = "{stem}"
"""
REED = """\
[dialect]
id = "reed"
[marks]
comment = "#"
assign = "put {name} {value}"
[identity]
lines = ["# reed {board} {firmware}"]
[map]
"motor.signal" = { at = "put mot_out", words = { brushed = 19, dshot600 = 13 }, sure = false }
"motor.poles" = { at = "put magnets", sure = false }
"failsafe.action" = { at = "put loss", words = { stop = "drop" } }
"video.frequency_mhz" = { at = "put mhz", sure = false }
[modes]
arm = 9
beacon = 3
unsure = ["beacon"]
[[rows]]
at = "{mode} on ch{channel} {low}-{high}"
makes = "range"
"""
DUMP = """\
# reed FERN 1.0
put mot_out {signal}
put magnets 14
put loss drop
put mhz {mhz}
9 on ch5 1690-2070
3 on ch6 1690-2070
"""
CRAFT = {"avocet": ("19", "5658"), "bittern": ("13", "5695"), "curlew": ("13", "5658")}


@pytest.fixture
def reed(tmp_path: Path) -> Callable[..., Run]:
    """Lints three craft by a drafted dialect, in which a text may be replaced first."""

    def run(*replaced: tuple[str, str], only: tuple[str, ...] = (), processes: int = 0) -> Run:
        text = REED
        for old, new in replaced:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "cfglint.toml").write_text(CONFIG)
        (tmp_path / "reed.toml").write_text(text)
        for name, (signal, mhz) in CRAFT.items():
            dump = DUMP.replace("{signal}", signal).replace("{mhz}", mhz)
            (tmp_path / f"{name}.dump.txt").write_text(dump)
        return lint(Request((str(tmp_path),), only=only, processes=processes))

    return run


def text(run: Run, **how: Any) -> str:
    out = io.StringIO()
    write_text(run, file=out, width=how.pop("width", 100), colour=False, **how)
    return out.getvalue()


def rests(run: Run, rule: str) -> dict[str, tuple[str, tuple[str, ...]]]:
    return {one.craft: (one.state, one.rests) for one in run.outcomes if one.rule == rule}


BRUSHED = "motor/left-on-default-signal"
ALL_SURE = ((", sure = false", ""), ('\nunsure = ["beacon"]', ""))


def test_a_hold_on_a_guess_is_named_until_it_is_confirmed(reed: Callable[..., Run]) -> None:
    found = reed(only=(BRUSHED,))
    signal = ("motor.signal",)
    assert rests(found, BRUSHED) == {
        "avocet": ("broken", signal), "bittern": ("holds", signal), "curlew": ("holds", signal),
    }  # fmt: skip
    assert [one.rests for one in found.findings] == [signal]
    sure = reed(("= 13 }, sure = false }", "= 13 } }"), only=(BRUSHED,))
    assert {craft: state for craft, (state, _) in rests(sure, BRUSHED).items()} == {
        craft: state for craft, (state, _) in rests(found, BRUSHED).items()
    }
    assert not any(one.rests for one in sure.outcomes)
    # Other mappings are guesses still, but nothing rests on them here.
    assert "confirmed" not in text(sure)


def test_the_finding_says_so_in_one_line(reed: Callable[..., Run]) -> None:
    found = reed(only=(BRUSHED,))
    told = text(found)
    assert "caution   rests on unconfirmed: motor.signal (`mot_out`, line 2)\n" in told
    quiet = text(found, quiet=True)
    assert quiet.split("\n")[0].endswith("(rests on unconfirmed: motor.signal)")
    assert "\x1b" not in told


def test_what_rests_on_each_guess_is_counted(reed: Callable[..., Run]) -> None:
    told = text(reed(only=(BRUSHED,)))
    section = told[told.index("Not confirmed") : told.index("instead   confirm each")].split("\n")
    assert [line.strip() for line in section[1:] if line] == [
        "craft   avocet",
        "guess   motor.signal (`mot_out`): 1 broken (marked in reed.toml:9:81)",
        "guess   3 more, on which nothing rests",
        "craft   bittern, curlew",
        "guess   motor.signal (`mot_out`): 1 holds (marked in reed.toml:9:81)",
        "guess   3 more, on which nothing rests",
    ]
    assert REED.split("\n")[8][80:].startswith("sure = false")
    flat = " ".join(told.split())
    assert "`cfglint teach --ask`" in flat
    assert "take the mark out" in flat


def test_the_last_line_counts_them_only_where_there_are_any(reed: Callable[..., Run]) -> None:
    found = reed(only=(BRUSHED,))
    last = "3 crafts, 1 rule, 2 holds, 1 broken, 0 unknown, 0 accepted"
    assert summary(found) == (f"{last}, 3 unconfirmed", "")
    assert text(found).split("\n")[-2] == f"{last}, 3 unconfirmed"
    assert summary(reed(*ALL_SURE, only=(BRUSHED,))) == (last, "")
    every = reed()
    counted = [one for one in every.outcomes if one.rests and one.state != "not for this craft"]
    assert f", {len(counted)} unconfirmed" in text(every)
    assert any(one.rests and one.state == "unknown" for one in every.outcomes)


def test_marks_change_no_outcome(reed: Callable[..., Run]) -> None:
    """A guess is used as if it were confirmed; only what is told of it differs."""
    marked, sure = reed(), reed(*ALL_SURE)

    def bare(run: Run) -> list[Any]:
        return [
            one._replace(rests=(), findings=tuple(row._replace(rests=()) for row in one.findings))
            for one in run.outcomes
        ]

    assert bare(marked) == bare(sure)
    assert any(one.rests for one in marked.outcomes)
    assert [craft.unsure for craft in sure.crafts] == [(), (), ()]


def test_several_processes_hand_it_back(reed: Callable[..., Run]) -> None:
    one, two = reed(), reed(processes=2)
    assert one.outcomes == two.outcomes
    assert one.crafts == two.crafts


def test_a_fleet_rule_rests_on_the_others_mappings(reed: Callable[..., Run]) -> None:
    rule = "fleet/one-video-frequency"
    found = reed(only=(rule,))
    frequency = "video.frequency_mhz"
    state, names = rests(found, rule)["avocet"]
    assert state == "broken"
    assert names == (frequency, f"{frequency} of bittern", f"{frequency} of curlew")
    told = " ".join(text(found).split())
    assert f"{frequency} (`mhz`, line 5), {frequency} of bittern, {frequency} of curlew" in told
    assert f"guess {frequency} of curlew: 1 broken guess 3 more" in told
    log = json.loads(write_sarif(found))
    assert invalid(log) == []
    (notice, *_) = log["runs"][0]["invocations"][0]["toolExecutionNotifications"]
    assert f"; {frequency} of curlew: 1 broken" in notice["message"]["text"]


def test_what_is_not_for_a_craft_is_not_counted(reed: Callable[..., Run]) -> None:
    """That a rule has nothing to say rests on guesses, too, but nobody acts on it."""
    found = reed(only=("motor/pulse-points-out-of-order",))
    assert {(one.state, one.rests) for one in found.outcomes} == {
        ("not for this craft", ("motor.signal",))
    }
    assert "confirmed" not in text(found)
    log = json.loads(write_sarif(found))
    assert "toolExecutionNotifications" not in log["runs"][0]["invocations"][0]
    assert log["runs"][0]["properties"]["unconfirmed"] == 0
    assert log["runs"][0]["results"][0]["properties"]["unconfirmed"] == ["motor.signal"]


# ---------------------------------------------------------------- SARIF


@pytest.mark.parametrize("profile", PROFILES)
def test_the_log_is_valid_and_names_them(reed: Callable[..., Run], profile: Profile) -> None:
    found = reed()
    log: dict[str, Any] = json.loads(write_sarif(found, profile=profile))
    assert invalid(log) == []
    assert trouble(log) == []
    (run,) = log["runs"]
    told = {
        (row["ruleId"], row["properties"]["craft"]): row["properties"].get("unconfirmed", [])
        for row in run["results"]
    }
    assert told[BRUSHED, "avocet"] == ["motor.signal"]
    if profile == "full":
        assert {key: tuple(names) for key, names in told.items()} == {
            (one.rule, one.craft): one.rests for one in found.outcomes
        }
    counted = [one for one in found.outcomes if one.rests and one.state != "not for this craft"]
    assert run["properties"]["unconfirmed"] == len(counted)


@pytest.mark.parametrize("profile", PROFILES)
def test_notifications_name_what_holds_on_a_guess(
    reed: Callable[..., Run], profile: Profile
) -> None:
    """A viewer that shows no passed rule still has them."""
    found = reed()
    log: dict[str, Any] = json.loads(write_sarif(found, profile=profile))
    (run,) = log["runs"]
    rows = [
        row
        for row in run["invocations"][0]["toolExecutionNotifications"]
        if row["descriptor"]["id"] == "cfglint/unconfirmed-mappings"
    ]
    assert [row["properties"]["craft"] for row in rows] == list(CRAFT)
    for row in rows:
        assert row["level"] == "warning"
        assert "marked in reed.toml:9:81" in row["message"]["text"]
        craft = row["properties"]["craft"]
        wanted: dict[str, list[str]] = {}
        for one in found.outcomes:
            if one.craft == craft and one.state != "not for this craft":
                for name in one.rests:
                    wanted.setdefault(name, []).extend([one.rule] if one.state == "holds" else [])
        assert row["properties"]["holdsUnconfirmed"] == wanted


def test_without_marks_a_log_is_as_ever(reed: Callable[..., Run]) -> None:
    log = write_sarif(reed(*ALL_SURE))
    assert "nconfirmed" not in log
    assert by_craft(saltmarsh()) == []


# ---------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (Unsure("trait inversion", "", (), "reed.toml:3:1"), "trait inversion"),
        (Unsure("mode arm", "0", (), "reed.toml:3:1"), "mode arm (`0`)"),
        (Unsure("craft.board", "", (1,), "reed.toml:3:1"), "craft.board (line 1)"),
        (Unsure("range", "{mode} {low}", (3, 4), "r"), "range (`{mode} {low}`, lines 3, 4)"),
        (
            Unsure("port.N.baud", "b{N}", (1, 2, 3, 4, 5, 6), "r"),
            "port.N.baud (`b{N}`, lines 1, 2, 3, 4 and 2 more)",
        ),
    ],
)
def test_a_mapping_in_words(one: Unsure, words: str) -> None:
    assert named(one) == words


def test_many_mappings_in_words() -> None:
    """What the dump has lines for comes first: it can be looked at."""
    known = [Unsure("mode arm", "0", (9,), "r"), Unsure("mode beacon", "3", (), "r")]
    assert listed(["a", "mode beacon", "mode arm"], known) == (
        "mode arm (`0`, line 9), a, mode beacon (`3`)"
    )
    assert caution("fedcba", ()) == "rests on unconfirmed: a, b, c, d, and 2 more"
