"""Rows that say what a port carries: each word of a row is what it can be, wherever it stands.

A number that is a line's speed is one; words are functions, sides of a wire's flag, keys that all
rows share, or words that say that there is nothing.  What a word alone does not tell, the words of
other rows in its place do, or the name that a comment above gives its column.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.families import Expect, Item, Line, _flag_of, _rows_item, template
from cfglint.teach.meanings import YES_NO
from cfglint.teach.numbers import BAUDS
from cfglint.teach.readings import read_functions
from cfglint.teach.roles import coded, short
from cfglint.teach.sense import best, english, is_nothing
from cfglint.teach.words import ideas_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.dump.layout import Row
    from cfglint.teach.codes import Legend

FUNCTIONS, FLAGS = "functions", ("inverted", "half")
SETS = {
    FUNCTIONS: "port.N.functions",
    "baud": "port.N.baud",
    "inverted": "port.N.inverted",
    "half": "port.N.half_duplex",
}
#: What says of a wire that its flag is set, and that it is not.
_SIDES: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    "inverted": (
        frozenset(
            "inverted invert inv inverse flipped flip reversed reverse rev negated negative neg "
            "turned upsidedown mirrored upside swapped ! ~ inverting inversion".split()
        ),
        frozenset(
            "normal straight plain upright nor norm std standard direct positive pos noninverted "
            "noninv notinverted true-way regular asis uninverted noninversion forward right".split()
        ),
    ),
    "half": (
        frozenset(
            "half halfduplex hd hdx onewire 1wire 1w single singlewire shared joined one simplex "
            "wire1 onepin halfdup sharedwire oneline 1line wires1".split()
        ),
        frozenset(
            "full fullduplex fd fdx twowire 2wire 2w dual double separate pair two duplex apart "
            "twin twowires both 2wires wires2 split".split()
        ),
    ),
}
_YES = {
    word: side
    for pair in YES_NO
    for word, side in zip(pair, ("yes", "no"), strict=True)
    if not any(word in words for sides in _SIDES.values() for words in sides)
}
_WORD = re.compile(r"\"[^\"]*\"|[^\s,;|()\[\]{}<>@=:/+&│\"]+|(?<!\S)[+\-](?!\S)")
_COMMA = re.compile(rf"\d+,\d+(?!\d)|{_WORD.pattern}")
_INDEX = re.compile(
    r"(?P<lead>\W*(?:[^\W\d_][^\W_]*?[\s\-_./#(\[:,;]*){0,3}?)(?<![^\W\d_][^\W\d_])?"
    r"(?P<index>\d{1,2}|(?<![^\W_])[A-Za-z](?![ .#:_\-]{0,2}\d{1,2}(?![\d.])))"
    r"(?![\w]|[.,]\d|[/._\-][^\W\d])"
)
_SPEED = re.compile(r"(?P<n>\d+(?:[.,]\d+)?)(?P<unit>k?(?:baud|bd|bps)?)", re.I)
_UNIT = re.compile(r"(?i)k?(?:baud|bd|bps)|kbit/s")
_BETWEEN = re.compile(r"[ \t]*[,+/|&;][ \t]*|[ \t]+(?:and|und|et|y|en)[ \t]+|[ \t]|[ \t]*[\"\[(]")


class Token(NamedTuple):
    start: int
    end: int
    text: str

    @property
    def plain(self) -> str:
        return self.text.strip("\"'").lower()


class Port(NamedTuple):
    """One row: what counts it, and its words by what they are."""

    line: Line
    counter: Token
    tokens: tuple[Token, ...]

    def between(self, one: Token, two: Token) -> str:
        return self.line.text[one.end : two.start]


def _port(line: Line, comma: bool) -> Port | None:
    found = _INDEX.match(line.text)
    if found is None:
        return None
    index = Token(found.start("index"), found.end("index"), found["index"])
    tokens = []
    for match in (_COMMA if comma else _WORD).finditer(line.text, index.end):
        text = match.group().rstrip(".")
        if text == "-" and line.text[match.end() : match.end() + 1] == ">":
            continue  # an arrow
        if re.search(r"\w", text) or text in ("!", "~", "-", "--", "+", "✓", "✗", "—", "–"):
            tokens.append(Token(match.start(), match.start() + len(text), text))
    return Port(line, index, tuple(_grouped(line.text, tokens))) if tokens else None


def _grouped(text: str, tokens: Sequence[Token]) -> list[Token]:
    """Digits divided by a blank are one number: `115 200`."""
    out: list[Token] = []
    for one, after in zip(tokens, [*tokens[1:], None], strict=True):
        last = out[-1] if out else None
        if (
            last is not None
            and re.fullmatch(r"\d{1,3}", last.text)
            and re.fullmatch(r"\d{3}", one.text)
            and one.start == last.end + 1
        ):
            joined = text[last.start : one.end].replace(" ", "")
            if joined.isdigit() and (int(joined) in BAUDS or _a_unit(after)):
                out[-1] = Token(last.start, one.end, text[last.start : one.end])
                continue
        if last is not None and re.fullmatch(r"(?i)k(?:baud|bd|bps)?|kbit/s", one.text):
            spoken = f"{last.text}{one.text[:1]}"
            if re.fullmatch(r"[\d.,]+", last.text) and _speed(Token(0, 0, spoken)):
                out[-1] = Token(last.start, one.end, spoken)
                continue
        out.append(one)
    return out


def _a_unit(token: Token | None) -> bool:
    """Whether a word says that the number before it is a line's speed."""
    return token is not None and bool(
        _UNIT.fullmatch(token.text) or re.match("(?i)baud", english(token.text))
    )


