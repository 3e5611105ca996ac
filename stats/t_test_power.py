"""Power and sample size of Student's t-test of a mean difference, by the non-central t."""

from __future__ import annotations

from math import isfinite, sqrt

from .errors import StatsError
from .validation import check_alpha, check_trials, check_wanted

MOST_SEARCHED = 5_000


def power(trials: int, effect: float, alpha: float = 0.05, *, two_sided: bool) -> float:
    """The power for a mean difference of `effect` standard deviations; 0 below two trials.

    Raises
    ------
    StatsError
        If a number is out of range.

    >>> round(power(10, 0.8, two_sided=False), 3), round(power(20, 0.8, two_sided=True), 3)
    (0.754, 0.924)
    """
    check_trials(trials)
    check_alpha(alpha)
    if not effect >= 0:
        raise StatsError(f"the effect is 0 or more standard deviations; got {effect!r}")
    if trials < 2:
        return 0.0
    from scipy.special import nctdtr, stdtrit

    freedom, shift = trials - 1, effect * sqrt(trials)
    edge = stdtrit(freedom, 1 - (alpha / 2 if two_sided else alpha))
    above = 1 - nctdtr(freedom, shift, edge) + (nctdtr(freedom, shift, -edge) if two_sided else 0.0)
    if not isfinite(above):  # so far apart that the non-central t cannot be computed
        above = _by_quadrature(freedom, shift, float(edge))
    return float(min(1.0, above))


def sample_size(effect: float, wanted: float = 0.8, alpha: float = 0.05, *, two_sided: bool) -> int:
    """Trials needed for the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 5,000 trials would be needed.

    >>> sample_size(0.8, two_sided=False), sample_size(0.8, two_sided=True)
    (12, 15)
    """
    check_wanted(wanted)
    for trials in range(2, MOST_SEARCHED + 1):
        if power(trials, effect, alpha, two_sided=two_sided) >= wanted:
            return trials
    raise StatsError(f"more than {MOST_SEARCHED} trials would be needed to find a difference of {effect!r}")


def _by_quadrature(freedom: int, shift: float, edge: float) -> float:
    """P(T > edge) as the mean of Φ(shift − edge s) over the distribution of the spread s."""
    import numpy as np
    from scipy.special import chdtri, ndtr

    nodes, weights = np.polynomial.legendre.leggauss(100)
    spreads = np.sqrt(chdtri(freedom, (1 - nodes) / 2) / freedom)
    return float((weights * ndtr(shift - edge * spreads)).sum() / 2)
