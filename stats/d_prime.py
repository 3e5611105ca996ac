"""Sensitivity d′ from a proportion right, and back: ABX under both listener models, and two-alternative forced choice.

The psychometric functions are closed forms of the normal distribution; the inverse is found by bisection. The standard
library alone.
"""

from __future__ import annotations

from collections.abc import Callable
from math import erf, exp, inf, pi, sqrt
from numbers import Real

from .counts import check_proportion, check_trials
from .errors import StatsError

MODELS = {"abx": ("independent", "differencing"), "2afc": ("independent",)}
LARGEST = 40.0  # beyond it every proportion is 1 in double precision


def proportion_correct(d_prime: float, method: str, model: str = "independent") -> float:
    """The expected proportion right of an unbiased listener with sensitivity `d_prime`.

    Parameters
    ----------
    d_prime
        0 or more.
    method
        ``abx`` or ``2afc`` (paired comparison with a direction: which has more, which is preferred).
    model
        For ABX ``independent`` (the listener compares each of A, B, X with a fixed criterion; the pair stays the same)
        or ``differencing`` (they compare X−A with X−B; the pair may rove). 2-AFC knows one.

    Raises
    ------
    StatsError
        If d′ is negative or not a number, or method or model is unknown.

    Notes
    -----
    2-AFC: Φ(d′/√2). ABX independent: Φ(d′/√2)Φ(d′/2) + Φ(−d′/√2)Φ(−d′/2). ABX differencing: Φ(d′/√2)Φ(d′/√6) +
    Φ(−d′/√2)Φ(−d′/√6) (Macmillan and Creelman, Detection Theory; Hacker and Ratcliff, 1979, for m-AFC).

    Examples
    --------
    >>> round(proportion_correct(2, "abx", "differencing"), 4), round(proportion_correct(1, "2afc"), 4)
    (0.7468, 0.7602)
    """
    rule = _rule(method, model)
    if isinstance(d_prime, bool) or not isinstance(d_prime, Real) or not d_prime >= 0:
        raise StatsError(f"d' is 0 or more; got {d_prime!r}")
    return rule(float(d_prime))


def d_prime(proportion: float, method: str, model: str = "independent") -> float:
    """The sensitivity that gives a proportion right; 0 at or below chance, infinity at 1.

    Raises
    ------
    StatsError
        If the proportion is not 0 to 1, or method or model is unknown.

    Examples
    --------
    >>> round(d_prime(0.75, "abx"), 4), round(d_prime(0.75, "abx", "differencing"), 4), round(d_prime(0.75, "2afc"), 4)
    (1.7904, 2.02, 0.9539)

    So 75 % right in ABX speaks of a difference about 1.8 (or 2.0) times the listener's own uncertainty.
    """
    rule = _rule(method, model)
    check_proportion(proportion)
    if proportion <= 0.5:
        return 0.0
    if proportion == 1:
        return inf
    low, high = 0.0, LARGEST
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if rule(middle) < proportion else (low, middle)
        if high - low < 1e-13:
            break
    return (low + high) / 2


def standard_error(proportion: float, trials: int, method: str, model: str = "independent") -> float:
    """The delta-method standard error of d′: √(p(1−p)/n) / f′(d′); infinite at or below chance and at 1."""
    check_trials(trials)
    value = d_prime(proportion, method, model)
    if value == 0 or value == inf:
        return inf
    return sqrt(proportion * (1 - proportion) / trials) / slope(value, method, model)


def slope(d_prime: float, method: str, model: str = "independent") -> float:
    """How fast the proportion right grows with d′."""
    _rule(method, model)
    first = 1 / sqrt(2)
    if method == "2afc":
        return first * _density(first * d_prime)
    second = 1 / 2 if model == "independent" else 1 / sqrt(6)
    grown = first * _density(first * d_prime) * (2 * _normal(second * d_prime) - 1)
    return grown + second * _density(second * d_prime) * (2 * _normal(first * d_prime) - 1)


def _rule(method: str, model: str) -> Callable[[float], float]:
    if method not in MODELS:
        raise StatsError(f"d' is known for {', '.join(MODELS)}; got {method!r}")
    if model not in MODELS[method]:
        raise StatsError(f"the listener model of {method} is one of {', '.join(MODELS[method])}; got {model!r}")
    if method == "2afc":
        return lambda d: _normal(d / sqrt(2))
    divisor = 2 if model == "independent" else sqrt(6)

    def abx(d: float) -> float:
        return _normal(d / sqrt(2)) * _normal(d / divisor) + _normal(-d / sqrt(2)) * _normal(-d / divisor)

    return abx


def _normal(z: float) -> float:
    return 0.5 * (1 + erf(z / sqrt(2)))


def _density(z: float) -> float:
    return exp(-z * z / 2) / sqrt(2 * pi)
