"""Marks before lines: comments, prompts, flags, removals, refusals."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

from cfglint.teach.lines import Line, Row
from cfglint.teach.templates import Assigner, Template, best_template, one_blank

_COMMENT_WORDS = ("rem", "note", "remark", "comment", "info", "nb", "memo")


_REMOVERS = (
    "unset forget clear reset no default remove delete del drop erase undo restore revert "
    "unlet nil zap wipe discard omit lose".split()
)


_FLAG_PAIRS = (
    ("enable", "disable"),
    ("with", "without"),
    ("activate", "deactivate"),
    ("on", "off"),
    ("use", "skip"),
    ("use", "avoid"),
    ("turnon", "turnoff"),
    ("switch-on", "switch-off"),
    ("allow", "forbid"),
    ("allow", "deny"),
    ("yes", "no"),
    ("+", "-"),
    ("want", "refuse"),
    ("have", "lack"),
    ("permit", "forbid"),
    ("enabled", "disabled"),
    ("flag", "unflag"),
    ("raise", "lower"),
    ("raise", "clear"),
    ("set", "clear"),
    ("set", "unset"),
    ("do", "dont"),
    ("include", "exclude"),
)


def comment_marks(lines: Sequence[Line], template: Template | None) -> list[str]:
    """The marks that begin comments, most used first."""
    groups: dict[str, list[str]] = defaultdict(list)
    for line in lines:
        match = re.match(
            r"\(\*|/\*|\((?=[^()]*\)$)|[^\w\s\"'<\[{(}\])>@$&=+]{1,3}|'(?!\w+')|[#;!%*]+|>>+|<!--|"
            r"==+(?=\s)|rem\b",
            line.text,
            re.I,
        )
        word = re.match(r"[A-Za-z]+", line.text)
        if match:
            groups[match.group()].append(line.text[match.end() :])
        elif (
            word
            and word.group().lower() in _COMMENT_WORDS
            and not re.match(r"\w+\s*[=:]", line.text)
        ):
            groups[word.group()].append(line.text[word.end() :])
    prefix = template.prefix.strip() if template is not None else ""
    found: list[tuple[int, str]] = []
    merged: dict[str, list[str]] = defaultdict(list)
    for mark, rests in groups.items():
        # `##` and `#---` are written by who comments with `#`.
        base = next(
            (m for m in ("//", "--", "#", ";", "%", "!", "'", "*") if mark.startswith(m)), mark
        )
        if (
            base not in groups
            and base != mark
            and mark[: len(base)] == base
            and base in ("--", "//")
        ):
            base = mark if mark.strip(base[0]) else base
        merged[base].extend(rests)
    for mark, rests in merged.items():
        if prefix and prefix.startswith(mark):
            continue
        if sum(rest.endswith(mark) for rest in rests) >= 0.6 * len(rests):
            continue  # around titles, not before remarks
        prose = 0
        for rest in rests:
            words = rest.split()
            if not words or rest[:1].isspace() or len(words) >= 2 or not re.match(r"\w", rest):
                prose += 1
        if prose >= 0.6 * len(rests):
            if mark in ("-", "+", "~") and not all(r[:1].isspace() for r in rests):
                continue
            found.append((len(rests), mark))
    found.sort(reverse=True)
    return [mark for _, mark in found[:4]]


def prompt_of(lines: Sequence[Line]) -> str:
    """A prompt mark before most lines of a pasted session, ``""`` for none."""
    counts: Counter[str] = Counter()
    for line in lines:
        match = re.match(r"(?:[\w@.\-]{0,14}[^\w\s\"'(\[{<]{1,3})(?=\s+\S)", line.text)
        if match:
            counts[match.group()] += 1
    named = [mark for mark in counts if re.fullmatch(r"[\w@.\-]{2,}[>#$%]", mark)]
    if len(named) == 1 and counts[named[0]] >= 2:
        return named[0]  # a terminal's, however few lines were typed at it
    for mark, count in counts.most_common(4):
        if count < max(4, 0.15 * len(lines)):
            continue
        if sum(x.text.endswith(mark) for x in lines if x.text.startswith(mark)) >= 0.5 * count:
            continue
        inside = [
            Line("", 0, x.text[len(mark) :].strip())
            for x in lines
            if x.text.startswith(mark + " ") or x.text == mark or x.text.startswith(mark + "\t")
        ]
        bare = [x for x in lines if not x.text.startswith(mark)]
        template = best_template(inside)
        if template is None or template.names < 4:
            continue
        reader = Assigner(template)
        read = sum(reader.read(x.text) is not None for x in inside)
        if read < 0.4 * len(inside):
            continue
        if mark[0].isalnum() or mark[0] in "@":
            # `port: 2` four times is no prompt; a prompt is followed by many different words.
            if template.prefix == "" and template.separator == " ":
                continue
            return mark
        # With a verb, or a mark between name and value, what follows is no prose.
        sure = bool(template.prefix) or template.separator != " "
        if sure and (read >= (0.4 if template.prefix else 0.5) * len(inside) or not bare):
            return mark
    return ""


def flags_of(lines: Sequence[Line]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Forms that set and clear a flag by naming it."""
    firsts: dict[str, list[str]] = defaultdict(list)
    for line in lines:
        match = re.fullmatch(r"([A-Za-z\-]+)\s+([\w.\-/]+);?", line.text)
        if match:
            firsts[match[1].lower()].append(line.text)
        match = re.fullmatch(r"([+\-])(\s*)([A-Za-z][\w.\-/]*);?", line.text)
        if match:
            firsts[match[1]].append(line.text)
    for on, off in _FLAG_PAIRS:
        one, two = firsts.get(on, []), firsts.get(off, [])
        if len(one) + len(two) < 2 or (not one and (off in _REMOVERS or off == "-")):
            continue
        if not two and on not in ("enable", "activate", "with", "flag", "+"):
            continue
        sample = (one or two)[0]
        mark = re.match(r"[+\-]|[A-Za-z\-]+", sample)
        assert mark is not None
        tail = ";" if sample.endswith(";") else ""
        gap = " " if sample[mark.end()].isspace() else ""
        upper = mark.group().isupper() and mark.group().isalpha()
        title = mark.group()[:1].isupper() and not upper

        def spell(word: str, upper: bool = upper, title: bool = title) -> str:
            return word.upper() if upper else word.capitalize() if title else word

        return (f"{spell(on)}{gap}{{name}}{tail}",), (f"{spell(off)}{gap}{{name}}{tail}",)
    return (), ()


