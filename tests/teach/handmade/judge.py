"""How well `teach` drafts dialects that nobody tuned it to: each setting and mode, judged.

``python tests/teach/handmade/judge.py`` drafts a dialect for each folder of ``held``, once
without answers and once with at most eight of them, and prints a table.  Dialects in ``open`` may
be looked at when teaching is changed (``--open``, ``--detail``), of those in ``held`` only totals.
The draft is made from ``sample.dump.txt`` alone (``--both``: from both dumps) and judged on both
dumps, of which the truth is what ``truth.toml``, written by hand with the dumps, reads in them.
``--by-setting`` adds what came of each setting and mode over all dialects, ``--detail`` prints
what is not right in the open ones, and the questions with their answers.

A setting is its family (``channel.N.low_us`` is one) and a verdict is about all dumps at once:

- ``right``: whatever the truth sets, the draft reads the same, and it sets nothing else
- ``wrong``: some value differs from the truth's, or the truth has none, and nothing warns of it
- ``marked``: as wrong, but every such value is marked as not sure
- ``missing``: nothing differs, and something that the truth sets is not read
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.model import show
from cfglint.craft.settings import MODES, SETTINGS, family, show_number
from cfglint.dialect import Dialect, load_dialect, read_craft
from cfglint.dump.source import Source

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from cfglint.craft.model import Craft, ModeRange
    from cfglint.dialect.codec import Codec
    from cfglint.teach.model import Draft, Question

HERE = Path(__file__).resolve().parent
#: Dialects that may be looked at, and those of which only totals are.
OPEN, HELD = HERE / "open", HERE / "held"
DUMPS = ("sample.dump.txt", "other.dump.txt")
VERDICTS = ("right", "wrong", "marked", "missing")
MOST = 8

_STICKS = re.compile(r"(?i)(?=.*a)(?=.*e)(?=.*t)(?=.*r)[aetr]{4}(?![a-z])")

Verdict = Literal["right", "wrong", "marked", "missing"]


class Judgement(NamedTuple):
    """What came of one setting's family or one mode (``mode arm``)."""

    subject: str
    verdict: Verdict
    note: str = ""


class Truth(NamedTuple):
    """A folder's dumps, the true dialect, and the craft that it reads in each dump."""

    name: str
    dialect: Dialect
    sources: tuple[Source, ...]
    crafts: tuple[Craft, ...]


def folders(half: Path = OPEN) -> list[Path]:
    """The folders of a half with a dialect to be taught, by name."""
    return sorted(path.parent for path in half.glob("*/truth.toml"))


def truth_of(folder: Path) -> Truth:
    """The truth about a folder's dumps.  Raises Problem(s) if its dialect file is wrong."""
    dialect = load_dialect("truth.toml", (folder / "truth.toml").read_bytes())
    sources = tuple(Source.from_bytes(name, (folder / name).read_bytes()) for name in DUMPS)
    return Truth(
        folder.name, dialect, sources, tuple(read_craft(source, dialect) for source in sources)
    )


# -- judging ----------------------------------------------------------------------------------


def same(one: Any, other: Any) -> bool:
    """Whether two values are one; numbers may differ by what rounding does.

    Letters of the sticks are the same however large they are written, and whatever follows them.
    """
    if isinstance(one, str) and isinstance(other, str) and _STICKS.match(one):
        return one[:4].upper() == other[:4].upper()
    if isinstance(one, float | int) and isinstance(other, float | int):
        # A flag is no number, though Python has it that True is 1.
        return isinstance(one, bool) == isinstance(other, bool) and abs(one - other) < 1e-6 * max(
            1.0, abs(one)
        )
    return bool(one == other)


def _verdict(bad: Sequence[tuple[str, bool]], missing: Sequence[str]) -> tuple[Verdict, str]:
    """A verdict from notes on what is wrong (and whether it is sure) and what is missing."""
    if bad:
        sure = [note for note, is_sure in bad if is_sure]
        return ("wrong", sure[0]) if sure else ("marked", bad[0][0])
    return ("missing", missing[0]) if missing else ("right", "")


def judge_settings(crafts: Sequence[Craft], truths: Sequence[Craft]) -> list[Judgement]:
    """A judgement for each family that the truth or the draft sets, in the table's order."""
    bad: dict[str, list[tuple[str, bool]]] = {}
    missing: dict[str, list[str]] = {}
    seen = set()
    for got, true in zip(crafts, truths, strict=True):
        for name in [*true.values, *(name for name in got.values if name not in true.values)]:
            seen.add(family(name))
            ours, theirs = got.get(name), true.get(name)
            note = f"{true.file}: {name} is {theirs}, read as {ours}"
            if ours.known and not (theirs.known and same(ours.value, theirs.value)):
                bad.setdefault(family(name), []).append((note, ours.sure))
            elif not ours.known and theirs.known:
                missing.setdefault(family(name), []).append(note)
    return [
        Judgement(name, *_verdict(bad.get(name, ()), missing.get(name, ())))
        for name in SETTINGS
        if name in seen
    ]


