"""A known difference from the command line: planned, told, refused in one line, and beside the verdict."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook
from tests.answered_plans import PAIR, answer_all
from tests.command_line import earwitness

SETUPS = ("--setup", PAIR[0], "--setup", PAIR[1], "--listener", "Ada")


def test_it_is_planned_with_what_it_is_and_how_long_that_gets(book: Casebook) -> None:
    done = earwitness(
        book.folder, "plan", "abx", *SETUPS, "--trials", "10", "--controls", "2", "--known", "8", "--lift", "2000:1"
    )
    assert done.returncode == 0, done.stderr
    assert "8 more trials hold a known difference, a lift of 1 dB around 2 kHz (level 0.00" in done.stdout
    assert "In all that makes 20 trials for each listener." in done.stdout
    assert "Shown if 9 or more of 10 are right" in done.stdout  # criterion and power are those of the trials that count
    assert "too few to tell from guessing" not in done.stdout


def test_too_few_of_them_are_told_with_how_many_would_do(book: Casebook) -> None:
    """Four heard of four are guessed in 1 of 16, five of five in 1 of 32; by thirds, three of three in 1 of 27."""
    few = earwitness(book.folder, "plan", "abx", *SETUPS, "--known", "4", "--step", "-1")
    assert (
        "4 trials of a known difference are too few to tell from guessing, even if all are heard; plan at least 5."
        in few.stdout
    )
    assert "a level step of 1 dB down, and they do not count." in few.stdout  # a step is exact: nothing is left of it
    assert "LU off at most" not in few.stdout
    both = earwitness(book.folder, "plan", "abx", *SETUPS, "--listener", "Bo", "--known", "2", "--step", "-1")
    assert "4 trials of a known difference, of all listeners together, are too few" in both.stdout
    assert "plan at least 3 for each." in both.stdout
    thirds = earwitness(book.folder, "plan", "triangle", *SETUPS, "--known", "2", "--step", "-1", "--json")
    assert any("plan at least 3." in line for line in json.loads(thirds.stdout)["warnings"])
    enough = earwitness(book.folder, "plan", "triangle", *SETUPS, "--known", "3", "--step", "-1", "--json")
    assert not any("too few" in line for line in json.loads(enough.stdout)["warnings"])


@pytest.mark.parametrize(
    ("method", "options", "says"),
    [
        ("preference", ("--known", "4", "--step", "1"), "preference has no right answer"),
        ("abx", ("--known", "4", "--lift", "2000"), "--lift takes HZ:DB with whole hertz, such as 2000:1; got '2000'"),
        ("abx", ("--known", "4", "--lift", "2k:1"), "--lift takes HZ:DB"),
        ("abx", ("--known", "4", "--lift", "2000:much"), "--lift takes a decimal number such as 0.05; got 'much'"),
        ("abx", ("--known", "4", "--step", "nan"), "--step takes a decimal number"),
        ("abx", ("--known", "4", "--lift", "2000:1:3"), "--lift takes HZ:DB with whole hertz, such as 2000:1"),
        ("abx", ("--known", "4", "--lift", "2000:1_0"), "--lift takes a decimal number such as 0.05; got '1_0'"),
        ("abx", ("--known", "4", "--step", "1_0"), "--step takes a decimal number such as 0.05; got '1_0'"),
        ("abx", ("--known", "4", "--lift", "2000:1.2345"), "--lift takes decibels with three decimals at most"),
        ("abx", ("--known", "4", "--step", "1e0"), "--step takes decibels with three decimals at most, such as 1.5"),
        ("abx", ("--alpha", "0.0_5"), "--alpha takes a decimal number such as 0.05; got '0.0_5'"),
        ("abx", ("--known", "4", "--lift", "16001:1"), "is too high: most people hear nothing above 16000 Hz; give 16"),
        ("abx", ("--known", "4"), "a known difference is --known N with one of --lift HZ:DB and --step DB"),
    ],
)
def test_what_does_not_fit_is_refused_in_one_line(
    book: Casebook, method: str, options: tuple[str, ...], says: str
) -> None:
    done = earwitness(book.folder, "plan", method, *SETUPS, *options)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert done.stderr.count("\n") == 1


def test_one_trial_is_one(book: Casebook) -> None:
    done = earwitness(
        book.folder, "plan", "abx", *SETUPS, "--trials", "10", "--controls", "1", "--known", "1", "--lift", "2000:1.125"
    )
    assert "1 more trial is a control: everything is the same setup, and it does not count." in done.stdout
    assert "1 more trial holds a known difference, a lift of 1.125 dB around 2 kHz" in done.stdout
    assert "1 more trials" not in done.stdout


def test_a_lift_that_changes_next_to_nothing_of_the_music_is_warned_of(book: Casebook) -> None:
    """Said of the draft and again when it is sealed; of a lift of what the music holds nothing is said."""
    options = ("plan", "abx", *SETUPS, "--trials", "10", "--known", "8", "--lift")
    plain = json.loads(earwitness(book.folder, *options, "2000:1", "--json").stdout)
    assert -50 < float(plain["known"]["change_db"]) < -20
    assert not any("next to nothing" in line for line in plain["warnings"])
    faint = earwitness(book.folder, *options, "16000:0.1", "--name", "evening")
    assert "The music holds next to nothing that the lift could raise" in faint.stdout
    assert "Below 60 dB nobody can be expected to hear it (our limit" in faint.stdout
    assert "The music holds next to nothing" in earwitness(book.folder, "plan", "show", "evening").stdout
    sealed = earwitness(book.folder, "seal", "evening", "--json")
    assert "The music holds next to nothing" in sealed.stderr


def test_it_stands_beside_the_verdict_for_people_and_for_programs(book: Casebook, tmp_path: Path) -> None:
    earwitness(
        book.folder, "plan", "abx", "--name", "evening", *SETUPS, "--trials", "8", "--known", "6", "--step", "-1"
    )
    earwitness(book.folder, "seal", "evening")
    answer_all(book, 1.0)
    told = earwitness(book.folder, "verdict", "evening")
    assert (
        "a level step of 1 dB down was answered rightly in 6 of 6 trials (95 % exact interval 0.54 to 1.00; 0.5 by"
        in told.stdout
    )
    beside = json.loads(earwitness(book.folder, "verdict", "evening", "--json").stdout)["plans"][0]["beside"]
    assert {part: beside["known"][part] for part in ("what", "planned", "answered", "right", "chance")} == {
        "what": "a level step of 1 dB down", "planned": 6, "answered": 6, "right": 6, "chance": 0.5,
    }  # fmt: skip
    assert beside["known"]["p_value"] == pytest.approx(1 / 64)
