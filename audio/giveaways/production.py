"""Cues of how a file was made: its rate, its bandwidth, its word length."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .. import files
from ..clip import Clip
from ..files import FileInfo
from ..mend import Mend
from .findings import LIMITS, Finding, finding

LOWEST_HZ = 2000.0  # below it no file format cuts
HIGHEST_HZ = 20_000.0  # above it a cut is not heard; files of 44.1 kHz end a little higher
BANDS_PER_OCTAVE = 12
SMALLEST_DB = 95.0  # bands this far below the strongest are silence in both
LOOKED_AT_S = 10.0


def bandwidth(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """A step in the difference of the spectra, steeper than a loudspeaker makes: a file's own filter."""
    step_db, at_hz = steepest_step(reference, other)
    if step_db <= LIMITS["format-bandwidth"].value:
        return []
    at = f"{at_hz / 1000:.1f} kHz"
    what = f"the spectra of {setup} and the reference part by {step_db:.0f} dB at {at} (a lossy or low-rate file?)"
    return [finding("format-bandwidth", setup, passage, step_db, what)]


def steepest_step(reference: Clip, other: Clip) -> tuple[float, float]:
    """The largest change, within a sixth of an octave, of two clips' level difference: dB, and where in Hz."""
    highest = min(0.5 * reference.rate_hz, 0.5 * other.rate_hz, HIGHEST_HZ)
    count = int(np.floor(BANDS_PER_OCTAVE * np.log2(highest / LOWEST_HZ)))
    edges = LOWEST_HZ * 2 ** (np.arange(count + 1) / BANDS_PER_OCTAVE)
    if count < 3:
        return 0.0, highest
    apart = _band_levels(other, edges) - _band_levels(reference, edges)
    steps = np.abs(apart[2:] - apart[:-2])
    at = int(np.argmax(steps))
    return float(steps[at]), float(edges[at + 1])


def source_files(passage: str, setup: str, reference: FileInfo, other: FileInfo) -> list[Finding]:
    """Rate and word length of the files themselves."""
    found = []
    if reference.rate_hz != other.rate_hz:
        what = f"{setup} was recorded at {other.rate_hz} Hz, the reference at {reference.rate_hz} Hz"
        mend = Mend(rate_hz=max(other.rate_hz, reference.rate_hz))
        found.append(finding("format-rate", setup, passage, other.rate_hz - reference.rate_hz, what, mend))
    mine, theirs = word_length(reference), word_length(other)
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
    clip = files.read(info.path, 0, min(info.frames, round(LOOKED_AT_S * info.rate_hz)))
    steps = np.rint(clip.samples * 2.0 ** (info.bits - 1)).astype(np.int64)
    used = int(np.bitwise_or.reduce(np.abs(steps), axis=None))
    if used == 0:
        return None
    return info.bits - ((used & -used).bit_length() - 1)


def _band_levels(clip: Clip, edges: NDArray[np.float64]) -> NDArray[np.float64]:
    window = 1 << 13
    count = max(1, clip.frames // window)
    samples = np.pad(clip.samples, ((0, max(0, window - clip.frames)), (0, 0)))[: count * window]
    blocks = samples.reshape(count, window, clip.channels) * np.hanning(window)[None, :, None]
    power = np.sum(np.square(np.abs(np.fft.rfft(blocks, axis=1))), axis=(0, 2))
    totals = np.concatenate([[0.0], np.cumsum(power)])
    places = np.searchsorted(np.fft.rfftfreq(window, 1 / clip.rate_hz), edges)
    bands = totals[places[1:]] - totals[places[:-1]]
    widths = np.maximum(places[1:] - places[:-1], 1)
    density = bands / widths
    return 10 * np.log10(np.maximum(density, power.max() * 10 ** (-SMALLEST_DB / 10) + 1e-30))
