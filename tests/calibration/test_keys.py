"""Every key is a fair and fresh draw, so that no habit of answering can gain or lose anything by it."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from fractions import Fraction
from itertools import permutations
from math import factorial, sqrt
from typing import Any, cast

import numpy as np
import pytest
from numpy.random import PCG64, Generator
from scipy.stats import binom

from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.method import TIE, Key, Method
from sessions.plans.methods.table import METHODS
from sessions.plans.randomisation import Coins
from tests.calibration.habits import HABITS
from tests.calibration.listeners import answers
from tests.calibration.plans import plan

COUNTED = [name for name, method in METHODS.items() if isinstance(method, CountedMethod)]


class Branching:
    """Coins that come up as they are set, then with their first side; they note how many sides each draw had."""

    def __init__(self, sides: Sequence[int]) -> None:
        self.sides, self.sizes = list(sides), list[int]()

    def draw(self, purpose: str, k: int) -> int:
        place = len(self.sizes)
        self.sizes.append(k)
        if place == len(self.sides):
            self.sides.append(0)
        return self.sides[place]

    def permutation(self, purpose: str, n: int) -> list[int]:
        assert n <= 6, f"a key that hangs on the order of {n} things is not drawn for its trial alone"
        return list(list(permutations(range(n)))[self.draw(purpose, factorial(n))])

    def of(self, trial: int) -> Branching:
        return self


def every_key(method: Method, setups: int, counted: int = 1) -> list[tuple[Fraction, Key]]:
    """Each key that the coins can give, with its exact probability."""
    found, sides = [], list[int]()
    while True:
        coins = Branching(sides)
        key = method.key(cast(Coins, coins), setups, counted)
        weight = Fraction(1)
        for size in coins.sizes:
            weight /= size
        found.append((weight, key))
        sides = coins.sides[: len(coins.sizes)]
        while sides and sides[-1] == coins.sizes[len(sides) - 1] - 1:
            sides.pop()
        if not sides:
            return found
        sides[-1] += 1


@pytest.mark.parametrize("name", COUNTED)
def test_whatever_is_answered_is_right_with_exactly_the_chance_probability(name: str) -> None:
    method = cast(CountedMethod, METHODS[name])
    keys = every_key(method, 2)
    assert sum(weight for weight, _ in keys) == 1
    for answer in method.answers:
        if answer != TIE:
            assert sum(weight * method.score(key, answer) for weight, key in keys) == method.numbers().chance


def test_the_hidden_reference_is_either_of_the_two_by_a_fair_coin() -> None:
    keys = every_key(METHODS["hidden-reference"], 2)
    assert sorted((key["1"], key["2"], weight) for weight, key in keys) == [
        (0, 1, Fraction(1, 2)),
        (1, 0, Fraction(1, 2)),
    ]


def test_every_order_of_many_stimuli_is_equally_likely() -> None:
    keys = every_key(METHODS["multi-stimulus"], 3)
    orders = {tuple(place for label, place in key.items() if label != "R") for _, key in keys}
    assert len(orders) == len(keys) == factorial(5)
    assert {weight for weight, _ in keys} == {Fraction(1, factorial(5))}


def test_a_round_robin_hears_each_pair_once_a_block_and_either_first_by_a_fair_coin() -> None:
    method = METHODS["round-robin"]
    chances: dict[tuple[int, int], Fraction] = {}
    for weight, key in every_key(method, 3):
        chances[key["1"], key["2"]] = chances.get((key["1"], key["2"]), Fraction(0)) + weight
    assert chances == dict.fromkeys(permutations(range(3), 2), Fraction(1, 6))
    secret = bytes(range(32))
    for block in range(20):
        pairs = {frozenset(method.key(Coins(secret, "Ada", n, 1), 3, n).values())
                 for n in range(3 * block + 1, 3 * block + 4)}  # fmt: skip
        assert len(pairs) == 3


@pytest.mark.parametrize("habit", HABITS)
@pytest.mark.parametrize("name", COUNTED)
def test_real_keys_give_every_habit_the_binomial_of_fresh_draws(name: str, habit: str) -> None:
    """So do secrets as they are drawn; who knows what was right and bets on balance would get 10 of 16 if it existed.

    Against eight of each in sixteen trials their expectation is m - 1/2 + 2^(2m-1)/C(2m, m) = 10.05 for m = 8.
    """
    made, number = plan(name, 16), 150
    rng = Generator(PCG64(zlib.crc32(f"{name}|{habit}".encode())))
    right: Any = np.array(
        [sum(made.counted.score(*one) for one in answers(made, HABITS[habit], rng)) for _ in range(number)]
    )
    wanted = binom(16, made.chance)
    assert right.mean() == pytest.approx(wanted.mean(), abs=4 * wanted.std() / sqrt(number))
    for count in range(4, 13):  # the whole distribution, at most as far off as Kolmogorov's test allows at 1 in 10,000
        assert (right <= count).mean() == pytest.approx(wanted.cdf(count), abs=2.23 / sqrt(number))
