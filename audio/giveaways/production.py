"""Cues of how a file was made: its rate, its bandwidth, its word length."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..files import reading
from ..files.file_info import FileInfo
from ..mend import Mend
from .findings import LIMITS, Finding, finding
from .overdriven import BANDS_PER_OCTAVE, HIGHEST_HZ, MOMENT_FRAMES, overdriven

LOWEST_HZ = 2000.0  # below no file format cuts
WALL_BANDS = 2  # within a sixth of an octave a file's filter has fallen to its floor
ENOUGH_ABOVE_DB = 15.0  # below the wall the fuller one must stand so far above the other's floor beyond the limit
CARRIES_ON_DB = 12.0  # the fuller one falls by no more across the edge; else it ends there itself
LOOKED_AT_S = 10.0
BEYOND_FROM_HZ = 44_100  # files of higher rates hold something above 20 kHz, or not
BEYOND_HZ = 20_500.0  # what is below 20 kHz does not leak so far
BEYOND_DBFS = -95.0  # about a 16-bit file's own noise
PLAINLY_DB = 10.0  # a room or a loudspeaker makes less of what it plays up there, and plays it
FULL_DB = (
    -112.0
)  # a line: -85 dBFS over half an octave; what the fuller one has beyond the edge is above it, or not heard
MOVES_DB = 3.0  # music beyond the edge comes and goes by more; the noise of a chain does not (1 dB)
LEAST_OFTEN = (
    0.5  # of the moments may lack what reaches up to the edge: coders switch off bands below it in 0.4 of them
)
FAINTEST_DB = -150.0  # the dither of a 24-bit file lies near −180 dB a line, that of a 16-bit one near −134


@dataclass(frozen=True)
class Wall:
    """A cut-off that one of two clips has and the other has not: how deep, and where; deep < 0 in the reference."""

    depth_db: float
    at_hz: float


@dataclass(frozen=True)
class Beyond:
    """How loud a clip is above 20 kHz, and how much of it comes and goes; in dB re full scale, -200 for none."""

    level_db: float
    moving_db: float


def bandwidth(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """A step in the difference of the spectra, steeper than a loudspeaker makes: a file's own filter."""
    found = wall(reference, other)
    if found is None or abs(found.depth_db) <= LIMITS["format-bandwidth"].value:
        return []
    cut, whole = (setup, "the reference") if found.depth_db > 0 else ("the reference", setup)
    what = (
        f"{cut} holds next to nothing above {found.at_hz / 1000:.1f} kHz, where {whole} goes on "
        f"(a fall of {abs(found.depth_db):.0f} dB: a lossy or low-rate file?)"
    )
    return [finding("format-bandwidth", setup, passage, found.depth_db, what)]


def wall(reference: Clip, other: Clip) -> Wall | None:
    """The deepest cut-off that one of two clips of one rate has and the other has not; None where there is none.

    A cut-off is a fall within a sixth of an octave after which that clip stays down up to 20 kHz, while the other one
    carries on. So a gentle roll-off is none, nor a notch, nor the end of the music itself, nor noise that fills what
    lies beyond that end.
    """
    highest = min(HIGHEST_HZ, 0.5 * reference.rate_hz)
    count = int(np.floor(BANDS_PER_OCTAVE * np.log2(highest / LOWEST_HZ)))
    if count < WALL_BANDS + 2:
        return None
    edges = LOWEST_HZ * 2 ** (np.arange(count + 1) / BANDS_PER_OCTAVE)
    mine, theirs = _band_levels(reference, edges), _band_levels(other, edges)
    cuts = [Wall(depth, at) for depth, at in _walls(mine, theirs, edges)]
    cuts += [Wall(-depth, at) for depth, at in _walls(theirs, mine, edges)]
    for found in sorted(cuts, key=lambda each: -abs(each.depth_db)):
        whole, cut = (reference, other) if found.depth_db > 0 else (other, reference)
        beyond_hz = min(found.at_hz * 2 ** (WALL_BANDS / BANDS_PER_OCTAVE), 0.95 * highest)
        # nothing of the music below the edge, and no end of each of its notes
        if _moves_db(whole, beyond_hz, highest) <= MOVES_DB or overdriven(cut, whole, found.at_hz):
            continue
        if _stands(cut, whole, found.at_hz, beyond_hz, highest):
            return found
    return None


