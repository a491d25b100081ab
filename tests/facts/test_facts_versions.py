"""Order of versions, with packaging ({pep-440}) and decimal as oracles."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from packaging.specifiers import SpecifierSet
from packaging.version import Version

from cfglint.facts.versions import ORDERS, Clause, Order, VersionRange, compare, order_key

# ---------------------------------------------------------------- dotted


# Source: {semver} §11, the examples of precedence given there.
def test_semver_chains() -> None:
    releases = "1.0.0 2.0.0 2.1.0 2.1.1"
    suffixes = (
        "1.0.0-alpha 1.0.0-alpha.1 1.0.0-alpha.beta 1.0.0-beta 1.0.0-beta.2 1.0.0-beta.11 "
        "1.0.0-rc.1 1.0.0"
    )
    for chain in (releases.split(), suffixes.split()):
        for earlier, later in pairwise(chain):
            assert compare(earlier, later, "dotted") == -1
            assert compare(later, earlier, "dotted") == 1
    # §10: build marks count for nothing.
    assert compare("1.0.0+20130313144700", "1.0.0+exp.sha.5114f85", "dotted") == 0
    assert compare("1.0.0-beta+exp.sha.5114f85", "1.0.0-beta", "dotted") == 0


@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        ("7.9", "7.10"),
        ("3.6", "3.58"),  # packaging says the same; the decimal order says the opposite
        ("8.0-rc1", "8.0"),
        ("7.9.9", "8.0-rc1"),
        ("8.0-RC2", "8.0_rc10"),
        ("v8.0.dev3", "8.0a1"),
        ("8.0alpha1", "8.0b1"),
    ],
)
def test_dotted(earlier: str, later: str) -> None:
    assert compare(earlier, later, "dotted") == -1
    assert Version(earlier) < Version(later)  # {pep-440}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("8", "8.0.0"),
        ("0", "0.0"),
        ("v7.6", " 7.6\n"),
        ("8.0-rc1", "8.0RC.1"),
        ("8.0pre1", "8.0c1"),
        ("08.1", "8.01"),
    ],
)
def test_dotted_equals(one: str, other: str) -> None:
    assert compare(one, other, "dotted") == 0
    assert Version(one) == Version(other)  # {pep-440}


RELEASE = st.lists(st.integers(0, 120), min_size=1, max_size=4).map(
    lambda parts: ".".join(map(str, parts))
)
# A number always: whether "rc" and "rc0" are the same is a point where {semver} and {pep-440} part.
SUFFIX = st.builds(
    "{}{}{}{}".format,
    st.sampled_from(["", "-", ".", "_"]),
    st.sampled_from(["a", "alpha", "b", "BETA", "rc", "c", "pre", "preview", "dev", "RC"]),
    st.sampled_from(["", "-", ".", "_"]),
    st.integers(0, 30),
)
DOTTED = st.builds("{}{}{}".format, st.sampled_from(["", "v"]), RELEASE, st.just("") | SUFFIX)


@given(DOTTED, DOTTED)
@example("1.0", "1.0.0-rc1")
def test_dotted_order_is_that_of_pep_440(one: str, other: str) -> None:
    """Oracle: packaging, the reference implementation of {pep-440}."""
    a, b = Version(one), Version(other)
    assert compare(one, other, "dotted") == (a > b) - (a < b)


@given(st.lists(DOTTED, max_size=12))
def test_sorting_by_key_is_that_of_pep_440(texts: list[str]) -> None:
    ours = sorted(texts, key=lambda text: order_key(text, "dotted"))
    assert [Version(text) for text in ours] == sorted(Version(text) for text in texts)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "expected numbers between dots"),
        ("five", "expected numbers between dots"),
        ("8.", "expected numbers between dots"),
        ("8..1", "expected numbers between dots"),
        (".8", "expected numbers between dots"),
        ("8.0-", "expected numbers between dots"),
        ("8.0 rc1", "expected numbers between dots"),
        ("1!2.0", "expected numbers between dots"),
        ("-8", "expected numbers between dots"),
        ("٥.٠", "expected numbers between dots"),  # digits of another script
        ("8.0-1", "begins with a number"),
        ("8.0-rc1.dev2", "'dev' after another word"),
        ("8.0.post1", "whether 'post' comes before or after 8.0"),
        ("7.10-marsh", "whether 'marsh' comes before or after 7.10"),
        ("9" * 65, "longer than 64"),
    ],
)
def test_what_has_no_dotted_order_is_refused(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        order_key(text, "dotted")


def test_a_long_suffix_is_refused_at_once() -> None:
    # Sixty letters and a mark that fits nowhere: a careless pattern would never come back.
    with pytest.raises(ValueError, match="expected numbers"):
        order_key("5" + "a" * 60 + "!", "dotted")


# ---------------------------------------------------------------- decimal


# Source: {perl} for the order; Decimal as the oracle.
@pytest.mark.parametrize(
    ("earlier", "later"),
    [("3.5", "3.58"), ("3.58", "3.6"), ("3.6", "3.71"), ("1.05", "1.5"), ("9", "10.0")],
)
def test_decimal(earlier: str, later: str) -> None:
    assert compare(earlier, later, "decimal") == -1
    assert compare(later, earlier, "decimal") == 1
    assert Decimal(earlier) < Decimal(later)


def test_decimal_equals() -> None:
    assert compare("3.60", "3.6", "decimal") == 0
    assert compare("v7", "7.00", "decimal") == 0


ONE_DOT = st.builds(
    "{}{}".format,
    st.integers(0, 120),
    st.just("") | st.text("0123456789", min_size=1, max_size=6).map(lambda text: f".{text}"),
)


@given(ONE_DOT, ONE_DOT)
def test_decimal_order_is_that_of_decimal_numbers(one: str, other: str) -> None:
    """Oracle: decimal.Decimal."""
    a, b = Decimal(one), Decimal(other)
    assert compare(one, other, "decimal") == (a > b) - (a < b)


@pytest.mark.parametrize(
    "text", ["", "3.", ".7", "3.6.1", "3.6b", "1e3", "-1", "NaN", "3,7", "8.0-rc1"]
)
def test_what_is_no_decimal_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="cannot be ordered as a decimal"):
        order_key(text, "decimal")


def test_two_dots_get_a_hint() -> None:
    with pytest.raises(ValueError, match="may be in dotted order"):
        order_key("7.6.1", "decimal")
    with pytest.raises(ValueError, match=r"such as 3\.6$"):
        order_key("3.6b", "decimal")


# ---------------------------------------------------------------- both


def test_the_two_orders_contradict_each_other() -> None:
    assert compare("3.58", "3.6", "decimal") == -compare("3.58", "3.6", "dotted") == -1


def test_an_unknown_order_is_refused() -> None:
    with pytest.raises(ValueError, match="neither 'dotted' nor 'decimal'"):
        order_key("1.0", "roman")  # type: ignore[arg-type]


@given(st.text(max_size=80), st.sampled_from(ORDERS))
def test_any_text_is_ordered_or_refused_clearly(text: str, order: Order) -> None:
    try:
        key = order_key(text, order)
    except ValueError as error:
        assert str(error).startswith("version ")  # noqa: PT017
    else:
        assert key == order_key(f" v{text.strip().lstrip('vV')} ", order)


@given(ONE_DOT)
def test_what_is_a_decimal_is_dotted_too(text: str) -> None:
    order_key(text, "dotted")


# ---------------------------------------------------------------- ranges


def test_a_range_is_read() -> None:
    assert VersionRange.parse(" >= 7.0 ,<8,!=7.2, =7.6, 7.6").clauses == (
        Clause(">=", "7.0"),
        Clause("<", "8"),
        Clause("!=", "7.2"),
        Clause("==", "7.6"),
        Clause("==", "7.6"),
    )
    assert str(VersionRange.parse(" >= 7.0 ,< 8")) == ">=7.0,<8"


@pytest.mark.parametrize(
    ("text", "version", "order", "inside"),
    [
        (">=7.0,<8", "7.0", "dotted", True),
        (">=7.0,<8", "7.10", "dotted", True),
        (">=7.0,<8", "8.0", "dotted", False),
        (">=7.0,<8", "6.9", "dotted", False),
        (">=7.0,<8", "8.0-rc1", "dotted", False),
        (">=8", "8.0-rc1", "dotted", False),
        ("<8.0-rc2", "8.0-rc1", "dotted", True),
        ("<=8", "8.0-rc1", "dotted", True),
        (">7.2", "7.2", "dotted", False),
        (">7.2", "7.3", "dotted", True),
        ("!=7.2", "7.2.0", "dotted", False),
        ("7.2", "7.2.0", "dotted", True),
        (">=3.58", "3.6", "decimal", True),
        (">=3.58", "3.6", "dotted", False),
        (">=3.58", "3.5", "decimal", False),
        ("<3.6", "3.60", "decimal", False),
    ],
)
def test_contains(text: str, version: str, order: Order, inside: bool) -> None:
    assert VersionRange.parse(text).contains(version, order) is inside


BOUNDS = st.lists(
    st.tuples(st.sampled_from([">=", "<=", ">", "<", "==", "!="]), DOTTED), min_size=1, max_size=3
)


@given(BOUNDS, DOTTED)
def test_ranges_are_those_of_pep_440(bounds: list[tuple[str, str]], version: str) -> None:
    """Oracle: packaging's specifiers, versions with a suffix let in."""
    text = ",".join(sign + bound for sign, bound in bounds)
    expected = SpecifierSet(text).contains(Version(version), prereleases=True)
    assert VersionRange.parse(text).contains(version, "dotted") == expected


