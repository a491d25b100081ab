"""Every published source that a fact, a rule or a check rests on, named once.

Texts elsewhere name a source by its key in braces: ``"formula: {crsf}, frame 0x16"``; whoever
shows such a text puts the title in with :func:`cite`.  What has no source here is marked
``common practice``, ``from memory`` or ``by arithmetic`` in the text itself.
"""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

#: How well a source is known: the whole text was ``read``, or only an ``excerpt`` of it.
Trust = Literal["read", "excerpt"]


class Source(NamedTuple):
    """One published source.  ``year`` None: none is printed, or it is not known here."""

    title: str
    edition: str
    year: int | None
    trust: Trust

    def __str__(self) -> str:
        which = ", ".join(filter(None, (self.edition, str(self.year or ""))))
        standing = "published" if self.trust == "read" else "published, seen as an excerpt"
        return f"{self.title} ({'; '.join(filter(None, (which, standing)))})"


SOURCES: dict[str, Source] = {
    # Receiver links.
    "crsf": Source("CRSF Protocol Specification", "V3", None, "read"),
    "crsf-wiki": Source("crsf-wg protocol wiki", "page on channels", None, "excerpt"),
    "srxl2": Source("Specification for Spektrum SRXL2", "Rev K", 2020, "read"),
    "interfacing": Source("Spektrum Remote Receiver Interfacing", "Rev G", 2019, "read"),
    "fport": Source("F.Port protocol description", "V2.1", None, "read"),
    "sbus": Source("README of a general-purpose library for SBUS", "", None, "excerpt"),
    "mavlink": Source("MAVLink common message set", "pymavlink 2.4.50", None, "read"),
    "usart": Source("Microchip USART data sheets", '"Error Tolerance"', None, "excerpt"),
    "servo-pulse": Source("Microchip application note AN847", "", None, "excerpt"),
    "recorded": Source("node-mavlink", "2.3.0, example flight log", None, "read"),
    # Motor signals.
    "digital-example": Source("Espressif ESP-IDF", "RMT example for DShot ESCs", None, "read"),
    "digital-libraries": Source(
        "documents of DShotRMT, dshot-frame and dshot-codec", "", None, "excerpt"
    ),
    # Failsafe.
    "bmfa-failsafe": Source(
        "BMFA: Thinking About Fail-safe's",
        "quoting CAP 658, withdrawn 7 January 2021",
        None,
        "excerpt",
    ),
    "bmfa-rotorcraft": Source(
        "BMFA: Advanced Failsafe Options for Rotorcraft", "", None, "excerpt"
    ),
    # Cells.
    "charger": Source("BASETech 80 AC/DC charger manual", "§7", None, "excerpt"),
    "cell-inr": Source("INR18650-20R data sheet", "", None, "excerpt"),
    "cell-icr": Source("ICR18650-26C data sheet", "", None, "excerpt"),
    "open-class": Source("MultiGP Open class rules", "", None, "excerpt"),
    # Versions.
    "semver": Source("Semantic Versioning", "2.0.0", None, "read"),
    "pep-440": Source("PEP 440", "", None, "read"),
    "perl": Source("Perl documentation", "version::Internals, Decimal Versions", None, "read"),
}

_KEY = r"\{([a-z0-9-]+)\}"


def keys_in(text: str) -> list[str]:
    """The keys named in a text, in its order, those that are no source included."""
    return re.findall(_KEY, text)


def cite(text: str) -> str:
    """The text with each key in braces replaced by what it stands for; others are left alone."""

    def named(found: re.Match[str]) -> str:
        source = SOURCES.get(found[1])
        return found[0] if source is None else str(source)

    return re.sub(_KEY, named, text)
