"""Sensitivity d′ from a proportion right, and back, for each method and listener model.

The psychometric functions are those of `psychometric`; the inverse is found by bisection.
"""

from __future__ import annotations

from math import inf, sqrt
from numbers import Real

from .errors import StatsError
from .psychometric import PSYCHOMETRIC_FUNCTIONS, PsychometricFunction
from .validation import check_proportion, check_trials

LARGEST = 60.0  # beyond it every proportion is 1 in double precision


def proportion_correct(d_prime: float, method: str, model: str = "") -> float:
    """The expected proportion right of an unbiased listener with sensitivity `d_prime`.

    Parameters
    ----------
    d_prime
        0 or more.
    method
        One of `PSYCHOMETRIC_FUNCTIONS`: ``abx``, ``2afc`` (paired comparison with a direction: which has more, which is
        preferred), ``3afc``, ``4afc``, ``triangle``, ``duo-trio``, ``tetrad``, ``same-different`` (unbiased).
    model
        How the listener decides; empty: the first that the method knows. For ABX ``independent`` (the listener compares
        each of A, B, X with a fixed criterion; the pair stays the same) or ``differencing`` (they compare X−A with X−B;
        the pair may rove).

    Raises
    ------
    StatsError
        If d′ is negative or not a number, or method or model is unknown.

    Notes
    -----
    The formulas and their sources stand in `psychometric`.

    Examples
    --------
    >>> round(proportion_correct(2, "abx", "differencing"), 4), round(proportion_correct(1, "2afc"), 4)
    (0.7468, 0.7602)
    """
    function = _function(method, model)
    if isinstance(d_prime, bool) or not isinstance(d_prime, Real) or not d_prime >= 0:
        raise StatsError(f"d' is 0 or more; got {d_prime!r}")
    return function.right(float(d_prime))


def d_prime(proportion: float, method: str, model: str = "") -> float:
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
    function = _function(method, model)
    check_proportion(proportion)
    if proportion <= function.chance:
        return 0.0
    if proportion == 1:
        return inf
    low, high = 0.0, LARGEST
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if function.right(middle) < proportion else (low, middle)
        if high - low < 1e-13:
            break
    return (low + high) / 2


def standard_error(proportion: float, trials: int, method: str, model: str = "") -> float:
    """The delta-method standard error of d′: √(p(1−p)/n) / f′(d′); infinite at or below chance and at 1."""
    check_trials(trials)
    value = d_prime(proportion, method, model)
    if value == 0 or value == inf:
        return inf
    return sqrt(proportion * (1 - proportion) / trials) / slope(value, method, model)


def slope(d_prime: float, method: str, model: str = "") -> float:
    """How fast the proportion right grows with d′."""
    return _function(method, model).slope(float(d_prime))


def _function(method: str, model: str) -> PsychometricFunction:
    if method not in PSYCHOMETRIC_FUNCTIONS:
        raise StatsError(f"d' is known for {', '.join(PSYCHOMETRIC_FUNCTIONS)}; got {method!r}")
    known = PSYCHOMETRIC_FUNCTIONS[method]
    if not model:
        return next(iter(known.values()))
    if model not in known:
        raise StatsError(f"the listener model of {method} is one of {', '.join(known)}; got {model!r}")
    return known[model]
