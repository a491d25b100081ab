"""Plug-ins: found by hand, loaded through the hooks, every kind of mistake named.

Reference: ``importlib.metadata`` of the standard library finds the same entry points.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import sys
from pathlib import Path
from textwrap import dedent

import pytest

from cfglint import plugins
from cfglint.plugins import BUILTIN, GROUP, Entry, find, load_rules

RULE = """
from cfglint.rule import rule

cfglint_api = (1, 1)

@rule("tide/float-fitted", grade="fix", title="t", why="w", source="common practice")
def float_fitted(craft, options):
    return ()

def cfglint_rules():
    return [float_fitted]
"""


class Site:
    """A folder of installed distributions, on Python's path for one test."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.count = 0

    def install(self, code: str, *, name: str = "", kind: str = "dist-info") -> Entry:
        self.count += 1
        module = f"pack_{self.folder.name.replace('-', '_')}_{self.count}"
        name = name or f"club-pack-{self.count}"
        (self.folder / f"{module}.py").write_text(dedent(code), encoding="utf-8")
        info = self.folder / f"{name.replace('-', '_')}-1.0.{kind}"
        info.mkdir(exist_ok=True)
        (info / "entry_points.txt").write_text(
            f"[console_scripts]\nx = {module}:main\n\n[{GROUP}]\nclub = {module}\n[other]\ny = z\n",
            encoding="utf-8",
        )
        (info / "METADATA").write_text(f"Name: {name}\nVersion: 1.0\n", encoding="utf-8")
        return Entry("club", module, name)


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Site:
    folder = tmp_path / "site"
    folder.mkdir()
    folder = folder.rename(tmp_path / f"s{abs(hash(str(tmp_path))) % 10**9}")
    monkeypatch.syspath_prepend(folder)
    return Site(folder)


def messages(*entries: Entry) -> list[str]:
    loaded = load_rules(entries)
    assert not loaded.rules
    return [str(problem) for problem in loaded.problems]


# ------------------------------------------------------------------ finding


def test_found_like_the_standard_library(site: Site) -> None:
    site.install(RULE)
    site.install(RULE, kind="egg-info")
    expected = {(point.name, point.value) for point in importlib.metadata.entry_points(group=GROUP)}
    assert {(row.name, row.module) for row in find()} == expected | {("builtin", BUILTIN)}


def test_built_in_rules_come_first_and_need_no_metadata(site: Site) -> None:
    entry = site.install(RULE, name="aaa-pack")
    rows = find([str(site.folder)])
    assert rows == [Entry("builtin", BUILTIN, "cfglint-craft"), entry]


def test_an_earlier_folder_hides_a_later_one(site: Site, tmp_path: Path) -> None:
    entry = site.install(RULE, name="same-pack")
    later = tmp_path / "later" / "same_pack-0.9.dist-info"
    later.mkdir(parents=True)
    (later / "entry_points.txt").write_text(f"[{GROUP}]\nold = old_module\n", encoding="utf-8")
    rows = find([str(site.folder), str(later.parent)])
    assert rows[1:] == [entry]


def test_what_cannot_be_read_is_passed_over(site: Site, tmp_path: Path) -> None:
    (site.folder / "odd.dist-info").write_text("a file", encoding="utf-8")
    bad = site.folder / "bad-1.dist-info"
    bad.mkdir()
    (bad / "entry_points.txt").write_bytes(b"\xff\xff")
    (site.folder / "plain").mkdir()
    no = site.folder / "no-1.dist-info"
    no.mkdir()
    (no / "entry_points.txt").write_text("[console_scripts]\na = b\n", encoding="utf-8")
    rows = find([str(site.folder), str(tmp_path / "absent"), str(site.folder / "odd.dist-info")])
    assert [row.module for row in rows] == [BUILTIN]


