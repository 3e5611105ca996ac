"""`words`: all ballots of a casebook that are over, and nothing of those that are not."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audio.curves.curve import Curve
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.commands import words
from sessions.measured import curve_records
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.results.pooled_words import JudgedBallot, pooled
from sessions.results.presented_words import BallotTrials, Presented
from tests.answered_plans import answer_all, sealed_plan
from tests.command_line import earwitness
from tests.records import plan

FOUR = ("bright", "boomy", "thin", "wide")


def test_words_tells_every_ballot_that_is_over_and_nothing_of_one_that_is_not(casebook: Casebook) -> None:
    nothing = earwitness(casebook.folder, "words")
    assert (nothing.returncode, "No ballot of words yet" in nothing.stdout) == (0, True)
    for name, setups in (("first", ("sallow", "bracken")), ("second", ("bracken", "sallow")), ("third", None)):
        wish = {"setups": setups} if setups else {}
        sealed_plan(casebook, name, method="words", trials=12, words=FOUR, **wish)
    answer_all(casebook, 1.0, plan="first")
    answer_all(casebook, 1.0, plan="second")
    before = earwitness(casebook.folder, "words", "--json").stdout
    answer_all(casebook, 1.0, plan="third", most=9)
    found = json.loads(earwitness(casebook.folder, "words", "--json").stdout)
    assert found == json.loads(before)  # what was answered of a plan that goes on changes nothing
    (pair,) = found["pairs"]
    assert (pair["setups"], pair["plans"], pair["trials"]) == (["sallow", "bracken"], ["first", "second"], 24)
    assert pair["about"] == "This is about Ada alone."
    bright = pair["words"][0]
    # the listener that hears says the first word of the plan's first setup, always: of sallow, then of bracken
    assert (bright["counts"]["first_only"], bright["counts"]["second_only"]) == (12, 12)
    assert [(one["counts"]["first_only"], one["counts"]["second_only"]) for one in bright["plans"]] == [
        (12, 0),
        (0, 12),
    ]
    assert [one["plan"] for one in found["left_out"]] == ["third"]
    told = earwitness(casebook.folder, "words", "--setup", "bracken", "--setup", "sallow").stdout
    for part in (
        "sallow against bracken, ticks: 24 trials of Ada.",
        "12:0",
        "This is about Ada alone.",
        "exploratory",
        "each plan's own verdict (a * here): earwitness",
        "Not among these: third, which is not over: nothing of it is told before its end.",
    ):
        assert part in told
    assert json.loads(earwitness(casebook.folder, "words", "--setup", "bracken", "--json").stdout) == found
    thrice = earwitness(casebook.folder, "words", "--setup", "sallow", "--setup", "sallow")
    assert thrice.returncode == 2
    assert "--setup names one setup, or two that differ" in thrice.stderr


def test_what_p_and_flips_are_is_said_below_the_table(casebook: Casebook) -> None:
    sealed_plan(casebook, "ballot", method="words", trials=8, words=("bright", "boomy", "thin", "wide"))
    answer_all(casebook, 1.0, plan="ballot")
    told = " ".join(earwitness(casebook.folder, "words").stdout.split())
    assert "p (Holm): how often chance alone does as much" in told
    assert "flips: how often the word changed where both were the same" in told


def test_a_tiny_p_is_told_as_a_bound_and_no_zero_has_a_sign(capsys: pytest.CaptureFixture[str]) -> None:
    made = plan("words", 24)
    marks = {"setup-0": {"bright": 1.0}, "setup-1": {"bright": 0.0}}
    trials = [Presented("evening", "2026-W48", str(n), ("Ada", "Bo")[n % 2], "t", marks) for n in range(24)]
    (found,) = pooled([JudgedBallot(BallotTrials(made, tuple(trials), ()), frozenset())])
    bright = found.words[0]  # p 2/2²⁴ by hand
    assert bright.listeners is not None
    alike = replace(bright.listeners, alpha=-0.001)
    words._tell(replace(found, words=(replace(bright, listeners=alike),)))
    told = capsys.readouterr().out
    assert "< 0.0001" in told
    assert "0.0000" not in told
    assert "(0.00)" in told
    assert "-0.00" not in told


def test_a_word_that_only_its_ballot_alone_bears_has_no_star_and_is_told_so(casebook: Casebook) -> None:
    """By hand: of four words all 8 trials give 4 · 2/2⁸ = 0.031, and beside one more primary question 0.0625."""
    sealed_plan(casebook, "ballot", method="words", trials=8, words=FOUR)
    sealed_plan(casebook, "other", method="duo-trio", trials=8)
    answer_all(casebook, 1.0, plan="ballot")
    told = earwitness(casebook.folder, "words").stdout
    assert "each plan's own verdict: earwitness" in told  # no * stands here, only one in brackets
    assert "8:0 (*)" in told
    assert "8:0 *" not in told
    assert words.BY_BALLOT_ALONE in " ".join(told.split())
    verdict = " ".join(earwitness(casebook.folder, "verdict", "ballot").stdout.split())
    assert (
        "HEARD on its own, but not among the 2 primary questions taken together, in 2 words: bright and boomy"
        in verdict
    )
    assert "not heard" not in told  # nothing here says otherwise
    [pair] = json.loads(earwitness(casebook.folder, "words", "--json").stdout)["pairs"]
    bright, *_, wide = ([(one["heard"], one["by_ballot_alone"]) for one in word["plans"]] for word in pair["words"])
    assert (bright, wide) == ([(False, True)], [(False, False)])


def test_an_edited_record_is_said_first_wherever_words_are_told_and_a_spoilt_curve_in_a_line(
    casebook: Casebook, tmp_path: Path
) -> None:
    catalogue.add_listener(casebook, "Ada")
    hz = np.geomspace(20, 20_000, 241)
    flat = Curve(hz, 0 * hz, valid_hz=(20.0, 20_000.0))
    data = np.column_stack([flat.hz, flat.level_db])
    for name in ("sallow", "bracken"):
        curves = [NewCurve("response", ON_AXIS, data, Conditions())]
        curve_records.keep(casebook, catalogue.find(casebook, Setup, name), [(RawFile.of("a.txt", b"a"), curves)])
    asked = (
        ["words"],
        ["words", "learn"],
        ["crosscheck", "sallow", "bracken"],
        ["word", "profile", "sallow"],
        ["word", "list"],
        ["word", "summary"],
        ["word", "search", "o"],
        ["lexicon", "list", "--family", "space"],
        ["lexicon", "show", "bright"],
        ["stills", "words", "sallow", "--out", str(tmp_path)],
        ["curve", "list"],
        ["curve", "show", "sallow", "--against", "bracken"],
    )
    assert earwitness(casebook.folder, "word", "log", "bright", "--setup", "sallow").returncode == 0
    for arguments in asked:
        assert "DOES NOT HOLD" not in earwitness(casebook.folder, *arguments).stdout
    db = casebook.db.conn
    for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        db.execute(f"DROP TRIGGER {name}")
    db.execute("UPDATE words SET term = 'boomy'")
    db.commit()
    for arguments in asked:
        assert earwitness(casebook.folder, *arguments).stdout.startswith("THE RECORD DOES NOT HOLD"), arguments
    for arguments in (["curve", "show", "sallow"], *asked[4:10]):
        assert json.loads(earwitness(casebook.folder, *arguments, "--json").stdout)["record_holds"] is False
    written = earwitness(casebook.folder, "curve", "export", "sallow")  # what is written is data alone
    assert (written.stderr.startswith("THE RECORD DOES NOT HOLD"), "RECORD" in written.stdout) == (True, False)
    db.execute("UPDATE curves SET data = replace(data, 'eJ', 'AA')")
    db.commit()
    spoilt = earwitness(casebook.folder, "crosscheck", "sallow", "bracken")
    assert (spoilt.returncode, len(spoilt.stderr.splitlines())) == (2, 1)
    assert "cannot be read any more" in spoilt.stderr


def test_a_ballot_that_cannot_hold_beside_the_other_primary_questions_says_so_before_its_seal(
    casebook: Casebook,
) -> None:
    """By hand: of four words all 8 trials give 4 · 2/2⁸ = 0.031, twice that 0.0625."""
    asked = (
        "plan",
        "words",
        *(part for word in FOUR for part in ("--word", word)),
        "--trials",
        "8",
        "--listener",
        "Ada",
    )
    catalogue.add_listener(casebook, "Ada")
    assert "no word can hold" not in earwitness(casebook.folder, *asked, "--name", "alone").stdout
    assert earwitness(casebook.folder, *asked, "--name", "early").returncode == 0
    sealed_plan(casebook, "other", method="duo-trio", trials=8)
    done = earwitness(casebook.folder, *asked, "--name", "beside")
    assert done.returncode == 0, done.stderr
    beside = " ".join(done.stdout.split())
    assert "no word can hold, whatever is ticked: the least p of 8 trials is 0.0312, and it counts 2 times" in beside
    assert "no word can hold" not in earwitness(casebook.folder, *asked, "--name", "x", "--exploratory").stdout
    told = earwitness(casebook.folder, "plan", "show", "early")  # drafted before the other was sealed
    refused = earwitness(casebook.folder, "seal", "early", "--elsewhere")
    for said in (told.stdout, refused.stderr):
        assert "the least p of 8 trials is 0.0312, and it counts 2 times. More trials" in " ".join(said.split())
    assert refused.returncode == 2
    assert "seal early --anyway" in refused.stderr
