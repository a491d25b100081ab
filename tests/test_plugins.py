"""Plug-ins: found by hand, all with one host, every kind of mistake named.

References: ``importlib.metadata`` of the standard library finds the same entry points; what
wrappers, ``tryfirst``, historic hooks and blocking do is held to pluggy's documentation.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import os
import shutil
import subprocess
import sys
from pathlib import Path
from textwrap import dedent

import pytest

from cfglint import installed, plugins
from cfglint.cli import main
from cfglint.installed import BUILTIN, GROUP, find
from cfglint.kit import check_example, check_rule
from cfglint.plugins import Entry, Host, begin, load_rules
from cfglint.rulefiles import plug_of, rules_of_file
from cfglint.runner.lint import Request, lint
from cfglint.runner.one import read_one

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
    assert not installed._is_checked_folder(str(root))
    assert not installed._is_checked_folder("")
    assert not installed._is_checked_folder(str(root / "tests"))


# ------------------------------------------------------------------ loading


def test_a_pack_of_a_club(site: Site) -> None:
    loaded = load_rules([site.install(RULE)])
    assert not loaded.problems
    assert [(rule.id, rule.pack) for rule in loaded.rules] == [("tide/float-fitted", "club")]


MARK = "import pluggy\n@pluggy.HookimplMarker('cfglint')"


def test_a_pack_may_mark_its_hooks_with_pluggy(site: Site) -> None:
    marked = RULE.replace("def cfglint_rules", f"{MARK}\ndef cfglint_rules")
    assert len(load_rules([site.install(marked)]).rules) == 1
    other = RULE.replace("def cfglint_rules", f"{MARK}(specname='cfglint_rules')\ndef offer")
    assert len(load_rules([site.install(other)]).rules) == 1


def test_what_pluggy_finds_wrong_is_told(site: Site) -> None:
    marked = RULE.replace("def cfglint_rules()", f"{MARK}\ndef cfglint_rules(craft)")
    (message,) = messages(site.install(marked))
    assert "cannot be loaded: PluginValidationError: " in message


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
        ("cfglint_api = 1", "offers nothing; give its module"),
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
    loaded = load_rules([site.install(code)])
    assert not loaded.rules
    ((message, problem),) = [(str(one), one) for one in loaded.problems]
    assert problem.exit == 3
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


# ------------------------------------------------------------------ across packs


def wrapper(body: str, marks: str = "wrapper=True") -> str:
    """A pack whose only hook wraps those of all others."""
    code = f"""
    import pluggy
    from cfglint.rule import rule
    cfglint_api = 1

    def made(id, title="t"):
        return rule(id, grade="fix", title=title, why="w", source="s")(lambda craft, options: ())

    @pluggy.HookimplMarker("cfglint")({marks})
    def cfglint_rules():
    """
    return dedent(code) + "".join(f"    {line}\n" for line in dedent(body).strip().split("\n"))


OURS = Entry("builtin", BUILTIN, "cfglint-craft")


def test_a_wrapper_sees_and_changes_the_rules_of_all_packs(site: Site) -> None:
    body = """
        batches = yield
        rules = [item for batch in batches for item in batch]
        ids = [item.id for item in rules if item.pack == "builtin"]
        others = [item._replace(grade="ground") for item in rules if item.pack != "builtin"]
        ours = [item for item in rules if item.pack == "builtin"]
        return [ours, others, [made("tide/counted", f"{len(ids)} and {len(others)}")]]
        """
    wraps = site.install(wrapper(body), name="wraps")
    builtin = load_rules([OURS]).rules
    loaded = load_rules([OURS, wraps, site.install(RULE)])
    assert loaded.problems == ()
    assert loaded.rules[: len(builtin)] == builtin
    told = {rule.id: rule for rule in loaded.rules[len(builtin) :]}
    assert told["tide/float-fitted"].grade == "ground"
    assert told["tide/counted"].title == f"{len(builtin)} and 1"


def test_an_old_wrapper_works_too(site: Site) -> None:
    body = """
        result = yield
        result.force_result([*result.get_result(), [made("tide/more")]])
        """
    loaded = load_rules([OURS, site.install(wrapper(body, "hookwrapper=True"))])
    assert loaded.problems == ()
    assert loaded.rules[-1].id == "tide/more"


@pytest.mark.parametrize(
    "body",
    [
        "yield\nreturn []",
        "batches = yield\nreturn [[item for item in batch if item.grade != 'ground'] "
        "for batch in batches]",
        "batches = yield\nreturn [[item._replace(grade='advise') for item in batch] "
        "for batch in batches]",
        "batches = yield\nreturn [[item._replace(check=made('a/b').check) for item in batch] "
        "for batch in batches]",
    ],
)
def test_built_in_rules_stay_whatever_a_wrapper_makes_of_them(site: Site, body: str) -> None:
    builtin = load_rules([OURS]).rules
    loaded = load_rules([OURS, site.install(wrapper(body))])
    assert loaded.rules == builtin
    (problem,) = loaded.problems
    assert problem.exit == 3
    assert "the wrapper of `club` takes built-in rules away or changes them (`" in str(problem)
    assert " more); they were asked as they are" in str(problem)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("raise RuntimeError('early')\nyield", "RuntimeError: early"),
        ("yield\nraise RuntimeError('late')", "RuntimeError: late"),
        ("yield\nraise SystemExit(0)", "SystemExit: 0"),
        ("yield\nreturn 3", "TypeError: 'int' object is not iterable"),
        ("yield\nyield", "has second yield"),
        ("yield\nreturn [[1]]", "offers a int, which is no rule"),
    ],
)
def test_a_broken_wrapper_takes_no_rule_with_it(site: Site, body: str, words: str) -> None:
    entries = [OURS, site.install(RULE), site.install(wrapper(body), name="wraps")]
    loaded = load_rules(entries)
    assert [rule.id for rule in load_rules(entries[:1]).rules] == [
        rule.id for rule in loaded.rules if rule.pack == "builtin"
    ]
    assert words in " ".join(map(str, loaded.problems))
    assert "return [[1]]" in body or loaded.rules[-1].id == "tide/float-fitted"


def test_an_old_wrapper_that_puts_in_what_cannot_be(site: Site) -> None:
    body = "result = yield\nresult.force_result(7)"
    loaded = load_rules([OURS, site.install(wrapper(body, "hookwrapper=True"))])
    assert loaded.rules == load_rules([OURS]).rules
    assert "failed while offering its rules: TypeError" in str(loaded.problems[0])


def test_what_a_wrapper_hides_is_named(site: Site) -> None:
    body = "try:\n    return (yield)\nexcept ZeroDivisionError:\n    return [[made('tide/made')]]"
    fails = site.install("cfglint_api = 1\ndef cfglint_rules(): return 1 / 0", name="fails")
    loaded = load_rules([site.install(wrapper(body)), fails])
    assert [rule.id for rule in loaded.rules] == ["tide/made"]
    assert "of `fails` failed while offering its rules: ZeroDivisionError" in str(loaded.problems)


def test_a_wrapper_that_ends_the_process_only_with_others(site: Site) -> None:
    """Packs are tried together before they are loaded here, not one by one."""
    body = """
        batches = yield
        if any(item.id == "tide/float-fitted" for batch in batches for item in batch):
            import os
            os._exit(0)
        return batches
        """
    loaded = load_rules([OURS, site.install(wrapper(body)), site.install(RULE)])
    assert loaded.rules[: len(loaded.rules)] == load_rules([OURS]).rules
    assert "it ended the program (exit code 0)" in str(loaded.problems[0])


def offers(name: str, marks: str) -> str:
    return wrapper(f"return [made('tide/{name}')]", marks)


def test_first_and_last(site: Site) -> None:
    entries = [
        site.install(offers("last", "trylast=True"), name="a"),
        site.install(offers("one", ""), name="b"),
        site.install(offers("two", ""), name="c"),
        site.install(offers("first", "tryfirst=True"), name="d"),
    ]
    ids = [rule.id.partition("/")[2] for rule in load_rules(entries).rules]
    assert ids == ["first", "one", "two", "last"]


HOSTED = """
cfglint_api = 1
SEEN = []
def cfglint_host(host):
    SEEN.append(host)
