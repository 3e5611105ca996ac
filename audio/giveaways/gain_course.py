"""How one recording's gain against another moves, beyond what stays the same throughout. Pure.

A loudspeaker, an equaliser or a room is a filter that stays: in each narrow band the one recording's spectra follow
from the other's of now and of a little earlier by fixed weights. A gain that moves multiplies all of that alike in a
stretch of time. Both are fitted together, band by band by least squares, and the weights are eliminated from the
equations of the gain: a band that sounds in one stretch alone says nothing of the gain there, since its weights would
take it in. What the gain is then said to be is asked of every octave anew, and the middle one counts.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip

Lines = NDArray[np.complex128]
Signal = NDArray[np.float64]

WINDOW_S = 0.085
FEWEST_WINDOWS = 10
BAND_HZ = (150.0, 5000.0)  # above, what is left of a clock's drift turns the phase
SHARES_HZ = (150.0, 250.0, 400.0, 640.0, 1000.0, 1600.0, 2600.0, 5000.0)  # asked each for itself
FEWEST_LINES = 3
FEWEST_KNOWN = 3  # groups
DRY_TAPS = 1
WET_TAPS = 12  # half windows, one of them ahead: 0.5 s, in which a room of 0.8 s has fallen by 37 dB
AUDIBLE = 1e-5  # of the strongest line's energy; fainter ones may be noise
ROUNDS = 2
KNOWN = 1000.0  # information on a gain: its error is 0.02, or 0.2 dB, and a few times that as lines are alike
TRUST = 1e-3  # of a line's energy is never explained: the filter is longer than its window
SOFTENING = 1e-4
LINES_AT_ONCE = 64  # bounds the memory


@dataclass(frozen=True)
class Course:
    """The gain in each group of moments, in dB about its mean (NaN where there is silence), and how that is borne out.

    Attributes
    ----------
    share
        By how much of it all bands move, the median: 1 where it is one gain, 0 where it is only some bands' matter.
    power_share
        The same by the levels alone, whatever the phases: about 0 where not the gain moved, but the time.
    explained
        The part of the other's energy that follows from the reference's by weights that stay.
    """

    gains_db: Signal
    share: float
    power_share: float
    explained: float


@dataclass(frozen=True)
class Moments:
    """The spectra of one recording in half overlapping windows, each channel's lines one after another.

    `lines` has the shape (lines, moments), `freqs_hz` and `channel` (lines,).
    """

    lines: Lines
    freqs_hz: Signal
    channel: NDArray[np.int64]

    @property
    def levels_db(self) -> Signal:
        """The level of each moment, every channel and line together, not below −200 dB."""
        power = np.sum(np.square(np.abs(self.lines)), axis=0)
        return np.asarray(10 * np.log10(np.maximum(power, 1e-20)))


def moments(samples: Signal, rate_hz: int) -> Moments:
    """The spectra in the band; samples of shape (frames, channels), one window or more."""
    from scipy.fft import rfft

    window = 2 * round(WINDOW_S * rate_hz / 2)
    freqs = np.fft.rfftfreq(window, 1 / rate_hz)
    low, high = np.searchsorted(freqs, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * rate_hz)))
    shape = np.hanning(window).astype(np.float32)
    found = []
    for channel in samples.T.astype(np.float32):
        parts = np.lib.stride_tricks.sliding_window_view(channel, window)[:: window // 2]
        found.append(np.concatenate([rfft(part * shape)[:, low:high] for part in np.array_split(parts, 8)]).T)
    count = samples.shape[1]
    return Moments(np.concatenate(found), np.tile(freqs[low:high], count), np.repeat(np.arange(count), high - low))


def both(reference: Clip, other: Clip) -> tuple[Moments, Moments] | None:
    """The moments of two clips in step; None where they are shorter than a few, or have other channels."""
    if reference.length_s < FEWEST_WINDOWS * WINDOW_S or reference.channels != other.channels:
        return None
    return moments(reference.samples, reference.rate_hz), moments(other.samples, other.rate_hz)


def course(reference: Moments, other: Moments, groups: NDArray[np.int64], taps: int) -> Course | None:
    """How the other's gain moves between groups of moments (groups, moments in each); None if they say nothing."""
    sums = _sums(reference.lines, other.lines, groups, taps)
    total = sums.energy.sum(axis=1)
    kept = (total > AUDIBLE * total.max()) & (sums.own > AUDIBLE * sums.own.max())
    if kept.sum() < FEWEST_LINES:
        return None
    return _solved(sums.of(kept), reference.freqs_hz[kept], reference.channel[kept], groups.size)


@dataclass(frozen=True)
class _Sums:
    """All that the equations need of each line, summed over each group: (lines, groups, …)."""

    squares: Lines
    products: Lines
    energy: Signal
    own: Signal

    def of(self, kept: NDArray[np.bool_]) -> _Sums:
        return _Sums(self.squares[kept], self.products[kept], self.energy[kept], self.own[kept])


