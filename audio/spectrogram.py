"""Band levels over time: the coarse picture of music by which passages are chosen and recordings recognised. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from .clip import Clip, Samples, not_finite
from .errors import MeasureError

FLOOR = 1e-14  # power below which all is silence (−140 dB)
Numbers = NDArray[np.floating]
SAMPLES_AT_ONCE = 2**15  # transformed together: 256 KB, so that they and their spectra stay in a processor's cache


def band_powers(clip: Clip, edges_hz: Sequence[float], hop_s: float, window_s: float) -> NDArray[np.float64]:
    """The power in each band over time, all channels together; shape (steps, bands).

    Parameters
    ----------
    edges_hz
        Band edges, rising; bands + 1 of them. A band beyond half the rate has no power.
    hop_s, window_s
        Step and length of the Hann windows; a step is centred on its window. Each step starts at the frame nearest to
        its own time, so that recordings of unlike rates stay in step however long they are.

    Raises
    ------
    MeasureError
        If a sample is not finite.
    """
    if not_finite(clip.samples) is not None:
        raise MeasureError("a recording holds samples that are not numbers; export the file again")
    steps = steps_in(clip.frames, clip.rate_hz, hop_s, window_s)
    return streamed_band_powers([clip.samples], clip.rate_hz, edges_hz, hop_s, window_s, steps)


def steps_in(frames: int, rate_hz: int, hop_s: float, window_s: float) -> int:
    """How many steps whose whole windows lie inside so many frames; at least one."""
    return max(1, int((frames - round(window_s * rate_hz)) / (hop_s * rate_hz)) + 1)


def streamed_band_powers(
    blocks: Iterable[Samples],
    rate_hz: int,
    edges_hz: Sequence[float],
    hop_s: float,
    window_s: float,
    steps: int,
    *,
    first_frame: float = 0.0,
) -> NDArray[np.float64]:
    """As `band_powers`, of sound that comes in blocks of shape (frames, channels): in the memory of some windows.

    Parameters
    ----------
    hop_s
        May be a little more or less than the step that is meant, for a recording on another clock.
    steps
        How many are wanted; blocks after the last are not asked for.
    first_frame
        Where the first step starts, between frames too; before the first frame and after the last there is silence.
    """
    starts = np.array([round(first_frame + step * hop_s * rate_hz) for step in range(steps)], dtype=np.int64)
    return powers_at(blocks, rate_hz, edges_hz, starts, round(window_s * rate_hz))


def powers_at(
    blocks: Iterable[Samples],
    rate_hz: int,
    edges_hz: Sequence[float],
    starts: NDArray[np.int64],
    window: int,
    *,
    coarse: bool = False,
) -> NDArray[np.float64]:
    """The power in each band, all channels together, of the windows that start at these frames; (starts, bands).

    Parameters
    ----------
    starts
        Rising; before the first frame and after the last there is silence. Blocks after the last window are not asked
        for.
    window
        The length of the Hann windows in frames.
    coarse
        Transformed as 32-bit numbers, in half the time: rounding is 130 dB and more below the loudest line of a window,
        and so within 0.001 dB in bands down to 60 dB below the loudest.
    """
    from scipy.fft import rfft  # numpy's, some at once: the same to the last bit

    taper: Numbers = np.hanning(window).astype(np.float32 if coarse else np.float64)
    bins = np.searchsorted(np.fft.rfftfreq(window, 1 / rate_hz), np.asarray(edges_hz))
    held = np.flatnonzero(bins[1:] > bins[:-1])  # bands with a line in them
    powers = np.zeros((len(starts), len(edges_hz) - 1))
    done = 0
    for windows in _windows(blocks, starts, taper) if held.size else ():
        power = np.zeros((windows.shape[1], int(bins[-1] - bins[0])), dtype=windows.dtype)
        for channel in windows:
            lines = rfft(channel, axis=1)[:, bins[0] : bins[-1]]
            power += np.square(lines.real)
            power += np.square(lines.imag)
        sums = np.add.reduceat(power, bins[held] - bins[0], axis=1, dtype=np.float64)
        powers[done : done + len(sums), held] = sums / window**2
        done += len(sums)
    return np.maximum(powers, FLOOR)


def _windows(blocks: Iterable[Samples], starts: NDArray[np.int64], taper: Numbers) -> Iterator[Numbers]:
    """The tapered stretches from each start, some at once: shape (channels, some, window); each is used up at once."""
    window = taper.size
    kept: Numbers | None = None  # (channels, frames): what is still needed, then the newest block
    first = min(int(starts[0]), 0)  # the frame that `kept` begins with
    step = held = 0
    for block in blocks:
        if kept is None:
            held = -first
            kept = np.zeros((block.shape[1], held + window + len(block)), dtype=taper.dtype)
        if held + len(block) > kept.shape[1]:
            kept = np.concatenate([kept[:, :held], np.empty((len(kept), len(block)), dtype=taper.dtype)], axis=1)
        kept[:, held : held + len(block)] = block.T
        held += len(block)
        complete = int(np.searchsorted(starts, first + held - window, side="right"))
        yield from _cut(kept, starts[step:complete] - first, taper)
        step = complete
        if step == len(starts):
            return
        gone = min(int(starts[step]) - first, held)
        kept[:, : held - gone] = kept[:, gone:held].copy()
        first, held = first + gone, held - gone
    if kept is None:
        raise MeasureError("a recording without sound has no levels")
    missing = int(starts[-1]) + window - first - held
    yield from _cut(np.pad(kept[:, :held], ((0, 0), (0, missing))), starts[step:] - first, taper)


def _cut(channels: Numbers, starts: NDArray[np.int64], taper: Numbers) -> Iterator[Numbers]:
    at_once = max(1, SAMPLES_AT_ONCE // taper.size)
    room = np.empty((len(channels), at_once, taper.size), dtype=taper.dtype)
    for begin in range(0, len(starts), at_once):
        part = starts[begin : begin + at_once].tolist()
        for channel, into in zip(channels, room, strict=True):
            for place, start in enumerate(part):
                np.multiply(channel[start : start + taper.size], taper, out=into[place])
        yield room[:, : len(part)]
