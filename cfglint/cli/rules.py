"""``cfglint rules``: list the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.cli.parser import add_rules, one_of

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from cfglint.cli.parser import Parser
    from cfglint.rule import Rule

ABOUT = "Lists every rule that is installed: its name, its grade and what it finds."


def arguments(parser: Parser) -> None:
    add_rules(parser)
    parser.add_argument(
        "--as",
        dest="form",
        type=one_of("text", "json"),
        default="text",
        metavar="FORM",
        help="write `text` (for people) or `json` (for programs)",
    )


def run(options: Namespace) -> int:
    from cfglint.cli.output import complain_of, to_stdout
    from cfglint.cli.own import rules_here

    loaded = rules_here(options.rules)
    if options.form == "json":
        text = as_json(loaded.rules)
        code = to_stdout(lambda stream: stream.write(text))
    else:
        code = to_stdout(
            lambda stream: stream.writelines(as_table(loaded.rules, stream.encoding or "utf-8"))
        )
    for problem in loaded.problems:
        complain_of(problem)
    return max([code, *(problem.exit for problem in loaded.problems)])


def as_table(rules: Sequence[Rule], encoding: str) -> list[str]:
    """One line a rule: name, grade, title; with the pack where it is not a built-in one."""
    from cfglint.report.plain import visible

    widest = max((len(rule.id) for rule in rules), default=0)
    lines = []
    for rule in rules:
        pack = "" if rule.pack == "builtin" else f"  ({rule.pack})"
        line = f"{rule.id:<{widest}}  {rule.grade:<6}  {rule.title}{pack}"
        lines.append(visible(line, encoding) + "\n")
    return lines


def as_json(rules: Sequence[Rule]) -> str:
    """A list of objects, one a rule; ASCII, indented."""
    import json

    return json.dumps([as_object(rule) for rule in rules], indent=2) + "\n"


def as_object(rule: Rule) -> dict[str, Any]:
    from inspect import cleandoc

    return {
        "id": rule.id,
        "grade": rule.grade,
        "title": rule.title,
        "why": cleandoc(rule.why),
        "source": rule.source,
        "confidence": rule.confidence,
        "pack": rule.pack,
        "aliases": list(rule.aliases),
        "options": [
            {
                "name": option.name,
                "default": option.default,
                "about": option.about,
                "least": option.least,
                "most": option.most,
            }
            for option in rule.options
        ],
    }
