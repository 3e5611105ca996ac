"""The health of a session: drift, answer times, habits of side and switching, sureness. It never changes a verdict.

Each takes plain sequences in the order of the trials, and none needs to know what was playing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import comb
from statistics import median
from typing import TYPE_CHECKING, Any

from .binomial import binomial_test
from .errors import StatsError
from .intervals import Interval, clopper_pearson

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_EXACT = 100  # trials; beyond it the normal approximation is as good
QUICK_MS = 2000  # an answer within two seconds can hardly rest on listening; our choice


class _Told:
    """Gives a result as plain values."""

    def to_document(self) -> dict[str, Any]:
        """The result as plain values."""
        return asdict(self)  # type: ignore[call-overload]


@dataclass(frozen=True)
class Drift(_Told):
    """Shares in the first and second half, and the exact two-sided p that right answers lie early or late by chance."""

    first_half: float
    second_half: float
    p_value: float


@dataclass(frozen=True)
class Times(_Told):
    """Median and hinges of the answer times in ms, how many were quick, and those of right and of wrong answers."""

    median_ms: float
    low_ms: float
    high_ms: float
    quick: int
    right_ms: float | None
    wrong_ms: float | None
    p_value: float | None


@dataclass(frozen=True)
class Switching(_Told):
    """How often the listener switched in a trial: median and range, and the median in right and in wrong ones."""

    median: float
    least: int
    most: int
    right: float | None
    wrong: float | None


@dataclass(frozen=True)
class Sides(_Told):
    """How often each answer was given, and the p that they were equally likely."""

    counts: dict[str, int]
    p_value: float


@dataclass(frozen=True)
class Streaks(_Told):
    """Runs of equal answers: how many, how many coin tosses make on average, and the exact two-sided p."""

    runs: int
    expected: float
    longest: int
    p_value: float | None


@dataclass(frozen=True)
class Step(_Told):
    """One step of sureness: its answers, how many of them were right, and the interval of that share."""

    sureness: int
    answers: int
    right: int
    interval: Interval


@dataclass(frozen=True)
class Sureness(_Told):
    """Right answers at each step of sureness, and whether surer answers are right more often.

    `gamma` is Goodman and Kruskal's: 1 when every right answer was surer than every wrong one; None without both.
    """

    steps: tuple[Step, ...]
    gamma: float | None
    p_value: float | None


def drift(right: Sequence[int]) -> Drift:
    """Whether right answers (or choices of the first) crowd early or late: fatigue or learning.

    Raises
    ------
    StatsError
        If there are no trials.

    Notes
    -----
    Given how many were right, the sum of their trial numbers has Wilcoxon's rank-sum distribution if nothing drifts;
    the p is exact, twice the smaller tail; beyond 100 trials it is the normal approximation.

    Examples
    --------
    >>> found = drift([1, 1, 1, 1, 1, 1, 0, 0, 0, 0])
    >>> found.first_half, found.second_half, round(found.p_value, 4)
    (1.0, 0.2, 0.0095)

    So six right answers and then four wrong ones: chance orders them so one time in a hundred.
    """
    if not right:
        raise StatsError("drift needs at least one trial")
    n, middle = len(right), (len(right) + 1) // 2
    places = [place for place, one in enumerate(right, 1) if one]
    first, second = right[:middle], right[middle:]
    shares = sum(first) / len(first), sum(second) / max(len(second), 1)
    if n > MOST_EXACT:
        others = [place for place, one in enumerate(right, 1) if not one]
        p_value = _mann_whitney(places, others)
        return Drift(*shares, 1.0 if p_value is None else p_value)
    chances, seen = _sums(n, len(places)), sum(places)
    low, high = float(chances[: seen + 1].sum()), float(chances[seen:].sum())
    return Drift(*shares, min(1.0, 2 * min(low, high)))


def times(after_ms: Sequence[int], right: Sequence[int] | None = None) -> Times:
    """How long answers took; with `right`, whether right and wrong ones differ (Mann-Whitney, two-sided)."""
    if not after_ms:
        raise StatsError("answer times need at least one trial")
    ordered = sorted(after_ms)
    half = (len(ordered) + 1) // 2
    sides = _split(after_ms, right)
    return Times(
        median_ms=float(median(ordered)),
        low_ms=float(median(ordered[:half])),
        high_ms=float(median(ordered[-half:])),
        quick=sum(value < QUICK_MS for value in after_ms),
        right_ms=_middle(sides[1]),
        wrong_ms=_middle(sides[0]),
        p_value=_mann_whitney(sides[1], sides[0]),
    )


def switching(switches: Sequence[int], right: Sequence[int] | None = None) -> Switching:
    """How often the listener switched between stimuli in a trial."""
    if not switches:
        raise StatsError("switching needs at least one trial")
    sides = _split(switches, right)
    return Switching(float(median(switches)), min(switches), max(switches), _middle(sides[1]), _middle(sides[0]))


def sides(answers: Sequence[str], labels: Sequence[str]) -> Sides:
    """Whether one answer is given more often than the others: exact, against equal shares.

    Parameters
    ----------
    labels
        All answers that can be given; for two the p is binomial, for more that of the multinomial distribution.
    """
    counts = {label: sum(answer == label for answer in answers) for label in labels}
    total = sum(counts.values())
    if not total:
        raise StatsError("a side needs at least one answer")
    if len(labels) == 2:
        p_value = binomial_test(counts[labels[0]], total, alternative="two-sided").p_value
    else:
        p_value = _multinomial(tuple(counts.values()))
    return Sides(counts, p_value)


def streaks(answers: Sequence[str]) -> Streaks:
    """Streaks and alternation in the answers: the runs test, exact, for the two answers given most often.

    A fair coin makes streaks, and listeners who guess avoid them; neither helps against independent keys.
    """
    common = sorted(set(answers), key=lambda label: -list(answers).count(label))[:2]
    kept = [answer for answer in answers if answer in common]
    runs, longest, current = 0, 0, 0
    for place, answer in enumerate(kept):
        current = current + 1 if place and kept[place - 1] == answer else 1
        runs += current == 1
        longest = max(longest, current)
    if len(common) < 2:
        return Streaks(runs, float(runs), longest, None)
    first, second = kept.count(common[0]), kept.count(common[1])
    chances = _runs(first, second)
    low = sum(chance for count, chance in chances.items() if count <= runs)
    high = sum(chance for count, chance in chances.items() if count >= runs)
    expected = 2 * first * second / (first + second) + 1
    return Streaks(runs, expected, longest, min(1.0, 2 * min(low, high)))


def sureness(steps: Sequence[int], right: Sequence[int]) -> Sureness:
    """Whether answers said to be sure were right more often.

    Examples
    --------
    >>> found = sureness([4, 4, 4, 1, 1, 1], [1, 1, 1, 0, 0, 1])
    >>> round(found.gamma, 2), [(step.sureness, step.right, step.answers) for step in found.steps]
    (1.0, [(1, 1, 3), (4, 3, 3)])

    So this listener knew when it was a guess.
    """
    told = []
    for step in sorted(set(steps)):
        own = [one for one, sure in zip(right, steps, strict=True) if sure == step]
        told.append(Step(step, len(own), sum(own), clopper_pearson(sum(own), len(own))))
    sides = _split(steps, right)
    above = sum(one > other for one in sides[1] for other in sides[0])
    below = sum(one < other for one in sides[1] for other in sides[0])
    gamma = (above - below) / (above + below) if above + below else None
    return Sureness(tuple(told), gamma, _mann_whitney(sides[1], sides[0]))


def _split(values: Sequence[int], right: Sequence[int] | None) -> tuple[list[int], list[int]]:
    """The values of wrong and of right answers."""
    if right is None:
        return [], []
    pairs = list(zip(values, right, strict=True))
    return [value for value, one in pairs if not one], [value for value, one in pairs if one]


def _middle(values: Sequence[int]) -> float | None:
    return float(median(values)) if values else None


def _mann_whitney(first: Sequence[int], second: Sequence[int]) -> float | None:
    if not first or not second or len(set(first) | set(second)) == 1:
        return None
    from scipy.stats import mannwhitneyu

    return float(mannwhitneyu(first, second, alternative="two-sided").pvalue)


def _sums(n: int, chosen: int) -> NDArray[np.float64]:
    """The chance of each sum 0, 1, … of so many of 1 … n, every choice equally likely."""
    import numpy as np

    ways = np.zeros((chosen + 1, n * (n + 1) // 2 + 1))
    ways[0, 0] = 1.0
    for number in range(1, n + 1):
        ways[1:, number:] += ways[:-1, : ways.shape[1] - number].copy()
    return ways[chosen] / ways[chosen].sum()


def _runs(first: int, second: int) -> dict[int, float]:
    """The chance of each number of runs in a random order of so many of two kinds (Wald and Wolfowitz 1940)."""
    total = comb(first + second, first)
    chances = {}
    for runs in range(2, first + second + 1):
        half, odd = divmod(runs, 2)
        if odd:
            ways = comb(first - 1, half) * comb(second - 1, half - 1) + comb(first - 1, half - 1) * comb(
                second - 1, half
            )
        else:
            ways = 2 * comb(first - 1, half - 1) * comb(second - 1, half - 1)
        if ways:
            chances[runs] = ways / total
    return chances


def _multinomial(counts: tuple[int, ...]) -> float:
    """The chance of counts no likelier than these, when all answers are equally likely."""
    from math import exp, lgamma, log

    total, kinds = sum(counts), len(counts)

    def chance(parts: Sequence[int]) -> float:
        return exp(lgamma(total + 1) - sum(lgamma(part + 1) for part in parts) - total * log(kinds))

    seen = chance(counts) * (1 + 1e-9)
    return min(1.0, sum(value for parts in _shares(total, kinds) if (value := chance(parts)) <= seen))


def _shares(total: int, kinds: int) -> list[tuple[int, ...]]:
    if kinds == 1:
        return [(total,)]
    return [(first, *rest) for first in range(total + 1) for rest in _shares(total - first, kinds - 1)]
