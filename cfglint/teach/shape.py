"""The shape of a dump nobody has described: marks, verbs, separators, sections.

Every guess here is made by counting: what most lines have in common is the shape, and the names
are what differs between them.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Literal

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.dump.source import Source

RowKind = Literal[
    "assignment", "comment", "section", "section_end", "removal", "on", "off", "command", "refusal"
]


class Line(NamedTuple):
    """A line with something on it: which sample, number from 1, text without blanks around."""

    file: str
    number: int
    text: str


class Row(NamedTuple):
    """A line as the shape understands it.

    ``name`` and ``value`` are an assignment's; a section's title, a flag's or removal's name is
    in ``name``.  ``sections`` are the titles it stands in, ``heading`` the comment above.
    """

    kind: RowKind
    file: str
    number: int
    text: str
    name: str = ""
    value: str = ""
    sections: tuple[str, ...] = ()
    heading: str = ""


class Shape(NamedTuple):
    """Line forms of ``[shape]``, each list most used first, and the lines read by them."""

    prompt: str
    comment: tuple[str, ...]
    assign: tuple[str, ...]
    unset: tuple[str, ...]
    flag_on: tuple[str, ...]
    flag_off: tuple[str, ...]
    open: tuple[str, ...]
    close: tuple[str, ...]
    refusal: tuple[str, ...]
    rows: tuple[Row, ...]
    share: float


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
_OPENERS = frozenset(
    "begin section group block start open enter page part chapter table area menu into in "
    "context scope topic subject unit module".split()
)
_CLOSERS = frozenset(
    "end done close leave exit finish endsection endgroup endblock fin out back esac".split()
)
_BANKS = frozenset("profile bank preset slot rates set ratesprofile memory bay variant".split())
_ARTICLES = frozenset("the a an when while if after this these at on in for all no every".split())
_WORD = r"[A-Za-z_][\w.\-/]*"


def lines_of(sources: Iterable[Source], most: int = 4000) -> list[Line]:
    """The lines with something on them, the first ``most`` of each sample."""
    out = []
    for source in sources:
        kept = 0
        for number, text in enumerate(source.lines, 1):
            bare = text.strip(" \t\ufeff\x0c")
            if bare and len(bare) <= 1000:
                out.append(Line(source.file, number, bare))
                kept += 1
                if kept >= most:
                    break
    return out


# ------------------------------------------------------------------ assignments


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
            heads[_one_blank(mark.group())] += 1
        if not rest:
            continue
        heads[_one_blank(head)] += 1
        more = re.match(r"\w+\s*[=:(]\s*[\"'(]?|[\"'(\[]", rest)
        if more:
            deep[_one_blank(head)][_one_blank(more.group())] += 1
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


def _one_blank(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def _loose(literal: str) -> str:
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
    tails: Counter[str] = Counter()
    starts = re.compile(_loose(prefix))
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
    score -= (0.25 if not prefix else 0.1 if separator == " " else 0.02) * (count - len(names))
    return Template(prefix, separator, suffix, len(names), score)


def _worded(lines: Sequence[Line], prefix: str, word: str) -> Template | None:
    pattern = re.compile(_loose(prefix) + r"(\S+)\s+" + re.escape(word) + r"\s+(\S.*)$")
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
        self.prefix = re.compile(_loose(template.prefix))
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
        form = f"{t.prefix}{quote}{{name}}{closing}{_one_blank(mark)}{{value}}{suffix}"
        self.forms[form] += 1
        return bare, value


# ------------------------------------------------------------------ sections


_SECTION_FORMS: tuple[tuple[str, str, str, str], ...] = (
    # pattern of the opener, its form, pattern of the closer, its form
    (r"\[([^\]/=\[\]]+)\]", "[{title}]", "", ""),
    (r"\[\[([^\]]+)\]\]", "[[{title}]]", "", ""),
    (r"<([\w .:-]+)>", "<{title}>", r"</([\w .:-]*)>", ""),
    (r"<([\w .:-]+)>", "<{title}>", "", ""),
    (r"\(([\w .:-]+)\)", "({title})", "", ""),
    (r"\{([\w .:-]+)\}", "{{title}}", "", ""),
    (r"(\S(?:.*\S)?)\s*\{", "{title} {", r"\}[;,]?", "}"),
    (r"(\S(?:.*\S)?)\s*\(", "{title} (", r"\)[;,]?", ")"),
    (r"(\S(?:.*\S)?)\s*\[", "{title} [", r"\][;,]?", "]"),
    (r"\{\s*(\S(?:.*\S)?)", "{ {title}", r"\}", "}"),
    (
        r"(?i:(\S+(?: \S+)?)\s+(?:begin|start|open|do|is))",
        "",
        r"(?i:end|done|close|stop|finish)\b.*",
        "",
    ),
)


class Sections(NamedTuple):
    """How sections open and close: patterns (group 1 is the title) and forms."""

    opener: str
    open: str
    closer: str
    close: tuple[str, ...]


def _sections(lines: Sequence[Line], assigner: Assigner | None) -> list[Sections]:
    """The ways in which sections open and close here, those with most sections first."""
    found: list[tuple[int, Sections]] = []
    for pattern, written, ending, close in _SECTION_FORMS:
        opener, form, closer = pattern, written, ending
        titles = [m[1] for line in lines if (m := re.fullmatch(opener, line.text))]
        titles = [t for t in titles if re.match(r"\w", t) and len(t.split()) <= 4]
        if len(titles) < 2 and not (titles and closer):
            continue
        if not closer and len(titles) > 0.4 * len(lines):
            continue  # what most lines look like is no section
        closers = Counter(line.text for line in lines if closer and re.fullmatch(closer, line.text))
        if closer and not closers:
            continue
        if close:
            ends = tuple(text for text, _ in closers.most_common(3))
        else:
            ends = tuple(text for text, _ in closers.most_common(40))
        if not form:
            word = next(line.text.split()[-1] for line in lines if re.fullmatch(opener, line.text))
            form = f"{{title}} {word}"
            opener = rf"(\S(?:.*\S)?)\s+{re.escape(word)}"
        if not closer:
            ends = _word_closers(lines, len(titles))
            closer = "|".join(re.escape(text) for text in ends)
        # The form as it is written: with a blank before the brace or without.
        if form.endswith((" {", " (", " [")):
            spaced = sum(
                bool(re.search(r"\s.$", x.text)) for x in lines if re.fullmatch(opener, x.text)
            )
            form = form if spaced * 2 >= len(titles) else form.replace("} ", "}")
        found.append((len(titles), Sections(opener, form, closer, ends)))
    found += _worded_sections(lines, assigner)
    found += _marked_sections(lines, assigner)
    found.sort(key=lambda row: -row[0])
    return [row for _, row in found[:2]]


def _word_closers(lines: Sequence[Line], titles: int) -> tuple[str, ...]:
    """Lines that end sections by a word (`end`), if there are about as many as sections."""
    closers = Counter(
        line.text
        for line in lines
        if len(line.text.split()) <= 2
        and re.sub(r"[^a-z]", "", line.text.split()[0].lower()) in _CLOSERS
    )
    if not 0.6 * titles <= sum(closers.values()) <= 1.5 * titles:
        return ()
    return tuple(text for text, _ in closers.most_common(40))


def _worded_sections(
    lines: Sequence[Line], assigner: Assigner | None
) -> list[tuple[int, Sections]]:
    heads: dict[str, list[str]] = defaultdict(list)
    closers: Counter[str] = Counter()
    for line in lines:
        match = re.fullmatch(r"([A-Za-z_@.$%*&:\-]+)[ \t:]+(\S+(?:[ \t]\S+){0,3}?)[:;]?", line.text)
        if match and "=" not in line.text:
            heads[match[1]].append(match[2])
        first = re.match(r"[A-Za-z_.@$%*&:\-]+", line.text)
        if (
            first
            and first.group().lower().strip("@.$%*&:-_") in _CLOSERS
            and len(line.text.split()) <= 2
        ):
            closers[line.text] += 1
    found = []
    for head, titles in heads.items():
        bare = head.lower().strip("@.$%*&:-_")
        ended = sum(closers.values())
        opens = bare in _OPENERS and (len(titles) >= 2)
        bank = bare in _BANKS and all(t.isdigit() for t in titles) and len(titles) >= 2
        if not opens and not bank:
            continue
        if assigner is not None and assigner.template.prefix.strip() == head:
            continue
        paired = ended >= 0.6 * len(titles) and opens
        ends = tuple(text for text, _ in closers.most_common(40)) if paired else ()
        # `end motor` names its section: each such line is a form of its own.
        closer = "|".join(re.escape(text) for text in ends)
        if bank:
            opener = rf"{re.escape(head)}[ \t:]+(\d+)"
            mark = re.search(
                r"[ \t:]+(?=\d)", next(x.text for x in lines if x.text.startswith(head))
            )
            gap = _one_blank(mark.group()) if mark else " "
            found.append((len(titles), Sections(opener, f"{head}{gap}{{title}}", "", ())))
            continue
        trail = (
            ":"
            if all(f.endswith(":") for f in (x.text for x in lines) if f.startswith(head + " "))
            else ""
        )
        found.append(
            (
                len(titles) + 2,
                Sections(
                    rf"{re.escape(head)}[ \t]+(\S+(?:[ \t]\S+){{0,3}}?){re.escape(trail)}",
                    f"{head} {{title}}{trail}",
                    closer,
                    ends,
                ),
            )
        )
    return found


def _marked_sections(
    lines: Sequence[Line], assigner: Assigner | None
) -> list[tuple[int, Sections]]:
    """`== motors ==`, `@motors`, `motors:`: a mark before, around or behind a title alone."""
    groups: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
    for line in lines:
        match = re.fullmatch(
            r"([^\w\s\"'<\[{(]{1,6})(\s*)([A-Za-z][\w.\-]*(?: [\w.\-]+){0,3}?)(\s*)"
            r"([^\w\s\"']{0,6})",
            line.text,
        )
        if match:
            before, gap, title, gap2, after = match.groups()
            key = (before + (" " if gap else ""), (" " if gap2 and after else "") + after)
            groups[key].append((line.file, title))
            continue
        match = re.fullmatch(
            r"([A-Za-z][\w.\-]*(?: [\w.\-]+){0,2})(\s*)(:{1,2}|\.{2,}|-{2,}|>)", line.text
        )
        if match:
            groups["", (" " if match[2] else "") + match[3]].append((line.file, match[1]))
    found = []
    for (before, after), titles in groups.items():
        if len(titles) < 2:
            continue
        around = bool(after) and bool(before)
        attached = before and not before.endswith(" ")
        if before.strip() in ("-", "+", "!", "~") and not around:
            continue  # flags and removals
        sure = around or (before[:1] in "@=&$*:.>" and attached) or (after and not before)
        # `# motors` is as well a comment: only a dump without assignments above would know.
        if not sure:
            continue
        if len(set(titles)) < 0.6 * len(titles):
            continue
        if assigner is not None and assigner.template.prefix.strip().startswith(
            before.strip() or "\0"
        ):
            continue
        opener = rf"{_loose(before.rstrip())}\s*([A-Za-z].*?)\s*{re.escape(after.strip())}"
        if after.strip() and re.fullmatch(r"(.)\1+", after.strip()):
            # Underlines of any length.
            opener = rf"{_loose(before.rstrip())}\s*([A-Za-z].*?)\s*{re.escape(after.strip()[0])}+"
        found.append((len(titles), Sections(opener, f"{before}{{title}}{after}", "", ())))
    return found


# ------------------------------------------------------------------ the whole


def _comment_marks(lines: Sequence[Line], template: Template | None) -> list[str]:
    """The marks that begin comments, most used first."""
    groups: dict[str, list[str]] = defaultdict(list)
    for line in lines:
        match = re.match(
            r"[^\w\s\"'<\[{(}\])>@$&=+]{1,3}|'(?!\w+')|[#;!%*]+|>>+|<!--|==+(?=\s)|rem\b",
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


def _prompt(lines: Sequence[Line]) -> str:
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


def _flags(lines: Sequence[Line], known: set[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
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


def _removals(lines: Sequence[Line], names: set[str], flags: Sequence[str]) -> tuple[str, ...]:
    found: Counter[str] = Counter()
    for line in lines:
        match = re.fullmatch(r"([A-Za-z]+)\s+([\w.\-/\[\]]+)(;?)", line.text)
        if match and match[1].lower() in _REMOVERS:
            found[f"{match[1]} {{name}}{match[3]}"] += 1
        match = re.fullmatch(r"([\-!~/^])(\s*)([A-Za-z][\w.\-/\[\]]*)(;?)", line.text)
        if match:
            found[f"{match[1]}{' ' if match[2] else ''}{{name}}{match[4]}"] += 1
    return tuple(form for form, count in found.most_common(3) if form not in flags and count >= 1)


_REFUSED = re.compile(
    r"(?i)^(?P<mark>\W{0,4}\s*(?:error|err|refused|rejected|invalid|unknown|bad|denied|failed|"
    r"not taken|not accepted|no such|cannot|can't|what|sorry|nak|illegal)\b[^:\w]*:?)"
)


def read_shape(lines: Sequence[Line]) -> Shape:
    """The shape of samples, and every line read by it."""
    prompt = _prompt(lines)
    if prompt:
        stripped = []
        for line in lines:
            text = line.text
            while text.startswith(prompt) and (text == prompt or text[len(prompt)] in " \t"):
                text = text[len(prompt) :].strip()
            if text:
                stripped.append(Line(line.file, line.number, text))
        lines = stripped
    template = best_template([x for x in lines if not re.match(r"[#;%!']|//|--", x.text)]) or None
    over_all = best_template(lines)
    if over_all is not None and (template is None or over_all.score > 1.5 * template.score):
        template = over_all
    marks = _comment_marks(lines, template)
    plain = [x for x in lines if not _starts(x.text, marks)]
    # Sections that are closed again are plain to see; without them the rest is plainer too.
    closed = [one for one in _sections(plain, None) if one.close]
    template = best_template([x for x in plain if not _of_sections(x.text, closed)])
    if template is not None and template.score < max(3.0, min(0.2 * len(plain), 12.0)):
        template = None
    assigner = Assigner(template) if template is not None else None
    sections = closed or _sections(plain, assigner)
    flag_on, flag_off = _flags(plain, set())
    unset = _removals(plain, set(), (*flag_on, *flag_off))
    rows = list(_rows(lines, marks, assigner, sections, flag_on, flag_off, unset))
    forms = assigner.forms if assigner is not None else Counter[str]()
    total = sum(forms.values())
    assign = tuple(form for form, n in forms.most_common(5) if n >= max(1, 0.005 * total))
    good = sum(row.kind != "command" for row in rows)
    return Shape(
        prompt=prompt,
        comment=tuple(marks),
        assign=assign,
        unset=unset,
        flag_on=flag_on,
        flag_off=flag_off,
        open=tuple(dict.fromkeys(s.open for s in sections if s.open)),
        close=tuple(dict.fromkeys(text for s in sections for text in s.close)),
        refusal=tuple(_refusals(rows)),
        rows=tuple(rows),
        share=good / max(1, len(rows)),
    )


def _refusals(rows: Sequence[Row]) -> list[str]:
    marks: Counter[str] = Counter()
    for row in rows:
        if row.kind == "refusal":
            match = _REFUSED.match(row.text)
            if match:
                marks[_one_blank(match["mark"]).strip()] += 1
    return [f"{mark} {{reason}}" for mark, _ in marks.most_common(3)]


def _starts(text: str, marks: Sequence[str]) -> bool:
    for mark in marks:
        if mark[0].isalpha():
            if re.match(re.escape(mark) + r"\b", text):
                return True
        elif text.startswith(mark):
            return True
    return False


def _rows(
    lines: Sequence[Line],
    marks: Sequence[str],
    assigner: Assigner | None,
    sections: Sequence[Sections],
    flag_on: Sequence[str],
    flag_off: Sequence[str],
    unset: Sequence[str],
) -> Iterable[Row]:
    on, off, gone = (_named(forms) for forms in (flag_on, flag_off, unset))
    stack: list[str] = []
    heading = ""
    flat = not any(s.close for s in sections)
    file = ""
    for line in lines:
        text = line.text
        if line.file != file:
            file, heading = line.file, ""
            stack.clear()
        if _starts(text, marks):
            mark = next(m for m in marks if _starts(text, [m]))
            words = re.sub(r"[\W_]+", " ", text[len(mark) :]).split()
            heading = " ".join(words) if 0 < len(words) <= 5 else heading if not words else ""
            yield Row(
                "comment",
                line.file,
                line.number,
                text,
                "",
                text[len(mark) :].strip(),
                tuple(stack),
                heading,
            )
            continue
        if _REFUSED.match(text) and not (assigner and assigner.read(text)):
            yield Row("refusal", line.file, line.number, text)
            continue
        title = _title(text, sections)
        if title is not None:
            if flat:
                stack.clear()
            stack.append(" ".join(title.split()))
            heading = ""
            yield Row("section", line.file, line.number, text, stack[-1], "", tuple(stack))
            continue
        if any(s.close and (text in s.close) for s in sections):
            if stack:
                stack.pop()
            yield Row("section_end", line.file, line.number, text, "", "", tuple(stack))
            continue
        named = next(
            (
                (kind, m["name"])
                for kind, patterns in (("on", on), ("off", off), ("removal", gone))
                for pattern in patterns
                if (m := pattern.fullmatch(text))
            ),
            None,
        )
        if named is not None:
            yield Row(named[0], line.file, line.number, text, named[1], "", tuple(stack), heading)  # type: ignore[arg-type]
            continue
        read = assigner.read(text) if assigner is not None else None
        if read is not None:
            yield Row(
                "assignment", line.file, line.number, text, read[0], read[1], tuple(stack), heading
            )
            continue
        yield Row("command", line.file, line.number, text, "", "", tuple(stack), heading)


def _of_sections(text: str, sections: Sequence[Sections]) -> bool:
    return _title(text, sections) is not None or any(text in one.close for one in sections)


def _title(text: str, sections: Sequence[Sections]) -> str | None:
    for one in sections:
        if one.open and (match := re.fullmatch(one.opener, text)) is not None:
            return match[1]
    return None


def _named(forms: Sequence[str]) -> tuple[re.Pattern[str], ...]:
    from cfglint.dump.forms import pattern

    return tuple(re.compile(pattern(form)) for form in forms)
