"""``cfglint.toml``: what it may say, and what every mistake in it is answered with."""

from __future__ import annotations

from pathlib import Path

import pytest

from cfglint.errors import Problem, Problems
from cfglint.runner.config import fill, find_root, parse_config, read_config

from .texts import FULL


def mistakes(text: str) -> list[str]:
    with pytest.raises(Problem) as caught:
        parse_config("cfglint.toml", "/club", text.encode())
    error = caught.value
    assert error.exit == 2
    return [str(one) for one in (error.each if isinstance(error, Problems) else (error,))]


def test_everything_it_may_say() -> None:
    config = parse_config("cfglint.toml", "/club", FULL.encode())
    assert config.name == "Saltmarsh Survey Club"
    first, second = config.dumps
    assert tuple(first) == (
        ("dumps/*.dump.txt", "more/**/*.txt"),
        "mine",
        "cards/{stem}.toml",
        "{stem}",
        "changes",
        0,
    )
    assert tuple(second) == (("old/*.txt",), "", "", "", "", 1)
    assert first.card_of("dumps/avocet.dump.txt") == "cards/avocet.toml"
    assert first.craft_of("dumps/avocet.dump.txt") == "avocet"
    assert second.card_of("old/a.txt") == ""
    assert config.dialects == {"mine": "dialects/mine.toml"}
    assert set(config.rules) == {"motor/left-on-default-signal", "modes/near-a-range-edge"}
    assert config.floor == "fix"
    assert config.where("lint", "floor").line == 22


def test_an_empty_one_is_one() -> None:
    config = parse_config("cfglint.toml", "/club", b"")
    assert (config.name, config.dumps, config.rules, config.floor) == ("", (), {}, "")


def test_templates() -> None:
    assert fill("{folder}/card.toml", "avocet/now.dump.txt") == "avocet/card.toml"
    assert fill("{folder}/card.toml", "now.dump.txt") == "card.toml"
    assert fill("card.toml", "now.dump.txt") == "card.toml"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[hangr]", "1:2: `hangr` means nothing here; did you mean `hangar`?"),
        ("[hangar]\nnam = 'x'", "2:1: `nam` means nothing in `hangar`; did you mean `name`?"),
        ("[hangar]\nname = ' '", "2:8: `hangar.name` is blank"),
        ("[dumps]\nfiles = 'x'", "1:1: `dumps` must be a list of tables, not a table"),
        ("[[dumps]]\ndialect = 'plain'", "1:1: the table `dumps[1]` lacks `files`"),
        ("[[dumps]]\nfiles = 3", "2:9: `dumps[1].files` must be a text or a list of texts, not"),
        ("[[dumps]]\nfiles = []", "2:9: `dumps[1].files` has 0 items"),
        ("[[dumps]]\nfiles = ['a', '']", "2:15: `dumps[1].files[2]` is blank"),
        ("[[dumps]]\nfiles = '../x'", "2:9: `dumps[1].files` is `../x`, which leads out of"),
        ("[[dumps]]\nfiles = '/x'", "2:9: `dumps[1].files` is `/x`, which leads out of"),
        ("[[dumps]]\nfiles = 'C:/x'", "2:9: `dumps[1].files` is `C:/x`, which leads out of"),
        ("[[dumps]]\nfiles = 'a**'", "2:9: `dumps[1].files` is `a**`, which is no pattern: `**`"),
        (
            "[[dumps]]\nfiles = 'x'\ncard = 'cards/{name}.toml'",
            "3:8: `dumps[1].card` holds `{name}`, which stands for nothing; it may be `stem`",
        ),
        (
            "[[dumps]]\nfiles = 'x'\ncraft = '{stm}'",
            "3:9: `dumps[1].craft` holds `{stm}`, which stands for nothing; did you mean `stem`?",
        ),
        ("[[dumps]]\nfiles = 'x'\ncard = '../c.toml'", "3:8: `dumps[1].card` is `../c.toml`"),
        ("[[dumps]]\nfiles = 'x'\nextent = 'ful'", "3:10: `ful` is no word for `dumps[1].extent`"),
        (
            "[[dumps]]\nfiles = 'x'\ndialect = 'plian'",
            "3:11: there is no dialect `plian`; did you mean `plain`?",
        ),
        (
            "[[dumps]]\nfiles = 'x'\ndialect = 'gyrate'",
            "3:11: there is no dialect `gyrate`; it may be `plain`, `terse`, `blocks`, `nested` "
            "or `tables`",
        ),
        ("[dialects]\nplain = 'x.toml'", "2:1: `plain` is the name of a bundled dialect"),
        ("[dialects]\nmine = '~/x.toml'", "2:8: `dialects.mine` is `~/x.toml`, which leads out"),
        (
            "[rules]\n'a/b' = 'on'",
            "2:9: `on` is no word for `rules.a/b`; it may be `off`, `ground`",
        ),
        ("[rules]\n'a/b' = 3", "2:9: `rules.a/b` must be a text or a table, not `3`; write `off`"),
        ("[lint]\nfloor = 'fxi'", "2:9: `fxi` is no word for `lint.floor` (the mildest grade"),
        ("[lint", "1:6: this is not TOML"),
    ],
)
def test_one_mistake(text: str, message: str) -> None:
    (found,) = mistakes(text)
    assert found.startswith("cfglint.toml:" + message)


def test_all_mistakes_at_once() -> None:
    found = mistakes("[lint]\nflor = 1\n[hangar]\nname = 2\n[rls]\n")
    assert [line.split(":")[1] for line in found] == ["2", "4", "5"]


def test_found_at_or_above(hangar: Path, tmp_path: Path) -> None:
    assert find_root(str(hangar / "dumps")) == str(hangar)
    assert find_root(str(hangar)) == str(hangar)
    assert find_root("/") == ""
    # A folder of that name is none; a link that leads nowhere was meant to be one.
    deep = tmp_path / "deep"
    (deep / "cfglint.toml").mkdir(parents=True)
    assert find_root(str(deep)) == str(hangar)
    linked = tmp_path / "linked"
    linked.mkdir()
    (linked / "cfglint.toml").symlink_to("nowhere.toml")
    assert find_root(str(linked)) == str(linked)
    with pytest.raises(Problem, match="the configuration cannot be read: No such file") as caught:
        read_config(str(linked / "cfglint.toml"))
    assert caught.value.exit == 3


def test_another_root(hangar: Path) -> None:
    config = read_config(str(hangar / "cfglint.toml"), str(hangar.parent))
    assert config.root == str(hangar.parent)
    assert config.file == f"{hangar.name}/cfglint.toml"
    assert read_config(str(hangar / "cfglint.toml")).file == "cfglint.toml"
