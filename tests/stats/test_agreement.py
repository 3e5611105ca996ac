"""Agreement about words: against a library for Krippendorff's alpha, plain loops, and what is planted."""

from __future__ import annotations

import krippendorff
import numpy as np
import pytest

from stats.agreement import SCALES, agreement, alpha_interval
from stats.errors import StatsError


def with_gaps(seed: int, units: int = 14, observers: int = 4, values: int = 5) -> list[list[float | None]]:
    rng = np.random.default_rng(seed)
    truth = rng.integers(0, values, units)
    seen = np.clip(truth[:, None] + rng.integers(-1, 2, (units, observers)), 0, values - 1)
    return [[None if rng.random() < 0.25 else float(value) for value in row] for row in seen]


@pytest.mark.parametrize("scale", SCALES)
def test_alpha_is_the_librarys_with_gaps(scale: str) -> None:
    for seed in range(5):
        answers = with_gaps(seed)
        table = np.array([[np.nan if value is None else value for value in row] for row in answers]).T
        expected = krippendorff.alpha(reliability_data=table, level_of_measurement=scale)
        assert agreement(answers, scale).alpha == pytest.approx(expected, abs=1e-9)


def test_raw_agreement_is_the_share_of_equal_pairs() -> None:
    answers = with_gaps(3)
    alike = pairs = 0
    for row in answers:
        given = [value for value in row if value is not None]
        for place, value in enumerate(given):
            for other in given[place + 1 :]:
                alike, pairs = alike + (value == other), pairs + 1
    assert agreement(answers, "nominal").raw == pytest.approx(alike / pairs)


def test_perfect_agreement_is_one_and_opposite_ticks_are_below_nought() -> None:
    assert agreement([[1, 1], [0, 0], [1, 1]], "nominal").alpha == 1
    assert agreement([[1, 0], [0, 1], [1, 0]], "nominal").alpha < 0


def test_a_word_that_everybody_ticks_has_no_alpha() -> None:
    found = agreement([[1, 1], [1, 1, 1], [None, 1]], "nominal")
    assert (found.raw, found.alpha, found.units, found.answers) == (1, None, 2, 5)
    assert alpha_interval([[1, 1], [1, 1]], "nominal", np.random.default_rng(1)) is None


@pytest.mark.parametrize("scale", ["nominal", "ordinal"])
def test_the_bootstrap_interval_is_that_of_a_plain_loop_over_units(scale: str) -> None:
    answers = with_gaps(1, units=20)
    rng = np.random.default_rng(5)
    plain = [agreement([answers[unit] for unit in rng.integers(0, 20, 20)], scale).alpha for _ in range(600)]
    found = alpha_interval(answers, scale, np.random.default_rng(6), draws=3000)
    low, high = np.quantile(plain, [0.025, 0.975])
    spread = np.std(plain)
    assert (found.low, found.high) == (pytest.approx(low, abs=0.5 * spread), pytest.approx(high, abs=0.5 * spread))
    assert found.low < agreement(answers, scale).alpha < found.high


@pytest.mark.parametrize(
    ("answers", "scale", "says"),
    [
        ([[1, 0]], "cardinal", "the scale is one of"),
        ([[1], [None, 0]], "nominal", "at least one unit"),
        ([[1, float("nan")]], "nominal", "must be a number"),
        ([[1, -1]], "ratio", "no negative"),
    ],
)
def test_answers_without_a_meaning_are_refused(answers: list[list[float | None]], scale: str, says: str) -> None:
    with pytest.raises(StatsError, match=says):
        agreement(answers, scale)
