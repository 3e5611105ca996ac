"""What rating an impedance supports, in words. Pure."""

from __future__ import annotations

from audio.curves.impedance import RATINGS_OHM, SHARE, USUAL_OHM, Impedance

AT_THE_LIMIT = 0.01  # of 80 % of a rating: nearer than that no meter tells on which side it lies; our choice


def rating(impedance: Impedance) -> str:
    """The rating that it supports by 80 %, and which of the usual ones that is; or why no rating follows."""
    if impedance.unmeasured:
        return f"{impedance.unmeasured}: no rating follows"
    near = [one for one in RATINGS_OHM if is_at_the_limit(impedance.minimum_ohm, SHARE * one)]
    beside = f"; that is at the limit of {near[0]} ohm" if near else ""
    if impedance.supports_ohm is None:
        return f"supports no rating of {min(RATINGS_OHM)} ohm or more{beside}"
    usual = impedance.usual_ohm or "none"
    among = ", ".join(map(str, USUAL_OHM))
    return (
        f"supports a rating of {impedance.supports_ohm} ohm by 80 %, of the usual ratings {among} it supports {usual}"
        f"{beside}"
    )


def least_in_words(impedance: Impedance) -> str:
    """The minimum in ohm, with a digit more where it lies at the limit of a rating."""
    near = any(is_at_the_limit(impedance.minimum_ohm, SHARE * one) for one in RATINGS_OHM)
    return f"{impedance.minimum_ohm:.{2 if near else 1}f} ohm"


def is_at_the_limit(ohm: float, limit_ohm: float) -> bool:
    """Whether it lies within 1 % of a limit."""
    return abs(ohm / limit_ohm - 1) <= AT_THE_LIMIT * (1 + 1e-9)
