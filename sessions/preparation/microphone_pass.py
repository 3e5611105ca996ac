"""Reading real setups at the microphone: takes, checks of what was heard, levels. It keeps nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audio.engine.recording import Recorder, Recording, record_undisturbed
from audio.engine.routes import Route
from audio.levels.weighting import By
from audio.room import level, microphone, noise, reading, trims
from audio.room.calibration_file import Meaning, Zero
from audio.room.level import Weighting

from ..casebook import playback_chain
from ..casebook.catalogue import Setup
from ..casebook.playback_chain import PlaybackChain
from .match_evidence import MeasuredDifference, WeightedLevels
from .match_sheet import DEFAULT_TOLERANCE_LU
from .reading_time import ReadingTime
from .selection import Selection

DEFAULT_LEVEL_DBFS = -30.0
HIGHEST_LEVEL_DBFS = -12.0  # the noise's crest factor stays below full scale

Progress = Callable[[str], None]
"""Called with each step that takes a while, in words."""
Moved = Callable[[int], None]
"""Called before each position; returns when the microphone stands there."""
Led = Callable[[Setup], None]
"""Called before a switched setup is read; returns when the sound is led to it."""


@dataclass(frozen=True)
class MicrophoneWish:
    """How the setups are read at the microphone.

    `by` is a weighting, or a method of ISO 532-1; `calibration` a file with its meaning; `positions` how often the
    microphone is placed; `rate_hz` None takes the music's. ISO 532-1 hears the level: `chair_spl_db` is what the noise
    of the softest setup is taken to play at where the microphone is not calibrated. `iso_532`: of which of its
    methods the sheet tells what they would have given too.
    """

    mic: Route
    by: By = "band"
    positions: int = 1
    repeatability_db: float = 0.1
    level_dbfs: float = DEFAULT_LEVEL_DBFS
    calibration: tuple[Path, Meaning, Zero] | None = None
    tolerance_db: float = DEFAULT_TOLERANCE_LU
    rate_hz: int | None = None
    chair_spl_db: float = 75.0
    iso_532: tuple[str, ...] = ()

    @property
    def weighting(self) -> Weighting:
        """By which readings are timed, checked and known: of loudness by ISO 532-1 the A-weighting, its nearest kin."""
        return next((one for one in level.WEIGHTINGS if one == self.by), "a")


@dataclass(frozen=True)
class Pass:
    """One pass over all setups: what was read at each position, arrival times in ms, and the noises' crest factors."""

    positions: list[trims.Position]
    arrivals_ms: dict[str, float]
    crest_db: Mapping[str, float]
    device: str


def silence_at(recorder: Recorder, mic: Route, rate_hz: int, seconds: float, out: Route) -> Recording:
    """A recording of nothing."""
    quiet = np.zeros((round(seconds * rate_hz), len(out.channels)), dtype=np.float32)
    return record_undisturbed(recorder, quiet, out, mic, rate_hz)


def measure(
    recorder: Recorder,
    selection: Selection,
    found: Sequence[PlaybackChain],
    wish: MicrophoneWish,
    rate_hz: int,
    mic: microphone.Calibration | None,
    gains_db: Mapping[str, float],
    *,
    first: bool,
    moved: Moved,
    led: Led,
    time: ReadingTime,
) -> Pass:
    """Read every setup at every position, with these gains; the first pass also looks for what follows the level.

    Raises
    ------
    MeasureError
        If the microphone or a setup does not do what it should; with advice.
    DeviceError
        If a device is absent or stumbles.
    """
    positions: list[trims.Position] = []
    arrivals_ms: dict[str, float] = {}
    device = ""
    seconds = reading.turn_s(wish.repeatability_db, wish.weighting, rate_hz)
    crest: Mapping[str, float] = {}
    wanted = wish.mic.channels[0]
    for place in range(wish.positions):
        if wish.positions > 1:
            moved(place + 1)
        time.silence()
        silent = silence_at(recorder, wish.mic, rate_hz, seconds, found[0].route)
        device = silent.source
        heard = silent.samples[: round(seconds * rate_hz)]
        hum = [level.decibels(float((heard[:, k].astype(float) ** 2).mean())) for k in range(heard.shape[1])]
        microphone.check_background(hum, wanted, device)
        background = reading.background(heard[:, wanted], rate_hz, mic)
        silent_band = [float(level.block_powers(heard[:, k], rate_hz, "band", 1)[0]) for k in range(heard.shape[1])]
        setups = {}
        for number, (setup, chain) in enumerate(zip(selection.setups, found, strict=True)):
            name = setup.name
            if chain.kind == playback_chain.SWITCHED:
                led(setup)
            step = first and place == 0 and number == 0
            time.setup(name, number, place, step=step)
            made = reading.reading_signal(
                rate_hz, seconds, len(chain.channels), wish.level_dbfs + gains_db[name], step=step
            )
            crest = made.crest_db
            taken = record_undisturbed(recorder, made.signal, chain.route, wish.mic, rate_hz)
            microphone.check_signal(
                [level.decibels(power) for power in silent_band],
                reading.rough_levels_db(taken.samples, made, rate_hz),
                wanted,
                name,
                device,
            )
            own = taken.samples[:, wanted]
            if microphone.clipped(own):
                raise microphone.too_loud(name, device, wanted)
            arrived = reading.arrival(own, made)
            read_step = reading.step_db(own, made, arrived, rate_hz, silent_band[wanted])
            if read_step is not None:
                microphone.check_linear(reading.STEP_DB, read_step, device)
            setups[name] = reading.read(own, made, arrived, rate_hz, mic)
            _check_channels(name, setups[name], background, wish.weighting, chain)
        positions.append(trims.Position(background, setups, heard[:, wanted]))
        if first and place == 0:
            arrivals_ms = _arrivals(recorder, selection, found, wish, rate_hz)
    return Pass(positions, arrivals_ms, crest, device)


