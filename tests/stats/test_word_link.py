"""A link between bands and a word: against a plain loop, and on planted links and none."""

from __future__ import annotations

import numpy as np
import pytest

from stats.errors import StatsError
from stats.ridge import SHRINKAGES
from stats.word_link import LEAST_UNITS, word_link


def planted(rng: np.random.Generator, units: int, share: float, bands: int = 4) -> tuple[np.ndarray, np.ndarray]:
    """Bands and a word of which the first band makes so large a share."""
    differences = rng.normal(0, 2, (units, bands))
    return differences, differences[:, 0] * np.sqrt(share) / 2 + rng.normal(0, 1, units) * np.sqrt(1 - share)


def plain_score(bands: np.ndarray, word: np.ndarray) -> float:
    """Each unit foretold by the others, whose penalty is chosen by leaving out one of them at a time; all fits anew."""
    bands = bands / np.sqrt((bands**2).mean(axis=0))

    def fit(keep: list[int], shrinkage: float, count: int) -> np.ndarray:
        root = np.sqrt(count * shrinkage) * np.eye(bands.shape[1])  # ridge as least squares with rows added
        rows, aims = np.vstack([bands[keep], root]), np.append(word[keep], np.zeros(bands.shape[1]))
        return np.linalg.lstsq(rows, aims, rcond=None)[0]

    missed = 0.0
    for unit in range(len(word)):
        others = [place for place in range(len(word)) if place != unit]
        errors = [
            sum(
                (word[out] - bands[out] @ fit([place for place in others if place != out], shrinkage, len(others))) ** 2
                for out in others
            )
            for shrinkage in SHRINKAGES
        ]
        missed += (word[unit] - bands[unit] @ fit(others, SHRINKAGES[int(np.argmin(errors))], len(others))) ** 2
    return float(1 - missed / (word**2).sum())


def test_the_score_is_that_of_a_plain_loop_over_units_left_out() -> None:
    for seed, share in [(1, 0.8), (2, 0.3), (3, 0.0)]:
        bands, word = planted(np.random.default_rng(seed), 11, share)
        found = word_link(bands, word, np.random.default_rng(1), draws=5)
        assert found.score == pytest.approx(plain_score(bands, word), abs=1e-9)


def test_a_planted_link_is_found_and_its_band_weighs_most() -> None:
    rng = np.random.default_rng(8)
    bands, word = planted(rng, 30, 0.9)
    found = word_link(bands, word, rng, draws=499)
    assert found.p.value == 1 / 500
    assert found.score == pytest.approx(0.9, abs=0.08)
    assert found.weights[0] == pytest.approx(np.sqrt(0.9) / 2, abs=0.05)
    assert max(abs(weight) for weight in found.weights[1:]) < 0.1


def test_words_that_have_nothing_to_do_with_the_bands_are_linked_no_more_often_than_alpha() -> None:
    rng = np.random.default_rng(9)
    p_values = [word_link(*planted(rng, 12, 0), rng, draws=39).p.value for _ in range(150)]
    assert np.mean(np.array(p_values) <= 0.05) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 150)
    assert 0.38 < np.mean(np.array(p_values) <= 0.5) < 0.62


def test_exchanging_the_setups_of_every_unit_and_the_scale_of_a_band_change_nothing() -> None:
    bands, word = planted(np.random.default_rng(2), 12, 0.6)
    one, other, scaled = (
        word_link(*data, np.random.default_rng(4), draws=99)
        for data in ((bands, word), (-bands, -word), (bands * [10, 1, 1, 1], word))
    )
    assert (other.score, other.p) == (pytest.approx(one.score), one.p)
    assert other.weights == pytest.approx(one.weights)
    assert scaled.weights[0] == pytest.approx(one.weights[0] / 10)


def test_too_few_units_are_refused_with_their_number() -> None:
    bands, word = planted(np.random.default_rng(2), LEAST_UNITS, 0.6)
    assert word_link(bands, word, np.random.default_rng(1), draws=9).units == LEAST_UNITS
    with pytest.raises(StatsError, match=f"at least {LEAST_UNITS} comparisons .* there are {LEAST_UNITS - 1}"):
        word_link(bands[1:], word[1:], np.random.default_rng(1))


def test_units_that_do_not_fit_are_refused() -> None:
    bands, word = planted(np.random.default_rng(2), 12, 0.6)
    rng = np.random.default_rng(1)
    silent, holed = bands.copy(), bands.copy()
    silent[:, 2], holed[3, 1] = 0, np.nan
    for data, says in [
        ((bands[1:], word), "the same bands"),
        ((silent, word), "band 3 never differs"),
        ((holed, word), "must be a number"),
        ((bands, np.zeros(12)), "used alike in every comparison"),
    ]:
        with pytest.raises(StatsError, match=says):
            word_link(*data, rng)
    with pytest.raises(StatsError, match="at least one draw"):
        word_link(bands, word, rng, draws=0)
