"""What was read of real setups before and after their trims, as a match sheet keeps it.

Setups go by the names they had when they were read; `MatchSheet` finds them by identifier.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from audio.room.weightings import Weighting


@dataclass(frozen=True)
class PairUncertainty:
    """Two setups, and the expanded uncertainty of the difference between them."""

    setups: tuple[str, str]
    uncertainty_lu: float


@dataclass(frozen=True)
class MeasuredDifference:
    """How much louder the first of two setups is at the microphone; `spread_db` between the positions."""

    setups: tuple[str, str]
    difference_db: float
    uncertainty_db: float
    spread_db: float


@dataclass(frozen=True)
class WeightedLevels:
    """What the microphone read in one weighting, in dB re full scale; by setup in all, at each position, by channel."""

    background_db: tuple[float, ...]
    levels_db: Mapping[str, float]
    positions_db: Mapping[str, tuple[float, ...]]
    channels_db: Mapping[str, tuple[float, ...]]
    above_background_db: Mapping[str, float]
    differences: tuple[MeasuredDifference, ...]


@dataclass(frozen=True)
class ChairLoudness:
    """The noise at the chair as ISO 532-1 hears it, where setups were matched by that.

    Attributes
    ----------
    phon
        The loudness level of each setup before the trims, by the method matched by.
    assumed_spl_db
        At which level the noise of the softest setup was taken to play; None where the microphone was calibrated.
    trims_at
        Where that was taken: by how many dB its level may be off (its text), and each setup's trim then. All by the
        method for steady sounds; at 0 too.
    """

    phon: Mapping[str, float]
    assumed_spl_db: float | None
    trims_at: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True)
class MicrophoneEvidence:
    """How setups were read at the microphone, and what was read before and with the trims, in every weighting.

    Attributes
    ----------
    input
        The input's number, from 1.
    spl_offset_db
        What turns the readings into dB SPL; None where the microphone was not calibrated.
    arrivals_ms
        When each setup arrives; empty where one recording could not hold them all.
    """

    device: str
    input: int
    rate_hz: int
    positions: int
    noise_dbfs: float
    noise_s: float
    crest_db: Mapping[str, float]
    repeatability_db: float
    calibration: str
    spl_offset_db: float | None
    arrivals_ms: Mapping[str, float]
    before: Mapping[Weighting, WeightedLevels]
    after: Mapping[Weighting, WeightedLevels]
    loudness: ChairLoudness | None = None


@dataclass(frozen=True)
class VoltmeterEvidence:
    """The voltages read: of each setup by frequency (its text in Hz), and at 1 kHz again with the trims on."""

    volts: Mapping[str, Mapping[str, float]]
    volts_after: Mapping[str, float]
    response_db: float
    response_limit_db: float


class LevelReading(NamedTuple):
    """A setup's level before the trims and with them; its channels with them (none by voltmeter)."""

    before_db: float
    after_db: float
    channels_db: tuple[float, ...]


@dataclass(frozen=True)
class Readings:
    """What trims follow from, enough to prepare further passages without reading again.

    Attributes
    ----------
    gains
        The trim of each setup in dB.
    sensitivities
        For each setup, dB SPL (A) at the chair for a digital A-weighted level of 0 dBFS; empty without calibration.
    """

    rate_hz: int
    levels: Mapping[str, LevelReading]
    gains: Mapping[str, float]
    pairs: tuple[PairUncertainty, ...]
    sensitivities: Mapping[str, float]
