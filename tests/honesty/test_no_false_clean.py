"""No false clean, as a property: fleets in any of the bundled dialects, with faults of all kinds.

Whatever is wrong, each craft and rule come to one outcome or to one crash that is told, the exit
code is the documented one, and every outcome that the fault does not touch is what it is without
it.  And what means nothing changes nothing: order, comments, line ends, other craft.
"""

from __future__ import annotations

import gzip
import os
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.craft.cards import read_card
from cfglint.dialect import bundled
from cfglint.dialect.load import bundled_names
from cfglint.dialect.reading import Reader
from cfglint.dump.source import Source
from cfglint.rule import GRADES
from cfglint.runner import check
from cfglint.runner.discover import Dump
from cfglint.runner.lint import Request, lint

from ..fuzz.making import CRAFTS, fleet_card, lines_in
from ..fuzz.trying import rules
from .hostile import BODIES, HEAD, RULE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.craft import Card
    from cfglint.results import Run, Verdict

LONG = os.environ.get("CFGLINT_PROFILE") == "long"
some = settings(max_examples=300 if LONG else 12)
more = settings(max_examples=1500 if LONG else 25)
NAMES = bundled_names()
#: What takes long by what it is for.
SLOW = ("for-ever", "for-ever-and-stubborn", "forks-and-hangs", "memory", "leaves-thread")
CONFIG = '[[dumps]]\nfiles = "dumps/*.dump.txt"\ncard = "cards/{stem}.toml"\n'
WRONG = '[[dumps]]\nfiles = "dumps/%s.dump.txt"\ndialect = "%s"\ncard = "cards/{stem}.toml"\n'


class Fleet:
    """A hangar on the disk, and the faults that were put into it."""

    def __init__(self, root: Path, crafts: dict[str, str]) -> None:
        self.root = root
        self.crafts = crafts
        #: Craft whose outcomes may be others now, and those of which nothing can be told.
        self.touched: set[str] = set()
        self.unread: set[str] = set()
        self.killed: set[str] = set()
        self.hostile: set[str] = set()
        self.config = CONFIG
        for folder in ("dumps", "cards"):
            (root / folder).mkdir()
        for craft, name in crafts.items():
            text = "\n".join(lines_in(name, craft)) + "\n"
            self.dump(craft).write_text(text, encoding="utf-8")
            (root / f"cards/{craft}.toml").write_bytes(fleet_card(craft))
        (root / "cfglint.toml").write_text(CONFIG, encoding="utf-8")

    def dump(self, craft: str) -> Path:
        return self.root / f"dumps/{craft}.dump.txt"

    def run(self, processes: int = 0) -> Run:
        rules = [str(self.root / "bad")] if self.hostile else []
        asked = Request([str(self.root)], rules=rules, processes=processes, seconds=1.0)
        return lint(asked)


