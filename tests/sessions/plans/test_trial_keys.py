"""Keys are fair; what is balanced says nothing of them."""

from __future__ import annotations

import json

import pytest

from sessions.plans import trial_keys
from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from tests.answered_plans import WISHES


def plan(method: str, setups: int, trials: int, controls: int = 0) -> Plan:
    """As much of a plan as its keys follow from."""
    stated = [{"setup": f"setup-{place}", "name": f"setup {place}"} for place in range(setups)]
    return Plan({"method": method, "setups": stated, "trials": trials, "controls": controls})


@pytest.mark.parametrize("method", WISHES)
def test_keys_are_fair(method: str) -> None:
    """Every arrangement of a method comes equally often (chi-square below its 0.1 % point, fixed secret)."""
    from scipy.stats import chi2

    setups = 3 if METHODS[method].setups[1] > 2 else 2
    made = plan(method, setups, 10_000)
    seen: dict[str, int] = {}
    trials = 3000
    for trial in range(1, trials + 1):
        key = trial_keys.key(made, b"\x07" * 32, "listener-a", trial, 1)
        seen[json.dumps(key)] = seen.get(json.dumps(key), 0) + 1
    arrangements = {"abx": 2, "preference": 2, "triangle": 6, "duo-trio": 4, "tetrad": 6, "same-different": 4}
    wanted = arrangements.get(method, {"hidden-reference": 2, "multi-stimulus": 120, "round-robin": 6}.get(method, 0))
    assert len(seen) == wanted
    even = trials / wanted
    assert sum((count - even) ** 2 / even for count in seen.values()) < chi2.isf(0.001, wanted - 1)


def test_passages_and_pairs_are_balanced_and_say_nothing_of_the_order() -> None:
    made = plan("round-robin", 3, 12)
    pairs = [tuple(sorted(trial_keys.key(made, b"s" * 32, "a", t, 1).values())) for t in range(1, 13)]
    assert all(pairs.count(pair) == 4 for pair in ((0, 1), (0, 2), (1, 2)))
    assert sorted(trial_keys.passage_index(b"s" * 32, "a", t, 3) for t in range(1, 13)) == [0] * 4 + [1] * 4 + [2] * 4


def test_controls_are_the_same_setup_throughout_and_spread_by_the_secret() -> None:
    made = plan("abx", 2, 10, controls=4)
    spread = {tuple(sorted(trial_keys.controls(made, bytes([n]) * 32, "a"))) for n in range(20)}
    assert len(spread) > 15
    for trial in range(1, 15):
        key = trial_keys.key(made, b"\x01" * 32, "a", trial, 1)
        assert (len(set(key.values())) == 1) == (trial in trial_keys.controls(made, b"\x01" * 32, "a"))