"""


def test_who_comes_late_is_told_of_the_host_too(site: Site, tmp_path: Path) -> None:
    entry = site.install(HOSTED)
    folder = tmp_path / "late"
    folder.mkdir()
    (folder / "late.py").write_text(RULE + HOSTED.replace("cfglint_api = 1", ""))
    host = Host([OURS, entry])
    host.rules()
    assert [host] == importlib.import_module(entry.module).SEEN
    loaded = host.rules([plug_of(str(folder / "late.py"))])
    assert loaded.problems == ()
    assert loaded.rules[-1].id == "tide/float-fitted"
    late = sys.modules[loaded.rules[-1].check.__module__]
    assert [host] == late.SEEN  # type: ignore[attr-defined]


def test_a_file_of_rules_wraps_as_a_pack_does(tmp_path: Path) -> None:
    folder = tmp_path / "wraps"
    folder.mkdir()
    body = "batches = yield\nreturn [*batches, [made('tide/more', str(sum(map(len, batches))))]]"
    (folder / "wraps.py").write_text(wrapper(body).replace("cfglint_api = 1", ""))
    builtin = load_rules([OURS]).rules
    host = Host([OURS])
    loaded = host.rules([plug_of(str(folder / "wraps.py"))])
    assert loaded.problems == ()
    assert loaded.rules[-1].title == str(len(builtin))
    # The next run in this process need not have it.
    assert host.rules().rules == builtin


def test_a_blocked_pack_is_not_even_imported(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    entry = site.install("raise RuntimeError")
    monkeypatch.setenv("CFGLINT_BLOCK", "club")
    assert load_rules([entry]) == ((), ())
    monkeypatch.setenv("CFGLINT_BLOCK", "builtin")
    host = Host([OURS])
    assert "CFGLINT_BLOCK: what is built in cannot be blocked" in str(host.untold[0])
    assert host.rules().rules


def test_a_plug_in_may_block_another_but_nothing_built_in(site: Site) -> None:
    blocks = "cfglint_api = 1\ndef cfglint_host(host):\n    host.set_blocked({!r})\n"
    one = site.install(blocks.format("club"), name="blocks")._replace(name="blocks")
    loaded = load_rules([OURS, site.install(RULE), one])
    assert loaded == load_rules([OURS])
    poses = "cfglint_api = 1\ndef cfglint_rules():\n    return []\n"
    poses += "def cfglint_host(host):\n    import sys\n    host.register(sys, 'builtin')\n"
    loaded = load_rules([OURS, site.install(poses)])
    assert loaded.rules == load_rules([OURS]).rules
    assert "ValueError: no plug-in can stand in for what" in str(loaded.problems[0])
    for name in ("builtin", "cfglint"):
        bad = site.install(blocks.format(name))
        loaded = load_rules([OURS, bad])
        assert loaded.rules == load_rules([OURS]).rules
        assert "ValueError: what is built in stays" in str(loaded.problems[0])


def test_one_host_a_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Host] = []
    before = Host.__init__

    def count(self: Host, *words: object) -> None:
        made.append(self)
        before(self, *words)  # type: ignore[arg-type]

    monkeypatch.setattr(Host, "__init__", count)
    (tmp_path / "a.toml").write_text(
        '[[rule]]\nid = "tide/a"\ngrade = "fix"\ntitle = "t"\nwhy = "w"\nsource = "s"\n'
        'setting = "motor.poles"\nis = 14\n'
    )
    (tmp_path / "b.dump.txt").write_text("-- board SLATE, firmware 7.9, full listing\n")
    assert main(["lint", "-q", "--rules", str(tmp_path), str(tmp_path)]) < 2
    assert len(made) == 1
    assert {"builtin", "cfglint", str(tmp_path / "a.toml")} <= set(made[0]._plugs)


# ------------------------------------------------------------------ more than rules


MORE = """
from cfglint.plugins import Command, Report
cfglint_api = 1
ABOUT = "Prints the tide."
def arguments(parser):
    parser.add_argument("place")
