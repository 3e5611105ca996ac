"""How far listeners agree about words: raw agreement, Krippendorff's alpha, and an interval for it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .errors import StatsError
from .validation import check_level

Scale = Literal["nominal", "ordinal", "interval", "ratio"]
SCALES = ("nominal", "ordinal", "interval", "ratio")
DRAWS = 2000
MOST_AT_ONCE = 4_000_000  # cells of drawn tables at once, for memory's sake


@dataclass(frozen=True)
class Agreement:
    """How far those who answered agree.

    Attributes
    ----------
    raw
        The share of pairs of answers to the same unit that are equal.
    alpha
        Krippendorff's: 1 perfect, 0 as by chance, below 0 worse. None where all answers are the same one, so that
        chance would agree as well.
    units, answers
        Units with two answers or more, and the answers in them; the others cannot be compared.
    """

    raw: float
    alpha: float | None
    units: int
    answers: int


@dataclass(frozen=True)
class AgreementInterval:
    """A bootstrap interval of alpha: its ends, and how many of the draws had an alpha at all."""

    level: float
    low: float
    high: float
    usable: int
    draws: int


def agreement(answers: Sequence[Sequence[float | None]], scale: Scale) -> Agreement:
    """Raw agreement, and agreement beyond chance, of any number of observers, with gaps.

    Parameters
    ----------
    answers
        A row for each unit (a presentation, say), an entry for each observer; None where one did not answer. Rows may
        differ in length.
    scale
        ``nominal`` for ticks, ``ordinal`` for grades whose steps mean an order only, ``interval`` for equal steps,
        ``ratio`` for quantities from 0 up.

    Raises
    ------
    StatsError
        If an answer is not a number, the scale is unknown, no unit has two answers, or a ratio is negative.

    Notes
    -----
    α = 1 − Dₒ/Dₑ. Each unit with m ≥ 2 answers gives each ordered pair of them with weight 1/(m − 1) (the
    coincidences); Dₒ is their mean difference, Dₑ that of all answers paired at random. Differences: nominal 0 or 1;
    ordinal the answers counted from one to the other, the ends by half, squared; interval (c − k)²; ratio ((c − k)/(c +
    k))²
    (Krippendorff, Content Analysis, and "Computing Krippendorff's alpha-reliability", 2011; from memory).

    Assumed: units are alike and observers interchangeable. The usual cuts of .667 and .80 know nothing of the matter in
    hand: raw agreement belongs beside alpha, above all where a word is rare.

    Examples
    --------
    >>> ticks = [[1, 1], [0, 0], [1, 1], [0, 1], [0, 0], [0, 0]]
    >>> found = agreement(ticks, "nominal")
    >>> round(found.raw, 3), round(found.alpha, 3), found.units, found.answers
    (0.833, 0.686, 6, 12)

    So two listeners ticked alike on 5 of 6 presentations, and two thirds of what chance would leave apart.
    """
    values, counts = _counts(answers, scale)
    coincidences = _coincidences(counts)
    table = coincidences.sum(axis=0)
    sizes = counts.sum(axis=1)
    alike = float((counts * (counts - 1)).sum()) / float((sizes * (sizes - 1)).sum())
    alpha = float(_alphas(table[None], values, scale)[0])
    return Agreement(alike, None if np.isnan(alpha) else alpha, len(counts), int(sizes.sum()))


def alpha_interval(
    answers: Sequence[Sequence[float | None]],
    scale: Scale,
    rng: np.random.Generator,
    level: float = 0.95,
    draws: int = DRAWS,
) -> AgreementInterval | None:
    """The bootstrap interval of alpha, over units; None where fewer than half of the draws have an alpha.

    Parameters
    ----------
    answers, scale
        As for `agreement`, which raises what this raises.
    rng
        For the draws.
    level
        Of the interval.
    draws
        How often the units are drawn, with repetition.

    Notes
    -----
    The percentile interval (Efron, 1979): units are drawn anew, with all their answers, and alpha is worked out again.
    A draw in which all answers are the same has no alpha and is left out. It says what other units by the same
    observers would give, not other observers; under some 20 units it is narrower than it should be.

    Examples
    --------
    >>> ticks = [[1, 1], [0, 0], [1, 1], [0, 1], [0, 0], [0, 0]] * 4
    >>> found = alpha_interval(ticks, "nominal", np.random.default_rng(1))
    >>> 0.3 < found.low < 0.5, 0.9 < found.high <= 1, found.usable
    (True, True, 2000)

    So with 24 presentations alpha may be anything from poor to nearly perfect.
    """
    check_level(level)
    if draws < 1:
        raise StatsError(f"an interval needs at least one draw; got {draws!r}")
    values, counts = _counts(answers, scale)
    coincidences = _coincidences(counts).reshape(len(counts), -1)
    found, left = [], draws
    while left:
        now = min(left, max(1, MOST_AT_ONCE // max(coincidences.shape)))
        times = rng.multinomial(len(counts), np.full(len(counts), 1 / len(counts)), size=now)
        tables = (times @ coincidences).reshape(now, len(values), len(values))
        found.append(_alphas(tables, values, scale))
        left -= now
    alphas = np.concatenate(found)
    alphas = alphas[~np.isnan(alphas)]
    if 2 * len(alphas) < draws:
        return None
    low, high = np.quantile(alphas, [(1 - level) / 2, (1 + level) / 2])
    return AgreementInterval(level, float(low), float(high), len(alphas), draws)


def _counts(answers: Sequence[Sequence[float | None]], scale: Scale) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The values that occur, and how often each does in each unit that can be compared; shape (units, values)."""
    if scale not in SCALES:
        raise StatsError(f"the scale is one of {', '.join(SCALES)}; got {scale!r}")
    units = [[float(value) for value in unit if value is not None] for unit in answers]
    units = [unit for unit in units if len(unit) > 1]
    if not units:
        raise StatsError("agreement needs at least one unit that two observers answered")
    values, place = np.unique(np.concatenate([np.array(unit) for unit in units]), return_inverse=True)
    if not np.isfinite(values).all():
        raise StatsError("every answer must be a number; None where there is none")
    if scale == "ratio" and values[0] < 0:
        raise StatsError(f"a ratio has no negative values; got {values[0]:g}")
    counts = np.zeros((len(units), len(values)))
    np.add.at(counts, (np.repeat(np.arange(len(units)), [len(unit) for unit in units]), place.ravel()), 1)
    return values, counts


