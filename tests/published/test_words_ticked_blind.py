"""Words ticked blind: Cochran's Q, exact McNemar tests, agreement; each case with its source."""

from __future__ import annotations

import numpy as np
import pytest

from stats.agreement import agreement
from stats.ballot_power import least_differing, pairs_needed
from stats.cochran_q import cochran_q
from stats.holm import holm
from stats.paired_ticks import paired_ticks

# Agresti, Categorical Data Analysis: three drugs, 46 people, 1 favourable; read on a package's page of examples.
DRUGS = {"111": 6, "110": 16, "101": 2, "100": 4, "011": 2, "010": 4, "001": 6, "000": 6}
# Ten people, three designs: read on a course's page, with Q, df and p.
DESIGNS = "101 001 010 011 001 111 001 011 011 011"
# Conover, Practical Nonparametric Statistics: twelve games forecast by three. From memory, recomputed.
FORECASTS = "111 111 010 110 000 111 111 110 001 010 111 111"
# Krippendorff's "C" data, four observers, twelve units; read on the help page of a package for agreement.
OBSERVERS = "11-1 2232 3333 3333 2222 1234 4444 1121 2222 -555 --11 --3-"


def ticked(rows: str) -> list[list[int]]:
    return [[int(tick) for tick in row] for row in rows.split()]


def drugs() -> list[list[int]]:
    return ticked(" ".join(row for row, times in DRUGS.items() for _ in range(times)))


@pytest.mark.parametrize(
    ("rows", "totals", "q", "p_value"),
    [
        (" ".join(" ".join([row] * times) for row, times in DRUGS.items()), (28, 28, 16), 8.470588, 0.014476),
        (DESIGNS, (2, 6, 9), 8.2222, 0.01639),
        (FORECASTS, (8, 10, 7), 2.8, 0.2466),
    ],
)
def test_cochrans_q(rows: str, totals: tuple[int, ...], q: float, p_value: float) -> None:
    found = cochran_q(ticked(rows), np.random.default_rng(1), draws=10)
    assert found.ticks == totals
    assert (found.q, found.freedom) == (pytest.approx(q, abs=5e-5), 2)
    assert found.p_value == pytest.approx(p_value, abs=5e-6 if p_value < 0.1 else 5e-5)


def test_cochrans_q_of_ten_people_by_all_arrangements() -> None:
    """Computed: 19683 arrangements of ticks within rows."""
    found = cochran_q(ticked(DESIGNS), np.random.default_rng(1)).permutation
    assert found.draws is None
    assert found.value == pytest.approx(0.015851, abs=5e-7)


@pytest.mark.parametrize(
    ("rows", "one", "other", "counts", "p_value"),
    [
        ("drugs", 0, 1, (6, 6), 1),
        ("drugs", 0, 2, (20, 8), 0.035698),
        ("drugs", 1, 2, (20, 8), 0.035698),
        (DESIGNS, 0, 1, (1, 5), 0.21875),
        (DESIGNS, 0, 2, (0, 7), 0.015625),
        (DESIGNS, 1, 2, (1, 4), 0.375),
    ],
)
def test_pairs_of_setups_by_the_exact_test(
    rows: str, one: int, other: int, counts: tuple[int, int], p_value: float
) -> None:
    """Counted from the data above; p computed."""
    table = drugs() if rows == "drugs" else ticked(rows)
    first_only = sum(row[one] > row[other] for row in table)
    second_only = sum(row[one] < row[other] for row in table)
    assert (first_only, second_only) == counts
    assert paired_ticks(first_only, second_only, len(table)).p_value == pytest.approx(p_value, abs=5e-7)


def test_the_three_drugs_after_holm() -> None:
    """Computed: none of the three pairs holds at 5 % once all are asked for, though two would alone."""
    p_values = [paired_ticks(*counts, 46).p_value for counts in [(6, 6), (20, 8), (20, 8)]]
    assert holm(p_values) == pytest.approx([1, 0.1071, 0.1071], abs=5e-5)


def test_approval_of_a_prime_minister() -> None:
    """Agresti: 794, 150, 86, 570, data and z read; the exact p computed. Two setups: Q is McNemar's statistic."""
    assert paired_ticks(150, 86, 1600).p_value == pytest.approx(3.7159e-5, abs=5e-10)
    table = [[1, 1]] * 794 + [[1, 0]] * 150 + [[0, 1]] * 86 + [[0, 0]] * 570
    found = cochran_q(table, np.random.default_rng(1), draws=1)
    assert (found.q, found.freedom) == (pytest.approx(17.3559, abs=5e-5), 1)
    assert found.p_value == pytest.approx(3.099e-5, abs=5e-9)


@pytest.mark.parametrize(
    ("fewer", "more", "p_value", "mid_p"),
    [
        (1, 8, 0.0390625, 0.0214844),
        (2, 10, 0.0385742, 0.0224609),
        (0, 6, 0.03125, 0.015625),
        (3, 9, 0.1459961, 0.0922852),
        (4, 12, 0.0768127, 0.0490417),
    ],
)
def test_the_sign_test_and_its_mid_p(fewer: int, more: int, p_value: float, mid_p: float) -> None:
    """Computed; no print seen."""
    for counts in [(fewer, more), (more, fewer)]:
        found = paired_ticks(*counts, 30)
        assert (found.p_value, found.mid_p) == (pytest.approx(p_value, abs=5e-8), pytest.approx(mid_p, abs=5e-8))


@pytest.mark.parametrize(
    ("differing", "largest"),
    [(6, 0), (8, 0), (9, 1), (10, 1), (12, 2), (15, 3), (17, 4), (20, 5), (25, 7)],
)
def test_critical_values_of_the_sign_test(differing: int, largest: int) -> None:
    """Triola, Elementary Statistics, table A-7, two tails .05: read in a copy of the table."""
    p_values = [paired_ticks(count, differing - count, 30).p_value for count in range(differing // 2 + 1)]
    assert max(count for count, p_value in enumerate(p_values) if p_value <= 0.05) == largest


def test_five_pairs_that_differ_can_show_nothing() -> None:
    """The same table begins at six for two tails; computed for Bonferroni's .05/20 and .05/40."""
    assert paired_ticks(5, 0, 5).p_value == 0.0625
    assert [least_differing(words) for words in (1, 20, 40)] == [6, 10, 11]


@pytest.mark.parametrize(
    ("first_only", "alone", "of_twenty"), [(0.6, 22, 39), (0.5, 30, 54), (0.4, 46, 82), (0.3, 84, 151)]
)
def test_pairs_needed_for_four_in_five(first_only: float, alone: int, of_twenty: int) -> None:
    """Computed beforehand by others, apart from this code; no print."""
    assert pairs_needed(first_only, 0.1) == alone
    assert pairs_needed(first_only, 0.1, words=20) == of_twenty


@pytest.mark.parametrize(
    ("scale", "alpha"), [("nominal", 0.7434), ("ordinal", 0.8154), ("interval", 0.8491), ("ratio", 0.7974)]
)
def test_krippendorffs_c_data(scale: str, alpha: float) -> None:
    """Data read; .743, .815, .849, .797 from memory, with four digits computed again."""
    answers = [[None if mark == "-" else int(mark) for mark in unit] for unit in OBSERVERS.split()]
    found = agreement(answers, scale)
    assert found.alpha == pytest.approx(alpha, abs=5e-5)
    assert (found.units, found.answers) == (11, 40)
