"""How the phase between two recordings turns where one of them jumps against the other. Pure.

How it turns, at each frequency, is compared before and after each moment: whatever stays the same (a loudspeaker, a
room) cancels out, and what is left is one delay, 0 where nothing was cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .findings import LIMITS

HOPS = 2  # a window
BESIDE = 6  # of them: so much music on either side of a moment
DISPLACED = 3  # moments of a stretch that was put elsewhere and back
FAINT = 0.05  # of how much better all of such a stretch fits elsewhere
AROUND = 8  # moments before it, and after
LEAST = 2.5  # of them, and less at the ends
BAND_HZ = (300.0, 4000.0)
FINER = 4  # lags looked at, for each that the band has
AUDIBLE_DB = 40.0
PAUSE_DB = 50.0  # windows so far below the loudest say nothing
CLEARLY = 0.15  # coherence by which a jump fits better than none: without one, none is better by 0.3 and more
WHOLE = 0.35  # coherence with what comes before: rooms of 0.8 s leave more of it
MOST = 8
SAME_S = 2.0  # two jumps by the same are one that sparse music shows twice
AS_GOOD = 0.002  # of the best fit less

Signal = NDArray[np.float64]
Lines = NDArray[np.complex128]


@dataclass(frozen=True)
class Jump:
    """Where in the reference the other jumps, in seconds, and by how much later it is from there on."""

    at_s: float
    by_s: float


class Turning:
    """The cross-spectra of the moments that sound, and how they turn."""

    def __init__(self, one: Signal, two: Signal, rate_hz: int, window_s: float) -> None:
        window = round(window_s * rate_hz) // 2 * 2
        hop = window // HOPS
        freqs = np.fft.rfftfreq(window, 1 / rate_hz)
        low, high = np.searchsorted(freqs, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * rate_hz)))
        across = _moments(two, window, hop, slice(low, high)) * np.conj(_moments(one, window, hop, slice(low, high)))
        size = np.abs(across)
        level = size.sum(axis=1)
        sounding = level > 10 ** (-PAUSE_DB / 10) * level.max(initial=0.0)
        self.times_s = (np.flatnonzero(sounding) * hop + window / 2) / rate_hz
        self.low, self.window_s, self.hop_s = int(low), window / rate_hz, hop / rate_hz
        # each moment counts by its level and not by its power, else one stroke would be all
        scale = 1 / np.sqrt(np.maximum(level[sounding], 1e-300))[:, None]
        self.across, self.size = across[sounding] * scale, size[sounding] * scale
        total = self.size.sum(axis=0)
        below_db = 10 * np.log10(np.maximum(total / max(float(total.max(initial=0.0)), 1e-300), 1e-12))
        self.counts = np.clip(1 + below_db / AUDIBLE_DB, 0, 1)
        self.counts /= max(float(self.counts.sum()), 1e-300)
        self.places, self.none, self.best, self.better = self._fits()

    def whole(self) -> bool:
        """Whether the music is held throughout."""
        return self.none.size == 0 or float(self.none.min()) > WHOLE

    def jumps(self) -> tuple[float, list[Jump]]:
        """How well the clearest jump fits, and those no farther than half a window, the clearest first."""
        found: list[Jump] = []
        left, score = self.better.copy(), 0.0
        while left.size and left.max() > CLEARLY and len(found) < MOST:
            at = int(np.argmax(left))
            place = int(self.places[at])
            jump = Jump(self._when(place, float(self.best[at])), float(self.best[at]))
            if not any(same(jump, known) for known in found):
                found.append(jump)
            fit = float(self.better[at] + self.none[at]) / (1 - abs(float(self.best[at])) / self.window_s)
            score = max(score, fit)
            left[np.abs(self.places - place) <= BESIDE * HOPS] = -1.0
        return score, found

    def there_and_back(self) -> list[Jump]:
        """The two jumps about a short stretch that lies elsewhere than what is before and after it; or none."""
        count = len(self.across)
        places = np.arange(DISPLACED // 2, count - DISPLACED - DISPLACED // 2 + 1)
        if not places.size:
            return []
        inside, all_inside = (_over(each, places, places + DISPLACED) for each in (self.across, self.size))
        first, last = np.maximum(places - AROUND, 0), np.minimum(places + DISPLACED + AROUND, count)
        outside, all_outside = (
            _over(each, first, places - 1) + _over(each, places + DISPLACED + 1, last)
            for each in (self.across, self.size)
        )
        _, best, better = self._best(inside * np.conj(outside) / np.maximum(all_inside * all_outside, 1e-300))
        at = int(np.argmax(better))
        if better[at] <= CLEARLY:
            return []
        by_s = float(best[at])
        turn = np.exp(2j * np.pi * self._cycles() * by_s) - 1
        score = np.real((self.counts * self.across[first[at] : last[at]]) @ (turn * np.conj(outside[at])))
        sums = np.concatenate([[0.0], np.cumsum(score)])
        best_run = sums[1:] - np.minimum.accumulate(sums[:-1])
        if best_run.max() <= 0:
            return []
        # faint moments beside it say as much for one place as for the other
        end = int(np.flatnonzero(best_run >= (1 - FAINT) * best_run.max())[0])
        start = int(np.flatnonzero(sums[: end + 1] <= sums[: end + 1].min() + FAINT * best_run.max())[-1])
        if end - start < DISPLACED - 1:
            return []  # a click or a gap: one moment alone
        times_s = [float(self.times_s[first[at] + each]) for each in (start, end)]
        return [Jump(times_s[0] - self.hop_s / 2, by_s), Jump(times_s[1] + self.hop_s / 2, -by_s)]

    def _cycles(self) -> Signal:
        return np.asarray((self.low + np.arange(self.across.shape[1])) / self.window_s)

    def _when(self, place: int, by_s: float) -> float:
        """When a jump near a place happens, in seconds: what follows fits better with it, what precedes without."""
        first, last = max(place - BESIDE * HOPS, 0), min(place + BESIDE * HOPS, len(self.across))
        before = self.across[first:place].sum(axis=0) / np.maximum(self.size[first:place].sum(axis=0), 1e-300)
        turn = np.exp(2j * np.pi * self._cycles() * by_s) - 1
        with_it = np.real((self.counts * self.across[first:last]) @ (turn * np.conj(before)))
        after = np.cumsum(with_it[::-1])[::-1][1:]
        # in a pause, one moment is as good as another
        starts = first + 1 + np.flatnonzero(after >= after.max() - AS_GOOD * abs(after.max()))
        return float(self.times_s[[starts[0] - 1, starts[-1]]].mean())

    def _fits(self) -> tuple[NDArray[np.int_], Signal, Signal, Signal]:
        """The moments; how well what follows fits without a jump, with which jump it fits best, by how much better."""
        least, beside, count = round(LEAST * HOPS), BESIDE * HOPS, len(self.across)
        places = np.arange(least, count - least + 1)
        if not places.size:
            return places, np.zeros(0), np.zeros(0), np.zeros(0)
        across = _beside(self.across, places, beside)
        most = _beside(self.size.astype(np.complex128), places, beside).real
        return places, *self._best(across / np.maximum(most, 1e-300))

    def _best(self, turned: Lines) -> tuple[Signal, Signal, Signal]:
        """Of rows of turns (rows, lines): how well no delay fits, which fits best, by how much better."""
        spectrum = self.counts * turned
        lags = 1 << (FINER * 2 * (self.low + spectrum.shape[1])).bit_length() - 1
        padded = np.zeros((len(turned), lags // 2 + 1), dtype=np.complex128)
        padded[:, self.low : self.low + spectrum.shape[1]] = spectrum
        fits = np.fft.irfft(padded, lags, axis=1) * (lags / 2)
        lag_s = np.fft.fftfreq(lags) * self.window_s
        still = np.abs(lag_s) < LIMITS["edit"].value / 1000
        none = fits[:, still].max(axis=1)
        fits[:, still] = -1.0
        best = np.argmax(fits, axis=1)
        return none, lag_s[best], fits[np.arange(len(turned)), best] - none


def _over(lines: NDArray[np.inexact], first: NDArray[np.int_], last: NDArray[np.int_]) -> Lines:
    """The sums of moments from each first to each last."""
    sums = np.concatenate([np.zeros((1, lines.shape[1])), np.cumsum(lines, axis=0)])
    return np.asarray(sums[last] - sums[first], dtype=np.complex128)


def _beside(lines: Lines, places: NDArray[np.int_], beside: int) -> Lines:
    """What comes after each place, against what comes before it."""
    sums = np.concatenate([np.zeros((1, lines.shape[1])), np.cumsum(lines, axis=0)])
    before, after = np.maximum(places - beside, 0), np.minimum(places + beside, len(lines))
    return np.asarray((sums[after] - sums[places]) * np.conj(sums[places] - sums[before]))


def same(jump: Jump, known: Jump) -> bool:
    """Whether two jumps are one, seen twice."""
    return abs(jump.at_s - known.at_s) < SAME_S and abs(jump.by_s - known.by_s) < 0.001


def _moments(samples: Signal, window: int, hop: int, lines: slice) -> Lines:
    """Some lines of the spectra of overlapping windows."""
    if samples.size < window:
        return np.zeros((0, window // 2 + 1), dtype=np.complex128)[:, lines]
    parts = np.lib.stride_tricks.sliding_window_view(samples, window)[::hop]
    return np.asarray(np.fft.rfft(parts * np.hanning(window), axis=1)[:, lines])
