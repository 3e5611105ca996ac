"""Taking curves here: sweeps through a setup's route and a microphone in one stream, read, judged and kept."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audio.curves import gate, noise_floor, overload, smooth, sweep
from audio.curves.curve import Curve, Numbers
from audio.curves.microphone_correction import Correction
from audio.curves.noise_floor import Silence
from audio.curves.take import Layout, TakeReading, read_take
from audio.engine.recording import Recorder, record_undisturbed
from audio.engine.routes import Route
from audio.room import microphone
from audio.room.microphone import Calibration

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import curve_records
from .conditions import ON_AXIS, Conditions, Direction
from .curve_records import CurveRecord, NewCurve, RawFile
from .sweep_series import Standing
from .taken import CLEAR_FRACTION, Taken

DEFAULT_DBFS, HIGHEST_DBFS = -30.0, -12.0
LEAST_RANGE_DB = 20.0
REDONE = "taken again in the same series"
SINE_RMS_DB = 10 * np.log10(2)  # a sine's RMS lies so far below its peak

SplOffset = Callable[[str], float | None]
"""From a device's full name to dB SPL of full scale (RMS 1.0) at the microphone's input; None: not calibrated."""


@dataclass(frozen=True)
class SweepSettings:
    """How a sweep is taken: band, length, level (dBFS peak), averages, microphone, channel of the route."""

    mic: Route
    low_hz: float = 20.0
    high_hz: float = 20_000.0
    seconds: float = 5.0
    level_dbfs: float = DEFAULT_DBFS
    averages: int = 2
    rate_hz: int = 48_000
    channel: int = 1
    calibration: Calibration | None = None


@dataclass(frozen=True, eq=False)
class SweptCurve:
    """A sweep taken and kept, the noise below its peak, and its harmonics in % where they peak, by order.

    `floor_percent` is the least that any harmonic could have shown; `said` what is to be told of the take.
    """

    record: CurveRecord
    noise_db: float
    harmonics_percent: dict[int, float]
    floor_percent: float
    said: tuple[str, ...]


def take_sweep(
    casebook: Casebook,
    recorder: Recorder,
    setup: Setup,
    settings: SweepSettings,
    conditions: Conditions,
    *,
    direction: Direction = ON_AXIS,
    standing: Standing | None = None,
    spl_offset: SplOffset = lambda device: None,
    replaces: CurveRecord | None = None,
) -> SweptCurve:
    """Sweep one setup in one direction and keep the impulse response, and the harmonics beside it.

    The level is limited, the sweep ramps up and plays nothing below its low end, which keeps tweeters and ears safe as
    long as the volume is low to begin with.

    Parameters
    ----------
    standing
        Where the microphone stands, if that is known.
    spl_offset
        Where the input is calibrated the curve is in dB SPL, for a tone as loud as the sweep.
    replaces
        What was taken of the same step before: withdrawn once this one is kept.

    Raises
    ------
    CatalogueError, MeasureError, DeviceError
        If the setup has no route, a number is out of range, or the take was disturbed so that nothing of it can be
        used; the message says by what.
    """
    route = _checked_route(setup, settings)
    amplitude = 10 ** (settings.level_dbfs / 20)
    layout = Layout(
        sweep.sweep(settings.low_hz, settings.high_hz, settings.seconds, settings.rate_hz, amplitude), settings.averages
    )
    heard, device = _recorded(recorder, layout, route, settings)
    read = read_take(layout, heard)
    if read.response.noise_db > -LEAST_RANGE_DB:
        raise CatalogueError(
            f"the response stands only {-read.response.noise_db:.0f} dB above the noise; raise the volume a little, "
            "average more, or make the room quieter"
        )
    made = prepared(setup, layout, read, settings, conditions, direction, standing, spl_offset(device))
    old = [replaces] if replaces else []
    kept = curve_records.keep(casebook, setup, [(made.file, made.curves)], replaces=old, why=REDONE)
    return SweptCurve(kept[0], read.response.noise_db, made.percent, made.floor_percent, made.said)


@dataclass(frozen=True, eq=False)
class PreparedSweep:
    """A sweep that was taken and is ready to be kept: its raw file, the response and its harmonics, what is to be said.

    `percent` and `floor_percent` as in `SweptCurve`.
    """

    file: RawFile
    curves: list[NewCurve]
    percent: dict[int, float]
    floor_percent: float
    said: tuple[str, ...]


def prepared(
    setup: Setup,
    layout: Layout,
    read: TakeReading,
    settings: SweepSettings,
    conditions: Conditions,
    direction: Direction,
    standing: Standing | None,
    offset_db: float | None,
) -> PreparedSweep:
    """What is to be kept of a take: the response on the microphone's scale, its valid band, its harmonics.

    Raises
    ------
    CatalogueError
        If nowhere over an octave the response exceeds the noise.
    """
    correction = Correction(settings.calibration)
    moved_db = (standing.distance_db if standing else 0.0) + _to_spl_db(settings, correction, offset_db)
    impulse = correction.impulse(read.response.impulse, settings.rate_hz) * 10 ** (moved_db / 20)
    floor = _floor(read, read.silence, conditions, correction, moved_db)
    mains = _floor(read, read.hum.alone, conditions, correction, moved_db) if read.hum else None
    band, said = _valid(impulse, floor, mains, settings, conditions, correction)
    within = conditions.gate_s, conditions.gate_window
    noise = noise_floor.of_harmonics(read.silence, read.made, read.response, len(read.used), *within)
    harmonics = sweep.distortion(read.made, read.response, *within, noise)
    said += overload.suspected(read.response, harmonics)
    taken = Taken(
        sweep=layout.made,
        averages=settings.averages,
        used=read.used,
        noise_db=round(read.response.noise_db, 1),
        harmonics_percent={},
        arrival_ms=round(1000 * read.response.arrival_s, 3),
        clock_ppm=round(read.clock_ppm, 1),
        drift_db=round(read.drift_db, 2),
        disturbances=(*read.said, *said),
        source_height_m=standing.source_height_m if standing else None,
        microphone_height_m=standing.microphone_height_m if standing else None,
        distance_db=round(standing.distance_db, 3) if standing else 0.0,
        harmonics_gated=True,
    )
    stated = replace(
        conditions,
        gate_ms=1000 * conditions.gate_s,
        valid_hz=band,
        calibration=correction.words,
        spl=offset_db is not None,
    )
    parts = {}
    for order, own in harmonics.items():
        gate_ms = 1000 * sweep.harmonic_gate_s(read.made, read.response, order, conditions.gate_s)
        parts[order] = _harmonic(order, *own, direction, replace(stated, gate_ms=round(gate_ms, 3)), taken)
    percent = {order: most for order, (_, most) in parts.items()}
    taken = replace(taken.with_floor(floor), harmonics_percent=percent)
    curves = [
        NewCurve("impulse", direction, impulse, replace(stated, taken=taken), settings.rate_hz),
        *(new for new, _ in parts.values()),
    ]
    name = f"{setup.name} {direction.plane} {direction.angle}.npz"
    told = (*taken.disturbances, *correction.said((settings.low_hz, settings.high_hz)))
    return PreparedSweep(RawFile.of(name, _npz(read)), curves, percent, _least_percent(parts), told)


def check_level(level_dbfs: float) -> None:
    """Nothing, if a sweep or tone may be played at this level, dBFS (peak).

    Raises
    ------
    CatalogueError
        If it may not.
    """
    if not -60 <= level_dbfs <= HIGHEST_DBFS:
        raise CatalogueError(
            f"--level {level_dbfs:g} is out of range; give -60 to {HIGHEST_DBFS:g} dBFS, and begin "
            "low: sweeps burn tweeters"
        )


def _checked_route(setup: Setup, settings: SweepSettings) -> Route:
    if setup.chain is None:
        raise CatalogueError(f"{setup.name!r} is no real gear; a sweep needs a setup with a route")
    check_level(settings.level_dbfs)
    if not 1 <= settings.averages <= 32:
        raise CatalogueError(f"--averages {settings.averages} is out of range; give 1 to 32")
    route = setup.chain.route
    if not 1 <= settings.channel <= len(route.channels):
        raise CatalogueError(
            f"{setup.name!r} has {len(route.channels)} channels; --channel {settings.channel} is not one"
        )
    return route


def _recorded(
    recorder: Recorder, layout: Layout, route: Route, settings: SweepSettings
) -> tuple[NDArray[np.float64], str]:
    """What the microphone heard of the whole take, shape (frames,), and its device's full name."""
    signal = layout.signal()
    whole = np.zeros((len(signal), len(route.channels)), np.float32)
    whole[:, settings.channel - 1] = signal
    ear = settings.mic.channels[0]
    taken = record_undisturbed(recorder, whole, route, settings.mic, settings.rate_hz)
    own = taken.samples[:, ear].astype(float)
    if microphone.clipped(own):
        raise microphone.too_loud("the sweep", taken.source, ear, "sweep")
    return own, taken.source


