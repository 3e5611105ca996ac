"""A count that was stopped early, against every way in which the missing trials could have gone."""

from __future__ import annotations

from itertools import product

import pytest
from scipy.stats import binomtest

from stats import preference
from stats.closed_early import completions
from stats.similarity import ruled_out

MOST = 6
CHANCES = {"abx": 1 / 2, "triangle": 1 / 3, "preference": 1 / 2}


def designs(method: str) -> list[tuple[int, int, int, int, str, str]]:
    """Counted, against, ties, missing, policy and side of all designs of up to `MOST` trials."""
    policies = ("not offered", "drop", "split") if method == "preference" else ("not offered",)
    sides = ("two-sided", "greater") if method == "preference" else ("greater",)
    return [
        (counted, against, ties, missing, policy, side)
        for policy, side in product(policies, sides)
        for counted, against, ties, missing in product(range(MOST + 1), repeat=4)
        if missing and counted + against + ties + missing <= MOST and (policy != "not offered" or not ties)
    ]


def every_completion(
    counted: int, against: int, ties: int, missing: int, policy: str, side: str
) -> set[tuple[int, int]]:
    """The counts and trials that enter the test, for every way in which the missing trials could have gone."""
    ways = set()
    for more, less in product(range(missing + 1), repeat=2):
        tied = missing - more - less
        if tied < 0 or (tied and policy == "not offered"):
            continue
        found = preference.with_ties(counted + more, against + less, ties + tied, policy, side)  # type: ignore[arg-type]
        ways.add((found.for_first, found.trials))
    return ways


@pytest.mark.parametrize("method", CHANCES)
def test_every_number_is_the_worst_over_all_completions(method: str) -> None:
    chance, p_values, intervals = CHANCES[method], {}, {}
    for design in designs(method):
        counted, against, ties, missing, policy, side = design
        ways = every_completion(*design)
        for way in ways:
            if way[1] and (way, side) not in p_values:
                p_values[way, side] = float(binomtest(*way, chance, alternative=side).pvalue)
                intervals[way] = binomtest(*way).proportion_ci(0.95, "exact")
        worst = max(p_values[way, side] if way[1] else 1.0 for way in ways)  # where all were ties nothing is tested
        shown = [way[1] > 0 and p_values[way, side] <= 0.2 for way in ways]
        found = completions(
            method, counted, against, missing, ties=ties, policy=policy, alpha=0.2,
            alternative=side,  # type: ignore[arg-type]
        )  # fmt: skip
        assert found.p_value == pytest.approx(worst, rel=1e-9), design
        assert found.reached is (True if all(shown) else None if any(shown) else False), design
        assert found.interval.low == pytest.approx(min(intervals[w].low for w in ways if w[1]), abs=1e-9), design
        assert found.interval.high == pytest.approx(max(intervals[w].high for w in ways if w[1]), abs=1e-9), design
        sides = {2 * way[0] > way[1] for way in ways if way[1]}
        wanted = next(iter(sides)) if method == "preference" and found.reached else None
        assert found.first_preferred is wanted, design
        assert not (wanted is not None and len(sides) > 1), design


def test_what_any_completion_allows_is_allowed() -> None:
    for counted, against, ties, missing, policy, side in designs("triangle"):
        found = completions("triangle", counted, against, missing)
        bounds = [
            1.0 if way[0] == way[1] else binomtest(*way).proportion_ci(0.90, "exact").high
            for way in every_completion(counted, against, ties, missing, policy, side)
        ]
        assert found.largest_difference == pytest.approx(max(0.0, (max(bounds) - 1 / 3) * 1.5), abs=1e-9)


def test_what_the_most_right_rules_out_every_completion_rules_out() -> None:
    for counted, missing in product(range(41), repeat=2):
        if counted + missing <= 40 and ruled_out(counted + missing, 40, 0.5):
            assert all(ruled_out(count, 40, 0.5) for count in range(counted, counted + missing + 1))


@pytest.mark.parametrize(
    ("choices", "missing", "reached"),
    [((0, 0), 16, None), ((4, 0), 12, None), ((13, 0), 3, True), ((0, 13), 3, True), ((3, 5), 4, False)],
)
def test_a_preference_stopped_early_is_heard_only_where_nothing_could_turn_it(
    choices: tuple[int, int], missing: int, reached: bool | None
) -> None:
    assert completions("preference", *choices, missing).reached is reached
