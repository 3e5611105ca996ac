"""Exact operating characteristics of a sequential test, by recursion over the counts; nothing is simulated.

After n answers the chance of each count follows from the chances one answer earlier; counts that stop the test are
taken out as they are reached, so the work grows with the trials times the width between the boundaries.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..count_summary import HEARD
from ..errors import StatsError
from ..validation import check_proportion
from .boundaries import Boundaries

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Characteristics:
    """What a sequential test does for one true proportion.

    Attributes
    ----------
    heard
        Probability that it ends with "heard": the real error rate at chance, the power elsewhere.
    expected_trials, median_trials
        How many trials it takes.
    stops
        Probability of stopping after each number of answers, shape (N,).
    """

    heard: float
    expected_trials: float
    median_trials: int
    stops: NDArray[np.float64]


@dataclass(frozen=True)
class Exits:
    """Probabilities of leaving by each side after each number of answers, shapes (N,)."""

    first: NDArray[np.float64]
    second: NDArray[np.float64]
    given_up: NDArray[np.float64]


def characteristics(boundaries: Boundaries, proportion: float) -> Characteristics:
    """Error rate or power, and length, when each answer is right with probability `proportion`.

    Raises
    ------
    StatsError
        If the proportion is not 0 to 1.

    Examples
    --------
    >>> from stats.sequential.sprt import sprt
    >>> found = characteristics(sprt(40, 0.75), 0.5)
    >>> found.heard <= 0.05, found.expected_trials < 20
    (True, True)

    So half-right guessing ends such a test after fewer than twenty trials on average, and wrongly at most once in 20.
    """
    import numpy as np

    found = exits(boundaries, proportion)
    stops = found.first + found.second + found.given_up
    return Characteristics(
        heard=float(found.first.sum()) + float(found.second.sum()),
        expected_trials=float(stops @ np.arange(1, boundaries.trials + 1)),
        median_trials=int(np.searchsorted(np.cumsum(stops), 0.5)) + 1,
        stops=stops,
    )


def exits(boundaries: Boundaries, proportion: float) -> Exits:
    """The probabilities of each way out, answer by answer."""
    import numpy as np

    check_proportion(proportion)
    first, second, given_up = np.zeros(boundaries.trials), np.zeros(boundaries.trials), np.zeros(boundaries.trials)
    for stage in _stages(boundaries, proportion):
        first[stage.answers - 1], second[stage.answers - 1], given_up[stage.answers - 1] = stage.out()
    return Exits(first, second, given_up)


def still_at_it(boundaries: Boundaries, proportion: float) -> tuple[float, NDArray[np.float64]]:
    """The probability of "heard" before the last trial, and that of each count 0 … N at the last among the others."""
    import numpy as np

    heard = 0.0
    for stage in _stages(boundaries, proportion):
        if stage.answers == boundaries.trials:
            whole = np.zeros(boundaries.trials + 1)
            whole[stage.least : stage.least + len(stage.chances)] = stage.chances
            return heard, whole
        first, second, _ = stage.out()
        heard += first + second
    return heard, np.zeros(boundaries.trials + 1)


def p_value(boundaries: Boundaries, answers: int, count: int, chance: float) -> float:
    """The p-value of a finished sequential test: how likely chance alone comes at least so far.

    Outcomes are ordered by stage: "heard" before "not shown", earlier "heard" before later, later "not shown" before
    earlier, and by the count within a stage (the stagewise ordering of group-sequential trials; common practice). So a
    test stopped as heard has a p-value of at most its real error rate.

    Raises
    ------
    StatsError
        If the count is not possible, or the test would not have stopped there.
    """
    import numpy as np

    decided = boundaries.decision(answers, count)
    if decided is None:
        raise StatsError(f"the test goes on after {count} of {answers}; it has no p-value yet")
    heard, given_up = 0.0, 0.0
    for stage in _stages(boundaries, chance):
        if stage.answers == answers:
            break
        first, second, dropped = stage.out()
        heard, given_up = heard + first + second, given_up + dropped
    counts = stage.least + np.arange(len(stage.chances))
    out = (counts >= boundaries.heard_from[answers - 1]) | (counts <= boundaries.heard_to[answers - 1])
    stopped = ~out
    if answers < boundaries.trials:
        stopped = (counts >= boundaries.quit_from[answers - 1]) & (counts <= boundaries.quit_to[answers - 1])
    far = np.maximum(counts, answers - counts) if boundaries.two_sided else counts
    seen = max(count, answers - count) if boundaries.two_sided else count
    if decided == HEARD:
        return min(1.0, heard + float(stage.chances[out & (far >= seen)].sum()))
    return min(1.0, 1 - given_up - float(stage.chances[stopped & (far < seen)].sum()))


@dataclass(frozen=True, eq=False)
class _Stage:
    """After so many answers: the probability of the counts `least`, `least` + 1, … among those who got here."""

    boundaries: Boundaries
    answers: int
    least: int
    chances: NDArray[np.float64]

    def out(self) -> tuple[float, float, float]:
        """The probabilities of stopping here: heard, heard for the other side, given up."""
        place, end = self.answers - 1, self.least + len(self.chances)
        high, low = int(self.boundaries.heard_from[place]), int(self.boundaries.heard_to[place])
        first, second = self._between(high, end), self._between(self.least, low + 1)
        if self.answers == self.boundaries.trials:
            return first, second, self._between(low + 1, high)
        return (
            first,
            second,
            self._between(int(self.boundaries.quit_from[place]), int(self.boundaries.quit_to[place]) + 1),
        )

    def _between(self, start: int, end: int) -> float:
        return float(self.chances[max(start - self.least, 0) : max(end - self.least, 0)].sum())

    def going(self) -> tuple[int, NDArray[np.float64]]:
        """Those who go on: the least count among them, and the probabilities from it upwards."""
        place = self.answers - 1
        chances = self.chances.copy()
        quit_from, quit_to = int(self.boundaries.quit_from[place]), int(self.boundaries.quit_to[place])
        chances[max(quit_from - self.least, 0) : max(quit_to + 1 - self.least, 0)] = 0
        low = max(int(self.boundaries.heard_to[place]) + 1, self.least)
        if quit_from <= low:
            low = max(low, quit_to + 1)
        high = int(self.boundaries.heard_from[place])
        return low, chances[low - self.least : max(high - self.least, 0)]


def _stages(boundaries: Boundaries, proportion: float) -> Iterator[_Stage]:
    import numpy as np

    least, going = 0, np.ones(1)
    for answers in range(1, boundaries.trials + 1):
        chances = np.zeros(len(going) + 1)
        chances[:-1] = going * (1 - proportion)
        chances[1:] += going * proportion
        stage = _Stage(boundaries, answers, least, chances)
        yield stage
        least, going = stage.going()
