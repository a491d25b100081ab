"""What is tried, by number: parts of the demo fleet in all bundled dialects, spoilt at random.

Each number gives the same case for ever, so a long run can be taken up again, and what it finds
can be tried by itself.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from random import Random
from typing import NamedTuple

from cfglint.carry.carry import carry, paste
from cfglint.carry.side import read_side
from cfglint.dialect import bundled
from cfglint.dialect.choose import choose
from cfglint.dialect.load import bundled_names
from cfglint.dump.source import Source

ROOT = Path(__file__).resolve().parents[2]
FLEET = ROOT / "fixtures" / "saltmarsh"
CRAFTS = tuple(sorted(path.name.partition(".")[0] for path in (FLEET / "dumps").iterdir()))
NAMES = bundled_names()
#: A version of each dialect that the fleet's setups can be carried to.
FIRST = {"plain": "7.9", "terse": "2.57", "blocks": "5.6", "nested": "11", "tables": "7.2"}

NUMBERS = (
    "0", "1", "-1", "-0", "+5", "007", "1.5", "1,5", ".5", "5.", "1e3", "1e400", "1e-320", "nan",
    "inf", "-inf", "0x7f", "0b1", "1_000", "255", "256", "65536", "4294967296", "9" * 30, "٣", "²",
    "½", "12345678901234567890.5", "3/4", "1:2", "50%", "5 V", "true", "null",
)  # fmt: skip
JUNK = (
    "", " ", "\t", "\x00", "\x07", "\x0b", "\x0c", "\x1b[2J", "\x1b]0;x\x07", "^[[31m", "\x85",
    "\u2028", "\u00a0", "\ufeff", "\u202e", "µ", "é", "雷", "\U0001f6e9", "\udc80", "\ufffd", "'",
    '"', '""', "`", "\\", "|", "||", "=", "==", ":", "::", ",", ";", "..", "...", "-", "--", "#",
    "//", "/*", "*/", "{", "}", "(", ")", "[", "]", "<", ">", "<<<<<<< a", "=======", ">>>>>>> b",
    "~>", "%", "?", "? no such name", "^ no", "$", "@", "&", "*", "!", "end", "yes", "no", "on",
    "off", "none", "arm", "self-level", "gps", "receiver", "sbus", "crsf", "dshot300", "AETR",
    "AEAR", "a" * 300, "reed " * 40, "stow", "channel 0 spans 1 2 3", "port 99 carries gps at 1",
    "use arm while channel 99 in 0..9999", "board ?, firmware 0", "cfglint: dialect terse",
    "-- cfglint: accept motor/left-on-default-signal because so, by Ines",
    "; cfglint: accept-craft motor because so, by Ines, until 2099-01-01",
    "// cfglint: accept dump/unreadable-line because, by , until never",
)  # fmt: skip


@cache
def fleet_dump(craft: str) -> bytes:
    return (FLEET / "dumps" / f"{craft}.dump.txt").read_bytes()


@cache
def fleet_card(craft: str) -> bytes:
    return (FLEET / "cards" / f"{craft}.toml").read_bytes()


@cache
def lines_in(name: str, craft: str) -> tuple[str, ...]:
    """The lines of a craft's dump in the words of a dialect."""
    source = Source.from_bytes("x.txt", fleet_dump(craft))
    own = choose(source, {one: bundled(one) for one in NAMES})
    if own.id == name:
        return tuple(source.lines)
    return tuple(paste(carry(read_side(source, own), bundled(name), FIRST[name])).split("\n"))


def spoilt(random: Random, lines: list[str], other: tuple[str, ...], times: int) -> list[str]:
    """Lines to which something was done, ``times`` times over."""
    for _ in range(times):
        at = random.randrange(len(lines)) if lines else 0
        line = lines[at] if lines else ""
        what = random.randrange(13)
        if what == 0 and lines:
            del lines[at]
        elif what == 1:
            lines.insert(at, line)
        elif what == 2:
            lines.insert(at, random.choice(JUNK))
        elif what == 3 and other:
            lines.insert(at, random.choice(other))
        elif what == 4 and len(lines) > 1:
            to = random.randrange(len(lines))
            lines[at], lines[to] = lines[to], lines[at]
        elif what == 5 and lines:
            words = line.split(" ")
            words[random.randrange(len(words))] = random.choice(JUNK + NUMBERS)
            lines[at] = " ".join(words)
        elif what == 6 and lines:
            lines[at] = numbered(random, line)
        elif what == 7 and lines:
            place = random.randrange(len(line) + 1)
            lines[at] = line[:place] + random.choice(JUNK) + line[place:]
        elif what == 8 and line:
            place = random.randrange(len(line))
            lines[at] = line[:place] + line[place + 1 + random.randrange(3) :]
        elif what == 9 and line:
            lines[at] = line[: random.randrange(len(line))]
        elif what == 10 and at + 1 < len(lines):
            lines[at : at + 2] = [line + random.choice(("", " ", ",")) + lines[at + 1]]
        elif what == 11 and lines:
            place = random.randrange(len(line) + 1)
            lines[at : at + 1] = [line[:place], line[place:]]
        elif lines:
            lines[at] = random.choice(("  ", "\t", "% ", "~> ", "+", "-")) + line
    return lines


