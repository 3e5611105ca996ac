"""Bradley-Terry: abilities of several setups from paired preferences, with the advantage of being heard first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import isfinite
from typing import Any

import numpy as np

from .errors import StatsError

FARTHEST = 15.0  # ln odds of three million to one: the maximum lies at infinity
_Maximum = tuple[np.ndarray, np.ndarray, float]
HALF_A_WIN = "Half a choice was added each way to every pair, because some setups were always or never chosen"


@dataclass(frozen=True)
class Comparison:
    """How often each of two setups was chosen when `first` was heard first."""

    first: int
    second: int
    wins_first: float
    wins_second: float


@dataclass(frozen=True)
class Abilities:
    """The fit.

    Attributes
    ----------
    abilities, errors
        ln abilities, setup 0 as the base (0, and no error), and their standard errors.
    shares
        The same as shares that sum to 1: P(i chosen over j) = share i / (share i + share j).
    order, order_error, order_p
        Of the advantage of being heard first: its ln odds, standard error, and likelihood-ratio p; None if not fitted.
    deviance, freedom
        G² of the fit against every cell by itself, and its degrees of freedom.
    equal_p
        Likelihood-ratio p that all abilities are equal.
    equal_ratio, order_ratio
        The likelihood-ratio statistics behind `equal_p` (setups − 1 degrees of freedom) and `order_p` (1).
    covariance
        Of the abilities, shape (setups, setups), zeros for the base: the standard error of ability i − ability j is
        √(cᵢᵢ + cⱼⱼ − 2cᵢⱼ).
    note
        What was done to make the fit possible; empty if nothing.
    """

    abilities: tuple[float, ...]
    errors: tuple[float, ...]
    shares: tuple[float, ...]
    order: float | None
    order_error: float | None
    order_p: float | None
    log_likelihood: float
    deviance: float
    freedom: int
    equal_p: float
    note: str = ""
    equal_ratio: float = 0.0
    order_ratio: float | None = None
    covariance: tuple[tuple[float, ...], ...] = ()

    def to_document(self) -> dict[str, Any]:
        """The fit as plain values, without what only further computing needs (ratios and covariance)."""
        document = asdict(self)
        for name in ("equal_ratio", "order_ratio", "covariance"):
            del document[name]
        return document


def fit(comparisons: Sequence[Comparison], *, order_effect: bool = False) -> Abilities:
    """Maximum likelihood by Newton's method.

    Parameters
    ----------
    comparisons
        One for each pair and order that was heard. Those without a choice are left out: nothing was observed there.
    order_effect
        Fit the advantage of being heard first as well, where it can be told from ability: `order` stays None if no pair
        was heard in both orders and no circle of pairs tells it.

    Raises
    ------
    StatsError
        If fewer than two setups are compared, a count is negative or no number, or some setups were never compared with
        the others, not even by way of a third; or if choices are so many and so one-sided that no fit is found.

    Notes
    -----
    logit P(first chosen) = ability(first) − ability(second) + order (Bradley and Terry, Biometrika 39, 1952; the order
    effect after Davidson and Beaver 1977, names from memory). Where a setup, or a group of them, was always or never
    chosen there is no maximum (Ford 1957), nor where the first (or the second) heard was always chosen: then half a
    choice is added each way to every pair, for each order it was heard in, and the note says so.

    Examples
    --------
    >>> found = fit([Comparison(0, 1, 3, 6), Comparison(1, 2, 5, 4), Comparison(0, 2, 4, 5)])
    >>> [round(share, 2) for share in found.shares]
    [0.24, 0.44, 0.32]

    So the second setup is preferred to the first in nearly two of three comparisons.
    """
    setups = 1 + max((max(one.first, one.second) for one in comparisons), default=0)
    for one in comparisons:
        counts = (one.wins_first, one.wins_second)
        if not all(isfinite(count) and count >= 0 for count in counts) or one.first == one.second:
            raise StatsError(f"setups {one.first + 1} and {one.second + 1}: {one} is no count of choices")
        if min(one.first, one.second) < 0:
            raise StatsError(f"setups are whole numbers from 0; got {min(one.first, one.second)}")
    if setups < 2:
        raise StatsError("abilities need at least two setups")
    wins = np.zeros((setups, setups))
    for one in comparisons:
        wins[one.first, one.second] += one.wins_first
        wins[one.second, one.first] += one.wins_second
    if not _joined(wins + wins.T > 0):
        raise StatsError("some setups were never compared with the others; a round robin hears every pair")
    comparisons = [one for one in comparisons if one.wins_first + one.wins_second > 0]
    order_effect = order_effect and _both_orders(comparisons)
    made = _fitted(comparisons, setups, order_effect) if _joined(wins > 0) else None
    note = "" if made else HALF_A_WIN
    if made is None:
        comparisons = [
            Comparison(one.first, one.second, one.wins_first + 0.5, one.wins_second + 0.5) for one in comparisons
        ]
        made = _fitted(comparisons, setups, order_effect)
    if made is None:  # no cell is empty now, so there is a maximum, but beyond the farthest
        raise StatsError("some setups are chosen so much more often than others that no abilities can be fitted")
    (point, covariance, best), without, null = made
    _, won, lost = _table(comparisons, setups)
    from scipy.special import chdtrc

    abilities = np.concatenate([[0.0], point[: setups - 1]])
    errors = np.concatenate([[0.0], np.sqrt(np.diag(covariance))[: setups - 1]])
    shares = np.exp(abilities - abilities.max())
    whole = np.zeros((setups, setups))
    whole[1:, 1:] = covariance[: setups - 1, : setups - 1]
    equal_ratio = max(0.0, 2 * (best - null))
    order_ratio = max(0.0, 2 * (best - without)) if order_effect else None
    return Abilities(
        abilities=tuple(float(value) for value in abilities),
        errors=tuple(float(value) for value in errors),
        shares=tuple(float(value) for value in shares / shares.sum()),
        order=float(point[-1]) if order_effect else None,
        order_error=float(np.sqrt(covariance[-1, -1])) if order_effect else None,
        order_p=float(chdtrc(1, order_ratio)) if order_ratio is not None else None,
        log_likelihood=best,
        deviance=2 * (_saturated(won, lost) - best),
        freedom=len(won) - len(point),
        equal_p=float(chdtrc(setups - 1, equal_ratio)),
        note=note,
        equal_ratio=equal_ratio,
        order_ratio=order_ratio,
        covariance=tuple(tuple(float(value) for value in row) for row in whole),
    )


def _fitted(comparisons: Sequence[Comparison], setups: int, order_effect: bool) -> tuple[_Maximum, float, float] | None:
    """The maximum, and the log-likelihoods without the order effect and with equal abilities; None if there is none."""
    design, won, lost = _table(comparisons, setups)
    first = np.ones((len(won), 1))
    best = _newton(np.hstack([design, first]) if order_effect else design, won, lost)
    without = _newton(design, won, lost) if order_effect else best
    null = _newton(first, won, lost) if order_effect else None
    if best is None or without is None or (order_effect and null is None):
        return None
    return best, without[2], null[2] if null else _even(won, lost)


def _table(comparisons: Sequence[Comparison], setups: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The design without the base, shape (cells, setups − 1), and the choices of first and second."""
    design = np.zeros((len(comparisons), setups))
    for place, one in enumerate(comparisons):
        design[place, one.first], design[place, one.second] = 1, -1
    won = np.array([one.wins_first for one in comparisons], float)
    lost = np.array([one.wins_second for one in comparisons], float)
    return design[:, 1:], won, lost


