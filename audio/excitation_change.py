"""How much a change of a sound changes in the ear: in the auditory filter and half second where it does most. Pure.

Each auditory filter lets through some power of either sound; added is what stands for the threshold in quiet, so that
what lies below that changes next to nothing. The level in the filter of one sound less that of the other is the change
there. By the usual model of level differences one is just noticed that comes to about 1 dB in some filter (Zwicker and
Fastl, Psychoacoustics, chapter 7; from memory). Noise of the room, and how far strong low sounds mask higher ones, are
left out: they make changes smaller.
"""

from __future__ import annotations

import numpy as np

from .auditory import erb_number, filters, frequency_hz, threshold_db
from .clip import Clip
from .levels.weighting import a_weight_db
from .loudness_pattern import HIGHEST_HZ, LISTENING_DB, LOWEST, Numbers, band_edges, k_weight

JUST_NOTICED_DB = 1.0
CELL_S = 0.5


def change_db(before: Clip, after: Clip, level_dba: float | None = None) -> float:
    """The largest change of level in any auditory filter and half second, in dB; 0 of silence.

    Parameters
    ----------
    before, after
        Clips of one rate and length; channels are added as powers.
    level_dba
        How loud the first plays, A-weighted; None: as `loudness_pattern` takes it, 75 dB K-weighted.

    Examples
    --------
    >>> tone = 0.1 * np.sin(np.arange(48_000) / 48)
    >>> one, louder = (Clip(gain * tone[:, None], 48_000) for gain in (1, 2))
    >>> round(change_db(one, louder), 1)
    6.0
    """
    edges_hz = np.asarray(band_edges(before.rate_hz))
    middles_hz = np.sqrt(edges_hz[1:] * edges_hz[:-1])
    powers = [_powers(clip, edges_hz) for clip in (before, after)]
    weight = k_weight(middles_hz) if level_dba is None else 10 ** (a_weight_db(middles_hz) / 10)
    own = float(powers[0].mean(axis=0) @ weight)
    if own <= 0:
        return 0.0
    full_scale_db = (LISTENING_DB if level_dba is None else level_dba) - 10 * np.log10(own)
    centres_hz = frequency_hz(np.arange(LOWEST, float(erb_number(min(HIGHEST_HZ, before.rate_hz / 2)))))
    let_through = filters(middles_hz, centres_hz)
    quiet = 10 ** ((threshold_db(centres_hz) - full_scale_db) / 10)
    levels = [10 * np.log10(one @ let_through + quiet) for one in powers]
    return float(np.abs(levels[1] - levels[0]).max())


def _powers(clip: Clip, edges_hz: Numbers) -> Numbers:
    """The power in each band of each half second, half of it shared with the next; shape (cells, bands)."""
    length = min(round(CELL_S * clip.rate_hz), clip.frames)
    starts = range(0, clip.frames - length + 1, max(1, length // 2))
    window = np.hanning(length + 2)[1:-1, None]  # a strong low sound must not leak into quiet bands far above it
    hz = np.fft.rfftfreq(length, 1 / clip.rate_hz)
    band = np.searchsorted(edges_hz, hz, side="right") - 1
    inside = (band >= 0) & (band < len(edges_hz) - 1)
    cells = np.zeros((len(starts), len(edges_hz) - 1))
    for cell, start in enumerate(starts):
        spectrum = np.fft.rfft(clip.samples[start : start + length] * window, axis=0)
        power = (np.abs(spectrum) ** 2).sum(axis=1)
        cells[cell] = np.bincount(band[inside], power[inside], len(edges_hz) - 1)
    return np.asarray(cells / np.sum(window**2))