def numbered(random: Random, line: str) -> str:
    """A line with another number in place of one of its own."""
    starts = [at for at, char in enumerate(line) if char.isdigit()]
    if not starts:
        return line
    at = random.choice(starts)
    start, end = at, at
    while start and line[start - 1] in "0123456789.":
        start -= 1
    while end < len(line) and line[end] in "0123456789.":
        end += 1
    new = random.choice(NUMBERS) if random.random() < 0.5 else str(random.randrange(-10, 3000))
    return line[:start] + new + line[end:]


def encoded(random: Random, lines: list[str]) -> bytes:
    text = random.choice(("\n",) * 6 + ("\r\n", "\r")).join(lines)
    text += random.choice(("\n", "\n", ""))
    how = random.randrange(24)
    if how == 0:
        return b"\xff\xfe" + text.encode("utf-16-le", "surrogatepass")
    if how == 1:
        return b"\xfe\xff" + text.encode("utf-16-be", "surrogatepass")
    if how == 2:
        return b"\xef\xbb\xbf" + text.encode("utf-8", "surrogateescape")
    if how == 3:
        return text.encode("latin-1", "replace")
    data = text.encode("utf-8", "surrogateescape")
    if how == 4 and data:
        raw = bytearray(data)
        raw[random.randrange(len(raw))] = random.randrange(256)
        return bytes(raw)
    if how == 5:
        return data[: random.randrange(len(data) + 1)]
    return data


class DumpCase(NamedTuple):
    """A dump, what reads it (a dialect's name), and the craft whose card it gets (or none)."""

    data: bytes
    dialect: str
    card: str


def dump_case(number: int) -> DumpCase:
    random = Random(f"dump {number}")
    name, craft = random.choice(NAMES), random.choice(CRAFTS)
    whole = lines_in(name, craft)
    if random.random() < 0.05:
        lines = [random.choice(JUNK + NUMBERS) for _ in range(random.randrange(8))]
    else:
        start = random.randrange(len(whole))
        lines = list(whole[start : start + random.choice((1, 2, 3, 4, 5, 8))])
        lines += random.sample(whole, random.choice((0, 0, 1, 2)))
        if random.random() < 0.8:
            lines.insert(0, whole[0])
    other = lines_in(random.choice(NAMES), random.choice(CRAFTS))
    lines = spoilt(random, lines, other, random.choice((0, 1, 1, 1, 2, 2, 3, 5)))
    reads = name if random.random() < 0.9 else random.choice(NAMES)
    return DumpCase(encoded(random, lines), reads, random.choice(("", "", *CRAFTS)))


# ------------------------------------------------------------------ command lines


class CommandCase(NamedTuple):
    """The words after ``cfglint``, the files where it runs, and what it is given to read."""

    words: tuple[str, ...]
    files: dict[str, bytes]
    stdin: bytes
    encoding: str


