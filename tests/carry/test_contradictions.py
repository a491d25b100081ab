"""Contradictions in dialect files, each at its place."""

from __future__ import annotations

import pytest
from packaging.specifiers import SpecifierSet
from packaging.version import Version

from cfglint.carry.versions import checked
from cfglint.dialect import bundled
from cfglint.dialect.contradictions import examine
from cfglint.dialect.load import bundled_names, load_dialect
from cfglint.errors import Problem

HEAD = """\
[dialect]
id = "own"
{versions}
[marks]
assign = "let {{name}} be {{value}}"
{shape}
[map]
"motor.poles" = {{ at = "let poles be" }}
"loop.rate_hz" = {{ at = "let rate be" }}
"""


def own(more: str, versions: str = "", shape: str = "") -> bytes:
    return (HEAD.format(versions=versions, shape=shape) + more).encode()


def found(more: str, versions: str = "", shape: str = "") -> list[tuple[str, str]]:
    """Messages, and the text that each points at."""
    data = own(more, versions, shape)
    lines = data.decode().split("\n")
    rows = []
    for one in examine("own.toml", data):
        assert one.span is not None
        line, start, end = one.span.line, one.span.column, one.span.end_column
        rows.append((one.message, lines[line - 1][start - 1 : end - 1]))
    return rows


def test_the_bundled_ones_have_none() -> None:
    from cfglint_grammars import read

    for name in bundled_names():
        assert examine(f"{name}.toml", read(f"{name}.toml")) == []


def test_names_may_be_exchanged() -> None:
    assert found('[[changes]]\nat = "2"\nrename = { poles = "rate", rate = "poles" }') == []


def test_a_removed_name_may_be_given_away() -> None:
    more = '[[changes]]\nat = "2"\nrename = { rate = "poles" }\nremove = { poles = "gone" }'
    assert found(more) == []


@pytest.mark.parametrize(
    ("more", "message", "at"),
    [
        (
            '[[changes]]\nat = "2"\nrename = { poles = "magnets" }\n'
            '[[changes]]\nat = "3"\nrename = { magnets = "poles" }',
            "renames go round in a circle: `poles` ends as `poles` again",
            "magnets",
        ),
        (
            '[[changes]]\nat = "2"\nrename = { poles = "poles" }',
            "`poles` is renamed to itself",
            "poles",
        ),
        (
            '[[changes]]\nat = "2"\nrename = { poles = "x", rate = "x" }',
            "`poles` and `rate` both become `x`",
            "rate",
        ),
        (
            '[[changes]]\nat = "2"\nrename = { poles = "x" }\n'
            '[[changes]]\nat = "3"\nrename = { rate = "x" }',
            "`rate` and `poles` both become `x`",
            "rate",
        ),
        (
            '[[changes]]\nat = "2"\nrename = { poles = "x" }\nremove = { poles = "gone" }',
            "`poles` is both renamed and removed at 2",
            "poles",
        ),
        (
            '[kept]\nat = ["let lamp *"]\n'
            '[[changes]]\nat = "2"\nremove = { lamp-a = "gone" }\n'
            '[[changes]]\nat = "3"\nremove = { lamp-a = "gone" }',
            "`lamp-a` is removed at 3 but was removed at 2",
            "lamp-a",
        ),
        (
            '[kept]\nat = ["let lamp *"]\n'
            '[[changes]]\nat = "2"\nremove = { lamp-a = "gone" }\n'
            '[[changes]]\nat = "3"\nrename = { lamp-a = "b" }',
            "`lamp-a` is renamed at 3 but was removed at 2",
            "lamp-a",
        ),
        (
            '[map."motor.signal"]\nat = "let s be"\nwords = { dshot300 = 1, dshot600 = 1 }',
            "`dshot300` and `dshot600` are both written `1`",
            "dshot600",
        ),
        (
            '[map."motor.signal"]\nat = "let s be"\nwords = { dshot300 = 1, dshot600 = 2 }\n'
            '[[changes]]\nat = "2"\n'
            '[changes.map]\n"motor.signal" = { words = { dshot150 = 2 } }',
            "`dshot600` and `dshot150` are both written `2`",
            "dshot150",
        ),
        (
            '[map."port.N.functions"]\nat = "let p{N} be"\nbits = { gps = 7, receiver = 7 }',
            "`gps` and `receiver` are both written `7`",
            "receiver",
        ),
        ('[modes]\narm = "a"\nbeacon = "a"', "`arm` and `beacon` are both written `a`", "beacon"),
        (
            '[[rows]]\nat = "m {mode} {channel} {low} {high} {join}"\nmakes = "range"\n'
            "[rows.fields]\njoin = { words = { any = 1, all = 1 } }",
            "`any` and `all` are both written `1`",
            "all",
        ),
        (
            '[[changes]]\nat = "2"\n'
            '[[changes.rows]]\nat = "m {mode} {channel} {low} {high} {join}"\nmakes = "range"\n'
            "[changes.rows.fields]\njoin = { words = { any = 1, all = 1 } }",
            "`any` and `all` are both written `1`",
            "all",
        ),
        (
            '"motor.rate_hz" = { at = "let rate be" }',
            "`let rate be` stands for both `loop.rate_hz` and `motor.rate_hz`",
            '"motor.rate_hz"',
        ),
        (
            '[[changes]]\nat = "2"\n[changes.map]\n"motor.rate_hz" = { at = "let rate be" }',
            "`let rate be` stands for both `loop.rate_hz` and `motor.rate_hz`",
            '"motor.rate_hz"',
        ),
    ],
)
def test_contradictions(more: str, message: str, at: str) -> None:
    assert (message, at) in found(more)


