"""Grades and pairwise choices of who cannot tell the setups apart: exact over all keys, or over many sessions.

A listener's grades and choices by label are fixed; what belongs to which label was drawn afterwards. Where all draws
can be gone through the error rate is exact, and a test that gives more than alpha fails for certain.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import combinations, permutations, product
from math import comb, sqrt

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from sessions.errors import ListenError
from sessions.plans.methods.graded import GradedMethod, answer_of
from sessions.plans.methods.method import REFERENCE, Key
from sessions.plans.methods.table import METHODS
from sessions.results.outcome import PairedComparison, QualityGrades
from tests.calibration.habits import HABITS, Moment
from tests.calibration.listeners import answers, grades
from tests.calibration.plans import judged, plan


def generator(*names: object) -> Generator:
    return Generator(PCG64(zlib.crc32("|".join(map(str, names)).encode())))


@pytest.mark.parametrize("habit", HABITS)
def test_grades_against_a_hidden_reference_keep_alpha_over_all_keys(habit: str) -> None:
    made, rng = plan("hidden-reference", 9), generator("hidden-reference", habit)
    method = made.method
    assert isinstance(method, GradedMethod)
    given = []
    for n in range(1, 10):
        now = Moment((), along=n / 9)
        given.append(answer_of(grades(method, {"1": 0, "2": 1}, 2, HABITS[habit], now, rng)))
    reached = 0
    for sides in product((0, 1), repeat=9):
        keys: list[Key] = [{REFERENCE: 0, "1": side, "2": 1 - side} for side in sides]
        reached += judged(made, list(zip(keys, given, strict=True))).reached
    assert Fraction(1, 50) < Fraction(reached, 2**9) <= Fraction(1, 20)  # one-sided, with the whole of its level


@pytest.mark.parametrize(("setups", "rounds"), [(3, 4), (4, 2)])
def test_a_round_robin_keeps_alpha_over_all_outcomes(setups: int, rounds: int) -> None:
    """Whatever is answered, which of the two was heard first is a fair coin: each choice is one, too."""
    pairs = list(combinations(range(setups), 2))
    made = plan("round-robin", rounds * len(pairs), setups=setups)
    error, power, promised = 0.0, 0.0, float(made.document["power"])
    share = float(made.document["effect"])
    for wins in product(range(rounds + 1), repeat=len(pairs)):
        given = [
            ({"1": i, "2": j}, "1" if n < won else "2") for (i, j), won in zip(pairs, wins, strict=True)
            for n in range(rounds)
        ]  # fmt: skip
        if judged(made, given).reached:
            error += np.prod([comb(rounds, won) / 2**rounds for won in wins])
            power += np.prod([
                comb(rounds, won) * (share**won * (1 - share) ** (rounds - won) if i == 0 else 0.5**rounds)
                for (i, _), won in zip(pairs, wins, strict=True)
            ])  # fmt: skip
    assert 0.01 < error <= 0.05
    assert power == pytest.approx(promised, abs=4 * 0.5 / sqrt(20_000))  # promised by 20,000 draws


def test_many_stimuli_keep_alpha_over_all_keys() -> None:
    """Three setups in four trials, at an alpha that so few can reach; without Holm's correction it is exceeded.

    The setups' names do not matter, so that the first trial's order stands for all six of it; a part of the keys is
    gone through under every other naming, too.
    """
    trials, setups = 4, 3
    made, rng = plan("multi-stimulus", trials, alpha="0.4"), generator("all keys")
    labels = [str(n) for n in range(1, setups + 1)]
    given = [
        answer_of({label: 90 + int(rng.integers(0, 11)) for label in labels} | {"4": 20, "5": 40})
        for _ in range(trials)
    ]
    namings = list(permutations(range(setups)))

    def found_with(orders: Sequence[Sequence[int]]) -> tuple[bool, bool]:
        keys: list[Key] = [
            {REFERENCE: 0, **dict(zip(labels, order, strict=True)), "4": setups, "5": setups + 1} for order in orders
        ]
        found = judged(made, list(zip(keys, given, strict=True)))
        assert isinstance(found, QualityGrades)
        assert found.kept == ("Ada",)
        return bool(found.reached), min(pair.p_value for pair in found.pairs) <= 0.4

    reached = alone = number = 0
    for orders in product(namings[:1], *[namings] * (trials - 1)):
        whole, one = found_with(orders)
        reached, alone, number = reached + whole, alone + one, number + 1
        if number % 20 == 0:
            renamed = [[[naming[place] for place in order] for order in orders] for naming in namings[1:]]
            assert {found_with(each) for each in renamed} == {(whole, one)}
    assert number == 6 ** (trials - 1)
    assert 0.05 < reached / number <= 0.4 < alone / number


@pytest.mark.parametrize("habit", ["fair", "one-sided", "tiring"])
def test_ten_pairs_of_five_setups_keep_alpha_together(habit: str) -> None:
    """Real keys, eight trials: one of ten pairs alone is found in far more sessions than all of them together may."""
    made, rng, number = plan("multi-stimulus", 8, setups=5), generator("five setups", habit), 250
    found = [judged(made, answers(made, HABITS[habit], rng)) for _ in range(number)]
    allowed = 0.05 + 4 * sqrt(0.05 * 0.95 / number)
    assert np.mean([one.reached for one in found]) <= allowed
    alone = [min(pair.p_value for pair in one.pairs) <= 0.05 for one in found if isinstance(one, QualityGrades)]
    assert np.mean(alone) > allowed  # so that leaving the correction out would be seen


def test_a_p_that_is_alpha_reaches_it() -> None:
    made = plan("hidden-reference", 4, alpha="0.0625")
    found = judged(made, [({REFERENCE: 0, "1": 0, "2": 1}, answer_of({"1": Decimal(5), "2": Decimal(4)}))] * 4)
    assert (found.p_value, found.reached) == (1 / 16, True)


@pytest.mark.parametrize(("grade", "fits"), [("0", True), ("100", True), ("-1", False), ("101", False), ("0.5", False)])
def test_grades_go_from_one_end_of_the_scale_to_the_other(grade: str, fits: bool) -> None:
    method = METHODS["multi-stimulus"].with_labels(2, ties=False)
    assert isinstance(method, GradedMethod)
    answer = answer_of({label: Decimal(grade) for label in method.graded})
    if fits:
        method.check_answer(answer)
    else:
        with pytest.raises(ListenError, match="give 0 to 100 in steps of 1"):
            method.check_answer(answer)


def test_the_setup_chosen_most_often_has_the_greatest_ability() -> None:
    made = plan("round-robin", 24)
    order = [(0, 1), (1, 2), (0, 2), (1, 0), (2, 1), (2, 0)] * 4
    found = judged(made, [({"1": i, "2": j}, "1" if i > j else "2") for i, j in order])  # always the later setup
    assert isinstance(found, PairedComparison)
    assert found.abilities is not None
    assert found.reached is True
    assert list(found.abilities.shares) == sorted(found.abilities.shares)
    assert found.abilities.order == pytest.approx(0, abs=1e-9)  # each pair was heard as often either way round
    assert found.totals == {"setup 0": 0, "setup 1": 8, "setup 2": 16}