def unreadable(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    path = fleet.dump(craft)
    kind = data.draw(st.sampled_from(["empty", "nul", "packed", "folder", "dangling", "loop"]))
    text = path.read_bytes()
    path.unlink()
    if kind == "folder":
        path.mkdir()
    elif kind == "dangling":
        path.symlink_to("nowhere.dump.txt")
    elif kind == "loop":
        path.symlink_to(path.name)
    else:
        path.write_bytes({"empty": b"\n", "nul": b"\0" * 99, "packed": gzip.compress(text)}[kind])
    fleet.unread.add(craft)


def link_out(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    path = fleet.dump(craft)
    if data.draw(st.booleans()):
        path = fleet.root / f"cards/{craft}.toml"
    outside = fleet.root.parent / f"outside-{fleet.root.name}-{path.name}"
    path.rename(outside)
    path.symlink_to(outside)
    fleet.unread.add(craft)


def huge_value(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    lines = fleet.dump(craft).read_text(encoding="utf-8").split("\n")
    with_number = [at for at, line in enumerate(lines) if at and any(c.isdigit() for c in line)]
    at = data.draw(st.sampled_from(with_number))
    digit = next(place for place, char in enumerate(lines[at]) if char.isdigit())
    lines[at] = lines[at][:digit] + "9" * data.draw(st.sampled_from([40, 5000])) + lines[at][digit:]
    fleet.dump(craft).write_text("\n".join(lines), encoding="utf-8")
    fleet.touched.add(craft)


def wrong_dialect(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from([one for one in NAMES if one != fleet.crafts[craft]]))
    fleet.config = WRONG % (craft, name) + fleet.config
    (fleet.root / "cfglint.toml").write_text(fleet.config, encoding="utf-8")
    fleet.touched.add(craft)


def cut(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    text = fleet.dump(craft).read_bytes()
    fleet.dump(craft).write_bytes(text[: data.draw(st.integers(0, len(text) - 1))])
    fleet.touched.add(craft)


def bad_card(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    wrong = data.draw(st.sampled_from(["craft = ", "craft = 7\n", "nonsense = 1\n", "\0"]))
    (fleet.root / f"cards/{craft}.toml").write_text(wrong, encoding="utf-8")
    fleet.unread.add(craft)


def killed(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    fleet.killed.add(craft)
    fleet.unread.add(craft)


def bad_rules(fleet: Fleet, craft: str, data: st.DataObject) -> None:
    quick = sorted(set(BODIES) - set(SLOW))
    names = data.draw(st.lists(st.sampled_from(quick), min_size=1, max_size=3, unique=True))
    if data.draw(st.integers(0, 5)) == 0:
        names.append("for-ever")
    names = [one for one in names if f"bad/{one}" not in fleet.hostile]
    folder = fleet.root / "bad"
    folder.mkdir(exist_ok=True)
    for name in names:
        function = "made_" + name.replace("-", "_")
        text = HEAD + RULE.format(id=f"bad/{name}", name=function, body=BODIES[name])
        (folder / f"{function}.py").write_text(text, encoding="utf-8")
    fleet.hostile |= {f"bad/{name}" for name in names}


FAULTS: tuple[Callable[[Fleet, str, st.DataObject], None], ...] = (
    unreadable, link_out, huge_value, wrong_dialect, cut, bad_card, killed, bad_rules,
)  # fmt: skip


def by_pair(run: Run) -> dict[tuple[str, str], Verdict]:
    counted = Counter((one.file, one.rule) for one in run.verdicts)
    assert max(counted.values(), default=0) <= 1
    return {(one.file, one.rule): one for one in run.verdicts}


@some
@given(data=st.data())
def test_whatever_is_wrong_with_a_fleet(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    root = tmp_path_factory.mktemp("fleet")
    names = data.draw(st.lists(st.sampled_from(CRAFTS), min_size=2, max_size=4, unique=True))
    fleet = Fleet(root, {one: data.draw(st.sampled_from(NAMES)) for one in names})
    before = by_pair(fleet.run())
    kinds = data.draw(st.lists(st.sampled_from(FAULTS), min_size=1, max_size=3, unique=True))
    left = list(names)
    for fault in kinds:
        if left:
            fault(fleet, left.pop() if fault is not bad_rules else left[0], data)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(check.Checker, "check", dying(fleet.killed))
        run = fleet.run(processes=2 if fleet.killed else 0)
    told = f"{[one.__name__ for one in kinds]} {run.troubles}"

    # Each dump was checked, or it is told that it was not.
    read = {one.file for one in run.crafts}
    files = {one: f"dumps/{one}.dump.txt" for one in names}
    spoken = " ".join(f"{one.file} {one.message}" for one in run.troubles)
    for craft, file in files.items():
        assert file in read or file in spoken, told
        assert craft not in fleet.unread or file not in read, told
        if craft not in fleet.unread | fleet.touched:
            assert file in read, told

    # Outcomes and crashes sum to craft times rules.
    pairs = by_pair(run)
    crashed = {(one.file, one.rule) for one in run.troubles if one.kind == "crash"}
    asked = {one.id for one in run.rules}
    assert not crashed & set(pairs), told
    assert crashed | set(pairs) == {(file, rule) for file in read for rule in asked}, told
    assert {rule for _, rule in crashed} <= fleet.hostile, told
    for file in read:
        assert {rule for other, rule in crashed if other == file} == fleet.hostile, told

    # Every outcome that nothing touched is what it was.  Rules of the fleet may have lost a craft.
    for (file, rule), was in before.items():
        craft = Path(file).name.partition(".")[0]
        if craft in fleet.unread | fleet.touched:
            continue
        now = pairs[file, rule]
        if rule.startswith("fleet/") and fleet.unread | fleet.touched:
            lost = bool(fleet.unread) and was.state in ("broken", "unknown")
            assert not lost or now.state != "holds", told
        else:
            assert now == was, told

    # The exit code is the documented one.
    codes = [one.exit for one in run.troubles]
    codes += [1 for one in run.found if GRADES.index(one.grade) <= GRADES.index(run.floor)]
    assert run.exit_code() == max(codes, default=0)
    if fleet.unread or fleet.hostile:
        assert run.exit_code() >= 2, told
    if fleet.killed or fleet.hostile:
        assert run.exit_code() >= 3, told


def dying(killed: set[str]) -> Any:
    real, mine = check.Checker.check, os.getpid()

    def checked(self: check.Checker, dump: check.Dump) -> check.Checked:
        if Path(dump.file).name.partition(".")[0] in killed:
            assert os.getpid() != mine
            os.kill(os.getpid(), 9)
        return real(self, dump)

    return checked


# ---------------------------------------------------------------- what means nothing


def outcomes(name: str, craft: str, text: str | bytes) -> list[tuple[Any, ...]]:
    """What all rules say of a dump, without the numbers of lines."""
    data = text.encode() if isinstance(text, str) else text
    checker = check.Checker("/nowhere", None, rules(), dialect=name)
    dump = check_dump(data)
    card = check_card(craft)
    checker._cards[card[0]] = card[1]
    checker.card = card[0]
    found = checker.check(dump)
    assert found.craft is not None, found.troubles
    return [
        (
            one.rule, one.state, one.reason if one.state == "not for this craft" else "",
            sorted((row.grade, row.excerpt.lines[0].strip(" \t") if row.excerpt.lines else "")
                   for row in one.found),
        )
        for one in found.verdicts
    ]  # fmt: skip


def check_dump(data: bytes) -> Dump:
    return Dump("/nowhere/x.dump.txt", "x.dump.txt", None, True, data)


def check_card(craft: str) -> tuple[str, tuple[Card, check.Text]]:
    text = fleet_card(craft).decode()
    file = f"/nowhere/{craft}.toml"
    return file, (read_card(f"{craft}.toml", text.encode()), check.Text(text, text.split("\n")))


def apart(name: str, lines: tuple[str, ...]) -> Iterator[int]:
    """Where a line and the next are settings of their own, under the same titles."""
    reader = Reader(Source.from_text("x.txt", "\n".join(lines)), bundled(name), whole=True)
    reader.craft()
    rows = {row.line: row for row in reader.rows}
    for at in range(1, len(lines)):
        one, other = rows.get(at), rows.get(at + 1)
        if one is None or other is None or one.titles != other.titles:
            continue
        told, follows = reader.told.get(at, []), reader.told.get(at + 1, [])
        if told and follows and not set(told) & set(follows):
            yield at


each = pytest.mark.parametrize("name", NAMES)
craft_of = st.sampled_from(CRAFTS)


@each
@more
@given(craft=craft_of, data=st.data())
def test_neither_order_nor_comments_nor_line_ends_change_anything(
    name: str, craft: str, data: st.DataObject
) -> None:
    lines = list(lines_in(name, craft))
    usual = outcomes(name, craft, "\n".join(lines))
    for _ in range(data.draw(st.integers(0, 4))):
        at = data.draw(st.sampled_from(list(apart(name, tuple(lines)))))
        lines[at - 1], lines[at] = lines[at], lines[at - 1]
    mark = bundled(name).marks.comment[0]
    for _ in range(data.draw(st.integers(0, 3))):
        at = data.draw(st.integers(1, len(lines)))
        words = data.draw(st.sampled_from(["tide tables in the shed", "", "12 m, north dike"]))
        lines.insert(at, f"{mark} {words}")
    end = data.draw(st.sampled_from(["\n", "\r\n", "\r"]))
    text = end.join(lines) + data.draw(st.sampled_from(["", end, end * 3]))
    assert outcomes(name, craft, text) == usual


@some
@given(data=st.data())
def test_an_added_craft_changes_no_other(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    root = tmp_path_factory.mktemp("fleet")
    names = data.draw(st.lists(st.sampled_from(CRAFTS), min_size=2, max_size=3, unique=True))
    fleet = Fleet(root, {one: data.draw(st.sampled_from(NAMES)) for one in names})
    whole = by_pair(fleet.run())
    added = names[-1]
    fleet.dump(added).unlink()
    for (file, rule), was in by_pair(fleet.run()).items():
        if not rule.startswith("fleet/"):
            assert whole[file, rule] == was
