"""The table checker: every mistake is found, at its place, with what to write instead."""

from __future__ import annotations

import pytest

from cfglint import schema
from cfglint.errors import Problem, Problems, raise_all
from cfglint.schema import (
    Shape,
    anything,
    check_table,
    either,
    flag,
    many,
    number,
    table,
    text,
    texts,
    whole,
)
from cfglint.tomltext import load

LINKS = ("sbus", "crsf", "ppm")
SHAPE = table(
    {
        "name": text("what the hangar is called", required=True),
        "motors": whole("how many motors", least=1, most=12),
        "margin_us": number("how near is too near", least=0),
        "idle": number(most=9),
        "two_way": flag(),
        "link": text(choices=LINKS),
        "links": texts("links in use", choices=LINKS, least=1, most=2),
        "note": anything("whatever a club likes"),
        "rules": table(
            free=either(text(choices=("off", "fix")), table({"margin_us": number()})),
            free_key=lambda key: "" if "/" in key else "is no rule's name",
        ),
        "switch": many(
            table(
                {"channel": whole(required=True), "at": many(number(), least=2)},
                check=lambda value: "has no sense" if value.get("at") == [1, 1] else "",
            )
        ),
        "mark": text("a mark", check=lambda value: "is empty" if not value else ""),
    }
)


def problems(toml: str, shape: Shape = SHAPE) -> list[str]:
    found = check_table(load("c.toml", toml.encode()), (), shape)
    return [str(problem) for problem in found]


def test_all_well() -> None:
    assert not problems(
        """
        name = "Saltmarsh"
        motors = 4
        margin_us = 2.5
        two_way = true
        link = "ppm"
        links = ["sbus", "crsf"]
        note = [1, "x", { y = 2 }]
        rules."a/b" = "off"
        rules."a/c" = { margin_us = 3 }
        switch = [{ channel = 5, at = [1000, 2000.5] }]
        mark = "m"
        """
    )


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            "moters = 4",
            "c.toml:2:1: `moters` means nothing here; did you mean `motors`?",
        ),
        (
            "gyroscope = 4",
            "c.toml:2:1: `gyroscope` means nothing here; what may stand here: `name`, `motors`, "
            "`margin_us`, `idle`, `two_way`, `link`, `links`, `note`, `rules`, `switch` and `mark`",
        ),
        (
            'motors = "four"',
            "c.toml:2:10: `motors` must be a whole number, not the text `four`; "
            "write how many motors",
        ),
        ("motors = 4.0", "c.toml:2:10: `motors` must be a whole number, not `4.0`; write how"),
        ("motors = true", "c.toml:2:10: `motors` must be a whole number, not `true`"),
        ("margin_us = nan", "c.toml:2:13: `margin_us` must be a number, not `nan`"),
        ("margin_us = inf", "c.toml:2:13: `margin_us` must be a number, not `inf`"),
        ("motors = []", "c.toml:2:10: `motors` must be a whole number, not a list"),
        ("motors = {}", "c.toml:2:10: `motors` must be a whole number, not a table"),
        ("motors = 07:32:00", "c.toml:2:10: `motors` must be a whole number, not `07:32:00`"),
        ("two_way = 1", "c.toml:2:11: `two_way` must be `true` or `false`, not `1`"),
        ("two_way = false\nlink = false", "c.toml:3:8: `link` must be a text, not `false`"),
        (
            "motors = 13",
            "c.toml:2:10: `motors` is `13` (how many motors); it may be 1 to 12",
        ),
        (
            "margin_us = -1",
            "c.toml:2:13: `margin_us` is `-1` (how near is too near); it may be 0 or more",
        ),
        ("idle = 9.5", "c.toml:2:8: `idle` is `9.5`; it may be 9 at most"),
        (
            'link = "sbsu"',
            "c.toml:2:8: `sbsu` is no word for `link`; did you mean `sbus`? it may be `sbus`, "
            "`crsf` or `ppm`",
        ),
        ('link = "x"', "c.toml:2:8: `x` is no word for `link`; it may be `sbus`, `crsf` or `ppm`"),
        (
            'links = ["sbus",\n 3, "crfs"]',
            "c.toml:2:9: `links` has 3 items (links in use); it needs 1 to 2\n"
            "c.toml:3:2: `links[2]` must be a text, not `3`; write it in quotes\n"
            "c.toml:3:5: `crfs` is no word for `links[3]`; did you mean `crsf`? "
            "it may be `sbus`, `crsf` or `ppm`",
        ),
        ('links = "sbus"', "c.toml:2:9: `links` must be a list of texts, not the text `sbus`"),
        ('rules.ab = "off"', "c.toml:2:7: `ab` is no rule's name"),
        (
            'rules."a/b" = 3',
            "c.toml:2:15: `rules.a/b` must be a text or a table, not `3`",
        ),
        (
            'rules."a/b" = "on"',
            "c.toml:2:15: `on` is no word for `rules.a/b`; it may be `off` or `fix`",
        ),
        (
            'rules."a/b".margin = 3',
            "c.toml:2:13: `margin` means nothing in `rules.a/b`; did you mean `margin_us`?",
        ),
        (
            "[[switch]]\nat = [1, 2]\n[[switch]]\nchannel = 5\nat = [1, 1]",
            "c.toml:2:1: the table `switch[1]` lacks `channel`; "
            "write `channel = …` with a whole number\n"
            "c.toml:4:1: `switch[2]` has no sense",
        ),
        ("switch = [3]", "c.toml:2:11: `switch[1]` must be a table, not `3`"),
        ('mark = ""', "c.toml:2:8: `mark` is empty"),
        (
            "switch = [{ channel = 1, at = [1] }]",
            "c.toml:2:31: `switch[1].at` has 1 item; it needs 2 or more",
        ),
    ],
)
def test_one_mistake(line: str, message: str) -> None:
    assert "\n".join(problems(f'name = "x"\n{line}')).startswith(message)


