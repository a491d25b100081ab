"""How an invented dialect's lines look, drawn at random so that a dialect file can say it."""

from __future__ import annotations

from random import Random
from typing import Any, Literal, NamedTuple

from invent.words import VERBS, Half

Sections = Literal["none", "flat", "closed"]


class Shape(NamedTuple):
    """A dialect's line shapes; forms are those of a dialect file.

    ``gap`` is what is really written for the blanks around a form's separator (a tab, or
    enough to align).  ``ends`` says that something follows a value, so it can hold no blank.
    """

    verb: str
    assign: str
    ends: bool
    gap: Literal["one", "tab", "align"]
    comment: str
    prompt: str
    unset: str
    flag_on: str
    flag_off: str
    sections: Sections
    open: str
    close: str
    divider: str
    none: str
    yes: tuple[str, ...]
    no: tuple[str, ...]
    save: str
    heading: str
    #: Characters that no name may hold.
    banned: str

    def table(self) -> dict[str, Any]:
        """The ``[shape]`` table; what a dialect does not have is an empty list of forms."""

        def forms(form: str) -> Any:
            return form or []

        return {
            "grammar": "plain",
            "prompt": forms(self.prompt),
            "comment": forms(self.comment),
            "refusal": [],
            "assign": self.assign,
            "unset": forms(self.unset),
            "flag_on": forms(self.flag_on),
            "flag_off": forms(self.flag_off),
            "open": forms(self.open),
            "close": forms(self.close),
            "list": self.divider,
            "none": self.none,
            "yes": list(self.yes),
            "no": list(self.no),
        }


_SEPARATORS = (
    ("{name} = {value}", 22),
    ("{name}={value}", 14),
    ("{name}: {value}", 12),
    ("{name}:{value}", 6),
    ("{name} {value}", 16),
    ("{name},{value}", 3),
    ("{name} -> {value}", 3),
    ("{name}:={value}", 2),
    ("{name} := {value}", 3),
    ("{name}|{value}", 2),
    ("{name} | {value}", 2),
    ("{name} is {value}", 2),
)
_WRAPPED = (
    ("<{name}={value}>", "=>"),
    ("({name} {value})", ")"),
    ('"{name}": {value}', '":'),
    ("{name}({value})", "()"),
    ("${name}={value}", "="),
    ('"{name}" = {value}', '"'),
    ('"{name}": {value},', '":,'),
    ("[{name}={value}]", "=]"),
)
_COMMENTS = (("#", 40), ("//", 16), (";", 14), ("--", 8), ("!", 6), ("%", 6), ("'", 3), ("rem ", 4))
_FLAGS = (
    (("yes",), ("no",)),
    (("on",), ("off",)),
    (("true",), ("false",)),
    (("1",), ("0",)),
    (("enabled",), ("disabled",)),
    (("ON",), ("OFF",)),
    (("y",), ("n",)),
    (("True",), ("False",)),
)
_OPENS: tuple[tuple[Sections, str, str], ...] = (
    ("flat", "[{title}]", ""),
    ("flat", "== {title} ==", ""),
    ("flat", "@{title}", ""),
    ("flat", "section {title}", ""),
    ("flat", "<{title}>", ""),
    ("closed", "{title} {", "}"),
    ("closed", "begin {title}", "end"),
    ("closed", "[{title}]", "end"),
    ("closed", "group {title} (", ")"),
)


def _pick(rng: Random, rows: tuple[tuple[Any, int], ...]) -> Any:
    return rng.choices([row for row, _ in rows], weights=[weight for _, weight in rows])[0]


def draw_shape(rng: Random, half: Half) -> Shape:
    """A shape whose parts do not get in each other's way."""
    verb = rng.choice(VERBS.words(half)) if rng.random() < 0.42 else ""
    comment: str = _pick(rng, _COMMENTS)
    ends = False
    if rng.random() < 0.1 and not verb:
        assign, banned = rng.choice(_WRAPPED)
        ends = not assign.endswith("{value}")
    else:
        assign = _pick(rng, _SEPARATORS)
        banned = "".join(c for c in assign.replace("{name}", "").replace("{value}", "") if c != " ")
        assign = f"{verb} {assign}" if verb else assign
        if rng.random() < 0.13 and comment != ";":
            assign, ends = assign + ";", True
    if comment == "#" and verb in ("set", "let", "put") and "=" in assign:
        comment = rng.choice(("//", "%"))  # together they look like one program's
    bare = assign in ("{name} {value}", "{name},{value}")
    # Any line of two words is an assignment then, so nothing else may look like one.
    blank = assign.startswith("{name} {value}")
    if comment == "--" and "->" in assign:
        comment = "#"
    wrapped = assign[0] not in "{" and not verb
    sections: Sections = "none"
    opened = close = ""
    if rng.random() < 0.4 and not (wrapped and assign[0] in "[<"):
        sections, opened, close = rng.choice(_OPENS)
        if comment == "--" and opened.startswith("=="):
            comment = "#"
    unset, flag_on, flag_off = _marks(rng, blank=blank, wrapped=wrapped, comment=comment)
    lists = [
        one for one in (",", "+", "/", "|", " ", ", ") if one.strip() not in set(banned) - {""}
    ]
    if ends or bare:
        lists = [one for one in lists if " " not in one]
    if assign == "{name},{value}":
        lists = [one for one in lists if "," not in one]
    yes, no = rng.choice(_FLAGS)
    prompts = [p for p in (">", "$", "~>", "=>", "»") if p[0] not in assign + comment + opened]
    return Shape(
        verb=verb,
        assign=assign,
        ends=ends,
        gap=rng.choices(("one", "tab", "align"), weights=(70, 8, 22))[0],
        comment=comment,
        prompt=rng.choice(prompts) if rng.random() < 0.1 and not blank else "",
        unset=unset,
        flag_on=flag_on,
        flag_off=flag_off,
        sections=sections,
        open=opened,
        close=close,
        divider=rng.choice(lists),
        none=rng.choice(("none", "nothing", "off", "-", "free", "unused")),
        yes=yes,
        no=no,
        save=rng.choice(("store", "write", "commit", "keep", "burn", "persist")),
        heading=rng.choice(
            ("{}", "-- {} --", "--- {}", "{}:", "*** {} ***", "{} settings", "== {}")
        ),
        banned=banned + "{}[]()<>\"'#;!%$",
    )


def _marks(rng: Random, *, blank: bool, wrapped: bool, comment: str) -> tuple[str, str, str]:
    """Forms for taking a value back and for flags that stand or not."""
    flags = [("", "")] * 11
    if not blank:
        flags += [
            ("enable {name}", "disable {name}"),
            ("use {name}", "no {name}"),
            ("with {name}", "without {name}"),
        ]
    if comment != "--":
        flags.append(("+{name}", "-{name}"))
    on, off = rng.choice(flags)
    unsets = ["~{name}", "{name}!"] if blank else ["reset {name}", "clear {name}", "forget {name}"]
    if not off.startswith("-") and comment != "--":
        unsets.append("-{name}")
    if wrapped or comment == "!":
        unsets = [one for one in unsets if not one.endswith("!")]
    return rng.choice(unsets), on, off
