"""Similarity: the tables of ISO 5495 and ISO 4120, by the rule and through the exact upper bound of what a miss allows.

Both standards claim similarity for at most x right of n when P(X <= x | n, p0 + pd (1 - p0)) <= beta; that is the same
as an upper bound of the true share, at confidence 1 - beta, of at most pd. read: ISO 5495 Table A.3; computed: ISO 4120
Table A.2, from its rule (memory). Left out: the rows for beta .001, where the print has 64/70/77 for n 126 and 67/74/81
for n 132 and the exact values are 64/71/78 and 68/75/82; and the limit in closed form in the note to Table A.3, an
approximation that is off by one in several cells.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from stats import binomial_power, largest_difference, similarity

SHARES = (0.1, 0.2, 0.3, 0.4, 0.5)
# chance, n, beta, largest number right for each share pd; None: no such number at or above chance
ROWS = [
    (Fraction(1, 2), 126, 0.05, (None, 66, 72, 79, 85)),  # read, as the five below
    (Fraction(1, 2), 126, 0.10, (None, 68, 74, 81, 87)),
    (Fraction(1, 2), 126, 0.20, (64, 70, 76, 83, 89)),
    (Fraction(1, 2), 132, 0.01, (None, 65, 72, 79, 86)),
    (Fraction(1, 2), 132, 0.05, (None, 69, 76, 83, 90)),
    (Fraction(1, 2), 132, 0.10, (None, 71, 78, 85, 92)),
    (Fraction(1, 2), 132, 0.20, (67, 73, 80, 87, 94)),
    (Fraction(1, 3), 30, 0.05, (None, None, 11, 13, 15)),  # computed, as those below
    (Fraction(1, 3), 30, 0.10, (None, 10, 11, 14, 16)),
    (Fraction(1, 3), 60, 0.05, (None, 21, 25, 29, 33)),
    (Fraction(1, 3), 60, 0.20, (20, 24, 28, 32, 36)),
    (Fraction(1, 3), 66, 0.05, (None, 23, 28, 32, 37)),
    (Fraction(1, 3), 96, 0.05, (None, 36, 42, 49, 55)),
]
EVERY = [(*row[:3], pd, x) for row in ROWS for pd, x in zip(SHARES, row[3], strict=True)]
CELLS = [cell for cell in EVERY if cell[-1] is not None]


@pytest.mark.parametrize(("chance", "trials", "beta", "pd", "most"), CELLS)
def test_the_largest_number_right_that_still_shows_similarity(
    chance: Fraction, trials: int, beta: float, pd: float, most: int
) -> None:
    assert largest_difference.largest_difference(most, trials, 1 - beta, float(chance)) <= pd
    assert largest_difference.largest_difference(most + 1, trials, 1 - beta, float(chance)) > pd


@pytest.mark.parametrize(("chance", "trials", "beta", "pd", "most"), EVERY)
def test_the_rule_gives_every_cell(chance: Fraction, trials: int, beta: float, pd: float, most: int | None) -> None:
    if most is not None and most < trials * chance:  # one cell prints 65 of 132, below the 66 of mere guessing
        assert (trials, beta, pd, most) == (132, 0.01, 0.2, 65)
        assert similarity.p_value(65, trials, pd) <= beta < similarity.p_value(66, trials, pd)
        assert similarity.critical(trials, pd, beta, chance) is None
        return
    assert similarity.critical(trials, pd, beta, chance) == most
    if most is not None:
        assert similarity.ruled_out(most, trials, pd, beta, chance)
        assert not similarity.ruled_out(most + 1, trials, pd, beta, chance)


def test_the_slips_of_the_print_are_slips() -> None:
    """Beta .001, pd 30, 40 and 50 %: computed, not those printed."""
    for trials, exact in ((126, (64, 71, 78)), (132, (68, 75, 82))):
        assert tuple(similarity.critical(trials, pd, 0.001) for pd in (0.3, 0.4, 0.5)) == exact


# A similarity test is the mirrored test of "fewer right": proportion and chance turned round. read in a sensory
# statistics package: power to three places, or to nine.
@pytest.mark.parametrize(
    ("chance", "pd_limit", "pd_true", "wanted", "within"),
    [(0.5, 1 / 3, 0.0, 0.956, 5e-4), (0.5, 1 / 3, 0.2, 0.377, 6e-4), (1 / 3, 0.2, 0.1, 0.306809762270984, 1e-9)],
)
def test_power_to_show_similarity(chance: float, pd_limit: float, pd_true: float, wanted: float, within: float) -> None:
    limit, true = chance + pd_limit * (1 - chance), chance + pd_true * (1 - chance)
    assert binomial_power.power(100, 1 - true, 0.05, 1 - limit).power == pytest.approx(wanted, abs=within)


def test_trials_to_show_similarity() -> None:
    """pd true .1, pd limit .2, chance 1/2, power .80: 604 (read)."""
    assert binomial_power.sample_size(1 - 0.55, 0.80, 0.05, 1 - 0.6).trials_first == 604