def test_required_key_of_the_file() -> None:
    assert problems("motors = 4") == [
        "c.toml:1:1: the file lacks `name` (what the hangar is called); "
        "write `name = …` with a text"
    ]


def test_a_part_of_a_document() -> None:
    doc = load("c.toml", b"[a]\n[a.b]\nx = 1\n")
    found = check_table(doc, ("a", "b"), table({}))
    assert [str(one) for one in found] == [
        "c.toml:3:1: `x` means nothing in `a.b`; take it out",
    ]


def test_nested_choices_of_type() -> None:
    shape = table({"v": either(flag(), either(whole(), texts()), about="a value")})
    assert not problems("v = true", shape)
    assert not problems('v = ["a"]', shape)
    assert problems("v = 2.5", shape) == [
        "c.toml:1:5: `v` must be `true` or `false` or a whole number or a list of texts, "
        "not `2.5`; write a value"
    ]
    deep = table({"v": many(either(whole(), text()))})
    assert problems("v = 1", deep) == ["c.toml:1:5: `v` must be a list, not `1`"]
    assert problems("v = [2.5]", deep) == [
        "c.toml:1:6: `v[1]` must be a whole number or a text, not `2.5`"
    ]
    need = table({"v": either(whole(), text(), required=True), "w": anything(required=True)})
    assert problems("", need) == [
        "c.toml:1:1: the file lacks `v`; write `v = …` with a whole number or a text",
        "c.toml:1:1: the file lacks `w`; write `w = …` with a value",
    ]


def test_the_file_as_a_whole() -> None:
    shape = table({"a": anything(), "b": anything()}, check=lambda value: "says both")
    assert problems("a = 1", table({"a": anything()})) == []
    assert problems("a = 1\nb = 2", shape) == ["c.toml:1:1: the file says both"]


def test_long_words_are_cut() -> None:
    assert len(problems(f'name = "x"\nlink = "{"s" * 5000}"')[0]) < 200


def test_exact_length() -> None:
    shape = table({"v": many(whole(), least=3, most=3)})
    assert problems("v = [1]", shape) == ["c.toml:1:5: `v` has 1 item; it needs 3"]


def test_raise_all_sorts_by_line() -> None:
    raise_all([])
    one = Problem("one", file="c.toml")
    with pytest.raises(Problem) as single:
        raise_all([one])
    assert single.value is one
    found = check_table(load("c.toml", b'link = "x"\nmotors = "y"\n'), (), SHAPE)
    with pytest.raises(Problems) as caught:
        raise_all([*reversed(found), one])
    lines = [problem.span.line if problem.span else 0 for problem in caught.value.each]
    assert lines == [0, 1, 1, 2]
    assert str(caught.value).count("\n") == 3
    assert caught.value.exit == 2
    assert caught.value.message == "one"


def test_shapes_are_plain_data() -> None:
    assert schema.table().keys == {}
    assert isinstance(SHAPE, Shape)
