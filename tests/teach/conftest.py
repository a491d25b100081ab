"""Running ``cfglint teach`` in this process, with the engine or with a stand-in for it."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from cfglint.cli import main
from cfglint.dialect import load_dialect
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.teach.answers import understand
from cfglint.teach.model import Draft, Guess, Question, Shown


class Ended(NamedTuple):
    code: int
    out: str
    err: str


Call = Callable[..., Ended]

SAMPLE = """\
# reed R2 2.1
put talk 14
put chat 1

put full 4200
put lost 0
put low.volts 3420
go on ch5 1760-2130
flip on ch6 1760-2130
put keep 1
put nick Avocet
"""

DIALECT = """\
# Drafted from samples.

[dialect]
id = "{name}"
schema = 1

[shape]
grammar = "plain"
comment = "#"
assign = "put {{name}} {{value}}"

[settings]
"motor.signal" = {{ name = "talk", values = {{ dshot600 = 14 }}{signal} }}
"battery.full_v" = {{ name = "full", scale = 0.001{full} }}
"failsafe.action" = {{ name = "lost", values = {{ stop = 0 }} }}
"log.on" = {{ name = "keep", yes = "1", no = "0" }}
"craft.name" = {{ name = "nick" }}
"port.N.functions" = {{ name = "port{{N}}" }}

[modes]
arm = "go"
{modes}
[[forms]]
line = "{{mode}} on ch{{channel}} {{low}}-{{high}}"
makes = "range"
"""


def shown(line: int, name: str = "", file: str = "reed.txt") -> Shown:
    return Shown(file, line, SAMPLE.split("\n")[line - 1], name)


def question(
    identity: str, weight: float, *lines: Shown, words: tuple[str, ...] = (), guess: str = ""
) -> Question:
    kind, _, setting = identity.partition(" ")
    text = f"About {setting or kind}?"
    return Question(identity, kind, setting or kind, text, lines, words, guess, weight)  # type: ignore[arg-type]


#: What the stand-in asks, in the order in which it should be put.
ASKED = (
    question("line motor.signal", 100, shown(2, "talk"), shown(3, "chat"), guess="2"),
    question("words mode", 95, shown(8), shown(9), words=("go", "flip"), guess="go = arm"),
    question("range", 92, shown(8)),
    question("value failsafe.action", 70, shown(6)),
    question("line battery.empty_v", 60),
    question("value battery.full_v", 50, shown(5)),
    question("value log.on", 40, shown(10)),
    question("value craft.name", 30, shown(11)),
    question("words port.N.functions", 20, words=("8",)),
)


class Engine:
    """Stands in for the engine: asks what it is told to, and drafts by the answers."""

    def __init__(self) -> None:
        self.asks: list[Question] = list(ASKED)
        self.notes: tuple[str, ...] = ()
        self.drafted: list[dict[str, str]] = []
        self.breaks = ""
        self.likely = 0.6

    def __call__(
        self, sources: Sequence[Source], answers: Mapping[str, str] | None = None, *, name: str
    ) -> Draft:
        said = dict(answers or {})
        self.drafted.append(said)
        understand(said)
        for key, text in said.items():
            if text == "nowhere":
                raise Problem(f"`{text}` is no line", instead="write another")
            if text == self.breaks:
                raise Problem("no", file=f"{name}.toml")
            if key == "value battery.full_v" and not text.replace(".", "").isdigit():
                raise Problem(f"`{text}` is no voltage", instead="write a number")
        text = DIALECT.format(
            name=name,
            signal="" if "line motor.signal" in said else ", sure = false",
            full="" if "value battery.full_v" in said else ", sure = false",
            modes="" if "words mode" in said else 'unsure = ["arm"]\n',
        )
        dialect = load_dialect(f"{name}.toml", text.encode())
        guesses = (
            Guess(
                "motor.signal",
                "talk",
                self.likely,
                "line motor.signal" in said,
                "by its name",
                "`chat`",
            ),
            Guess("battery.full_v", "full", 0.7, False, "by its value"),
            Guess("log.on, failsafe.action, range", "a form", 0.9, True, "by its words"),
        )
        left = tuple(one for one in self.asks if one.id not in said)
        return Draft(text, dialect, guesses, left, self.notes)


@pytest.fixture
def reed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder, the current one, with the sample ``reed.txt``."""
    (tmp_path / "reed.txt").write_text(SAMPLE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


@pytest.fixture
def engine(reed: Path, monkeypatch: pytest.MonkeyPatch) -> Engine:
    made = Engine()
    monkeypatch.setattr("cfglint.teach.teach", made)
    return made


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Run ``cfglint teach WORD…``; ``hears`` is what comes from standard input."""

    def run(*words: str | Path, hears: Any = "") -> Ended:
        stream = io.StringIO(hears) if isinstance(hears, str) else hears
        monkeypatch.setattr("sys.stdin", stream)
        code = main(["teach", *map(str, words)])
        return Ended(code, *capsys.readouterr())

    return run