def _speed(token: Token) -> float:
    """A token as a line's speed, 0 where it is none."""
    found = _SPEED.fullmatch(token.text.replace(" ", ""))
    if found is None:
        return 0
    return float(found["n"].replace(",", ".")) * (
        1000 if found["unit"][:1] in "kK" and found["unit"] else 1
    )


def side_of(flag: str, token: str) -> str:
    """``yes`` or ``no`` where a word says a wire's flag, else ``""``."""
    for text in dict.fromkeys((token, english(token).lower())):
        bare = re.sub(r"[\s\-_.]", "", text) or text
        for side, words in zip(("yes", "no"), _SIDES[flag], strict=True):
            if bare in words:
                return side
    return ""


def _answers(flag: str, key: str, text: str) -> bool:
    """Whether a word behind a key says yes or no of a flag: `wires 2`, `inv off`."""
    return bool(
        text in _YES
        or side_of(flag, text)
        or side_of(flag, f"{key}{text}")
        or side_of(flag, f"{text}{key}")
    )


class Reading:
    """What the words of a family's rows are."""

    def __init__(self, ports: Sequence[Port], names: Sequence[str], notes: Sequence[str]) -> None:
        self.ports = ports
        self.notes = notes
        self.names = names
        self.keys = self._keys()
        self.scale = self._scale()
        self.roles: list[dict[Token, str]] = [self._plain(port) for port in ports]
        self._by_place()

    def _keys(self) -> frozenset[str]:
        """Words that nearly all rows share and that stand before what varies, or are a unit."""
        rows = [[one.plain for one in port.tokens] for port in self.ports]
        counts = Counter(
            word for row in rows for word in set(row) if re.search(r"[^\W\d]{2}", word)
        )
        behind: dict[str, set[str]] = defaultdict(set)
        for row in rows:
            for one, two in zip(row, [*row[1:], ""], strict=True):
                behind[one].add(two)
        common = [
            word
            for word, count in counts.items()
            if count >= max(2, 0.7 * len(rows))
            and word not in _YES
            and all(
                one in _YES or side_of(flag, one)
                for flag in FLAGS
                if side_of(flag, word)
                for one in behind[word]
            )
            and not (best("port.N.functions", word)[1] >= 0.9 and count < len(rows))
            and not is_nothing(word)
        ]
        # Behind a key that has several values a word is one of these.
        own: list[str] = []
        for word in sorted(common, key=lambda one: min(r.index(one) for r in rows if one in r)):
            if not any(word in behind[key] and len(behind[key]) > 1 for key in own):
                own.append(word)
        return frozenset(own)

    def _scale(self) -> float:
        """By what the numbers of rows are speeds, 0 where they are none."""
        values = [
            [value for token in port.tokens if (value := _speed(token))] for port in self.ports
        ]
        for scale in (1, 100, 1000):
            hits = sum(any(round(one * scale) in BAUDS for one in row) for row in values)
            if hits >= max(1, 0.34 * len(values)):
                return scale
        return 0

    def _plain(self, port: Port) -> dict[Token, str]:
        """What each word is by itself, with its key before it."""
        out: dict[Token, str] = {}
        key = ""
        for token in port.tokens:
            text = token.plain
            flag = _flag_of(key) if key else ""
            speed = _speed(token)
            if text in self.keys:
                key = text
                out[token] = "key"
                continue
            after = self._next(port, token)
            if _UNIT.fullmatch(text) and "baud" in out.values():
                out[token] = "key"
            elif flag and flag not in out.values() and _answers(flag, key, text):
                out[token] = flag
            elif (
                speed
                and "baud" not in out.values()
                and self.scale
                and (self._a_speed(speed) or _a_unit(after))
            ):
                out[token] = "baud"
            elif (
                _flag_of(text)
                and after is not None
                and after.plain in _YES
                and re.fullmatch(r"[ \t]*[:=]?[ \t]*", port.between(token, after))
            ):
                key = text  # `inv=yes` in some rows only
                out[token] = "key"
                continue
            elif side := self._flag(text, out):
                out[token] = side
            elif best("port.N.functions", text.strip("\"'"))[1] >= 0.5:
                out[token] = FUNCTIONS
            elif is_nothing(text):
                out[token] = "nothing"
            else:
                out[token] = self._explained(token, out)
            key = ""
        self._phrases(port, out)
        self._nothing(port, out)
        return out

    def _nothing(self, port: Port, out: dict[Token, str]) -> None:
        """What says that there is nothing says so of the functions, where nothing else does.

        Of two such words it is the one beside the speed, or the first.
        """
        idle = [token for token, role in out.items() if role == "nothing"]
        out.update(dict.fromkeys(idle, ""))
        if not idle or FUNCTIONS in out.values():
            return
        tokens = [one for one in port.tokens if out[one] != "key"]
        # Among other codes a nought is one of them.
        codes = [one for one in tokens if one.text.isdigit() and out[one] != "baud"]
        idle = [one for one in idle if one.text != "0" or len(codes) < 2]
        if not idle:
            return
        speed = next((n for n, one in enumerate(tokens) if out[one] == "baud"), 0)
        out[min(idle, key=lambda one: (one.text == "-", abs(tokens.index(one) - speed)))] = (
            FUNCTIONS
        )

    def _a_speed(self, value: float) -> bool:
        return any(abs(value * self.scale - one) <= 0.012 * one for one in BAUDS)

    def _flag(self, text: str, out: dict[Token, str]) -> str:
        found = next((flag for flag in FLAGS if side_of(flag, text)), "")
        return found if found not in out.values() else ""

    def _next(self, port: Port, token: Token) -> Token | None:
        at = port.tokens.index(token)
        return port.tokens[at + 1] if at + 1 < len(port.tokens) else None

    def _explained(self, token: Token, out: dict[Token, str]) -> str:
        """The flag of a wire that a comment above says a mark stands for: `x if it is inverted`."""
        if len(token.text) > 6:
            return ""
        for note in self.notes:
            found = re.search(rf"(?<![^\W_]){re.escape(token.text)}(?![^\W_])([^,;.]*)", note)
            flag = _flag_of(found[1]) if found is not None else ""
            if flag and flag not in out.values():
                return flag
        return ""

    def _phrases(self, port: Port, out: dict[Token, str]) -> None:
        """Words beside each other that are a function or a flag together: `video control`."""
        for run in self._runs(port, out):
            text = port.line.text[run[0].start : run[-1].end]
            held = {out[one] for one in port.tokens if one not in run}
            alone = [best("port.N.functions", one.plain)[1] >= 0.9 for one in run]
            parts = [out[one] for one in run]
            flag = next((f for f in FLAGS if side_of(f, text.lower())), "") or (
                _flag_of(text)
                if sorted(parts)[-2:-1] == [""] and set(parts) <= {"", *FLAGS}
                else ""
            )
            if flag and flag not in held and best("port.N.functions", text)[1] < 0.85:
                out.update(dict.fromkeys(run, flag))
            elif not all(alone) and best("port.N.functions", text)[1] >= 0.5:
                out.update(dict.fromkeys(run, FUNCTIONS))

    def _runs(self, port: Port, out: dict[Token, str]) -> list[tuple[Token, ...]]:
        """Two to four words with single blanks between them, the longest first."""
        tokens = port.tokens
        found: list[tuple[Token, ...]] = []
        for size in (4, 3, 2):
            for at in range(len(tokens) - size + 1):
                run = tokens[at : at + size]
                kinds = {out[one] for one in run}
                if kinds & {"key", "baud"} or any(
                    port.between(a, b) != " " for a, b in itertools.pairwise(run)
                ):
                    continue
                if not any(set(run) & set(other) for other in found):
                    text = port.line.text[run[0].start : run[-1].end]
                    whole = any(side_of(flag, text.lower()) for flag in FLAGS)
                    flagged = bool(_flag_of(text)) and FUNCTIONS not in kinds
                    carried = best("port.N.functions", text)[1] >= 0.5 and not kinds & set(FLAGS)
                    if whole or flagged or carried:
                        found.append(run)
        return found

    def _by_place(self) -> None:
        """Words that say nothing by themselves are what others in their place are."""
        rows = [
            [t for t in port.tokens if roles[t] != "key"]
            for port, roles in zip(self.ports, self.roles, strict=True)
        ]
        usual = Counter(len(row) for row in rows).most_common(1)[0][0]
        even = [
            (row, roles) for row, roles in zip(rows, self.roles, strict=True) if len(row) == usual
        ]
        if len(even) < 0.6 * len(rows) or len(even) < 2:
            self._functions()
            return
        named = self._named(usual)
        for place in range(usual):
            tokens = [(row[place], roles) for row, roles in even]
            kinds = Counter(roles[token] for token, roles in tokens)
            texts = {token.plain for token, _ in tokens}
            role = named[place] if named else ""
            likeliest = (
                max((kinds[one], one) for one in kinds if one)[1] if set(kinds) - {""} else ""
            )
            if role == "" and likeliest and kinds[likeliest] >= 0.5 * len(tokens):
                role = likeliest
            if (not role and texts <= set(_YES) and len(texts) <= 2) or (
                not role and len(texts) == 2 and all(len(one) <= 5 for one in texts)
            ):
                role = self._left(even)
            if not role or role == "baud":
                continue
            if role in FLAGS and len(texts) > 3:
                continue
            # A code that a legend explains stands in the columns of flags as well.
            free = ("", FUNCTIONS) if named and role in FLAGS and texts <= set(_YES) else ("",)
            for token, roles in tokens:
                if roles[token] in free and (role == FUNCTIONS or role not in roles.values()):
                    roles[token] = role
        self._functions()

    def _left(self, even: Sequence[tuple[list[Token], dict[Token, str]]]) -> str:
        """A flag that no word of the rows says."""
        said = {role for _, roles in even for role in roles.values()}
        return next((flag for flag in FLAGS if flag not in said), "")

    def _named(self, many: int) -> list[str]:
        """What a comment above calls the columns."""
        if not many <= len(self.names) <= many + 2:
            return []
        out = []
        for name in self.names[-many:]:
            about = ideas_of([name])
            flag = _flag_of(name)
            out.append(
                flag or ("baud" if "baud" in about else FUNCTIONS if "functions" in about else "")
            )
        return out

    def _functions(self) -> None:
        """Functions stand together; a word in their midst, or alone in their place, is one."""
        for port, roles in zip(self.ports, self.roles, strict=True):
            run = [one for one in port.tokens if roles[one] == FUNCTIONS]
            if run:
                first, last = port.tokens.index(run[0]), port.tokens.index(run[-1])
                while last + 1 < len(port.tokens) and self._listed(port, roles, last + 1, last):
                    last += 1
                while first and self._listed(port, roles, first - 1, first):
                    first -= 1
                best_run: list[Token] = []
                now: list[Token] = []
                for one in port.tokens[first : last + 1]:
                    joined = not now or _BETWEEN.fullmatch(port.between(now[-1], one))
                    if roles[one] in (FUNCTIONS, "") and joined:
                        now.append(one)
                    else:
                        now = [one] if roles[one] == FUNCTIONS else []
                    best_run = max(best_run, list(now), key=len)
                for one in run:
                    roles[one] = FUNCTIONS if one in best_run else ""
                for one in best_run:
                    roles[one] = FUNCTIONS

    def _listed(self, port: Port, roles: dict[Token, str], at: int, beside: int) -> bool:
        """Whether a word that nobody knows stands in one list with a function."""
        one, two = sorted((port.tokens[at], port.tokens[beside]))
        joint = port.between(one, two).strip()
        return (
            roles[port.tokens[at]] == ""
            and joint in ("+", "/", "|", "&")
            and one.end == two.start - len(port.between(one, two))
        )

    def columns(self) -> list[tuple[int, str]]:
        """The places of rows that all have as many words, and what they are called."""
        many = {len(port.tokens) for port in self.ports}
        if len(many) > 1:
            return []
        count = many.pop()
        names = self.names[-count:] if count <= len(self.names) <= count + 2 else [""] * count
        return list(enumerate(names))

    def column(self, place: int) -> list[Token]:
        return [port.tokens[place] for port in self.ports]

    def spans(self, at: int) -> list[tuple[int, int, str]]:
        """The fields of a row, with anything for words that mean nothing here."""
        port, roles = self.ports[at], self.roles[at]
        fields = [(port.counter.start, port.counter.end, "N")]
        for role in (*SETS, ""):
            own = [one for one in port.tokens if roles[one] == role]
            if not own:
                continue
            if role:
                start, end = own[0].start, own[-1].end
                if port.line.text[start] == '"' and own[-1] is not own[0]:
                    start += 1
                if role == FUNCTIONS:
                    end -= port.line.text[end - 1] == '"' and own[-1] is not own[0]
                if role == "baud" and "k" in own[0].text.lower():
                    end = own[0].end
                elif role == "baud":
                    found = re.match(r"[\d., ]*\d", own[0].text)
                    end = start + found.end() if found else end
                fields.append((start, end, role))
            else:
                fields += [(one.start, one.end, "_") for one in own]
        return fields

    def text(self, at: int, role: str) -> str:
        return next(
            (self.ports[at].line.text[a:b] for a, b, name in self.spans(at) if name == role), ""
        )


