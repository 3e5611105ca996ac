"""The test signal for reading setups, and the levels that a recording of it holds. Pure.

A signal is a row of segments: one noise on one channel at a time, so that two loudspeakers never interfere at the
microphone. Each noise is played round its own ends, so that a reading holds exactly one turn of it, wherever it begins.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..alignment import correlation
from . import noise
from .level import WEIGHTINGS, Weighting, block_powers, decibels, power_gain
from .microphone import Calibration

LEAD_S = 0.5  # of the noise's own end before it: the room fills with sound
TAIL_S = 0.3  # of its own beginning after it: so that a late reading still holds one whole turn
RAMP_S = 0.25
GAP_S = 0.4  # silence between segments: the room empties
BLOCKS = 8
STEP_DB = 10.0  # a known step, to see whether something follows the level
STEP_S = 3.0
PROBE_S = 0.4
SHORTEST_S = 1.0

Kind = Literal["band", "full", "step"]
Signal = NDArray[np.float64]


@dataclass(frozen=True)
class Segment:
    """One noise on one channel: where its one turn lies in the signal."""

    kind: Kind
    channel: int
    start: int
    frames: int


@dataclass(frozen=True)
class TestSignal:
    """A signal, shape (frames, channels), its segments, and the noises' crest factors in dB."""

    signal: NDArray[np.float32]
    segments: tuple[Segment, ...]
    crest_db: Mapping[str, float]


@dataclass(frozen=True)
class ChannelReading:
    """What one channel of a setup gave: weighted mean squares of the blocks, for each weighting; full scale is 1.

    `heard` is one turn of the full-range noise as the microphone recorded it, shape (frames,).
    """

    channel: int
    powers: Mapping[str, Signal]
    heard: NDArray[np.floating] = field(default_factory=lambda: np.zeros(0))


def turn_s(repeatability_db: float, weighting: Weighting, rate_hz: int) -> float:
    """How long the noises must last for the repeatability wanted, in the weighting that decides and in the band."""
    needed = [noise.length_s(repeatability_db, noise.pink_bandwidth_hz(noise.BAND_HZ))]
    if weighting != "band":
        freqs = np.arange(1.0, rate_hz / 2, 0.1)
        inside = (freqs >= noise.FULL_HZ[0]) & (freqs <= noise.FULL_HZ[1])
        density = np.where(inside, 1 / freqs, 0.0) * power_gain(freqs, rate_hz, weighting)
        needed.append(noise.length_s(repeatability_db, noise.effective_bandwidth_hz(freqs, density)))
    return max(SHORTEST_S, *needed)


def signal_s(seconds: float, channels: int) -> float:
    """How long the signal is that reads a setup with so many channels, in seconds, without the step."""
    return channels * 2 * (LEAD_S + seconds + TAIL_S + GAP_S)


def step_s() -> float:
    """How long the step before it takes, in seconds."""
    return 2 * (LEAD_S + STEP_S + TAIL_S + GAP_S)


def reading_signal(rate_hz: int, seconds: float, channels: int, level_dbfs: float, *, step: bool = False) -> TestSignal:
    """The signal that reads one setup.

    Parameters
    ----------
    seconds
        Length of each noise's turn.
    level_dbfs
        RMS level of every noise.
    step
        Whether a softer stretch comes first, to see if something follows the level.
    """
    frames = round(seconds * rate_hz)
    band, full = (noise.pink(limits, frames, rate_hz) for limits in (noise.BAND_HZ, noise.FULL_HZ))
    wanted: list[tuple[Kind, int, Signal, float]] = []
    if step:
        short = noise.pink(noise.BAND_HZ, round(STEP_S * rate_hz), rate_hz).samples
        wanted += [("step", 0, short, level_dbfs), ("step", 0, short, level_dbfs - STEP_DB)]
    for channel in range(channels):
        wanted += [("band", channel, band.samples, level_dbfs), ("full", channel, full.samples, level_dbfs)]
    parts, segments, place = [], [], 0
    for kind, channel, turn, level in wanted:
        sound = _round(turn, rate_hz) * 10 ** (level / 20)
        lane = np.zeros((sound.size + round(GAP_S * rate_hz), channels), dtype=np.float32)
        lane[: sound.size, channel] = sound
        segments.append(Segment(kind, channel, place + round(LEAD_S * rate_hz), turn.size))
        parts.append(lane)
        place += lane.shape[0]
    crest = {"band": band.crest_db, "full": full.crest_db}
    return TestSignal(np.concatenate(parts), tuple(segments), crest)


def arrival(heard: NDArray[np.floating], made: TestSignal) -> int:
    """How many frames after it was sent the signal arrives, by the peak of the cross-correlation, 0 or more."""
    return correlation.arrival(np.sum(made.signal, axis=1, dtype=np.float64), heard)


