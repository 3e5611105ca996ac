"""Circular triads: Kendall and Babington Smith, Biometrika 31 (1940). Tables up to n = 6 from memory of theirs, all by
full enumeration; the greatest number for odd n was read.
"""

from __future__ import annotations

from itertools import combinations, product

import pytest

from stats import circular_triads

TABLES = {
    3: (6, 2),
    4: (24, 16, 24),
    5: (120, 120, 240, 240, 280, 24),
    6: (720, 960, 2240, 2880, 6240, 3648, 8640, 4800, 2640),
    7: (5040, 8400, 21840, 33600, 75600, 90384, 179760, 188160, 277200, 280560, 384048, 244160, 233520, 72240, 2640),
}


@pytest.mark.parametrize("n", TABLES)
def test_how_many_tables_have_each_number_of_circles(n: int) -> None:
    assert circular_triads.distribution(n) == TABLES[n]
    assert circular_triads.most(n) == len(TABLES[n]) - 1


@pytest.mark.parametrize(("n", "circles", "wanted"), [(6, 0, 0.0220), (6, 1, 0.0513), (7, 3, 0.0328)])
def test_how_likely_so_few_circles_are(n: int, circles: int, wanted: float) -> None:
    assert circular_triads.chance_of_at_most(circles, n) == pytest.approx(wanted, abs=5e-5)


@pytest.mark.parametrize(
    ("scores", "circles"),
    [
        ([5, 4, 3, 2, 1, 0], 0),
        ([5, 3, 3, 2, 1, 1], 3),
        ([4, 3, 3, 2, 2, 1], 6),
        ([3, 3, 3, 2, 2, 2], 8),
        ([2, 2, 2, 2, 2], 5),
    ],
)
def test_circles_from_scores(scores: list[int], circles: int) -> None:
    assert circular_triads.circles_of(scores) == circles


@pytest.mark.parametrize(
    ("n", "circles", "wanted"), [(6, 3, 0.625), (6, 5, 0.375), (5, 2, 0.6), (7, 4, 0.7143), (4, 1, 0.5), (3, 1, 0)]
)
def test_consistency(n: int, circles: int, wanted: float) -> None:
    assert 1 - circles / circular_triads.most(n) == pytest.approx(wanted, abs=5e-5)


def test_circles_are_counted_as_they_are_defined() -> None:
    """Every table of four setups, its circles counted triple by triple."""
    pairs = list(combinations(range(4), 2))
    for outcome in product((0, 1), repeat=len(pairs)):
        table = [[0] * 4 for _ in range(4)]
        for (i, j), first in zip(pairs, outcome, strict=True):
            table[i][j], table[j][i] = first, 1 - first
        circles = sum(
            {table[a][b] + table[a][c], table[b][a] + table[b][c], table[c][a] + table[c][b]} == {1}
            for a, b, c in combinations(range(4), 3)
        )
        assert circular_triads.circular_triads(table).circles == circles


def test_agreement_at_its_ends() -> None:
    """u is 1 for full agreement, and −1/(m−1) where an even number of judges is split in every pair (from memory)."""
    assert circular_triads.agreement([[0, 4, 4], [0, 0, 4], [0, 0, 0]]).u == 1
    split = circular_triads.agreement([[0, 2, 2], [2, 0, 2], [2, 2, 0]])
    assert split.u == pytest.approx(-1 / 3)
    assert split.least == pytest.approx(-1 / 3)
    odd = circular_triads.agreement([[0, 2, 1], [1, 0, 2], [2, 1, 0]])
    assert odd.u == pytest.approx(-1 / 3)
    assert odd.least == pytest.approx(-1 / 3)
