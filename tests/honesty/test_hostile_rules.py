"""A rule can do anything: it is set aside and named, the run ends with 3, and all other rules say
what they say without it.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest

from cfglint.apart import Stopped
from cfglint.craft import Craft
from cfglint.rule import Finding, Options, fleet_rule
from cfglint.runner.lint import Request, lint

from .hostile import BODIES, FILES, HEAD, QUIET, RULE, bad_file, bad_rules
from .support import FLEET

LASTING = ("for-ever", "for-ever-and-stubborn", "yields-for-ever", "forks-and-hangs")
QUICK = {name: body for name, body in BODIES.items() if name not in LASTING}


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    """Two craft of the demo fleet, with their cards."""
    root = tmp_path / "hangar"
    copytree(FLEET, root)
    for path in (root / "dumps").iterdir():
        if path.name.partition(".")[0] not in ("avocet", "lapwing"):
            path.unlink()
    return root


def ran(root: Path, *words: str | Path) -> tuple[int, str, str]:
    done = subprocess.run(
        [sys.executable, "-m", "cfglint", "lint", *map(str, words)],
        cwd=root, capture_output=True, text=True, timeout=300, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


def others(text: str) -> list[Any]:
    """The results of a log that are not about bad rules."""
    rows = json.loads(text)["runs"][0]["results"]
    for row in rows:
        row.pop("ruleIndex", None)
    return [row for row in rows if not row["ruleId"].startswith("bad/")]


def crashed(run: Any) -> set[tuple[str, str]]:
    return {(row.rule.removeprefix("bad/"), row.file) for row in run.troubles if row.rule}


def test_whatever_a_rule_does_it_is_set_aside_and_named(fleet: Path, tmp_path: Path) -> None:
    _, plain, _ = ran(fleet, "--as", "sarif")
    (tmp_path / "bad.py").write_text(bad_rules(QUICK))
    code, text, told = ran(fleet, "--as", "sarif", "--rules", tmp_path / "bad.py")
    assert code == 3
    assert others(text) == others(plain)
    assert not [row for row in json.loads(text)["runs"][0]["results"] if "bad/" in row["ruleId"]]
    for name in QUICK:
        assert told.count(f": bad/{name}: this rule crashed") == 2, name
    assert "(it ended the program (exit code 0))" in told
    assert "(it was ended by SIGKILL)" in told
    assert "where only the report goes: `hello`" in told


def test_every_form_of_report_stays_whole(fleet: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.py").write_text(bad_rules(QUICK))
    code, text, _ = ran(fleet, "--rules", tmp_path / "bad.py", "--sarif", tmp_path / "log.sarif")
    assert code == 3
    assert "8 holds" not in text
    for name in QUICK:
        assert f"bad/{name}" in text
    assert json.loads((tmp_path / "log.sarif").read_text())["version"] == "2.1.0"


def test_a_rule_that_does_not_end_is_ended(fleet: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.py").write_text(bad_rules({name: BODIES[name] for name in LASTING}))
    begun = time.monotonic()
    run = lint(Request([str(fleet)], rules=[str(tmp_path / "bad.py")], seconds=1.0))
    assert time.monotonic() - begun < 40
    assert crashed(run) == {
        (name, f"dumps/{one}.dump.txt") for name in LASTING for one in ("avocet", "lapwing")
    }
    text = {row.rule: row.detail for row in run.troubles if row.rule}
    assert text["bad/for-ever-and-stubborn"] == "it had not come to an end after 1 s"
    assert run.exit_code() == 3


def test_a_rule_has_an_end_to_its_time_in_a_run(
    fleet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also one that is a little slow on each of many craft."""
    monkeypatch.setattr("cfglint.foreign.MOST_TIMES", 0.1)
    (tmp_path / "bad.py").write_text(bad_rules({"slow": "time.sleep(0.6)", "quick": "pass"}))
    run = lint(Request([str(fleet)], rules=[str(tmp_path / "bad.py")], seconds=5.0))
    assert crashed(run) == {("slow", "dumps/lapwing.dump.txt")}
    (text,) = [row.detail for row in run.troubles if row.rule]
    assert "of this run, more than 0.1 times the limit of --rule-time" in text


def test_the_same_in_several_processes(fleet: Path, tmp_path: Path) -> None:
    names = ("exits", "exits-hard", "kills", "prints", "closes-everything", "renames-beneath")
    (tmp_path / "bad.py").write_text(bad_rules({name: BODIES[name] for name in names}))
    request = Request([str(fleet)], rules=[str(tmp_path / "bad.py")])
    one, two = lint(request), lint(request._replace(processes=2))
    assert one._replace(rules=()) == two._replace(rules=())
    assert {name for name, _ in crashed(two)} == set(names)


