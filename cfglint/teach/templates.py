"""How a name and its value stand in a line: told by what explains most names."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

from cfglint.teach.lines import Line

#: Marks between a name and its value, those that hold others first.
_SEPARATORS = (
    ":=",
    "=>",
    "->",
    "<-",
    "==",
    "=",
    "::",
    ":",
    "|",
    ",",
    ";",
    "~",
    ">",
    "<",
    "..",
    "@",
    "(",
)


_ARTICLES = frozenset("the a an when while if after this these at on in for all no every".split())


class Template(NamedTuple):
    """``prefix`` name ``separator`` value ``suffix``, and how many names it explains."""

    prefix: str
    separator: str
    suffix: str
    names: int
    score: float


def _prefixes(lines: Sequence[Line]) -> list[str]:
    """What many lines begin with before their name: verbs, quotes, opening marks."""
    heads: Counter[str] = Counter()
    deep: dict[str, Counter[str]] = defaultdict(Counter)
    for line in lines:
        match = re.match(
            r"(?:[^\w\s\"']{0,3}\s*)?[A-Za-z][\w-]*(?:\s+|[:,|(/.\[<@=>-]+\s*)|[^\w\s]+\s*",
            line.text,
        )
        if match is None:
            continue
        head = match.group()
        rest = line.text[match.end() :]
        mark = re.match(r"[^\w\s\"']{1,3}\s*(?=\w)", line.text)
        if mark and mark.group() != head:
            heads[one_blank(mark.group())] += 1
        if not rest:
            continue
        heads[one_blank(head)] += 1
        more = re.match(r"\w+\s*[=:(]\s*[\"'(]?|[\"'(\[]", rest)
        if more:
            deep[one_blank(head)][one_blank(more.group())] += 1
    total = max(len(lines), 1)
    found = [""]
    for head, count in heads.most_common(12):
        if count < max(4, 0.12 * total):
            break
        if head.strip().lower() in _ARTICLES:
            continue
        found.append(head)
        extra = deep[head].most_common(1)
        if extra and extra[0][1] >= 0.8 * count:
            found.append(head + extra[0][0])
    return found


def one_blank(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def loose(literal: str) -> str:
    """A literal as a pattern in which blanks are any run of blanks."""
    return r"\s+".join(re.escape(part) for part in literal.split(" "))


_VALUE = re.compile(
    r"[+-]?[\d.]+\w*|\"[^\"]*\"|'[^']*'|[\w.+\-/#]+(?:\s*[,/|+; ]\s*[\w.+\-/#]+)*|"
    r"[\[({].*[\])}]|[\w. %,+\-/:]+",
)


def _split_at(text: str, separator: str) -> tuple[str, str, str] | None:
    """Name, the separator with its blanks, value."""
    if separator == " ":
        match = re.match(r"(\S+)(\s+)(\S.*)$", text)
        return match.groups() if match else None  # type: ignore[return-value]
    match = re.match(
        r"([\"']?[^\s\"'=]*?[^\s=:<>|~,;]?[\"']?)(\s*" + re.escape(separator) + r"\s*)(.+)$", text
    )
    if match is None:
        return None
    name, mark, value = match.groups()
    return (name, mark, value) if name and value.strip() else None


def _template(lines: Sequence[Line], prefix: str, separator: str) -> Template | None:
    names: dict[str, float] = {}
    places: set[tuple[str, str]] = set()
    tails: Counter[str] = Counter()
    starts = re.compile(loose(prefix))
    count = 0
    firsts: Counter[str] = Counter()
    for line in lines:
        match = starts.match(line.text)
        if match is None:
            continue
        split = _split_at(line.text[match.end() :], separator)
        if split is None:
            continue
        name, _mark, value = split
        bare = name.strip("\"'")
        if not re.fullmatch(r"[\w.\-/\[\]#+:*&$()@]{1,60}", bare) or not re.match(r"[\w\[]", bare):
            continue
        count += 1
        quality = 1.0 if _VALUE.fullmatch(value.rstrip("; ,)>/]}\"'")) else 0.35
        if separator == " " and len(value.split()) > 2 and not value.startswith('"'):
            quality *= 0.35
        if separator == " " and (bare[-1] in ":=" or bare.lower() in _ARTICLES):
            quality *= 0.3
        if not re.search(r"[A-Za-z]", bare):
            quality *= 0.6
        if value[:1] in "=:><|~" and separator != value[0]:
            quality *= 0.3
        names[bare] = max(names.get(bare, 0.0), quality)
        places.add((line.file, bare))
        tail = re.search(r"[^\w\s]+$", value)
        tails[tail.group() if tail else ""] += 1
        firsts[value.split()[0]] += 1
    if count < 3:
        return None
    word, seen = firsts.most_common(1)[0]
    if separator == " " and seen >= 0.6 * count and count >= 6 and not word[0].isdigit():
        # `let NAME be VALUE`: the word between belongs to the form.
        deeper = _worded(lines, prefix, word)
        if deeper is not None:
            return deeper
    suffix, often = tails.most_common(1)[0]
    if often < 0.85 * count or suffix in ("%", "+", "-"):
        suffix = ""
    opened = prefix.strip()[-1:] or separator.strip()[-1:]
    pairs = {")": "(", "]": "[", "}": "{", '"': '"', "'": "'", ">": "<"}
    if separator == "(":
        opened = "("
        if not suffix.startswith(")"):
            return None
    if suffix and suffix[-1] in pairs and opened != pairs[suffix[-1]]:
        suffix = ""
    score = sum(names.values()) * (0.75 if separator == " " and not prefix else 1.0)
    # A name that comes again and again begins a record, or is a verb.
    again = (count - len(places)) * len(names) / len(places)  # in one sample
    score -= (0.25 if not prefix else 0.1 if separator == " " else 0.02) * again
    return Template(prefix, separator, suffix, len(names), score)


def _worded(lines: Sequence[Line], prefix: str, word: str) -> Template | None:
    pattern = re.compile(loose(prefix) + r"(\S+)\s+" + re.escape(word) + r"\s+(\S.*)$")
    names = {m[1] for line in lines if (m := pattern.match(line.text))}
    if len(names) < 5:
        return None
    tails = Counter(
        (t.group() if (t := re.search(r"[.;,!]$", line.text)) else "")
        for line in lines
        if pattern.match(line.text)
    )
    suffix, often = tails.most_common(1)[0]
    total = sum(tails.values())
    return Template(
        prefix, f" {word} ", suffix if often >= 0.9 * total else "", len(names), len(names) * 1.05
    )


def best_template(lines: Sequence[Line]) -> Template | None:
    """The template that explains most names, None where none explains three lines."""
    found: list[Template] = []
    for prefix in _prefixes(lines):
        for separator in (*_SEPARATORS, " "):
            if separator == prefix.strip() and separator != ":":
                continue
            one = _template(lines, prefix, separator)
            if one is not None:
                found.append(one)
    if not found:
        return None
    found.sort(key=lambda one: (-one.score, len(one.separator) == 1, -len(one.prefix)))
    best = found[0]
    # As good with a longer literal part: the longer one says more.
    for one in found[1:]:
        if one.score >= 0.97 * best.score and len(one.separator.strip()) > len(
            best.separator.strip()
        ):
            best = one
    return best


class Assigner:
    """Reads lines by a template, and says which forms of it there are."""

    def __init__(self, template: Template) -> None:
        self.template = template
        self.prefix = re.compile(loose(template.prefix))
        self.forms: Counter[str] = Counter()

    def read(self, text: str) -> tuple[str, str] | None:
        t = self.template
        match = self.prefix.match(text)
        if match is None:
            return None
        rest = text[match.end() :]
        suffix = t.suffix if t.suffix and rest.endswith(t.suffix) else ""
        if suffix:
            rest = rest[: -len(suffix)].rstrip()
        if t.separator.startswith(" ") and t.separator.strip():
            word = t.separator.strip()
            m = re.match(r"(\S+)\s+" + re.escape(word) + r"\s+(\S.*)$", rest)
            split = (m[1], t.separator, m[2]) if m else None
        else:
            split = _split_at(rest, t.separator)
        if split is None:
            return None
        name, mark, value = split
        quote = name[:1] if name[:1] in "\"'" and name[-1:] == name[:1] and len(name) > 2 else ""
        bare = name.strip("\"'") if quote or t.prefix.rstrip().endswith(('"', "'")) else name
        if not re.fullmatch(r"[\w.\-/\[\]#+:*&$()@]+", bare):
            return None
        closing = quote or name[len(bare) :]
        form = f"{t.prefix}{quote}{{name}}{closing}{one_blank(mark)}{{value}}{suffix}"
        self.forms[form] += 1
        return bare, value
