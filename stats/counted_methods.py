"""What each blind method means for the arithmetic: chance, alternative, sensitivity. Data, each with its source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from .errors import StatsError
from .validation import Alternative

HALF, THIRD = Fraction(1, 2), Fraction(1, 3)


@dataclass(frozen=True)
class CountedMethod:
    """The numbers of a method whose answers are counted: right or wrong, or (`asks_preference`) for one or the other.

    `d_prime_method` names its sensitivity; with `differencing_too` that of the differencing model is given as well.
    """

    name: str
    chance: Fraction
    alternative: Alternative
    d_prime_method: str
    source: str
    asks_preference: bool = False
    differencing_too: bool = False

    @property
    def usual_effect(self) -> Fraction:
        """The proportion to be found where nobody says another: it is truly heard in half of the trials."""
        return self.chance + (1 - self.chance) / 2


COUNTED_METHODS = {
    method.name: method
    for method in (
        CountedMethod(
            "abx",
            HALF,
            "greater",
            "abx",
            "Leventhal, JAES 34(6), 1986: one-sided binomial, chance 1/2",
            differencing_too=True,
        ),
        CountedMethod(
            "preference",
            HALF,
            "two-sided",
            "2afc",
            "ISO 5495:2005: paired comparison, two-sided where no side is foreseen",
            asks_preference=True,
        ),
        CountedMethod("triangle", THIRD, "greater", "triangle", "ISO 4120:2004: one-sided binomial, chance 1/3"),
        CountedMethod("duo-trio", HALF, "greater", "duo-trio", "ISO 10399: one-sided binomial, chance 1/2"),
        CountedMethod(
            "tetrad", THIRD, "greater", "tetrad", "Ennis, J. Sens. Stud. 8 (1993): chance 1/3 (title from memory)"
        ),
        CountedMethod(
            "same-different",
            HALF,
            "greater",
            "same-different",
            "Macmillan and Creelman, Detection Theory: each trial is same or different by a fair coin, so that any "
            "habit of answering is right in half of them",
        ),
    )
}


def counted_method(method: str) -> CountedMethod:
    """The numbers of a method.

    Raises
    ------
    StatsError
        If the method is unknown.
    """
    if method not in COUNTED_METHODS:
        raise StatsError(f"the method is one of {', '.join(COUNTED_METHODS)}; got {method!r}")
    return COUNTED_METHODS[method]


def with_direction(method: str, alternative: Alternative | None) -> CountedMethod:
    """The method's numbers, a preference one-sided where the plan foresaw its side."""
    chosen = counted_method(method)
    if alternative is None or alternative == chosen.alternative:
        return chosen
    if not chosen.asks_preference:
        raise StatsError(f"{method} is tested one-sided, against guessing; only a preference has two sides")
    source = "ISO 5495:2005: paired comparison, one-sided where the side is foreseen"
    return replace(chosen, alternative=alternative, source=source)
