"""The report for people: exact pages, safe text, carets in place, colour that adds nothing."""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys
import unicodedata
from pathlib import Path
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from cfglint.report.screen import LEAST_WIDTH
from cfglint.report.terminal import MOST_DETAIL, write_text
from cfglint.results import Accepted, CraftLine, Found, Run, Trouble, Verdict
from cfglint.rule import Lack, Related
from cfglint.span import Excerpt, Span

from . import samples

PAGES = Path(__file__).parent / "pages"
# What our own colouring may write: ECMA-48 SGR sequences and nothing else.
COLOUR = re.compile("\x1b\\[[0-9;]*m")


def page(
    run: Run,
    width: int = 80,
    *,
    colour: bool = False,
    quiet: bool = False,
    show_accepted: bool = False,
) -> str:
    out = io.StringIO()
    write_text(run, file=out, width=width, colour=colour, quiet=quiet, show_accepted=show_accepted)
    return out.getvalue()


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", ["saltmarsh", "troubled"])
def test_pages_to_the_letter(name: str, width: int) -> None:
    run = samples.saltmarsh() if name == "saltmarsh" else samples.troubled()
    expected = (PAGES / f"{name}-{width}.txt").read_text(encoding="utf-8")
    assert page(run, width, show_accepted=True) == expected


@pytest.mark.parametrize("width", [40, 80, 100, 120, 200])
def test_nothing_is_wider_than_the_page(width: int) -> None:
    # Only what must stay in one piece may stand out: a rule's id and a place, never prose.
    for line in page(samples.saltmarsh(), width, show_accepted=True).splitlines():
        assert cell_len(line) <= width or "/" in line.split()[-1]
    if width >= 80:
        text = page(samples.saltmarsh(), width, show_accepted=True)
        assert max(cell_len(line) for line in text.splitlines()) <= width


def test_a_heading_that_does_not_fit_goes_on_below() -> None:
    assert page(samples.saltmarsh(), 40).splitlines()[:2] == [
        "Bittern ── craft/bittern.txt",
        "── plain, firmware 7.9 " + "─" * 17,
    ]


def test_narrower_than_sense_is_set_at_the_least_width() -> None:
    assert page(samples.saltmarsh(), 5) == page(samples.saltmarsh(), LEAST_WIDTH)


def test_clean_run_says_only_the_counts() -> None:
    assert page(samples.clean()) == "1 craft, 1 rule, 1 holds, 0 broken, 0 unknown, 0 accepted\n"


def test_counts_come_last_at_every_width() -> None:
    counts = "2 crafts, 6 rules, 3 holds, 5 broken, 3 unknown, 1 accepted"
    wide, narrow = page(samples.saltmarsh(), 120), page(samples.saltmarsh(), 80)
    assert wide.splitlines()[-1] == f"{counts} (1 not for this craft)"
    assert narrow.splitlines()[-2:] == ["(1 not for this craft)", counts]


def test_large_counts_stay_on_one_line_where_they_fit() -> None:
    run, many = samples.clean(), 100_000
    others = run.verdicts[0]._replace(state="not for this craft")
    run = run._replace(
        crafts=run.crafts * many,
        rules=run.rules * many,
        verdicts=(run.verdicts[0], others) * many,
    )
    assert page(run, 120) == (
        "100000 crafts, 100000 rules, 100000 holds, 0 broken, 0 unknown, 0 accepted "
        "(100000 not for this craft)\n"
    )
    assert len(page(run, 60).splitlines()) == 3


def test_accepted_findings_are_counted_and_listed_only_when_asked() -> None:
    assert "holds-last-values" not in page(samples.saltmarsh())
    told = page(samples.saltmarsh(), show_accepted=True)
    assert "reason   tethered test rig, never leaves the bench (Ilse, until 2027-03-01)" in told


@pytest.mark.parametrize(
    ("by", "until", "words"),
    [
        ("", "", "agreed"),
        ("Ilse", "", "agreed (Ilse)"),
        ("", "2027-03-01", "agreed, until 2027-03-01"),
    ],
)
def test_an_accept_says_what_it_knows(by: str, until: str, words: str) -> None:
    item = one("m")._replace(accepted=Accepted("agreed", by, until, None))
    assert f" reason   {words}\n" in page(with_found(item), show_accepted=True)


def test_worst_first_then_by_line() -> None:
    grades = re.findall(r"^ *(GROUND|FIX|ADVISE) .*:(\d+):\d+$", page(samples.saltmarsh()), re.M)
    assert grades == [("GROUND", "4"), ("GROUND", "9"), ("FIX", "3"), ("ADVISE", "8")]


