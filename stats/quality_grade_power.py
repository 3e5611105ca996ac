"""Power and sample size of the permutation test of many stimuli's grades (`multi_stimulus`), with Holm's correction."""

from __future__ import annotations

from . import sign_flip_power
from .errors import StatsError
from .estimates import PowerEstimate
from .validation import check_alpha


def compared(setups: int) -> int:
    """How many pairs of setups there are.

    Raises
    ------
    StatsError
        If there are fewer than two setups.
    """
    if setups < 2:
        raise StatsError(f"at least two setups are compared; got {setups!r}")
    return setups * (setups - 1) // 2


def least_trials(alpha: float, setups: int) -> int:
    """The fewest trials with which a pair can pass Holm's first step: two of the 2ⁿ exchanges are as far apart.

    >>> least_trials(0.05, 2), least_trials(0.05, 3), least_trials(0.05, 7)
    (6, 7, 10)
    """
    return sign_flip_power.least_trials(_strictest(alpha, setups), two_sided=True)


def power(trials: int, effect: float, alpha: float = 0.05, setups: int = 2) -> PowerEstimate:
    """The power to tell two setups apart whose grades differ by `effect` standard deviations of the differences.

    Parameters
    ----------
    trials
        Of all listeners together.
    setups
        How many are compared: the pair must pass the strictest level of Holm's correction, alpha over their pairs.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    That of the exact two-sided test of the differences, simulated with its error (`sign_flip_power`).

    Examples
    --------
    >>> power(4, 5, setups=3).power, power(4, 5, setups=3).least
    (0.0, 7)

    So four trials of three setups cannot show anything at 5 %, however plain it is; that begins with seven.
    """
    return sign_flip_power.power(trials, effect, _strictest(alpha, setups), two_sided=True)


def sample_size(effect: float, wanted: float = 0.8, alpha: float = 0.05, setups: int = 2) -> int:
    """The first number of trials (of all listeners together) that reaches the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 5,000 trials would be needed.

    >>> sample_size(0.25), sample_size(5.0, setups=3)
    (130, 7)
    """
    return sign_flip_power.sample_size(effect, wanted, _strictest(alpha, setups), two_sided=True)


def _strictest(alpha: float, setups: int) -> float:
    check_alpha(alpha)
    return alpha / compared(setups)
