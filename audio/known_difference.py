"""Known differences: a prepared file with an octave lifted, or all of it louder by a step, made on purpose.

What a listener hears of a difference whose size is known says what they could have heard of one that is not. A lift is
made equally loud again, so that its colour alone is heard; a step is nothing but level.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from . import prepare
from .clip import Clip
from .errors import MeasureError, PassageError
from .files import reading, writing
from .giveaways import timing
from .levels.true_peak import true_peak_db
from .levels.weighting import By, level_db

CEILING_DBTP = (
    -0.1
)  # setups keep to -1 dBTP, often exactly; a lift needs some of that, and nothing clips below full scale
GOOD_ENOUGH_DB = 0.005  # as in `prepare`: the gain is refined until less than this is left, at most `MOST_PASSES` times
MOST_PASSES = 3
TENTH_DB = 0.1  # what would fit is told in tenths


@dataclass(frozen=True)
class Lift:
    """A band of so many octaves around `centre_hz`, lifted by `lift_db` at its centre."""

    centre_hz: int
    lift_db: float
    octaves: float = 1.0

    level_db = 0.0  # as loud as before

    def of(self, clip: Clip) -> Clip:
        """The clip with its octave lifted, in place and of its length; how loud it is follows from that."""
        from scipy.signal import lfilter

        filtered = np.asarray(
            lfilter(*peaking(clip.rate_hz, self.centre_hz, self.lift_db, self.octaves), clip.samples, axis=0)
        )
        added = filtered - clip.samples
        fall = prepare.rise(clip.rate_hz)[::-1]
        added[-fall.size :] *= fall[:, None]  # it would ring past the end
        return Clip(clip.samples + added, clip.rate_hz, clip.channel_mask)

    def sized(self, size_db: float) -> Lift:
        """The same by another amount."""
        return replace(self, lift_db=size_db)

    @property
    def size_db(self) -> float:
        """By how much."""
        return self.lift_db


@dataclass(frozen=True)
class Step:
    """All of it louder by `step_db`; quieter where that is below 0."""

    step_db: float

    @property
    def level_db(self) -> float:
        """By how much louder it is to be."""
        return self.step_db

    def of(self, clip: Clip) -> Clip:
        """The clip louder by the step."""
        return Clip(clip.samples * 10 ** (self.step_db / 20), clip.rate_hz, clip.channel_mask)

    def sized(self, size_db: float) -> Step:
        """The same by another amount."""
        return replace(self, step_db=size_db)

    @property
    def size_db(self) -> float:
        """By how much."""
        return self.step_db


Difference = Lift | Step


class Coefficients(NamedTuple):
    """A digital filter's numerator and denominator."""

    numerator: NDArray[np.float64]
    denominator: NDArray[np.float64]


def peaking(rate_hz: int, centre_hz: float, lift_db: float, octaves: float) -> Coefficients:
    """A minimum-phase peaking filter: `lift_db` at the centre, half of that in dB at the ends of its band.

    Parameters
    ----------
    octaves
        The width of the band.

    Raises
    ------
    ValueError
        If the band does not lie below half the rate.

    Notes
    -----
    The peaking equaliser of R. Bristow-Johnson's Audio EQ Cookbook (W3C Working Group Note, 2021), with its bandwidth
    in octaves. Its zeros lie inside the unit circle as its poles do, so that it delays nothing but what it lifts.
    """
    if not centre_hz * 2 ** (octaves / 2) < rate_hz / 2:
        raise ValueError(f"{octaves:g} octave around {centre_hz:g} Hz does not fit below half of {rate_hz} Hz")
    amplitude = 10 ** (lift_db / 40)
    turn = 2 * math.pi * centre_hz / rate_hz
    alpha = math.sin(turn) * math.sinh(math.log(2) / 2 * octaves * turn / math.sin(turn))
    middle = -2 * math.cos(turn)
    return Coefficients(
        np.array([1 + alpha * amplitude, middle, 1 - alpha * amplitude]),
        np.array([1 + alpha / amplitude, middle, 1 - alpha / amplitude]),
    )


