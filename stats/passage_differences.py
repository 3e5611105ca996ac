"""Which passages carry the difference: each passage's own count and test, and whether the passages differ at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from .binomial import binomial_test
from .errors import StatsError
from .estimates import PValue
from .holm import holm
from .intervals import clopper_pearson
from .panel import Count, check_panel
from .validation import Alternative, check_alternative

if TYPE_CHECKING:
    from numpy.random import Generator


@dataclass(frozen=True)
class Passage:
    """One passage: its count, share right with the exact 95 % interval, exact p and the p adjusted for all passages."""

    name: str
    correct: int
    trials: int
    share: float
    low: float
    high: float
    p_value: float
    p_adjusted: float


@dataclass(frozen=True)
class ByPassage:
    """All passages, and whether they differ: Pearson's statistic with its permutation p-value.

    Both are None where there is nothing to compare: one passage, or every answer right, or every one wrong.
    """

    chance: float
    alternative: Alternative
    passages: tuple[Passage, ...]
    x2: float | None
    p_value: float | None
    draws: int

    @property
    def p_alike(self) -> PValue | None:
        """That they are alike, with the error of its draws; None where there is nothing to compare."""
        return None if self.p_value is None else PValue(self.p_value, self.draws)

    def to_document(self) -> dict[str, Any]:
        """The passages as the command line prints them."""
        return asdict(self)


def by_passage(
    counts: Sequence[Count],
    chance: float | Fraction,
    alternative: Alternative,
    rng: Generator,
    draws: int = 10_000,
) -> ByPassage:
    """Each passage's count with its exact test and interval, and the test that all passages are alike.

    Parameters
    ----------
    counts
        One a passage, each name once; the numbers of trials may differ.
    chance
        The proportion right by guessing, between 0 and 1.
    alternative
        ``greater``, ``less`` or ``two-sided``, for each passage's own test.
    rng, draws
        For the permutation p-value; at least one draw.

    Raises
    ------
    StatsError
        If there is no passage, a name comes twice, or a number is out of range.

    Notes
    -----
    If all passages are alike, every way to deal the right answers to the trials is equally likely: the counts are
    multivariate hypergeometric, given the totals. p = (b + 1)/(draws + 1), b draws having Pearson's statistic at least
    as large as the one seen (Phipson and Smyth, Stat. Appl. Genet. Mol. Biol. 9, 2010: never 0, and valid). It holds
    with few trials a passage, where the chi-square distribution does not. The adjusted p-values are Holm's.

    Passages picked for their result and tested on the same trials prove nothing: plan a new session with them.

    Examples
    --------
    >>> import numpy as np
    >>> counts = [Count("cymbals", 11, 12), Count("voice", 6, 12), Count("strings", 5, 12)]
    >>> found = by_passage(counts, 0.5, "greater", np.random.default_rng(1))
    >>> [(one.name, round(one.share, 2), round(one.p_adjusted, 3)) for one in found.passages]
    [('cymbals', 0.92, 0.01), ('voice', 0.5, 1.0), ('strings', 0.42, 1.0)]
    >>> found.p_value < 0.05
    True

    So the passages differ, and the cymbals are what gives the difference away.
    """
    check_panel(counts, chance)
    check_alternative(alternative)
    if isinstance(draws, bool) or not isinstance(draws, int) or draws < 1:
        raise StatsError(f"the draws are a whole number, 1 or more; got {draws!r}")
    p_values = [binomial_test(one.correct, one.trials, chance, alternative).p_value for one in counts]
    passages = []
    for one, p_value, adjusted in zip(counts, p_values, holm(p_values), strict=True):
        interval = clopper_pearson(one.correct, one.trials)
        share = one.correct / one.trials
        passages.append(
            Passage(one.name, one.correct, one.trials, share, interval.low, interval.high, p_value, adjusted)
        )
    x2, p_alike = _alike(counts, rng, draws) or (None, None)
    return ByPassage(float(chance), alternative, tuple(passages), x2, p_alike, draws)


def _alike(counts: Sequence[Count], rng: Generator, draws: int) -> tuple[float, float] | None:
    """Pearson's statistic of equal shares and its permutation p-value; None if no other deal is possible."""
    import numpy as np

    right, trials = (np.array([getattr(one, part) for one in counts]) for part in ("correct", "trials"))
    pooled = right.sum() / trials.sum()
    if len(counts) < 2 or pooled in (0, 1):
        return None
    dealt = rng.multivariate_hypergeometric(trials, right.sum(), size=draws, method="marginals")

    def x2(some: np.ndarray) -> np.ndarray:
        values: np.ndarray = ((some - trials * pooled) ** 2 / trials).sum(axis=-1) / (pooled * (1 - pooled))
        return values

    seen = float(x2(right))
    reached = int((x2(dealt) >= seen * (1 - 1e-9)).sum())  # equal statistics differ in the last digits
    return seen, (reached + 1) / (draws + 1)