def beyond_hearing(passage: str, clips: Mapping[str, Clip]) -> list[str]:
    """Which of a passage's clips hold sound above 20 kHz, where not all of them do; a sentence for people, or none.

    It comes and goes with the music, as noise does not; and a clip is said to hold none only where all that it has up
    there, its noise too, is plainly less. Nobody hears it, so it is no giveaway.
    """
    beyond = {name: _beyond(clip) for name, clip in clips.items()}
    holding = [name for name, each in beyond.items() if each.moving_db > BEYOND_DBFS]
    least_db = min((beyond[name].moving_db for name in holding), default=-200.0)
    lacking = [name for name, each in beyond.items() if each.level_db < least_db - PLAINLY_DB]
    if not lacking:
        return []
    which = f"{', '.join(holding)} hold{'s' if len(holding) == 1 else ''} sound above 20 kHz"
    return [f"{passage}: {which}, {', '.join(lacking)} not; nobody hears it by itself, so it is no giveaway"]


def _beyond(clip: Clip) -> Beyond:
    """What is above 20 kHz, below nine tenths of half the rate."""
    highest = 0.45 * clip.rate_hz
    if highest <= BEYOND_HZ or clip.frames < MOMENT_FRAMES:
        return Beyond(-200.0, -200.0)
    moments = _moments_db(clip, BEYOND_HZ, highest)
    lines = (highest - BEYOND_HZ) * MOMENT_FRAMES / clip.rate_hz
    full = 0.5 * MOMENT_FRAMES * float(np.sum(np.square(np.blackman(MOMENT_FRAMES)))) / lines
    power = 10 ** (moments / 10) / full
    low, high = np.percentile(moments, (5, 95))
    moving = float(power.mean()) - 10 ** (float(low) / 10) / full if high - low > MOVES_DB else 0.0
    return Beyond(10 * float(np.log10(max(float(power.mean()), 1e-20))), 10 * float(np.log10(max(moving, 1e-20))))


def source_files(
    passage: str, setup: str, reference: FileInfo, other: FileInfo, bits: tuple[int | None, int | None]
) -> list[Finding]:
    """Rate and word length of the files themselves; `bits` are those in use in either."""
    found = []
    if reference.rate_hz != other.rate_hz:
        what = f"{setup} was recorded at {other.rate_hz} Hz, the reference at {reference.rate_hz} Hz"
        mend = Mend(rate_hz=max(other.rate_hz, reference.rate_hz))
        found.append(finding("format-rate", setup, passage, other.rate_hz - reference.rate_hz, what, mend))
    mine, theirs = bits
    if mine is not None and theirs is not None and abs(theirs - mine) > LIMITS["format-bits"].value:
        what = f"{setup} has {theirs} bits in use, the reference {mine}"
        found.append(finding("format-bits", setup, passage, theirs - mine, what))
    return found


def word_length(info: FileInfo) -> int | None:
    """The bits in use in a file of whole-number samples (a 16-bit recording in a 24-bit file uses 16); None for others.

    Read from the loudest part of its first ten seconds' worth of samples that are not silence.
    """
    if info.bits is None:
        return None
    clip = reading.read(info.path, 0, min(info.frames, round(LOOKED_AT_S * info.rate_hz)))
    steps = np.rint(clip.samples * 2.0 ** (info.bits - 1)).astype(np.int64)
    used = int(np.bitwise_or.reduce(np.abs(steps), axis=None))
    if used == 0:
        return None
    return info.bits - ((used & -used).bit_length() - 1)


