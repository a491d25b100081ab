"""The built-in rules, one module or folder a concern; loaded through the hooks that a club uses.

Importing this package imports no rule: the hook does, when the engine asks for them.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cfglint.rule import Rule

#: The versions of the rule interface that these rules are written for.
cfglint_api = (1, 1)

#: The modules of rules, in the order in which one would look over a craft.
MODULES = (
    "dump",
    "build",
    "motor",
    "drive",
    "escs",
    "ports",
    "receiver.port",
    "receiver.link",
    "receiver.inversion",
    "receiver.speed",
    "receiver.wires",
    "receiver.order",
    "channels",
    "modes.arming",
    "modes.ranges",
    "modes.lasting",
    "modes.self_right",
    "modes.conflicts",
    "modes.edges",
    "switches",
    "arming",
    "sensors",
    "failsafe",
    "battery",
    "fleet",
)


def cfglint_rules() -> list[Rule]:
    """The hook: every built-in rule, module by module, in the order in which they stand there."""
    return [item for module in MODULES for item in rules_of(module)]


def rules_of(module: str) -> list[Rule]:
    """The rules of a module (``modes.ranges``).  Raises ImportError for one that is not there."""
    from cfglint.rule import Rule

    names = vars(import_module(f"{__name__}.{module}"))
    return [item for item in names.values() if isinstance(item, Rule)]