def _sums(reference: Lines, other: Lines, groups: NDArray[np.int64], taps: int) -> _Sums:
    squares, products = [], []
    for start in range(0, len(reference), LINES_AT_ONCE):
        part = slice(start, start + LINES_AT_ONCE)
        earlier = with_earlier(reference[part], taps)[:, groups]
        turned = earlier.conj().swapaxes(-1, -2)
        squares.append(turned @ earlier)
        products.append((turned @ other[part][:, groups][..., None])[..., 0])
    energy = np.sum(np.square(np.abs(other[:, groups])), axis=-1)
    own = np.sum(np.square(np.abs(reference)), axis=1)
    return _Sums(
        np.concatenate(squares).astype(np.complex128),
        np.concatenate(products).astype(np.complex128),
        energy.astype(np.float64),
        own.astype(np.float64),
    )


def with_earlier(lines: Lines, taps: int) -> Lines:
    """Each moment with those before it, and the one after it: (lines, moments, taps)."""
    if taps == 1:
        return lines[..., None]
    result = np.zeros((*lines.shape, taps), dtype=lines.dtype)
    result[:, :-1, 0] = lines[:, 1:]
    for late in range(taps - 1):
        result[:, late:, late + 1] = lines[:, : lines.shape[1] - late]
    return result


def _solved(sums: _Sums, freqs_hz: Signal, channel: NDArray[np.int64], count: int) -> Course | None:
    """Weights and gains in turn by Gauss and Newton's steps, the weights eliminated from the gains' equations."""
    groups, taps = sums.squares.shape[1:3]
    total = sums.energy.sum(axis=1)
    diagonal = np.arange(groups)
    gains = np.ones(groups, dtype=np.complex128)
    for _ in range(ROUNDS):
        normal = np.einsum("s,fsij->fij", np.square(np.abs(gains)), sums.squares)
        soft = SOFTENING / taps * np.trace(normal, axis1=1, axis2=2).real
        normal = normal + soft[:, None, None] * np.eye(taps)
        crossed = np.einsum("s,fsi->fi", gains.conj(), sums.products)
        weights = np.linalg.solve(normal, crossed[..., None])[..., 0]
        through = np.einsum("fsij,fj->fsi", sums.squares, weights)
        predicted = np.einsum("fi,fsi->fs", weights.conj(), through).real
        met = np.einsum("fi,fsi->fs", weights.conj(), sums.products)
        tied = gains.conj()[None, :, None] * through
        equations = -tied.conj() @ np.linalg.solve(normal, tied.swapaxes(1, 2))
        equations[:, diagonal, diagonal] += predicted
        wanted = met - gains * predicted
        left = total - 2 * np.real(met @ gains.conj()) + predicted @ np.square(np.abs(gains))
        noise = np.maximum(left / max(count - taps, 1), TRUST * total / count)
        equations, wanted = equations / noise[:, None, None], wanted / noise[:, None]
        whole = equations.sum(axis=0)
        firm = SOFTENING * float(np.median(whole[diagonal, diagonal].real)) * np.eye(groups)
        change = np.linalg.solve(whole + firm, wanted.sum(axis=0))
        change = change - gains * (gains.conj() @ change) / (gains.conj() @ gains)  # that is the weights' matter
        gains = gains + change
        known = whole[diagonal, diagonal].real > KNOWN
        if known.sum() < FEWEST_KNOWN:
            return None
        gains = np.where(known, gains / np.mean(np.abs(gains[known])), 1.0)
    gains_db = 20 * np.log10(np.maximum(np.abs(gains), 1e-3))
    share = _share(gains - 1, equations, wanted, freqs_hz, channel)
    levels_db = 10 * np.log10(np.sum(sums.energy / total[:, None], axis=0) + 1e-12)
    levels_db -= 10 * np.log10(np.sum(predicted / total[:, None], axis=0) + 1e-12)
    moved, levels_db = gains_db - gains_db[known].mean(), levels_db - levels_db[known].mean()
    power_share = float(moved[known] @ levels_db[known] / max(float(np.sum(np.square(moved[known]))), 1e-12))
    return Course(np.where(known, moved, np.nan), share, power_share, float(np.median(1 - left / total)))


def _share(moves: Lines, equations: Lines, wanted: Lines, freqs_hz: Signal, channel: NDArray[np.int64]) -> float:
    """The median over bands and channels of how much of the moves each of them shows of itself."""
    shares = []
    for place in np.unique(channel):
        for low_hz, high_hz in itertools.pairwise(SHARES_HZ):
            own = (channel == place) & (freqs_hz >= low_hz) & (freqs_hz < high_hz)
            said = float(np.real(moves.conj() @ equations[own].sum(axis=0) @ moves))
            if own.sum() >= FEWEST_LINES and said > 0:
                shares.append(1 + float(np.real(moves.conj() @ wanted[own].sum(axis=0))) / said)
    return float(np.median(shares)) if shares else 0.0
