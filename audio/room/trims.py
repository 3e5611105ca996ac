"""From microphone readings to gains: how loud each setup is at the chair, its gain, how sure. Pure.

Powers of the channels add up, powers at the positions are averaged (the energy mean), the background's power is taken
off. All setups play the very same noise and are compared block by block, so that the noise's own ups and downs cancel;
what spreads between the blocks is what the readings do not repeat.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..errors import MeasureError
from .level import Weighting, decibels
from .noise import DECIBELS_PER_NEPER
from .reading import ChannelReading

ROUNDING_DB = 0.005  # standard uncertainty of the arithmetic and the converters' steps; our choice
LEVEL = 0.99  # of the expanded uncertainty: a sheet that is read once should hold nearly always
NORMAL_99 = 2.576

Signal = NDArray[np.float64]


@dataclass(frozen=True)
class Position:
    """What was read at one place of the microphone: the background, and each setup's channels.

    `background` holds the powers of blocks for each weighting; `setups` the channel readings by name; `silence` is the
    background as it was recorded, shape (frames,).
    """

    background: Mapping[str, Signal]
    setups: Mapping[str, Sequence[ChannelReading]]
    silence: NDArray[np.floating] = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True)
class Level:
    """One setup in one weighting: its level over all positions, and at each, in dB re full scale of the microphone."""

    level_db: float
    positions_db: tuple[float, ...]
    channels_db: tuple[float, ...]
    above_background_db: float


@dataclass(frozen=True)
class Difference:
    """Two setups: how much louder the first is, with its expanded uncertainty (99 %), in dB; and at each position."""

    setups: tuple[str, str]
    difference_db: float
    uncertainty_db: float
    positions_db: tuple[float, ...]


def levels(positions: Sequence[Position], weighting: Weighting) -> dict[str, Level]:
    """Each setup's level.

    Raises
    ------
    MeasureError
        If a setup does not rise above the background at some position.
    """
    result = {}
    for setup in positions[0].setups:
        here = [float(np.mean(_clean(position, setup, weighting))) for position in positions]
        channels = [
            float(np.mean([np.mean(p.setups[setup][place].powers[weighting]) for p in positions]))
            - float(np.mean([np.mean(p.background[weighting]) for p in positions]))
            for place in range(len(positions[0].setups[setup]))
        ]
        if min(here) <= 0 or min(channels) <= 0:
            raise MeasureError(f"{setup} does not rise above the background noise; turn it up with care, or wait")
        silent = float(np.mean([np.mean(p.background[weighting]) for p in positions]))
        total = float(np.mean(here))
        result[setup] = Level(
            level_db=decibels(total),
            positions_db=tuple(decibels(power) for power in here),
            channels_db=tuple(decibels(power) for power in channels),
            above_background_db=decibels(min(channels)) - decibels(silent),
        )
    return result


def differences(positions: Sequence[Position], weighting: Weighting) -> list[Difference]:
    """How much louder each setup is than each other, with its uncertainty.

    Notes
    -----
    Over K blocks the difference is the mean of the blocks' differences to first order; its uncertainty is Student's
    factor times their spread over √K (JCGM 100:2008, 4.2 and G.3). What the background's own unsteadiness leaves after
    it was taken off, and rounding, are added with a factor of 2.576.
    """
    found = levels(positions, weighting)
    return [
        Difference(
            (one, other),
            found[one].level_db - found[other].level_db,
            _uncertainty(positions, one, other, weighting),
            tuple(a - b for a, b in zip(found[one].positions_db, found[other].positions_db, strict=True)),
        )
        for one, other in combinations(found, 2)
    ]


def gains_db(levels_db: Mapping[str, float]) -> dict[str, float]:
    """The gain for each setup, 0 dB or less: the quietest sets the level for all.

    >>> gains_db({"sallow": -31.2, "bracken": -33.0})
    {'sallow': -1.8000000000000007, 'bracken': 0.0}
    """
    target = min(levels_db.values())
    return {setup: target - level for setup, level in levels_db.items()}


def _clean(position: Position, setup: str, weighting: Weighting) -> Signal:
    """The setup's power in each block, all channels together, background taken off."""
    readings = position.setups[setup]
    silent = float(np.mean(position.background[weighting]))
    total = np.sum([reading.powers[weighting] for reading in readings], axis=0)
    return np.asarray(total - len(readings) * silent, dtype=np.float64)


def _uncertainty(positions: Sequence[Position], one: str, other: str, weighting: Weighting) -> float:
    from scipy.special import stdtrit

    first = np.mean([_clean(position, one, weighting) for position in positions], axis=0)
    second = np.mean([_clean(position, other, weighting) for position in positions], axis=0)
    blocks = first.size
    parts = 10 * np.log10(np.maximum(first, 1e-30)) - 10 * np.log10(np.maximum(second, 1e-30))
    factor = float(stdtrit(blocks - 1, (1 + LEVEL) / 2))
    spread = factor * float(np.std(parts, ddof=1)) / blocks**0.5
    left = _background_left(positions, one, other, weighting, float(np.mean(first)), float(np.mean(second)))
    return float(np.hypot(spread, NORMAL_99 * np.hypot(left, ROUNDING_DB)))


def _background_left(
    positions: Sequence[Position], one: str, other: str, weighting: Weighting, first: float, second: float
) -> float:
    """The standard uncertainty that the background leaves in a difference, in dB."""
    spreads = [
        float(np.std(position.background[weighting], ddof=1)) / position.background[weighting].size ** 0.5
        for position in positions
    ]
    error = float(np.sqrt(np.sum(np.square(spreads)))) / len(positions)
    shares = [len(positions[0].setups[setup]) / power for setup, power in ((one, first), (other, second))]
    return float(DECIBELS_PER_NEPER) * error * abs(shares[0] - shares[1])