def _ranges(craft: Craft, mode: str) -> list[tuple[int, float, float, str]]:
    return sorted(
        (row.channel, round(row.low_us, 3), round(row.high_us, 3), row.join)
        for row in craft.ranges_of(mode)
    )


def judge_modes(
    crafts: Sequence[Craft], truths: Sequence[Craft], unsure: Iterable[str] = ()
) -> list[Judgement]:
    """A judgement for each mode with ranges; ``unsure`` are the draft's unconfirmed mappings."""
    doubts = set(unsure)
    found = []
    for mode in MODES:
        sure = not doubts & {"range", "mode", f"mode {mode}"}
        bad: list[tuple[str, bool]] = []
        missing: list[str] = []
        seen = False
        for got, true in zip(crafts, truths, strict=True):
            ours, theirs = _ranges(got, mode), _ranges(true, mode)
            seen = seen or bool(ours or theirs)
            note = f"{true.file}: {mode} is {theirs}, read as {ours}"
            if ours and ours != theirs:
                bad.append((note, sure))
            elif not ours and theirs:
                missing.append(note)
        if seen:
            found.append(Judgement(f"mode {mode}", *_verdict(bad, missing)))
    return found


def judge(draft: Draft, folder: Path) -> list[Judgement]:
    """A judgement for each setting's family and each mode of a folder's dumps."""
    truth = truth_of(folder)
    crafts = [read_craft(source, draft.dialect) for source in truth.sources]
    unsure = [guess.setting for guess in draft.guesses if not guess.sure]
    return [
        *judge_settings(crafts, truth.crafts),
        *judge_modes(crafts, truth.crafts, unsure),
    ]


def left_over(dialect: Dialect, sources: Iterable[Source]) -> int:
    """How many lines of some dumps a dialect leaves stray, misread or unreadable."""
    crafts = [read_craft(source, dialect) for source in sources]
    return sum(len(craft.strays) + len(craft.misread) + len(craft.unreadable) for craft in crafts)


# -- the owner, who knows the truth -------------------------------------------------------------


def answer(question: Question, truth: Truth, several: bool = False) -> str | None:
    """What an owner who knows the truth answers; None where there is nothing one could say.

    ``several`` says that the draft is made from several samples, so lines need their file.
    """
    if question.kind == "line":
        return _answer_line(question, truth, several)
    if question.kind == "words":
        return _answer_words(question, truth)
    if not question.shown:
        return None
    shown = question.shown[0]
    craft = next((craft for craft in truth.crafts if craft.file == shown.file), None)
    if craft is None:
        return None
    if question.kind == "range":
        rows = [row for row in craft.mode_ranges if row.span.line == shown.line]
        return _say_range(rows[0]) if rows else "none"
    for name, value in craft.values.items():
        if family(name) == family(question.setting) and (
            value.line_span is not None and value.line_span.line == shown.line
        ):
            return _say_value(name, value.value)
    return "none"


def _say_value(name: str, value: Any) -> str:
    """A neutral value as an answer says it: without its unit."""
    if isinstance(value, float | int) and not isinstance(value, bool):
        return show_number(value)
    return show(name, value)


def _say_range(row: ModeRange) -> str:
    low, high = show_number(row.low_us), show_number(row.high_us)
    return f"channel {row.channel}, {low} to {high}"


def _setting_lines(truth: Truth, setting: str) -> list[tuple[str, int]]:
    """The file and number of each line that sets a setting, or a mode's ranges, in order."""
    found = []
    for craft in truth.crafts:
        if setting == "range" or setting.startswith("mode"):
            mode = setting.removeprefix("range").removeprefix("mode").removeprefix("s").strip()
            rows = [row for row in craft.mode_ranges if mode in ("", row.mode)]
            found += [(craft.file, row.span.line) for row in rows]
        else:
            found += [
                (craft.file, value.line_span.line)
                for name, value in craft.values.items()
                if family(name) == family(setting) and value.line_span is not None
            ]
    return found


def _answer_line(question: Question, truth: Truth, several: bool) -> str:
    lines = _setting_lines(truth, question.setting)
    if not several:
        lines = [(file, line) for file, line in lines if file == DUMPS[0]]
    if not lines:
        return "none"
    shown = [(row.file, row.line) for row in question.shown if (row.file, row.line) in lines]
    file, line = (shown or lines)[0]
    return f"{file}:{line}" if several else str(line)


def _answer_words(question: Question, truth: Truth) -> str | None:
    known = _known_words(question, truth)
    said = [f"{word} = {known[word]}" for word in question.words if word in known]
    return ", ".join(said) or None


