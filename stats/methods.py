"""What each blind method means for the arithmetic: chance, alternative, sensitivity. Data, each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from .counts import Alternative
from .errors import StatsError


@dataclass(frozen=True)
class Preset:
    """One method's numbers."""

    name: str
    chance: Fraction
    alternative: Alternative
    d_prime_method: str
    source: str


PRESETS = {
    "abx": Preset(
        "abx", Fraction(1, 2), "greater", "abx", "Leventhal, JAES 34(6), 1986: one-sided binomial, chance 1/2"
    ),
    "preference": Preset(
        "preference",
        Fraction(1, 2),
        "two-sided",
        "2afc",
        "ISO 5495:2005: paired comparison, two-sided where no side is foreseen",
    ),
}


def preset(method: str) -> Preset:
    """The numbers of a method.

    Raises
    ------
    StatsError
        If the method is unknown.
    """
    if method not in PRESETS:
        raise StatsError(f"the method is one of {', '.join(PRESETS)}; got {method!r}")
    return PRESETS[method]
