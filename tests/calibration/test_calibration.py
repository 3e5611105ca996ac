"""Calibration as proof: error rates, power and coverage of every method over many simulated sessions.

`sh tests/run tests/calibration --sessions 20000` runs it at length; by default it is quick.
"""

from __future__ import annotations

import zlib
from math import sqrt

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from sessions.plans import planned_test
from sessions.results.outcome import Finding
from stats.sequential.operating_characteristics import characteristics
from tests.calibration.listeners import HABITS, fair, plan, session

# method, trials, stopping rule; grades and choices of many setups cost more, so they get fewer sessions
PLANS = [
    ("abx", 16, planned_test.FIXED),
    ("preference", 16, planned_test.FIXED),
    ("triangle", 12, planned_test.FIXED),
    ("duo-trio", 16, planned_test.FIXED),
    ("tetrad", 12, planned_test.FIXED),
    ("same-different", 16, planned_test.FIXED),
    ("abx", 30, planned_test.SPRT),
    ("triangle", 24, planned_test.SPRT),
    ("preference", 30, planned_test.SPRT),
    ("abx", 30, planned_test.E_PROCESS),
    ("preference", 30, planned_test.E_PROCESS),
    ("hidden-reference", 10, planned_test.FIXED),
    ("round-robin", 12, planned_test.FIXED),
    ("multi-stimulus", 8, planned_test.FIXED),
]
COSTLY = {"round-robin": 8, "multi-stimulus": 8, "hidden-reference": 2}
SIGMAS = 4.0  # chance alone exceeds it in 3 of 100,000 comparisons


@pytest.fixture
def sessions(request: pytest.FixtureRequest) -> int:
    return int(request.config.getoption("--sessions"))


def simulated(method: str, trials: int, rule: str, habit: str, hears: float, number: int) -> list[Finding]:
    made = plan(method, trials, rule)
    # the seed follows from what is simulated, so that no two cells share their draws
    rng = Generator(PCG64(zlib.crc32(f"{method}|{trials}|{rule}|{habit}|{hears}".encode())))
    number = max(number // COSTLY.get(method, 1), 50)
    return [session(made, HABITS[habit], lambda n: hears, rng) for _ in range(number)]


def error(rate: float, number: int) -> float:
    """The Monte-Carlo error allowed."""
    return SIGMAS * sqrt(max(rate * (1 - rate), 1 / number) / number)


@pytest.mark.parametrize("habit", HABITS)
@pytest.mark.parametrize(("method", "trials", "rule"), PLANS)
def test_who_hears_nothing_is_found_at_most_as_often_as_alpha_says(
    method: str, trials: int, rule: str, habit: str, sessions: int
) -> None:
    found = simulated(method, trials, rule, habit, 0.0, sessions)
    rate = np.mean([one.reached for one in found])
    assert rate <= 0.05 + error(0.05, len(found))
    made = plan(method, trials, rule)
    if made.method.family == "count":  # its real error rate is known exactly, and no habit moves it either way
        region = made.boundaries
        if region is not None:
            real = characteristics(region, made.chance).heard
        else:
            from scipy.stats import binom

            assert made.criterion is not None
            real = float(binom.sf(made.criterion - 1, trials, made.chance)) * (2 if method == "preference" else 1)
        assert rate == pytest.approx(real, abs=error(real, len(found)))


@pytest.mark.parametrize("habit", ["fair", "one-sided", "balancing"])
@pytest.mark.parametrize(("method", "trials", "rule"), [row for row in PLANS if row[0] not in COSTLY])
def test_power_is_what_the_plan_promised(method: str, trials: int, rule: str, habit: str, sessions: int) -> None:
    """A listener who truly hears it in half of the trials is right in the plan's own effect, whatever their habit."""
    found = simulated(method, trials, rule, habit, 0.5, sessions)
    promised = float(plan(method, trials, rule).document["power"])
    assert np.mean([one.reached for one in found]) == pytest.approx(promised, abs=error(promised, len(found)) + 1e-4)


@pytest.mark.parametrize("hears", [0.0, 0.5, 0.9])
@pytest.mark.parametrize(("method", "trials", "rule"), [row for row in PLANS if row[0] not in COSTLY])
def test_intervals_cover_the_truth(method: str, trials: int, rule: str, hears: float, sessions: int) -> None:
    found = simulated(method, trials, rule, "fair", hears, sessions)
    chance = plan(method, trials, rule).chance
    truth = chance + hears * (1 - chance)
    missed = np.mean([not one.interval.low <= truth <= one.interval.high for one in found if one.interval])
    assert missed <= 0.05 + error(0.05, len(found))


@pytest.mark.parametrize("kind", ["fatigue", "learning"])
def test_fatigue_and_learning_cost_what_they_must(kind: str, sessions: int) -> None:
    """Hearing it ever less or more often: found as often as the exact chances of unequal trials say."""
    made = plan("abx", 16)
    rng = Generator(PCG64(zlib.crc32(kind.encode())))

    def hears(n: int) -> float:
        return (16 - n) / 15 if kind == "fatigue" else (n - 1) / 15

    counts = np.ones(1)
    for n in range(1, 17):
        share = 0.5 + hears(n) / 2
        counts = np.append(counts * (1 - share), 0) + np.append(0, counts * share)
    wanted = float(counts[made.criterion or 0 :].sum())
    found = [session(made, fair, hears, rng).reached for _ in range(sessions)]
    assert np.mean(found) == pytest.approx(wanted, abs=error(wanted, sessions))


def test_who_exploits_balance_gains_nothing_here_and_would_where_it_is_forced() -> None:
    """Told what was right, a guesser betting on balance gets 8 of 16 on average; against eight of each, 10.0461.

    The second number is the closed form m − ½ + 2^(2m−1)/C(2m, m) for m = 8 of each: why no balance is forced.
    """
    made, rng = plan("abx", 16), Generator(PCG64(5))
    counts = [session(made, HABITS["balancing"], lambda n: 0.0, rng).correct or 0 for _ in range(2000)]
    assert np.mean(counts) == pytest.approx(8, abs=4 * 2 / sqrt(2000))
    forced = []
    for _ in range(2000):
        order = rng.permutation([0] * 8 + [1] * 8)
        right = 0
        for n, key in enumerate(order):
            left = 8 - np.bincount(order[:n], minlength=2)
            right += key == (rng.integers(2) if left[0] == left[1] else int(left[1] > left[0]))
        forced.append(right)
    assert np.mean(forced) == pytest.approx(10.0461, abs=4 * np.std(forced) / sqrt(2000))
