"""The exact runs test (Wald and Wolfowitz): whether two kinds of answers come in streaks, or alternate, beyond chance.

Needs the standard library alone.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from itertools import groupby
from math import comb
from typing import Any

from .errors import StatsError


@dataclass(frozen=True)
class RunsTest:
    """Runs of equal answers, their expected number, and the exact p-values; None where all answers are the same."""

    answers: int
    runs: int
    longest: int
    expected: float
    p_streaks: float | None
    p_alternation: float | None
    p_value: float | None

    def to_document(self) -> dict[str, Any]:
        """The runs as the command line prints them."""
        return asdict(self)


def runs_test(answers: Sequence[Hashable]) -> RunsTest:
    """The exact test of streaks (few runs) and alternation (many runs) in a sequence of two different answers.

    Raises
    ------
    StatsError
        If there are more than two different answers, or none at all.

    Notes
    -----
    Given how often each answer occurs, all orders are equally likely under the null (Wald and Wolfowitz, Ann. Math.
    Statist. 11, 1940). `p_value` is two-sided: twice the smaller tail, at most 1.

    Examples
    --------
    >>> found = runs_test("ABABABABABAB")
    >>> found.runs, found.expected, round(found.p_alternation, 4)
    (12, 7.0, 0.0022)

    So these answers alternate far more regularly than a listener who only listens would let them.
    """
    kinds = list(dict.fromkeys(answers))
    if not kinds:
        raise StatsError("there are no answers to look at")
    if len(kinds) > 2:
        raise StatsError(f"the runs test knows two different answers; got {len(kinds)}: {', '.join(map(str, kinds))}")
    lengths = [sum(1 for _ in run) for _, run in groupby(answers)]
    runs, n = len(lengths), len(answers)
    first = sum(answer == kinds[0] for answer in answers)
    second = n - first
    if len(kinds) == 1:
        return RunsTest(n, runs, max(lengths), 1.0, None, None, None)
    few = float(sum(_chance(count, first, second) for count in range(2, runs + 1)))
    many = float(sum(_chance(count, first, second) for count in range(runs, n + 1)))
    expected = 1 + 2 * first * second / n
    return RunsTest(n, runs, max(lengths), expected, few, many, min(1.0, 2 * min(few, many)))


def _chance(runs: int, first: int, second: int) -> Fraction:
    half, odd = divmod(runs, 2)
    if odd:
        ways = comb(first - 1, half) * comb(second - 1, half - 1) + comb(first - 1, half - 1) * comb(second - 1, half)
    else:
        ways = 2 * comb(first - 1, half - 1) * comb(second - 1, half - 1)
    return Fraction(ways, comb(first + second, first))
