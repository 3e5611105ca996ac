"""From the energy of 10 ms cells to loudness figures: windows, gates, range. Pure arithmetic on arrays.

A cell holds the K-weighted, channel-weighted sum of squares of its frames; at rates where 10 ms is not a
whole number of frames, cells differ by one frame. Windows are whole numbers of cells, always full: what is
left at the end of the sound counts in none (ITU-R BS.1770-5 Annex 1).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

CELLS_A_SECOND = 100
# ITU-R BS.1770-5 Annex 1: gating blocks of 400 ms overlapping by 75 %; loudness -0.691 + 10 log10 of the
# weighted mean square; absolute gate -70 LKFS, relative gate 10 LU below; only what is above a gate passes.
BLOCK_CELLS = 40
BLOCK_HOP_CELLS = 10
OFFSET_DB = -0.691
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
NORMAL_LUFS = -23.0  # EBU R 128: the level programmes are brought to, for which the gates are made
# EBU Tech 3341: momentary 0.4 s, short-term 3 s, not gated. A hop of 10 ms catches a 400 ms burst wherever it
# is.
MOMENTARY_CELLS = 40
SHORT_TERM_CELLS = 300
# EBU Tech 3342: range from the 10th to the 95th percentile of 3 s windows at 10 Hz, gates -70 LUFS and -20
# LU.
RANGE_HOP_CELLS = 10
RANGE_RELATIVE_GATE_LU = -20.0
RANGE_PERCENTILES = (10.0, 95.0)

Energies = NDArray[np.float64]


def cell_edges(first: int, last: int, rate_hz: int) -> NDArray[np.int64]:
    """Frame positions of the cell edges number `first` to `last` inclusive, to the nearest frame."""
    return (np.arange(first, last + 1, dtype=np.int64) * rate_hz + CELLS_A_SECOND // 2) // CELLS_A_SECOND


def integrated_lufs(cells: Energies, rate_hz: int, *, normalised: bool = False) -> float | None:
    """Gated loudness of the whole, or None if no block passes the gates (or there is none).

    `normalised`: as if the whole had been turned up to `NORMAL_LUFS` first, where it is quieter. The absolute gate is
    meant for pauses; in a quiet passage it would cut the music itself, of one recording more than of another.
    """
    powers = _window_powers(cells, rate_hz, BLOCK_CELLS, BLOCK_HOP_CELLS)
    gate_lufs = ABSOLUTE_GATE_LUFS
    if normalised and powers.size:
        gate_lufs += min(0.0, float(_lufs(powers.mean())) - NORMAL_LUFS)
    powers = powers[_lufs(powers) > gate_lufs]
    if powers.size == 0:
        return None
    powers = powers[_lufs(powers) > _lufs(powers.mean()) + RELATIVE_GATE_LU]
    return float(_lufs(powers.mean()))


def range_lu(cells: Energies, rate_hz: int) -> float | None:
    """Loudness range, or None if no 3 s window passes the gates; percentiles interpolate linearly."""
    powers = _window_powers(cells, rate_hz, SHORT_TERM_CELLS, RANGE_HOP_CELLS)
    powers = powers[_lufs(powers) > ABSOLUTE_GATE_LUFS]
    if powers.size == 0:
        return None
    levels = _lufs(powers)
    low, high = np.percentile(levels[levels > _lufs(powers.mean()) + RANGE_RELATIVE_GATE_LU], RANGE_PERCENTILES)
    return float(high - low)


def window_lufs(cells: Energies, rate_hz: int, window_cells: int) -> NDArray[np.float64]:
    """Loudness of every full window of that many cells, a cell apart, ungated; -inf where all is silent."""
    return _lufs(_window_powers(cells, rate_hz, window_cells, 1))


def _window_powers(cells: Energies, rate_hz: int, window_cells: int, hop_cells: int) -> NDArray[np.float64]:
    """Mean square of every full window."""
    if cells.size < window_cells:
        return np.empty(0)
    sums = np.lib.stride_tricks.sliding_window_view(cells, window_cells)[::hop_cells].sum(axis=1)
    edges = cell_edges(0, cells.size, rate_hz)
    frames = (edges[window_cells:] - edges[:-window_cells])[::hop_cells]
    return np.asarray(sums / frames)


def _lufs(powers: NDArray[np.float64]) -> NDArray[np.float64]:
    with np.errstate(divide="ignore"):
        return OFFSET_DB + 10 * np.log10(powers)
