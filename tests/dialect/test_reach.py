"""Contradictions of what is read: what `dialect check` says of lines that nothing reaches."""

from __future__ import annotations

import pytest

import cfglint_grammars
from cfglint.dialect.contradictions import examine
from cfglint.dialect.load import bundled_names

SHAPE = 'assign = "put {name} {value}"\nflag_on = "with {name}"\nopen = "[{title}]"\n'


def said(text: str, shape: str = "", head: str = "") -> list[str]:
    """Each problem without the file's name, and without the lines before ``text``."""
    start = f'[dialect]\nid = "own"\n{head}\n[shape]\ngrammar = "plain"\n{SHAPE}{shape}\n'
    lines = start.count("\n")
    out = []
    for one in examine("own.toml", (start + text + "\n").encode()):
        assert one.span is not None, one
        out.append(f"{one.span.line - lines}:{one.span.column}: {one.message}; {one.instead}")
    return out


@pytest.mark.parametrize("name", bundled_names())
def test_the_bundled_dialects_contradict_nothing(name: str) -> None:
    assert examine(name, cfglint_grammars.read(f"{name}.toml")) == []


# ---------------------------------------------------------------- forms


def test_a_form_that_another_takes_all_lines_of() -> None:
    text = """\
[[forms]]
line = "ch {N} {low}"
sets = { low = "channel.N.low_us" }
[[forms]]
line = "ch {N} {high} {low}"
sets = { low = "channel.N.low_us", high = "channel.N.high_us" }"""
    assert said(text) == [
        "5:8: no line is ever read by the form `ch {N} {high} {low}`: `ch {N} {low}` takes it "
        "before; put it before that one, or write what tells them apart"
    ]
    first, second = text.split("[[forms]]\n")[1:]
    assert said(f"[[forms]]\n{second}\n[[forms]]\n{first}") == []


def test_two_forms_of_the_same_lines() -> None:
    text = """\
[[forms]]
line = "px {N} {high}"
within = "part {P}"
sets = { high = "channel.N.high_us" }
[[forms]]
line = "px {N} {mid}"
within = "part {Q}"
sets = { mid = "channel.N.mid_us" }
[[forms]]
line = "px {N} {low}"
sets = { low = "channel.N.low_us" }"""
    assert said(text) == [
        "6:8: the lines of the form `px {N} {mid}` are those of `px {N} {high}` as well; "
        "take one of them out, or write what tells them apart"
    ]


def test_a_form_of_a_change() -> None:
    text = """\
[[forms]]
line = "low {a}"
sets = { a = "stick.low_us" }
[[changes]]
at = "2.0"
[[changes.forms]]
line = "low {b}"
sets = { b = "stick.high_us" }"""
    assert said(text)[0].startswith("7:8: the lines of the form `low {b}` are those of `low {a}`")


def test_forms_without_a_word_before_their_field() -> None:
    text = """\
[[forms]]
line = "{a} low"
sets = { a = "stick.low_us" }
[[forms]]
line = "stick {a} low"
sets = { a = "stick.high_us" }"""
    assert said(text) == []


# ---------------------------------------------------------------- names


def test_a_family_that_another_takes_all_names_of() -> None:
    text = """\
[settings]
"channel.N.low_us" = { name = "c{N}" }
"channel.N.high_us" = { name = "c{N}h" }"""
    assert said(text) == [
        "3:1: `c{N}h` of `channel.N.high_us` is never read: `c{N}` of `channel.N.low_us` takes "
        "every such name; give one of them another name, or another section"
    ]
    # One member may well be written in a way of its own.
    assert (
        said('[settings]\n"port.N.baud" = { name = "p{N}" }\n"port.9.baud" = { name = "p7" }') == []
    )


def test_a_setting_called_like_the_profile_in_use() -> None:
    text = """\
[settings]
"receiver.port" = { name = "use" }
[profiles]
within = "set {P}"
in_use = "USE\""""
    assert said(text, 'case = "any"') == [
        "5:10: `USE` says which profile is in use and stands for `receiver.port` too; "
        "give one of them another name"
    ]
    assert said(text) == []
    assert said(text.replace('in_use = "USE"', "")) == []


