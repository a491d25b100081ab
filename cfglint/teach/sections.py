"""How sections open and close."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

from cfglint.teach.lines import Line
from cfglint.teach.templates import Assigner, loose, one_blank

_OPENERS = frozenset(
    "begin section group block start open enter page part chapter table area menu into in "
    "context scope topic subject unit module".split()
)


_CLOSERS = frozenset(
    "end done close leave exit finish endsection endgroup endblock fin out back esac".split()
)


_BANKS = frozenset("profile bank preset slot set memory bay variant".split())


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


def sections_of(lines: Sequence[Line], assigner: Assigner | None) -> list[Sections]:
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
            gap = one_blank(mark.group()) if mark else " "
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
        opener = rf"{loose(before.rstrip())}\s*([A-Za-z].*?)\s*{re.escape(after.strip())}"
        if after.strip() and re.fullmatch(r"(.)\1+", after.strip()):
            # Underlines of any length.
            opener = rf"{loose(before.rstrip())}\s*([A-Za-z].*?)\s*{re.escape(after.strip()[0])}+"
        found.append((len(titles), Sections(opener, f"{before}{{title}}{after}", "", ())))
    return found


def of_sections(text: str, sections: Sequence[Sections]) -> bool:
    return title_of(text, sections) is not None or any(text in one.close for one in sections)


def title_of(text: str, sections: Sequence[Sections]) -> str | None:
    for one in sections:
        if one.open and (match := re.fullmatch(one.opener, text)) is not None:
            return match[1]
    return None
