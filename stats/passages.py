"""Which passages carry the difference: each one's share, and whether they differ at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from .counts import Alternative, check_counts
from .errors import StatsError
from .intervals import Interval, clopper_pearson
from .panel import Count, panel

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class Passage:
    """One passage: its count, its exact p-value, Holm's over the passages, and the interval of its share."""

    name: str
    correct: int
    trials: int
    p_value: float
    p_holm: float
    interval: Interval


@dataclass(frozen=True)
class Passages:
    """All passages, and the p-value that they are alike."""

    passages: tuple[Passage, ...]
    p_alike: float

    def to_document(self) -> dict[str, Any]:
        """The passages as plain values."""
        return asdict(self)


def by_passage(
    counts: Sequence[Count],
    chance: float | Fraction,
    alternative: Alternative,
    rng: np.random.Generator,
    draws: int = 10_000,
) -> Passages:
    """Each passage by itself, and a permutation test that all are alike.

    Parameters
    ----------
    rng
        For the permutations: given all answers, every sharing-out of the right ones is equally likely if the passages
        are alike. p = (b + 1) / (draws + 1), which holds its error rate exactly.

    Raises
    ------
    StatsError
        If there are fewer than two passages, or a count is out of range.
    """
    import numpy as np

    if len(counts) < 2:
        raise StatsError("passages are compared from two on")
    for one in counts:
        check_counts(one.correct, one.trials)
    own = panel(counts, chance, alternative).listeners
    told = tuple(
        Passage(one.name, one.correct, one.trials, one.p_value, one.p_holm, clopper_pearson(one.correct, one.trials))
        for one in own
    )
    trials = np.array([one.trials for one in counts])
    right = np.array([one.correct for one in counts])
    drawn = rng.multivariate_hypergeometric(trials, int(right.sum()), size=draws, method="marginals")
    seen, spread = _apart(right, trials), _apart(drawn, trials)
    return Passages(told, float((np.count_nonzero(spread >= seen - 1e-9) + 1) / (draws + 1)))


def _apart(right, trials):  # type: ignore[no-untyped-def]
    """Pearson's statistic, but for a factor that is the same for all sharings-out."""
    share = right.sum(axis=-1, keepdims=True) / trials.sum()
    return ((right - trials * share) ** 2 / trials).sum(axis=-1)
