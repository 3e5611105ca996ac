"""Matching levels: the gain each setup needs, what is left after it, and how sure that is. Pure; no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from .clip import Clip, not_finite
from .errors import MeasureError, PassageError
from .levels.channel_layout import positions
from .levels.weighting import SHORTEST_BLOCK_S, By, block_levels_db

CEILING_DBTP = -1.0  # EBU R 128: at most −1 dBTP in production
SHORTEST_S = 1.0  # our choice: two whole gating blocks and more, and long enough to compare by ear
BLOCK_GATE_DB = 30.0  # blocks this far below the loudest say little about how loud the music is; our choice
ROUNDING_DB = 0.005  # the meter's own repeatability and the rounding to 24 bits, as a standard uncertainty; our choice
LEVEL = 0.95  # of the expanded uncertainty; with many blocks its factor is the usual k = 2 (JCGM 100:2008, 6.2, G.3)


@dataclass(frozen=True)
class SetupMatch:
    """One setup on one passage: before, the gain, and after (measured again from the prepared file)."""

    setup: str
    loudness_lufs: float
    gain_db: float
    after_lufs: float
    true_peak_dbtp: float
    level_db: float
    after_level_db: float
    channel_after_db: tuple[float | None, ...]


@dataclass(frozen=True)
class PassageMatch:
    """One passage: every setup, and what is left between them.

    `residual_lu` is the largest difference between two setups after matching, in the measure used;
    `channel_residual_lu` the same for single channels; `uncertainties_lu` the expanded uncertainty for each two setups.
    `after_by` are the levels afterwards in every measure there is, this one among them.
    """

    passage: str
    setups: tuple[SetupMatch, ...]
    residual_lu: float
    channel_residual_lu: float | None
    uncertainties_lu: Mapping[tuple[str, str], float]
    after_by: Mapping[By, Mapping[str, float]]

    @property
    def uncertainty_lu(self) -> float:
        """The largest of the uncertainties."""
        return max(self.uncertainties_lu.values())


def gains_db(
    levels_db: Mapping[str, float], true_peaks_dbtp: Mapping[str, float], ceiling_dbtp: float = CEILING_DBTP
) -> dict[str, float]:
    """The gain for each setup, all 0 dB or less: equal levels, and no true peak above the ceiling.

    The setup that is quietest once its own peak obeys the ceiling sets the level for all.
    """
    target = min(level + min(0.0, ceiling_dbtp - true_peaks_dbtp[setup]) for setup, level in levels_db.items())
    return {setup: min(0.0, target - level) for setup, level in levels_db.items()}


def check_clips(passage: str, clips: Mapping[str, Clip]) -> None:
    """Nothing, if the clips can be matched: two or more, equally long, of one rate and channel count, 1 s or longer.

    Raises
    ------
    PassageError
        If the passage is too short.
    MeasureError
        If the clips differ in rate, length or channels.
    """
    if len(clips) < 2:
        raise MeasureError(f"passage {passage!r}: matching needs two setups or more; got {', '.join(clips) or 'none'}")
    for name, clip in clips.items():
        if not_finite(clip.samples) is not None:
            raise MeasureError(f"passage {passage!r} of {name!r} holds samples that are not numbers; export it again")
    reference, *others = clips
    first = clips[reference]
    if first.length_s < SHORTEST_S:
        raise PassageError(f"passage {passage!r} is {first.length_s:.2f} s long; choose at least {SHORTEST_S:g} s")
    for name in others:
        other = clips[name]
        for what, mine, theirs in (
            ("sample rate", first.rate_hz, other.rate_hz),
            ("length in frames", first.frames, other.frames),
            ("channel count", first.channels, other.channels),
            ("which loudspeakers the channels belong to", _loudspeakers(first), _loudspeakers(other)),
        ):
            if mine != theirs:
                raise MeasureError(
                    f"passage {passage!r}: {reference!r} and {name!r} differ in {what} ({mine} and {theirs}); "
                    "bring recordings of the same kind"
                )


def uncertainties_lu(clips: Mapping[str, Clip], by: By) -> dict[tuple[str, str], float]:
    """The expanded uncertainty (95 %) of the level difference between each two matched clips, in LU or dB.

    Two setups of different balance are never equally loud at every moment: the difference of their levels over
    non-overlapping 400 ms blocks spreads. The mean difference is known to that spread divided by √blocks; blocks more
    than 30 dB below the loudest are left out. Student's factor for so many blocks (2 for many, more for few) makes it a
    95 % figure; the meter's repeatability and rounding, 0.005 dB, are added with a factor of 2.
    """
    levels = {name: block_levels_db(clip, by, SHORTEST_BLOCK_S) for name, clip in clips.items()}
    return {(one, other): _uncertainty(levels[one], levels[other]) for one, other in combinations(levels, 2)}


def _loudspeakers(clip: Clip) -> str:
    return " ".join(positions(clip.channels, clip.channel_mask) or ("unknown",))


def residual(levels: Mapping[str, float]) -> float:
    """The largest difference between two of the levels."""
    return max(levels.values()) - min(levels.values())


def channel_residual(channels: Mapping[str, tuple[float | None, ...]]) -> float | None:
    """The largest difference between setups in one channel; None where a channel is silent in some setup only.

    A channel silent in every setup is left out.
    """
    worst = 0.0
    for levels in zip(*channels.values(), strict=True):
        heard = [level for level in levels if level is not None]
        if heard and len(heard) < len(levels):
            return None
        if heard:
            worst = max(worst, max(heard) - min(heard))
    return worst


def _uncertainty(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    from scipy.special import stdtrit

    loudness = np.maximum(one, other)
    differences = (one - other)[loudness > loudness.max() - BLOCK_GATE_DB]
    if differences.size < 2:  # a passage of a second has two blocks; one alone tells no spread
        differences = one - other
    spread = float(np.std(differences, ddof=1)) / differences.size**0.5
    factor = float(stdtrit(differences.size - 1, (1 + LEVEL) / 2))
    return float(np.hypot(factor * spread, 2 * ROUNDING_DB))