def test_quiet_is_one_line_a_finding() -> None:
    lines = page(samples.saltmarsh(), 40, quiet=True).splitlines()
    assert len(lines) == 5
    assert lines[0].startswith(
        "craft/bittern.txt:4:21: ground motor/left-on-default-signal: The motor signal is"
    )
    assert lines[-1].startswith("2 crafts, 6 rules")
    assert page(samples.troubled(), quiet=True).splitlines()[:3] == [
        "craft/dunlin.txt: this file cannot be read: permission denied; let your account read it",
        "craft/curlew.txt: failsafe/holds-last-values: the rule crashed (ZeroDivisionError: "
        "division by zero); tell its author; its other findings are not affected",
        "cfglint.toml:4:1: motor/left-on-defualt-signal: there is no rule "
        "`motor/left-on-defualt-signal`; did you mean motor/left-on-default-signal?",
    ]


# ---------------------------------------------------------------- what could not be told


def unknown(craft: str, rule: str, *facts: str) -> Verdict:
    lacks = tuple(Lack(fact, "card", f"`{fact}` in the hardware card") for fact in facts)
    return Verdict(rule, f"{craft}.txt", craft, "unknown", lacks=lacks)


def test_one_missing_fact_is_one_line_and_craft_alike_are_told_once() -> None:
    run = samples.clean()._replace(
        verdicts=(
            unknown("Avocet", "motor/a", "esc.signals"),
            unknown("Avocet", "motor/b", "esc.signals", "esc.two_way"),
            unknown("Avocet", "motor/b", "esc.signals"),
            unknown("Dunlin", "motor/a", "esc.signals"),
            unknown("Dunlin", "motor/b", "esc.signals", "esc.two_way"),
            unknown("Egret", "motor/a", "esc.signals"),
        )
    )
    assert page(run).split("\n", 1)[1] == (
        "  craft   Avocet, Dunlin\n"
        "  needs   `esc.signals` in the hardware card: motor/a, motor/b\n"
        "  needs   `esc.two_way` in the hardware card: motor/b\n"
        "\n"
        "  craft   Egret\n"
        "  needs   `esc.signals` in the hardware card: motor/a\n"
        "\n"
        "1 craft, 1 rule, 0 holds, 0 broken, 6 unknown, 0 accepted\n"
    )


# ---------------------------------------------------------------- findings by themselves


def one(message: str, **more: object) -> Found:
    span = samples.place("craft/curlew.txt", 3, "dshot300")
    item = samples.found(samples.SIGNAL, "Curlew", span, message)
    return item._replace(**more)  # type: ignore[arg-type]


def with_found(*items: Found) -> Run:
    verdict = Verdict(samples.SIGNAL.id, "craft/curlew.txt", "Curlew", "broken", items)
    craft = CraftLine("craft/curlew.txt", "Curlew", "plain", "", 3)
    return Run(samples.ROOT, (samples.SIGNAL,), (craft,), (verdict,), ())


def test_why_is_told_once_a_craft() -> None:
    assert page(with_found(one("a"), one("b"))).count("    why   ") == 1


def test_long_reasons_are_cut_between_sentences_and_say_where_there_is_more() -> None:
    long = "One reason is this. " + "Another one is that, and it takes most of a line. " * 9
    rule = samples.SIGNAL._replace(why=long)
    text = page(with_found(one("a"))._replace(rules=(rule,)))
    assert "    why   One reason is this. Another one is" in text
    assert "of a line.\n          (more: cfglint why motor/left-on-default-signal)\n" in text
    assert len(text.split("why", 1)[1].split("\n\n")[0].splitlines()) == 4
    breathless = rule._replace(why="word " * 90 + "end.")
    text = page(with_found(one("a"))._replace(rules=(breathless,)))
    assert "word end.\n          (more: cfglint why" in text


def test_craft_without_findings_are_named_or_counted() -> None:
    run = with_found(one("a"))
    more = tuple(CraftLine(f"{n}.txt", f"C{n}", "plain", "", 1) for n in range(13))
    crash = Trouble("crash", "it crashed", "", 3, file="1.txt", rule="a/b")
    some = page(run._replace(crafts=run.crafts + more[:3]))
    assert "\nnothing found in C0, C1, C2\n" in some
    assert "\nnothing found in C0, C2\n" in page(
        run._replace(crafts=run.crafts + more[:3], troubles=(crash,))
    )
    assert "\nnothing found in 13 craft\n" in page(run._replace(crafts=run.crafts + more))
    assert "nothing found" not in page(run)


