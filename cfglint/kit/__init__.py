"""The test kit for rule authors: the examples beside a rule are its tests.

With pytest no test file is needed: see :mod:`cfglint.kit.pytest_plugin`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cfglint.kit.build import build_craft
    from cfglint.kit.examples import ExampleError, check_example, check_rule, parse_example

__all__ = ["ExampleError", "build_craft", "check_example", "check_rule", "parse_example"]


def __getattr__(name: str) -> Any:
    """Import on demand: pytest loads this package on every start, whether it is used or not."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    module = "build" if name == "build_craft" else "examples"
    return getattr(import_module(f"{__name__}.{module}"), name)
