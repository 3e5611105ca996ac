"""The runs test against every order of the same answers."""

from __future__ import annotations

from itertools import groupby, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats import runs_test
from stats.errors import StatsError


def count(answers: tuple[str, ...]) -> int:
    return len(list(groupby(answers)))


@settings(max_examples=25)
@given(st.text("AB", min_size=1, max_size=8))
def test_the_p_values_count_every_order(answers: str) -> None:
    found = runs_test.runs_test(answers)
    seen = count(tuple(answers))
    assert (found.answers, found.runs) == (len(answers), seen)
    assert found.longest == max(len(list(run)) for _, run in groupby(answers))
    if len(set(answers)) == 1:
        assert (found.p_streaks, found.p_alternation, found.p_value) == (None, None, None)
        return
    orders = [count(order) for order in permutations(answers)]
    assert found.expected == pytest.approx(sum(orders) / len(orders))
    few = sum(one <= seen for one in orders) / len(orders)
    many = sum(one >= seen for one in orders) / len(orders)
    assert (found.p_streaks, found.p_alternation) == pytest.approx((few, many))
    assert found.p_value == pytest.approx(min(1, 2 * min(few, many)))


def test_swed_and_eisenharts_table_for_ten_and_ten() -> None:
    """Ann. Math. Statist. 14 (1943), one-sided .05 for 10 and 10 (memory): 6 runs are few enough, 16 many enough."""

    def with_runs(number: int) -> str:
        """Ten A and ten B in this even number of runs."""
        pairs = number // 2
        return "".join("A" + "B" for _ in range(pairs - 1)) + "A" * (11 - pairs) + "B" * (11 - pairs)

    few = {number: runs_test.runs_test(with_runs(number)).p_streaks for number in (6, 8)}
    many = {number: runs_test.runs_test(with_runs(number)).p_alternation for number in (14, 16)}
    assert few[6] == pytest.approx(0.019, abs=5e-4)
    assert many[16] == pytest.approx(0.019, abs=5e-4)
    assert few[8] is not None
    assert few[8] > 0.05
    assert many[14] is not None
    assert many[14] > 0.05


def test_streaks_and_alternation_are_told_apart() -> None:
    blocks, turns = runs_test.runs_test([0] * 8 + [1] * 8), runs_test.runs_test([0, 1] * 8)
    assert blocks.p_streaks == pytest.approx(2 / 12870)
    assert turns.p_alternation == pytest.approx(2 / 12870)
    assert blocks.p_alternation == 1
    assert turns.to_document()["runs"] == 16


@pytest.mark.parametrize(("answers", "says"), [("", "no answers"), ("ABC", "two different answers; got 3: A, B, C")])
def test_other_sequences_are_refused(answers: str, says: str) -> None:
    with pytest.raises(StatsError, match=says):
        runs_test.runs_test(answers)