def removals_of(lines: Sequence[Line], flags: Sequence[str]) -> tuple[str, ...]:
    found: Counter[str] = Counter()
    for line in lines:
        match = re.fullmatch(r"([A-Za-z]+)\s+([\w.\-/\[\]]+)(;?)", line.text)
        if match and match[1].lower() in _REMOVERS:
            found[f"{match[1]} {{name}}{match[3]}"] += 1
        match = re.fullmatch(r"([\-!~/^])(\s*)([A-Za-z][\w.\-/\[\]]*)(;?)", line.text)
        if match:
            found[f"{match[1]}{' ' if match[2] else ''}{{name}}{match[4]}"] += 1
    return tuple(form for form, count in found.most_common(3) if form not in flags and count >= 1)


REFUSED = re.compile(
    r"(?i)^(?P<mark>\W{0,4}\s*(?:error|err|refused|rejected|invalid|unknown|bad|denied|failed|"
    r"not taken|not accepted|no such|cannot|can't|what|sorry|nak|illegal)\b[^:\w]*:?)"
)


def refusals_of(rows: Sequence[Row]) -> list[str]:
    marks: Counter[str] = Counter()
    for row in rows:
        if row.kind == "refusal":
            match = REFUSED.match(row.text)
            if match:
                marks[one_blank(match["mark"]).strip()] += 1
    return [f"{mark} {{reason}}" for mark, _ in marks.most_common(3)]


def starts_with(text: str, marks: Sequence[str]) -> bool:
    for mark in marks:
        if mark[0].isalpha():
            if re.match(re.escape(mark) + r"\b", text):
                return True
        elif text.startswith(mark):
            return True
    return False