@given(BOUNDS)
def test_a_range_written_out_reads_the_same(bounds: list[tuple[str, str]]) -> None:
    parsed = VersionRange.parse(",".join(sign + bound for sign, bound in bounds))
    assert VersionRange.parse(str(parsed)) == parsed


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "'' is no bound"),
        (">=7.0,", "'' is no bound"),
        (">=", "'>=' is no bound"),
        ("=>7", "'=>7' is no bound"),
        ("7.0 8.0", "'7.0 8.0' is no bound"),
        (">=7.x", "whether 'x' comes before or after 7"),
        ("*", "expected numbers between dots"),
    ],
)
def test_a_range_that_cannot_be_read_is_refused(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        VersionRange.parse(text)


def test_a_range_in_the_wrong_order_is_refused() -> None:
    with pytest.raises(ValueError, match=r"'7\.6\.1' cannot be ordered as a decimal"):
        VersionRange.parse(">=7.6.1").contains("8", "decimal")


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [("H2031.6", "H2031.10", -1), ("rel 3.2", "rel 3.2.0", 0), ("v3.4", "3.4", 0)],
)
def test_a_word_before_every_number(a: str, b: str, expected: int) -> None:
    assert compare(a, b, "dotted") == expected


def test_words_that_differ_are_not_compared() -> None:
    with pytest.raises(ValueError, match="'h' is not 'k'"):
        compare("H2.6", "K2.6", "dotted")
    with pytest.raises(ValueError, match="cannot be ordered"):
        compare("rc1", "rc2", "dotted")