ACCEPTED = """\
[[accept]]
# line 4: said once
rule = "motor/left-on-default-signal"
file = "dumps/a.dump.txt"
print = "0123456789abcdef0123456789abcdef"
reason = "the ESCs of this one are brushed"
by = "Ines"
until = 2031-05-17

[[accept]]
rule = "dump/unknown-setting"
craft = "a"
line = "vl:11:63"
reason = "so"
by = "Tomas"
"""
CONFIG = """\
[hangar]
name = "Saltmarsh"
rule_files = ["rules/*.toml"]
[dialects]
mine = "mine.toml"
[[dumps]]
files = "dumps/a.dump.txt"
card = "cards/{stem}.toml"
craft = "{stem}"
dialect = "mine"
[[dumps]]
files = ["dumps/*.dump.txt"]
extent = "full"
[lint]
floor = "fix"
[rules]
"modes/near-a-range-edge" = { grade = "advise" }
"battery/warns-too-late" = "off"
[[accept]]
rule = "dump/value-not-understood"
craft = "a"
setting = "motor.poles"
reason = "so"
by = "Ines"
"""
#: What may stand in a TOML file where something else should.
TOML = (
    *NUMBERS[:14], "9" * 400, "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "true", "false",
    '""', '"\\u0000"', '"\\u001b[2J"', "'*'", '"**/" ', '"../x"',
    '"/dev/null"', '"{stem}"', '"a\\nb"',
    '"arm"', '"gps"', '"motor.signal"', '"port.N.baud"', '"let {name} be {value}"', '"{"',
    '"("', '".*"',
    '"[ > "', '"x" # y', "[]", "[[]]", "{}", "[1, 2]", '["a", "a"]', '["", "\U0001f6e9"]',
    "{ a = 1 }",
    "{ scale = 0 }", "{ at = '', scale = 1e-320 }", "{ at_least = 5, at_most = 4 }", '"""\n"""',
    '"' + "x" * 3000 + '"', "[" * 60 + "]" * 60,
)  # fmt: skip
KEYS = (
    "a", '""', '"motor.signal"', '"port.N.baud"', '"arm"', "a.b", "a" + ".a" * 90, "scale", "at",
    "files", "rule", "id", "craft", "values", "unsure", "sure", "from", "until", "setting", "must",
)  # fmt: skip
#: Command lines, with the weight of each; ``A`` and ``B`` are dumps.
COMMANDS: tuple[tuple[int, str], ...] = (
    (8, "lint"), (8, "lint A"), (6, "lint --as sarif"), (3, "lint -q dumps"), (3, "lint A --diff"),
    (3, "lint --sarif out.sarif --profile hosted"), (2, "lint --explain-config"),
    (3, "lint --show-accepted --all --width 40"), (2, "lint - --stdin-filename A"),
    (3, "lint A --dialect mine.toml"), (3, "lint A --card cards/a.toml --floor ground"),
    (3, "lint A --rules rules/r.toml --only marsh"), (1, "lint --config cfglint.toml --width 5"),
    (2, "lint --only receiver --without battery"), (2, "compare A B --different-craft"),
    (2, "compare A B --as json"), (1, "compare A B --as sarif --all"),
    (1, "compare - B --as markdown"), (3, "carry A --to DIALECT"),
    (1, "carry A --to DIALECT -o out"),
    (2, "carry A --to VERSION --as json"), (1, "carry A --to VERSION --as sarif"),
    (1, "carry A --to DIALECT --as markdown --show by-hand"), (2, "show A"), (2, "show A --tree"),
    (2, "show A --as json"), (4, "refused log.txt"), (2, "refused log.txt --as json"),
    (1, "refused log.txt --as sarif --to VERSION"), (1, "teach A"), (1, "teach A -o new.toml"),
    (3, "dialect check mine.toml"), (2, "dialect check mine.toml A --as markdown"),
    (3, "dialect coverage mine.toml A B"), (2, "dialect coverage mine.toml A --as json"),
    (2, "dialect test mine.toml"), (1, "rules"), (1, "rules --rules rules/r.toml --as json"),
    (3, "switches A"), (2, "switches A --as svg"), (2, "switches A --as json"), (3, "bench A"),
    (2, "bench A --as markdown --width 30"), (1, "why RULE"), (1, "why RULE --as markdown"),
    (3, "accept --all-now --reason so --by Ines --until 2031-05-17"), (3, "accept --prune"),
    (2, "start hangar new --dump A --no-ask --hook none --ci none"),
    (1, "start rule tide/new --in k --as toml"), (1, "COMMAND --help"),
)  # fmt: skip
EXTRA = (
    "--as", "json", "sarif", "svg", "text", "--width", "0", "1", "12", "-1", "99999999", "--colour",
    "always", "never", "-", "--", "", ".", "..", "dumps", "dumps/a.dump.txt", "nowhere", "cards",
    "mine.toml", "cfglint.toml", "accepted.toml", "log.txt", "--dialect", "plain", "terse",
    "--card",
    "cards/a.toml", "--only", "--without", "motor", "receiver/no-port", "--floor", "fix", "--quiet",
    "--all", "--debug", "--to", "7.10", "2.65", "6.3", "--from", "--rules", "rules", "-h", "-V",
    "--stdin-filename", "é", "\x1b[2J", "\x00", "\udcff", "a" * 5000, "--rule-time", "0.1", "--as=",
    "--batch", "3", "--show", "--until", "2031-05-17", "1999-01-01", "--reason", "--by", "--at",
    "--sheet", "--name", "--language", "de", "--set", "cells=4", "--switch", "--no-ask", "--force",
)  # fmt: skip
ENCODINGS = ("utf-8", "utf-8", "cp1252", "latin-1", "ascii")


@cache
def shipped(path: str) -> tuple[str, ...]:
    """The lines of a file of ours, a dialect's with its first two examples only."""
    text = (ROOT / path).read_text(encoding="utf-8")
    return tuple("[[examples]]".join(text.split("[[examples]]")[:3]).split("\n"))


