"""Random dumps of the bundled dialects: real lines in any order, and everything else."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from hypothesis import strategies as st

from cfglint.carry.side import Side, read_side
from cfglint.dialect import bundled
from cfglint.dump.source import Source

FLEET = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh"

#: Versions on both sides of each dialect's change.
VERSIONS = {"plain": ("7.9", "7.10"), "terse": ("2.57", "2.65"), "blocks": ("5.6", "6.3")}
IDENTITY = {
    "plain": "-- board {board}, firmware {version}, {extent}",
    "terse": "; unit {board} rev {version} {extent}",
    "blocks": "// unit {board} build {version} as {extent}",
}
EXTENTS = {
    "plain": ("full listing", "changes only"),
    "terse": ("whole", "part"),
    "blocks": ("everything", "changes"),
}
BOARDS = {"plain": "SLATE", "terse": "COCKLE", "blocks": "KETTLE"}

#: Lines that the fleet's dumps do not have.
MORE = {
    "plain": """\
let motor-signal be dshot900
let receiver-flip be yes
let lost-link-wait be 1.5
let loss-wait be 1.5
let gyro-slow be 3
let gyro-calm be 3
forget least-spin
forget receiver-port
forget arm
forget nothing-known
channel 3 spans 990 nine 2010
channel 3 spans 990 1490 2010
channel 20 spans 990 1490 2010
port 7 carries receiver at 100000
use arm along with self-right
use lights only while channel 9 in 830..1190
on loss channel 4 becomes hold
>> let keep-log be yes
!! not taken: no such word
list ports
stow
what is this
-- a note""",
    "terse": """\
pf:1
pf:2
pf:3
vl:95:2
vl:95:1
vl:13:225
vl:11:74
vl:33:1
vl:52:1200
vl:54:1200
vl:203:1
vl:202:1/3
md:31:86:2:5:46
md:47:47:2:5:46
md:x:52:5:7:72
ml:46:72
pt:13:16:27
pi:13:1:0
fs:4:k
? no such number
zz:1
; a note
wr:1""",
    "blocks": """\
drive {
radio {
axis 3 {
socket 9 {
when armed {
pack {
silence {
}
talk: multi
talk: sbus
with turned
without turned
- talk
- turned
- armed
idle-permille: 40
after-ms: 300
wait-ms: 300
low: 1010
low: lots
channel 5 from 880 to 1190
and channel 6 from 825 to 1235
together with level
calm-gyro: 3
lens: 1
^ not now
store
// a note""",
}


class Drawn(NamedTuple):
    dialect: str
    version: str
    text: str

    def side(self) -> Side:
        source = Source.from_text("drawn.txt", self.text)
        return read_side(source, bundled(self.dialect), version=self.version)


def fleet() -> list[tuple[str, Path]]:
    """Every dump of the demo fleet with its dialect."""
    found = []
    for path in sorted(FLEET.glob("*/*.dump.txt")):
        first = path.read_text(encoding="utf-8").lstrip()
        name = next(key for key, mark in (("plain", "--"), ("terse", ";"), ("blocks", "//"))
                    if first.startswith(mark))  # fmt: skip
        found.append((name, path))
    return found


def lines_of(dialect: str) -> list[str]:
    pool = MORE[dialect].split("\n")
    for name, path in fleet():
        if name == dialect:
            pool += path.read_text(encoding="utf-8").split("\n")[1:]
    return list(dict.fromkeys(pool))


POOLS = {name: lines_of(name) for name in VERSIONS}


@st.composite
def dumps(draw: st.DrawFn, dialect: str = "") -> Drawn:
    """A dump whose lines are drawn one by one, or a run of a real one with others put in."""
    name = dialect or draw(st.sampled_from(sorted(VERSIONS)))
    version = draw(st.sampled_from(VERSIONS[name]))
    first = IDENTITY[name].format(
        board=BOARDS[name], version=version, extent=draw(st.sampled_from(EXTENTS[name]))
    )
    line = st.one_of(
        st.sampled_from(POOLS[name]),
        st.sampled_from(MORE[name].split("\n")),
        st.text(st.characters(exclude_characters="\r\n", exclude_categories=["Cs"]), max_size=12),
    )
    pool = POOLS[name]
    start = draw(st.integers(0, len(pool) - 1))
    body = pool[start : start + draw(st.integers(0, 30))]
    for extra in draw(st.lists(line, max_size=25)):
        body.insert(draw(st.integers(0, len(body))), extra)
    end = draw(st.sampled_from(["\n", "\r\n"]))
    # A dump may have lost its first lines, and the person who carries it knows the version.
    top = [first] if draw(st.integers(0, 4)) else []
    return Drawn(name, version, end.join([*top, *body]) + draw(st.sampled_from(["", end])))


@st.composite
def targets(draw: st.DrawFn) -> tuple[str, str]:
    name = draw(st.sampled_from(sorted(VERSIONS)))
    return name, draw(st.sampled_from(VERSIONS[name]))
