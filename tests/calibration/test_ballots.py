"""Ballots of who cannot tell the two apart: no word is found in more than alpha of them, all words together.

Ticks by label are fixed; which of the two was heard as 1 was drawn afterwards. Over all draws the rate is exact.
"""

from __future__ import annotations

from itertools import product
from math import sqrt

from numpy.random import PCG64, Generator

from sessions.listening.simulated_listener import WORD_CHANGES
from sessions.results.ballot_outcomes import WordBallots
from tests.calibration.habits import fair
from tests.calibration.listeners import answers
from tests.calibration.plans import WORDS, judged, plan


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
