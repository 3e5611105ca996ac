"""The smallest step a listener notices, by forced choices whose size follows the answers so far. Pure.

In each trial one of two or three presentations is changed by a step, and the listener says which. The answers so far
give each threshold and slope of the listener's curve a probability, and the next step is the one whose answer is
expected to tell most about both (Kontsevich and Tyler, Vision Research 39, 1999; the rate of slips, which nobody asks
for, is averaged out, as in Prins, J. Vision 13(7), 2013; both from memory). All follows from the steps played and the
answers given, so that a record of these can be worked through again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, isfinite
from numbers import Real
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .errors import StatsError
from .validation import check_level

SLOPES = tuple(float(slope) for slope in np.geomspace(0.7, 7, 6))  # of the Weibull; usual ones lie between 1 and 4
LAPSES = (0.0, 0.04, 0.12, 0.25)  # share of trials in which the answer is blind whatever is played
LAPSES_BELIEVED = (0.4, 0.3, 0.2, 0.1)  # what is believed of each beforehand: many slips are rarer than few; our choice
HELD_UP_TO = 0.1  # of such answers intervals hold about as often as they say; of more less often (`threshold`)
BEYOND = 3.0  # how far thresholds are looked for below the smallest step and above the largest, as a factor
POINTS = 50  # thresholds looked at, in equal ratios
NEVER = 0.1  # what is believed beforehand of a listener who notices no step whatever
SURE = 0.95  # how probable it must be that the threshold lies outside before it is said
ROUNDED = 1e-9  # what machines that round differently may disagree by
# Runs on record are worked through again by this rule (`may_follow`): whoever changes it keeps the old one for them.

Place = Literal["within", "above", "below", "undecided"]


@dataclass(frozen=True)
class Search:
    """What is looked for, and with which steps.

    Attributes
    ----------
    steps
        The sizes that can be played (dB, say), above 0 and rising, two at least.
    alternatives
        How many presentations a trial has, 2 or 3; one of them is changed.
    proportion
        The share of right answers, by a listener without slips, at which the threshold is read; None: halfway from
        guessing to always.
    level
        Of the credible interval.
    width
        The run may end when the interval's upper end is at most so many times its lower end; None: never.
    fewest, most
        The trials before which it does not end, and after which it does.
    slopes
        Of the Weibull, those that are believed in, all alike.
    beyond
        How far thresholds are looked for below the smallest step and above the largest, as a factor.
    points
        How many thresholds are looked at, in equal ratios.
    """

    steps: tuple[float, ...]
    alternatives: int = 2
    proportion: float | None = None
    level: float = 0.95
    width: float | None = 2.0
    fewest: int = 20
    most: int = 60
    slopes: tuple[float, ...] = SLOPES
    beyond: float = BEYOND
    points: int = POINTS

    def __post_init__(self) -> None:
        for step in self.steps:
            if isinstance(step, bool) or not isinstance(step, Real) or not (isfinite(step) and step > 0):
                raise StatsError(f"a step is a number above 0; got {step!r}")
        if len(self.steps) < 2 or any(b <= a for a, b in zip(self.steps, self.steps[1:], strict=False)):
            raise StatsError("the search needs two steps at least, from the smallest to the largest")
        if self.alternatives not in (2, 3):
            raise StatsError(f"a trial has 2 or 3 presentations; got {self.alternatives!r}")
        if not 1 / self.alternatives < self.read_at < 1:
            raise StatsError(f"the proportion must lie between guessing and 1; got {self.proportion!r}")
        check_level(self.level)
        if self.width is not None and not self.width > 1:
            raise StatsError(f"the width is a ratio above 1; got {self.width!r}")
        if not 1 <= self.fewest <= self.most:
            raise StatsError(f"the fewest trials must be 1 to the most; got {self.fewest!r} and {self.most!r}")
        if not self.slopes or min(self.slopes) <= 0 or not self.beyond > 1 or self.points < 2:
            raise StatsError("slopes lie above 0, beyond the steps is a factor above 1, and two points are needed")

    @property
    def read_at(self) -> float:
        """The proportion of right answers at which the threshold is read."""
        return (1 + 1 / self.alternatives) / 2 if self.proportion is None else self.proportion


@dataclass(frozen=True)
class Threshold:
    """The smallest step noticed, as far as the answers tell.

    Attributes
    ----------
    trials
        How many answers it rests on.
    proportion
        The share of right answers it is read at.
    place
        ``within`` the steps played; ``above`` the largest (no step was noticed so often), ``below`` the smallest (every
        step was), each with 95 % probability; otherwise ``undecided``: the interval reaches beyond the steps.
    value
        The middle (median) of what is believed; None outside the steps.
    low, high
        Ends of the credible interval; None where the end lies outside the steps: not reached there.
    level
        The interval's.
    """

    trials: int
    proportion: float
    place: Place
    value: float | None
    low: float | None
    high: float | None
    level: float


Answer = tuple[float, bool]


def next_step(search: Search, answers: Sequence[Answer]) -> float | None:
    """The step to play next, or None when the run is at its end.

    Parameters
    ----------
    search
        What is looked for.
    answers
        Each trial so far: the step played, and whether the answer was right. Every step is one of the search's.

    Raises
    ------
    StatsError
        If a step is not one of the search's.

    Notes
    -----
    Chosen is the step with the largest expected gain of information about threshold and slope, h(P) − E h(p): h is the
    entropy of an answer, P its probability by all that is believed, p by each threshold and slope. That is the step of
    least expected entropy afterwards. Of equals the smallest is taken.

    Examples
    --------
    >>> search = Search(steps=(0.25, 0.5, 1.0, 2.0, 4.0))
    >>> next_step(search, []), next_step(search, [(2.0, True)] * 4), next_step(search, [(1.0, False)] * 3)
    (2.0, 0.5, 4.0)

    So it begins where an answer tells most, and goes down after right answers and up after wrong ones.
    """
    belief = _belief(search, answers)
    if _over(search, belief, len(answers)):
        return None
    gain = _gain(search, belief)
    return search.steps[int(np.argmax(gain > gain.max() - 1e-12))]


def may_follow(search: Search, answers: Sequence[Answer], step: float | None) -> bool:
    """Whether the rule plays this step next, or ends here (None); what two machines may round apart counts as equal.

    Parameters and errors are those of `next_step`.

    Examples
    --------
    >>> search = Search(steps=(0.25, 0.5, 1.0, 2.0, 4.0))
    >>> may_follow(search, [], 2.0), may_follow(search, [], 0.25), may_follow(search, [], None)
    (True, False, False)
    """
    belief = _belief(search, answers)
    if step is None:
        return _over(search, belief, len(answers), ROUNDED)
    if _over(search, belief, len(answers), -ROUNDED):
        return False
    gain = _gain(search, belief)
    return step in search.steps and bool(gain[search.steps.index(step)] > gain.max() - ROUNDED)


def threshold(search: Search, answers: Sequence[Answer]) -> Threshold:
    """The threshold that the answers so far tell, with its credible interval.

    Parameters and errors are those of `next_step`.

    Notes
    -----
    The share right at step x is γ + (1 − γ)(1 − λ)F(x), γ = 1/alternatives, λ from 0 to 0.25, and F the Weibull curve
    1 − (1 − f)^((x/t)^β), f = (proportion − γ)/(1 − γ), so that t is the threshold asked for. Believed beforehand: all
    ratios of t from a third of the smallest step to three times the largest alike, less a tenth for "never"; all ratios
    of β from 0.7 to 7 alike; of λ few slips rather than many. A search may state other slopes and another reach beyond.

    Assumed: one listener whose threshold stays, neither learning nor tiring, and a curve that rises with the step.

    Measured on simulated listeners at the chair (`sessions.listening.simulated_threshold`: 13 sizes, 3 presentations,
    up to 48 trials), thresholds of 0.2, 0.7, 4 and 9 dB, slopes 1.3 and 3, 100 runs each: without slips 735 of 800
    intervals hold the threshold (88 to 98 of 100; least with the flat slope, and at the smallest size), the middle is
    off by -0.2 to 0.2 of an octave on average. With a quarter of blind answers 736 of 800 hold it (82 to 99 of 100),
    and the middle is 0.1 to 0.9 of an octave too high; before such slips were believed in, 83 % did. Of 200 who guess
    all were ``above``, of 200 who are always right all ``below``.

    Examples
    --------
    A listener who is always right from 1 dB up, and guesses alternately below:

    >>> search = Search(steps=(0.25, 0.5, 1.0, 2.0, 4.0))
    >>> heard = [(0.25, True), (0.25, False), (0.5, True), (0.5, False)] * 5 + [(1.0, True), (2.0, True)] * 5
    >>> found = threshold(search, heard)
    >>> found.place, found.low <= found.value <= found.high, 0.5 < found.value < 1.0
    ('within', True, True)

    So steps between 0.5 and 1 dB begin to be noticed.

    >>> deaf = threshold(search, [(4.0, True), (4.0, False)] * 12)
    >>> deaf.place, deaf.value, deaf.high
    ('above', None, None)

    And who is right half the time at the largest step notices none of these.
    """
    return _read(search, _belief(search, answers), len(answers))


def _belief(search: Search, answers: Sequence[Answer]) -> NDArray[np.float64]:
    """The probability of each threshold, slope and rate of slips; shape (thresholds, slopes, slips)."""
    place = {step: number for number, step in enumerate(search.steps)}
    right, wrong = np.zeros(len(place)), np.zeros(len(place))
    for step, was_right in answers:
        if step not in place:
            raise StatsError(f"the step {step!r} is not one of the search's")
        (right if was_right else wrong)[place[step]] += 1
    log_right, log_wrong, log_prior = _logs(search)
    log_belief = log_prior + np.tensordot(right, log_right, 1) + np.tensordot(wrong, log_wrong, 1)
    belief = np.exp(log_belief - log_belief.max())
    return np.asarray(belief / belief.sum())


def _gain(search: Search, belief: NDArray[np.float64]) -> NDArray[np.float64]:
    """What the answer to each step is expected to tell of threshold and slope."""
    known = belief.sum(axis=-1)
    curves = (_right(search) * belief).sum(axis=-1) / np.where(known > 0, known, 1)
    return np.asarray(_entropy((curves * known).sum(axis=(1, 2))) - (_entropy(curves) * known).sum(axis=(1, 2)))


def _over(search: Search, belief: NDArray[np.float64], trials: int, slack: float = 0.0) -> bool:
    """Whether the run is at its end; with some slack also where it nearly is, with a negative one only clearly."""
    if trials >= search.most:
        return True
    return trials >= search.fewest and _narrow_enough(search, _read(search, belief, trials, SURE - slack), slack)


def _read(search: Search, belief: NDArray[np.float64], trials: int, sure: float = SURE) -> Threshold:
    points, belief = _points(search), belief.sum(axis=(1, 2))
    # a point stands for its surroundings: running sums are read halfway between points, in equal ratios
    finite = np.log(points[:-1])
    half = (finite[1] - finite[0]) / 2
    edges = np.concatenate([[finite[0] - half], finite + half])
    below = np.concatenate([[0.0], np.cumsum(belief[:-1])])

    def quantile(share: float) -> float:
        return float(np.exp(np.interp(share, below, edges))) if share <= below[-1] else inf

    smallest, largest = search.steps[0], search.steps[-1]
    beneath, under = (float(np.interp(np.log(step), edges, below)) for step in (smallest, largest))
    low, value, high = (quantile(share) for share in ((1 - search.level) / 2, 0.5, (1 + search.level) / 2))
    place: Place = "undecided"
    if 1 - under >= sure:
        place = "above"
    elif beneath >= sure:
        place = "below"
    elif smallest <= low and high <= largest:
        place = "within"
    inside = place in ("within", "undecided")
    return Threshold(
        trials,
        search.read_at,
        place,
        value if inside and smallest <= value <= largest else None,
        low if smallest <= low <= largest else None,
        high if smallest <= high <= largest else None,
        search.level,
    )


def _narrow_enough(search: Search, found: Threshold, slack: float) -> bool:
    if found.place in ("above", "below"):
        return True
    if search.width is None or not found.low or not found.high:
        return False
    return found.high <= search.width * (1 + slack) * found.low


@lru_cache(maxsize=16)
def _points(search: Search) -> NDArray[np.float64]:
    """The thresholds looked at; the last is that of who notices nothing."""
    ends = search.steps[0] / search.beyond, search.steps[-1] * search.beyond
    return np.append(np.geomspace(*ends, search.points), inf)


@lru_cache(maxsize=16)
def _right(search: Search) -> NDArray[np.float64]:
    """The share right at each step; shape (steps, thresholds, slopes, slips)."""
    guessing = 1 / search.alternatives
    missed = 1 - (search.read_at - guessing) / (1 - guessing)
    step = np.array(search.steps)[:, None, None]
    ratio = (step / _points(search)[None, :, None]) ** np.array(search.slopes)
    noticed = (1 - missed**ratio)[..., None]
    return np.asarray(guessing + (1 - guessing) * (1 - np.array(LAPSES)) * noticed)


@lru_cache(maxsize=16)
def _logs(search: Search) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Logarithms of the shares right and wrong, and of what is believed beforehand."""
    right = np.clip(_right(search), 0, 1 - 1e-9)
    prior = np.full(right.shape[1:], (1 - NEVER) / search.points)
    prior[-1] = NEVER
    return np.log(right), np.log1p(-right), np.log(prior * np.array(LAPSES_BELIEVED))


def _entropy(share: NDArray[np.float64]) -> NDArray[np.float64]:
    inside = np.clip(share, 1e-12, 1 - 1e-12)
    return np.asarray(-inside * np.log(inside) - (1 - inside) * np.log1p(-inside))
