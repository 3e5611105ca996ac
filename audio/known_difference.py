"""Known differences: a prepared file with an octave lifted, or all of it louder by a step, made on purpose.

What a listener hears of a difference whose size is known says what they could have heard of one that is not. A lift is
made equally loud again, so that its colour alone is heard; a step is nothing but level. How much a lift comes to
depends on the music: `change_db` says how far below it lies what was changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from . import prepare
from .clip import Clip
from .errors import MeasureError, PassageError
from .files import reading, writing
from .giveaways import timing
from .levels.true_peak import true_peak_db
from .levels.weighting import By, a_weight_db, level_db

CEILING_DBTP = (
    -0.1
)  # setups keep to -1 dBTP, often exactly; a lift needs some of that, and nothing clips below full scale
GOOD_ENOUGH_DB = 0.005  # as in `prepare`: the gain is refined until less than this is left, at most `MOST_PASSES` times
MOST_PASSES = 3
TENTH_DB = 0.1  # what would fit is told in tenths
RINGING_S = 1.0  # 12 dB around 40 Hz, the slowest lift that is planned, has died away by 380 dB then
LEAST_CHANGE_DB = -200.0  # below what 24 bits could hold; stands for no change at all


@dataclass(frozen=True)
class Lift:
    """A band of so many octaves around `centre_hz`, lifted by `lift_db` at its centre."""

    centre_hz: int
    lift_db: float
    octaves: float = 1.0

    level_db = 0.0  # as loud as before

    def of(self, clip: Clip) -> Clip:
        """The clip with its octave lifted, in place and of its length; how loud it is follows from that.

        Raises
        ------
        ValueError
            If the band does not lie below half the rate; the message says which would.

        Notes
        -----
        The filter's response multiplies the spectrum, so that its magnitude is the formula's at every rate; a digital
        filter made by the bilinear transform would squeeze the band towards half the rate. What remains: nothing above
        half the rate is lifted, since nothing is there, and the phase, which there is no longer 0, ends there at once.
        That rings at half the rate, before and after, for what lies just below it; nobody hears so high.
        """
        from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

        edge = 2 ** (self.octaves / 2)
        if not self.centre_hz * edge < clip.rate_hz / 2:
            most = math.ceil(clip.rate_hz / 2 / edge) - 1
            raise ValueError(
                f"{self.octaves:g} octave around {self.centre_hz:g} Hz does not fit below half of {clip.rate_hz} Hz; "
                f"choose at most {most} Hz"
            )
        length = next_fast_len(clip.frames + round(RINGING_S * clip.rate_hz), real=True)
        response = peaking(rfftfreq(length, 1 / clip.rate_hz), self.centre_hz, self.lift_db, self.octaves)
        spectrum = rfft(clip.samples, length, axis=0)
        added = np.asarray(irfft(spectrum * (response - 1)[:, None], length, axis=0))[: clip.frames]
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


class Change(Protocol):
    """Whatever changes a clip by one size: a known difference, or an artefact to learn by."""

    @property
    def level_db(self) -> float:
        """By how much louder it is to be."""

    def of(self, clip: Clip) -> Clip:
        """The clip with the change."""


def peaking(freqs_hz: NDArray[np.float64], centre_hz: float, lift_db: float, octaves: float) -> NDArray[np.complex128]:
    """The response of a minimum-phase peaking filter: `lift_db` at the centre, half of that in dB at its band's ends.

    Parameters
    ----------
    octaves
        The width of the band.

    Notes
    -----
    The analogue peaking equaliser of R. Bristow-Johnson's Audio EQ Cookbook (W3C Working Group Note, 2021),
    (s² + s A/Q + 1)/(s² + s/(AQ) + 1) with 1/Q = 2 sinh(octaves · ln 2/2). Its zeros lie in the left half-plane as its
    poles do, so that it delays nothing but what it lifts.
    """
    amplitude, over_q = 10 ** (lift_db / 40), 2 * math.sinh(math.log(2) / 2 * octaves)
    s = 1j * freqs_hz / centre_hz
    return np.asarray((s * s + s * amplitude * over_q + 1) / (s * s + s * over_q / amplitude + 1))


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
        made = levelled(clip, difference, by)
    except ValueError as error:
        raise MeasureError(f"passage {passage!r} at {clip.rate_hz} Hz: {error}") from error
    _check_peak(passage, clip, made, difference, by)
    _check_in_step(passage, clip, made)
    writing.write(path, made, subtype="PCM_24", seed=prepare.dither(seed))
    prepare.stamp(path)


def levelled(clip: Clip, difference: Change, by: By) -> Clip:
    """The difference made, and all but a step as loud as before.

    Raises
    ------
    ValueError
        If the band does not lie below half the rate.
    MeasureError
        If it is too quiet to have a level.
    """
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


def left_db(source: Path, path: Path, difference: Difference, by: By) -> float:
    """By how much the level of what was made is off what was wanted, in dB; read back from both files."""
    return abs(_level(reading.read(path), by) - _level(reading.read(source), by) - difference.level_db)


def change_db(source: Path, path: Path) -> float:
    """How far below the passage lies what the difference changes in it, in dB; read back from both files.

    Notes
    -----
    The energy of the changes of magnitude over that of the passage, both A-weighted: 10 lg(Σ (|Y| − |X|)² / Σ |X|²)
    over the bins of the spectra of the whole passage, all channels together. Magnitudes, because a lift turns the phase
    of everything below it by a little, which nobody hears. All louder by d dB, it is 20 lg(10^(d/20) − 1), −38.7 for a
    tenth of a decibel.
    """
    one, other = reading.read(source), reading.read(path)
    before, after = (np.abs(np.fft.rfft(clip.samples, axis=0)) for clip in (one, other))
    freqs_hz = np.asarray(np.fft.rfftfreq(one.frames, 1 / one.rate_hz), dtype=np.float64)
    gain = 10 ** (a_weight_db(freqs_hz) / 10)[:, None]
    share = float(np.sum(gain * np.square(after - before)) / np.sum(gain * np.square(before)))
    return 10 * math.log10(max(share, 10 ** (LEAST_CHANGE_DB / 10)))


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
        fits = _peak(levelled(clip, difference.sized(middle * TENTH_DB), by)) <= CEILING_DBTP
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
