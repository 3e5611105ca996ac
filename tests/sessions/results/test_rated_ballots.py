"""What a ballot of ratings comes to: by every exchange of labels, by hand, and what is said of it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from sessions.errors import ListenError, PlanError
from sessions.plans import planned_test
from sessions.plans.methods.rated_ballot import RATED_BALLOT
from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from sessions.report import result_pictures
from sessions.results import first_lines, outcome_sentences
from sessions.results.answers import Answer, SessionAnswers
from sessions.results.ballot_outcomes import WordRatings
from sessions.results.outcome import Outcome
from sessions.results.pooled_words import JudgedBallot, pooled
from sessions.results.presented_words import BallotTrials, Presented
from sessions.results.verdict import ANALYSES, COMPLETE, HEARD, NOT_SHOWN, Verdict, judge
from sessions.results.words_of_two import of_ballot
from sessions.words.lexicon import shipped
from stats.permuted_labels import permutation_test
from tests.records import WORDS, plan, record

Pairs = Sequence[tuple[Mapping[str, int], Mapping[str, int]]]


def rated_plan(trials: int, words: Sequence[str] = WORDS, **numbers: Any) -> Plan:
    method = METHODS["words"].asked(rated=True).with_words(tuple(words))
    asked = planned_test.Numbers(trials, numbers.pop("alpha", "0.05"), method.usual_effect)
    stated = method.words_part() | planned_test.stated(method, asked, 2)
    made = plan("words", trials, stated=stated)
    document = dict(made.document)
    del document["power_of"]
    return Plan(document | stated)


def judged(made: Plan, counted: Pairs, same: Pairs = (), keys: Sequence[int] = ()) -> Outcome:
    """Of one listener; what is rated by setup, in controls by label. `keys`: the setup heard as 1 in each trial."""

    def answer(trial: int, key: dict[str, int], by_label: Mapping[str, Mapping[str, int]]) -> Answer:
        text = made.ballot.answer_with(by_label)  # type: ignore[attr-defined]
        made.method.check_answer(text)
        return Answer(trial, key, text, 2, 4000, "strings 1", 2, ())

    given = []
    for trial, pair in enumerate(counted):
        first = keys[trial] if keys else trial % 2
        given.append(answer(trial, {"1": first, "2": 1 - first}, {"1": pair[first], "2": pair[1 - first]}))
    controls = [answer(n, {"1": n % 2, "2": n % 2}, dict(zip("12", pair, strict=True))) for n, pair in enumerate(same)]
    session = SessionAnswers("Ada", made.trials, tuple(given), tuple(controls))
    return ANALYSES[made.method.analysis](made, [session], made.trials)


def every(rating: int, **other: int) -> dict[str, int]:
    return dict.fromkeys(WORDS, rating) | other


def test_each_word_has_the_p_of_every_exchange_of_labels_within_trials() -> None:
    rng = np.random.default_rng(4)
    made = rated_plan(8)
    trials = [
        tuple(
            {word: int(rng.integers(0, 6)) + 3 * (place == 0 and word == "thin") for word in WORDS} for place in (0, 1)
        )
        for _ in range(8)
    ]
    found = judged(made, trials)  # type: ignore[arg-type]
    assert isinstance(found, WordRatings)
    p_values = []
    for word, told in zip(WORDS, found.words, strict=True):
        apart = [one[word] - other[word] for one, other in trials]
        sums = [abs(sum(sign * step for sign, step in zip(signs, apart, strict=True)))
                for signs in product((1, -1), repeat=8)]  # fmt: skip
        expected = sum(one >= abs(sum(apart)) for one in sums) / 2**8
        assert told.p_value == pytest.approx(expected, abs=1e-12)
        blocks = [[[one[word]], [other[word]]] for one, other in trials]
        assert told.p_value == pytest.approx(permutation_test(blocks, rng).p.value, abs=1e-12)
        p_values.append(expected)
        assert (told.first_mean, told.second_mean) == pytest.approx(
            (np.mean([one[word] for one, _ in trials]), np.mean([other[word] for _, other in trials]))
        )
    ranked = sorted(p_values)
    corrected = [max(min(1, (4 - rank) * ranked[rank]) for rank in range(place + 1)) for place in range(4)]
    assert sorted(one.p_holm or 0 for one in found.words) == pytest.approx(corrected)
    assert found.p_value == pytest.approx(corrected[0])


def test_all_words_together_keep_alpha_over_all_keys_and_without_the_correction_would_not() -> None:
    """Ratings by label are fixed, of who hears nothing; which of the two was 1 was drawn afterwards: exact."""
    rng, trials, alpha = Generator(PCG64(15)), 9, 0.2
    words = tuple("abcdefgh")
    for leaning in (0, 2):  # what is heard first is rated higher by habit
        made = rated_plan(trials, words, alpha=str(alpha))
        labels = [
            [{word: int(rng.integers(0, 6)) + leaning * (label == 0) for word in words} for label in (0, 1)]
            for _ in range(trials)
        ]
        reached = alone = 0
        for keys in product((0, 1), repeat=trials):
            by_setup = [(pair[key], pair[1 - key]) for pair, key in zip(labels, keys, strict=True)]
            found = judged(made, by_setup, keys=keys)
            assert isinstance(found, WordRatings)
            reached += bool(found.reached)
            alone += min(one.p_value or 0.0 for one in found.words) <= alpha
        assert 0 < reached / 2**trials <= alpha < alone / 2**trials


def test_what_changes_where_nothing_does_is_told_and_marks_a_word_that_changes_as_much_there() -> None:
    made = rated_plan(6)
    counted = [(every(3, bright=5, thin=5), every(3))] * 6
    same = [(every(3, bright=6), every(3)), (every(3), every(3, bright=4)), (every(3), every(3, thin=4))]
    found = judged(made, counted, same)
    assert isinstance(found, WordRatings)
    bright, boomy, thin, _ = found.words
    assert [(one.flips.flips, one.flips.pairs) for one in (bright, boomy, thin) if one.flips] == [
        (2, 3),
        (0, 3),
        (1, 3),
    ]
    assert [one.noise for one in (bright, boomy, thin)] == pytest.approx([4 / 3, 0, 1 / 3])
    assert (bright.noisy, boomy.noisy, thin.noisy) == (False, False, False)
    found = judged(made, counted, [(every(3, bright=7), every(3)), (every(3, bright=3), every(3))])
    assert isinstance(found, WordRatings)
    assert found.words[0].noisy  # 4 and 0: as much as 2 and 2
    said = outcome_sentences.numbers(made, found)[1]
    assert (
        "bright: of sallow 5.0 on average, of bracken 3.0; higher of sallow in 6, of bracken in 0 of 6 trials" in said
    )
    assert "its ratings differed in 1 of 2 trials, by 2.0 points on average: AS MUCH as between the two." in said


def verdict_of(made: Plan, found: Outcome) -> Verdict:
    word = HEARD if found.reached else NOT_SHOWN
    return Verdict(made, word, COMPLETE, [], found.trials, found.answered, outcome=found)


def test_the_verdict_names_the_words_whom_they_were_said_of_and_who_said_it() -> None:
    made = rated_plan(12)
    found = judged(made, [(every(4, bright=8), every(4, boomy=9))] * 12)
    first, second = first_lines.first_lines(verdict_of(made, found))
    assert first == "evening: sallow against bracken: a difference was HEARD, in 2 words: bright and boomy."
    assert '"bright" was rated higher of sallow, 8.0 to 4.0 on average' in second
    assert '"boomy" was rated higher of bracken, 9.0 to 4.0 on average' in second
    assert second.endswith("in about 2 of 1,000 such tests. This is about Ada alone.")  # 4 · 2 / 4096
    _, second = first_lines.first_lines(verdict_of(made, judged(made, [(every(4), every(4))] * 12)))
    assert "none of 4 words was rated clearly higher of one of the two" in second
    (picture,) = result_pictures.of(verdict_of(made, found))
    assert "bright: 8.0 to 4.0 *<" in picture.draw()
    ids = (made.setups[1].id, made.setups[0].id)
    bright = of_ballot(verdict_of(made, found), ids, shipped())[0]
    assert (bright.term, bright.first, bright.evidence) == ("bright", False, "heard")
    assert "rated 4.0 of bracken and 8.0 of sallow on average" in bright.how


def test_a_rated_ballot_closed_early_decides_nothing() -> None:
    made = rated_plan(12)
    found = judged(made, [(every(9), every(0))] * 11)
    assert isinstance(found, WordRatings)
    assert (found.reached, found.p_value, found.words[0].p_holm, found.complete) == (None, None, None, False)
    assert judge(record(made, [[]])).verdict == "undecided"


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ({"1": {"bright": 0, "thin": 9}, "2": {"bright": 3, "thin": 4}}, ""),
        ({"1": {"bright": 0, "thin": 9}}, "ratings are wanted for 1, 2; got 1"),
        ({"1": {"bright": 0}, "2": {"bright": 3, "thin": 4}}, "each word is to be rated of 1: bright, thin"),
        ({"1": {"bright": 0, "loud": 1}, "2": {"bright": 3, "thin": 4}}, "each word is to be rated of 1"),
        ({"1": {"bright": 10, "thin": 9}, "2": {"bright": 3, "thin": 4}}, "the rating of 'bright' is 10; give a whole"),
        ({"1": {"bright": -1, "thin": 9}, "2": {"bright": 3, "thin": 4}}, "the rating of 'bright' is -1"),
        ({"1": {"bright": 0.5, "thin": 9}, "2": {"bright": 3, "thin": 4}}, "holds no ratings: each is a whole number"),
        ({"1": {"bright": True, "thin": 9}, "2": {"bright": 3, "thin": 4}}, "holds no ratings: each is a whole"),
        ({"1": ["bright"], "2": []}, "holds no ratings"),
        ([1], "holds no ratings"),
    ],
)
def test_a_rating_of_each_word_for_each_of_the_two_is_an_answer_and_nothing_else(answer: Any, says: str) -> None:
    method = RATED_BALLOT.with_words(("bright", "thin"))
    if not says:
        method.check_answer(json.dumps(answer))
        return
    with pytest.raises(ListenError, match=re.escape(says)):
        method.check_answer(json.dumps(answer))


def test_ratings_are_for_words_and_a_plan_of_ticks_is_written_as_before() -> None:
    with pytest.raises(PlanError, match="abx has no words to be rated; leave --rated out"):
        METHODS["abx"].asked(rated=True)
    ticked = METHODS["words"].asked(rated=False)
    assert ticked.with_words(WORDS).words_part() == {"words": list(WORDS)}
    assert rated_plan(4).document["rating"] == {"from": 0, "to": 9}
    assert rated_plan(4).method.effect_in_sd


def test_before_the_seal_it_says_what_can_be_found_by_its_own_test() -> None:
    """Simulated here anew: whole-number ratings, p by exchanging signs; 8 trials cannot: 2·2⁻⁸ > .05/10."""
    ten = RATED_BALLOT.with_words(tuple("abcdefghij"))
    assert ten.also_planned(8, 0.05) == {"likely_found_from": "none"}
    assert ten.planned(8, 5.0, 0.05, "two-sided", 2).power == 0
    least = float(ten.also_planned(10, 0.05)["likely_found_from"])
    rng = np.random.default_rng(7)
    signs = 1 - 2 * ((np.arange(2**10)[:, None] >> np.arange(10)) & 1)
    away = least * np.sqrt(1.2**2 + 1 / 12) / np.sqrt(2)  # half the difference, of ratings that spread by 1.2 points
    rated = 4.5 + rng.uniform(-0.5, 0.5, (600, 1, 1)) + away * np.array([1, -1]) + 1.2 * rng.normal(size=(600, 10, 2))
    ratings = np.clip(np.rint(rated), 0, 9)
    apart = ratings[..., 0] - ratings[..., 1]
    p = np.mean(np.abs(np.abs(apart) @ signs.T) >= np.abs(apart.sum(axis=1))[:, None] - 1e-9, axis=1)
    found = np.mean(p <= 0.005)
    assert found == pytest.approx(0.8, abs=4 * np.sqrt(0.8 * 0.2 / 600))
    document = rated_plan(24).document
    said = " ".join(rated_plan(24).method.planned_in_words(document))
    assert "each is rated of both, 0 (not at all) to 9 (very much)" in said
    assert (
        "With 24 trials and 4 words, a word is likely to be found only if its ratings of the two differ on average by "
        "at least about" in said
    )
    points = float(document["likely_found_from"]) * np.sqrt(2) * 1.5  # of the difference of two that spread by 1.5
    assert f"(about {points:.1f} points of the scale, where ratings of one setup vary by 1.5)" in said
    few = dict(document) | {"trials": 4, "likely_found_from": "none"}
    assert "no word can be found, whatever is rated: that begins with 8 trials" in " ".join(
        rated_plan(24).method.planned_in_words(few)
    )  # 2·2⁻⁷ is above .05/4


def test_ratings_of_two_plans_are_taken_together_apart_from_ticks() -> None:
    """By hand: differences 2, 2, 2, 2, 1, −1: the sum is 8; 3 of 64 signs reach it, to either side."""
    made, ticked = rated_plan(6), plan("words", 6, name="ticked")

    def presented(name: str, first: float, second: float) -> Presented:
        marks = {"setup-0": {"bright": first}, "setup-1": {"bright": second}}
        return Presented(name, "2026-W48", "", "Ada", "t", marks)

    again = Plan(dict(made.document) | {"name": "again"})
    one = [presented("evening", 5.0, 3.0)] * 4
    other = [presented("again", 5.0, 4.0), presented("again", 4.0, 5.0)]
    ballots = [
        JudgedBallot(BallotTrials(own, tuple(trials), ()), frozenset())
        for own, trials in ((made, one), (again, other), (ticked, [presented("ticked", 1.0, 0.0)]))
    ]
    rated, ticks = pooled(ballots)
    assert (rated.rated, ticks.rated, rated.plans, ticks.plans) == (True, False, ("evening", "again"), ("ticked",))
    bright = rated.words[0]
    assert bright.p_value == pytest.approx(2 * 3 / 64)
    assert (bright.counts.first_only, bright.counts.second_only, bright.counts.both) == (5, 1, 0)
    assert bright.counts.means == pytest.approx((29 / 6, 21 / 6))