def test_a_rule_that_nobody_describes_has_no_why() -> None:
    assert "why" not in page(with_found(one("a", rule="accept/runs-out")))


def test_a_craft_that_the_run_does_not_list_is_told_all_the_same() -> None:
    run = with_found(one("a"))._replace(crafts=())
    assert page(run).startswith("Curlew ── craft/curlew.txt ──")
    assert page(with_found(one("a", craft=""))).startswith("craft/curlew.txt ──")


def test_a_long_place_gets_its_own_line() -> None:
    deep = "a/" * 30 + "curlew.txt"
    item = one("a", span=Span(deep, 3, 21, 3, 29))
    lines = page(with_found(item)).splitlines()
    assert lines[1].split() == ["GROUND", "motor/left-on-default-signal"]
    assert lines[2] == f"          {deep}:3:21"


def test_long_words_are_broken_and_places_are_not() -> None:
    deep = "a/" * 50 + "curlew.txt"
    other = Related(Span(deep, 1, 1, 1, 2), "there", Excerpt(1, ("x",)))
    text = page(with_found(one("x" * 200, beside=(other,))))
    assert f"{'x' * 70}\n          {'x' * 70}\n          {'x' * 60}\n" in text
    assert f"    see   {deep}:1:1:\n          there\n" in text


def test_the_same_place_is_not_drawn_twice() -> None:
    item = one("a")
    again = Related(item.span, "once more", item.excerpt)
    assert page(with_found(item._replace(beside=(again,)))).count("let motor-signal") == 1


def test_markup_in_a_dump_is_only_text() -> None:
    line = "[bold red]let[/] motor-signal be [link=x]brushed[/link] :bird: `x` **y**"
    item = one("say [red]no[/red] \\[x]", excerpt=Excerpt(3, (line,)))
    for colour in (False, True):
        text = COLOUR.sub("", page(with_found(item), 120, colour=colour))
        assert line in text
        assert "say [red]no[/red] \\[x]" in text


def test_a_longer_crash_is_cut_aloud() -> None:
    detail = "\n".join(f"line {number}" for number in range(30))
    crash = Trouble("crash", "it crashed", "", 3, rule="a/b", detail=detail)
    text = page(samples.clean()._replace(troubles=(crash,)))
    assert f"({30 - MOST_DETAIL} lines above left out)" in text
    assert "line 29" in text
    assert "line 3\n" not in text


def test_carets_stand_under_wide_combining_and_escaped_text() -> None:
    line = '\tlet name-given be "鷸 Gru\u0308n 🐦 \x1b[31m" brushed'
    start = line.index("brushed") + 1
    span = Span("craft/curlew.txt", 3, start, 3, start + 7)
    text = page(with_found(one("a", span=span, excerpt=Excerpt(3, (line,)))))
    source, carets = text.splitlines()[2:4]
    assert "\\x1b[31m" in source
    assert cell_len(source[: source.index("brushed")]) == carets.index("^")
    assert carets.count("^") == 7


def test_an_output_that_holds_only_ascii() -> None:
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="ascii")
    write_text(samples.saltmarsh(), file=out, width=80, colour=False)
    out.flush()
    text = raw.getvalue().decode("ascii")
    assert "Bittern -- craft/bittern.txt -- plain, firmware 7.9 ---" in text
    assert "      4 | let motor-signal be brushed\n" in text
    assert "rests 4 us below" in text


# ---------------------------------------------------------------- any text at all

TEXT = st.text(
    st.one_of(st.characters(), st.sampled_from("\x1b\x9b\u202e\u2066\n\r\t\x07鷸\u0301["))
)


def place(draw: st.DrawFn) -> Span:
    line, column = draw(st.integers(1, 3)), draw(st.integers(1, 30))
    return Span(draw(TEXT), line, column, line + draw(st.integers(0, 2)), draw(st.integers(1, 30)))


