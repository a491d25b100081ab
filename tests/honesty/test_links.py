"""Nothing outside a hangar is read: reports quote what they speak of, and anybody may see them."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree

import pytest

from cfglint.cli import main

from .support import FLEET

SECRET = "let api-secret be hunter-and-gatherer"
DUMP = f"-- board SLATE, firmware 7.9, full listing\n{SECRET}\n"
DIALECT = f'dialect = "mine"\n{SECRET} = 3\n'
RULES = f'[[rule]]\nid = "a/b"\n{SECRET} = 3\n'
CARD = f'craft = "x"\n[esc]\nsecret = "{SECRET}"\n'
TOLD = "this leads out of the hangar by a link, and nothing outside is read"


@pytest.fixture
def hangar(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    copytree(FLEET, tmp_path / "m")
    outside = tmp_path / "outside"
    outside.mkdir()
    for name, text in (
        ("secret.dump.txt", DUMP), ("secret.toml", CARD), ("dialect.toml", DIALECT),
        ("rules.toml", RULES), ("cfglint.toml", f'[[dumps]]\nfiles = "*"\n{SECRET} = 1\n'),
        ("accepted.toml", f'[[accept]]\nsecret = "{SECRET}"\n'),
    ):  # fmt: skip
        (outside / name).write_text(text)
    monkeypatch.chdir(tmp_path / "m")
    return tmp_path / "m"


def link(path: str, target: str) -> None:
    Path(path).parent.mkdir(exist_ok=True)
    Path(path).unlink(missing_ok=True)
    Path(path).symlink_to(target)


@pytest.mark.parametrize(
    ("path", "target", "add"),
    [
        ("dumps/x.dump.txt", "../../outside/secret.dump.txt", ""),
        ("dumps/x.dump.txt", "../dumps/../../outside/secret.dump.txt", ""),
        ("dumps/x.dump.txt", "y", ""),  # and that one leads out
        ("more", "../outside", '\n[[dumps]]\nfiles = "more/*.dump.txt"\n'),
        ("more", "../outside", '\n[[dumps]]\nfiles = "more/secret.dump.txt"\n'),
        ("cards/avocet.toml", "../../outside/secret.toml", ""),
        ("cards/mine.toml", "../../outside/dialect.toml",
         '\n[dialects]\nmine = "cards/mine.toml"\n'),
        ("rules/marsh.toml", "../../outside/rules.toml", ""),
        ("accepted.toml", "../outside/accepted.toml", ""),
        ("cfglint.toml", "../outside/cfglint.toml", ""),
    ],
)  # fmt: skip
@pytest.mark.parametrize("form", ["text", "sarif"])
def test_a_link_that_leads_out_is_refused(
    hangar: Path, capsys: pytest.CaptureFixture[str], path: str, target: str, add: str, form: str
) -> None:
    if add:
        with open("cfglint.toml", "a") as file:
            file.write(add)
    link(path, target)
    if target == "y":
        link("dumps/y", "../../outside/secret.dump.txt")
    code = main(["lint", "--as", form, "--sarif", "log.sarif"])
    said = capsys.readouterr()
    log = Path("log.sarif").read_text() if Path("log.sarif").exists() else ""
    everything = said.out + said.err + log
    assert code == 3
    assert "hunter" not in everything
    whole = " ".join(said.out.split()) + said.err
    assert whole.count(TOLD) == 1 + (form == "sarif" and TOLD in said.out)


@pytest.mark.parametrize(
    "words",
    [
        ["lint", "dumps/x.dump.txt"], ["show", "dumps/x.dump.txt"],
        ["show", "--tree", "dumps/x.dump.txt"],
        ["compare", "dumps/x.dump.txt", "dumps/avocet.dump.txt"],
        ["carry", "dumps/x.dump.txt", "--to", "plain"], ["switches", "dumps/x.dump.txt"],
        ["bench", "dumps/x.dump.txt"], ["accept", "--prune"],
        ["dialect", "coverage", "plain", "dumps/x.dump.txt"], ["teach", "dumps/x.dump.txt"],
        ["refused", "dumps/x.dump.txt"],
    ],
)  # fmt: skip
def test_named_by_its_name_in_the_hangar(
    hangar: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    """A hook names whatever a repository holds."""
    link("dumps/x.dump.txt", "../../outside/secret.dump.txt")
    code = main(words)
    said = capsys.readouterr()
    assert "hunter" not in said.out + said.err
    assert TOLD in " ".join((said.out + said.err).split())
    assert code == 3


def test_nothing_outside_is_written(hangar: Path, capsys: pytest.CaptureFixture[str]) -> None:
    outside = hangar.parent / "outside" / "accepted.toml"
    outside.write_text("")
    link("accepted.toml", str(outside))
    code = main(["accept", "--all-now", "--reason", "x", "--by", "y", "--until", "2999-01-01"])
    assert code == 3
    assert TOLD in capsys.readouterr().err
    assert outside.read_text() == ""


def test_links_inside_are_fine(hangar: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["lint", "-q"])
    before = capsys.readouterr().out
    for folder in ("dumps", "cards", "rules"):
        Path(folder).rename(f"all-{folder}")
        link(folder, f"all-{folder}")
    main(["lint", "-q"])
    assert capsys.readouterr().out == before


def test_a_hangar_reached_by_a_link(hangar: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where the hangar itself lies is nobody's concern."""
    (hangar.parent / "n").symlink_to("m")
    assert main(["lint", str(hangar.parent / "n")]) == 1
    assert TOLD not in capsys.readouterr().out


def test_what_a_person_names_outside_is_read(
    hangar: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    card = hangar.parent / "outside" / "good.toml"
    card.write_text('craft = "Avocet"\n')
    main(["lint", "dumps/avocet.dump.txt", "--card", str(card)])
    assert TOLD not in capsys.readouterr().out


def test_without_a_hangar(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "secret").write_text(DUMP)
    (tmp_path / "dumps").mkdir()
    monkeypatch.chdir(tmp_path / "dumps")
    link("a.dump.txt", "../secret")
    Path("b.dump.txt").write_text(DUMP.replace(SECRET, "let motor-signal be dshot300"))
    link("c.dump.txt", "b.dump.txt")
    assert main(["lint", "."]) == 3
    said = capsys.readouterr()
    assert "hunter" not in said.out + said.err
    assert (said.out + said.err).count("leads out") == 1
    # A person who names the link itself has looked at it.
    main(["lint", "a.dump.txt"])
    assert "leads out" not in capsys.readouterr().out