def run(options):
    print("high water at", options.place)
    return 0
def write(run, options, stream):
    stream.write(f"{len(run.crafts)} craft\\n")
def crash(run, options, stream):
    print("in the way")
def cfglint_commands():
    return [Command("tide", "print the tide", __name__), Command("lint", "not ours", __name__)]
def cfglint_reports():
    return [Report("count", "for the log", write), Report("crash", "for nobody", crash),
            Report("sarif", "not ours", crash)]
"""


def test_commands_and_reports(
    site: Site, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site.install(MORE, name="more")
    dump = tmp_path / "b.dump.txt"
    dump.write_text("-- board SLATE, firmware 7.9, full listing\n")
    assert (
        main(["tide", "the creek"]) == 2
    )  # one name twice: the pack also offers what is there already
    out, err = capsys.readouterr()
    assert out == "high water at the creek\n"
    assert "two commands are called `lint`: one of pack `cfglint`, one of pack `club`" in err
    main(["--help"])
    assert "  tide      print the tide\n" in capsys.readouterr().out
    assert main(["tdie"]) == 2
    assert "did you mean `tide`?" in capsys.readouterr().err
    assert main(["lint", "--as", "count", str(dump)]) == 2
    assert capsys.readouterr().out == "1 craft\n"
    assert main(["lint", "--as", "crash", str(dump)]) == 3
    assert "the report `crash` could not be written: it wrote to" in capsys.readouterr().err
    main(["lint", "--as", "sarif", str(dump)])
    assert capsys.readouterr().out.startswith("{")
    assert main(["lint", "--as", "conut", str(dump)]) == 2
    assert "did you mean `count`?" in capsys.readouterr().err


def test_dialects(
    site: Site, tmp_path: Path, root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fleet = root / "fixtures" / "saltmarsh" / "dumps"
    dump = next(path for path in fleet.iterdir() if read_one(str(path)).dialect.id == "terse")
    begin()
    text = (root / "grammars" / "terse.toml").read_text(encoding="utf-8")
    for name in ("creek", "plain"):
        (site.folder / f"{name}.toml").write_text(text.replace('id = "terse"', f'id = "{name}"'))
    code = "cfglint_api = 1\nimport os\ndef cfglint_dialects():\n    return [os.path.join("
    code += "os.path.dirname(__file__), name) for name in ('creek.toml', 'plain.toml', 'no.toml')]"
    site.install(code, name="speaks")
    copy = tmp_path / "one.dump.txt"
    copy.write_bytes(dump.read_bytes())
    assert main(["show", str(copy), "--dialect", "creek"]) == 3
    out, err = capsys.readouterr()
    assert "creek" in out
    assert "two dialects are called `plain`: one of pack `builtin`, one of pack `club`" in err
    assert "offers `" in err
    assert "no.toml`, which is no dialect file that is there" in err
    # In a hangar, for an entry.
    (tmp_path / "cfglint.toml").write_text('[[dumps]]\nfiles = "*.txt"\ndialect = "creek"\n')
    run = lint(Request([str(tmp_path)]))
    assert [craft.dialect for craft in run.crafts] == ["creek"]


@pytest.mark.parametrize(
    ("hook", "given", "words"),
    [
        ("commands", "['tide']", "offers a str, which is no command"),
        ("commands", "[Command('two words', 'about', 'os')]", "offers a command without a name"),
        ("reports", "[Report('', 'about', print)]", "offers a report without a name"),
        ("dialects", "['nowhere.toml']", "offers `nowhere.toml`, which is no dialect file that is"),
        ("commands", "1 / 0", "failed while offering its commands: ZeroDivisionError"),
    ],
)
def test_what_cannot_be_used_is_named(site: Site, hook: str, given: str, words: str) -> None:
    code = f"from cfglint.plugins import Command, Report\ncfglint_api = 1\ndef cfglint_{hook}():\n"
    host = Host([site.install(code + f"    return {given}")])
    assert host.dialects() == {} if hook == "dialects" else host.every(f"cfglint_{hook}") == []
    assert words in str(host.untold[0])


# ------------------------------------------------------------------ installed for real


def test_the_example_pack_installed(root: Path, tmp_path: Path) -> None:
    source = tmp_path / "source"
    shutil.copytree(root / "fixtures" / "pack", source)
    where = tmp_path / "where"
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-build-isolation"]
    subprocess.run([*pip, "--no-index", "--target", str(where), str(source)], check=True)
    env = {**os.environ, "PYTHONPATH": str(where)}

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "cfglint", *words],
            capture_output=True, text=True, env=env, cwd=tmp_path, check=False,
        )  # fmt: skip

    assert "saltmarsh/no-name" in run("rules").stdout
    dump = tmp_path / "a.dump.txt"
    dump.write_text('-- board SLATE, firmware 7.9, full listing\nlet name-given be ""\n')
    done = run("lint", "--only", "saltmarsh", "--as", "list", str(dump))
    assert (done.returncode, done.stderr) == (1, "")
    assert done.stdout.splitlines() == [
        "craft,grade,rule,message",
        "a,advise,saltmarsh/no-name,the craft has no name: nobody knows whom to give it back to",
    ]
    # Taken out again, it is no more.
    shutil.rmtree(where)
    assert "saltmarsh/no-name" not in run("rules").stdout


def test_the_example_packs_rule_holds_its_examples(root: Path) -> None:
    builtin = load_rules([OURS]).rules
    for item in rules_of_file(str(root / "fixtures" / "pack" / "saltmarsh_pack.py")):
        assert check_rule(item) == []
        for example in item.examples:
            assert check_example(item, example, builtin) == []


def test_the_built_in_pack_loads_through_the_same_hooks() -> None:
    loaded = load_rules()
    assert not loaded.problems
    assert any(rule.pack == "builtin" for rule in loaded.rules)