def _above(group: Sequence[Port], rows: Sequence[tuple[int, Row]]) -> tuple[list[str], list[str]]:
    """The names of columns in a comment right above the first row, and all comments there."""
    first: dict[int, int] = {}
    for port in group:
        first.setdefault(port.line.sample, port.line.row.line)
    names: list[str] = []
    notes = []
    for sample, row in rows:
        top = first.get(sample)
        if top is None or not (top - 4 <= row.line < top and (row.comment or row.line == top - 1)):
            continue
        notes.append(row.text)
        bare = row.text.strip(' \t#;/*!~-"(){}<>^%')
        found = [one for one in re.split(r"[\s|,;:]+", re.split(r" {3,}(?=.*\d)", bare)[0]) if one]
        found = [one.strip("\"'") for one in found]
        if len(found) >= 2 and any(_flag_of(n) or "baud" in ideas_of([n]) for n in found):
            names = names or found
    return names, notes


def _groups(lines: Iterable[Line], comma: bool) -> list[list[Port]]:
    groups: dict[tuple[str, str], list[Port]] = defaultdict(list)
    titles = Counter((line.sample, line.path) for line in lines)
    for line in lines:
        counted = line.path and re.fullmatch(r"[^\W\d_]+[ ]?\d{1,2}", line.path[-1])
        if counted and titles[line.sample, line.path] == 1:
            # What counts a row is the title of its own that it stands under.
            line = line._replace(text=f"{line.path[-1]}\n{line.text}", path=line.path[:-1])  # noqa: PLW2901
        port = _port(line, comma)
        if port is not None:
            path = "/".join(re.sub(r"\d+", "#", part) for part in line.path)
            head = re.sub(r"\W+", " ", line.text[: port.counter.start]).strip().lower()
            groups[path, head].append(port)
    return list(groups.values())


