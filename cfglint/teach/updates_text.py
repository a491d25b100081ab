"""The drafted block of ``[[changes]]`` as text, and the sheet with what is left open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint import tomlwrite as toml
from cfglint.carry.meaning import consequence
from cfglint.teach.updates_proof import change_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.teach.updates_model import Differs, Row

#: At most so many doubtful rows of a kind, and so many values that differ, are written out.
_MOST = 40
_PLAIN = ("rename", "remove", "boards", "modes", "traits")
_HEAD = """\
# What two dumps do not tell of an update. Write each answer behind its `=`; what you do not know
# stays empty. Read the makers' notes, not the dumps, before you answer.
#
#   name OLD = what the old name is called now, as it stands here, or `-` if it went
#   value SETTING = what the setting truly is in the first dump after, in the unit named
#   word TABLE WORD = the neutral word that it means
#   default SETTING = what holds now without a line, or `-` if that is as before
#   board OLD = `yes` if it is the same board by another name, else `no`
#   sense receiver.inverted = `same`, `absolute` or `relative`
#
# An answer that contradicts the dumps is asked again.
"""


def open_questions(rows: Sequence[Row], reopened: Sequence[str]) -> dict[str, str]:
    """Question → what it is about, the gravest first."""
    asked: dict[str, list[Row]] = {}
    for row in rows:
        if row.ask and (not row.live or row.kind == "doubt") and not row.answered:
            asked.setdefault(row.ask, []).append(row)
    weight = {"ground": 0, "fix": 1, "advise": 2, None: 3}
    order = sorted(asked, key=lambda ask: weight[consequence(asked[ask][0].setting)[0]])
    found = {}
    for ask in order:
        first = asked[ask][0]
        offer = f"{_offer(first)}: " if first.now else ""
        again = "what was answered contradicts the dumps; " if ask in reopened else ""
        rival = f"; or else {first.rival}" if first.rival else ""
        found[ask] = f"{again}{offer}{first.reason}{rival}"
    return {
        **found,
        **{ask: "what was answered contradicts the dumps" for ask in reopened if ask not in found},
    }


def _offer(row: Row) -> str:
    return f"{row.name} → {row.now}" if row.kind in ("rename", "boards", "modes") else row.now


def sheet(questions: Mapping[str, str], answers: Mapping[str, str]) -> str:
    """The sheet, with what was answered before."""
    out = [_HEAD]
    for ask, answer in answers.items():
        if ask not in questions:
            out += [f"{ask} = {answer}", ""]
    for ask, about in questions.items():
        out += [*toml.comment(about), f"{ask} =", ""]
    return "\n".join(out)


def parse_sheet(text: str) -> tuple[dict[str, str], list[tuple[int, str]]]:
    """The answers by their questions; lines that are no question, with their numbers."""
    found: dict[str, str] = {}
    wrong = []
    for number, line in enumerate(text.splitlines(), 1):
        ask, equal, answer = line.strip().partition(" =")
        if not ask or ask.startswith("#"):
            continue
        if not equal or ask.split()[0] not in (
            "name",
            "value",
            "word",
            "default",
            "board",
            "sense",
        ):
            wrong.append((number, line))
        elif answer.strip():
            found[ask] = answer.strip()
    return found, wrong


def block(
    at: str,
    since: str,
    rows: Sequence[Row],
    differs: Sequence[Differs],
    notes: Sequence[str],
    versions: str,
    *,
    joins: bool,
) -> str:
    """The text of the block; it holds comments alone where no row is likely enough."""
    told = f"from {since} to {at}" if since else f"up to {at}"
    out = toml.comment(
        f"What changed {told}, drafted from dumps before and after. The number before each "
        "reason says how likely the row is (1 is certain, which only answers are): look at every "
        "one of them."
    )
    for note in notes:
        out += toml.comment(f"Note: {note}.")
    if versions:
        out += toml.comment(f"In [dialect] write: versions = {toml.text(versions)}")
    if joins:
        out += toml.comment(
            f"This file has a row of {at} already: put what stands here into that one."
        )
    if any(row.live for row in rows):
        out += _table(at, [row for row in rows if row.live])
    rest = sorted((row for row in rows if not row.live), key=lambda row: -row.confidence)
    if rest:
        out += ["", *toml.comment("Not live, since too doubtful or yours to answer:")]
    for row in rest[:_MOST]:
        out += ["#", *_reason(row), *([f"# {_as_row(row)}"] if row.now else [])]
    out += _left_out(len(rest))
    if differs:
        words = "With these rows the dumps still differ in (set by hand, lost, or a new default; "
        out += ["", *toml.comment(f"{words}nobody can tell from two dumps):")]
        for one in differs[:_MOST]:
            out += toml.comment(f"  {one.kind}: {one.name}: {one.was} → {one.now}", width=400)
        out += _left_out(len(differs))
    return "\n".join(out) + "\n"


def _table(at: str, rows: Sequence[Row]) -> list[str]:
    change = change_of(at, rows)
    out = ["", "[[changes]]", f"at = {toml.text(at)}"]
    out += ['# about = "what a person should know of this update, in a sentence"']
    if "kept" in change:
        out += toml.comment("New names without a meaning that is known here.")
        out.append(f"kept = {toml.value(change['kept'])}")
    for kind in _PLAIN:
        mine = [row for row in rows if row.kind == kind]
        out += ["", f"[changes.{kind}]"] if mine else []
        for row in mine:
            out += [*_reason(row), f"{toml.key(row.name)} = {toml.value(change[kind][row.name])}"]
    out += ["", "[changes.map]"] if "map" in change else []
    for name, keys in change.get("map", {}).items():
        for row in rows:
            if row.setting == name and row.keys:
                out += _reason(row)
        out.append(f"{toml.key(name)} = {toml.value(keys)}")
    return out


def _reason(row: Row) -> list[str]:
    words = f"{row.confidence:.2f}: {row.reason}" + (f"; {row.proof}" if row.proof else "")
    return toml.comment(words) + (toml.comment(f"or: {row.rival}") if row.rival else [])


def _as_row(row: Row) -> str:
    if row.kind in _PLAIN:
        return f"{row.kind}: {toml.key(row.name)} = {toml.value(row.now)}"
    return f"map: {toml.key(row.setting)} = {toml.value(dict(row.keys))}"


def _left_out(number: int) -> list[str]:
    return toml.comment(f"… and {number - _MOST} more") if number > _MOST else []
