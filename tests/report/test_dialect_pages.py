"""Coverage of a dialect, its round trips and its examples, as pages: from records alone."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest
from markdown_it import MarkdownIt

from cfglint.dialect.roundtrip import Lost, Trip
from cfglint.dialect.trials import Failure, Tried
from cfglint.errors import Problem
from cfglint.report.coverage import coverage, coverage_json, coverage_markdown, summary
from cfglint.report.dialect_check import check_lines, tried_lines, trips_summary
from cfglint.report.screen import write
from cfglint.runner.coverage import Coverage, Doubt, Gap, Passage, Tally
from cfglint.span import Span

HERE = Span("a.txt", 3, 5, 3, 9)
DUMP = Tally("a.txt", "Tern", "2.1", 8, 1, 1, 4)
PASSAGES = (
    Passage("unknown", HERE, "put osd 1", "osd", "the dialect has no meaning for it"),
    Passage("half", HERE._replace(line=4), "put | `5`", "motor.signal", "`5` may be 3"),
)
GAPS = (
    Gap("motor.signal", "a signal", ("2.1", ""), ("motor/one", "motor/two"), ("motor/three",), 12),
    Gap("receiver.link", "a link", (), ("receiver/one",), (), 9),
    Gap("mode beacon", "a sound", (), (), ("modes/one",), 0),
    Gap("log.on", "a log", ("2.1",), (), (), 0),
)
DOUBTS = (
    Doubt("motor.poles", "magnets", "reed.toml:3:4", 1),
    Doubt("trait inversion", "", "r:1:1", 0),
)


def found(**more: Any) -> Coverage:
    made = Coverage("reed.toml", "reed", (DUMP,), PASSAGES, GAPS, DOUBTS, (), (), 60)
    return made._replace(**more)


def text(what: Coverage, width: int = 80, **more: Any) -> str:
    out = io.StringIO()
    write(coverage(what, **more), out, width, colour=False)
    return out.getvalue()


def test_the_whole_text() -> None:
    assert (
        text(found(wanting_card=("esc.signals",), unsaid=("motor.rate_hz", "loop.rate_hz")))
        == """\
reed.toml ── dialect reed ── 1 dump ────────────────────────────────────────────
   dump   a.txt (Tern, firmware 2.1): 8 understood, 1 half understood, 1
          unknown, 4 passed over

UNKNOWN   osd
     in   a.txt
    3:5   put osd 1
    why   the dialect has no meaning for it

   HALF   motor.signal
     in   a.txt
    4:5   put | `5`
    why   `5` may be 3

Not mapped ── 4 mappings missing ───────────────────────────────────────────────
    map   motor.signal (at firmware 2.1, unknown): a signal
unknown   2 rules: motor/one, motor/two
  asked   1 rule looks at it too: motor/three
    map   receiver.link: a link
unknown   1 rule: receiver/one
    map   mode beacon: a sound
  asked   1 rule looks at it: modes/one
unasked   no rule asks these dumps for log.on (at firmware 2.1)

Unconfirmed ── 2 mappings ──────────────────────────────────────────────────────
 unsure   motor.poles is written `magnets`; 1 line read by it; marked at
          reed.toml:3:4
 unsure   trait inversion; 0 lines read by it; marked at r:1:1

   card   1 fact is missing only for want of a hardware card that says:
          esc.signals.
 unsaid   2 facts that rules miss are mapped, and a dump does not say:
          motor.rate_hz, loop.rate_hz.

80 % understood: 8 of 10 lines that mean something; 1 half understood, 1
unknown, 4 passed over on purpose, 4 not mapped, 2 unconfirmed
"""
    )


def test_a_clean_text() -> None:
    clean = found(dumps=(Tally("b.txt", "", "", 1, 0, 0, 0),), lines=(), gaps=(), doubts=())
    assert (
        text(clean)
        == """\
reed.toml ── dialect reed ── 1 dump ────────────────────────────────────────────
   dump   b.txt: 1 understood, 0 half understood, 0 unknown, 0 passed over

