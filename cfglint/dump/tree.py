"""The reference path: a dump parsed by Lark itself, tree and all.

Slow to import and slower to run than the derived scanner (see ``cfglint.dump.grammar``); the
tests hold the two to the same statements.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import Any

from cfglint.dump.grammar import load_lark
from cfglint.dump.statements import Statement, build, groups_of


def parse_tree(grammar: str, text: str) -> tuple[Any, list[Statement]]:
    """Lark's tree of a whole dump and the statements of its lines, in order.

    Raises what Lark raises where a grammar of one's own does not take every line.
    """
    parser = load_lark(grammar)
    tree = parser.parse(text)
    # Lark counts LF alone; a dump's lines may end in a lone CR as well.
    starts = [0, *(found.end() for found in re.finditer(r"\r\n|\r|\n", text))]
    patterns = {
        item.name: re.compile(item.pattern.to_regexp(), parser.options.g_regex_flags)
        for item in parser.terminals
    }
    found = []
    for token in tree.scan_values(lambda _: True):
        if token.type == "BLANK":
            continue
        pattern = patterns[token.type]
        line = str(token)
        match = pattern.fullmatch(line)
        assert match is not None  # Lark has matched it already
        number = bisect_right(starts, token.start_pos)
        found.append(build(token.type, line, number, match, groups_of(pattern, token.type)))
    return tree, found
