"""Reading files that anything may be wrong with."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from cfglint.errors import Problem
from cfglint.runner import reading
from cfglint.runner.reading import read_bytes


def problem(path: Path | str) -> str:
    with pytest.raises(Problem) as caught:
        read_bytes(str(path), "dumps/a.dump.txt")
    assert caught.value.exit == 3
    assert caught.value.instead
    return str(caught.value)


def test_bytes_as_they_stand(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"\xef\xbb\xbfa\r\n\0")
    assert read_bytes(str(path), "a") == b"\xef\xbb\xbfa\r\n\0"


def test_what_cannot_be_read(tmp_path: Path) -> None:
    assert problem(tmp_path / "a").startswith("dumps/a.dump.txt: this file is not there")
    link = tmp_path / "link"
    link.symlink_to("gone.txt")
    assert "this is a link to `gone.txt`, which is not there" in problem(link)
    loop = tmp_path / "loop"
    loop.symlink_to("loop")
    assert "cannot be read: Too many levels of symbolic links" in problem(loop)
    assert "this is a folder that is named like a file" in problem(tmp_path)
    assert "this is no ordinary file" in problem("/dev/zero")
    assert "cannot be read: Not a directory" in problem("/dev/null/a")


def test_pipes_are_for_those_who_name_them(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "this is no ordinary file" in problem(pipe)
    writer = threading.Thread(target=lambda: pipe.write_bytes(b"let x be 1\n"))
    writer.start()
    assert read_bytes(str(pipe), "pipe", pipes=True) == b"let x be 1\n"
    writer.join()


def test_permission_and_errors_while_reading(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x")

    def refuse(*args: object, **kwargs: object) -> None:
        raise PermissionError(13, "Permission denied")

    # The tests may run as a user who may read everything.
    monkeypatch.setattr("builtins.open", refuse)
    assert problem(path) == (
        "dumps/a.dump.txt: cannot be read: Permission denied; look at the file's permissions"
    )


def test_far_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * 11)
    monkeypatch.setattr(reading, "LARGEST", 10)
    assert "larger than 0 MB, which no dump is" in problem(path)


@pytest.mark.parametrize("comes", ["pipe", "link"])
def test_what_comes_in_the_place_of_a_file_that_was_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, comes: str
) -> None:
    hangar = tmp_path / "hangar"
    hangar.mkdir()
    path, secret = hangar / "a", tmp_path / "secret"
    path.write_bytes(b"let x be 1\n")
    secret.write_bytes(b"let secret be 1\n")
    real = os.stat

    def looked(where: str) -> os.stat_result:
        kind = real(where)
        monkeypatch.undo()
        path.unlink()
        if comes == "pipe":
            os.mkfifo(path)
        else:
            path.symlink_to(secret)
        return kind

    monkeypatch.setattr(reading.os, "stat", looked)
    with pytest.raises(Problem) as caught:
        assert not read_bytes(str(path), "a", within=str(hangar))
    assert caught.value.exit == 3


def test_another_file_meanwhile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, secret = tmp_path / "a", tmp_path / "secret"
    path.write_bytes(b"let x be 1\n")
    secret.write_bytes(b"let secret be 1\n")
    monkeypatch.setattr(reading, "_at_once", lambda _, flags: os.open(secret, flags))
    assert "was replaced while it was read" in problem(path)
