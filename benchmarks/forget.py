"""Teaching without some of the words it knows: what it does where a firmware has words of its own.

The open half of invented dialects uses words of the trade that teaching mostly knows.  Taking a
share of them from teaching, other words for each seed, shows how it fares where it does not, and
leaves the half that is held back alone.
"""

from __future__ import annotations

import random
from typing import Any

from cfglint.teach import meanings, words

_IDEAS = dict(words._BY_WORD)
_LONG, _FOUR = list(words._LONG), list(words._FOUR)
_GLUE, _ENDED = set(words._GLUE), set(words._ENDED)
_PHRASES = {table: dict(rows) for table, (_, rows) in meanings.TABLES.items()}
_CACHED: tuple[Any, ...] = (
    words.split, words.known, words.ideas, meanings._phrases, meanings._index, meanings.meant,
    meanings._vocabulary, meanings._pair_rows,
)  # fmt: skip


def forget(seed: int, share: float) -> None:
    """Take a share of its words and phrases from teaching, in this process and until called again.

    ``share`` 0 gives all of them back.
    """
    chance = random.Random(seed)
    gone = {word for word in _IDEAS if chance.random() < share}
    words._BY_WORD.clear()
    words._BY_WORD.update({word: kinds for word, kinds in _IDEAS.items() if word not in gone})
    words._LONG[:] = [word for word in _LONG if word not in gone]
    words._FOUR[:] = [word for word in _FOUR if word not in gone]
    for known, all_known in ((words._GLUE, _GLUE), (words._ENDED, _ENDED)):
        known.clear()
        known.update(word for word in all_known if not {word, word[:-1], word[:-3]} & gone)
    for table, rows in _PHRASES.items():
        for neutral, phrases in rows.items():
            kept = [phrase for phrase in phrases.split(",") if chance.random() >= share]
            meanings.TABLES[table][1][neutral] = ",".join(kept) or phrases
    for cached in _CACHED:
        cached.cache_clear()
