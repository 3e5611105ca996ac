"""Bradley-Terry fits: Agresti's baseball (Categorical Data Analysis, 2nd ed., p. 438) and Stigler's journal citations.

Data read in the data files of a general statistics package; published estimates read in its tests, standard errors and
the citations' estimates from memory of its vignette; all recomputed.
"""

from __future__ import annotations

from math import exp

import pytest
from scipy.stats import chi2

from stats.bradley_terry import Abilities, Comparison, fit

TEAMS = ("Bal", "Bos", "Cle", "Det", "Mil", "NY", "Tor")
HOME = """Mil: Det 4-3, Tor 4-2, NY 4-3, Bos 6-1, Cle 4-2, Bal 6-0; Det: Mil 3-3, Tor 4-2, NY 4-3, Bos 6-0, Cle 6-1,
Bal 4-3; Tor: Mil 2-5, Det 4-3, NY 2-4, Bos 4-3, Cle 4-2, Bal 6-0; NY: Mil 3-3, Det 5-1, Tor 2-5, Bos 4-3, Cle 4-2,
Bal 6-1; Bos: Mil 5-1, Det 2-5, Tor 3-3, NY 4-2, Cle 5-2, Bal 6-0; Cle: Mil 2-5, Det 3-3, Tor 3-4, NY 4-3, Bos 4-2,
Bal 2-4; Bal: Mil 2-5, Det 1-5, Tor 1-6, NY 2-4, Bos 1-6, Cle 3-4"""
ABILITIES = (0, 1.1077, 0.6839, 1.4364, 1.5814, 1.2476, 1.2945)
SHARES = (0.0450, 0.1363, 0.0892, 0.1894, 0.2189, 0.1568, 0.1643)
ERRORS = (0, 0.3339, 0.3319, 0.3396, 0.3433, 0.3359, 0.3367)


def games() -> list[Comparison]:
    """The 42 rows: home team, visitor, home wins and away wins."""
    rows = []
    for part in HOME.replace("\n", " ").split(";"):
        home, visits = part.split(":")
        for visit in visits.split(","):
            visitor, score = visit.split()
            won, lost = map(int, score.split("-"))
            rows.append(Comparison(TEAMS.index(home.strip()), TEAMS.index(visitor), won, lost))
    return rows


def pooled() -> list[Comparison]:
    """The 21 pairs, home and away together."""
    pairs: dict[tuple[int, int], list[float]] = {}
    for row in games():
        low, high = sorted((row.first, row.second))
        cell = pairs.setdefault((low, high), [0, 0])
        cell[row.first != low] += row.wins_first
        cell[row.first == low] += row.wins_second
    return [Comparison(i, j, *cell) for (i, j), cell in pairs.items()]


@pytest.fixture(scope="module")
def baseball() -> Abilities:
    return fit(pooled())


def test_the_season_has_273_games() -> None:
    assert sum(row.wins_first + row.wins_second for row in games()) == 273


def test_baseball_abilities_shares_and_errors(baseball: Abilities) -> None:
    assert baseball.abilities == pytest.approx(ABILITIES, abs=1e-4)
    assert baseball.shares == pytest.approx(SHARES, abs=1e-4)
    assert baseball.errors == pytest.approx(ERRORS, abs=1e-4)


def test_baseball_fit(baseball: Abilities) -> None:
    """G² 15.74 from memory of the print, 15.737 and its p computed; .46 from memory of the print."""
    assert (baseball.deviance, baseball.freedom) == (pytest.approx(15.737, abs=5e-4), 15)
    assert chi2.sf(baseball.deviance, baseball.freedom) == pytest.approx(0.400, abs=5e-4)
    boston_over_new_york = 1 / (1 + exp(baseball.abilities[5] - baseball.abilities[1]))
    assert boston_over_new_york == pytest.approx(0.46508, abs=1e-4)


def test_the_home_effect() -> None:
    without, with_home = fit(games()), fit(games(), order_effect=True)
    assert (without.deviance, without.freedom) == (pytest.approx(44.053, abs=1e-3), 36)
    assert (with_home.deviance, with_home.freedom) == (pytest.approx(38.643, abs=1e-3), 35)
    assert with_home.order == pytest.approx(0.302, abs=5e-4)
    assert 2 * (with_home.log_likelihood - without.log_likelihood) == pytest.approx(5.411, abs=1e-3)
    assert with_home.order_ratio == pytest.approx(5.411, abs=1e-3)
    assert with_home.order_p == pytest.approx(chi2.sf(5.411, 1), abs=2e-5)
    assert (without.order_ratio, without.order_p) == (None, None)
    assert with_home.shares == pytest.approx((0.044, 0.137, 0.088, 0.190, 0.220, 0.157, 0.164), abs=5e-4)


def test_journal_citations() -> None:
    """Rows cited, columns citing; being cited is the choice."""
    table = ((0, 730, 498, 221), (33, 0, 68, 17), (320, 813, 0, 142), (284, 276, 325, 0))
    found = fit([Comparison(i, j, table[i][j], table[j][i]) for i in range(4) for j in range(i + 1, 4)])
    assert found.abilities == pytest.approx((0, -2.94907, -0.47957, 0.26895), abs=1e-5)
    assert found.errors == pytest.approx((0, 0.10255, 0.06059, 0.07083), abs=1e-5)