def _check_channels(
    name: str,
    readings: Sequence[reading.ChannelReading],
    background: Mapping[str, NDArray[np.float64]],
    by: Weighting,
    chain: PlaybackChain,
) -> None:
    """Nothing, if every channel of a setup stands clear of the background in the weighting that decides."""
    silent = level.decibels(float(background[by].mean()))
    for own in readings:
        above = level.decibels(float(own.powers[by].mean())) - silent
        if above < microphone.LEAST_ABOVE_NOISE_DB:
            output = chain.channels[own.channel] + 1
            raise microphone.too_quiet(f"channel {output} of {name}", above)


def _arrivals(
    recorder: Recorder, selection: Selection, found: Sequence[PlaybackChain], wish: MicrophoneWish, rate_hz: int
) -> dict[str, float]:
    """When each setup arrives at the microphone, in ms, in one take; empty where one take cannot hold them all."""
    routes = [chain.route for chain in found]
    if len({route.device for route in routes}) > 1 or any(chain.kind != playback_chain.ROUTE for chain in found):
        return {}
    channels = [route.channels[0] for route in routes]
    made = reading.arrival_signal(rate_hz, len(channels), wish.level_dbfs)
    taken = record_undisturbed(recorder, made.signal, Route(routes[0].device, tuple(channels)), wish.mic, rate_hz)
    heard = taken.samples[:, wish.mic.channels[0]]
    frames = reading.arrivals(heard, made)
    return {s.name: 1000 * late / rate_hz for s, late in zip(selection.setups, frames, strict=True)}


def sensitivities_of(first: Pass, wish: MicrophoneWish, rate_hz: int, offset: float | None) -> dict[str, float]:
    """For each setup, dB SPL (A) at the chair for a digital A-weighted level of 0 dBFS in every channel."""
    if offset is None:
        return {}
    sent = noise.pink(noise.FULL_HZ, rate_hz, rate_hz).samples
    digital = level.decibels(float(level.block_powers(sent, rate_hz, "a", 1)[0])) + wish.level_dbfs
    return {name: own.level_db + offset - digital for name, own in trims.levels(first.positions, "a").items()}


def evidence_of(positions: Sequence[trims.Position]) -> dict[Weighting, WeightedLevels]:
    """Levels of every setup in every weighting, in all and at each position, and the differences with uncertainties."""
    return {weighting: _weighted(positions, weighting) for weighting in level.WEIGHTINGS}


def _weighted(positions: Sequence[trims.Position], weighting: Weighting) -> WeightedLevels:
    found = trims.levels(positions, weighting)
    return WeightedLevels(
        background_db=tuple(round(level.decibels(float(p.background[weighting].mean())), 2) for p in positions),
        levels_db={name: round(own.level_db, 4) for name, own in found.items()},
        positions_db={name: tuple(round(v, 3) for v in own.positions_db) for name, own in found.items()},
        channels_db={name: tuple(round(v, 3) for v in own.channels_db) for name, own in found.items()},
        above_background_db={name: round(own.above_background_db, 1) for name, own in found.items()},
        differences=tuple(
            MeasuredDifference(
                setups=one.setups,
                difference_db=round(one.difference_db, 4),
                uncertainty_db=round(one.uncertainty_db, 4),
                spread_db=round(max(one.positions_db) - min(one.positions_db), 3),
            )
            for one in trims.differences(positions, weighting)
        ),
    )
