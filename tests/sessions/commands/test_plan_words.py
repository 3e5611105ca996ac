"""A ballot of words on the command line: planned, sealed, rehearsed, judged, reported; and what it refuses."""

from __future__ import annotations

import json
import math
from pathlib import Path

import click.testing
import pytest

from sessions.casebook.store import Casebook
from sessions.commands.context import Context
from sessions.commands.main import earwitness
from sessions.errors import SessionsError
from sessions.plans import seals
from sessions.results.exported_record import exported
from stats.errors import StatsError
from tests.answered_plans import answer_all, checked_alone, run_alone

EIGHT = "bright,boomy,thin,wide,dry,warm,harsh,dull"


def run(book: Casebook, *arguments: str) -> click.testing.Result:
    given = ["--casebook", str(book.folder), *arguments]
    return click.testing.CliRunner().invoke(earwitness, given, obj=Context())


def said(book: Casebook, *arguments: str) -> str:
    done = run(book, *arguments)
    assert done.exit_code == 0, done.exception
    return " ".join(done.output.split())


def test_a_ballot_is_planned_sealed_rehearsed_judged_and_reported(casebook: Casebook, tmp_path: Path) -> None:
    planned = said(casebook, "plan", "words", "--name", "ballot", "--words", EIGHT, "--listener", "Ada")
    assert "Words, in the order given: bright, boomy, thin, wide, dry, warm, harsh, dull." in planned
    assert "With 24 trials and 8 words, only a word ticked" in planned
    assert "are advised" not in planned
    assert "ballot" in said(casebook, "plan", "list")
    said(casebook, "seal", "ballot")
    assert "Test: for each word an exact test" in said(casebook, "plan", "show", "ballot")
    said(casebook, "rehearse", "ballot", "--hears", "1", "--seed", "3")
    rehearsed = said(casebook, "verdict", "ballot", "--rehearsals")
    assert "REHEARSAL, never counted: ballot:" in rehearsed
    assert '"bright" was said of' in rehearsed
    answer_all(casebook, 1.0, plan="ballot")
    (judged,) = json.loads(run(casebook, "verdict", "ballot", "--json").output)["plans"]
    counts = {one["word"]: (one["first_only"], one["second_only"]) for one in judged["analysis"]["words"]}
    assert sorted(counts["bright"]) == sorted(counts["boomy"]) == [0, 24]
    assert counts["bright"] != counts["boomy"]
    page = tmp_path / "report.html"
    said(casebook, "report", "--out", str(page))
    assert "In how many trials each word was ticked of one of the two alone" in page.read_text(encoding="utf-8")
    assert run(casebook, "verify").exit_code == 0


def test_words_that_the_lexicon_lacks_are_named_and_can_be_put_right(casebook: Casebook) -> None:
    given = ("--name", "odd", "--words", "brigt,fooey,boomier,thin", "--listener", "Ada")
    planned = said(casebook, "plan", "words", *given)
    assert "brigt, fooey are not in the lexicon: ticked as typed" in planned
    assert "'brigt': did you mean 'bright'?" in planned
    shown = said(casebook, "edit", "draft", "odd", "--words", "bright,boomy,thin")
    assert "Words, in the order given: bright, boomy, thin." in shown
    assert "not in the lexicon" not in shown
    said(casebook, "plan", "abx", "--name", "plain", "--listener", "Ada")
    assert "'plain' is no ballot" in str(run(casebook, "edit", "draft", "plain", "--word", "thin").exception)


def test_words_come_from_options_and_from_a_file_with_one_in_each_line(casebook: Casebook, tmp_path: Path) -> None:
    listed = tmp_path / "words.txt"
    listed.write_text("thin\n\n  near by \n", encoding="utf-8")
    arguments = ["plan", "words", "--word", "bright", "--words", str(listed), "--listener", "Ada", "--json"]
    made = json.loads(run(casebook, *arguments).stdout)
    assert made["words"] == ["bright", "thin", "near by"]
    assert made["warnings"][0] == "3 words: 8 to 12 are advised; fewer leave little to choose between."


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--listener", "Ada"], "a ballot has 2 to 16 words"),
        (["--listener", "Ada", "--words", "nowhere.txt"], "'nowhere.txt' has no comma, and as a file: No such file"),
        (["--listener", "Ada", "--words", EIGHT, "--controls", "7"], "--controls 7 is too few"),
        (["--listener", "Ada", "--words", EIGHT, "--known", "2", "--step", "1"], "leave --known out"),
        (["--listener", "Ada", "--words", EIGHT, "--effect", "0.1"], "--effect 0.1 is out of range"),
    ],
)
def test_what_cannot_be_planned_is_one_line_and_keeps_nothing(
    casebook: Casebook, arguments: list[str], says: str
) -> None:
    done = run(casebook, "plan", "words", *arguments)
    assert isinstance(done.exception, SessionsError)
    assert says in str(done.exception)
    assert "\n" not in str(done.exception)
    assert casebook.query("SELECT * FROM drafts") == []


def test_power_takes_the_number_of_words_and_tally_takes_no_ballots(casebook: Casebook) -> None:
    """22 pairs for one word, 0.6 and 0.1, power 0.8, are those of `stats.ballot_power`; two words need more."""
    few, many = (
        json.loads(run(casebook, "power", "words", "--proportion", "0.6", "--words", number, "--json").output)
        for number in ("2", "16")
    )
    assert 22 < few["trials_first"] < many["trials_first"]
    assert (few["words"], many["words"]) == (2, 16)
    assert isinstance(run(casebook, "power", "round-robin", "--words", "3").exception, StatsError)
    assert isinstance(run(casebook, "power", "words", "--words", "17").exception, StatsError)
    assert run(casebook, "tally", "words", "--file", "x.csv").exit_code != 0


