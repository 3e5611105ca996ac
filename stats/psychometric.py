"""Psychometric functions: the proportion right of an unbiased listener with sensitivity d′, and its slope.

Each is a normal (Thurstonian) model: what is heard of a stimulus is its value plus noise of standard deviation 1.
Sources: m-alternative forced choice, Hacker and Ratcliff, Percept. Psychophys. 26 (1979); ABX and same-different,
Macmillan and Creelman, Detection Theory; triangle and duo-trio, Ennis, J. Sens. Stud. 8 (1993), where the triangle is
also P(F′ > 3) of a non-central F with 1 and 1 degrees of freedom and non-centrality 2d′²/3; tetrad (unspecified),
Ennis and Christensen (2014). The papers' names are from memory; the formulas are checked against printed values.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import erfc, exp, pi, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NODES = 96  # of the Gauss-Legendre rule: the integrals below then agree with adaptive ones to 1e-12
REACH = 9.0  # standard deviations beyond which a normal density is nothing


@dataclass(frozen=True)
class PsychometricFunction:
    """One method under one listener model: chance, proportion right and slope as functions of d′."""

    chance: float
    right: Callable[[float], float]
    slope: Callable[[float], float]


def _pair(first: float, second: float) -> PsychometricFunction:
    """Right when two comparisons of sensitivity first·d′ and second·d′ both point the same way."""

    def right(d: float) -> float:
        return _normal(first * d) * _normal(second * d) + _normal(-first * d) * _normal(-second * d)

    def slope(d: float) -> float:
        one = first * _density(first * d) * (2 * _normal(second * d) - 1)
        return one + second * _density(second * d) * (2 * _normal(first * d) - 1)

    return PsychometricFunction(0.5, right, slope)


def _forced_choice(alternatives: int) -> PsychometricFunction:
    """∫ φ(z − d′) Φ(z)^(m−1) dz; for two alternatives Φ(d′/√2)."""
    scale = 1 / sqrt(2)
    if alternatives == 2:
        return PsychometricFunction(0.5, lambda d: _normal(scale * d), lambda d: scale * _density(scale * d))

    def right(d: float) -> float:
        z, weights = _nodes(d - REACH, d + REACH)
        return float(weights @ (_densities(z - d) * _normals(z) ** (alternatives - 1)))

    def slope(d: float) -> float:
        z, weights = _nodes(d - REACH, d + REACH)
        return float(weights @ ((z - d) * _densities(z - d) * _normals(z) ** (alternatives - 1)))

    return PsychometricFunction(1 / alternatives, right, slope)


def _triangle() -> PsychometricFunction:
    """2∫₀^∞ [Φ(−z√3 + d′√(2/3)) + Φ(−z√3 − d′√(2/3))] φ(z) dz."""
    step, shift = sqrt(3), sqrt(2 / 3)

    def right(d: float) -> float:
        z, weights = _nodes(0, REACH)
        inner = _normals(-step * z + shift * d) + _normals(-step * z - shift * d)
        return float(2 * weights @ (inner * _densities(z)))

    def slope(d: float) -> float:
        z, weights = _nodes(0, REACH)
        inner = shift * (_densities(-step * z + shift * d) - _densities(-step * z - shift * d))
        return float(2 * weights @ (inner * _densities(z)))

    return PsychometricFunction(1 / 3, right, slope)


def _tetrad() -> PsychometricFunction:
    """1 − 2∫ φ(z) [2Φ(z)Φ(z − d′) − Φ(z − d′)²] dz."""

    def right(d: float) -> float:
        z, weights = _nodes(-REACH, REACH)
        low = _normals(z - d)
        return float(1 - 2 * weights @ (_densities(z) * (2 * _normals(z) * low - low**2)))

    def slope(d: float) -> float:
        z, weights = _nodes(-REACH, REACH)
        return float(4 * weights @ (_densities(z) * _densities(z - d) * (_normals(z) - _normals(z - d))))

    return PsychometricFunction(1 / 3, right, slope)


PSYCHOMETRIC_FUNCTIONS: dict[str, dict[str, PsychometricFunction]] = {
    "abx": {"independent": _pair(1 / sqrt(2), 1 / 2), "differencing": _pair(1 / sqrt(2), 1 / sqrt(6))},
    "2afc": {"independent": _forced_choice(2)},
    "3afc": {"independent": _forced_choice(3)},
    "4afc": {"independent": _forced_choice(4)},
    "triangle": {"differencing": _triangle()},
    "duo-trio": {"differencing": _pair(1 / sqrt(2), 1 / sqrt(6))},
    "tetrad": {"differencing": _tetrad()},
    "same-different": {"independent": _pair(1 / 2, 1 / 2)},
}


def _normal(z: float) -> float:
    return 0.5 * erfc(-z / sqrt(2))


def _density(z: float) -> float:
    return exp(-z * z / 2) / sqrt(2 * pi)


def _normals(z: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.special import ndtr

    below: NDArray[np.float64] = ndtr(z)
    return below


def _densities(z: NDArray[np.float64]) -> NDArray[np.float64]:
    import numpy as np

    return np.exp(-z * z / 2) / sqrt(2 * pi)


def _nodes(low: float, high: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The rule's places between two ends, and their weights."""
    places, weights = _rule()
    half = (high - low) / 2
    return low + half * (places + 1), half * weights


@lru_cache(maxsize=1)
def _rule() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    from numpy.polynomial.legendre import leggauss

    places, weights = leggauss(NODES)
    return places, weights
