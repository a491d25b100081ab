"""A pack written for version 1 of the rule interface keeps working, every way it is used.

``api_1/`` is never changed; what it needs of cfglint, cfglint keeps.
"""

from __future__ import annotations

import inspect
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest

import cfglint.craft
import cfglint.kit
import cfglint.rule
from cfglint import plugins
from cfglint.cli import main
from cfglint.kit import check_example, check_rule
from cfglint.plugins import load_rules

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.rule import Rule

SITE = Path(__file__).parent / "api_1"
PACK = "saltmarsh"

DUMP = """\
-- board SLATE, firmware 7.9, changes only
let motor-signal be dshot300
let least-spin be 12
port 1 carries receiver
use beacon along with lost-link
"""


class Ended(NamedTuple):
    code: int
    out: str
    err: str


@pytest.fixture(autouse=True)
def installed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """The pack is on Python's path, and the run starts in a hangar of its own."""
    monkeypatch.syspath_prepend(str(SITE))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "avocet.dump.txt").write_text(DUMP, encoding="utf-8")
    yield
    for name in [name for name in sys.modules if name.partition(".")[0] == "saltmarsh_rules"]:
        del sys.modules[name]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    def run(*words: str) -> Ended:
        code = main(list(words))
        return Ended(code, *capsys.readouterr())

    return run


def rules() -> list[Rule]:
    return [item for item in load_rules().rules if item.pack == PACK]


# ---------------------------------------------------------------- through every door


def test_it_loads_beside_the_built_in_rules(call: Callable[..., Ended]) -> None:
    assert load_rules().problems == ()
    assert [item.id for item in rules()] == [
        "tide/idle-too-high",
        "tide/no-beacon",
        "tide/link-off-its-port",
    ]
    code, out, err = call("rules")
    assert (code, err) == (0, "")
    assert "tide/idle-too-high" in out
    listed = json.loads(call("rules", "--as", "json").out)
    assert {row["pack"] for row in listed if row["id"].startswith("tide/")} == {PACK}


def test_its_examples_hold() -> None:
    builtin = [item for item in load_rules().rules if item.pack == "builtin"]
    for item in rules():
        assert check_rule(item) == []
        for example in item.examples:
            assert check_example(item, example, builtin) == []


def test_pytest_finds_them_without_a_test_file(tmp_path: Path) -> None:
    folder = str(SITE / "saltmarsh_rules")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--cfglint-rules", folder],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "PYTEST_ADDOPTS": ""},
        cwd=tmp_path,
    )
    assert "16 passed" in done.stdout, done.stdout


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("tide/idle-too-high", "idle is 12%, above 8%: the craft slides off the raft"),
        ("tide/high-idle", "idle is 12%, above 8%: the craft slides off the raft"),
        ("tide/link-off-its-port", "the receiver is on port 1"),
        ("tide/port-one", "the receiver is on port 1"),
        ("tide/salted-port", "the receiver is on port 1"),
    ],
)
def test_lint_by_present_and_former_names(call: Callable[..., Ended], name: str, says: str) -> None:
    code, out, err = call("lint", "--only", name, "--width", "200")
    assert (code, err) == (1, "")
    assert says in out
    code, out, _ = call("lint", "--only", "tide", "--without", name, "--width", "200")
    assert says not in out


def test_why_by_a_former_name(call: Callable[..., Ended]) -> None:
    code, out, err = call("why", "tide/high-idle")
    assert (code, err) == (0, "")
    assert out.startswith("tide/idle-too-high (formerly tide/high-idle)\n")
    assert "most_percent" in out
    code, out, _ = call("why", "tide/salted-port", "--as", "markdown")
    assert "Rule: `tide/link-off-its-port`, formerly `tide/port-one`, formerly `tide/" in out
    code, _, err = call("why", "tide/high-idel")
    assert code == 2
    assert "did you mean `tide/high-idle`?" in err


@pytest.mark.parametrize("name", ["tide/idle-too-high", "tide/high-idle"])
def test_settings_by_present_and_former_names(
    call: Callable[..., Ended], tmp_path: Path, name: str
) -> None:
    def lint(setting: str) -> Ended:
        text = f'[[dumps]]\nfiles = "*.dump.txt"\n\n[rules]\n"{name}" = {setting}\n'
        (tmp_path / "cfglint.toml").write_text(text, encoding="utf-8")
        return call("lint", "--only", "tide", "--without", "tide/port-one", "--width", "200")

    assert "slides off the mud" in lint('{ place = "mud" }').out
    assert "GROUND" in lint('"ground"').out
    assert lint("{ most_percent = 15.0 }").code == 0
    ended = lint("{ most_percent = 101.0 }")
    assert ended.code == 2
    assert "it may be 0 to 100" in ended.out + ended.err
    # A rule that is off is off by either name.
    (tmp_path / "cfglint.toml").write_text(
        f'[[dumps]]\nfiles = "*.dump.txt"\n\n[rules]\n"{name}" = "off"\n', encoding="utf-8"
    )
    found = call("lint", "--width", "200").out.partition("Set aside")[0]
    assert "tide/idle-too-high" not in found


