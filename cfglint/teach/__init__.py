"""Teaching: a dialect file is drafted from dumps that nobody has described yet."""

from __future__ import annotations

from cfglint.teach.draft import teach
from cfglint.teach.model import Draft, Guess, Kind, Question, Shown

__all__ = ["Draft", "Guess", "Kind", "Question", "Shown", "teach"]