def test_the_checked_folder_is_no_place_for_plug_ins(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = site.install(RULE)
    assert entry in find()
    monkeypatch.chdir(site.folder)
    assert entry not in find()
    monkeypatch.setattr(sys, "path", ["", *sys.path])
    assert entry not in find()


def test_our_own_home_is_one(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(root)
    assert not plugins._is_checked_folder(str(root))
    assert not plugins._is_checked_folder("")
    assert not plugins._is_checked_folder(str(root / "tests"))


# ------------------------------------------------------------------ loading


def test_a_pack_of_a_club(site: Site) -> None:
    loaded = load_rules([site.install(RULE)])
    assert not loaded.problems
    assert [(rule.id, rule.pack) for rule in loaded.rules] == [("tide/float-fitted", "club")]


MARK = "import pluggy\n@pluggy.HookimplMarker('cfglint')"


def test_a_pack_may_mark_its_hooks_with_pluggy(site: Site) -> None:
    marked = RULE.replace("def cfglint_rules", f"{MARK}\ndef cfglint_rules")
    assert len(load_rules([site.install(marked)]).rules) == 1
    # A function of another name is not looked for: a pack says what it offers by name.
    other = RULE.replace("def cfglint_rules", f"{MARK}(specname='cfglint_rules')\ndef offer")
    (message,) = messages(site.install(other))
    assert "offers nothing" in message


def test_what_pluggy_finds_wrong_is_told(site: Site) -> None:
    marked = RULE.replace("def cfglint_rules()", f"{MARK}\ndef cfglint_rules(craft)")
    (message,) = messages(site.install(marked))
    assert "failed while offering its rules: PluginValidationError" in message


def test_a_plain_pack_is_loaded_as_pluggy_would(site: Site) -> None:
    import pluggy

    entry = site.install(RULE)
    plain = load_rules([entry]).rules
    module = importlib.import_module(entry.module)
    pluggy.HookimplMarker("cfglint")(module.cfglint_rules)
    assert load_rules([entry]).rules == plain


def test_generators_and_whole_numbers_will_do(site: Site) -> None:
    code = RULE.replace("(1, 1)", "1").replace("return [float_fitted]", "yield float_fitted")
    assert len(load_rules([site.install(code)]).rules) == 1


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ("cfglint_api = (2, 3)", "is written for versions 2 to 3 of the rule interface, this "
         "cfglint has 1; upgrade cfglint"),
        ("cfglint_api = (2, 2)", "is written for version 2 of"),
        ("", "states no version of the rule interface it is written for; write "
         "`cfglint_api = (1, 1)` in `"),
        ("cfglint_api = 'one'", "states 'one' as the version"),
        ("cfglint_api = (0, 1)", "states (0, 1) as the version"),
        ("cfglint_api = (2, 1)", "states (2, 1) as the version"),
        ("cfglint_api = (1, 1, 1)", "states (1, 1, 1) as the version"),
        ("cfglint_api = True", "states True as the version"),
    ],
)  # fmt: skip
def test_versions_of_the_interface(site: Site, stated: str, words: str) -> None:
    (message,) = messages(site.install(RULE.replace("cfglint_api = (1, 1)", stated)))
    assert message.startswith("rule pack `club` of `club-pack-1` ")
    assert words in message


def test_an_old_pack_is_the_side_to_upgrade(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plugins, "API_VERSION", 3)
    (message,) = messages(site.install(RULE.replace("(1, 1)", "(1, 2)")))
    assert "this cfglint has 3; upgrade `club-pack-1`" in message


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("import nowhere_to_be_found", "cannot be loaded: ModuleNotFoundError: No module named"),
        ("def (", "cannot be loaded: SyntaxError:"),
        ("raise RuntimeError", "cannot be loaded: RuntimeError; put it right or uninstall"),
        ("cfglint_api = 1", "offers nothing; give `pack_"),
        (
            "cfglint_api = 1\ndef cfglint_rule(): return []",
            "has a function `cfglint_rule`, which is no hook of cfglint; "
            "did you mean `cfglint_rules`?",
        ),
        (
            "cfglint_api = 1\ndef cfglint_rules(): return 1 / 0",
            "failed while offering its rules: ZeroDivisionError: division by zero",
        ),
        ("cfglint_api = 1\ndef cfglint_rules(): return 3", "failed while offering its rules"),
        (
            "cfglint_api = 1\ndef cfglint_rules(): return ['a']",
            "offers a str, which is no rule; make it with `cfglint.rule.rule`",
        ),
        (
            "cfglint_api = 1\ndef check(): pass\ndef cfglint_rules(): return [check]",
            "offers `check`, which is no rule",
        ),
    ],
)
def test_broken_packs(site: Site, code: str, words: str) -> None:
    (message,) = messages(site.install(code))
    assert message.startswith("rule pack `club` ")
    assert words in message


def test_a_module_that_is_not_there() -> None:
    (message,) = messages(Entry("club", "module_gone", "club-pack"))
    assert "there is no module `module_gone`; install it again" in message


def test_a_broken_pack_takes_no_other_with_it(site: Site) -> None:
    loaded = load_rules(
        [
            site.install("cfglint_api = 1\ndef cfglint_rules(): return 1 / 0"),
            site.install("raise RuntimeError"),
            site.install(RULE),
        ]
    )
    assert len(loaded.problems) == 2
    assert [rule.id for rule in loaded.rules] == ["tide/float-fitted"]


def test_two_rules_of_one_name(site: Site) -> None:
    loaded = load_rules([site.install(RULE), site.install(RULE)])
    assert len(loaded.rules) == 1
    (problem,) = loaded.problems
    assert "two rules are called `tide/float-fitted`: one of pack `club`, one of pack `club`" in (
        str(problem)
    )
    alias = RULE.replace("float-fitted", "float").replace(
        'title="t"', 'title="t", aliases=("tide/float-fitted",)'
    )
    loaded = load_rules([site.install(RULE), site.install(alias)])
    assert [rule.id for rule in loaded.rules] == ["tide/float-fitted"]
    assert "`tide/float-fitted`" in str(loaded.problems[0])


def test_the_built_in_pack_loads_through_the_same_hooks() -> None:
    loaded = load_rules()
    assert not loaded.problems
    assert any(rule.pack == "builtin" for rule in loaded.rules)
