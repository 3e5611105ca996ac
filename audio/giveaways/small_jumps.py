"""A jump of a fraction of a millisecond, which a straight clock hides: where the lag's course does not go on. Pure.

Such a cut looks like a clock that is off, and correcting that leaves two slopes and a jump between. So a clock with one
jump is asked against a clock alone: by how well the phases between the recordings then agree throughout, each line of
the spectrum by itself. What a loudspeaker or a room does to the phase stays, and counts for neither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .findings import LIMITS
from .turning import Jump

WINDOW_S, HOP_S = 0.16, 0.08
BAND_HZ = (300.0, 4000.0)
BLOCK = 12  # moments of which a lag is read
SHORTEST_S = 1.0  # on either side
FARTHEST_S = 0.002  # a larger one is looked for otherwise
GRID_S = 10e-6  # of the lags read
LEAST_S = 0.0001  # a smaller one is not looked into
STRAIGHTER = 0.8  # of how far the lags stray from a clock alone
AUDIBLE = 1e-4  # of the strongest line
PAUSE = 1e-4  # of the loudest moment
CLOCKS = np.arange(-100, 101, 4) * 1e-6  # about the one read
CLOCKS_NEAR = np.arange(-24, 25, 4) * 1e-6
JUMPS_NEAR_S = np.arange(-150, 151, 25) * 1e-6
PLACES_NEAR = 18  # moments
SPARE_MS = 0.1
BETTER = 0.04  # of 0.25 to 1.4 ms by 0.066 and more, without one by 0.006 and less

Signal = NDArray[np.floating]
Lines = NDArray[np.complex128]


@dataclass(frozen=True)
class Fit:
    """A clock and a jump: by how much the phases agree better than with the best clock alone, 0 to 1."""

    jump: Jump
    clock: float
    better: float


def small_jump(reference: Clip, other: Clip, pair: tuple[int, int]) -> Jump | None:
    """The one jump of a channel each, of clips in step to the nearest frame or so; None if there is none."""
    found = best(reference, other, pair)
    if found is None or found.better <= BETTER:
        return None
    # a larger one is looked for by `edits`; here it is a clock that is far off
    beyond = LIMITS["edit-small"].value < 1000 * abs(found.jump.by_s) < LIMITS["edit"].value + SPARE_MS
    return found.jump if beyond else None


def best(reference: Clip, other: Clip, pair: tuple[int, int]) -> Fit | None:
    """The jump that explains most."""
    phases = _phases(reference, other, pair)
    if phases is None:
        return None
    across, freqs, times = phases
    coarse = _coarse(across, freqs, times)
    if coarse is None:
        return None
    place, by_s, clock, straight = coarse
    alone = max(
        float(np.abs(_turned(across, freqs, times, about + each).sum(axis=0)).sum())
        for about in (clock, straight)
        for each in CLOCKS
    )
    most, fit = 0.0, None
    for near in CLOCKS_NEAR:
        turned = _turned(across, freqs, times, clock + near)
        sums = np.concatenate([np.zeros((1, freqs.size)), np.cumsum(turned, axis=0)])
        for at in range(
            max(place - PLACES_NEAR, _shortest()), min(place + PLACES_NEAR, len(times) - _shortest()) + 1, 2
        ):
            values = _with_jumps(sums, freqs, at, by_s + JUMPS_NEAR_S)
            which = int(np.argmax(values))
            if values[which] > most:
                most = float(values[which])
                fit = Fit(
                    Jump(float(times[at - 1 : at + 1].mean()), float(by_s + JUMPS_NEAR_S[which])), clock + near, 0.0
                )
    return None if fit is None else Fit(fit.jump, fit.clock, most - alone)


def _shortest() -> int:
    return round(SHORTEST_S / HOP_S)


def _phases(reference: Clip, other: Clip, pair: tuple[int, int]) -> tuple[Lines, Signal, Signal] | None:
    """The cross-spectra of moments, loud and faint ones and lines alike; with their frequencies and times.

    All of their sizes are 1 together.
    """
    rate_hz = reference.rate_hz
    window, hop = round(WINDOW_S * rate_hz), round(HOP_S * rate_hz)
    freqs = np.fft.rfftfreq(window, 1 / rate_hz)
    low, high = np.searchsorted(freqs, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * rate_hz)))
    shape = np.hanning(window)
    spectra = []
    for clip, channel in zip((reference, other), pair, strict=True):
        if clip.frames < window:
            return None
        parts = np.lib.stride_tricks.sliding_window_view(clip.samples[:, channel], window)[::hop]
        spectra.append(np.fft.rfft(parts * shape, axis=1)[:, low:high])
    across = np.conj(spectra[0]) * spectra[1]
    if len(across) < 2 * _shortest() + 1:
        return None
    energies = [np.square(np.abs(each)).sum(axis=0) for each in spectra]
    heard = np.logical_and(*(each > AUDIBLE * each.max(initial=0.0) for each in energies))
    level = np.abs(across).sum(axis=1)
    loud = level > PAUSE * level.max(initial=0.0)
    across = np.where(heard & loud[:, None], across, 0) / np.sqrt(np.maximum(level, 1e-30))[:, None]
    sizes = np.abs(across).sum(axis=0)
    if not (sizes > 0).any():
        return None
    across = across[:, sizes > 0] / np.sqrt(sizes[sizes > 0])
    across = across / np.abs(across).sum()
    return across, freqs[low:high][sizes > 0], np.arange(len(across)) * HOP_S + WINDOW_S / 2


def _coarse(across: Lines, freqs: Signal, times: Signal) -> tuple[int, float, float, float] | None:
    """Before which moment the lags of blocks jump, by how much in s, the clock then and without one; None: none."""
    lags_s = np.arange(-FARTHEST_S, FARTHEST_S + GRID_S / 2, GRID_S)
    turn = np.exp(2j * np.pi * freqs[:, None] * lags_s)
    starts = range(0, len(across) - BLOCK + 1, BLOCK // 2)
    blocks = np.array([across[start : start + BLOCK].sum(axis=0) for start in starts])
    level = np.abs(blocks).sum(axis=1)
    fits = np.real((blocks / np.maximum(np.abs(blocks), 1e-30)) @ turn)
    kept = level > 0
    if kept.sum() < 6:
        return None
    lags = lags_s[np.argmax(fits, axis=1)][kept]
    when = np.array([times[start : start + BLOCK].mean() for start in starts])[kept]
    terms = np.stack([np.ones_like(when), when], axis=1)
    alone, line = _fitted(terms, lags)
    found = None
    for at in range(2, len(when) - 1):
        step = (np.arange(len(when)) >= at).astype(float)
        stray, terms_found = _fitted(np.column_stack([terms, step]), lags)
        if found is None or stray < found[0]:
            found = (stray, (when[at - 1] + when[at]) / 2, float(terms_found[2]), float(terms_found[1]))
    if found is None or found[0] > STRAIGHTER * alone or abs(found[2]) < LEAST_S:
        return None
    return int(np.searchsorted(times, found[1])), found[2], found[3], float(line[1])


def _fitted(terms: Signal, lags: Signal) -> tuple[float, Signal]:
    """How far lags stray from what terms make of them, on average, and by how much of each; far ones count less."""
    weight: Signal = np.ones(len(lags))
    found: Signal = np.zeros(terms.shape[1])
    for _ in range(5):
        found = np.linalg.lstsq(terms * weight[:, None], lags * weight, rcond=None)[0]
        weight = 1 / np.sqrt(np.maximum(np.abs(lags - terms @ found), GRID_S))
    return float(np.abs(lags - terms @ found).mean()), found


def _turned(across: Lines, freqs: Signal, times: Signal, clock: float) -> Lines:
    return np.asarray(across * np.exp(2j * np.pi * clock * times[:, None] * freqs))


def _with_jumps(sums: Lines, freqs: Signal, at: int, jumps_s: Signal) -> Signal:
    """How well all moments agree, line by line, if the other jumps before one of them by each of these, 0 to 1."""
    turn = np.exp(2j * np.pi * freqs * jumps_s[:, None])
    return np.asarray(np.abs(sums[at] + turn * (sums[-1] - sums[at])).sum(axis=1))
