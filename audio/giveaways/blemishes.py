"""Cues a chain adds to the sound: noise in the pauses, a DC offset. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import block_levels_db
from .findings import LIMITS, Finding, finding

PAUSE_BELOW_DB, PAUSE_BLOCK_S, FEWEST_BLOCKS = 45.0, 0.05, 4
INAUDIBLE_DBFS = -85.0  # noise below this counts as silence: with music at usual levels it is below a quiet room's


def blemishes(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """What the other's chain adds, or the reference's, that could be told."""
    found = []
    louder = noise_difference_db(reference, other)
    if louder is not None and abs(louder) > LIMITS["noise-floor"].value:
        word = "more" if louder > 0 else "less"
        what = f"{setup} has {abs(louder):.1f} dB {word} noise in the pauses than the reference"
        found.append(finding("noise-floor", setup, passage, louder, what))
    offset_db = dc_difference_db(reference, other)
    if offset_db > LIMITS["dc"].value:
        what = f"{setup} has another DC offset than the reference ({offset_db:.0f} dBFS apart)"
        found.append(finding("dc", setup, passage, offset_db, what))
    return found


def noise_difference_db(reference: Clip, other: Clip) -> float | None:
    """How much more noise (A-weighted) the other has in the pauses; None where the passage has none.

    A pause is where either is quiet: blocks of 50 ms at least 45 dB below its loudest, four or more of them. The noise
    is compared as it would be with the loudest blocks equally loud, so that a mere level difference is none of noise.
    """
    mine = block_levels_db(_whole_blocks(reference), "a", PAUSE_BLOCK_S)
    theirs = block_levels_db(_whole_blocks(other), "a", PAUSE_BLOCK_S)
    count = min(mine.size, theirs.size)
    if count == 0:
        return None
    mine, theirs = mine[:count], theirs[:count]
    theirs = theirs - (theirs.max() - mine.max())
    # a pause is where either is quiet: noise that fills the one's pauses is what is looked for
    quiet = np.minimum(mine - mine.max(), theirs - theirs.max()) < -PAUSE_BELOW_DB
    if quiet.sum() < FEWEST_BLOCKS:
        return None
    kept = np.argsort(np.minimum(mine, theirs))[: max(FEWEST_BLOCKS, int(quiet.sum()) // 2)]
    return _floor_db(theirs[kept]) - _floor_db(mine[kept])


def dc_difference_db(reference: Clip, other: Clip) -> float:
    """The largest difference of a channel's mean, in dB re full scale; −200 where there is none."""
    channels = min(reference.channels, other.channels)
    apart = np.abs(other.samples.mean(axis=0)[:channels] - reference.samples.mean(axis=0)[:channels])
    return 20 * float(np.log10(max(float(apart.max()), 1e-10)))


def _whole_blocks(clip: Clip) -> Clip:
    """The clip without its last part block; a length of many small factors is also quickly transformed."""
    block = round(PAUSE_BLOCK_S * clip.rate_hz)
    return Clip(clip.samples[: clip.frames // block * block], clip.rate_hz)


def _floor_db(levels: NDArray[np.float64]) -> float:
    return float(max(np.median(levels), INAUDIBLE_DBFS))
