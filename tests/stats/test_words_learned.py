"""A reviewer's dictionary: against a plain loop, on planted links and on none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import linregress

from stats.errors import StatsError
from stats.leading_band import TOGETHER
from stats.ridge import SHRINKAGES
from stats.words_learned import LEAST_UNITS, found_of_simulated, words_learned


def reviewer(rng: np.random.Generator, units: int, shares: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Six bands, which lean on their neighbours, and words of which band n makes so large a share of word n."""
    own = rng.normal(0, 2, (units, 7))
    bands = (own[:, :-1] + 0.5 * own[:, 1:]) / np.sqrt(1.25)
    words = [
        bands[:, n] / 2 * np.sqrt(share) + rng.normal(0, 1, units) * np.sqrt(1 - share)
        for n, share in enumerate(shares)
    ]
    return bands + rng.normal(0, 3, 6), 0.5 + 0.1 * np.column_stack(words)


def plain_score(bands: np.ndarray, word: np.ndarray) -> float:
    """Each unit foretold by the others about their means, all fits anew, with the constant as one more unknown."""
    bands = bands / bands.std(axis=0)

    def foretold(keep: list[int], shrinkage: float, count: int, out: int, about: list[int]) -> float:
        # the means are those of `about`'s rows; a free constant makes ridge about the means of those kept
        root = np.hstack([np.sqrt(count * shrinkage) * np.eye(bands.shape[1]), np.zeros((bands.shape[1], 1))])
        rows = np.vstack([np.hstack([bands[keep], np.ones((len(keep), 1))]), root])
        found = np.linalg.lstsq(rows, np.append(word[keep], np.zeros(bands.shape[1])), rcond=None)[0]
        return float(np.append(bands[out], 1) @ found)

    missed = base = 0.0
    for unit in range(len(word)):
        others = [place for place in range(len(word)) if place != unit]
        errors = [
            sum(
                (word[out] - foretold([n for n in others if n != out], shrinkage, len(others), out, others)) ** 2
                for out in others
            )
            for shrinkage in SHRINKAGES
        ]
        best = SHRINKAGES[int(np.argmin(errors))]
        missed += (word[unit] - foretold(others, best, len(others), unit, others)) ** 2
        base += (word[unit] - word[others].mean()) ** 2
    return 1 - missed / base


def test_each_score_is_that_of_a_plain_loop_over_units_left_out() -> None:
    bands, words = reviewer(np.random.default_rng(3), LEAST_UNITS, [0.9, 0.4, 0.0])
    found = words_learned(bands, words, np.random.default_rng(1), draws=5)
    scores = [own.score for own in found.words]
    assert scores == pytest.approx([plain_score(bands, word) for word in words.T], abs=1e-9)
    assert found.score == pytest.approx(np.mean(scores))


def test_planted_links_are_recovered_with_their_bands_and_the_other_words_are_not() -> None:
    rng = np.random.default_rng(8)
    bands, words = reviewer(rng, 30, [0.9, 0.9, 0.0, 0.0])
    found = words_learned(bands, words, rng, draws=499)
    assert found.p.value <= 4 / 500  # the best of each of four words, at most
    assert [found.holds(word) for word in range(4)] == [True, True, False, False]
    assert [int(np.argmax(np.abs(own.weights))) for own in found.words[:2]] == [0, 1]
    # a tenth of a word's spread, of which √0.9 comes from a band of 2 dB
    assert [own.weights[n] for n, own in enumerate(found.words[:2])] == pytest.approx([0.047, 0.047], abs=0.012)


def peaks(rng: np.random.Generator, units: int) -> tuple[np.ndarray, np.ndarray]:
    """Every other unit has 6 dB more at the fourth of seven bands, a fifth of it beside; 0.4 dB differ everywhere."""
    lifted = np.arange(units) % 2
    bands = rng.normal(0, 0.4, (units, 7)) + 6 * np.outer(lifted, [0, 0, 0.2, 1, 0.2, 0, 0])
    bands -= bands.mean(axis=1, keepdims=True)  # no levels are compared
    return bands, np.column_stack([lifted + rng.normal(0, 0.1, units), 1 - lifted])


def test_the_band_that_is_named_is_the_one_that_was_planted_also_where_others_rise_and_fall_with_it() -> None:
    picked_by_weight = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        bands, words = peaks(rng, 14)
        found = words_learned(bands, words, rng, draws=19)
        leading = [own.leading for own in found.words]
        assert [one.place for one in leading] == [3, 3]
        assert leading[0].per_db > 0 > leading[1].per_db
        between = np.corrcoef(bands.T)[3]
        together = tuple(band for band in range(7) if abs(between[band]) >= TOGETHER and band != 3)
        assert leading[0].together == together
        assert leading[0].opposite == tuple(band for band in together if between[band] < 0)
        assert leading[0].opposite  # the level's part of the peak, in the other direction
        picked_by_weight += int(np.argmax(np.abs(found.words[0].weights))) == 3
        by_scipy = linregress(bands[:, 3], words[:, 0])
        assert (leading[0].per_db, leading[0].correlation) == pytest.approx(by_scipy[0:3:2], abs=1e-12)
    assert picked_by_weight < 10  # shares of one link, per dB: most of octaves that hardly differ