def test_a_contradiction_is_told_once() -> None:
    more = '[modes]\narm = "a"\nbeacon = "a"\n[[changes]]\nat = "2"\n[[changes]]\nat = "3"'
    assert len(found(more)) == 1


def test_joints_and_letter_case_are_spelling() -> None:
    for other in ("A", "a", "-a"):
        more = f'[modes]\narm = "a"\nbeacon = "{other}"'
        assert [row[0] for row in found(more)] == [f"`arm` and `beacon` are both written `{other}`"]


def test_versions() -> None:
    change = '[[changes]]\nat = "2"'
    assert found(change, 'versions = ">=1,<3"') == []
    assert found(change, 'versions = ">=3,<4"') == [
        ("the change at 2 is outside the versions covered, >=3,<4", '"2"')
    ]
    assert found("", 'versions = ">=4,<3"') == [("no version keeps to `>=4,<3`", '">=4,<3"')]
    assert "is no bound" in found("", 'versions = "about 4"')[0][0]
    decimal = 'versions = ">=1.2.3"\nversion_order = "decimal"'
    assert "cannot be ordered as a decimal" in found(change, decimal)[0][0]


def test_mistakes_come_first_and_all_of_them() -> None:
    two = own("").replace(b'"motor.poles"', b'"motor.pols"').replace(b"loop.rate", b"lop.rate")
    assert len(examine("own.toml", two)) == 2
    assert len(examine("own.toml", b"[dialect")) == 1


@pytest.mark.parametrize("spec", [">=7.9,<8", ">=7.9", "<8,!=7.10", "==7.10", ">7.9,<=8.0"])
def test_versions_covered_are_those_of_packaging(spec: str) -> None:
    """Reference: packaging.specifiers ({pep-440})."""
    dialect = load_dialect("own.toml", own("", f'versions = "{spec}"'))
    wanted = SpecifierSet(spec, prereleases=True)
    for version in ("7.8", "7.9", "7.9.1", "7.10", "7.11", "7.10.0", "8", "8.0", "8.0.1", "9",
                    "8.0-rc1", "7.10-beta.2"):  # fmt: skip
        try:
            fits = bool(checked(dialect, version))
        except Problem as problem:
            assert spec in problem.instead  # noqa: PT017
            fits = False
        assert fits == (Version(version) in wanted), version


def test_each_bundled_change_is_covered() -> None:
    for name in bundled_names():
        dialect = bundled(name)
        for row in dialect.data["changes"]:
            assert checked(dialect, row["at"]) == row["at"]
