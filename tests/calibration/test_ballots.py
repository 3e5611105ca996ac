"""Ballots of who cannot tell the two apart: no word is found in more than alpha of them, all words together.

Ticks by label are fixed; which of the two was heard as 1 was drawn afterwards. Over all draws the rate is exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from itertools import product
from math import sqrt

from numpy.random import PCG64, Generator
from scipy.stats import binomtest

from sessions.listening.simulated_listener import WORD_CHANGES
from sessions.results.ballot_outcomes import WordBallots
from sessions.results.together import judged_together
from sessions.results.verdict import Verdict, judge
from tests.calibration.habits import fair
from tests.calibration.listeners import answers
from tests.calibration.plans import WORDS, judged, plan
from tests.independent_holm import adjusted
from tests.records import RIGHT, record
from tests.records import plan as sealed


def test_all_words_together_keep_alpha_over_all_keys_and_without_the_correction_would_not() -> None:
    made, rng, trials, alpha = plan("words", 9, alpha="0.2"), Generator(PCG64(15)), 9, 0.2
    given = [made.method.answer_of(_independent(rng)) for _ in range(trials)]  # type: ignore[attr-defined]
    reached = alone = 0
    for sides in product((0, 1), repeat=trials):
        keys = [{"1": side, "2": 1 - side} for side in sides]
        found = judged(made, list(zip(keys, given, strict=True)))
        assert isinstance(found, WordBallots)
        reached += bool(found.reached)
        alone += min(one.p_value or 0.0 for one in found.words) <= alpha
    assert 0 < reached / 2**trials <= alpha < alone / 2**trials


def test_guessers_with_real_keys_find_no_word_more_often_than_alpha_and_would_without_the_correction() -> None:
    """A habit of its own for every word, one of them always with the stimulus heard first."""
    made, rng, number = plan("words", 24), Generator(PCG64(16)), 2000
    reached = alone = 0
    for _ in range(number):
        found = judged(made, answers(made, fair, rng))
        assert isinstance(found, WordBallots)
        reached += bool(found.reached)
        alone += min(one.p_value or 0.0 for one in found.words) <= 0.05
    allowed = 0.05 + 4 * sqrt(0.05 * 0.95 / number)
    assert reached / number <= allowed < alone / number


def test_three_ballots_of_one_stage_bear_no_false_word_more_often_than_alpha_and_would_without_sharing_it() -> None:
    """Each has one true word; every other is ticked of one of the two at random, in each trial: the worst of habits."""
    number, trials, alpha = 2000, 200, 0.05
    rng, sizes = Generator(PCG64(18)), (8, 10, 12)
    begun = [judge(record(sealed("words", trials, name=f"plan {n}"), [[RIGHT] * trials])) for n in range(len(sizes))]
    false = alone = 0
    for _ in range(number):
        found = judged_together(
            [_with_counts(one, rng.binomial(trials, 0.5, size - 1)) for one, size in zip(begun, sizes, strict=True)]
        )
        assert all("true" in one.words_heard for one in found)
        false += any(one.words_heard != {"true"} for one in found)
        alone += any(len(one.outcome.separating(alpha)) > 1 for one in found)  # type: ignore[union-attr]
        assert all(one.words_heard.isdisjoint(one.words_alone) for one in found)
    allowed = alpha + 4 * sqrt(alpha * (1 - alpha) / number)
    assert false / number <= allowed < alone / number


def test_a_listener_of_known_links_is_found_with_them_and_with_the_rate_at_which_it_changes_its_mind() -> None:
    made, rng, sessions = plan("words", 24), Generator(PCG64(17)), 60
    changed, found_of = 0, [0] * len(WORDS)
    for _ in range(sessions):
        found = judged(made, answers(made, fair, rng, hears=1.0))
        assert isinstance(found, WordBallots)
        for place, one in enumerate(found.words):
            found_of[place] += one.separates(0.05)
        changed += sum(one.first_only + one.second_only for one in found.words[2:])
        assert found.words[0].first_only == found.words[1].second_only == 24
    assert found_of[:2] == [sessions, sessions]
    assert sum(found_of[2:]) <= 0.05 * sessions + 4 * sqrt(0.05 * 0.95 * sessions)
    rate, pairs = 2 * WORD_CHANGES * (1 - WORD_CHANGES), 24 * sessions * len(WORDS[2:])
    assert abs(changed / pairs - rate) < 4 * sqrt(rate * (1 - rate) / pairs)


def _independent(rng: Generator) -> dict[str, list[str]]:
    return {label: [word for word in WORDS if rng.random() < 0.5] for label in "12"}


def _with_counts(one: Verdict, counts: Iterable[int]) -> Verdict:
    """A verdict on a ballot with other words: one that is always said of the first setup, and of each other how often.

    A sign test's p is from the binomial distribution of scipy, Holm's from a computation beside ours.
    """
    assert isinstance(one.outcome, WordBallots)
    own, trials = one.outcome.words[0], one.trials
    first = [trials, *map(int, counts)]
    p_values = adjusted([_sign_test(ticks, trials) for ticks in first])
    words = tuple(
        replace(own, word="true" if place == 0 else str(place), first_only=ticks, second_only=trials - ticks, p_holm=p)
        for place, (ticks, p) in enumerate(zip(first, p_values, strict=True))
    )
    return replace(one, outcome=replace(one.outcome, words=words, p_value=min(p_values)))


@cache
def _sign_test(ticks: int, trials: int) -> float:
    return float(binomtest(ticks, trials).pvalue)
