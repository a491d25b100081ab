"""Fingerprints: names for findings that stay the same while the file around them changes.

Two kinds.  :class:`Prints` makes our own, ``cfglint/v1``: which rule, which craft, what the
offending line says, and the how-many-eth of these.  :class:`LineHashes` makes the one that
hosted result viewers match by, ``primaryLocationLineHash``: a rolling hash of the text that
starts at the offending line.  Neither knows line numbers, so lines put in or taken out
elsewhere move nothing.
"""

from __future__ import annotations

from functools import cache
from typing import Any

#: How many UTF-16 units a line hash looks at, its base, and the 64 bits it is kept in.
BLOCK, BASE, MASK = 100, 37, 0xFFFF_FFFF_FFFF_FFFF
#: Stands for the end of the file in a line hash.
END = "\uffff"
#: What a line hash does not look at.
BLANKS = {ord(" "): None, ord("\t"): None}


def fold(text: str) -> str:
    """``text`` with every stretch of white space made one blank, and none at either end."""
    return " ".join(text.split())


def fingerprint(rule: str, home: str, line_text: str, occurrence: int) -> str:
    """The fingerprint of the ``occurrence``-th finding (from 0) of one rule on equal lines.

    ``home`` is the craft's name if anything but a file's name says it, else the file's name
    relative to the hangar: so a dump that is renamed or moved takes its findings along, and
    another craft's dump in its place does not get them.  ``line_text`` is the whole line that the
    finding begins on.  White space counts only as a gap between words, so indenting a line or
    aligning its columns moves nothing.  32 hexadecimal digits.
    """
    # The line comes last: it alone may hold a NUL, so no two sets of parts join to one text.
    joined = "\0".join((rule, home, str(occurrence), fold(line_text)))
    return sha256_hex(joined.encode("utf-8", "surrogatepass"))[:32]


def of_file(print_: str, file: str) -> str:
    """A fingerprint that holds in one file only, for a craft that several dumps say they are of."""
    return sha256_hex(f"{print_}\0{file}".encode("utf-8", "surrogatepass"))[:32]


def sha256_hex(data: bytes) -> str:
    """SHA-256 of a few bytes, in hexadecimal."""
    return str(_sha256()(data).hexdigest())


@cache
def _sha256() -> Any:
    """The interpreter's own function, as ``random`` of the standard library takes it.

    Importing ``hashlib`` loads all of OpenSSL, which takes longer than all that is hashed in a
    run; and an import that fails is tried anew each time, so the answer is kept.
    """
    for name in ("_sha2", "_sha256"):  # from Python 3.12 on, and before
        try:
            return __import__(name).sha256
        except ImportError:
            continue
    from hashlib import sha256

    return sha256


class Prints:
    """Fingerprints for all findings of a run, counting the findings on equal lines."""

    __slots__ = ("_seen",)

    def __init__(self) -> None:
        self._seen: dict[tuple[str, str, str], int] = {}

    def of(self, rule: str, home: str, line_text: str) -> str:
        """The next finding's fingerprint; ask once a finding, in the order of the lines."""
        key = (rule, home, fold(line_text))
        occurrence = self._seen.get(key, 0)
        self._seen[key] = occurrence + 1
        return fingerprint(rule, home, line_text, occurrence)


class LineHashes:
    """The ``primaryLocationLineHash`` of each line of one text.

    The hash looks at the 100 UTF-16 units from the line's start on, over line ends too, leaving
    out blanks and tabs and reading CR and CRLF as LF; past the end stand one 65535 and then
    zeros.  It is the polynomial of base 37 in 64 bits, in hexadecimal, then ``:n``: the n-th
    line of the file with that hash.  Published in the CodeQL Action, ``fingerprints.ts``, which
    reads every file as UTF-8: give the ``encoding`` that ``text`` was read by, and bytes that
    are no UTF-8 count as replacement characters, as they do there.
    """

    __slots__ = ("_counted", "_starts", "_units")

    def __init__(self, text: str, encoding: str = "utf-8") -> None:
        text = _as_utf8(text, encoding)
        text = text.replace("\r\n", "\n").replace("\r", "\n").translate(BLANKS) + END
        self._units = _utf16(text)
        self._starts = [0]
        at = self._units.find("\n")
        while at >= 0:
            self._starts.append(at + 1)
            at = self._units.find("\n", at + 1)
        #: How often a block was met at the start of a line, and up to where that was counted.
        self._counted: dict[str, tuple[int, int]] = {}

    def of(self, line: int) -> str:
        """The hash of ``line`` (from 1); a line past the end counts as the last."""
        start = self._starts[min(max(line, 1), len(self._starts)) - 1]
        block = self._units[start : start + BLOCK]
        value = 0
        for unit in block.ljust(BLOCK, "\0"):
            value = (value * BASE + ord(unit)) & MASK
        return f"{value:x}:{self._count(block, start)}"

    def _count(self, block: str, last: int) -> int:
        """How many lines up to the one at ``last`` begin with ``block``."""
        units = self._units
        count, at = self._counted.get(block, (0, 0))
        if at > last:  # asked out of order
            count, at = 0, 0
        # Looking for the few blocks that are asked for beats keeping one for each line.
        at = units.find(block, at, last + BLOCK)
        while at >= 0:
            if (at == 0 or units[at - 1] == "\n") and units[at : at + BLOCK] == block:
                count += 1
            at = units.find(block, at + 1, last + BLOCK)
        self._counted[block] = (count, last + 1)
        return count


def _as_utf8(text: str, encoding: str) -> str:
    """``text`` as a reader sees it who takes the file for UTF-8, whatever it is."""
    if text.isascii():
        return text
    if encoding == "latin-1":
        return text.encode("latin-1", "replace").decode("utf-8", "replace")
    try:
        raw = text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:  # a lone surrogate that stands for no byte
        raw = text.encode("utf-8", "replace")
    return raw.decode("utf-8", "replace")


def _utf16(text: str) -> str:
    """``text`` as UTF-16 units, one a character."""
    if text.isascii() or max(text) <= END:
        return text
    raw = text.encode("utf-16-le")
    return "".join(chr(raw[at] | raw[at + 1] << 8) for at in range(0, len(raw), 2))