def write(passage: str, source: Path, path: Path, difference: Difference, *, by: By, seed: bytes) -> None:
    """Write a prepared file with the difference beside it, as 24-bit WAV, and check it as a setup's is checked.

    Parameters
    ----------
    by
        The measure in which setups were matched; a lift is made as loud as its source by it.
    seed
        That of the source's dither, so that it is the same.

    Raises
    ------
    PassageError
        If it would clip; the message says what would fit.
    MeasureError
        If the band does not fit, or what was made does not lie in step with its source.
    """
    clip = reading.read(source)
    try:
        made = _levelled(clip, difference, by)
    except ValueError as error:
        raise MeasureError(f"passage {passage!r} at {clip.rate_hz} Hz: {error}; choose a lower one") from error
    _check_peak(passage, clip, made, difference, by)
    _check_in_step(passage, clip, made)
    writing.write(path, made, subtype="PCM_24", seed=prepare.dither(seed))
    prepare.stamp(path)


def left_db(source: Path, path: Path, difference: Difference, by: By) -> float:
    """By how much the level of what was made is off what was wanted, in dB; read back from both files."""
    return abs(_level(reading.read(path), by) - _level(reading.read(source), by) - difference.level_db)


def _levelled(clip: Clip, difference: Difference, by: By) -> Clip:
    """The difference made, and a lift as loud as before."""
    made = difference.of(clip)
    if isinstance(difference, Step):
        return made
    wanted, gain_db = _level(clip, by) + difference.level_db, 0.0
    for _ in range(MOST_PASSES):
        scaled = Clip(made.samples * 10 ** (gain_db / 20), clip.rate_hz, clip.channel_mask)
        lacking = wanted - _level(scaled, by)
        if abs(lacking) <= GOOD_ENOUGH_DB:
            break
        gain_db += lacking
    return Clip(made.samples * 10 ** (gain_db / 20), clip.rate_hz, clip.channel_mask)


def _check_peak(passage: str, clip: Clip, made: Clip, difference: Difference, by: By) -> None:
    peak = _peak(made)
    if peak <= CEILING_DBTP:
        return
    fits = _largest_that_fits(clip, difference, by)
    what = "lift" if isinstance(difference, Lift) else "step"
    smaller = f"a {what} of {fits:.1f} dB fits" if fits > 0 else f"no {what} fits, so near full scale it is"
    other = " (so does a step down)" if isinstance(difference, Step) else ""
    raise PassageError(
        f"passage {passage!r}: its known difference of {difference.size_db:g} dB would reach {peak:+.1f} dBTP, above "
        f"{CEILING_DBTP:g}; {smaller}{other}"
    )


def _largest_that_fits(clip: Clip, difference: Difference, by: By) -> float:
    """The largest size in dB, in whole tenths, that stays below the ceiling; 0 where none does."""
    low, high = 0, math.ceil(difference.size_db / TENTH_DB)  # the peak grows with the size: what fits is searched so
    while high - low > 1:
        middle = (low + high) // 2
        fits = _peak(_levelled(clip, difference.sized(middle * TENTH_DB), by)) <= CEILING_DBTP
        low, high = (middle, high) if fits else (low, middle)
    return low * TENTH_DB


def _check_in_step(passage: str, clip: Clip, made: Clip) -> None:
    """A filter of minimum phase moves nothing; whatever did would be another difference than the one that is told."""
    step = timing.in_step(clip, made)
    found = [] if step is None else timing.timing(passage, "the known difference", clip, made, step)
    if found:
        raise MeasureError(f"passage {passage!r}: {found[0].what}; choose another known difference")


def _level(clip: Clip, by: By) -> float:
    level = level_db(clip, by)
    if level is None:
        raise MeasureError("what is prepared is too quiet to measure")  # silence is refused before
    return level


def _peak(clip: Clip) -> float:
    peak = true_peak_db(clip.samples, clip.rate_hz)
    assert peak is not None  # silence has no level, and is refused before
    return peak
