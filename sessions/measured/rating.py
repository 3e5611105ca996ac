"""What rating an impedance supports, in words. Pure."""

from __future__ import annotations

from audio.curves.impedance import RATINGS_OHM, USUAL_OHM, Impedance


def rating(impedance: Impedance) -> str:
    """The rating that it supports by 80 %, and which of the usual ones that is."""
    if impedance.supports_ohm is None:
        return f"supports no rating of {min(RATINGS_OHM)} ohm or more"
    usual = impedance.usual_ohm or "none"
    among = ", ".join(map(str, USUAL_OHM))
    return (
        f"supports a rating of {impedance.supports_ohm} ohm by 80 %, of the usual ratings {among} it supports {usual}"
    )
