"""Sounds as a browser takes them: at its own rate, whole, each with dither of its own; and whether it plays them so.

Pure. It knows no network and no trial. A browser that is given another rate resamples by itself, and loses treble
without a change of loudness; so what it gets is resampled here, by the path of every other file. What it decoded, and
played through the very nodes that sound, it reads again: to the bit, by the sum of all 24-bit steps; else by K-weighted
power (ITU-R BS.1770-5 without gating) and by the power of the slope, which shows a loss of treble.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field

import numpy as np

from .clip import Clip, Samples
from .errors import MeasureError
from .files.file_info import HIGHEST_RATE_HZ, LOWEST_RATE_HZ
from .files.wav_bytes import HEADER_BYTES, encoded, samples
from .levels.k_weighting import weighted
from .resample import resample

TOLERANCE_DB = 0.01  # of what the browser reads against what it was given; a tenth of what a match allows; our choice
NEGLIGIBLE_POWER = 1e-13  # 130 dB below full scale: below it a channel is as good as silent; our choice


@dataclass(frozen=True)
class Reading:
    """What a browser reads of a sound as it plays it.

    Attributes
    ----------
    crc32
        Of its samples as 24-bit steps, three bytes each, the lowest first, channel by channel in each frame.
    k_power, slope_power
        For each channel: the mean square after K-weighting, and of the differences from one sample to the next.
    """

    rate_hz: int
    frames: int
    channels: int
    crc32: int
    k_power: tuple[float, ...]
    slope_power: tuple[float, ...]


@dataclass(frozen=True)
class BrowserSound:
    """A sound as a file for a browser."""

    rate_hz: int
    frames: int
    channels: int
    body: bytes = field(repr=False)

    def reading(self) -> Reading:
        """What a browser that changes nothing reads."""
        values = samples(self.body)
        return Reading(
            self.rate_hz,
            self.frames,
            self.channels,
            zlib.crc32(memoryview(self.body)[HEADER_BYTES:]),
            *powers(values, self.rate_hz),
        )


def check_rate(rate_hz: int) -> None:
    """Nothing, if a browser's sound can run at such a rate.

    Raises
    ------
    MeasureError
        If it cannot.
    """
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise MeasureError(f"the browser says that its sound runs at {rate_hz} Hz; use another browser or device")


def made(clip: Clip, rate_hz: int, dither: int) -> BrowserSound:
    """The clip as a file for a browser whose sound runs at `rate_hz`.

    Parameters
    ----------
    dither
        Seed of its dither: another one for every sound that is made, also of one clip.

    Raises
    ------
    MeasureError
        If no sound runs at such a rate.
    FileError
        If it has more than two channels, or would clip.
    PassageError
        If samples are not numbers.
    """
    check_rate(rate_hz)
    there = resample(clip, rate_hz)
    body = encoded(there, np.random.Generator(np.random.PCG64(dither)))
    return BrowserSound(rate_hz, there.frames, there.channels, body)


def powers(values: Samples, rate_hz: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """K-weighted power and power of the slope for each channel of samples of shape (frames, channels)."""
    k_power = np.mean(weighted(values, rate_hz) ** 2, axis=0)
    slope = np.sum(np.diff(values, axis=0) ** 2, axis=0) / values.shape[0]
    return tuple(map(float, k_power)), tuple(map(float, slope))


def check(sound: BrowserSound, read: Reading) -> bool:
    """Whether the browser plays the sound to the bit; False if it differs by no more than the tolerance.

    Raises
    ------
    MeasureError
        If it differs by more, or in rate, length or channels.
    """
    given = sound.rate_hz, sound.frames, sound.channels
    got = read.rate_hz, read.frames, read.channels
    if given != got:
        raise MeasureError(
            f"the browser made {got[1]} frames of {got[2]} channels at {got[0]} Hz of what has {given[1]} of "
            f"{given[2]} at {given[0]} Hz; load the page again, and use another browser if it stays so"
        )
    if read.crc32 == zlib.crc32(memoryview(sound.body)[HEADER_BYTES:]):
        return True
    wanted = sound.reading()
    for what, should, does in (
        ("level", wanted.k_power, read.k_power),
        ("treble", wanted.slope_power, read.slope_power),
    ):
        off_db = _off_db(should, does)
        if not abs(off_db) <= TOLERANCE_DB:
            raise MeasureError(
                f"the browser plays another sound than it was given: its {what} is {off_db:+.3f} dB off; "
                "use another browser, or this machine's own device"
            )
    return False


def _off_db(should: tuple[float, ...], does: tuple[float, ...]) -> float:
    """By how much the channel that is furthest off is, in dB; not a number where a power is none."""
    if len(should) != len(does):
        return float("nan")
    ratios = (np.array(does) + NEGLIGIBLE_POWER) / (np.array(should) + NEGLIGIBLE_POWER)
    if not np.all(ratios > 0):
        return float("nan")
    found = 10 * np.log10(ratios)
    return float(found[np.argmax(np.abs(found))])