@pytest.mark.parametrize(
    ("asked", "effect"),
    [
        (
            ("--proportion", "0.9"),
            "ticked of one of the two alone in 90 % of the trials, and of the other alone in 10 %",
        ),
        (("--rated", "--effect", "2", "--trials", "12"), "2 times as much as that difference scatters"),
    ],
)
def test_the_power_of_a_ballot_says_what_for_and_what_comes_on_top_and_nothing_twice(
    casebook: Casebook, asked: tuple[str, ...], effect: str
) -> None:
    lines = run(casebook, "power", "words", "--words", "4", *asked).output.splitlines()
    assert effect in lines[0]
    assert sum("Holm" in line for line in lines) == 1
    trials = int(lines[-1].partition(" trials come")[0].rpartition(" ")[2])
    assert f"On top of {trials} trials come at least {math.ceil(trials / 3)} controls" in lines[-1]
    assert sum(line.count(f"{trials} trials") for line in lines) == 2  # its power, and what comes on top


def test_a_rated_ballot_goes_from_its_plan_to_a_verdict_that_a_stranger_recomputes(
    casebook: Casebook, tmp_path: Path
) -> None:
    asked = ["plan", "words", "--rated", "--name", "ballot", "--words", EIGHT, "--listener", "Ada"]
    planned = said(casebook, *asked)
    assert "each is rated of both, 0 (not at all) to 9 (very much)" in planned
    assert "With 24 trials and 8 words, a word is likely to be found only if its ratings of the two differ" in planned
    assert "8 more trials are controls" in planned
    said(casebook, "seal", "ballot")
    assert "Test: for each word an exact permutation test" in said(casebook, "plan", "show", "ballot")
    said(casebook, "rehearse", "ballot", "--hears", "1", "--seed", "3")
    assert '"bright" was rated higher of' in said(casebook, "verdict", "ballot", "--rehearsals")
    answer_all(casebook, 1.0, plan="ballot")
    (judged,) = json.loads(run(casebook, "verdict", "ballot", "--json").output)["plans"]
    assert judged["effect_planned"] == 0.8
    found = {one["word"]: one for one in judged["analysis"]["words"]}
    assert found["bright"]["p_value"] == pytest.approx(2 / 2**24)
    assert found["bright"]["flips"]["pairs"] == 8
    told = checked_alone(casebook, tmp_path, "ballot")
    assert f"; p = {judged['p_value']:.6g}; alpha 0.05; by itself: heard" in told
    record = exported(casebook, seals.sealed_plan(casebook, "ballot"))
    record["sessions"][0]["trials"][0]["answer"] = record["sessions"][0]["trials"][1]["answer"]
    assert run_alone(record, tmp_path).returncode != 0
    page = tmp_path / "report.html"
    said(casebook, "report", "--out", str(page))
    assert "How each word was rated on average" in page.read_text(encoding="utf-8")
    assert run(casebook, "verify").exit_code == 0
    (pair,) = json.loads(run(casebook, "words", "--json").output)["pairs"]
    assert (pair["rated"], pair["words"][0]["plans"][0]["heard"]) == (True, True)
    assert "sallow against bracken, ratings: 24 trials of Ada." in said(casebook, "words")


def test_power_of_ratings_is_that_of_their_test() -> None:
    """All alike from 9 trials on, 2·2⁻⁹ ≤ .05/10; by the permutation test at .005 in `stats.rated_pairs_power`."""
    given = ["power", "words", "--rated", "--words", "10", "--effect", "5", "--json"]
    found = json.loads(click.testing.CliRunner().invoke(earwitness, given, obj=Context()).output)
    assert (found["trials_first"], found["least_trials"], found["words"]) == (9, 9, 10)


def test_a_power_that_is_simulated_says_so_and_of_what(casebook: Casebook) -> None:
    """0.53 to 0.63 for 16 trials: whole-number ratings of several spreads, judged by `stats.sign_flips` elsewhere."""
    asked = ["power", "words", "--rated", "--words", "3", "--trials", "16"]
    told = " ".join(click.testing.CliRunner().invoke(earwitness, asked, obj=Context()).output.split())
    found = json.loads(click.testing.CliRunner().invoke(earwitness, [*asked, "--json"], obj=Context()).output)
    assert 0.5 < found["power"] < 0.66
    assert f"power {found['power']:.3f} ± {found['power_error']:.3f} (simulated" in told
    assert f"needs about {found['trials_first']} trials" in told
    assumed = "ratings are whole numbers, 0 to 9; those of one setup spread by 1.5 points from trial to trial"
    assert f"Simulated: {assumed}" in told
    assert found["power_assumes"].startswith(assumed)
    words = ["--words", "bright,thin,wide", "--trials", "16", "--listener", "Ada"]
    planned = said(casebook, "plan", "words", "--rated", *words)
    assert "this finds it with probability about 0." in planned
    assert f"Simulated: {assumed}" in planned
    assert "Simulated" not in said(casebook, "plan", "words", *words)
    helped = click.testing.CliRunner().invoke(earwitness, ["power", "--help"]).output
    assert "simulated" in helped
    assert "or power reached, exactly;" not in helped
