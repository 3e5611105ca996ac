"""Rank tests: Friedman with ties (Hollander and Wolfe), Durbin (Conover 1999, p. 391), Kendall's W (Siegel 1956)."""

from __future__ import annotations

import pytest

from stats import rank_tests

# Hollander and Wolfe, rounding first base: 22 players, 3 ways. The first 8 rows read, the rest and results from memory,
# recomputed.
FIRST_BASE = """5.40 5.50 5.55 / 5.85 5.70 5.75 / 5.20 5.60 5.50 / 5.55 5.50 5.40 / 5.90 5.85 5.70 / 5.45 5.55 5.60 /
5.40 5.40 5.35 / 5.45 5.50 5.35 / 5.25 5.15 5.00 / 5.85 5.80 5.70 / 5.25 5.20 5.10 / 5.65 5.55 5.45 / 5.60 5.35 5.45 /
5.05 5.00 4.95 / 5.50 5.50 5.40 / 5.45 5.55 5.50 / 5.55 5.55 5.35 / 5.45 5.50 5.55 / 5.50 5.45 5.25 / 5.65 5.60 5.40 /
5.70 5.65 5.55 / 6.30 6.30 6.25"""


def test_friedman_with_ties() -> None:
    found = rank_tests.friedman([[float(x) for x in row.split()] for row in FIRST_BASE.split("/")])
    assert found.rank_sums == (53, 47, 32)
    assert (found.chi_square, found.freedom) == (pytest.approx(11.1429, abs=1e-4), 2)
    assert found.p_value == pytest.approx(0.003805, abs=1e-6)
    assert found.w == pytest.approx(0.25325, abs=1e-5)


def test_durbin_of_seven_ice_creams() -> None:
    """Read: sums, T1 and p on a package's help page; F 8 and p .005 in another copy."""
    blocks = [[int(c) - 1 for c in block] for block in ["124", "235", "346", "457", "156", "267", "137"]]
    ranks = [[int(c) for c in row] for row in ["231", "312", "213", "123", "312", "312", "312"]]
    found = rank_tests.durbin(blocks, ranks)
    assert found.rank_sums == (8, 9, 4, 3, 5, 6, 7)
    assert (found.chi_square, found.freedom) == (pytest.approx(12), 6)
    assert found.p_value == pytest.approx(0.0619688, abs=5e-8)
    assert (found.f, found.f_freedom) == (pytest.approx(8), (6, 8))
    assert found.f_p_value == pytest.approx(0.004904, abs=5e-7)


def test_kendalls_w_of_three_judges() -> None:
    """From memory, recomputed; the print rounds W to .16."""
    found = rank_tests.kendall_w([[1, 6, 3, 2, 5, 4], [1, 5, 6, 4, 2, 3], [6, 3, 2, 5, 4, 1]])
    assert found.rank_sums == (8, 14, 11, 11, 11, 8)
    assert found.w == pytest.approx(0.1619, abs=5e-5)
    assert (found.chi_square, found.freedom) == (pytest.approx(2.4286, abs=5e-5), 5)