def test_of_reviewers_without_a_link_no_more_than_alpha_are_called_and_none_of_their_words_more_often() -> None:
    rng = np.random.default_rng(9)
    wholes, any_word = [], []
    for _ in range(300):
        bands, _ = reviewer(rng, LEAST_UNITS, [0.0])
        uses = rng.integers(0, 4, (LEAST_UNITS, 4)) / 3 + rng.integers(0, 2, (LEAST_UNITS, 1))  # words lean together
        found = words_learned(bands, uses, rng, draws=39)
        wholes.append(found.p.value)
        any_word.append(any(found.holds(word) for word in range(4)))
        assert min(own.p.value for own in found.words) >= 1 / 40
    allowed = 0.05 + 3 * np.sqrt(0.05 * 0.95 / 300)
    assert np.mean(np.array(wholes) <= 0.05) <= allowed
    assert 0.41 < np.mean(np.array(wholes) <= 0.5) < 0.59
    assert np.mean(any_word) <= np.mean(np.array(wholes) <= 0.05)


def test_one_linked_word_makes_no_others_be_called() -> None:
    """The words with no link, beside one that has one: called no more often than alpha, whatever the whole says."""
    rng = np.random.default_rng(10)
    called, linked = [], []
    for _ in range(150):
        bands, words = reviewer(rng, 16, [0.95, 0.0, 0.0])
        words[:, 1:] = rng.normal(size=(16, 2))
        found = words_learned(bands, words, rng, draws=99)
        called.append(any(found.holds(word) for word in (1, 2)))
        linked.append(found.holds(0))
    assert np.mean(called) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 150)
    assert np.mean(linked) > 0.8


def test_what_simulated_reviewers_would_show_is_what_is_found_of_them_among_words_without_a_link() -> None:
    rng = np.random.default_rng(11)
    bands, _ = reviewer(rng, 16, [0.0])
    said = found_of_simulated(bands, 6, 0.9, rng)
    scaled, found = (bands - bands.mean(axis=0)) / bands.std(axis=0), []
    for _ in range(100):
        words = rng.normal(size=(16, 6))
        words[:, 0] = scaled[:, rng.integers(6)] * np.sqrt(0.9) + words[:, 0] * np.sqrt(0.1)
        found.append(words_learned(bands, words, rng, draws=199).holds(0))
    assert np.mean(found) == pytest.approx(said, abs=0.12)
    assert found_of_simulated(bands, 1, 0.0, rng) == pytest.approx(0.05, abs=0.03)
    assert found_of_simulated(bands, 8, 0.8, rng) < found_of_simulated(bands, 1, 0.8, rng)


def test_too_few_units_and_what_does_not_fit_are_refused() -> None:
    bands, words = reviewer(np.random.default_rng(2), LEAST_UNITS, [0.6, 0.2])
    rng = np.random.default_rng(1)
    same, holed = words.copy(), bands.copy()
    same[:, 1], holed[3, 1] = 0.25, np.nan
    for data, says in [
        ((bands[1:], words[1:]), f"at least {LEAST_UNITS} units .* there are {LEAST_UNITS - 1}"),
        ((bands[1:], words), "the same bands"),
        ((bands, words[:, :0]), "at least one of each"),
        ((holed, words), "must be a number"),
        ((bands, same), "word 2 is the same"),
        ((same, words), "band 2 is the same"),
    ]:
        with pytest.raises(StatsError, match=says):
            words_learned(*data, rng)
    with pytest.raises(StatsError, match="at least one draw"):
        words_learned(bands, words, rng, draws=0)


def test_nothing_is_shown_that_is_foretold_no_better_than_by_the_mean_however_seldom_chance_does_as_well() -> None:
    bands, words = reviewer(np.random.default_rng(3), 16, [0.95, 0.0])
    found = words_learned(bands, words, np.random.default_rng(1), draws=99)
    assert [found.holds(place) for place in (0, 1)] == [True, False]
    below = replace(found, words=(replace(found.words[0], score=-0.02), replace(found.words[1], p=found.p)))
    assert below.words[1].score < 0
    assert not below.shown()
    assert [below.holds(place) for place in (0, 1)] == [False, False]
