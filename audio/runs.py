"""Where flags are set in a row. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The (start, end) of each run of flags, of shape (places,); the end is the place after its last.

    >>> runs(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8))).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))