def test_kept_and_ignored_that_fit_a_name_with_a_meaning() -> None:
    text = """\
[settings]
"motor.poles" = { name = "poles" }
"log.on" = { name = "log", flag = true }
"port.N.baud" = { name = "port-{N}" }
"stick.low_us" = { name = "low", within = "sticks" }
[kept]
names = ["other", "pol*", "low", "log", "port-*"]
[ignored]
lines = ["put p*"]"""
    instead = "take it out, or write it so that it leaves out what has a meaning"
    assert said(text) == [
        f"7:19: `pol*` in [kept] fits `poles` too, which stands for `motor.poles`; {instead}",
        f"7:34: `log` in [kept] fits `log` too, which stands for `log.on`; {instead}",
        f"7:41: `port-*` in [kept] fits `port-1` too, which stands for `port.N.baud`; {instead}",
        "9:10: `put p*` in [ignored] fits `put poles 1` too, which stands for `motor.poles`; "
        f"{instead}",
        "9:10: `put p*` in [ignored] fits `put port-1 1` too, which stands for `port.N.baud`; "
        f"{instead}",
    ]


def test_kept_of_a_change() -> None:
    text = """\
[settings]
"motor.poles" = { name = "poles" }
[kept]
names = ["mag"]
[[changes]]
at = "2.0"
rename = { mag = "poles" }
[[changes]]
at = "3.0"
kept = ["pol*"]"""
    found = said(text)
    assert [one.partition(";")[0] for one in found] == [
        "4:1: `poles` in [kept] fits `poles` too, which stands for `motor.poles`",
        "10:9: `pol*` in [kept] fits `poles` too, which stands for `motor.poles`",
    ]


# ---------------------------------------------------------------- words


def test_a_mode_that_one_form_has_no_word_for() -> None:
    text = """\
[[forms]]
line = "{mode} on {channel} {low}-{high}"
makes = "range"
fields = { mode = { values = { arm = "go", beacon = "beep", log = "log" } } }
[[forms]]
line = "{mode} only on {channel} {low}-{high}"
makes = "range"
join = "all"
fields = { mode = { values = { arm = "go" } } }
[[forms]]
line = "{mode} with {follows}"
makes = "link"
fields = { mode = { values = { arm = "go" } }, follows = { values = { log = "log" } } }"""
    assert said(text) == [
        "6:8: {mode} of the form `{mode} only on {channel} {low}-{high}` has no word for `beacon` "
        "(1 more), which `{mode} on {channel} {low}-{high}` has; "
        "say the words of all modes once, in [modes]"
    ]


def test_words_that_mean_two_things() -> None:
    once = "one written word can be read back as one meaning only"
    text = """\
[settings]
"log.on" = { name = "log", yes = "1", no = ["0", "1"] }
"port.1.functions" = { name = "p", none = "GPS" }
"port.2.functions" = { name = "q", none = "-", values = { gps = "-", log = "l" } }
"port.3.functions" = { name = "r", none = "-" }
[[forms]]
line = "two {way}"
sets = { way = "motor.two_way" }
fields = { way = { yes = "on", no = "ON" } }"""
    assert said(text, 'case = "any"') == [
        f"2:1: `1` means both yes and no for `log.on`; {once}",
        f"3:1: `GPS` is both an empty list and a word of `port.1.functions`; {once}",
        f"4:1: `-` is both an empty list and a word of `port.2.functions`; {once}",
        f"7:8: `on` means both yes and no for `motor.two_way`; {once}",
    ]
    assert len(said(text)) == 2


def test_words_that_differ_by_case_alone() -> None:
    words = '{ dshot300 = "a", dshot600 = "A" }'
    text = f'[settings]\n"motor.signal" = {{ name = "talk", values = {words} }}'
    assert said(text) == []
    (found,) = said(text, 'case = "any"')
    assert "`dshot300` and `dshot600` are both written `A`" in found


