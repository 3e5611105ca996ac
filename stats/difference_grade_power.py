"""Power and sample size of the exact randomisation test of difference grades (`hidden_reference`)."""

from __future__ import annotations

from . import sign_flip_power
from .estimates import PowerEstimate


def least_trials(alpha: float) -> int:
    """The fewest trials that can reach alpha: all differences below 0 have p = ½ to the power of their number.

    >>> least_trials(0.05), least_trials(0.0625)
    (5, 4)
    """
    return sign_flip_power.least_trials(alpha, two_sided=False)


def power(trials: int, effect: float, alpha: float = 0.05) -> PowerEstimate:
    """The power for a mean difference grade of `effect` standard deviations below 0; see `sign_flip_power`.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> power(3, 5).power, power(3, 5).least, power(5, 5).power
    (0.0, 5, 1.0)

    So three trials cannot show anything at 5 %, however plain it is; five can.
    """
    return sign_flip_power.power(trials, effect, alpha, two_sided=False)


def sample_size(effect: float, wanted: float = 0.8, alpha: float = 0.05) -> int:
    """The first number of trials that reaches the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 5,000 trials would be needed.

    >>> sample_size(5.0), sample_size(0.8)
    (5, 12)
    """
    return sign_flip_power.sample_size(effect, wanted, alpha, two_sided=False)
