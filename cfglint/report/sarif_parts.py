"""The small change of a SARIF log: message strings, URIs, regions, stand-ins for prints."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from cfglint.prints import LineHashes, fingerprint
from cfglint.report.plain import visible

if TYPE_CHECKING:
    from cfglint.results import Found
    from cfglint.span import Excerpt, Span

# A JSON object on its way out.
Json = dict[str, Any]

#: Bytes that a URI's path may hold as they are, the slash included.
UNRESERVED = frozenset(b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~/")

#: A longer text is not quoted: the place says where it stands.
MOST_SNIPPET = 5000


@lru_cache(maxsize=4096)
def one_line(text: str) -> str:
    """``text`` on one line, safe to print."""
    words = text.replace("\n", " ").replace("\t", " ").split(" ")
    return visible(" ".join(filter(None, words)))


def sentence(text: str) -> str:
    """The same with a full stop at the end."""
    flat = one_line(text)
    return flat if flat.endswith((".", "!", "?")) else flat + "."


def escaped(text: str) -> str:
    """``text`` as a SARIF message string: braces doubled (3.11.5), nothing taken for a link."""
    return text.replace("{", "{{").replace("}", "}}").replace("](", "] (")


def link_text(text: str) -> str:
    """``text`` as that of a link in a SARIF message string (3.11.6): brackets escaped.

    A backslash that would escape a bracket of its own accord is held off by a blank.
    """
    safe = one_line(text)
    for bracket in "[]":
        safe = safe.replace(f"\\{bracket}", f"\\ {bracket}").replace(bracket, f"\\{bracket}")
    safe = f"{safe} " if safe.endswith("\\") else safe
    return safe.replace("{", "{{").replace("}", "}}")


def message(text: str) -> Json:
    return {"text": escaped(text)}


def percent_encoded(path: str) -> str:
    """A path with slashes as the path of a URI (RFC 3986, 2.3): unreserved bytes stay."""
    return "".join(
        chr(byte) if byte in UNRESERVED else f"%{byte:02X}"
        for byte in path.encode("utf-8", "surrogateescape")
    )


def region(span: Span) -> Json:
    return {
        "startLine": span.line,
        "startColumn": span.column,
        "endLine": span.end_line,
        "endColumn": span.end_column,
    }


def lines_of(excerpt: Excerpt, span: Span) -> tuple[str, ...]:
    """The lines that ``span`` is on, or none where the excerpt does not hold them all."""
    first, last = span.line - excerpt.first, span.end_line - excerpt.first
    return excerpt.lines[first : last + 1] if 0 <= first <= last < len(excerpt.lines) else ()


def snippet_of(excerpt: Excerpt, span: Span) -> str | None:
    """The text of ``span`` itself, or None where the excerpt does not hold it, or too much."""
    lines = list(lines_of(excerpt, span))
    if not lines:
        return None
    lines[-1] = lines[-1][: span.end_column - 1]
    lines[0] = lines[0][span.column - 1 :]
    text = "\n".join(lines)
    return clean(text) if len(text) <= MOST_SNIPPET else None


def clean(text: str) -> str:
    """``text`` as JSON may hold it: bytes that are no UTF-8 as replacement characters."""
    if text.isascii():
        return text
    return "".join("\ufffd" if "\ud800" <= char <= "\udfff" else char for char in text)


def hash_of(excerpt: Excerpt, span: Span) -> str:
    """A stand-in where the text itself was not at hand: the hash of the excerpt's lines."""
    lines = lines_of(excerpt, span)
    return LineHashes("\n".join(lines)).of(1)


def own_print(found: Found) -> str:
    lines = lines_of(found.excerpt, found.span)
    return fingerprint(found.rule, found.file, lines[0] if lines else found.message, 0)
