"""Numbers that were estimated, with their standard error: a p-value that was drawn, a power that was simulated."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Literal


@dataclass(frozen=True)
class PValue:
    """A p-value, and by how many draws it was estimated (None: everything was gone through, it is exact)."""

    value: float
    draws: int | None = None

    @property
    def error(self) -> float | None:
        """Its standard error √(p(1 − p)/draws); None where it is exact."""
        return None if self.draws is None else sqrt(self.value * (1 - self.value) / self.draws)


@dataclass(frozen=True)
class PowerEstimate:
    """The power of a planned test.

    Attributes
    ----------
    trials
        The number of trials it is the power of.
    power
        The power, by the test itself.
    error
        Its standard error where it was simulated, otherwise None.
    least
        The fewest trials with which the test can reach alpha at all; below them the power is 0.
    by
        How it was found.
    """

    trials: int
    power: float
    error: float | None
    least: int
    by: Literal["exact", "simulation", "approximation"] = "exact"

    @property
    def reachable(self) -> bool:
        """Whether any outcome of so many trials could reach alpha."""
        return self.trials >= self.least


def simulated(trials: int, reached: int, drawn: int, least: int) -> PowerEstimate:
    """The power of a test that reached alpha in so many of the data sets drawn.

    The error is that of a share, √(P(1 − P)/drawn), with P moved by one data set from the ends, where it would be 0.

    >>> simulated(20, 800, 1000, 5)
    PowerEstimate(trials=20, power=0.8, error=0.0126..., least=5, by='simulation')
    """
    share = (reached + 1) / (drawn + 2)
    return PowerEstimate(trials, reached / drawn, sqrt(share * (1 - share) / drawn), least, "simulation")
