"""Noise dose and weekly allowance from levels and times. Pure.

What this counts is what the session played; it is no dosimeter: all the other sound of the day counts as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

NIOSH_LEVEL_DBA = 85.0  # NIOSH 98-126: 85 dBA for 8 h, 3 dB exchange
NIOSH_HOURS = 8.0
EXCHANGE_DB = 3.0
PASCAL_DB = 93.9794  # 1 Pa re 20 µPa
WEEKLY = {"adult": (80.0, 40.0), "sensitive": (75.0, 40.0)}  # WHO-ITU H.870: modes 1 and 2, level in dBA and hours
HALF, WHOLE = 50.0, 100.0

Exposure = tuple[float, float]
"""Level in dBA, time in hours."""


@dataclass(frozen=True)
class Dose:
    """A day's dose and a week's allowance used, in percent, with a plain warning ('' while there is no need)."""

    day_percent: float
    week_percent: float
    warning: str


def niosh_percent(exposures: Iterable[Exposure]) -> float:
    """The daily noise dose: 100·Σ C/T with T = 8 h / 2^((L−85)/3).

    Source: NIOSH 98-126 (formula from memory; its table of times read).

    Examples
    --------
    >>> round(niosh_percent([(91, 2), (85, 4), (80, 2)]), 2)
    157.87

    So two hours at 91 dBA alone are a whole day's dose.
    """
    return 100 * sum(hours / permitted_hours(level) for level, hours in exposures)


def permitted_hours(level_dba: float) -> float:
    """How long NIOSH recommends to stay at a level at most.

    >>> [permitted_hours(level) for level in (85, 88, 94)]
    [8.0, 4.0, 1.0]
    """
    return float(NIOSH_HOURS / 2 ** ((level_dba - NIOSH_LEVEL_DBA) / EXCHANGE_DB))


def time_weighted_average_dba(percent: float) -> float:
    """The steady level over 8 h that makes a dose: 10·log10(D/100) + 85 (NIOSH 98-126)."""
    from math import log10

    if percent <= 0:
        raise ValueError(f"a dose of {percent} % has no average level")
    return 10 * log10(percent / 100) + NIOSH_LEVEL_DBA


def pascal_square_hours(level_dba: float, hours: float) -> float:
    """The sound exposure in Pa²h.

    >>> round(pascal_square_hours(80, 40), 2)
    1.6
    """
    return float(10 ** ((level_dba - PASCAL_DB) / 10) * hours)


def weekly_hours(level_dba: float, who: str = "adult") -> float:
    """How long a level may last in a week by WHO-ITU H.870 (equal energy)."""
    reference, hours = WEEKLY[who]
    return float(hours / 10 ** ((level_dba - reference) / 10))


def weekly_percent(exposures: Iterable[Exposure], who: str = "adult") -> float:
    """How much of the weekly allowance is used, in percent."""
    return 100 * sum(hours / weekly_hours(level, who) for level, hours in exposures)


def dose(day: Iterable[Exposure], week: Iterable[Exposure], who: str = "adult") -> Dose:
    """The day's dose, the week's allowance, and what to say of it; not medical advice."""
    day_percent, week_percent = niosh_percent(day), weekly_percent(week, who)
    parts = []
    if day_percent >= WHOLE:
        parts.append(f"{day_percent:.0f} % of the daily noise dose recommended by NIOSH is reached: stop for today")
    elif day_percent >= HALF:
        parts.append(f"{day_percent:.0f} % of the daily noise dose recommended by NIOSH is used: turn down or rest")
    if week_percent >= WHOLE:
        parts.append(f"the week's sound allowance of WHO and ITU is used up ({week_percent:.0f} %): rest your ears")
    elif week_percent >= HALF and not parts:
        parts.append(f"{week_percent:.0f} % of the week's sound allowance of WHO and ITU is used")
    warning = "; ".join(parts) + (" (only what was played here; not medical advice)" if parts else "")
    return Dose(day_percent, week_percent, warning)