@st.composite
def runs(draw: st.DrawFn) -> Run:
    """A run in which every text that can come from outside is any text at all."""

    def excerpt() -> Excerpt:
        return Excerpt(draw(st.integers(1, 3)), tuple(draw(st.lists(TEXT, max_size=10))))

    def finding() -> Found:
        return Found(
            draw(TEXT),
            draw(st.sampled_from(["ground", "fix", "advise"])),
            draw(TEXT),
            draw(TEXT),
            place(draw),
            draw(TEXT),
            draw(TEXT),
            excerpt(),
            (Related(place(draw), draw(TEXT), excerpt()),),
            picture=draw(TEXT),
            accepted=draw(
                st.sampled_from([None, Accepted(draw(TEXT), draw(TEXT), draw(TEXT), None)])
            ),
        )

    lack = Lack(draw(TEXT), "card", draw(TEXT))
    verdict = Verdict(draw(TEXT), draw(TEXT), draw(TEXT), "broken", (finding(), finding()), (lack,))
    kinds: tuple[Literal["file", "crash", "config", "nothing"], ...]
    kinds = ("file", "crash", "config", "nothing")
    kind = draw(st.sampled_from(kinds))
    trouble = Trouble(kind, draw(TEXT), draw(TEXT), 3, draw(TEXT), None, draw(TEXT), draw(TEXT))
    craft = CraftLine(draw(TEXT), draw(TEXT), draw(TEXT), draw(TEXT), 3)
    return Run("/", (), (craft,), (verdict,), (trouble,))


@given(runs(), st.booleans(), st.sampled_from([40, 80, 120]))
def test_no_text_from_outside_reaches_the_terminal_raw(run: Run, quiet: bool, width: int) -> None:
    text = page(run, width, quiet=quiet, show_accepted=True)
    for char in text.replace("\n", ""):
        assert char == " " or unicodedata.category(char)[0] not in "CZ", hex(ord(char))


@given(runs(), st.booleans())
def test_colour_only_adds_colour(run: Run, quiet: bool) -> None:
    plain = page(run, quiet=quiet, show_accepted=True)
    coloured = COLOUR.sub("", page(run, quiet=quiet, show_accepted=True, colour=True))
    assert "\x1b" not in coloured
    assert [line.rstrip(" ") for line in coloured.split("\n")] == plain.split("\n")


# ---------------------------------------------------------------- colour and width by themselves


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("environment", "terminal", "coloured"),
    [
        ({}, True, True),
        ({}, False, False),
        ({"NO_COLOR": "1"}, True, False),
        ({"NO_COLOR": ""}, True, True),
        ({"NO_COLOR": "1", "FORCE_COLOR": "1"}, True, False),
        ({"FORCE_COLOR": "1"}, False, True),
        ({"TERM": "dumb"}, True, False),
    ],
)
def test_when_to_colour(
    environment: dict[str, str], terminal: bool, coloured: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    out: io.StringIO = Terminal() if terminal else io.StringIO()
    write_text(samples.saltmarsh(), file=out)
    assert ("\x1b[" in out.getvalue()) is coloured


def test_a_closed_or_odd_file_is_no_terminal() -> None:
    class Odd:
        encoding = "utf-8"

        def __init__(self) -> None:
            self.text = ""

        def write(self, text: str) -> int:
            self.text += text
            return len(text)

        def isatty(self) -> bool:
            raise ValueError("closed")

    out = Odd()
    write_text(samples.clean(), file=out)  # type: ignore[arg-type]
    assert out.text.startswith("1 craft, 1 rule")


def test_columns_says_how_wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    out = io.StringIO()
    write_text(samples.saltmarsh(), file=out, colour=False)
    assert out.getvalue() == page(samples.saltmarsh(), 120)
    monkeypatch.setenv("COLUMNS", "wide")
    out = io.StringIO()
    write_text(samples.saltmarsh(), file=out, colour=False)
    assert out.getvalue() == page(samples.saltmarsh(), 80)


def test_a_real_terminal_is_asked_for_its_width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    master, slave = pty.openpty()
    try:
        subprocess.run(["stty", "cols", "100"], stdin=slave, check=True)
        with os.fdopen(os.dup(slave), "w", encoding="utf-8") as out:
            write_text(samples.clean()._replace(troubles=samples.troubled().troubles[:1]), file=out)
        text = os.read(master, 100_000).decode("utf-8")
    finally:
        os.close(slave)
        os.close(master)
    assert "\x1b[" in text
    assert cell_len(COLOUR.sub("", text.splitlines()[0])) == 100


def test_rich_is_imported_only_when_a_page_is_written() -> None:
    code = (
        "import sys; before = set(sys.modules)\n"
        "import cfglint.report.terminal, cfglint.report.excerpt, cfglint.report.plain\n"
        "assert 'rich' not in set(sys.modules) - before"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