100 % understood: 1 of 1 line that means something; 0 half understood, 0
unknown, 0 passed over on purpose
"""
    )


def test_facts_and_crashes() -> None:
    shown = text(found(wanting_card=("a", "b"), unsaid=("c",), crashed=("own/one",)))
    assert "2 facts are missing only for want of a hardware card that says: a, b." in shown
    assert "1 fact that rules miss is mapped, and a dump does not say: c." in shown
    four = text(found(wanting_card=tuple("abcd"), unsaid=tuple("abcde")), width=120)
    assert "hardware card that says: a, b, c, d." in four
    assert "a dump does not say: a, b, c and 2 more." in four
    assert "the rule own/one crashed, so what it misses is not known." in " ".join(shown.split())


@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_line_is_wider_than_the_page(width: int) -> None:
    wide = PASSAGES[0]._replace(text="put osd " + "雪" * 90)
    shown = text(found(lines=(wide, wide)), width=width)
    from rich.cells import cell_len

    assert max(map(cell_len, shown.splitlines())) <= width


def test_a_percentage_is_never_rounded_up() -> None:
    almost = found(dumps=(Tally("a.txt", "", "", 99_999, 0, 1, 0),))
    assert almost.percent() == 99.9
    assert summary(almost).startswith("99.9 % understood: 99999 of 100000 lines")
    assert found(dumps=()).percent() == 100.0


def test_markdown_is_tables() -> None:
    page = coverage_markdown(found(wanting_card=("esc.signals",)))
    html = MarkdownIt("commonmark").enable("table").render(page)
    assert html.count("<table>") == 4
    assert "<code>put | `5`</code>" in html
    assert "<code>motor.signal</code> (at firmware 2.1, unknown)" in html
    assert "<li>1 fact is missing only for want" in html
    clean = coverage_markdown(found(lines=(), gaps=(), doubts=()))
    assert "###" not in clean
    assert clean.endswith("|\n")


def test_json() -> None:
    problem = Problem("this file is not there", file="none.txt")
    made = json.loads(coverage_json(found(unread=(problem,), crashed=("own/one",))))
    assert made["not_mapped"][0]["unknown"] == ["motor/one", "motor/two"]
    assert made["unconfirmed"][0]["mark"] == "reed.toml:3:4"
    assert made["unread"] == [{"file": "none.txt", "message": "this file is not there"}]
    assert made["crashed"] == ["own/one"]
    assert made["groups"][0] == {
        "state": "unknown",
        "label": "osd",
        "why": "the dialect has no meaning for it",
        "lines": 1,
    }
    assert found(unread=(problem,)).exit_code() == 2
    assert found(crashed=("own/one",)).exit_code() == 3
    assert found().exit_code() == 1
    assert found(lines=()).exit_code() == 0


def test_lines_of_what_is_lost() -> None:
    lost = (
        Lost("motor.poles", HERE, "12 poles", "`put a 12` would be read as something else"),
        Lost("range", HERE, "arm: channel 5, 1 to 2", "no word for arm in `x`"),
        Lost("link", HERE, "arm along with log", "no line of the dialect says it"),
    )
    trips = [Trip("a.txt", 2, 1, 1, lost), Trip("reed.toml", 1, 0, 0, (), "example 1")]
    problem = Problem("it is wrong", span=HERE, instead="do right")
    assert list(check_lines("reed.toml", [problem], trips)) == [
        "a.txt:3:5: it is wrong; do right",
        "reed.toml: 1 contradiction",
        "a.txt:3:5: motor.poles, 12 poles, does not survive: not written; `put a 12` would be "
        "read as something else",
        "a.txt:3:5: the range arm: channel 5, 1 to 2 does not survive: not written; "
        "no word for arm in `x`",
        "a.txt:3:5: the link arm along with log does not survive: not written; "
        "no line of the dialect says it",
        "1 dump and 1 example written back and read again",
        "3 settings, 1 range, 1 link; 3 lost",
    ]
    assert trips_summary(trips[:1] * 2) == (
        "2 dumps written back and read again",
        "4 settings, 2 ranges, 2 links; 6 lost",
    )
    assert list(check_lines("reed.toml", [], [trips[1]._replace(lost=lost[:1])]))[1].startswith(
        "a.txt:3:5: example 1: motor.poles, 12 poles, does not survive: not written"
    )


def test_lines_of_examples() -> None:
    failure = Failure("reading", "motor.poles", "", "12 poles", "reading sets it")
    tried = [Tried(1, HERE, "put a 12", ()), Tried(2, HERE, "put b 1", (failure, failure))]
    assert list(tried_lines(tried)) == [
        "a.txt:3:5: example 2: reading sets it",
        "a.txt:3:5: example 2: reading sets it",
        "2 examples, 1 passes, 1 fails",
    ]
    assert list(tried_lines(tried[:1] * 12))[-1] == "12 examples, 12 pass, 0 fail"
