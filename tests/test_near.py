"""The nearest word: what counts as close, and that the answer is always the same."""

from __future__ import annotations

import pytest

from cfglint.near import LONGEST, listing, nearest, slip_of, suggestion

LINKS = ("sbus", "crsf", "crsf-one-wire", "ibus", "dsm", "ppm")


@pytest.mark.parametrize(
    ("word", "found"),
    [
        ("sbus", "sbus"),
        ("SBUS", "sbus"),
        ("crsf_one_wire", "crsf-one-wire"),
        ("sbsu", "sbus"),
        ("crsf-onewire", "crsf-one-wire"),
        ("ibuss", "ibus"),
        ("gyroscope", ""),
        ("", ""),
        ("s" * (LONGEST + 1), ""),
    ],
)
def test_nearest(word: str, found: str) -> None:
    assert nearest(word, LINKS) == found


def test_first_of_equally_close_wins() -> None:
    assert nearest("mid", ["mide", "midf"]) == "mide"
    assert nearest("mid", ["midf", "mide"]) == "midf"


def test_suggestion() -> None:
    assert suggestion("sbsu", LINKS) == "did you mean `sbus`?"
    assert suggestion("telephone", ("yes", "no")) == "it may be `yes` or `no`"
    assert suggestion("telephone", [str(n) for n in range(40)]) == ""
    assert suggestion("telephone", []) == ""


def test_listing() -> None:
    assert listing([]) == ""
    assert listing(["a"]) == "`a`"
    assert listing(["a", "b", "c"], "and") == "`a`, `b` and `c`"


@pytest.mark.parametrize(
    ("word", "known", "meant"),
    [
        ("least-spni", ["least-spin", "pulse-low"], "least-spin"),
        ("least-spn", ["least-spin"], "least-spin"),
        ("least-spinn", ["least-spin"], "least-spin"),
        ("Least_Spin", ["least-spin"], "least-spin"),
        ("pulse-lo", ["pulse-low", "pulse-log"], ""),
        ("least-spn", ["least-spoon"], ""),
        ("rotor-52", ["rotor-54"], ""),
        ("slow", ["low"], ""),
    ],
)
def test_a_slip_is_of_one_character_and_of_one_name(
    word: str, known: list[str], meant: str
) -> None:
    assert slip_of(word, known) == meant
