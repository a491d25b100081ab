"""From samples to a drafted dialect file."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.dump.source import Source
    from cfglint.teach.model import Draft


def teach(
    sources: Sequence[Source], answers: Mapping[str, str] | None = None, *, name: str = "mine"
) -> Draft:
    """The draft of a dialect called ``name`` for samples of one firmware.

    ``answers`` maps questions' ids to answers (see :class:`~cfglint.teach.model.Question`).
    The draft depends on nothing else, so asking again with one answer more is how a dialogue
    goes on.  Raises Problem where the samples are no dumps, or an answer cannot be meant.
    """
    raise NotImplementedError
