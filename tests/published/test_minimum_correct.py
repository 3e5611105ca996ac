"""Minimum correct answers: ISO 4120, ISO 10399, ISO 5495 and the FAO manual's table, against the exact criterion.

Marks: read = the print was read; computed = computed independently from the rule, no print seen; memory = the rule or
figure is quoted from memory of the source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from stats import binomial, binomial_power

ALPHAS = (0.20, 0.10, 0.05, 0.01, 0.001)

# Triangle test, chance 1/3. FAO, Laboratory manual, appendix A (read) for .10 to .001; .20 computed; the columns are
# those of ISO 4120:2004 Table A.1 (memory). None: no count reaches alpha; "": not in the table.
TRIANGLE = {
    3: ("", 3, 3, None, None),
    5: ("", 4, 4, 5, None),
    6: (4, 5, 5, 6, None),
    8: (5, 5, 6, 7, 8),
    10: (6, 6, 7, 8, 9),
    12: (6, 7, 8, 9, 10),
    15: (8, 8, 9, 10, 12),
    18: (9, 10, 10, 12, 13),
    20: (9, 10, 11, 13, 14),
    24: (11, 12, 13, 15, 16),
    30: (13, 14, 15, 17, 19),
    36: (15, 17, 18, 20, 22),
    48: (20, 21, 22, 25, 27),
    60: (24, 26, 27, 30, 33),
    72: (28, 30, 32, 34, 38),
    96: (37, 39, 41, 44, 48),
}

# Duo-trio (ISO 10399 Table A.1, read in a national print) = paired one-sided (ISO 5495:2005 Table A.1, read) = ABX,
# chance 1/2. The print of ISO 10399 has 13/14/15/17/19 for n = 22; the exact values are 14/15/16/17/19, as ISO 5495
# prints: that row of the print is left out, and P(X >= 15 | 22) = .0669 shows why.
ONE_SIDED = {
    6: (5, 6, 6, None, None),
    8: (6, 7, 7, 8, None),
    10: (7, 8, 9, 10, 10),
    12: (8, 9, 10, 11, 12),
    15: (10, 11, 12, 13, 14),
    16: (11, 12, 12, 14, 15),
    20: (13, 14, 15, 16, 18),
    24: (15, 16, 17, 19, 20),
    30: (18, 20, 20, 22, 24),
    36: (22, 23, 24, 26, 28),
    40: (24, 25, 26, 28, 31),
    48: (28, 29, 31, 33, 36),
    60: (34, 36, 37, 40, 43),
    64: (36, 38, 40, 42, 45),
    88: (49, 51, 53, 56, 59),
}

# Paired, two-sided: the larger of the two counts. ISO 5495 Table A.2 was not readable: computed from its rule (memory).
TWO_SIDED = {
    6: (6, 6, 6, None, None),
    8: (7, 7, 8, 8, None),
    10: (8, 9, 9, 10, None),
    12: (9, 10, 10, 11, 12),
    16: (12, 12, 13, 14, 15),
    20: (14, 15, 15, 17, 18),
    24: (16, 17, 18, 19, 21),
    30: (20, 20, 21, 23, 25),
    40: (25, 26, 27, 29, 31),
    44: (27, 28, 29, 31, 34),
    60: (36, 37, 39, 41, 44),
    100: (57, 59, 61, 64, 67),
}


def cells(table: dict[int, tuple[object, ...]]) -> list[tuple[int, float, object]]:
    return [(n, alpha, x) for n, row in table.items() for alpha, x in zip(ALPHAS, row, strict=True) if x != ""]


@pytest.mark.parametrize(("trials", "alpha", "wanted"), cells(TRIANGLE))
def test_triangle(trials: int, alpha: float, wanted: int | None) -> None:
    assert binomial.critical(trials, alpha, Fraction(1, 3)) == wanted


@pytest.mark.parametrize(("trials", "alpha", "wanted"), cells(ONE_SIDED))
def test_duo_trio_and_paired_one_sided(trials: int, alpha: float, wanted: int | None) -> None:
    assert binomial.critical(trials, alpha) == wanted


@pytest.mark.parametrize(("trials", "alpha", "wanted"), cells(TWO_SIDED))
def test_paired_two_sided(trials: int, alpha: float, wanted: int | None) -> None:
    assert binomial.critical(trials, alpha, alternative="two-sided") == wanted


def test_the_misprinted_row_is_not_what_the_test_gives() -> None:
    assert [binomial.critical(22, alpha) for alpha in ALPHAS] == [14, 15, 16, 17, 19]
    assert binomial.binomial_test(15, 22).p_value == pytest.approx(0.0669, abs=5e-5)


def test_hollander_and_wolfes_triangle_of_fifty() -> None:
    """Byer and Abrams 1953 in Hollander and Wolfe, example 2.2: 25 of 50 (data read; p and criterion computed)."""
    assert binomial.binomial_test(25, 50, Fraction(1, 3)).p_value == pytest.approx(0.010827, abs=5e-7)
    assert binomial.critical(50, 0.05, Fraction(1, 3)) == 23
    assert binomial_power.power(50, 0.5, 0.05, 1 / 3).alpha_actual == pytest.approx(0.04239, abs=5e-6)


# ISO 5495:2005/Amd 1:2016, clause B.5.2 (read): the printed pd and sd are of a closed form we do not use; the exact p
# and criterion of the same counts are computed.
@pytest.mark.parametrize(
    ("correct", "trials", "alternative", "p_value", "criterion"),
    [(21, 30, "greater", 0.02139, 20), (32, 44, "two-sided", 0.003658, 29)],
)
def test_iso_5495_worked_examples(
    correct: int, trials: int, alternative: binomial.Alternative, p_value: float, criterion: int
) -> None:
    assert binomial.binomial_test(correct, trials, alternative=alternative).p_value == pytest.approx(p_value, rel=5e-4)
    assert binomial.critical(trials, 0.05, alternative=alternative) == criterion


# Smallest n reaching the power, and the one from which it never drops again; alpha .05. First figures of chance 1/3 as
# in ISO 4120 Table A.3 (memory), the rest computed; 23 and 28 (chance 1/2, pd 50 %, power .80) are printed in the
# manual of a general sensory statistics package (read).
SAMPLE_SIZES = [
    (Fraction(1, 3), 0.5, 0.80, 16, 16),
    (Fraction(1, 3), 0.5, 0.90, 20, 22),
    (Fraction(1, 3), 0.5, 0.95, 23, 29),
    (Fraction(1, 3), 0.4, 0.80, 23, 25),
    (Fraction(1, 3), 0.4, 0.90, 30, 34),
    (Fraction(1, 3), 0.4, 0.95, 40, 42),
    (Fraction(1, 3), 0.3, 0.80, 40, 42),
    (Fraction(1, 3), 0.3, 0.90, 53, 57),
    (Fraction(1, 3), 0.3, 0.95, 66, 73),
    (Fraction(1, 3), 0.2, 0.80, 87, 94),
    (Fraction(1, 3), 0.2, 0.90, 117, 124),
    (Fraction(1, 3), 0.2, 0.95, 147, 154),
    (Fraction(1, 2), 0.5, 0.80, 23, 28),
    (Fraction(1, 2), 0.5, 0.90, 33, 35),
    (Fraction(1, 2), 0.5, 0.95, 42, 44),
    (Fraction(1, 2), 0.4, 0.80, 37, 42),
    (Fraction(1, 2), 0.4, 0.90, 53, 58),
    (Fraction(1, 2), 0.4, 0.95, 67, 69),
    (Fraction(1, 2), 0.3, 0.80, 69, 76),
    (Fraction(1, 2), 0.3, 0.90, 93, 102),
    (Fraction(1, 2), 0.3, 0.95, 119, 126),
]


@pytest.mark.parametrize(("chance", "pd", "wanted", "first", "stable"), SAMPLE_SIZES)
def test_sample_sizes(chance: Fraction, pd: float, wanted: float, first: int, stable: int) -> None:
    proportion = float(chance) + pd * (1 - float(chance))
    found = binomial_power.sample_size(proportion, wanted, 0.05, float(chance))
    assert (found.trials_first, found.trials_stable) == (first, stable)


def test_the_power_of_66_triangles() -> None:
    """pd 30 %, n 66: criterion 29, power .95073 (computed; n as ISO 4120 Table A.3, memory)."""
    found = binomial_power.power(66, 1 / 3 + 0.3 * 2 / 3, 0.05, 1 / 3)
    assert (found.critical, round(found.power, 5)) == (29, 0.95073)