def test_a_rule_reaches_nothing_that_is_open_elsewhere(fleet: Path, tmp_path: Path) -> None:
    """Neither what a worker tells its parent through, nor a file that is being written."""
    body = "return [found(craft, message=' '.join(sorted(os.listdir('/proc/self/fd'))))]"
    (tmp_path / "bad.py").write_text(bad_rules({"open": body}))
    with (tmp_path / "written").open("w"):
        for processes in (1, 2):
            request = Request([str(fleet)], rules=[str(tmp_path / "bad.py")], only=["bad/open"])
            run = lint(request._replace(processes=processes))
            # Three streams, its pipe, its life line, and the listing itself.
            assert [len(row.message.split()) for row in run.findings] == [6, 6]


def test_a_craft_cannot_be_changed_under_the_next_rule(fleet: Path, tmp_path: Path) -> None:
    changing = {name: body for name, body in BODIES.items() if name.startswith(("re", "puts"))}
    last = RULE.format(id="bad/last", name="last", body="return [found(craft, message=craft.name)]")
    (tmp_path / "bad.py").write_text(bad_rules(changing) + last)
    run = lint(Request([str(fleet)], rules=[str(tmp_path / "bad.py")]))
    said = [row.message for row in run.findings if row.rule == "bad/last"]
    assert said == ["Avocet", "Lapwing"]


def test_a_fleet_rule_can_do_anything_too(fleet: Path, tmp_path: Path) -> None:
    fleet_text = RULE.replace("@rule(", "@fleet_rule(").replace(
        'source="common practice"', 'source="common practice", asks=("motor.poles",)'
    )
    text = HEAD + "from cfglint.rule import fleet_rule\n"
    for name in ("exits-hard", "prints", "span-true", "renames-beneath"):
        text += fleet_text.format(id=f"bad/{name}", name=name.replace("-", "_"), body=BODIES[name])
    (tmp_path / "bad.py").write_text(text)
    run = lint(Request([str(fleet)], rules=[str(tmp_path / "bad.py")]))
    plain = lint(Request([str(fleet)]))
    assert len(crashed(run)) == 8
    assert run.outcomes == plain.outcomes


def club(tmp_path: Path, names: Mapping[str, str]) -> Path:
    """A folder of bad files, and a good one that is loaded after them."""
    folder = tmp_path / "club"
    folder.mkdir()
    for name in names:
        (folder / f"{name}.py").write_text(bad_file(name))
    (folder / "zz.py").write_text(
        HEAD + RULE.format(id="good/one", name="made", body="return [found(craft)]")
    )
    return folder


def test_whatever_a_file_does_while_it_is_loaded(fleet: Path, tmp_path: Path) -> None:
    _, plain, _ = ran(fleet, "--as", "sarif")
    folder = club(tmp_path, FILES)
    code, text, told = ran(fleet, "--as", "sarif", "--rules", folder)
    assert code == 3
    for name in FILES:
        assert f"club/{name}.py: " in told, name
    rows = others(text)
    unread = [row for row in rows if row["ruleId"] == "cfglint/file-not-read"]
    assert len(unread) == len(FILES)
    rows = [row for row in rows if row not in unread]
    assert [row for row in rows if row["ruleId"] != "good/one"] == others(plain)
    assert len([row for row in rows if row["ruleId"] == "good/one"]) == 2


def test_what_a_file_leaves_behind_reaches_nobody(fleet: Path, tmp_path: Path) -> None:
    """It is loaded in processes of its own only, so what is left there is nowhere else."""
    plain_code, plain, _ = ran(fleet, "--as", "sarif")
    folder = club(tmp_path, QUIET)
    code, text, told = ran(fleet, "--as", "sarif", "--rules", folder)
    rows = others(text)
    good = [row for row in rows if row["ruleId"] == "good/one"]
    assert len(good) == 2
    rest = [row for row in rows if row not in good]
    assert [row for row in rest if row["ruleId"] != "cfglint/file-not-read"] == others(plain)
    # Those that could not even be loaded so are named.
    unread = [row for row in rest if row["ruleId"] == "cfglint/file-not-read"]
    assert code == (3 if told else plain_code)
    assert len(unread) <= 8, told


