"""The rules of the Saltmarsh Survey Club."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cfglint.rule import Rule

cfglint_api = (1, 1)


def cfglint_rules() -> list[Rule]:
    from saltmarsh_rules import tide

    return [tide.idle_too_high, tide.no_beacon, tide.link_off_its_port]