class Carried(NamedTuple):
    """How ports' functions are written: keys of the field, what is guessed, what nobody knows."""

    keys: dict[str, Any]
    unsure: tuple[str, ...]
    opaque: tuple[str, ...]


def _carried(reading: Reading, legends: Sequence[Legend]) -> Carried | None:
    """What the rows' functions are, by their words or by the codes that a legend explains."""
    many = len(reading.ports)
    texts = [text for at in range(many) if (text := reading.text(at, FUNCTIONS))]
    known = read_functions(texts, None) if texts else []
    if known:
        good = len(set(texts)) - len(known[0].opaque)
        if good >= max(1, 0.4 * len(set(texts))):
            return Carried(known[0].keys, known[0].unsure, known[0].opaque)
    for place, name in reading.columns():
        tokens = reading.column(place)
        code = coded("port.N.functions", [one.text for one in tokens], name, legends)
        if code is not None and tokens and all(one.text.isdigit() for one in tokens):
            for roles, token in zip(reading.roles, tokens, strict=True):
                roles.update({one: "" for one, role in roles.items() if role == FUNCTIONS})
                roles[token] = FUNCTIONS
            return Carried(short(code.keys), code.unsure, ())
    return None


def port_rows(
    lines: Sequence[Line],
    rows: Sequence[tuple[int, Row]],
    comma: bool,
    legends: Sequence[Legend],
) -> tuple[list[Item], set[tuple[int, int]]]:
    """Rows that say what a port carries, and how."""
    items: list[Item] = []
    taken: set[tuple[int, int]] = set()
    for group in _groups(lines, comma):
        counted = Counter((port.line.sample, port.counter.text.lower()) for port in group)
        spoken = [*group[0].line.path[-1:], group[0].line.text[: group[0].counter.start]]
        named = "port" in ideas_of(spoken)
        # One row of a sample counts nothing, but for a port that is called one.
        beside = max(Counter(sample for sample, _ in counted).values())
        single = beside < 2 and "port" not in ideas_of(spoken[-1:])
        if len(group) < 2 or max(counted.values()) > 1 or single:
            continue
        reading = Reading(group, *_above(group, rows))
        carried = _carried(reading, legends)
        if carried is None:
            continue
        speeds = sum(bool(reading.text(at, "baud")) for at in range(len(group)))
        least = 0 if named and len(carried.keys.get("words", ())) > 1 else 0.34
        strange = sum(not role for roles in reading.roles for role in roles.values())
        if speeds < least * len(group) or (
            not speeds and strange > 0.5 * sum(map(len, reading.roles))
        ):
            continue
        items.append(_item(reading, carried, len(items)))
        taken |= {(port.line.sample, port.line.row.line) for port in group}
    return items, taken


