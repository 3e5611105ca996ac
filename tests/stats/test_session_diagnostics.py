"""Session health against counts over every order, scipy, and sessions with a planted fault."""

from __future__ import annotations

import json
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta, norm

from stats import response_bias, runs_test, session_diagnostics
from stats.errors import StatsError

answers = st.lists(st.integers(0, 1), min_size=2, max_size=8)


@settings(max_examples=25)
@given(answers)
def test_drift_counts_every_order_of_right_and_wrong(right: list[int]) -> None:
    found = session_diagnostics.drift(right)
    middle = (len(right) + 1) // 2
    assert (found.first_half, found.second_half) == (np.mean(right[:middle]), np.mean(right[middle:]))
    if len(set(right)) == 1:
        assert found.p_value is None
        return
    mean = sum(right) * (len(right) - 1) / 2

    def away(order: tuple[int, ...] | list[int]) -> float:
        return abs(sum(place * one for place, one in enumerate(order)) - mean)

    orders = [away(order) for order in permutations(right)]
    assert found.exact
    assert found.p_value == pytest.approx(np.mean(np.array(orders) >= away(right)))


def test_drift_of_scores_is_near_the_permutation_test() -> None:
    rng = np.random.default_rng(5)
    scores = rng.normal(3, 1, 40) + np.linspace(0, 1.2, 40)
    found = session_diagnostics.drift(scores.tolist())
    place = np.arange(40) - 19.5
    orders = rng.permuted(np.tile(scores - scores.mean(), (50_000, 1)), axis=1) @ place
    wanted = np.mean(np.abs(orders) >= abs((scores - scores.mean()) @ place))
    assert not found.exact
    assert found.p_value == pytest.approx(wanted, abs=0.01)
    assert found.second_half > found.first_half


def test_drift_errs_as_often_as_it_says() -> None:
    """2000 steady sessions of 24: exact, so at most five per cent, and not far below."""
    rng = np.random.default_rng(6)
    found = [session_diagnostics.drift(row).p_value for row in (rng.random((2000, 24)) < 0.7).astype(int).tolist()]
    rate = np.mean([p_value is not None and p_value <= 0.05 for p_value in found])
    assert 0.03 <= rate <= 0.05 + 4 * (0.05 * 0.95 / 2000) ** 0.5


def test_a_long_session_drifts_by_approximation_and_says_so() -> None:
    found = session_diagnostics.drift([1] * 500 + [0] * 500)
    assert not found.exact
    assert found.p_value is not None
    assert found.p_value < 1e-100


def test_times_are_numpys_quartiles_and_show_the_hasty() -> None:
    after, right = [900.0, 1999.0, 2000.0, 5000.0, 8000.0, 20_000.0, 7000.0], [0, 0, 1, 1, 1, 1, 0]
    found = session_diagnostics.times(after, right)
    every = found.every
    assert (every.low, every.median, every.high) == pytest.approx(tuple(np.percentile(after, [25, 50, 75])))
    assert found.right is not None
    assert found.right.count == 4
    assert found.right.high == pytest.approx(np.percentile([2000, 5000, 8000, 20_000], 75))
    assert found.wrong is not None
    assert found.wrong.median == 1999
    assert found.hasty == 2
    assert session_diagnostics.times(after, right, 7500).hasty == 5
    assert found.p_value is not None


def test_nothing_to_compare_is_none() -> None:
    every = session_diagnostics.times([1500, 2500], [1, 1])
    assert (every.wrong, every.p_value) == (None, None)
    assert every.right is not None
    assert session_diagnostics.times([1500], [0]).right is None
    assert session_diagnostics.sureness([1, 4], [1, 1]).p_value is None
    assert session_diagnostics.sureness([2, 2], [1, 0]).gamma is None
    assert session_diagnostics.switching([4, 5], [0, 0]).right_median is None
    assert session_diagnostics.drift([1, 1, 1]).p_value is None


def test_switching_counts_what_was_too_little() -> None:
    found = session_diagnostics.switching([2, 3, 8, 1, 6], [1, 0, 1, 0, 1], needed=3)
    assert (found.trials, found.median, found.least, found.short) == (5, 3, 1, 2)
    assert (found.right_median, found.wrong_median) == (6, 2)


def test_sureness_counts_steps_with_exact_intervals() -> None:
    steps, right = [1, 1, 1, 2, 4, 4, 4, 4], [0, 1, 0, 1, 1, 1, 0, 1]
    found = session_diagnostics.sureness(steps, right)
    assert [(one.step, one.correct, one.trials) for one in found.steps] == [(1, 1, 3), (2, 1, 1), (3, 0, 0), (4, 3, 4)]
    assert (found.steps[2].share, found.steps[2].low) == (None, None)
    last = found.steps[3]
    assert (last.low, last.high) == pytest.approx((beta.ppf(0.025, 3, 2), beta.ppf(0.975, 4, 1)))
    # pairs: right 1 2 4 4 4 against wrong 1 1 4: surer 8, less sure 2, ties 5
    assert found.gamma == pytest.approx((8 - 2) / (8 + 2))


def test_a_listener_who_knows_is_found_and_one_who_does_not_is_not() -> None:
    rng = np.random.default_rng(7)
    steps = rng.integers(1, 5, 60)
    knowing = (rng.random(60) < 0.4 + 0.14 * steps).astype(int)
    found = session_diagnostics.sureness(steps.tolist(), knowing.tolist())
    assert found.p_value is not None
    assert found.p_value < 0.01
    contrary = session_diagnostics.sureness((5 - steps).tolist(), knowing.tolist())
    assert contrary.p_value is not None
    assert contrary.p_value > 0.95
    assert found.gamma == pytest.approx(-contrary.gamma if contrary.gamma is not None else None)


def test_every_finding_is_a_document() -> None:
    right = [1, 0, 1, 1]
    for finding in (
        session_diagnostics.drift(right),
        response_bias.side_bias(3, 4),
        response_bias.side_choice([2, 1, 1], np.random.default_rng(1)),
        session_diagnostics.times([1000, 2000, 3000, 4000], right),
        session_diagnostics.switching([3, 4, 5, 6], right),
        session_diagnostics.sureness([1, 2, 3, 4], right),
        runs_test.runs_test("ABAB"),
    ):
        document = finding.to_document()
        assert json.loads(json.dumps(document)) is not None
        assert document


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: session_diagnostics.drift([1]), "at least two trials; got 1"),
        (lambda: session_diagnostics.drift([1, float("inf")]), "finite number; got inf"),
        (lambda: session_diagnostics.times([], []), "no trials"),
        (lambda: session_diagnostics.times([100], [1, 0]), "got 1 values and 2 marks"),
        (lambda: session_diagnostics.switching([3], [2]), "right is 1 and wrong is 0"),
        (lambda: session_diagnostics.sureness([5], [1]), "from 1 to 4; got 5"),
        (lambda: session_diagnostics.sureness([1.5], [1]), "from 1 to 4; got 1.5"),  # type: ignore[list-item]
        (lambda: session_diagnostics.sureness([], []), "no trials"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says):
        call()


def test_drift_of_scores_leans_on_where_they_stand_not_on_their_size() -> None:
    """The normal approximation of the permutation test of the correlation r with the trial's number: z = r √(n − 1)."""
    right = [0.5, 0.25, 0.75, 1.0, 0.5, 1.0, 0.75, 1.5]
    r = np.corrcoef(np.arange(8), right)[0, 1]
    assert session_diagnostics.drift(right).p_value == pytest.approx(2 * norm.sf(abs(r) * np.sqrt(7)))
