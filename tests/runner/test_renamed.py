"""What a finding is known by: a dump that is renamed or moved takes its accepts along, and no
other dump gets them.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.finding import Finding
from cfglint.results import Run
from cfglint.runner.accept_file import HEAD, block
from cfglint.runner.lint import Request, lint

from .conftest import CARD, CONFIG, Write

TODAY = "2026-11-25"
AVOCET, BITTERN = "dumps/avocet.dump.txt", "dumps/bittern.dump.txt"
FAULTY = """\
-- board SLATE, firmware 7.9, changes only
let name-given be "Avocet"
let motor-signal be brushed
let loop-rate be 4000
let least-spin be 5.9
let least-spin be 5.6
"""
ANONYMOUS = FAULTY.replace('let name-given be "Avocet"\n', "")
ANYWHERE = CONFIG.replace("dumps/*", "**/*").replace("cards/{stem}.toml", "cards/avocet.toml")


@pytest.fixture
def fleet(write: Write) -> Path:
    """One craft, all of whose findings are accepted by their fingerprints."""
    root = write({"cfglint.toml": CONFIG.replace("dumps/*", "**/*"), AVOCET: FAULTY})
    accept_all(root)
    return root


def run_on(root: Path, *paths: str, only: tuple[str, ...] = ()) -> Run:
    return lint(Request([str(root / one) for one in paths or (".",)], only=only, today=TODAY))


def accept_all(root: Path) -> None:
    found = [one for one in run_on(root).findings if one.accepted is None]
    assert len(found) > 2
    blocks = (block(one, "so", "Ines", "2027-03-31") for one in found)
    (root / "accepted.toml").write_text(HEAD + "".join(blocks), encoding="utf-8")
    assert all(one.accepted for one in run_on(root).findings)


def open_in(run: Run, file: str) -> list[Finding]:
    return [one for one in run.findings if one.file == file and one.accepted is None]


def prints(run: Run, file: str) -> set[tuple[str, str]]:
    return {(one.rule, one.print) for one in run.findings if one.file == file}


@pytest.mark.parametrize("new", ["dumps/a-2027.dump.txt", "old/avocet.dump.txt", "x.dump.txt"])
@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize("only", [(), ("motor",)])
def test_accepts_go_along_with_a_dump_that_is_renamed(
    fleet: Path, new: str, whole: bool, only: tuple[str, ...]
) -> None:
    before = prints(run_on(fleet, only=only), AVOCET)
    (fleet / new).parent.mkdir(exist_ok=True)
    (fleet / AVOCET).rename(fleet / new)
    lines = (fleet / new).read_text(encoding="utf-8").split("\n")
    (fleet / new).write_text("\n".join([lines[0], "-- moved", *lines[1:]]), encoding="utf-8")
    run = run_on(fleet, *(() if whole else (new,)), only=only)
    assert prints(run, new) == before
    assert open_in(run, new) == []
    told = [one for one in run.aside if one.span is not None and one.span.file == "accepted.toml"]
    assert len(told) == len(before)
    assert all(f"accepted in `{AVOCET}`" in one.text and f"`{new}`" in one.text for one in told)
    assert run.exit_code() == 0


def test_a_card_or_the_hangar_can_say_which_craft_it_is(write: Write) -> None:
    for config, card in (
        (ANYWHERE, CARD),
        (
            CONFIG.replace("dumps/*", "**/*").replace("card =", 'craft = "Avocet"\ncard ='),
            "# nothing of it yet\n",
        ),
    ):
        root = write({"cfglint.toml": config, AVOCET: ANONYMOUS, "cards/avocet.toml": card})
        accept_all(root)
        (root / AVOCET).rename(root / "new.dump.txt")
        assert open_in(run_on(root), "new.dump.txt") == []
        (root / "new.dump.txt").unlink()
        (root / "accepted.toml").unlink()


@pytest.mark.parametrize("only", [(), ("motor",)])
@pytest.mark.parametrize("copy", ["dumps/a.dump.txt", "dumps/z.dump.txt", "new/avocet.dump.txt"])
@pytest.mark.parametrize("whole", [True, False])
def test_a_copy_beside_it_gets_none(
    fleet: Path, copy: str, whole: bool, only: tuple[str, ...]
) -> None:
    (fleet / copy).parent.mkdir(exist_ok=True)
    (fleet / copy).write_text(FAULTY, encoding="utf-8")
    run = run_on(fleet, *(() if whole else (copy,)), only=only)
    assert [one.rule for one in run.findings if one.file == copy and one.accepted] == []
    assert len(open_in(run, copy)) >= 1
    if whole:
        # The first one keeps its own; what is new is told of both.
        assert {one.rule for one in open_in(run, AVOCET)} <= {"fleet/two-of-one-name"}
        assert not prints(run, copy) & prints(run, AVOCET)


def test_of_two_copies_none_is_the_one_that_is_gone(fleet: Path) -> None:
    for name in ("dumps/a.dump.txt", "dumps/z.dump.txt"):
        (fleet / name).write_text(FAULTY, encoding="utf-8")
    (fleet / AVOCET).unlink()
    assert not any(one.accepted for one in run_on(fleet).findings)
    assert not any(one.accepted for one in run_on(fleet, "dumps/a.dump.txt").findings)


def test_what_was_accepted_beside_a_copy_stays_with_its_file(fleet: Path) -> None:
    (fleet / BITTERN).write_text(FAULTY, encoding="utf-8")
    run = run_on(fleet)
    text = (fleet / "accepted.toml").read_text(encoding="utf-8")
    more = "".join(block(one, "so", "Ines", "2027-03-31") for one in open_in(run, BITTERN))
    (fleet / "accepted.toml").write_text(text + more, encoding="utf-8")
    assert open_in(run_on(fleet), BITTERN) == []
    (fleet / BITTERN).rename(fleet / "dumps/new.dump.txt")
    assert not any(one.accepted for one in run_on(fleet, "dumps/new.dump.txt").findings)


def test_another_craft_in_its_place_gets_none(fleet: Path) -> None:
    (fleet / AVOCET).write_text(FAULTY.replace("Avocet", "Bittern"), encoding="utf-8")
    run = run_on(fleet)
    assert not any(one.accepted for one in run.findings)
    assert any(one.rule == "accept/matches-nothing" for one in run.findings)
    (fleet / AVOCET).rename(fleet / BITTERN)
    assert not any(one.accepted for one in run_on(fleet).findings)


def test_a_dump_that_says_no_name_is_known_by_its_file(write: Write) -> None:
    root = write({"cfglint.toml": CONFIG.replace("dumps/*", "**/*"), AVOCET: ANONYMOUS})
    accept_all(root)
    (root / AVOCET).rename(root / BITTERN)
    assert not any(one.accepted for one in run_on(root).findings)


def test_an_accept_for_a_craft_is_for_no_copy(write: Write) -> None:
    entry = (
        '\n[[accept]]\nrule = "motor/left-on-default-signal"\ncraft = "Avocet"\nreason = "so"\n'
        'by = "Ines"\nuntil = 2027-03-31\n'
    )
    root = write({"cfglint.toml": CONFIG + entry, AVOCET: FAULTY})
    assert open_in(run_on(root, only=("motor/left-on-default-signal",)), AVOCET) == []
    (root / BITTERN).write_text(FAULTY, encoding="utf-8")
    for paths in ((), (BITTERN,)):
        run = run_on(root, *paths, only=("motor/left-on-default-signal",))
        assert not any(one.accepted for one in run.findings)
        (told,) = [one for one in run.findings if one.rule == "accept/two-craft"]
        assert f"`{AVOCET}`, `{BITTERN}` say that they are of the craft `Avocet`" in told.message
        assert run.exit_code() == 1


def test_pruning_leaves_what_may_have_gone_along(fleet: Path) -> None:
    """A renamed dump that this run did not see, or of which it could not tell."""
    (fleet / AVOCET).rename(fleet / "new.dump.txt")
    (fleet / BITTERN).write_text(FAULTY.replace("Avocet", "Bittern"), encoding="utf-8")
    for _ in range(2):
        run = run_on(fleet, BITTERN)
        assert not any(one.rule == "accept/matches-nothing" for one in run.findings)
        # Where the dump was there is another one now.
        (fleet / AVOCET).write_text(FAULTY.replace("Avocet", "Curlew"), encoding="utf-8")
        run = run_on(fleet, AVOCET)
        assert not any(one.rule == "accept/matches-nothing" for one in run.findings)
    (fleet / "new.dump.txt").write_bytes(b"\0" * 300)
    run = run_on(fleet)
    assert not any(one.rule == "accept/matches-nothing" for one in run.findings)


@settings(max_examples=25)
@given(data=st.data())
def test_whatever_becomes_of_the_files(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Three craft with the same faults, all of Avocet's accepted; files are renamed, swapped and
    copied.  What is accepted afterwards is of Avocet's dump, and of one only.
    """
    root = tmp_path_factory.mktemp("fleet")
    names = ("Avocet", "Bittern", "Curlew")
    (root / "cfglint.toml").write_text(CONFIG.replace("dumps/*", "*"), encoding="utf-8")
    (root / "a.dump.txt").write_text(FAULTY, encoding="utf-8")
    accept_all(root)
    texts = [FAULTY.replace("Avocet", name) for name in names]
    places = data.draw(st.permutations(["a", "b", "c", "d"]))
    copies = data.draw(st.integers(0, 1))
    (root / "a.dump.txt").unlink()
    for place, text in zip(places, [*texts, *([FAULTY] * copies)], strict=False):
        (root / f"{place}.dump.txt").write_text(text, encoding="utf-8")
    run = run_on(root, only=("motor/left-on-default-signal",))
    first = f"{places[0]}.dump.txt"
    files = {one.file for one in run.findings if one.accepted}
    if not copies:
        assert files == {first}
    else:
        assert files <= {"a.dump.txt"} & {first, f"{places[3]}.dump.txt"}
