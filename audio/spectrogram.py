"""Band levels over time: the coarse picture of music by which passages are chosen and recordings recognised. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from .clip import Clip, Samples, not_finite
from .errors import MeasureError

FLOOR = 1e-14  # power below which all is silence (−140 dB)
SAMPLES_AT_ONCE = 2**19  # transformed together: 4 MB, and as much again for their spectra


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
    window = round(window_s * rate_hz)
    taper = np.hanning(window)
    bins = np.searchsorted(np.fft.rfftfreq(window, 1 / rate_hz), np.asarray(edges_hz))
    powers = np.empty((steps, len(edges_hz) - 1))
    done = 0
    starts = np.array([round(first_frame + step * hop_s * rate_hz) for step in range(steps)], dtype=np.int64)
    for windows in _windows(blocks, starts, window):
        windows *= taper
        spectra = np.fft.rfft(windows, axis=2)
        power = np.sum(np.square(spectra.real) + np.square(spectra.imag), axis=0) / window**2
        totals = np.concatenate([np.zeros((len(power), 1)), np.cumsum(power, axis=1)], axis=1)
        powers[done : done + len(power)] = totals[:, bins[1:]] - totals[:, bins[:-1]]
        done += len(power)
    return np.maximum(powers, FLOOR)


def _windows(blocks: Iterable[Samples], starts: NDArray[np.int64], window: int) -> Iterator[NDArray[np.float64]]:
    """The stretches of `window` frames from each start, some at once: shape (channels, some, window)."""
    kept: Samples | None = None
    first = min(int(starts[0]), 0)  # the frame that `kept` begins with
    step = 0
    for block in blocks:
        if kept is None:
            kept = np.zeros((-first, block.shape[1]))
        kept = np.concatenate([kept, block])
        complete = int(np.searchsorted(starts, first + len(kept) - window, side="right"))
        yield from _cut(kept, starts[step:complete] - first, window)
        step = complete
        if step == len(starts):
            return
        gone = min(int(starts[step]) - first, len(kept))
        kept, first = kept[gone:], first + gone
    if kept is None:
        raise MeasureError("a recording without sound has no levels")
    missing = int(starts[-1]) + window - first - len(kept)
    yield from _cut(np.pad(kept, ((0, missing), (0, 0))), starts[step:] - first, window)


def _cut(samples: Samples, starts: NDArray[np.int64], window: int) -> Iterator[NDArray[np.float64]]:
    at_once = max(1, SAMPLES_AT_ONCE // (window * samples.shape[1]))
    by_channel = np.ascontiguousarray(samples.T)  # transforms are quickest along neighbouring numbers
    for begin in range(0, len(starts), at_once):
        yield by_channel[:, starts[begin : begin + at_once, None] + np.arange(window)[None, :]]