def _coincidences(counts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Each unit's ordered pairs of answers, weighted by 1/(m − 1); shape (units, values, values)."""
    pairs = counts[:, :, None] * counts[:, None, :]
    pairs -= counts[:, :, None] * np.eye(counts.shape[1])
    return np.asarray(pairs / (counts.sum(axis=1) - 1)[:, None, None])


def _alphas(tables: NDArray[np.float64], values: NDArray[np.float64], scale: Scale) -> NDArray[np.float64]:
    """Alpha of each table of coincidences; shape (tables, values, values) in; NaN where there is none."""
    totals = tables.sum(axis=2)
    apart = _differences(totals, values, scale)
    answers = totals.sum(axis=1)
    observed = (tables * apart).sum(axis=(1, 2))
    expected = (totals[:, :, None] * totals[:, None, :] * apart).sum(axis=(1, 2)) / (answers - 1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(expected > 0, 1 - observed / expected, np.nan)


def _differences(totals: NDArray[np.float64], values: NDArray[np.float64], scale: Scale) -> NDArray[np.float64]:
    """How far apart each two values are, squared; ordinal ones by the answers between them, so for each table."""
    if scale == "nominal":
        return 1 - np.eye(len(values))
    if scale == "interval":
        return np.asarray((values[:, None] - values) ** 2)
    if scale == "ratio":
        sums = values[:, None] + values
        return np.asarray(((values[:, None] - values) / np.where(sums > 0, sums, 1)) ** 2)
    middles = np.cumsum(totals, axis=1) - totals / 2  # where each value lies among all answers in order
    return np.asarray((middles[:, :, None] - middles[:, None, :]) ** 2)
