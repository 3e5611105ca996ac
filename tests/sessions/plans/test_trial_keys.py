"""Keys are fair; what is balanced says nothing of them."""

from __future__ import annotations

import json

import pytest

from sessions.plans import randomisation, trial_keys
from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from tests.answered_plans import WISHES
from tests.calibration.test_keys import every_key

FITTING = [name for name, method in METHODS.items() if method.known_possible]


def plan(method: str, setups: int, trials: int, controls: int = 0, known: int = 0) -> Plan:
    """As much of a plan as its keys follow from."""
    stated = [{"setup": f"setup-{place}", "name": f"setup {place}"} for place in range(setups)]
    document = {"method": method, "setups": stated, "trials": trials, "controls": controls}
    document |= {"words": ["bright", "dull"]} if METHODS[method].asks_words else {}
    lift = {"trials": known, "lift_hz": 2000, "lift_db": "1", "octaves": "1", "residual_lu": "0.0000"}
    return Plan(document | ({"known": lift} if known else {}))


@pytest.mark.parametrize("method", WISHES)
def test_keys_are_fair(method: str) -> None:
    """Every arrangement of a method comes equally often (chi-square below its 0.1 % point, fixed secret)."""
    from scipy.stats import chi2

    setups = 3 if METHODS[method].setups[1] > 2 and method != "words" else 2
    made = plan(method, setups, 10_000)
    seen: dict[str, int] = {}
    trials = 3000
    for trial in range(1, trials + 1):
        key = trial_keys.key(made, b"\x07" * 32, "listener-a", trial, 1)
        seen[json.dumps(key)] = seen.get(json.dumps(key), 0) + 1
    arrangements = {
        "abx": 2,
        "preference": 2,
        "triangle": 6,
        "duo-trio": 4,
        "tetrad": 6,
        "same-different": 4,
        "words": 2,
    }
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


@pytest.mark.parametrize("method", FITTING)
def test_known_differences_come_after_the_controls_and_have_the_keys_of_trials_that_count(method: str) -> None:
    """By the rule's own words: the places of one permutation, and the method's own coins for the key."""
    controls = 3 if METHODS[method].controls_possible else 0
    made, bare, secret = plan(method, 2, 13 - controls, controls, 5), plan(method, 2, 18), b"\x05" * 32
    order = randomisation.permutation(secret, "controls", "a", 1, 1, 18)
    known, apart = order[controls : controls + 5], order[: controls + 5]
    assert trial_keys.controls(made, secret, "a") == {place + 1 for place in order[:controls]}
    assert trial_keys.known_differences(made, secret, "a") == {place + 1 for place in known}
    for trial in range(1, 19):
        own, key = trial_keys.key(bare, secret, "a", trial, 1), trial_keys.key(made, secret, "a", trial, 1)
        assert made.is_known(key) == (trial - 1 in known)
        assert made.counts(key) == (trial - 1 not in apart)
        if made.counts(key):
            assert key == own
        elif made.is_known(key):
            assert [key[one] == key[two] for one in key for two in key] == [own[x] == own[y] for x in own for y in own]
            assert all(place in (0, 2) for place in key.values())


def test_plans_without_known_differences_keep_their_coins() -> None:
    """Keys as they were before there were any (drawn by that version)."""
    made = plan("abx", 2, 10, controls=4)
    keys = [trial_keys.key(made, b"\x01" * 32, "a", trial, 1) for trial in range(1, 15)]
    assert "".join("C" if len(set(key.values())) == 1 else str(key["X"]) for key in keys) == "C1C11110C0001C"


@pytest.mark.parametrize("method", FITTING)
def test_whoever_guesses_finds_the_known_difference_exactly_as_often_as_chance_says(method: str) -> None:
    """Over every key that the coins can give."""
    own = METHODS[method]
    keys = [(weight, own.known_key(key, 2)) for weight, key in every_key(own, 2)]
    assert all(2 in key.values() for _, key in keys)
    for answer in own.answers or ('{"1": "5.0", "2": "4.0"}', '{"1": "4.0", "2": "5.0"}'):
        assert sum(weight * own.finds(key, answer) for weight, key in keys) == own.chance_of_finding
    if not own.answers:
        assert not any(own.finds(key, '{"1": "5.0", "2": "5.0"}') for _, key in keys)


def test_a_known_trial_of_same_different_is_told_from_one_that_counts_by_its_key() -> None:
    made = plan("same-different", 2, 20, known=20)
    keys = {tuple(trial_keys.key(made, b"\x04" * 32, "a", trial, 1).values()) for trial in range(1, 41)}
    assert keys == {(0, 0), (0, 1), (1, 0), (1, 1), (2, 2), (0, 2), (2, 0)}
