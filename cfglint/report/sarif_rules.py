"""A rule's page as SARIF tells it: a reporting descriptor with help as text and Markdown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.report.page import page
from cfglint.report.plain import visible
from cfglint.report.sarif_parts import Json, escaped, message, sentence

if TYPE_CHECKING:
    from cfglint.rule import Grade, Rule

LEVELS: dict[Grade, str] = {"ground": "error", "fix": "warning", "advise": "note"}
#: What two hosted viewers call the same things.
SEVERITY: dict[Grade, str] = {"ground": "error", "fix": "warning", "advise": "recommendation"}
PRECISION = {"certain": "very-high", "likely": "high", "hint": "medium"}
#: A well-known viewer keeps no more tags of a rule.
MOST_TAGS = 10

#: The rule of a file that could not be read: the engine's own.
NOT_READ = "cfglint/file-not-read"


def descriptor(item: Rule) -> Json:
    concern = item.id.partition("/")[0]
    tags = list(dict.fromkeys(filter(None, (concern, item.pack, item.grade))))
    out: Json = {
        "id": item.id,
        "name": _one_word(item.id),
        "shortDescription": message(sentence(item.title)),
        "fullDescription": message(sentence(item.why)),
        "help": {
            "text": escaped(page(item, markdown=False, brief=True)),
            "markdown": escaped(page(item, markdown=True, brief=True)),
        },
        "defaultConfiguration": {"enabled": True, "level": LEVELS[item.grade]},
        "properties": {
            "tags": tags[:MOST_TAGS],
            "grade": item.grade,
            "confidence": item.confidence,
            "source": visible(item.source),
            "precision": PRECISION[item.confidence],
            "problem.severity": SEVERITY[item.grade],
        },
    }
    if item.aliases:
        out["deprecatedIds"] = list(item.aliases)
    return out


def own_descriptor(rule: str) -> Json:
    """A rule that is no plug-in's: the engine's own findings."""
    if rule == NOT_READ:
        title = "A file could not be read."
        why = "Nothing in it was checked, so nothing is known of its craft."
    else:
        title = sentence(rule.replace("/", ": ").replace("-", " "))
        why = "Finding by cfglint itself, not by a rule of a pack."
    return {
        **bare_descriptor(rule, title, why),
        "defaultConfiguration": {"enabled": True, "level": "error"},
        "properties": {"tags": [rule.partition("/")[0]]},
    }


def bare_descriptor(name: str, title: str, why: str) -> Json:
    text = escaped(f"{title}\n\n{why}")
    return {
        "id": name,
        "name": _one_word(name),
        "shortDescription": message(title),
        "fullDescription": message(why),
        "help": {"text": text, "markdown": text},
    }


def _one_word(rule: str) -> str:
    """The id as one Pascal word, without words of one letter: two capitals in a row are none."""
    words = rule.replace("/", "-").split("-")
    return "".join(word.capitalize() for word in words if len(word) > 1)