def _to_spl_db(settings: SweepSettings, correction: Correction, offset_db: float | None) -> float:
    """What turns a response (heard over played) into dB SPL of a tone as loud as the sweep; 0 without calibration.

    The calibrator's tone was read as the microphone heard it, so at 1 kHz its own file changes nothing.
    """
    if offset_db is None:
        return 0.0
    at_reference = float(correction.levels(np.array([1000.0]), np.zeros(1))[0])
    return float(settings.level_dbfs - SINE_RMS_DB + offset_db - at_reference)


def _floor(read: TakeReading, quiet: Silence, conditions: Conditions, correction: Correction, moved_db: float) -> Curve:
    raw = noise_floor.of_response(quiet, read.made, len(read.used), conditions.gate_s, conditions.gate_window)
    return replace(raw, level_db=correction.levels(raw.hz, raw.level_db) + moved_db)


def _valid(
    impulse: Numbers,
    floor: Curve,
    mains: Curve | None,
    settings: SweepSettings,
    conditions: Conditions,
    correction: Correction,
) -> tuple[tuple[float, float], list[str]]:
    """Where the gated response can be relied on, and what is to be said where noise or hum makes that less."""
    made, _ = gate.gated(impulse, settings.rate_hz, conditions.gate_s, conditions.gate_window)
    wanted = correction.valid_hz((max(settings.low_hz, 1 / conditions.gate_s), settings.high_hz))
    clear = noise_floor.clear_band(made, floor, wanted, mains)
    if clear is None:
        raise CatalogueError(
            f"nowhere over an octave does the response exceed the noise by {noise_floor.CLEAR_DB:g} dB; raise the "
            "volume a little, average more, or make the room quieter"
        )
    if clear == wanted:
        return clear, []
    by = f"the noise by {noise_floor.CLEAR_DB:g} dB"
    if mains is not None and clear != noise_floor.clear_band(made, floor, wanted):
        by += f" and the lines of mains hum by {noise_floor.HUM_CLEAR_DB:g} dB"
    return clear, [f"only from {clear[0]:.0f} to {clear[1]:.0f} Hz does the response exceed {by}; it is valid there"]