def small_dump(random: Random, name: str, craft: str, spoil: int) -> bytes:
    whole = lines_in(name, craft)
    start = random.randrange(1, len(whole))
    lines = [whole[0], *whole[start : start + random.randrange(4, 22)]]
    other = lines_in(random.choice(NAMES), random.choice(CRAFTS))
    lines = spoilt(random, lines, other, spoil)
    return encoded(random, lines) if spoil else "\n".join(lines).encode()


def pasted(random: Random, name: str, craft: str) -> bytes:
    """A log: lines entered at a prompt, some of them refused."""
    whole = lines_in(name, craft)
    start = random.randrange(len(whole))
    lines = [whole[0]]
    for line in whole[start : start + random.randrange(4, 22)]:
        lines.append(random.choice(("% ", "", "~> ", ">> ")) + line)
        if random.random() < 0.3:
            lines.append(random.choice(("? five wanted", "^ no", "!! refused", "? no such name")))
    return encoded(random, spoilt(random, lines, whole, random.randrange(4)))


def text_file(random: Random, lines: tuple[str, ...], spoil: int) -> bytes:
    """A TOML file; most of what is done to it leaves it TOML."""
    kept = list(lines)
    if spoil and random.random() < 0.3:
        return encoded(random, spoilt(random, kept, lines, spoil))
    for _ in range(spoil):
        at = random.choice([row for row, line in enumerate(kept) if "=" in line] or [0])
        key, _, value = kept[at].partition("=")
        what = random.randrange(6)
        if what == 0:
            kept[at] = numbered(random, kept[at])
        elif what == 1:
            del kept[at]
        elif what == 2:
            kept[at] = f"{random.choice(KEYS)} ={value}"
        elif what == 3:
            kept[at] = kept[at].replace(random.choice(value.split() or [" "]), "", 1)
        else:
            kept[at] = f"{key}= {random.choice(TOML)}"
    return "\n".join(kept).encode("utf-8", "surrogateescape")


def command_case(number: int) -> CommandCase:
    random = Random(f"command {number}")
    name, craft = random.choice(NAMES), random.choice(CRAFTS)
    spoil = dict.fromkeys(("a", "b", "card", "config", "dialect", "rules", "accepted"), 0)
    # What is wrong with a hangar's own files ends a run early: not too often.
    often = ("a", "a", "a", "b", "card", "card", "dialect", "rules", "config", "accepted")
    for one in random.sample(often, random.choice((1, 1, 2, 3))):
        spoil[one] = random.choice((1, 1, 2, 4))
    files = {
        "dumps/a.dump.txt": small_dump(random, name, craft, spoil["a"]),
        "dumps/b.dump.txt": small_dump(random, name, craft, spoil["b"]),
        "cards/a.toml": text_file(
            random, tuple(fleet_card(craft).decode().split("\n")), spoil["card"]
        ),
        "log.txt": pasted(random, name, craft),
        "mine.toml": text_file(random, shipped(f"grammars/{name}.toml"), spoil["dialect"]),
        "rules/r.toml": text_file(
            random, shipped("fixtures/saltmarsh/rules/marsh.toml"), spoil["rules"]
        ),
        "accepted.toml": text_file(random, tuple(ACCEPTED.split("\n")), spoil["accepted"]),
    }
    (line,) = random.choices([row for _, row in COMMANDS], [weight for weight, _ in COMMANDS])
    if "start hangar" not in line and random.random() < 0.85:
        config = CONFIG
        if random.random() < 0.7:
            config = CONFIG.replace('[dialects]\nmine = "mine.toml"\n', "")
            config = config.replace('dialect = "mine"\n', "")
        files["cfglint.toml"] = text_file(random, tuple(config.split("\n")), spoil["config"])
    words = line.split(" ")
    told = {
        "A": "dumps/a.dump.txt", "B": "dumps/b.dump.txt",
        "DIALECT": random.choice(NAMES), "VERSION": random.choice((*FIRST.values(), "7.10", "99")),
        "RULE": random.choice(("motor/left-on-default-signal", "modes/permit-missing", "moter")),
        "COMMAND": random.choice(("lint", "carry", "teach", "start")),
    }  # fmt: skip
    words = [told.get(word, word) for word in words]
    if random.random() < 0.25:
        for _ in range(random.choice((1, 1, 2, 3))):
            at = random.randrange(len(words) + 1)
            kind = random.randrange(4)
            if kind == 0 and words:
                del words[min(at, len(words) - 1)]
            elif kind == 1 and words:
                words[min(at, len(words) - 1)] = random.choice(EXTRA)
            else:
                words.insert(at, random.choice(EXTRA))
    stdin = files["dumps/a.dump.txt"] if random.random() < 0.8 else b""
    return CommandCase(tuple(words), files, stdin, random.choice(ENCODINGS))
