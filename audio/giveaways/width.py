"""Width: the side signal's gain against the middle's, another in one recording than in the other. Pure.

Middle and side of the one are each explained by middle and side of the other, line by line. What both loudspeakers do
to the music, however uneven, then stands in both gains and cancels; so does what one of them does and the other not,
which stands in the crossed gains. Where the side is too faint, or is but the middle panned, or a room leaves much
unexplained, nothing is said: then the two directions, or the gain's least and its most, do not agree.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .findings import LIMITS, Finding, finding
from .gain_course import SHARES_HZ, Lines, Moments

FAINTEST_SIDE = 1e-4  # of the middle's energy in a line
FAINTEST_LINE = 1e-6  # of the strongest line's
OWN_PART = 0.1  # of the side's energy that the middle must not explain
FEWEST_LINES, FEWEST_BANDS = 5, 3


def width(passage: str, setup: str, reference: Moments, other: Moments) -> list[Finding]:
    """Whether the other is wider or narrower than the reference, of clips in step."""
    wider_db = width_db(reference, other)
    if wider_db is None or abs(wider_db) <= LIMITS["width"].value:
        return []
    word = "wider" if wider_db > 0 else "narrower"
    what = (
        f"{setup}'s stereo is {abs(wider_db):.1f} dB {word} than the reference's (side against middle); "
        "bring recordings of one width"
    )
    return [finding("width", setup, passage, wider_db, what)]


def width_db(reference: Moments, other: Moments) -> float | None:
    """How much more gain the other's side has against its middle; None where that cannot be told. Of two channels.

    The least of what either direction and either way of averaging bear out; 0 if they do not agree which is wider.
    """
    values = _readings_db(reference, other)
    if values is None:
        return None
    return 0.0 if min(values) * max(values) <= 0 else min(values, key=abs)


def scatter_db(reference: Moments, other: Moments) -> float:
    """How far apart the readings of the width are, as by rooms that fill the side; 0 where there are none."""
    values = _readings_db(reference, other)
    return 0.0 if values is None else max(values) - min(values)


def with_width(clip: Clip, wider_db: float) -> Clip:
    """A clip of two channels with so much more gain in its side."""
    middle = clip.samples.mean(axis=1, keepdims=True)
    return Clip(middle + 10 ** (wider_db / 20) * (clip.samples - middle), clip.rate_hz)


def _readings_db(reference: Moments, other: Moments) -> list[float] | None:
    if reference.channel.max(initial=0) != 1 or other.channel.max(initial=0) != 1:
        return None
    there, back = _range_db(reference, other), _range_db(other, reference)
    return None if there is None or back is None else [*there, *(-value for value in back)]


def _range_db(reference: Moments, other: Moments) -> tuple[float, float] | None:
    """Least and most of the side's gain against the middle's, the median over bands."""
    middle, side = middle_and_side(reference)
    middle_2, side_2 = middle_and_side(other)
    power, own, tied = mean_of(middle, middle).real, mean_of(side, side).real, mean_of(middle, side)
    apart = power * own - np.square(np.abs(tied))
    heard = (own > FAINTEST_SIDE * power) & (power > FAINTEST_LINE * power.max()) & (own > FAINTEST_LINE * power.max())
    heard &= apart > OWN_PART * power * own
    apart = np.maximum(apart, 1e-20)
    gain = (mean_of(middle_2, middle) * own - mean_of(middle_2, side) * tied.conj()) / apart
    side_gain = (mean_of(side_2, side) * power - mean_of(side_2, middle) * tied) / apart
    freqs = reference.freqs_hz[: len(middle)]
    least, most = [], []
    for low_hz, high_hz in itertools.pairwise(SHARES_HZ):
        lines = heard & (freqs >= low_hz) & (freqs < high_hz)
        if lines.sum() >= FEWEST_LINES:
            of_middle, of_side = gain[lines], side_gain[lines]
            one, two = np.square(np.abs(of_middle)), np.square(np.abs(of_side))
            weight = 1 / np.maximum(one + two, 1e-20)  # an uneven response weighs no line more than others
            both = max(float(np.sum(weight * np.real(of_side * of_middle.conj()))), 1e-9)
            least.append(20 * np.log10(both / max(float(np.sum(weight * one)), 1e-9)))
            most.append(20 * np.log10(max(float(np.sum(weight * two)), 1e-9) / both))
    return (float(np.median(least)), float(np.median(most))) if len(least) >= FEWEST_BANDS else None


def middle_and_side(clip: Moments) -> tuple[Lines, Lines]:
    """The lines of the sum and of the difference of two channels; (lines, moments)."""
    left, right = clip.lines[clip.channel == 0], clip.lines[clip.channel == 1]
    return left + right, left - right


def mean_of(one: Lines, two: Lines) -> NDArray[np.complex128]:
    """What two have in common in each line, the mean over the moments."""
    return np.asarray(np.mean(one * two.conj(), axis=1))
