"""The test kit for rule authors: the examples beside a rule are its tests."""

from __future__ import annotations

from cfglint.kit.build import build_craft
from cfglint.kit.examples import ExampleError, check_example, check_rule, parse_example

__all__ = ["ExampleError", "build_craft", "check_example", "check_rule", "parse_example"]