def _usual(flag: str, text: str, keys: Iterable[str]) -> str:
    """What a phrase, or a word behind its key, says: `no inversion`, `wires 2`."""
    for key in keys:
        if _flag_of(key) == flag and (
            side := side_of(flag, f"{key}{text}") or side_of(flag, f"{text}{key}")
        ):
            return side
    words = english(text).lower().replace("-", " ").split()
    if len(words) > 1 and _flag_of(text) == flag:
        return "no" if set(words) & (_SIDES[flag][1] | {"no", "not", "non", "never"}) else "yes"
    return ""


def _flag_words(flag: str, texts: Sequence[str], keys: Iterable[str]) -> dict[str, Any]:
    """Words for yes and no of a flag; what says neither is the side that is left, as a guess."""
    sides: dict[str, list[str]] = {}
    strange = []
    for text in dict.fromkeys(texts):
        side = side_of(flag, text.lower()) or _YES.get(text.lower(), "")
        side = side or _YES.get(english(text).lower(), "") or _usual(flag, text, keys)
        if side:
            sides.setdefault(side, []).append(text)
        else:
            strange.append(text)
    unsure = []
    left = [side for side in ("yes", "no") if side not in sides]
    # Most wires are as usual: of two words that nobody knows the more frequent one says no.
    strange.sort(key=texts.count)
    for text in strange:
        side = left.pop(0) if left else "no"
        sides.setdefault(side, []).append(text)
        unsure.append(side)
    words = {side: every[0] if len(every) == 1 else every for side, every in sides.items()}
    return {"words": words, **({"unsure": sorted(set(unsure))} if unsure else {})}


