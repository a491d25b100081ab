"""What names and written words are understood to say."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import MODES, SETTINGS, SIGNALS
from cfglint.teach.meanings import TABLES, best, in_style, is_nothing, meant, squeeze
from cfglint.teach.names import BY_SETTING, PROFILES, Words, fit
from cfglint.teach.words import (
    FILLERS,
    IDEAS,
    TRADE,
    TRADE_FUNCTIONS,
    TRADE_MODES,
    ideas,
    is_filler,
    known,
    split,
    unit_of,
)

# ---------------------------------------------------------------- names into words


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("motorPulse_min2", ("motor", "pulse", "min", "2")),
        ("ESCSignal", ("esc", "signal")),
        ("failsafe.delay-ms", ("failsafe", "delay", "ms")),
        ("lost link", ("lostlink",)),
        ("batterywarnvolts", ("battery", "warn", "volts")),
        ("cellfullv", ("cell", "full", "v")),
        ("turnpace", ("turn", "pace")),
        ("polecount_celltype", ("polecount", "celltype")),
        ("rxloss", ("rxloss",)),
        ("qqxyzw", ("qqxyzw",)),
        ("abc", ("abc",)),
        ("x" * 50, ("x" * 50,)),
        ("", ()),
    ],
)
def test_a_name_falls_into_words(name: str, words: tuple[str, ...]) -> None:
    assert split(name) == words


def test_the_trades_own_words_are_marked_and_known() -> None:
    assert set(TRADE) <= set(IDEAS)
    for idea, row in TRADE.items():
        assert row.split()
        for word in row.split():
            assert idea in {found for found, _ in ideas(word)}, word
    for table, rows in (("mode", TRADE_MODES), ("port.N.functions", TRADE_FUNCTIONS)):
        for neutral, phrases in rows.items():
            for phrase in phrases.split(", "):
                assert best(table, phrase.rstrip("?"))[0] == neutral, phrase


def test_the_time_of_a_loop_is_a_period() -> None:
    assert unit_of(split("loop_time")) == unit_of(split("cycleTime")) == "period"
    assert unit_of(split("failsafe_time")) == ""


@given(st.lists(st.sampled_from(sorted({w for row in IDEAS.values() for w in row.split()}))))
def test_words_that_are_known_stay_whole(words: list[str]) -> None:
    letters = [word for word in words if word.isalpha()]
    assert "".join(split("_".join(letters))) == "".join(letters)


@given(st.text())
def test_no_letter_is_lost_or_made_up(name: str) -> None:
    kept = list(split(name))
    assert all(part == part.lower() and part for part in kept)
    assert len("".join(kept)) <= len(name.lower())


def test_a_word_is_known_with_its_plural() -> None:
    assert known("battery")
    assert known("ports")
    assert known("sluices") is False
    assert ideas("thrusters") == ideas("thruster") == (("motor", 1.0),)


@pytest.mark.parametrize(
    ("short", "idea"),
    [
        ("throt", "throttle"),  # a beginning
        ("rcvr", "receiver"),  # listed
        ("thrttl", "throttle"),
        ("chnnl", "channel"),
        ("inverting", "invert"),  # an ending
        ("prtcl", "signal"),  # without vowels
        ("fnctn", "functions"),
        ("bttry", "battery"),
    ],
)
def test_short_forms_are_understood(short: str, idea: str) -> None:
    assert idea in dict(ideas(short))


def test_a_word_of_nobody_speaks_of_nothing() -> None:
    assert ideas("sandpiper") == ()
    assert ideas("xy") == ()
    assert ideas("1234") == ()
    # Letters in another order are no short form.
    assert "battery" not in dict(ideas("byrttqz"))


def test_the_unit_is_the_last_one_said() -> None:
    assert unit_of(("delay", "ms")) == "ms"
    assert unit_of(("s", "then", "us")) == "us"
    assert unit_of(("delay",)) == ""
    assert is_filler("the")
    assert is_filler("12")
    assert not is_filler("motor")


def test_every_idea_that_a_setting_asks_for_has_words() -> None:
    for profile in PROFILES:
        asked = {idea for group in profile.groups for idea in group}
        assert asked <= set(IDEAS), profile.setting
        assert len(profile.shares) == len(profile.groups)
        assert profile.setting in SETTINGS
    assert set(BY_SETTING) == set(SETTINGS) - {"craft.board", "craft.firmware"}
    assert not {w for w in FILLERS if " " in w}


# ---------------------------------------------------------------- names and settings


def likeliest(name: str, *, section: str = "", heading: str = "") -> str:
    words = Words(split(name), split(section), split(heading))
    return max(PROFILES, key=lambda profile: fit(profile, words).score).setting


@pytest.mark.parametrize(
    ("name", "section", "setting"),
    [
        ("esc_protocol", "", "motor.signal"),
        ("rx_invert", "", "receiver.inverted"),
        ("failsafe_pause_ms", "", "failsafe.delay_s"),
        ("delay", "failsafe", "failsafe.delay_s"),
        ("gyro_loop_hz", "", "loop.rate_hz"),
        ("cell_warning_volts", "", "battery.warn_v"),
        ("serial_baud", "", "port.N.baud"),
        ("turtle_power_percent", "", "self-right.power_percent"),
    ],
)
def test_a_name_says_its_setting(name: str, section: str, setting: str) -> None:
    assert likeliest(name, section=section) == setting


def test_what_stands_around_a_name_counts_less_than_the_name() -> None:
    delay = BY_SETTING["failsafe.delay_s"]
    own = fit(delay, Words(("failsafe", "delay")))
    section = fit(delay, Words(("delay",), ("failsafe",)))
    heading = fit(delay, Words(("delay",), (), ("failsafe",)))
    assert own.score > section.score > heading.score > fit(delay, Words(("delay",))).score
    assert own.recall == own.precision == 1
    assert own.words == ("failsafe", "delay")


def test_words_about_something_else_count_against_a_name() -> None:
    delay = BY_SETTING["failsafe.delay_s"]
    plain = fit(delay, Words(("failsafe", "delay")))
    gps = fit(delay, Words(("failsafe", "gps", "delay")))
    letter = fit(delay, Words(("failsafe", "q", "delay")))
    unit = fit(delay, Words(("failsafe", "delay", "ms")))
    section = fit(delay, Words(("failsafe", "delay"), ("gps",)))
    other = fit(delay, Words(("failsafe", "delay"), ("video",)))
    assert plain.score == unit.score > letter.score > gps.score
    assert plain.score > other.score > section.score


def test_a_name_without_words_fits_nothing() -> None:
    assert fit(BY_SETTING["log.on"], Words(())).score == 0
    assert fit(BY_SETTING["log.on"], Words(("sandpiper",))).score == 0


def test_one_word_for_two_things_says_less() -> None:
    # `cell` is the battery and, less surely, how many there are.
    cells = BY_SETTING["battery.cells"]
    assert fit(cells, Words(("battery", "cells"))).score > fit(cells, Words(("cells",))).score


# ---------------------------------------------------------------- written words


@pytest.mark.parametrize("table", sorted(TABLES))
def test_neutral_words_mean_themselves(table: str) -> None:
    for word in TABLES[table][0]:
        assert best(table, word) == (word, 1.0)
        assert best(table, word.upper().replace("-", "_"))[0] == word


@pytest.mark.parametrize(
    ("table", "written", "word", "least"),
    [
        ("motor.signal", "DSHOT_600", "dshot600", 0.95),
        ("motor.signal", "digital-300", "dshot300", 0.95),
        ("receiver.link", "s.bus", "sbus", 0.95),
        ("failsafe.action", "goHome", "return-home", 0.95),
        ("failsafe.action", "slowly land", "descend", 0.5),
        ("mode", "mode-arm", "arm", 0.75),
        ("mode", "turtlesw", "self-right", 0.9),
        ("mode", "turt", "self-right", 0.6),
        ("mode", "armingly", "arm", 0.5),
        ("mode", "bcn", "beacon", 0.75),
        ("mode", "pos_hld", "hold-position", 0.5),
        ("mode", "keepheight", "hold-height", 0.75),
        ("mode", "alti-stay", "hold-height", 0.8),
        ("mode", "fix height", "hold-height", 0.9),
        ("battery.chemistry", "LiPo", "lipo", 1.0),
        ("port.N.functions", "gps_in", "gps", 0.75),
    ],
)
def test_words_of_the_trade_are_understood(
    table: str, written: str, word: str, least: float
) -> None:
    found, weight = best(table, written)
    assert found == word
    assert least <= weight <= 1


@pytest.mark.parametrize("written", ["", "--", "12", "sandpiper", "q"])
def test_what_is_no_word_means_nothing(written: str) -> None:
    assert best("mode", written) == ("", 0.0)


def test_a_word_for_two_things_is_sure_of_neither() -> None:
    # Two modes hold something.
    rows = meant("mode", "hold")
    assert len(rows) > 1
    assert rows[0].weight - rows[1].weight < 0.1
    assert best("mode", "hold")[1] < 0.6


@pytest.mark.parametrize("written", ["dsh", "oneshot", "pulse", "shot"])
def test_a_signal_that_lacks_its_number_is_none_with_one(written: str) -> None:
    # `one shot` is no beginning of `one shot 42`: the number is what tells them apart.
    assert all(row.weight < 0.73 for row in meant("motor.signal", written))


@given(st.sampled_from(sorted(TABLES)), st.text())
def test_any_text_means_one_word_at_most(table: str, written: str) -> None:
    word, weight = best(table, written)
    assert word in ("", *TABLES[table][0])
    assert 0 <= weight <= 1
    assert (word == "") == (weight == 0)
    rows = meant(table, written)
    assert [row.weight for row in rows] == sorted((row.weight for row in rows), reverse=True)


def test_nothing_is_said_in_many_words() -> None:
    assert all(is_nothing(word) for word in ("none", " OFF ", "-", "n/a"))
    assert not is_nothing("gps")


# ---------------------------------------------------------------- spelling


def test_a_spelling_is_kept_for_words_that_were_not_seen() -> None:
    assert in_style("motor.signal", {"dshot600": "DSHOT600"})["oneshot125"] == "ONESHOT125"
    assert in_style("failsafe.action", {"return-home": "Return_Home"})["hold-last"] == "Hold_Last"
    plain = in_style("mode", {"arm": "arm"})
    assert plain["self-right"] == "self-right"
    assert set(plain) == set(MODES) - {"arm"}


def test_another_word_says_nothing_of_the_spelling() -> None:
    assert in_style("failsafe.action", {"stop": "drop"}) == {}
    # Capitals within are no style that other words could follow.
    assert in_style("failsafe.action", {"hold-last": "hOldlAst"}) == {}


def test_digital_signals_differ_in_their_number() -> None:
    made = in_style("motor.signal", {"dshot300": "digi-300"})
    for rate in (150, 600, 1200):
        assert made[f"dshot{rate}"] == f"digi-{rate}"
    seen = {"dshot300": "digi-300", "dshot600": "DSHOT600"}
    assert in_style("motor.signal", seen)["dshot150"] in ("digi-150", "DSHOT150")
    assert set(in_style("motor.signal", {"dshot600": "DSHOT600"})) == set(SIGNALS) - {"dshot600"}


@pytest.mark.parametrize(
    ("table", "seen", "made"),
    [
        ("motor.signal", {"servo-pwm": "pwm"}, {"dshot600": "dshot600", "multishot": "multishot"}),
        ("motor.signal", {"servo-pwm": "PWM"}, {"dshot600": "DSHOT600", "oneshot42": "ONESHOT42"}),
        ("motor.signal", {"dshot300": "DShot300"}, {"dshot600": "DShot600"}),
        ("receiver.link", {"ppm": "SumPpm"}, {"crsf": "CRSF", "ibus": "iBUS"}),
        ("battery.chemistry", {"lipo": "LiPo"}, {"lihv": "LiHV", "life": "LiFe"}),
        ("battery.chemistry", {"lipo": "lithium-polymer"}, {"lihv": "lihv", "li-ion": "li-ion"}),
    ],
)
def test_the_trades_own_names_are_spelled_as_large_as_the_words_seen(
    table: str, seen: dict[str, str], made: dict[str, str]
) -> None:
    """Names of signals, links and chemistries mean nothing else, whoever writes them."""
    spelled = in_style(table, seen)
    assert {word: spelled[word] for word in made} == made


def test_a_spelling_is_never_given_to_two_words() -> None:
    # What is already written for one word stands for no other.
    made = in_style("failsafe.action", {"stop": "stop", "none": "descend"})
    assert "descend" not in made


@given(st.sampled_from(sorted(TABLES)), st.data())
def test_spelled_words_are_apart_and_new(table: str, data: st.DataObject) -> None:
    words = TABLES[table][0]
    seen = {
        word: data.draw(st.sampled_from([word, word.upper(), word.title(), f"x{word}"]))
        for word in data.draw(st.sets(st.sampled_from(words), min_size=1))
    }
    made = in_style(table, seen)
    assert not set(made) & set(seen)
    assert set(made) <= set(words)
    texts = [squeeze(text) for text in (*made.values(), *seen.values())]
    assert len(set(texts)) == len(texts)
