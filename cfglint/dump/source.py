"""A dump's text, exactly as it stands in the file."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cfglint.span import Span


def decode(data: bytes) -> tuple[str, str]:
    """Text and encoding of a dump's bytes; never fails and loses nothing.

    A byte-order mark decides for UTF-8 or UTF-16 and is not part of the text.  Without one the
    text is UTF-8 if it can be, else Latin-1, in which every byte is a character.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        name = "utf-16-le" if data[0] == 0xFF else "utf-16-be"
        body = data[2:]
        tail = "" if len(body) % 2 == 0 else "\ufffd"
        return body[: len(body) // 2 * 2].decode(name, "surrogatepass") + tail, name
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


def split_lines(text: str) -> list[str]:
    """The lines of a text without their endings: LF, CRLF or a lone CR, and nothing else."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    if lines[-1] == "":
        lines.pop()
    return lines


#: What a terminal is told and does not show: colours, cursor moves, titles of its window
#: (ECMA-48, from memory), and the same as some programs write them out.
_CONTROL = re.compile(
    r"\x1b\[[0-?]*+[ -/]*+[@-~]|\x1b\][^\x07\x1b]*+(?:\x07|\x1b\\)|\x1b[@-Z\\^_]|\x1b[()][0-9A-Z]"
    r"|\^\[\[[0-9;]*+m"
)


def shown(text: str) -> str:
    """A text as a terminal shows it."""
    return _CONTROL.sub("", text)


class Source:
    """One file's text, its lines and its encoding.

    ``text`` is as it stands in the file; in ``lines`` what a terminal does not show is blank.
    ``written`` has, by number, the lines that were another before.
    """

    __slots__ = ("encoding", "file", "lines", "noted", "text", "written")

    def __init__(self, file: str, text: str, encoding: str = "utf-8") -> None:
        self.file = file
        self.text = text
        self.encoding = encoding
        self.lines = split_lines(text)
        #: What was found out about it already, by whoever did.
        self.noted: dict[object, Any] = {}
        self.written: dict[int, str] = {}
        if "\x1b" in text or "^[[" in text:
            for at, line in enumerate(self.lines):
                if "\x1b" in line or "^[[" in line:
                    self.lines[at] = _CONTROL.sub(lambda match: " " * len(match[0]), line)
                    self.written[at + 1] = line

    @classmethod
    def from_bytes(cls, file: str, data: bytes) -> Source:
        """A source from a file's bytes (see :func:`decode`)."""
        text, encoding = decode(data)
        return cls(file, text, encoding)

    @classmethod
    def from_text(cls, file: str, text: str) -> Source:
        """A source from text."""
        return cls(file, text)

    def line(self, number: int) -> str:
        """A line (from 1), ``""`` past the end."""
        return self.lines[number - 1] if 0 < number <= len(self.lines) else ""

    def slice(self, span: Span) -> str:
        """The text that a span covers; lines in between are joined by LF."""
        lines = self.lines[span.line - 1 : span.end_line]
        if not lines:
            return ""
        lines[-1] = lines[-1][: span.end_column - 1]
        lines[0] = lines[0][span.column - 1 :]
        return "\n".join(lines)
