"""Whether what one of two recordings has beyond the other is made by overdriving it: no lossy file, no noise. Pure.

An overdriven amplifier fills what lies beyond the end of each note, and a lossy file ends where the music goes on. In
the spectra alone the two look alike: a coder's noise leaves as much unexplained below the edge as distortion does. But
distortion can be made again from the recording that ends, and music that a file lost cannot. Nor can a noise.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip

HIGHEST_HZ = 20_000.0  # above nobody hears it
BANDS_PER_OCTAVE = 12
MOMENT_FRAMES = 2048
BESIDE_BANDS = (1, 3)  # next to the edge, on either side
MORE_BELOW = 1.5  # unexplained below the edge, of what lies beyond it: a coder's noise and strokes may be less
FALLS = 4.0  # times less beyond the edge than below it: overdriven notes fall by 7 and more
MADE_AGAIN = 0.1  # of the power beyond the edge: of overdriven notes 0.18 and more, of what a coder lost 0.03 at most
CUT_OFF = 0.3  # of what is left on either side of the edge: by a ceiling 0.6 and more, of what coders lost 0.07
QUIETEST = 0.1  # of the moments: where a noise is most of what is left
NO_NOISE = (
    0.7  # of what is left there: of overdriven notes 0.8 to 0.97, with a noise to be found among them 0.03 to 0.65
)
FILLED = 0.5  # of what is in holes: of overdriven notes 0.79, of what coders left out 0.28 at most, mostly below 0.07
LEAST_POWER = (1e-4, 1e-6)  # of a line's own, and of the strongest: what the filter is not asked to lift
Lines = NDArray[np.complex128]


def overdriven(cut: Clip, whole: Clip, at_hz: float) -> bool:
    """Whether what `whole` has beyond the edge is what an overdriven amplifier makes of the notes of `cut` there.

    It makes of them something on both sides of their end, more of it below: there, `cut` explains none of that. And
    most of what is beyond comes again when `cut`, filtered to be `whole`, is overdriven. Or a ceiling makes again much
    of what a filter leaves on both sides, however it lies: of a lossy file of overdriven music it makes no more than
    what lies beyond.
    """
    one, two = (_lines(clip.samples, np.blackman(MOMENT_FRAMES)) for clip in (cut, whole))
    count = min(len(one), len(two))
    one, two = one[:count], two[:count]
    power = np.sum(np.square(np.abs(two)), axis=0)
    left = power - _explained(one, two)
    freqs = np.fft.rfftfreq(MOMENT_FRAMES, 1 / whole.rate_hz)
    near, far = (2 ** (bands / BANDS_PER_OCTAVE) for bands in BESIDE_BANDS)
    below = (freqs >= at_hz / far) & (freqs < at_hz / near)
    beyond = (freqs >= at_hz * near) & (freqs < min(at_hz * far, HIGHEST_HZ))
    if not below.any() or not beyond.any():
        return False
    like = _filtered(cut, whole)
    if _cut_off(like, whole, (below, beyond)) > CUT_OFF:
        return True
    there = float(power[:, beyond].mean())
    if float(left[:, below].mean()) <= MORE_BELOW * there or float(power[:, below].mean()) <= FALLS * there:
        return False
    return _made_again(like, two[:, :, beyond], beyond) > MADE_AGAIN


def made_by_overdriving(plain: Clip, having: Clip, band_hz: tuple[float, float]) -> bool:
    """Whether overdriving `plain` makes most of what a filter leaves of `having` in a band in its quietest moments."""
    freqs = np.fft.rfftfreq(MOMENT_FRAMES, 1 / having.rate_hz)
    band = np.flatnonzero((freqs >= band_hz[0]) & (freqs < band_hz[1]))
    real, made, left = _beyond_a_filter(plain, having, np.hanning(MOMENT_FRAMES), band)
    power = np.sum(np.square(np.abs(real)), axis=(1, 2))
    quiet = np.argsort(power, kind="stable")[: max(2, round(QUIETEST * len(power)))]
    return _shared(made[quiet], left[quiet]) > NO_NOISE


def fills(plain: Clip, having: Clip, cells: NDArray[np.bool_], edges_hz: NDArray[np.float64], window_s: float) -> bool:
    """Whether most of what fills some cells (moments, bands) of `having` is what overdriving makes of `plain`.

    The cells are those of `foretold_power.bands`. What overdriving makes is weighed line by line over all moments, so
    that few cells explain nothing by chance.
    """
    shape = np.hanning(2 * round(0.5 * window_s * having.rate_hz))
    places = np.searchsorted(np.fft.rfftfreq(len(shape), 1 / having.rate_hz), edges_hz)
    lines = np.arange(places[0], places[-1])
    _, made, left = _beyond_a_filter(plain, having, shape, lines)
    there, unexplained = (_in_cells(each, cells, places - places[0]) for each in (left, _beyond(made, left)))
    return unexplained < (1 - FILLED) * there


def _beyond_a_filter(
    plain: Clip, having: Clip, shape: NDArray[np.float64], lines: NDArray[np.int64]
) -> tuple[Lines, Lines, Lines]:
    """Some lines of `having`; and beyond what a filter of `plain` makes: what overdriving it makes, and these."""
    like = _filtered(plain, having)
    by_filter, made, real = (
        _lines(each, shape)[:, :, lines] for each in (like, _overdriven(like), having.samples[: len(like)])
    )
    return real, _beyond(by_filter, made), _beyond(by_filter, real)


def _in_cells(of: Lines, cells: NDArray[np.bool_], places: NDArray[np.int64]) -> float:
    """The power of all channels in some cells of (moments, bands), whose lines begin at `places`."""
    power = np.sum(np.square(np.abs(of)), axis=1)
    cells = cells[: len(power)]
    bands = [power[: len(cells), start:end].sum(axis=1) for start, end in pairwise(places)]
    return float(np.stack(bands, axis=1)[cells].sum())


def _cut_off(like: NDArray[np.float64], whole: Clip, bands: tuple[NDArray[np.bool_], NDArray[np.bool_]]) -> float:
    """The share of what a filter leaves of `whole` that cutting it off at the ceiling of `whole` makes again.

    The lesser of both bands, below the edge and beyond it: a coder's noise is nothing that a ceiling makes, though of
    music that was cut off before it was coded, what is lost beyond the edge is.
    """
    real = whole.samples[: len(like)]
    ceiling = np.max(np.abs(real), axis=0)
    shape = np.blackman(MOMENT_FRAMES)
    made, left = (_lines(each, shape) for each in (np.clip(like, -ceiling, ceiling) - like, real - like))
    return min(_shared(made[:, :, band], left[:, :, band]) for band in bands)


def _made_again(like: NDArray[np.float64], real: Lines, beyond: NDArray[np.bool_]) -> float:
    """The share of what is real in the lines beyond the edge that overdriving the other makes again, line by line.

    Before it is overdriven, it is made as alike as a filter from all its channels to each makes it: a remaster may be
    equalised and of another width. How hard it was driven matters little, as each line finds its own level.
    """
    return _shared(_lines(_overdriven(like), np.blackman(MOMENT_FRAMES))[:, :, beyond], real)


def _overdriven(like: NDArray[np.float64]) -> NDArray[np.float64]:
    """Music (frames, channels) through an amplifier that its mean level drives into saturation."""
    return np.asarray(np.tanh(like / np.maximum(np.sqrt(np.mean(np.square(like), axis=0)), 1e-20)))


def _beyond(plain: Lines, real: Lines) -> Lines:
    """What is in some lines beyond what others explain of them, line by line."""
    shared = np.sum(plain.conj() * real, axis=0) / np.maximum(np.sum(np.square(np.abs(plain)), axis=0), 1e-20)
    return np.asarray(real - shared * plain)


def _shared(made: Lines, real: Lines) -> float:
    """The share of the power of some lines that others explain, line by line, however strong these are."""
    return float(_explained(made, real).sum() / max(float(np.sum(np.square(np.abs(real)))), 1e-20))


def _explained(made: Lines, real: Lines) -> NDArray[np.float64]:
    """The power of each line that another explains, all moments together; shape (channels, lines)."""
    shared = np.square(np.abs(np.sum(made.conj() * real, axis=0)))
    return np.asarray(shared / np.maximum(np.sum(np.square(np.abs(made)), axis=0), 1e-20))


def _filtered(cut: Clip, whole: Clip) -> NDArray[np.float64]:
    """`cut` (frames, channels) behind the filter that makes most of `whole` of it, in whole moments of both."""
    frames = min(cut.frames, whole.frames)
    shape = np.hanning(MOMENT_FRAMES + 1)[:-1]  # halves that overlap add up to 1
    one, two = (_lines(clip.samples[:frames], shape) for clip in (cut, whole))
    within = np.einsum("mcl,mdl->lcd", one.conj(), one)
    across = np.einsum("mcl,mdl->lcd", one.conj(), two)
    size = np.trace(within, axis1=1, axis2=2).real
    least = LEAST_POWER[0] * size + LEAST_POWER[1] * float(size.max()) + 1e-20
    answer = np.linalg.solve(within + least[:, None, None] * np.eye(one.shape[1]), across)
    parts = np.fft.irfft(np.einsum("mcl,lcd->mdl", one, answer), axis=2)
    hop = MOMENT_FRAMES // 2
    made = np.zeros(((len(parts) + 1) * hop, parts.shape[1]))
    for number, part in enumerate(parts):
        made[number * hop : number * hop + MOMENT_FRAMES] += part.T
    return made


def _lines(samples: NDArray[np.float64], shape: NDArray[np.float64]) -> Lines:
    """The spectra of half overlapping moments of (frames, channels); shape (moments, channels, lines)."""
    windows = np.lib.stride_tricks.sliding_window_view(samples, len(shape), axis=0)[:: len(shape) // 2]
    return np.asarray(np.fft.rfft(windows * shape, axis=2))
