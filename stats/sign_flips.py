"""The exact test that paired differences have no direction: each was as likely to have the other sign.

Whoever cannot tell two stimuli apart grades them somehow; which of the two grades belongs to which stimulus was decided
by a fair draw. So the differences' sizes are given, and their signs are fair coins: nothing is assumed of the grades'
distribution (Fisher, The Design of Experiments, 1935, section 21; Pitman, J. R. Stat. Soc. Suppl. 4, 1937; both from
memory). The statistic is the sum of the differences, in whole steps of the scale.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .errors import StatsError

MOST_STEPS = 1_000_000_000  # additions, a second or two; beyond, by the Fourier transform
FOURIER_ERROR = 1e-12  # more than its rounding comes to; added to p, so that p is never too small
MOST_REACH = 50_000_000  # steps in all, for memory's sake


def one_sided_p(differences: Sequence[float], decimals: int = 1) -> float:
    """P(Σ ±|d| ≤ Σ d): how likely fair signs give so low a sum, or a lower one.

    Parameters
    ----------
    differences
        One a trial; 0 where the two were graded alike.
    decimals
        How many decimals a difference has at most.

    Raises
    ------
    StatsError
        If a difference is not a number or has more decimals, or all together are too large to be gone through.

    Examples
    --------
    >>> one_sided_p([-1.0, -0.5, -0.4, -0.2, -0.1])
    0.03125

    So five differences all below 0 are one case in 32.
    """
    return _lower_tail(_whole_steps(differences, decimals))


def two_sided_p(differences: Sequence[float], decimals: int = 1) -> float:
    """P(|Σ ±|d|| ≥ |Σ d|): how likely fair signs give a sum so far from 0 to either side.

    Parameters and errors are those of `one_sided_p`.

    Examples
    --------
    >>> two_sided_p([30, 20, 10, -5])
    0.25

    So the sum is 55: all four signs alike, or only the 5 against the others, to either side; four cases in 16.
    """
    steps = _whole_steps(differences, decimals)
    return min(1.0, 2 * _lower_tail(steps if steps.sum() <= 0 else -steps))


def _whole_steps(differences: Sequence[float], decimals: int) -> np.ndarray:
    """The differences that are not 0 as whole numbers, without the divisor that they have in common."""
    values = np.asarray(list(differences), float)
    if not np.isfinite(values).all():
        raise StatsError("every difference grade must be a number")
    steps = values * 10**decimals
    whole = np.rint(steps).astype(np.int64)
    if (np.abs(steps - whole) > 1e-6).any():
        raise StatsError(f"a difference grade has more than {decimals} decimals")
    whole = whole[whole != 0]
    common: np.ndarray = whole // max(1, int(np.gcd.reduce(whole)) if len(whole) else 1)
    return common


def _lower_tail(steps: np.ndarray) -> float:
    total, sizes = int(steps.sum()), np.sort(np.abs(steps))
    reach = int(sizes.sum())
    if reach > MOST_REACH:
        raise StatsError(
            f"{len(sizes)} differences of {reach} steps in all are too many for the exact test; test fewer at a time"
        )
    if len(sizes) * reach > MOST_STEPS:
        return _tail_by_fourier(sizes, total, reach)
    chances = np.ones(1)  # of the sums from the least to the greatest, which lie two steps apart
    for size in sizes.tolist():
        moved = np.zeros(len(chances) + size)
        moved[size:] = chances / 2
        moved[: len(chances)] += chances / 2
        chances = moved
    return float(min(1.0, chances[: (total + reach) // 2 + 1].sum()))


def _tail_by_fourier(sizes: np.ndarray, total: int, reach: int) -> float:
    """The same from the sum's characteristic function, the product of the cosines of each size."""
    from scipy.fft import irfft, next_fast_len

    number = next_fast_len(2 * reach + 1, real=True)
    angles = 2 * np.pi / number * np.arange(number // 2 + 1)
    product = np.ones(len(angles))
    for size, times in zip(*np.unique(sizes, return_counts=True), strict=True):
        product *= np.cos(size * angles) ** times
    chances = irfft(product, number)  # of the sums 0, 1, …, and from the end −1, −2, …
    below = chances[number - reach :].sum() if total >= 0 else chances[number - reach : number + total + 1].sum()
    found = below + (chances[: total + 1].sum() if total >= 0 else 0.0)
    return float(min(1.0, max(0.0, found) + FOURIER_ERROR))