def _newton(design: np.ndarray, won: np.ndarray, lost: np.ndarray) -> _Maximum | None:
    """The maximum, its covariance and log-likelihood (without the binomial constants); None if it lies at infinity."""
    point = np.zeros(design.shape[1])
    total = won + lost

    def value(at: np.ndarray) -> float:
        eta = design @ at
        return float(won @ -np.logaddexp(0, -eta) + lost @ -np.logaddexp(0, eta))

    here = value(point)
    for _ in range(100):
        share = 1 / (1 + np.exp(-(design @ point)))
        information = design.T @ (design * (total * share * (1 - share))[:, None])
        try:
            step = np.linalg.solve(information, design.T @ (won - total * share))
        except np.linalg.LinAlgError:
            return None
        while (there := value(point + step)) < here - 1e-12:
            step = step / 2
        point, here = point + step, there
        if float(np.abs(point).max()) > FARTHEST:
            return None
        if float(np.abs(step).max()) < 1e-10:
            break
    share = 1 / (1 + np.exp(-(design @ point)))
    information = design.T @ (design * (total * share * (1 - share))[:, None])
    return point, np.linalg.inv(information), here


def _even(won: np.ndarray, lost: np.ndarray) -> float:
    return float((won + lost).sum() * np.log(0.5))


def _saturated(won: np.ndarray, lost: np.ndarray) -> float:
    from scipy.special import xlogy

    total = np.maximum(won + lost, 1e-300)
    return float((xlogy(won, won / total) + xlogy(lost, lost / total)).sum())


def _both_orders(comparisons: Sequence[Comparison]) -> bool:
    """Whether being heard first can be told from ability: some pair was heard in both orders, or a circle of pairs."""
    setups = 1 + max(max(one.first, one.second) for one in comparisons)
    design, won, _ = _table(comparisons, setups)
    full = np.hstack([design, np.ones((len(won), 1))])
    return bool(np.linalg.matrix_rank(full) == full.shape[1])


def _joined(edges: np.ndarray) -> bool:
    """Whether every setup can be reached from every other along the edges (Ford's condition)."""
    reach = edges | np.eye(len(edges), dtype=bool)
    for _ in range(len(edges)):
        reach = (reach.astype(int) @ reach.astype(int)) > 0
    return bool(reach.all())
