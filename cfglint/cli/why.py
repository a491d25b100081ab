"""``cfglint why RULE``: a rule's whole page; ``--all``: those of every rule."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import add_form, add_rules
from cfglint.report.blocks import Lines

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterator, Sequence

    from cfglint.cli.parser import Parser
    from cfglint.report.blocks import Block
    from cfglint.rule import Rule

ABOUT = "Explains a rule: why it matters, its grade and options, examples, and its source."


def arguments(parser: Parser) -> None:
    add_rules(parser)
    add = parser.add_argument
    add("rule", nargs="?", default="", metavar="RULE", help="the rule's name, as `cfglint rules` "
        "has it, or a former one")  # fmt: skip
    add("--all", action="store_true", help="explain every rule, one after the other")
    add_form(parser, "write `text` (for people) or `markdown`", "text", "markdown")


def run(options: Namespace) -> int:
    from cfglint.cli.output import complain, complain_of
    from cfglint.cli.own import rules_here

    if options.all == bool(options.rule):
        complain("write a rule's name or --all, one of the two; `cfglint rules` lists the rules")
        return 2
    loaded = rules_here(options.rules)
    for problem in loaded.problems:
        complain_of(problem)
    code = max([0, *(problem.exit for problem in loaded.problems)])
    if options.all:
        return max(code, tell(options, loaded.rules))
    item = next((one for one in loaded.rules if options.rule in (one.id, *one.aliases)), None)
    if item is None and options.rule.startswith("accept/"):
        # The engine's own, which no pack offers.
        from cfglint.runner.accept_rules import RULES

        item = next((one for one in RULES if one.id == options.rule), None)
    if item is None:
        from cfglint.near import nearest

        names = [name for one in loaded.rules for name in (one.id, *one.aliases)]
        close = nearest(options.rule, names)
        hint = f"; did you mean `{close}`?" if close else "; `cfglint rules` lists them"
        complain(f"there is no rule `{options.rule}`{hint}")
        return max(code, 2)
    return max(code, tell(options, [item]))


def tell(options: Namespace, rules: Sequence[Rule]) -> int:
    """Print the pages of rules in the form asked for."""
    from cfglint.cli.output import to_screen, to_stdout

    if options.form == "text":
        return to_screen(options, screens(rules))
    text = reference(rules) if options.all else markdown(rules[0])
    return to_stdout(lambda stream: stream.write(text))


def screens(rules: Sequence[Rule]) -> Iterator[Block]:
    """The pages of rules, one below the other."""
    from cfglint.report.page import blocks

    for at, item in enumerate(rules):
        yield from (None, Lines(None, "-" * 40), None) if at else ()
        yield from blocks(item)


def markdown(item: Rule) -> str:
    """A rule's page, its name at the end."""
    from cfglint.report.page import page

    text = f"{page(item, markdown=True)}\n\nRule: `{item.id}`"
    return text + "".join(f", formerly `{name}`" for name in item.aliases) + "\n"


def reference(rules: Sequence[Rule]) -> str:
    """The pages of all rules as one document, with a table of them on top."""
    from cfglint.report.sarif_parts import one_line

    rows = [
        f"| `{item.id}` | {item.grade} | {one_line(item.title).replace('|', '&#124;')} |\n"
        for item in rules
    ]
    # Headings move down by one; those in examples are indented and stay.
    pages = (markdown(item).replace("\n#", "\n##") for item in rules)
    body = "".join(f"\n#{text}" for text in pages)
    return "".join([REFERENCE, "| rule | grade | finds |\n|---|---|---|\n", *rows, body])


REFERENCE = """\
# The rules

Written by `cfglint why --all --as markdown`; change the rules, not this page. What each grade
means: `ground` is do not fly, `fix` is put right before the next flight, `advise` is worth a
look. Examples are in the bundled dialect `plain`; carets stand under what is found.

"""