def test_a_file_that_hangs_while_it_is_loaded(tmp_path: Path, monkeypatch: Any) -> None:
    from cfglint import apart, plugins, rulefiles

    monkeypatch.setattr(plugins, "apart", lambda jobs: apart.apart(jobs, 0.5))
    (tmp_path / "bad.py").write_text(HEAD + "\nwhile True: pass\n")
    with pytest.raises(rulefiles.Problem, match=r"not come to an end after 0.5 s") as caught:
        rulefiles.rules_of(str(tmp_path / "bad.py"))
    assert caught.value.exit == 3


@pytest.mark.parametrize("form", [("--as", "text"), ("--as", "sarif"), ("-q",)])
def test_a_lone_surrogate_in_a_message_is_written(
    fleet: Path, tmp_path: Path, form: tuple[str, ...]
) -> None:
    body = "return [found(craft, message='a\\ud800b', instead='\\udcff', picture='\\udfff')]"
    (tmp_path / "bad.py").write_text(bad_rules({"lone": body}))
    code, text, _ = ran(fleet, "--rules", tmp_path / "bad.py", "--only", "bad/lone", *form)
    assert code == 1
    assert "bad/lone" in text


def test_an_interrupt_names_the_rule_that_was_running(fleet: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.py").write_text(bad_rules({"for-ever": BODIES["for-ever"]}))
    # Whoever runs the tests in the background may ignore interrupts, and so would this process.
    code = (
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from cfglint.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    words = [sys.executable, "-c", code, "lint", "--rules", str(tmp_path / "bad.py")]
    with subprocess.Popen(words, cwd=fleet, stdout=-1, stderr=-1, text=True) as run:
        time.sleep(3)
        run.send_signal(signal.SIGINT)
        out, told = run.communicate(timeout=30)
    assert (run.returncode, out) == (130, "")
    assert told == "cfglint: stopped while `bad/for-ever` looked at dumps/avocet.dump.txt\n"


def test_stopped_is_an_interrupt() -> None:
    assert issubclass(Stopped, KeyboardInterrupt)


def test_no_rule_outlives_a_killed_run(fleet: Path, tmp_path: Path) -> None:
    mark = tmp_path / "pid"
    body = f"open({str(mark)!r}, 'w').write(str(os.getpid()))\n    while True: pass"
    (tmp_path / "bad.py").write_text(bad_rules({"for-ever": body}))
    words = [sys.executable, "-m", "cfglint", "lint", "--rules", str(tmp_path / "bad.py")]
    with subprocess.Popen(words, cwd=fleet, stdout=-1, stderr=-1) as run:
        for _ in range(200):
            time.sleep(0.05)
            if mark.exists() and mark.read_text():
                break
        run.kill()
    number = int(mark.read_text())
    assert gone(number)


def gone(number: int) -> bool:
    for _ in range(100):
        try:
            os.kill(number, 0)
            state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
        except (ProcessLookupError, FileNotFoundError):
            return True
        if state == "Z":
            return True
        time.sleep(0.05)
    return False


def test_other_commands_survive_rules_too(fleet: Path, tmp_path: Path) -> None:
    """Carrying judges with rules of others as well."""
    (tmp_path / "bad.py").write_text(bad_rules({"exits-hard": "os._exit(0)"}))
    dump = fleet / "dumps" / "avocet.dump.txt"
    done = subprocess.run(
        [sys.executable, "-m", "cfglint", "carry", str(dump), "--to", "plain",
         "--rules", str(tmp_path / "bad.py")],
        cwd=fleet, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert "bad/exits-hard failed" in done.stdout
    assert done.returncode == 3


def test_the_view_of_a_craft_refuses_changes(fleet: Path) -> None:
    seen: list[str] = []

    @fleet_rule(
        "a/b", grade="fix", title="t", why="w", source="common practice", asks=("motor.poles",)
    )
    def check(craft: Craft, options: Options) -> list[Finding]:
        for change in (
            lambda: setattr(craft, "name", "x"),
            lambda: delattr(craft, "name"),
            lambda: craft.values.update({}),  # type: ignore[attr-defined]
            lambda: craft.values.pop("motor.poles"),  # type: ignore[attr-defined]
        ):
            with pytest.raises((AttributeError, TypeError), match="cannot be changed"):
                change()
            seen.append("refused")
        return []

    from .support import card_of, dialect_of, dump_of, read

    craft = read(dump_of("avocet"), card_of("avocet"), dialect_of("avocet"))
    list(check.check(craft, Options({})))
    assert seen == ["refused"] * 4
