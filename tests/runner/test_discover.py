"""Which files a run checks."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cfglint.errors import Problem
from cfglint.runner.discover import Finds, discover

from .conftest import CONFIG, DUMP, Write


def names(found: Finds) -> list[str]:
    return [dump.file for dump in found.dumps]


def told(found: Finds) -> list[tuple[str, int, str, str]]:
    return [(one.kind, one.exit, one.file, one.message) for one in found.troubles]


# ------------------------------------------------------------------ a hangar


def test_a_hangars_root(hangar: Path) -> None:
    found = discover([str(hangar)])
    assert found.root == str(hangar)
    assert found.config is not None
    assert names(found) == ["dumps/avocet.dump.txt", "dumps/bittern.dump.txt"]
    assert all(dump.entry is found.config.dumps[0] for dump in found.dumps)
    assert not found.troubles


def test_here(hangar: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(hangar / "dumps")
    assert names(discover(["."])) == ["dumps/avocet.dump.txt", "dumps/bittern.dump.txt"]
    monkeypatch.chdir(hangar / "cards")
    found = discover(["."])
    assert told(found) == [("nothing", 4, "", "nothing to check in `.`")]
    assert "looked for `dumps/*.dump.txt`" in found.troubles[0].instead


def test_a_file_that_fits_no_entry_is_checked_all_the_same(hangar: Path, write: Write) -> None:
    write({"notes/odd.txt": DUMP})
    found = discover([str(hangar / "notes/odd.txt"), str(hangar / "dumps/avocet.dump.txt")])
    assert names(found) == ["dumps/avocet.dump.txt", "notes/odd.txt"]
    assert [dump.entry is None for dump in found.dumps] == [False, True]
    assert all(dump.named for dump in found.dumps)


def test_each_file_once(hangar: Path) -> None:
    path = str(hangar / "dumps/avocet.dump.txt")
    assert len(discover([str(hangar), path, path, str(hangar / "dumps")]).dumps) == 2


def test_the_first_entry_that_fits_counts(hangar: Path, write: Write) -> None:
    write(
        {
            "cfglint.toml": "[[dumps]]\nfiles = 'dumps/b*.dump.txt'\n"
            "[[dumps]]\nfiles = ['**/*.dump.txt']\n[[dumps]]\nfiles = 'dumps/avocet.dump.txt'",
            "deep/down/here.dump.txt": DUMP,
            ".hidden/no.dump.txt": DUMP,
        }
    )
    found = discover([str(hangar)])
    assert [(dump.file, dump.entry.at if dump.entry else -1) for dump in found.dumps] == [
        ("deep/down/here.dump.txt", 1),
        ("dumps/avocet.dump.txt", 1),
        ("dumps/bittern.dump.txt", 0),
    ]
    assert not found.troubles


def test_an_entry_that_fits_nothing(hangar: Path, write: Write) -> None:
    write({"cfglint.toml": CONFIG + "[[dumps]]\nfiles = ['dump/*.txt', 'nowhere/a.txt']\n"})
    found = discover([str(hangar), str(hangar / "dumps")])
    ((kind, code, file, message),) = told(found)
    assert (kind, code, file) == ("config", 2, "cfglint.toml")
    assert message.endswith("fits no file: `dump/*.txt`, `nowhere/a.txt`")
    assert found.troubles[0].span is not None
    assert found.troubles[0].span.line == 9


def test_an_empty_hangar(write: Write) -> None:
    root = write({"cfglint.toml": CONFIG})
    ((kind, code, _, message),) = told(discover([str(root)]))
    assert (kind, code) == ("nothing", 4)
    assert message == f"nothing to check in `{root}`"


def test_a_hangar_without_entries(write: Write) -> None:
    root = write({"cfglint.toml": "", "a.dump.txt": DUMP})
    ((kind, code, file, message),) = told(discover([str(root)]))
    assert (kind, code, file) == ("nothing", 4, "cfglint.toml")
    assert message.endswith("the hangar names no dumps")


def test_stars_do_not_fit_folders_but_odd_names_are_told(hangar: Path, write: Write) -> None:
    write({"cfglint.toml": "[[dumps]]\nfiles = 'dumps/*'\n[[dumps]]\nfiles = 'odd/*.txt'"})
    (hangar / "dumps/old").mkdir()
    (hangar / "odd/a.txt").mkdir(parents=True)
    found = discover([str(hangar)])
    assert names(found) == ["dumps/avocet.dump.txt", "dumps/bittern.dump.txt", "odd/a.txt"]


def test_a_configuration_by_name(hangar: Path, write: Write, tmp_path: Path) -> None:
    write({"other.toml": "[[dumps]]\nfiles = 'dumps/b*'\n"})
    found = discover([str(hangar)], str(hangar / "other.toml"))
    assert names(found) == ["dumps/bittern.dump.txt"]
    outside = tmp_path.parent / f"{tmp_path.name}-outside.txt"
    outside.write_text(DUMP)
    found = discover([str(outside)], str(hangar / "other.toml"))
    assert names(found) == [str(outside)]


def test_two_hangars_are_two_runs(write: Write) -> None:
    root = write({"a/cfglint.toml": CONFIG, "b/cfglint.toml": CONFIG, "c/x.dump.txt": DUMP})
    with pytest.raises(Problem, match=r"belongs to the hangar .* to the hangar .*separate runs"):
        discover([str(root / "a"), str(root / "b")])
    with pytest.raises(Problem, match=r"belongs to the hangar .* to none"):
        discover([str(root / "a"), str(root / "c/x.dump.txt")])


# ------------------------------------------------------------------ no hangar


def test_a_loose_folder(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    root = write(
        {
            "b.dump": DUMP,
            "a.dump.txt": DUMP,
            "deep/down/c.DUMP.TXT": DUMP,
            "notes.txt": "",
            ".git/d.dump.txt": DUMP,
            ".e.dump.txt": DUMP,
        }
    )
    found = discover([str(root)])
    assert (found.root, found.config) == (str(root), None)
    assert names(found) == ["a.dump.txt", "b.dump", "deep/down/c.DUMP.TXT"]
    monkeypatch.chdir(root.parent)
    found = discover([f"{root.name}/deep", f"{root.name}/notes.txt"])
    assert found.root == str(root.parent)
    assert names(found) == [f"{root.name}/deep/down/c.DUMP.TXT", f"{root.name}/notes.txt"]


def test_names_start_above_all_paths(write: Write) -> None:
    root = write({"a/x.dump.txt": DUMP, "b/y.dump.txt": DUMP})
    found = discover([str(root / "a/x.dump.txt"), str(root / "b")])
    assert found.root == str(root)
    assert names(found) == ["a/x.dump.txt", "b/y.dump.txt"]


def test_different_drives(monkeypatch: pytest.MonkeyPatch, write: Write) -> None:
    root = write({"x.dump.txt": DUMP})

    def fail(paths: object) -> str:
        raise ValueError

    monkeypatch.setattr(os.path, "commonpath", fail)
    assert discover([str(root)]).root == os.getcwd()


def test_the_root_folder_itself() -> None:
    from cfglint.runner.discover import _Search

    search = _Search("/", None)
    assert search.name("/") == "."
    assert search.name("/a/b") == "a/b"


def test_links(write: Write) -> None:
    root = write({"real/a.dump.txt": DUMP})
    (root / "real/loop").symlink_to("..")
    (root / "linked").symlink_to("real")
    (root / "b.dump.txt").symlink_to("real/a.dump.txt")
    (root / "c.dump.txt").symlink_to("gone.txt")
    (root / "d.dump").symlink_to("real")
    (root / "e.dump").symlink_to("e.dump")
    found = discover([str(root)])
    # Links to files are followed, also into the void; a folder named like a dump is told of.
    assert names(found) == ["b.dump.txt", "c.dump.txt", "d.dump", "e.dump", "real/a.dump.txt"]
    assert names(discover([str(root / "linked")])) == ["a.dump.txt"]


def test_a_hangar_inside(write: Write) -> None:
    root = write({"a.dump.txt": DUMP, "club/cfglint.toml": CONFIG, "club/dumps/x.dump.txt": DUMP})
    found = discover([str(root)])
    assert names(found) == ["a.dump.txt"]
    ((kind, code, file, message),) = told(found)
    assert (kind, code, file) == ("config", 2, "club")
    assert message == "this folder is a hangar of its own and was not checked"
    assert "cfglint lint " in found.troubles[0].instead


def test_an_empty_folder(write: Write) -> None:
    root = write({})
    found = discover([str(root)])
    assert told(found) == [("nothing", 4, "", f"nothing to check in `{root}`")]
    assert found.troubles[0].instead.startswith("looked for `*.dump.txt`, `*.dump`")


def test_a_wrong_path_stops_no_other(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    root = write({"avocet.dump.txt": DUMP})
    monkeypatch.chdir(root)
    found = discover(["avocett.dump.txt", "avocet.dump.txt", "gone/away.txt"])
    assert names(found) == ["avocet.dump.txt"]
    assert told(found) == [
        ("config", 2, "avocett.dump.txt", "there is no such file or folder"),
        ("config", 2, "gone/away.txt", "there is no such file or folder"),
    ]
    assert [one.instead for one in found.troubles] == [
        "did you mean `avocet.dump.txt`?",
        "look at the path",
    ]
    found = discover(["nix"])
    assert [one.exit for one in found.troubles] == [2]


def test_a_folder_that_cannot_be_read(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    root = write({"a.dump.txt": DUMP, "shut/b.dump.txt": DUMP})
    real = os.scandir

    def refuse(path: str) -> object:
        if path.endswith("shut"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", refuse)
    found = discover([str(root)])
    assert names(found) == ["a.dump.txt"]
    assert told(found) == [("file", 3, "shut", "this folder cannot be read: Permission denied")]
