"""Repairing what could give a setup away: a recording that is late, runs on another clock, is turned round or off zero.

It cuts passages from files with the repair applied. What needs a repair is the giveaways' affair.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .clip import Clip, Samples
from .errors import MeasureError, PassageError
from .files import reading
from .files.file_info import FileInfo
from .mend_values import Mend as Mend  # users of mends find it here
from .resample import resample

MOST_STRETCH_PPM = 1000.0  # beyond it, it is another speed and not another clock; our choice
MARGIN_S = 0.25  # read on either side of a cut, so that no filter rings in from an edge inside it
SETTLING_S = 1.0  # a high-pass starts so long before the cut: at 10 Hz what it rings by has fallen by 380 dB then
KERNEL_FRAMES = 64  # half length of the interpolating kernel
KERNEL_PHASES = 2048  # kernels kept; between two of them the straight line is off by less than −120 dB
KERNEL_BETA = 12.0  # Kaiser window: stop band below −110 dB


def read_mended(
    path: Path, start_frame: int, frames: int, passage_rate_hz: int, rate_hz: int, mend: Mend | None = None
) -> Clip:
    """A passage as it will be used: cut from the file, mended, at the rate asked for.

    Parameters
    ----------
    start_frame, frames
        The cut, counted at `passage_rate_hz`.
    rate_hz
        Rate of the result; it holds exactly ``round(frames * rate_hz / passage_rate_hz)`` frames.
    mend
        The repair; None for none. Beyond the ends of the file there is silence. A high-pass is a Butterworth one of
        second order that runs forward only (turning the phase by 16 degrees at 50 Hz where its corner is 10 Hz), from a
        second before the cut, or from the file's start as if its first sample had always been there: at the cut it has
        settled.

    Raises
    ------
    FileError
        If the file cannot be used.
    PassageError
        If the cut lies outside the file altogether.
    MeasureError
        If the stretch is beyond ±1000 ppm.
    """
    mend = mend or Mend()
    if abs(mend.stretch_ppm) > MOST_STRETCH_PPM:
        raise MeasureError(
            f"a clock off by {mend.stretch_ppm:.0f} ppm is another speed; bring a better recording of {path}"
        )
    info = reading.inspect(path)
    wanted = round(frames * rate_hz / passage_rate_hz)
    start = start_frame * info.rate_hz / passage_rate_hz + mend.delay_s * info.rate_hz
    if start >= info.frames or start + frames * info.rate_hz / passage_rate_hz <= 0:
        raise PassageError(
            f"the passage at {start / info.rate_hz:.2f} s lies outside {path} ({info.length_s:.2f} s long)"
        )
    speed = 1 + mend.stretch_ppm * 1e-6
    if mend.high_pass_hz is None:
        samples = _cut(path, info, start, wanted, speed, rate_hz)
    else:
        settling = round(SETTLING_S * rate_hz)
        step = speed * info.rate_hz / rate_hz
        start -= settling * step
        samples = _cut(path, info, start, settling + wanted, speed, rate_hz)
        first, last = max(0, int(np.ceil(-start / step))), int(np.ceil((info.frames - start) / step))
        samples[first:last] = _high_passed(samples[first:last], rate_hz, mend.high_pass_hz)
        samples = samples[settling:]
    return Clip(-samples if mend.invert else samples, rate_hz, info.channel_mask)


def _cut(path: Path, info: FileInfo, start: float, wanted: int, speed: float, rate_hz: int) -> Samples:
    """`wanted` frames at a rate from frame `start` of a file, read at a speed."""
    exact = start == round(start) and speed == 1
    if exact and info.rate_hz == rate_hz:
        return _stretch_of(path, info.frames, int(start), wanted)
    if info.rate_hz == rate_hz:
        return _interpolated(path, info.frames, start, wanted, speed)
    return _resampled(path, info, start, wanted, speed, rate_hz)


def _high_passed(samples: Samples, rate_hz: int, corner_hz: float) -> Samples:
    from scipy.signal import butter, sosfilt, sosfilt_zi

    sections = butter(2, corner_hz, "highpass", fs=rate_hz, output="sos")
    settled = sosfilt_zi(sections)[:, :, None] * samples[:1]
    return np.asarray(sosfilt(sections, samples, axis=0, zi=settled)[0])


def _resampled(path: Path, info: FileInfo, start: float, wanted: int, speed: float, rate_hz: int) -> Samples:
    """Cut with margins on a whole frame that is a whole frame at the new rate too, resample, then cut exactly."""
    step = info.rate_hz // int(np.gcd(info.rate_hz, rate_hz))  # frames after which both rates meet
    margin = -(-round(MARGIN_S * info.rate_hz) // step) * step
    first = (int(np.floor(start)) // step) * step - margin
    length = int(np.ceil(wanted * info.rate_hz / rate_hz * speed)) + 2 * margin + 2 * step
    whole = resample(Clip(_stretch_of(path, info.frames, first, length), info.rate_hz), rate_hz)
    offset = (start - first) * rate_hz / info.rate_hz
    if offset == round(offset) and speed == 1:
        return whole.samples[int(offset) : int(offset) + wanted]
    return _read_at(whole.samples, offset + np.arange(wanted) * speed)


def _interpolated(path: Path, total: int, start: float, wanted: int, speed: float) -> Samples:
    first = int(np.floor(start)) - KERNEL_FRAMES
    length = int(np.ceil(wanted * speed)) + 2 * KERNEL_FRAMES + 2
    return _read_at(_stretch_of(path, total, first, length), (start - first) + np.arange(wanted) * speed)


def _stretch_of(path: Path, total: int, first: int, length: int) -> Samples:
    """`length` frames from frame `first`, with silence beyond the file's ends."""
    low, high = max(first, 0), min(first + length, total)
    inside = reading.read(path, low, max(high - low, 0)).samples if high > low else None
    channels = inside.shape[1] if inside is not None else reading.inspect(path).channels
    samples = np.zeros((length, channels))
    if inside is not None:
        samples[low - first : high - first] = inside
    return samples


