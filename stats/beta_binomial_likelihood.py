"""The log-likelihood of the beta-binomial, plain or corrected for chance, and its maximum; for `beta_binomial`.

On the closed square of both parameters, so that its edges (nobody hears it, everybody does, all are alike) need no
special care.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import lgamma, log, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

GRID = 16  # points in each direction, evenly in the angle whose squared sine is the parameter
AT_ONCE = 500_000  # numbers in one array, so that memory stays small
ZOOMS = 6  # of the profile's grid, each eight times finer
LEAST = -1e300  # instead of minus infinity, which cannot be subtracted from itself
INNER = 1e-6  # the search keeps this far (in that angle) from the edges; the edges themselves are for the caller to try


class Likelihood:
    """The log-likelihood of μ and γ with its slopes; all trials of all listeners, equal counts taken together."""

    def __init__(self, correct: Sequence[int], trials: Sequence[int], chance: float, corrected: bool) -> None:
        counts = Counter((int(x), int(n)) for x, n in zip(correct, trials, strict=True))
        heard: list[NDArray[np.int64]] = []
        missed: list[NDArray[np.int64]] = []
        constant: list[NDArray[np.float64]] = []
        logs = np.array([lgamma(k + 1) for k in range(max(trials) + 1)])
        for x, n in counts:
            true = np.arange(x + 1) if corrected else np.array([x])
            ways = np.full(true.shape, logs[n] - logs[n - x] - logs[x])
            if corrected:
                ways += logs[x] - logs[true] - logs[x - true]
                ways += (x - true) * log(chance) + (n - x + true) * log(1 - chance)
            heard.append(true)
            missed.append(np.full(true.shape, n - x))
            constant.append(ways)
        self.starts = np.cumsum([0] + [len(part) for part in heard[:-1]])
        self.lengths = np.array([len(part) for part in heard])
        self.heard, self.missed, self.constant = (np.concatenate(part) for part in (heard, missed, constant))
        self.some_heard, self.some_missed = self.heard > 0, self.missed > 0
        self.both = self.some_heard & self.some_missed
        self.weights = np.array(list(counts.values()), dtype=float)
        self.steps = np.arange(1.0, max(trials) + 1)

    def value(self, mu: float, gamma: float) -> float:
        """The log-likelihood, minus infinity where the counts are impossible."""
        return float(self.values(np.array([mu]), np.array([gamma]))[0])

    def values(self, mu: NDArray[np.float64], gamma: NDArray[np.float64]) -> NDArray[np.float64]:
        """The log-likelihoods at several points; shapes (points,)."""
        chunks = min(mu.size, 1 + mu.size * self.constant.size // AT_ONCE)
        with np.errstate(divide="ignore", invalid="ignore"):
            parts = zip(np.array_split(mu, chunks), np.array_split(gamma, chunks), strict=True)
            return np.concatenate([self._sums(some[:, None], others[:, None])[0] for some, others in parts])

    def slopes(self, mu: float, gamma: float) -> tuple[float, float, float]:
        """The log-likelihood and its slopes by μ and γ, strictly inside the square."""
        i, m, steps = self.heard, self.missed, self.steps
        at = np.array([[mu]]), np.array([[gamma]])
        (value,), (share,) = self._sums(*at)
        up, down, whole = (factors[0] for factors in self._factors(*at))
        by_mu = _summed((1 - gamma) / up)[i] - _summed((1 - gamma) / down)[m]
        by_mu += self.some_heard / mu - self.some_missed / (1 - mu)
        by_gamma = _summed((steps - mu) / up)[i] + _summed((steps - 1 + mu) / down)[m]
        by_gamma -= _summed((steps - 1) / whole)[i + m] + self.both / (1 - gamma)
        return float(value), float(share @ by_mu), float(share @ by_gamma)

    def _sums(
        self, mu: NDArray[np.float64], gamma: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The log-likelihoods (points,), and the weight of each term in their slopes (points, terms).

        The beta functions are products of rising factors, a(a+1)(a+2)... times γ/(1−γ) each, so that they are exact at
        γ = 0 and γ = 1 too; the first factors (μ, 1−μ, 1−γ) are kept apart, since only they can be 0 at γ = 1.
        """
        up, down, whole = (_summed(np.log(factors)) for factors in self._factors(mu, gamma))
        term = self.constant + up[:, self.heard] + down[:, self.missed] - whole[:, self.heard + self.missed]
        for there, factor in ((self.some_heard, mu), (self.some_missed, 1 - mu), (self.both, 1 - gamma)):
            term += np.where(there, np.log(factor), 0.0)
        peak = np.maximum.reduceat(term, self.starts, axis=1)
        parts = np.exp(term - np.repeat(np.maximum(peak, LEAST), self.lengths, axis=1))
        sums = np.add.reduceat(parts, self.starts, axis=1)
        return (peak + np.log(sums)) @ self.weights, parts * np.repeat(self.weights / sums, self.lengths, axis=1)

    def _factors(self, mu: NDArray[np.float64], gamma: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """The second, third, ... rising factors of the shares heard, missed, and of both."""
        rising = self.steps * gamma
        return mu * (1 - gamma) + rising, (1 - mu) * (1 - gamma) + rising, 1 - gamma + rising

    def maximum(self) -> tuple[float, float, float]:
        """The best μ and γ inside the square, and the log-likelihood there."""
        from scipy.optimize import minimize

        def fall(angles: Sequence[float]) -> tuple[float, list[float]]:
            value, by_mu, by_gamma = self.slopes(sin(angles[0]) ** 2, sin(angles[1]) ** 2)
            return -value, [-by_mu * sin(2 * angles[0]), -by_gamma * sin(2 * angles[1])]

        grid = (np.arange(GRID) + 0.5) * pi / 2 / GRID
        starts = np.array(np.meshgrid(grid, grid)).reshape(2, -1)
        start = starts[:, np.argmax(self.values(*np.sin(starts) ** 2))]
        bounds = [(INNER, pi / 2 - INNER)] * 2
        options = {"ftol": 1e-15, "gtol": 1e-9}
        end = minimize(fall, start, jac=True, bounds=bounds, options=options)
        return float(sin(end.x[0]) ** 2), float(sin(end.x[1]) ** 2), -float(end.fun)

    def profile(self, mu: float) -> float:
        """The best log-likelihood at this μ, over all γ: a grid, and ever finer ones around its best point."""
        angles = np.linspace(0, pi / 2, GRID + 1)
        for _ in range(ZOOMS):
            values = self.values(np.full(angles.shape, mu), np.sin(angles) ** 2)
            best = int(np.argmax(values))
            angles = np.linspace(angles[max(best - 1, 0)], angles[min(best + 1, len(angles) - 1)], GRID + 1)
        return float(values[best])

    def standard_errors(self, mu: float, gamma: float) -> tuple[float | None, float | None]:
        """From the matrix of second derivatives (differences of the slopes); None on an edge or where it is flat."""
        step = 1e-4 * min(mu, 1 - mu, gamma, 1 - gamma)
        if step <= 0:
            return None, None
        by = (
            [self.slopes(mu + s, gamma)[1:] for s in (step, -step)],
            [self.slopes(mu, gamma + s)[1:] for s in (step, -step)],
        )
        (mm, mg), (gm, gg) = (((a - c) / (2 * step), (b - d) / (2 * step)) for (a, b), (c, d) in by)
        cross = (mg + gm) / 2
        area = mm * gg - cross * cross
        if mm >= 0 or area <= 0:
            return None, None
        return sqrt(-gg / area), sqrt(-mm / area)


def _summed(parts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sums of the first k − 1 entries for k = 0, 1, 2, ...: the first factor of a rising product is kept apart."""
    sums = np.cumsum(parts, axis=-1)
    return np.concatenate((np.zeros((*parts.shape[:-1], 2)), sums), axis=-1)