def _counting(ports: Sequence[Port]) -> tuple[dict[str, Any], dict[str, int]]:
    """How ports are counted: the field's keys, and the number of each text."""
    texts = sorted({port.counter.text for port in ports})
    if all(text.isdigit() for text in texts):
        base = 0 if "0" in texts else 1
        return ({"first": 0} if base == 0 else {}), {text: int(text) + 1 - base for text in texts}
    numbers = {text: ord(text.lower()) - 96 for text in texts if not text.isdigit()}
    return {"words": {str(n): text for text, n in numbers.items()}}, numbers


def _item(reading: Reading, carried: Carried, count: int) -> Item:
    ports = reading.ports
    counting, numbers = _counting(ports)
    fields: dict[str, Any] = {"N": counting} if counting else {}
    present: set[str] = set()
    at, expects = [], []
    for place, port in enumerate(ports):
        if port.counter.text not in numbers:
            continue
        spans = reading.spans(place)
        at.append(re.sub(r" ?\n ?", " > ", template(port.line.text, spans)))
        for start, end, role in spans:
            if role not in SETS:
                continue
            present.add(role)
            text = port.line.text[start:end]
            name = SETS[role].replace("N", str(numbers[port.counter.text]), 1)
            if not (role == FUNCTIONS and any(one in text for one in carried.opaque)):
                expects.append(Expect(port.line.sample, name, port.line.row.line, text))
    fields[FUNCTIONS] = dict(carried.keys)
    if carried.unsure:
        fields[FUNCTIONS]["unsure"] = list(carried.unsure)
    for flag in FLAGS:
        texts = [text for place in range(len(ports)) if (text := reading.text(place, flag))]
        if texts:
            fields[flag] = _flag_words(flag, texts, reading.keys)
            if (
                not any(side_of(flag, t.lower()) for t in texts)
                and not reading.names
                and not any(_flag_of(key) == flag for key in reading.keys)
            ):
                fields[flag]["unsure"] = list(fields[flag]["words"])
    if reading.scale > 1:
        fields["baud"] = {"scale": int(reading.scale)}
    return _rows_item(
        f"ports{count}", ports[0].line.path, at,
        {role: name for role, name in SETS.items() if role in present}, fields, expects,
        f"{len(ports)} rows that say what a port carries",
    )  # fmt: skip


__all__ = ["port_rows"]
