"""Reading a file as it was at a revision of its Git repository."""

from __future__ import annotations

import os

from cfglint.errors import EXIT_UNREAD, Problem

#: Seconds after which Git is taken to hang.
PATIENCE = 60


def at_revision(rev: str, path: str) -> tuple[bytes, str]:
    """The bytes of a file at a revision, and how to name them (``REV:path``).

    Git is run without a shell, and only to hand out what it stores (``cat-file``): no filter,
    pager or other program named in the repository is started.  Raises Problem without Git,
    outside a repository, for an unknown revision and for a file that was not there then.
    """
    folder, name = os.path.split(path)
    folder = folder or "."
    if rev.startswith("-") or not rev.strip() or "\0" in rev or "\0" in path:
        raise Problem(f"--at: `{rev}` is no revision", instead="name one, such as HEAD~1 or a tag")
    if not os.path.isdir(folder):
        raise Problem("there is no such folder", file=folder, exit=EXIT_UNREAD)
    if not _git(folder, "rev-parse", "--is-inside-work-tree")[1].startswith(b"true"):
        raise Problem(
            "this folder is not in a Git repository, so it has no history",
            file=folder,
            instead="name two files: cfglint compare BEFORE AFTER",
        )
    if _git(folder, "rev-parse", "--verify", "--quiet", rev + "^{commit}")[0]:
        raise Problem(
            f"--at: the repository has no revision `{rev}`",
            instead="`git log --oneline` lists those there are",
        )
    code, data = _git(folder, "cat-file", "blob", f"{rev}:./{name}")
    if code:
        raise Problem(
            f"this file was not there at `{rev}`",
            file=path,
            instead=f"`git log --oneline -- {path}` lists the revisions that touched it",
            exit=EXIT_UNREAD,
        )
    return data, f"{rev}:{path}"


def _git(folder: str, *words: str) -> tuple[int, bytes]:
    """Git's exit code and output."""
    import subprocess

    try:
        done = subprocess.run(
            ["git", "-C", folder, *words],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=PATIENCE,
            check=False,
        )
    except FileNotFoundError:
        raise Problem(
            "--at needs Git, which is not installed here",
            instead="install it, or name two files: cfglint compare BEFORE AFTER",
        ) from None
    except (OSError, subprocess.TimeoutExpired) as wrong:
        raise Problem(f"--at: Git could not be run: {wrong}") from None
    return done.returncode, done.stdout
