"""Error rates and power of ABX tests: Leventhal, JAES 34(6), 1986, and worked examples of a sensory statistics package.

read: quoted from the paper in a place that was read; memory; computed: independently, no print seen.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from stats import binomial, binomial_power

PROPORTIONS = (0.6, 0.7, 0.75, 0.8, 0.9)
# (N, r, type 1, type 2 at each proportion). N 15: read up to .8. N 16, r 12 and 9: type 1 and p = .6 read, the rest
# memory. N 50 and 100: type 1 and p = .6 read. All others computed. Printed to four decimals.
LEVENTHAL = [
    (15, 14, 0.0005, (0.9948, 0.9647, 0.9198, 0.8329, 0.4510)),
    (15, 13, 0.0037, (0.9729, 0.8732, 0.7639, 0.6020, 0.1841)),
    (15, 12, 0.0176, (0.9095, 0.7031, 0.5387, 0.3518, 0.0556)),
    (15, 11, 0.0592, (0.7827, 0.4845, 0.3135, 0.1642, 0.0127)),
    (15, 10, 0.1509, (0.5968, 0.2784, 0.1484, 0.0611, 0.0022)),
    (15, 9, 0.3036, (0.3902, 0.1311, 0.0566, 0.0181, 0.0003)),
    (16, 12, 0.0384, (0.8334, 0.5501, 0.3698, 0.2018, 0.0170)),
    (16, 9, 0.4018, (0.2839, 0.0744, 0.0271, 0.0070, 0.0001)),
    (16, 13, 0.0106, (0.9349, 0.7541, 0.5950, 0.4019, 0.0684)),
    (16, 11, 0.1051, (0.6712, 0.3402, 0.1897, 0.0817, 0.0033)),
    (50, 32, 0.0325, (0.6644, 0.1406, 0.0287, 0.0025, 0.0000)),
    (100, 59, 0.0443, (0.3775, 0.0072, 0.0001, 0.0000, 0.0000)),
    (10, 9, 0.0107, (0.9536, 0.8507, 0.7560, 0.6242, 0.2639)),
    (25, 18, 0.0216, (0.8464, 0.4882, 0.2735, 0.1091, 0.0023)),
]


@pytest.mark.parametrize(("trials", "criterion", "type_1", "type_2"), LEVENTHAL)
def test_leventhals_error_table(trials: int, criterion: int, type_1: float, type_2: tuple[float, ...]) -> None:
    assert binomial.binomial_test(criterion, trials).p_value == pytest.approx(type_1, abs=5.1e-5)
    for proportion, missed in zip(PROPORTIONS, type_2, strict=True):
        below = binomial.binomial_test(criterion - 1, trials, proportion, "less").p_value
        assert below == pytest.approx(missed, abs=5.1e-5)


@pytest.mark.parametrize(
    ("trials", "criterion", "alpha"), [(16, 12, 0.05), (25, 18, 0.05), (50, 32, 0.05), (100, 59, 0.05)]
)
def test_power_is_what_is_not_missed(trials: int, criterion: int, alpha: float) -> None:
    row = next(row for row in LEVENTHAL if row[:2] == (trials, criterion))
    for proportion, missed in zip(PROPORTIONS, row[3], strict=True):
        found = binomial_power.power(trials, proportion, 0.05)
        assert found.critical == criterion
        assert found.alpha_actual == pytest.approx(row[2], abs=5.1e-5)
        assert found.power == pytest.approx(1 - missed, abs=5.1e-5)


def test_ten_and_twelve_of_sixteen() -> None:
    """A magazine's report on blind tests: 10 of 16 not significant, 12 the .05 criterion (read)."""
    assert binomial.binomial_test(10, 16).p_value == pytest.approx(0.2272, abs=5e-5)
    assert binomial.critical(16, 0.05) == 12


def test_a_twenty_trial_forced_choice() -> None:
    """n 20, pd .5: criterion 15 (.021; .058 at 14), power .617, as a package's handbook prints (read)."""
    found = binomial_power.power(20, 0.75)
    assert (found.critical, round(found.alpha_actual, 3), round(found.power, 3)) == (15, 0.021, 0.617)
    assert round(binomial.binomial_test(14, 20).p_value, 3) == 0.058
    # against a null of pd .1 (chance .55): criterion 16 (.019; .055 at 15), power .415
    assert binomial.critical(20, 0.05, Fraction(55, 100)) == 16
    assert round(binomial_power.power(20, 0.75, 0.05, 0.55).power, 3) == 0.415


def test_thirty_trials_at_unit_sensitivity() -> None:
    """d' 1, forced choice of two, n 30: power .917255217993622; n for power .90 is 30 (read in a package's manual)."""
    statement = binomial_power.state("preference", trials=30, d_prime=1.0)
    one_sided = binomial_power.power(30, statement.proportion)
    assert one_sided.power == pytest.approx(0.917255217993622, abs=1e-9)
    assert binomial_power.sample_size(statement.proportion, 0.90).trials_first == 30


@pytest.mark.parametrize(("trials", "wanted"), [(297, 0.8022), (300, 0.7738), (302, 0.8007), (305, 0.8064)])
def test_the_saw_tooth_of_a_triangle(trials: int, wanted: float) -> None:
    """Triangle at d' .9 (pc .4030): power rises and falls with n (read to three decimals; the fourth computed)."""
    assert binomial_power.power(trials, 0.4030, 0.05, 1 / 3).power == pytest.approx(wanted, abs=6e-4)


# Not tested: P(X <= 58 | 100, 2/3), printed .042, and P(X <= 59), printed .064: the exact values are .04337 and
# .06587, so the print is wrong there.


@pytest.mark.parametrize(
    ("proportion", "wanted", "first", "stable"),
    [
        (0.6, 0.80, 158, 169), (0.7, 0.80, 37, 42), (0.75, 0.80, 23, 28), (0.8, 0.80, 18, 18), (0.9, 0.80, 8, 11),
        (0.6, 0.90, 213, 224), (0.7, 0.90, 53, 58), (0.75, 0.90, 33, 35), (0.8, 0.90, 23, 26), (0.9, 0.90, 11, 13),
    ],
)  # fmt: skip
def test_trials_needed_for_abx(proportion: float, wanted: float, first: int, stable: int) -> None:
    """One-sided at .05 (computed independently, no print seen)."""
    found = binomial_power.sample_size(proportion, wanted)
    assert (found.trials_first, found.trials_stable) == (first, stable)


def test_forced_balance_would_break_the_binomial() -> None:
    """Why every trial has a coin of its own: 16 trials with X = A in exactly 8, and 8 answers A.

    The number right is then 2j with j hypergeometric, and P(>= 12) is .06597, not .0384 (computed).
    """
    from math import comb

    ways = [comb(8, j) ** 2 for j in range(9)]
    for least, wanted in ((12, 0.06597), (14, 0.00505)):
        forced = sum(ways[j] for j in range(9) if 2 * j >= least) / comb(16, 8)
        assert forced == pytest.approx(wanted, abs=5e-6)
        assert forced > 1.5 * binomial.binomial_test(least, 16).p_value


def test_fishers_tea_lady() -> None:
    """8 cups, 4 and 4 known: all right by chance 1/70 (Fisher 1935, memory); a fair coin for each cup gives 1/256."""
    from math import comb

    assert 1 / comb(8, 4) == pytest.approx(0.0142857, abs=5e-8)
    assert binomial.binomial_test(8, 8).p_value == 1 / 256
