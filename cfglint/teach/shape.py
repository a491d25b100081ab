"""The shape of a dump nobody has described: marks, verbs, separators, sections.

Every guess here is made by counting: what most lines have in common is the shape, and the names
are what differs between them.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

from cfglint.teach.lines import Line, Row
from cfglint.teach.marks import (
    REFUSED,
    comment_marks,
    flags_of,
    prompt_of,
    refusals_of,
    removals_of,
    starts_with,
)
from cfglint.teach.sections import Sections, of_sections, sections_of, title_of
from cfglint.teach.templates import Assigner, best_template


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


def read_shape(lines: Sequence[Line]) -> Shape:
    """The shape of samples, and every line read by it."""
    prompt = prompt_of(lines)
    if prompt:
        stripped = []
        for line in lines:
            text = line.text
            while text.startswith(prompt) and (text == prompt or text[len(prompt)] in " \t"):
                text = text[len(prompt) :].strip()
            if text:
                stripped.append(Line(line.file, line.number, text))
        lines = stripped
    template = (
        best_template([x for x in lines if not re.match(r"[#;%!'(]|//|--|/\*", x.text)]) or None
    )
    over_all = best_template(lines)
    if over_all is not None and (template is None or over_all.score > 1.5 * template.score):
        template = over_all
    marks = comment_marks(lines, template)
    plain = [x for x in lines if not starts_with(x.text, marks)]
    # Sections that are closed again are plain to see; without them the rest is plainer too.
    closed = [one for one in sections_of(plain, None) if one.close]
    template = best_template([x for x in plain if not of_sections(x.text, closed)])
    if template is not None and template.score < max(3.0, min(0.2 * len(plain), 12.0)):
        template = None
    assigner = Assigner(template) if template is not None else None
    sections = closed or sections_of(plain, assigner)
    flag_on, flag_off = flags_of(plain)
    unset = removals_of(plain, (*flag_on, *flag_off))
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
        refusal=tuple(refusals_of(rows)),
        rows=tuple(rows),
        share=good / max(1, len(rows)),
    )


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
        if starts_with(text, marks):
            mark = next(m for m in marks if starts_with(text, [m]))
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
        if REFUSED.match(text) and not (assigner and assigner.read(text)):
            yield Row("refusal", line.file, line.number, text)
            continue
        title = title_of(text, sections)
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


def _named(forms: Sequence[str]) -> tuple[re.Pattern[str], ...]:
    from cfglint.dump.forms import pattern

    return tuple(re.compile(pattern(form)) for form in forms)