def _read_at(samples: Samples, places: NDArray[np.floating]) -> Samples:
    """The band-limited signal between its samples: a Kaiser-windowed sinc of 128 taps at each place (in frames)."""
    result = np.empty((places.size, samples.shape[1]))
    padded = np.pad(samples, ((KERNEL_FRAMES, KERNEL_FRAMES + 1), (0, 0)))
    taps = np.arange(-KERNEL_FRAMES + 1, KERNEL_FRAMES + 1)
    whole = np.floor(places).astype(np.int64)
    between = places - whole
    if np.ptp(between) < 1e-9:  # a mere shift: one kernel serves all places
        kernel = _kernels(between[:1])[0]
        for channel in range(samples.shape[1]):
            stretch = padded[whole[0] + taps[0] + KERNEL_FRAMES : whole[-1] + taps[-1] + KERNEL_FRAMES + 1, channel]
            result[:, channel] = np.convolve(stretch, kernel[::-1], "valid")
        return result
    table = _kernels(np.arange(KERNEL_PHASES + 1) / KERNEL_PHASES)
    for begin in range(0, places.size, 4096):  # in turn, so that the taps of a long passage fit in memory
        part = slice(begin, begin + 4096)
        phase = between[part] * KERNEL_PHASES
        below = np.minimum(phase.astype(np.int64), KERNEL_PHASES - 1)
        share = (phase - below)[:, None]
        kernels = (1 - share) * table[below] + share * table[below + 1]
        rows = whole[part][:, None] + (taps + KERNEL_FRAMES)[None, :]
        for channel in range(samples.shape[1]):
            result[part, channel] = np.einsum("pt,pt->p", kernels, padded[:, channel][rows])
    return result


def _kernels(between: NDArray[np.floating]) -> NDArray[np.float64]:
    """The taps for each place between two samples (0 to 1); shape (places, 128)."""
    distance = np.arange(-KERNEL_FRAMES + 1, KERNEL_FRAMES + 1)[None, :] - between[:, None]
    inside = np.sqrt(np.maximum(0, 1 - np.square(distance / KERNEL_FRAMES)))
    kernels = np.sinc(distance) * np.i0(KERNEL_BETA * inside) / np.i0(KERNEL_BETA)
    return np.asarray(kernels / kernels.sum(axis=1, keepdims=True))
