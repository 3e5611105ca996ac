"""Stretches of a track that begin and end where the music is quiet, from its level over time. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

GRID_S = 0.5  # starts lie this far apart before they move to a quiet point
SNAP_S = 0.4  # how far a start or an end may move to find one


def stretches(level_db: NDArray[np.float64], hop_s: float, length_s: tuple[float, float]) -> list[tuple[int, int]]:
    """(start, end) in steps; the whole track if it is no longer than the shortest stretch.

    Parameters
    ----------
    level_db
        The level in each step.
    hop_s
        How far steps lie apart.
    length_s
        Shortest and longest stretch.
    """
    steps = level_db.size
    shortest, longest = (round(seconds / hop_s) for seconds in length_s)
    if steps <= shortest:
        return [(0, steps)]
    quiet = _quiet_points(level_db, round(SNAP_S / hop_s))
    found = set()
    for start in range(0, steps - shortest + 1, round(GRID_S / hop_s)):
        for length in range(shortest, longest + 1, max(1, (longest - shortest) // 4)):
            end = min(start + length, steps)
            begin = 0 if start == 0 else int(quiet[start])
            finish = steps if end == steps else int(quiet[end])
            if shortest <= finish - begin <= longest:
                found.add((begin, finish))
    return sorted(found) or [(0, min(steps, longest))]


def _quiet_points(level_db: NDArray[np.float64], reach: int) -> NDArray[np.int64]:
    """For each step, the quietest step within reach."""
    return np.array(
        [
            max(0, at - reach) + int(np.argmin(level_db[max(0, at - reach) : at + reach + 1]))
            for at in range(level_db.size)
        ]
    )
