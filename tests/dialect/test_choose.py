"""Which dialect reads a dump."""

from __future__ import annotations

import pytest

from cfglint.dialect import bundled
from cfglint.dialect.choose import choose, understood
from cfglint.dialect.identify import directive
from cfglint.dialect.load import bundled_names
from cfglint.dump.source import Source
from cfglint.errors import Problem

from .invented import make

ALL = {name: bundled(name) for name in bundled_names()}
PLAIN = "let motor-signal be dshot600\nlet loop-rate be 4000\n"
TERSE = "vl:11:36\nvl:20:800\nmd:118:167:2:5:46\n"
BLOCKS = "drive {\n talk: digital-600\n}\nloop {\n turns: 4\n}\n"


def source(text: str) -> Source:
    return Source.from_text("x.txt", text)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # by the identity line
        ("-- board SLATE, firmware 7.9, full listing\n", "plain"),
        ("; unit COCKLE rev 2.57 whole\n" + PLAIN, "terse"),
        ("\n\nsome words\n// unit KETTLE build 5.6 as changes\n", "blocks"),
        # by what is understood
        (PLAIN, "plain"),
        (TERSE, "terse"),
        (BLOCKS, "blocks"),
        (PLAIN + "let motor-signl be x\n", "plain"),
        (PLAIN + "!! not taken: no\n!! not taken: no\n", "plain"),
        # by what the dump itself asks for, whatever it looks like
        ("# cfglint: dialect terse\n" + PLAIN, "terse"),
        ("-- board SLATE, firmware 7.9, full listing\n// cfglint: dialect=blocks\n", "blocks"),
    ],
)
def test_recognised(text: str, wanted: str) -> None:
    assert choose(source(text), ALL).id == wanted


def test_the_directive_and_its_place() -> None:
    found = directive(source("\n-- cfglint:  dialect   terse and more"))
    assert found is not None
    name, span = found
    assert (name, str(span), span.end_column) == ("terse", "x.txt:2:24", 29)
    assert directive(source("cfglint: accept x")) is None
    assert directive(source("\n" * 300 + "cfglint: dialect terse")) is None
    assert directive(source("x" * 2000 + "cfglint: dialect terse")) is None


def test_a_directive_for_a_dialect_there_is_not() -> None:
    with pytest.raises(Problem, match=r"^x.txt:1:21: .*`trse`.*did you mean `terse`\?") as caught:
        choose(source("-- cfglint: dialect trse"), ALL)
    assert caught.value.exit == 2


@pytest.mark.parametrize(
    "text", ["", "\n\n", "once upon a time\nthere was\n", "\x00\x01\n" * 9, "-- x"]
)
def test_none_recognises_it(text: str) -> None:
    with pytest.raises(Problem, match=r"no dialect recognises.*plain, terse, blocks") as caught:
        choose(source(text), ALL)
    assert (caught.value.exit, caught.value.file) == (3, "x.txt")
    assert "cfglint: dialect NAME" in caught.value.instead
    with pytest.raises(Problem, match="no dialect"):
        choose(source(PLAIN), {})


TWIN = '[map]\n"motor.poles" = { at = "let poles be" }\n[identity]\nlines = ["rev {firmware}"]\n'


def test_several_could_have_written_it() -> None:
    twins = {"own": make(TWIN), "twin": make(TWIN)}
    twins["twin"].id = "twin"
    for text in ("let poles be 14", "rev 2\nlet poles be 14"):
        with pytest.raises(Problem, match=r"several dialects.*: twin, own") as caught:
            choose(source(text), twins)
        assert (caught.value.exit, caught.value.file) == (2, "x.txt")
    # An identity line of two dialects: the one that understands the most.
    other = make(TWIN.replace("let poles be", "let magnets be"))
    other.id = "other"
    assert choose(source("rev 2\nlet poles be 14"), {"o": other, "own": twins["own"]}).id == "own"


def test_share_understood() -> None:
    dialect = make(TWIN, marks='refusal = "no {reason}"')
    for text, share in (
        ("", 0),
        ("-- note", 0),
        ("let poles be 14", 1),
        ("rev 3\nlet poles be 14\nlet x be 1", 0.5),
        ("let poles be 14\nlet poles be many\nlet x be 1\n\x00", 0.25),
        # Neither a refusal nor what it refused says anything.
        ("let poles be 14\nlet x be 1\nno such thing", 1),
        ("y" * 2000 + "\nlet poles be 14", 1),
    ):
        assert understood(dialect, source(text)) == share