def read(
    heard: NDArray[np.floating],
    made: TestSignal,
    arrived: int,
    rate_hz: int,
    calibration: Calibration | None = None,
) -> list[ChannelReading]:
    """The readings of each channel from a recording, shape (frames,)."""
    found: dict[int, dict[str, Signal]] = {}
    turns: dict[int, NDArray[np.floating]] = {}
    for segment in made.segments:
        if segment.kind == "step":
            continue
        turn = _turn(heard, segment, arrived)
        if segment.kind == "full":
            turns[segment.channel] = turn
        for weighting in WEIGHTINGS:
            if (weighting == "band") == (segment.kind == "band"):
                found.setdefault(segment.channel, {})[weighting] = _powers(turn, rate_hz, weighting, calibration)
    return [ChannelReading(channel, powers, turns[channel]) for channel, powers in sorted(found.items())]


def background(heard: NDArray[np.floating], rate_hz: int, calibration: Calibration | None = None) -> dict[str, Signal]:
    """The powers of a recording of nothing, shape (frames,), for each weighting."""
    return {w: block_powers(heard, rate_hz, w, BLOCKS, calibration) for w in WEIGHTINGS}


def arrival_signal(rate_hz: int, setups: int, level_dbfs: float) -> TestSignal:
    """A signal with one short full-range noise for each setup, one after the other, a column each."""
    frames = round(PROBE_S * rate_hz)
    probe = noise.pink(noise.FULL_HZ, frames, rate_hz)
    signal = np.zeros((2 * frames * setups, setups), dtype=np.float32)
    for place in range(setups):
        signal[2 * place * frames : (2 * place + 1) * frames, place] = probe.samples * 10 ** (level_dbfs / 20)
    segments = tuple(Segment("full", place, 2 * place * frames, frames) for place in range(setups))
    return TestSignal(signal, segments, {"full": probe.crest_db})


def arrivals(heard: NDArray[np.floating], made: TestSignal) -> list[float]:
    """How late each setup's noise of an arrival signal arrives, in frames, all against the same sending."""
    found = []
    for segment in made.segments:
        alone = np.zeros_like(made.signal)
        part = slice(segment.start, segment.start + segment.frames)
        alone[part, segment.channel] = made.signal[part, segment.channel]
        found.append(float(arrival(heard, TestSignal(alone, (segment,), made.crest_db))))
    return found


def step_db(heard: NDArray[np.floating], made: TestSignal, arrived: int, rate_hz: int, silent: float) -> float | None:
    """The step of the level as it was read, background power taken off; None where the signal has no step."""
    steps = [segment for segment in made.segments if segment.kind == "step"]
    if not steps:
        return None
    loud, soft = (
        float(block_powers(_turn(heard, segment, arrived), rate_hz, "band", 1)[0]) - silent for segment in steps
    )
    return decibels(loud) - decibels(soft)


def rough_levels_db(heard: NDArray[np.floating], made: TestSignal, rate_hz: int) -> list[float]:
    """The loudest 0.5 s in the band at each input, shape (frames, inputs): enough to see where something arrives."""
    length = round(0.5 * rate_hz)
    count = max(1, heard.shape[0] // length)
    return [
        decibels(float(block_powers(heard[: count * length, place], rate_hz, "band", count).max()))
        for place in range(heard.shape[1])
    ]


def _powers(turn: NDArray[np.floating], rate_hz: int, weighting: str, calibration: Calibration | None) -> Signal:
    """The blocks' powers, their mean brought to that of the whole turn, whose lines do not leak into each other."""
    whole = block_powers(turn, rate_hz, weighting, 1, calibration)[0]  # type: ignore[arg-type]
    blocks = block_powers(turn, rate_hz, weighting, BLOCKS, calibration)  # type: ignore[arg-type]
    return np.asarray(blocks * whole / max(float(blocks.mean()), 1e-30))


def _turn(heard: NDArray[np.floating], segment: Segment, arrived: int) -> NDArray[np.floating]:
    begin = segment.start + arrived
    return heard[begin : begin + segment.frames]


def _round(turn: Signal, rate_hz: int) -> Signal:
    """A noise with its own end before it and its own beginning after it, ramped at both ends."""
    lead, tail = round(LEAD_S * rate_hz), round(TAIL_S * rate_hz)
    repeated = np.concatenate([np.resize(turn, (lead // turn.size + 1) * turn.size)[-lead:], turn, turn[:tail]])
    ramp = round(RAMP_S * rate_hz)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    repeated[:ramp] *= rise
    repeated[-ramp:] *= rise[::-1]
    return repeated