def test_defaults_without_a_written_word() -> None:
    instead = "add how it is written, or name another default"
    text = """\
[settings]
"motor.signal" = { name = "talk", values = { dshot300 = 3 }, default = "brushed" }
"port.N.functions" = { default = ["gps"], count = 2 }
"battery.cells" = { name = "cells", values = { 3 = "three" }, default = 4 }
"motor.poles" = { name = "poles", default = 14 }
"log.on" = { default = true }
[[forms]]
line = "port {N} {what}"
sets = { what = "port.N.functions" }
fields = { what = { mask = { receiver = 0 } } }"""
    assert said(text) == [
        f"2:72: the default of `motor.signal` cannot be written: there is no word for brushed; "
        f"{instead}",
        f"3:34: the default of `port.N.functions` cannot be written: there is no bit for gps; "
        f"{instead}",
        f"4:73: the default of `battery.cells` cannot be written: there is no code for 4; "
        f"{instead}",
    ]


def test_a_default_that_a_change_leaves_without_a_word() -> None:
    text = """\
[settings]
"motor.signal" = { name = "talk", values = { dshot300 = 3, brushed = 8 }, default = "dshot300" }
[[changes]]
at = "2.0"
[changes.settings]
"motor.signal" = { values = { dshot300 = "" } }"""
    (found,) = said(text)
    assert found.startswith("2:85: the default of `motor.signal` cannot be written")


def test_an_example_outside_the_versions() -> None:
    text = '[[examples]]\nlines = "a"\nfirmware = "3.1"'
    assert said(text, head='versions = ">=1,<3"') == [
        "3:12: example 1 is of firmware 3.1, outside the versions covered, >=1,<3; "
        "widen `versions`, or take the example out"
    ]
    assert said(text.replace("3.1", "2.1"), head='versions = ">=1,<3"') == []


# ---------------------------------------------------------------- written and read


INSTEAD = "write what tells such a line apart from others"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            '[[forms]]\nline = "#{n} poles"\nsets = { n = "motor.poles" }',
            "2:8: `motor.poles` is written `#14 poles`, and that line is read as a comment",
        ),
        (
            '[settings]\n"motor.poles" = { name = "p" }\n"log.on" = { name = "p q" }',
            "3:1: `log.on` is written `put p q yes`, and what stands for its value there cannot be "
            "read (it may be a number)",
        ),
        (
            '[identity]\nlines = ["put p {board}"]\n[settings]\n"motor.poles" = { name = "p" }',
            "4:1: `motor.poles` is written `put p 14`, and that line is read as one that names the "
            "craft",
        ),
        (
            '[[forms]]\nline = "{mode} # {channel} {low} {high}"\nmakes = "range"\n'
            '[identity]\nlines = ["{name} # {board}"]',
            "2:8: a range is written `arm # 1 1750 2150`, and that line is read as one that names "
            "the craft",
        ),
        (
            '[[forms]]\nline = "{mode} # {follows}"\nmakes = "link"\n'
            '[identity]\nlines = ["{name} # {board}"]',
            "2:8: a link is written `arm # arm`, and that line is read as one that names the craft",
        ),
    ],
)
def test_a_line_that_is_read_as_something_else(text: str, found: str) -> None:
    assert said(text, 'comment = "#"') == [f"{found}; {INSTEAD}"]


def test_a_field_that_takes_more_than_it_should() -> None:
    """A line of one setting that is read as a different value of it."""
    text = '[settings]\n"receiver.channel_order" = { name = "order", values = { hold = "ab" } }'
    assert said(text) == []
    both = """\
[settings]
"stick.low_us" = { name = "low" }
"stick.high_us" = { name = "low 1", offset = 3 }"""
    (found,) = said(both)
    assert "`stick.high_us` is written `put low 1 997`, and what stands for its value" in found


def test_what_has_no_value_to_try_is_left_out() -> None:
    text = """\
[settings]
"port.N.baud" = { name = "p{N}", number_first = 40 }
"loop.rate_hz" = { name = "turn", scale = 0.0000001 }
"motor.signal" = { name = "talk", values = { dshot300 = 3 } }
[[forms]]
line = "{mode} on {channel} {low}-{high}"
makes = "range"
fields = { low = { scale = 9999 }, high = { scale = 9999, decimals = 0 } }
[[forms]]
line = "{mode} by {follows}"
makes = "link"
fields = { follows = { values = { arm = "" } } }"""
    assert said(text) == []
