"""What ballots and words tell of two setups: only what a verdict holds is heard, and what tells nothing is named."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from audio.curves.curve import Curve
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup, Track
from sessions.casebook.store import Casebook
from sessions.commands import crosscheck as command
from sessions.measured.band_effect import BandEffect, BandEffects
from sessions.measured.beside_words import Beside
from sessions.report import result_pictures
from sessions.results import ballots_over, blind_ticks, first_lines, sentences
from sessions.results.ballot_outcomes import WordBallots
from sessions.results.crosscheck import crosscheck
from sessions.results.crosschecked import WordOfTwo
from sessions.results.together import judged_together
from sessions.results.verdict import VOID, Together, Verdict, judge
from sessions.results.words_of_two import in_words, of_ballot, of_ballots
from sessions.words.lexicon import shipped
from sessions.words.lexicon_changes import Change, changed
from stats.count_summary import HEARD, NOT_SHOWN
from stats.holm import holm
from tests.answered_plans import answer_all, sealed_plan
from tests.command_line import earwitness
from tests.records import RIGHT, plan, record
from tests.sessions.results.test_crosscheck import labelled
from tests.sessions.results.test_rated_ballots import judged, rated_plan

NAMES = ("sallow", "bracken")


def ticked() -> Verdict:
    """Twelve of twelve ticks of the first word for the first setup, of the second word for the second."""
    return judge(record(plan("words", 12), [[RIGHT] * 12]))


def rated() -> Verdict:
    """Twelve ratings, the first word plainly higher of the first setup."""
    alike = dict.fromkeys(("bright", "boomy", "thin", "wide"), 3)
    made = rated_plan(12)
    found = judged(made, [(alike | {"bright": 8}, alike)] * 12, [(alike, alike)] * 4)
    return replace(ticked(), plan=made, outcome=found)


def taken_away(verdict: Verdict) -> Verdict:
    """The same beside another plan on its question, sealed before it, that did not hold."""
    return replace(verdict, verdict=NOT_SHOWN, together=Together(p_same_question=1.0, alone=HEARD))


@pytest.mark.parametrize("made", [ticked, rated])
def test_no_word_of_a_ballot_that_is_not_shown_in_the_end_is_heard(made: Any) -> None:
    found = made()
    ids = (found.plan.setups[0].id, found.plan.setups[1].id)
    assert of_ballot(found, ids, shipped())[0].evidence == "heard"
    bright = of_ballot(taken_away(found), ids, shipped())[0]
    assert (bright.evidence, bright.first) == ("enough alone", None)
    assert "taken together with the other plans it is not" in bright.how
    assert of_ballot(replace(found, verdict=VOID, void_reasons=["x"]), ids, shipped()) == []


def test_what_so_few_trials_could_not_show_or_other_plans_take_away_is_not_said_to_be_not_heard() -> None:
    """By hand: of four words the least corrected p of n trials is 4 · 2/2ⁿ: 0.0625 of 7 trials, 0.031 of 8."""
    lift = BandEffect(4000, 8000, 9.0, 0.2)
    for trials, answer, says in (
        (1, RIGHT, "measured, not shown; so few trials could not show it"),
        (7, RIGHT, "measured, not shown; so few trials could not show it"),
        (8, RIGHT, "heard and measured"),
        (8, "wrong", "measured, not heard"),
    ):
        answers = [RIGHT if answer == RIGHT or at % 2 else "wrong" for at in range(trials)]
        found = judge(record(plan("words", trials), [answers]))
        ids = (found.plan.setups[0].id, found.plan.setups[1].id)
        bright = crosscheck(of_ballot(found, ids, shipped()), NAMES, shipped(), lambda *_: lift)[0]
        assert bright.outcome == says, trials
        assert ("could not have shown it" in bright.word.how) == ("so few" in says)
        assert bright.measured
    found = ticked()
    ids = (found.plan.setups[0].id, found.plan.setups[1].id)
    words = of_ballot(taken_away(found), ids, shipped())
    outcomes = [one.outcome for one in crosscheck(words, NAMES, shipped(), lambda *_: lift)]
    assert (outcomes[0], outcomes[2]) == ("measured, enough by its ballot alone", "measured, not heard")


@pytest.mark.parametrize("made", [ticked, rated])
def test_a_word_that_was_merged_after_its_ballot_is_told_as_it_was_asked(
    made: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    found = made()
    ids = (found.plan.setups[0].id, found.plan.setups[1].id)
    merged = changed(shipped(), Change("merge", "boomy", "wide"))
    words = of_ballot(found, ids, merged)
    assert [one.name for one in words] == ["bright", "wide (asked as boomy)", "thin", "wide"]
    command._tell_words(crosscheck(words, NAMES, merged, lambda *_: None))
    said = capsys.readouterr().out.splitlines()
    rows = [line.split("  ")[0] for line in said]
    assert [line.split()[0] for line in said[-5:]] == ["word", "bright", "wide", "thin", "wide"]  # in sight, at the end
    assert rows.count("wide (asked as boomy)") == rows.count("wide") == 1


@pytest.mark.parametrize("made", [ticked, rated])
def test_a_verdict_tells_no_side_of_a_word_that_it_does_not_hold_heard(made: Any) -> None:
    found = made()
    side = "of sallow"
    assert f", {'higher' if made is rated else 'more often'} {side}" in sentences.numbers(found)[1]
    for other in (taken_away(found), replace(found, verdict=VOID, void_reasons=["x"])):
        said = sentences.numbers(other)[1]
        assert "with Holm's correction" in said
        assert f", higher {side}" not in said
        assert f", more often {side}" not in said


@pytest.mark.parametrize("made", [ticked, rated])
def test_a_picture_stars_only_words_that_the_verdict_holds_heard(made: Any) -> None:
    found = made()
    assert " *" in result_pictures.of(found)[0].draw()
    for other in (taken_away(found), replace(found, verdict=VOID, void_reasons=["x"])):
        picture = result_pictures.of(other)[0]
        drawn = picture.draw()
        assert " *" not in drawn
        assert 'fill="#0b6e6e"' not in drawn
        assert "No word was shown to be heard" in picture.caption
    away = result_pictures.of(taken_away(found))[0].caption
    assert "Enough by this ballot alone: bright" in away


@pytest.mark.parametrize("made", [ticked, rated])
def test_no_word_of_a_plan_that_does_not_hold_among_the_primary_questions_is_starred(made: Any) -> None:
    found = made()
    words = [one.word for one in found.outcome.separating(found.plan.alpha)]
    for holds in (True, False):
        beside = replace(found, together=Together(primary_plans=3, p_holm=0.3, holds=holds))
        [picture, *_] = result_pictures.of(beside)
        assert ("* mark a word that was heard" in picture.caption, " *" in picture.draw()) == (holds, holds)
        on_its_own = "heard on its own, but not among the 3 primary questions taken together."  # as the headline has it
        assert (on_its_own in picture.caption) is not holds
        assert "No word was shown to be heard" not in picture.caption
        assert (list(beside.words_alone) == words) is not holds
        assert beside.words_heard == (set(words) if holds else set())
        first, _ = first_lines.first_lines(beside)
        assert all(word in first for word in words)  # the headline tells in what it was heard on its own
        assert ("but not among the 3 primary questions" in first) is not holds


def test_a_noisy_word_is_told_as_its_verdict_tells_it_of_ticks_and_of_ratings() -> None:
    for found, says in ((ticked(), "as often"), (rated(), "as much")):
        assert found.outcome is not None
        words = tuple(replace(one, noisy=True) for one in found.outcome.words)  # type: ignore[attr-defined]
        noisy = replace(found, outcome=replace(found.outcome, words=words))  # type: ignore[call-arg]
        ids = (found.plan.setups[0].id, found.plan.setups[1].id)
        assert says in of_ballot(noisy, ids, shipped())[0].how


def test_a_tiny_p_value_is_told_as_a_bound() -> None:
    found = judge(record(plan("words", 24), [[RIGHT] * 24]))
    ids = (found.plan.setups[0].id, found.plan.setups[1].id)
    bright, _, thin, _ = of_ballot(found, ids, shipped())
    assert "Holm p < 0.0001" in bright.how  # 2/2²⁴ by hand
    assert "Holm p = 1.0000" in thin.how


def test_a_ballot_that_tells_nothing_is_named_beside_the_words(casebook: Casebook) -> None:
    setups = [catalogue.find(casebook, Setup, name) for name in NAMES]
    ids = {setup.id for setup in setups}
    assert of_ballots(casebook, setups, shipped()).left_out == ()
    sealed_plan(casebook, "running", method="words", trials=12, words=("bright", "boomy", "thin", "wide"))
    answer_all(casebook, 1.0, plan="running", most=5)
    found = of_ballots(casebook, setups, shipped())
    assert found.words == []
    assert found.left_out == ballots_over.in_casebook(casebook, ids).left_out
    told = earwitness(casebook.folder, "crosscheck", *NAMES).stdout
    assert "No word was said" not in told
    assert "No word of sallow or bracken can be told yet" in told
    assert "Not among these: running, which is not over: nothing of it is told before its end." in told


def test_a_word_said_of_both_as_often_is_no_difference_that_was_said() -> None:
    """Whatever was measured: a lift of 9 dB, and harmonics of 5 % against 0.1 %."""
    said = [labelled("bright", "a", "x"), labelled("bright", "b", "y"), labelled("distorted", "a", "y")]
    words = in_words([*said, labelled("distorted", "b", "x")], ("a", "b"), NAMES, shipped())
    lift = BandEffect(4000, 8000, 9.0, 0.2)
    beside = Beside("distortion", "harmonics told", (5.0, 0.1))
    for one in crosscheck(words, NAMES, shipped(), lambda *_: lift, beside_of=lambda *_: beside):
        assert one.outcome == "said of both alike"
        assert "no difference" in one.why
    asked = WordOfTwo("bright", None, "not shown", "")
    assert crosscheck([asked], NAMES, shipped(), lambda *_: lift)[0].outcome == "measured, not heard"


def test_of_which_one_a_word_was_said_rather_goes_by_the_share_of_its_tracks() -> None:
    """One of one track and two of two are the same share; one of one is more than two of three."""
    said = [labelled("boomy", "a", "x"), labelled("boomy", "b", "x"), labelled("boomy", "b", "y")]
    [boomy] = in_words(said, ("a", "b"), NAMES, shipped())
    assert boomy.first is None
    assert "of sallow in 1, of bracken in 2 tracks (described in 1 track and in 2 tracks)" in boomy.how
    [boomy, _] = in_words([*said, labelled("thin", "b", "z")], ("a", "b"), NAMES, shipped())
    assert boomy.first is True


def test_a_word_of_the_whole_range_has_nothing_left_to_be_set_against() -> None:
    hz = np.geomspace(20, 20_000, 481)
    level = Curve(hz, 0 * hz, valid_hz=(20.0, 20_000.0))
    narrow = Curve(hz, 0 * hz, valid_hz=(300.0, 3000.0))
    for curves, (low_hz, high_hz), says in (
        (level, (20, 20_000), "too little of the range is left beside 20 to 20000 Hz to compare with"),
        (narrow, (4000, 8000), "4000 to 8000 Hz was not measured validly of both"),
        (narrow, (400, 2500), "beside 400 to 2500 Hz too little was measured validly of both to compare with"),
    ):
        effects = BandEffects((curves,), (curves,))
        assert effects.of(low_hz, high_hz) is None
        assert effects.lacking(low_hz, high_hz) == says
    effects = BandEffects((level,), (level,))
    assert effects.lacking(4000, 8000) == ""
    loud = shipped().find("loud")
    assert loud is not None
    assert (loud.low_hz, loud.high_hz) == (20, 20_000)
    [one] = crosscheck([WordOfTwo("loud", True, "heard", "")], NAMES, shipped(), effects.of, lacking_of=effects.lacking)
    assert (one.outcome, one.why) == ("cannot be told", effects.lacking(20, 20_000))


@pytest.mark.parametrize("made", [ticked, rated])
def test_a_word_of_a_primary_ballot_that_does_not_hold_among_the_primary_questions_is_not_told_as_heard(
    made: Any,
) -> None:
    found = made()
    ids = (found.plan.setups[0].id, found.plan.setups[1].id)
    lift = BandEffect(4000, 8000, 9.0, 0.2)
    for holds, evidence, outcome in (
        (True, "heard", "heard and measured"),
        (False, "enough alone", "measured, enough by its ballot alone"),
    ):
        beside = replace(found, together=Together(primary_plans=3, p_holm=0.3, holds=holds))
        bright = of_ballot(beside, ids, shipped())[0]
        assert (bright.evidence, bright.first) == (evidence, True if holds else None)
        alone = "; heard on its own, but not among the 3 primary questions taken together"
        assert bright.how.endswith(alone) is not holds
        assert crosscheck([bright], NAMES, shipped(), lambda *_: lift)[0].outcome == outcome
    assert "primary" not in of_ballot(found, ids, shipped())[0].how


def test_the_ticks_of_a_ballot_that_is_over_are_learnt_from_and_those_of_one_that_runs_are_not(
    casebook: Casebook,
) -> None:
    sealed_plan(casebook, "ballot", method="words", trials=12, words=("bright", "boomy", "thin", "wide"))
    answer_all(casebook, 1.0, plan="ballot", most=5)
    ballots = ballots_over.ticks(casebook, shipped())
    assert (ballots.presented, [one.plan for one in ballots.left_out]) == ((), ["ballot"])
    answer_all(casebook, 1.0, plan="ballot")
    tracks = {one.id: one.name for one in catalogue.everything(casebook, Track)}
    presented = ballots_over.ticks(casebook, shipped()).presented
    ids = {one.name: one.id for one in catalogue.everything(casebook, Setup)}
    found = blind_ticks.of_listener(presented, "Ada", tracks)
    assert blind_ticks.of_listener(presented, "Bo", tracks) == []
    of = {name: [one for one in found if (one.word, one.setup_id) == ("bright", ids[name])] for name in ids}
    # who hears all of it ticks the first word of the first setup alone
    assert [sum(one.ticked for one in of[name]) for name in ("sallow", "bracken")] == [12, 0]
    assert [sum(one.presentations for one in of[name]) for name in ("sallow", "bracken")] == [12, 12]
    assert {one.track for one in found} <= set(tracks.values())


def with_words(verdict: Verdict, p_holm: list[float], name: str = "words") -> Verdict:
    """A ballot whose words came to these p-values, corrected over the ballot."""
    outcome = verdict.outcome
    assert isinstance(outcome, WordBallots)
    words = tuple(replace(one, p_holm=p_value) for one, p_value in zip(outcome.words, p_holm, strict=True))
    renamed = replace(verdict.plan, document={**verdict.plan.document, "name": name, "plan": name})
    return replace(verdict, plan=renamed, outcome=replace(outcome, words=words, p_value=min(p_holm)))


def test_a_word_is_heard_only_where_it_holds_with_the_other_plans_too() -> None:
    ballot = with_words(ticked(), [0.002, 0.02, 1.0, 1.0])
    assert judged_together([ballot])[0].words_heard == {"bright", "boomy"}
    others = [judge(record(plan(method, 12, name=method), [[RIGHT] * 12])) for method in ("triangle", "duo-trio")]
    found = judged_together([ballot, *others])[0]
    assert found.words_heard == {"bright"}  # 3 times 0.002, and 3 times 0.02
    assert found.together is not None
    assert found.together.p_holm == pytest.approx(3 * 0.002)  # not Holm's, which a reader could not come to
    assert "together (Bonferroni, as it is a ballot: p times 3, in the order of sealing): p = 0.0060" in " ".join(
        sentences.result(found)
    )
    assert "together (Holm, in the order of sealing)" in " ".join(
        sentences.result(judged_together([ballot, *others])[1])
    )
    first, _, *numbers = sentences.result(found)
    assert first.endswith("in a word: bright.")
    assert (
        "Enough by this ballot alone, not with the 3 plans together, which take each word's p-value 3 times: boomy."
    ) in numbers
    ids = (found.plan.setups[0].id, found.plan.setups[1].id)
    bright, boomy, *_ = of_ballot(found, ids, shipped())
    assert (bright.evidence, boomy.evidence) == ("heard", "enough alone")
    assert "taken together with the other plans it is not" in boomy.how


def test_what_so_few_trials_could_not_show_beside_the_other_primary_questions_is_not_said_to_be_not_heard() -> None:
    """By hand: of four words the least p of 9 trials is 4 · 2/2⁹ = 0.0156, five times that 0.078; of 11 0.0195."""
    others = [judge(record(plan("triangle", 12, name=f"other-{at}"), [[RIGHT] * 12])) for at in range(4)]
    for trials, evidence in ((9, "too few to show"), (11, "not shown")):
        made = judge(record(plan("words", trials), [[RIGHT if at % 2 else "wrong" for at in range(trials)]]))
        found = judged_together([made, *others])[0]
        ids = (found.plan.setups[0].id, found.plan.setups[1].id)
        word = of_ballot(found, ids, shipped())[0]
        assert word.evidence == evidence, trials
        beside = "so few trials could not have shown it together with the other plans, whatever was answered"
        assert (beside in word.how) is (evidence == "too few to show")  # nine could have, by themselves


def test_false_words_of_all_ballots_of_a_review_stay_at_alpha() -> None:
    """Six ballots with one true word each: Holm in each ballot alone names a false word in far more reviews."""
    rng, reviews, ballots, together, alone = np.random.default_rng(41), 300, 6, 0, 0
    first = ticked()
    for _ in range(reviews):
        made = [with_words(first, holm([1e-6, *rng.uniform(size=3)]), f"ballot-{at}") for at in range(ballots)]
        alone += any(len(judged_together([one])[0].words_heard) > 1 for one in made)
        together += any(len(one.words_heard) > 1 for one in judged_together(made))
    assert together <= binom.ppf(0.999, reviews, 0.05)
    assert alone > binom.ppf(0.999, reviews, 0.05)
