"""Which setups `words learn` learns from, in a sentence: how many, where described, which octaves of them. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .context import counted

if TYPE_CHECKING:
    from ..words.tracks_described import TracksDescribed


def described_setups(whose: str, bands: tuple[str, ...], described: tuple[TracksDescribed, ...]) -> str:
    """Which setups there are to learn from, and which octaves of them: how much of one is told against the others."""
    if not described:
        return f"{whose} described no setup that was measured on axis."
    each = "" if len(described) == 1 else "each "
    there = f"{whose} described {counted(len(described), 'setup')} measured on axis, {each}{where(described)}"
    if len(described) == 1:
        return f"{there}: what it has more of than other setups cannot be told before there is another."
    if not bands:
        return f"{there}: no octave was measured validly of all of them in which they are not alike."
    were = "was" if len(bands) == 1 else "were"
    return f"{there}: {counted(len(bands), 'octave')} ({_ends(bands)}) {were} measured validly of all of them."


def where(described: tuple[TracksDescribed, ...]) -> str:
    """In how many tracks each of some setups was described, or that it was outside of any."""
    numbers = [one.tracks for one in described if one.tracks]
    if not numbers:
        return "outside of any track"
    low, high = min(numbers), max(numbers)
    within = f"in {'' if low == high else f'{low} to '}{counted(high, 'track')}"
    return within if len(numbers) == len(described) else f"{within} or outside of any"


def _ends(bands: tuple[str, ...]) -> str:
    return bands[0] if len(bands) == 1 else f"{bands[0]} to {bands[-1]}"
