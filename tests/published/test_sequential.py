"""Sequential tests: Wald's lines (ISO 16820; Montgomery), exact characteristics, e-values, peeking.

read: the three stops of ISO 16820, example 2, in a national print. From memory: its parameters and example 1,
Montgomery's lines. The rest was computed by enumeration or from the formulas, independently of this code.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from stats.sequential import e_process
from stats.sequential.boundaries import Boundaries
from stats.sequential.operating_characteristics import characteristics
from stats.sequential.sprt import Lines, sprt, wald_lines


@pytest.mark.parametrize(
    ("effect", "alpha", "beta", "chance", "lower", "upper", "slope", "within"),
    [
        (2 / 3, 0.05, 0.10, 1 / 3, -1.624, 2.085, 0.500, 5e-4),  # ISO 16820, example 1, triangle
        (0.7, 0.10, 0.10, 0.5, -2.5932, 2.5932, 0.60289, 5e-5),  # its example 2
        (0.06, 0.05, 0.10, 0.01, -1.2211, 1.5678, 0.02811, 5e-5),  # Montgomery, item-by-item
        (0.75, 0.05, 0.10, 0.5, -2.0492, 2.6309, 0.63093, 5e-5),
        (0.8, 0.05, 0.10, 0.5, -1.6240, 2.0850, 0.66096, 5e-5),
    ],
)
def test_walds_lines(
    effect: float, alpha: float, beta: float, chance: float, lower: float, upper: float, slope: float, within: float
) -> None:
    found = wald_lines(effect, alpha, beta, chance)
    assert (found.lower, found.upper) == (pytest.approx(lower, abs=within), pytest.approx(upper, abs=within))
    assert found.slope == pytest.approx(slope, abs=within)


def stop(lines: Lines, right: list[int]) -> tuple[int, int, str] | None:
    """Where the lines stop a row of answers: after how many, with how many right, and how."""
    total = 0
    for n, one in enumerate(right, 1):
        total += one
        if total <= lines.lower + lines.slope * n:
            return n, total, "similar"
        if total >= lines.upper + lines.slope * n:
            return n, total, "different"
    return None


def test_the_three_stops_of_iso_16820_example_2() -> None:
    lines = wald_lines(0.7, 0.10, 0.10, 0.5)
    day_1 = [int(c == "C") for c in "NNNCNCNCNCN"]
    day_5 = [int(c == "C") for c in "CCCCNCCCNCCC"]
    running = [0, 1, 1, 2, 2, 3, 3, 4, 5, 6, 7, 7, 8, 9, 10, 11, 11, 11, 12, 13, 13, 13, 13, 14, 14, 15, 16, 17, 18, 19]
    day_3 = np.diff([0, *running]).tolist()
    assert stop(lines, day_1) == (11, 4, "similar")
    assert stop(lines, day_5) == (12, 10, "different")
    assert stop(lines, day_3) is None
    assert (len(day_3), sum(day_3)) == (30, 19)


def test_the_boundaries_of_a_plan_stop_where_the_lines_do() -> None:
    """Far from the last trial, .5 against .75: the exact error rate needs no correction of Wald's upper line."""
    region, lines = sprt(200, 0.75), wald_lines(0.75)
    for n in range(1, 60):
        for count in range(n + 1):
            wanted = "heard" if count >= lines.upper + lines.slope * n else None
            wanted = "not shown" if count <= lines.lower + lines.slope * n else wanted
            assert region.decision(n, count) == wanted


@pytest.mark.parametrize(
    ("proportion", "not_shown", "trials"), [(0.5, 0.9568, 16.226), (0.63, 0.5508, 27.917), (0.75, 0.0741, 20.300)]
)
def test_exact_characteristics_of_walds_test(proportion: float, not_shown: float, trials: float) -> None:
    """By enumeration, .5 against .75, alpha .05, beta .10; Wald's approximations are .95/13.9, .56/23.2, .10/18.2."""
    found = characteristics(sprt(800, 0.75), proportion)
    assert 1 - found.heard == pytest.approx(not_shown, abs=5e-5)
    assert found.expected_trials == pytest.approx(trials, abs=5e-4)


@pytest.mark.parametrize(
    ("most", "rate"), [(10, 0.0508), (16, 0.0876), (20, 0.0987), (25, 0.1127), (50, 0.1579), (100, 0.2021)]
)
def test_peeking_without_correction_breaks_the_error_rate(most: int, rate: float) -> None:
    """Stopping the first time the exact one-sided p is at most .05 (computed): why a fixed plan shows no score."""
    n = np.arange(1, most + 1)
    counts = np.array([next((c for c in range(k + 1) if binom.sf(c - 1, k, 0.5) <= 0.05), k + 1) for k in n])
    none = np.full(most, -1)
    peeking = Boundaries(counts, none, np.zeros(most, int), none)
    assert characteristics(peeking, 0.5).heard == pytest.approx(rate, abs=5e-5)


E_VALUES = [  # right, trials, uniform mixture, one-sided
    (6, 6, 9.1429, 18.1429),
    (7, 7, 16.0000, 31.875),
    (8, 8, 28.4444, 56.7778),
    (9, 10, 9.3091, 18.5091),
    (12, 16, 2.1182, 4.1324),
    (13, 16, 6.8840, 13.6805),
    (14, 16, 32.1255, 64.1755),
]


@pytest.mark.parametrize(("right", "trials", "whole", "one_sided"), E_VALUES)
def test_e_values(right: int, trials: int, whole: float, one_sided: float) -> None:
    assert e_process.e_value(right, trials, alternative="two-sided") == pytest.approx(whole, abs=5e-5)
    assert e_process.e_value(right, trials) == pytest.approx(one_sided, abs=5e-5)


@pytest.mark.parametrize(
    ("right", "trials", "low", "high"),
    [
        (9, 10, 0.4549, 0.9995),
        (12, 16, 0.3876, 0.9597),
        (14, 16, 0.5203, 0.9949),
        (60, 100, 0.4408, 0.7460),
        (65, 100, 0.4910, 0.7891),
    ],
)
def test_robbins_confidence_sequence(right: int, trials: int, low: float, high: float) -> None:
    """Robbins 1970 (computed from the definition)."""
    found = e_process.confidence_sequence(right, trials)
    assert (found.low, found.high) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))