@pytest.mark.parametrize("name", ["tide/idle-too-high", "tide/high-idle"])
def test_accepts_by_present_and_former_names(
    call: Callable[..., Ended], tmp_path: Path, name: str
) -> None:
    (tmp_path / "cfglint.toml").write_text(
        f'[[dumps]]\nfiles = "*.dump.txt"\n\n[[accept]]\nrule = "{name}"\ncraft = "avocet"\n'
        'line = "let least-spin be 12"\nreason = "the raft is dry"\nby = "Ines"\n',
        encoding="utf-8",
    )
    code, out, err = call("lint", "--only", "tide/idle-too-high", "--width", "200")
    assert (code, err) == (0, "")
    assert "1 accepted" in out


def test_in_a_process_of_its_own(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "cfglint", "lint", "--as", "sarif", "--only", "tide/high-idle"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(SITE), "PYTHONDONTWRITEBYTECODE": "1"},
        cwd=tmp_path,
    )
    assert (done.returncode, done.stderr) == (1, "")
    assert '"tide/idle-too-high"' in done.stdout


# ---------------------------------------------------------------- when versions part


@pytest.mark.parametrize(
    ("ours", "says"),
    [
        (2, "is written for version 1 of the rule interface, this cfglint has 2; "
            "upgrade `saltmarsh-rules`"),
        (0, "is written for version 1 of the rule interface, this cfglint has 0; upgrade cfglint"),
    ],
)  # fmt: skip
def test_another_version_names_the_side_to_upgrade(
    call: Callable[..., Ended], monkeypatch: pytest.MonkeyPatch, ours: int, says: str
) -> None:
    monkeypatch.setattr(plugins, "API_VERSION", ours)
    for words in (["rules"], ["why", "tide/high-idle"], ["lint", "--as", "sarif"]):
        code, out, err = call(*words)
        assert code == 3
        assert f"rule pack `{PACK}` of `saltmarsh-rules` {says}" in " ".join((out + err).split())


# ---------------------------------------------------------------- what the interface is

#: Names that rules import, with what they were called with.  Names may be added, at the end and
#: with defaults; none goes, moves or changes its meaning without a new version.
FIELDS = {
    "Edit": "span text",
    "Related": "span message",
    "Finding": "span message instead related grade fix picture",
    "Lack": "fact where text",
    "Example": "kind dump card missing options dialect",
    "Option": "name default about least most",
    "Rule": "id grade title why source check options examples confidence aliases pack",
    "Outcome": "rule craft state findings lacks reason",
}
CRAFT_FIELDS = {
    "Value": "name value origin span line_span written sure",
    "ModeRange": "mode channel low_us high_us join span channel_span low_span high_span",
    "ModeLink": "mode follows join span",
    "Port": "number functions baud inverted half_duplex",
    "Repeat": "earlier later",
    "Stray": "span name_span name nearest",
    "Misread": "name span line_span written valid nearest",
    "Refusal": "span reason cause cause_text",
    "Unreadable": "span why",
}
CRAFT = (
    "get need from_card maybe_card trait place ranges_of numbered ports file name dialect extent "
    "whole values mode_ranges mode_links traits repeats strays misread refusals unreadable card "
    "lines"
)
CALLS: list[tuple[Any, str]] = [
    (cfglint.rule.rule, "id *grade *title *why *source *options *examples *confidence *aliases"),
    (cfglint.rule.good, "dump *card *options"),
    (cfglint.rule.bad, "dump *card *options"),
    (cfglint.rule.unknown, "dump *missing *card *options"),
    (cfglint.rule.not_for, "dump *card *options"),
    (cfglint.rule.judge, "item craft options"),
    (cfglint.craft.Missing, "fact where hint"),
    (cfglint.kit.check_example, "rule example"),
    (cfglint.kit.check_rule, "rule"),
    (cfglint.kit.parse_example, "example"),
    (cfglint.kit.build_craft, "settings *card *ranges *links *defaults *traits *extent *name"),
]


@pytest.mark.parametrize(
    ("home", "name", "fields"),
    [(cfglint.rule, *row) for row in FIELDS.items()]
    + [(cfglint.craft, *row) for row in CRAFT_FIELDS.items()],
)
def test_records_keep_their_fields(home: Any, name: str, fields: str) -> None:
    record = getattr(home, name)
    words = tuple(fields.split())
    assert record._fields[: len(words)] == words
    assert set(record._fields[len(words) :]) <= set(record._field_defaults)


def test_a_craft_keeps_what_it_answers() -> None:
    assert [name for name in CRAFT.split() if not hasattr(cfglint.craft.Craft, name)] == []


@pytest.mark.parametrize(
    ("function", "words"), CALLS, ids=lambda item: getattr(item, "__name__", "")
)
def test_functions_are_called_as_before(function: Any, words: str) -> None:
    there = inspect.signature(function).parameters
    by_place = [name for name in words.split() if name[0] != "*"]
    keyword = [name[1:] for name in words.split() if name[0] == "*"]
    positional = [
        name for name, row in there.items() if row.kind is not inspect.Parameter.KEYWORD_ONLY
    ]
    assert positional[: len(by_place)] == by_place
    assert set(keyword) <= set(there)
    added = set(there) - set(by_place) - set(keyword)
    assert all(there[name].default is not inspect.Parameter.empty for name in added)


def test_the_version_that_this_is() -> None:
    # A new one needs a pack of its own here, and this one must go on working.
    assert cfglint.rule.API_VERSION == 1