def _harmonic(
    order: int, curve: Curve, floor_db: Numbers, direction: Direction, stated: Conditions, taken: Taken
) -> tuple[NewCurve, float]:
    """A harmonic with its own floor, and the most of it, in %, that stands clear of that."""
    valid = curve.valid()
    own = taken.with_floor(Curve(curve.hz[valid], floor_db[valid]))
    own = replace(own, clear_db=noise_floor.HARMONIC_CLEAR_DB)
    seen = curve.valid() & own.clear(curve)
    level_db = smooth.smoothed(curve, CLEAR_FRACTION).level_db
    percent = round(float(100 * 10 ** (level_db[seen].max() / 20)), 3) if seen.any() else 0.0
    own = replace(own, harmonics_percent={order: percent})
    note = "; ".join(part for part in ("relative to the fundamental, dB", stated.note) if part)
    kept = replace(stated, harmonic=order, valid_hz=curve.valid_hz, note=note, spl=False, taken=own)
    return NewCurve("distortion", direction, np.stack([curve.hz, curve.level_db], axis=1), kept), percent


def _least_percent(harmonics: Mapping[int, tuple[NewCurve, float]]) -> float:
    """What a harmonic must reach somewhere to be seen, in %: the lowest harmonic's floor says it."""
    if not harmonics:
        return 0.0
    taken = harmonics[min(harmonics)][0].conditions.taken
    return (taken.least_percent if taken else None) or 0.0


def _npz(read: TakeReading) -> bytes:
    """The response as it was heard, before anything was done to it, and the noise of the silence before the sweeps."""
    out = io.BytesIO()
    np.savez(out, impulse=read.response.impulse, noise_hz=read.silence.hz, noise_density=read.silence.density)
    return out.getvalue()
