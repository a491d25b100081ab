"""The plug-in for pytest: rules are tested by the examples beside them, without a test file.

It does nothing until a folder of rules is named, on the command line or in pytest's own
configuration::

    pytest --cfglint-rules club-rules

    [pytest]
    cfglint_rules = club-rules

Every rule file in it then gives, for each rule, one test for its page and one for each example.
Folders named there are tested besides whatever else pytest runs; a path given on the command line
(``pytest club-rules/tide.py``) narrows the run as always.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("cfglint", "rules of cfglint")
    group.addoption(
        "--cfglint-rules",
        action="append",
        default=[],
        metavar="PATH",
        help="test the rules in this folder or file by their examples (may be given again)",
    )
    parser.addini(
        "cfglint_rules",
        "folders or files of cfglint rules to test by their examples",
        type="paths",
        default=[],
    )


def pytest_configure(config: pytest.Config) -> None:
    named = config.getoption("--cfglint-rules")
    listed = config.getini("cfglint_rules")
    if named or listed:
        from cfglint.kit.collect import ask

        ask(config, named, listed)