def _walls(
    whole: NDArray[np.float64], cut: NDArray[np.float64], edges: NDArray[np.float64]
) -> Iterator[tuple[float, float]]:
    """Where `cut` falls and stays down while `whole` carries on: depth in dB, and the frequency in Hz."""
    apart = whole - cut
    for below in range(1, apart.size - WALL_BANDS):
        above = below + WALL_BANDS
        carries_on = whole[below] - whole[above] <= CARRIES_ON_DB
        level = np.median(apart[max(0, below - 3) : below + 1])
        depth = float(np.min(apart[above:][whole[above:] > FULL_DB], initial=200.0) - level)
        real = cut[below - 1] - np.max(cut[above:]) >= ENOUGH_ABOVE_DB  # the fall is the cut one's own
        full = np.min(whole[below : above + 1]) > FULL_DB
        if full and carries_on and real and depth > 0 and abs(apart[below - 1] - level) < ENOUGH_ABOVE_DB:
            yield depth, float(edges[below + 1])


def _stands(cut: Clip, whole: Clip, at_hz: float, beyond_hz: float, highest_hz: float) -> bool:
    """Whether `cut` reaches up to the edge when there is sound beyond it: a file's filter stays, notes end anywhere.

    What overdrives music that ends of itself fills what lies beyond that end, too.
    """
    below, beyond = _moments_db(cut, at_hz**2 / beyond_hz, at_hz), _moments_db(cut, beyond_hz, highest_hz)
    full = _moments_db(whole, beyond_hz, highest_hz)
    count = min(below.size, full.size)
    loud = full[:count] >= np.median(full[:count])
    return float(np.quantile((below - beyond)[:count][loud], LEAST_OFTEN)) > ENOUGH_ABOVE_DB


def _moves_db(clip: Clip, low_hz: float, high_hz: float) -> float:
    """Between which levels the sound from one frequency to another comes and goes (5th to 95th percentile), in dB."""
    levels = _moments_db(clip, low_hz, high_hz)
    if not levels.size:
        return 0.0
    low, high = np.percentile(levels, (5, 95))
    return float(high - low)


def _moments_db(clip: Clip, low_hz: float, high_hz: float) -> NDArray[np.float64]:
    """The mean level of a line from one frequency to another in each moment, all channels together, in dB."""
    count = clip.frames // MOMENT_FRAMES
    blocks = clip.samples[: count * MOMENT_FRAMES].reshape(count, MOMENT_FRAMES, clip.channels)
    freqs = np.fft.rfftfreq(MOMENT_FRAMES, 1 / clip.rate_hz)
    inside = (freqs >= low_hz) & (freqs <= high_hz)
    lines = np.fft.rfft(blocks * np.blackman(MOMENT_FRAMES)[None, :, None], axis=1)[:, inside]
    power = np.sum(np.square(np.abs(lines)), axis=(1, 2)) / max(1, int(inside.sum()))
    return np.asarray(10 * np.log10(np.maximum(power, 1e-20)))


def _band_levels(clip: Clip, edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """The mean density in each band, all channels together, in dB re full scale per spectral line."""
    window = 1 << 13
    count = max(1, clip.frames // window)
    samples = np.pad(clip.samples, ((0, max(0, window - clip.frames)), (0, 0)))[: count * window]
    shape = np.blackman(window)
    blocks = samples.reshape(count, window, clip.channels) * shape[None, :, None]
    power = np.sum(np.square(np.abs(np.fft.rfft(blocks, axis=1))), axis=(0, 2)) / (count * np.sum(shape) ** 2)
    totals = np.concatenate([[0.0], np.cumsum(power)])
    places = np.searchsorted(np.fft.rfftfreq(window, 1 / clip.rate_hz), edges)
    density = (totals[places[1:]] - totals[places[:-1]]) / np.maximum(places[1:] - places[:-1], 1)
    return np.asarray(10 * np.log10(np.maximum(density, 10 ** (FAINTEST_DB / 10))))
