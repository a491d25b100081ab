"""``cfglint why RULE``: a rule's whole page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import one_of

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.cli.parser import Parser
    from cfglint.rule import Rule

ABOUT = "Explains a rule: why it matters, its grade and options, examples, and its source."


def arguments(parser: Parser) -> None:
    parser.add_argument("rule", metavar="RULE", help="the rule's name, as `cfglint rules` has it")
    parser.add_argument(
        "--as",
        dest="form",
        type=one_of("text", "markdown"),
        default="text",
        metavar="FORM",
        help="write `text` (for people) or `markdown`",
    )


def run(options: Namespace) -> int:
    from cfglint.cli.output import complain, complain_of, to_stdout
    from cfglint.plugins import load_rules

    loaded = load_rules()
    for problem in loaded.problems:
        complain_of(problem)
    code = max([0, *(problem.exit for problem in loaded.problems)])
    item = next((one for one in loaded.rules if options.rule in (one.id, *one.aliases)), None)
    if item is None:
        from cfglint.near import nearest

        close = nearest(options.rule, [one.id for one in loaded.rules])
        hint = f"; did you mean `{close}`?" if close else "; `cfglint rules` lists them"
        complain(f"there is no rule `{options.rule}`{hint}")
        return max(code, 2)
    text = shown(item, options.form)
    return max(code, to_stdout(lambda stream: stream.write(text)))


def shown(item: Rule, form: str) -> str:
    """A rule's page, its name on top."""
    from cfglint.cli.parser import page_width
    from cfglint.report.page import page
    from cfglint.report.plain import visible

    if form == "markdown":
        return page(item, markdown=True) + f"\n\nRule: `{item.id}`\n"
    text = page(item, markdown=False, width=page_width())
    lines = (visible(line) for line in f"{item.id}\n\n{text}".split("\n"))
    return "\n".join(lines) + "\n"