def _known_words(question: Question, truth: Truth) -> Mapping[str, str]:
    """Written word → neutral word, as the true dialect has them and the dumps show them."""
    known: dict[str, str] = {}
    setting = question.setting
    modes = setting in ("range", "mode", "modes") or setting.startswith("mode ")
    for craft in () if modes else truth.crafts:
        for name, value in craft.values.items():
            if family(name) == family(setting) and value.written:
                known[value.written] = _say_value(name, value.value)
    for codec in _codecs(setting, truth, modes):
        known |= codec.back
        if not modes and codec.none and SETTINGS[family(setting)].kind == "words":
            known[codec.none] = "nothing"
        if not modes and SETTINGS[family(setting)].kind == "flag":
            known |= dict.fromkeys(codec.yes, "yes") | dict.fromkeys(codec.no, "no")
        for word, bit in codec.mask.items():
            # Asked by the bit's number, or else by what it adds to the sum.
            known[str(bit) if "bit" in question.text.lower() else str(1 << bit)] = word
    return known


def _codecs(setting: str, truth: Truth, modes: bool) -> list[Codec]:
    """How the true dialect writes a setting's values, or the modes."""
    found = []
    for craft in truth.crafts:
        tables = truth.dialect.at(str(craft.get("craft.firmware").value or ""))
        for form in tables.forms:
            if modes:
                if form.makes == "range" and "mode" in form.codecs:
                    found.append(form.codecs["mode"])
            else:
                found += [
                    form.codecs[field]
                    for field, name in form.sets.items()
                    if name == family(setting) or name == setting
                ]
        if not modes:
            found += [row.codec for row in tables.entries if family(row.setting) == family(setting)]
    return found


class Taught(NamedTuple):
    """A draft, and the questions that were answered on the way to it."""

    draft: Draft
    asked: tuple[tuple[Question, str], ...]


def taught(
    truth: Truth, most: int, *, both: bool = False, teach: Callable[..., Draft] | None = None
) -> Taught:
    """A draft made with at most ``most`` answers, to its most consequential open questions."""
    if teach is None:
        from cfglint.teach import teach as teach_it

        teach = teach_it
    sources = list(truth.sources if both else truth.sources[:1])
    answers: dict[str, str] = {}
    asked: list[tuple[Question, str]] = []
    beyond: set[str] = set()
    draft = teach(sources, dict(answers))
    while len(answers) < most:
        question = next(
            (row for row in draft.questions if row.id not in answers and row.id not in beyond), None
        )
        if question is None:
            break
        said = answer(question, truth, several=len(sources) > 1)
        if said is None:
            beyond.add(question.id)
            continue
        answers[question.id] = said
        asked.append((question, said))
        draft = teach(sources, dict(answers))
    return Taught(draft, tuple(asked))


# -- the table ----------------------------------------------------------------------------------


def main(arguments: Sequence[str]) -> int:
    """Print the table; 1 if a draft could not be made."""
    both, detail = "--both" in arguments, "--detail" in arguments and "--open" in arguments
    names = [word for word in arguments if not word.startswith("-")]
    half = OPEN if "--open" in arguments else HELD
    chosen = [folder for folder in folders(half) if not names or folder.name in names]
    print("taught from", "both dumps" if both else DUMPS[0], "and judged on both dumps")
    failed = False
    for most in (0, MOST):
        print(f"\nat most {most} answers")
        print(_line("", "", "settings", "", "", "", "modes", "", "", "", ""))
        print(_line("dialect", "asked", *VERDICTS, *VERDICTS, "stray"))
        totals = [0] * (len(VERDICTS) * 2 + 2)
        subjects: dict[str, Counter[str]] = {}
        for folder in chosen:
            truth = truth_of(folder)
            try:
                made = taught(truth, most, both=both)
            except NotImplementedError:
                print("teaching is not built yet: there is nothing to judge")
                return 1
            except Exception as error:
                print(f"{folder.name:<12} no draft: {type(error).__name__}: {error}")
                failed = True
                continue
            judged = judge(made.draft, folder)
            for row in judged:
                subjects.setdefault(row.subject, Counter())[row.verdict] += 1
            counts = [
                sum(
                    row.verdict == verdict and row.subject.startswith("mode ") == modes
                    for row in judged
                )
                for modes in (False, True)
                for verdict in VERDICTS
            ]
            stray = left_over(made.draft.dialect, truth.sources)
            cells = [len(made.asked), *counts, stray]
            totals = [one + other for one, other in zip(totals, cells, strict=True)]
            print(_line(folder.name, *cells))
            if detail:
                _print_detail(made, judged)
        print(_line("all", *totals))
        if "--by-setting" in arguments:
            for subject, found in sorted(subjects.items()):
                print(
                    f"  {subject:<28}", ", ".join(f"{found[v]} {v}" for v in VERDICTS if found[v])
                )
    return int(failed)


def _line(name: str, *cells: object) -> str:
    return f"{name:<12}" + "".join(f"{cell!s:>9}" for cell in cells)


def _print_detail(made: Taught, judged: Iterable[Judgement]) -> None:
    for question, said in made.asked:
        print(f"      asked {question.id} ({question.kind} of {question.setting}): {said}")
    for row in judged:
        if row.verdict != "right":
            print(f"      {row.verdict:<8} {row.subject}: {row.note}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
