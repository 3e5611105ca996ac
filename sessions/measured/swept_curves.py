"""Taking curves here: a sweep through a setup's route and a microphone, averaged, deconvolved and kept."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audio.curves import gate, sweep
from audio.curves.curve import Curve
from audio.engine.recording import Recorder, record_undisturbed
from audio.engine.routes import Route
from audio.room import microphone
from audio.room.microphone import Calibration

from ..casebook import documents
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import curve_records
from .conditions import ON_AXIS, Conditions, Direction
from .curve_records import CurveRecord, NewCurve, RawFile

DEFAULT_DBFS, HIGHEST_DBFS = -30.0, -12.0
AFTER_S = 1.0  # recorded after the sweep, for the room to die away
LEAST_RANGE_DB = 20.0


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
    """A sweep taken and kept, the noise below its peak, and its harmonics in % where they peak, by order."""

    record: CurveRecord
    noise_db: float
    harmonics_percent: dict[int, float]


def take_sweep(
    casebook: Casebook,
    recorder: Recorder,
    setup: Setup,
    settings: SweepSettings,
    conditions: Conditions,
    *,
    direction: Direction = ON_AXIS,
) -> SweptCurve:
    """Sweep one setup in one direction and keep the impulse response, and the harmonics beside it.

    The level is limited, the sweep ramps up and plays nothing below its low end, which keeps tweeters and ears safe as
    long as the volume is low to begin with.

    Raises
    ------
    CatalogueError, MeasureError, DeviceError
        If the setup has no route, a number is out of range, or the recording is silent, clipped or too noisy.
    """
    route = _checked_route(setup, settings)
    played = sweep.sweep(
        settings.low_hz, settings.high_hz, settings.seconds, settings.rate_hz, 10 ** (settings.level_dbfs / 20)
    )
    heard = sweep.deconvolved(played, _recorded(recorder, played, route, settings))
    if heard.noise_db > -LEAST_RANGE_DB:
        raise CatalogueError(
            f"the response stands only {-heard.noise_db:.0f} dB above the noise; raise the volume a little, average "
            "more, or make the room quieter"
        )
    length_s = conditions.gate_s
    gate.gated(heard.impulse, settings.rate_hz, length_s, conditions.gate_window)  # raises where it does not fit
    harmonics = sweep.distortion(played, heard)
    percent = {order: _peak_percent(curve) for order, curve in harmonics.items()}
    note = {"noise_db": round(heard.noise_db, 1), "harmonics_percent": percent, "sweep": documents.plain(played)}
    stated = replace(
        conditions,
        gate_ms=1000 * length_s,
        valid_hz=(max(settings.low_hz, 1 / length_s), settings.high_hz),
        note=documents.text_of(note, sort_keys=False),
    )
    impulse = heard.impulse
    if settings.calibration is not None:
        impulse = _corrected(impulse, settings.rate_hz, settings.calibration)
    file = RawFile.of(f"{setup.name} {direction.plane} {direction.angle}.npy", _npy(heard.impulse))
    curves = [
        NewCurve("impulse", direction, impulse, stated, settings.rate_hz),
        *(_harmonic(order, curve, direction, stated) for order, curve in harmonics.items()),
    ]
    kept = curve_records.keep(casebook, setup, [(file, curves)])
    return SweptCurve(kept[0], heard.noise_db, percent)


def _checked_route(setup: Setup, settings: SweepSettings) -> Route:
    if setup.chain is None:
        raise CatalogueError(f"{setup.name!r} is no real gear; a sweep needs a setup with a route")
    if not -60 <= settings.level_dbfs <= HIGHEST_DBFS:
        raise CatalogueError(
            f"--level {settings.level_dbfs:g} is out of range; give -60 to {HIGHEST_DBFS:g} dBFS, and begin "
            "low: sweeps burn tweeters"
        )
    if not 1 <= settings.averages <= 32:
        raise CatalogueError(f"--averages {settings.averages} is out of range; give 1 to 32")
    route = setup.chain.route
    if not 1 <= settings.channel <= len(route.channels):
        raise CatalogueError(
            f"{setup.name!r} has {len(route.channels)} channels; --channel {settings.channel} is not one"
        )
    return route


def _recorded(recorder: Recorder, played: sweep.Sweep, route: Route, settings: SweepSettings) -> NDArray[np.float64]:
    """The mean of the averages, aligned by the take itself: one stream plays and records."""
    samples = played.samples()
    whole = np.zeros((len(samples) + round(AFTER_S * settings.rate_hz), len(route.channels)), np.float32)
    whole[: len(samples), settings.channel - 1] = samples
    ear = settings.mic.channels[0]
    takes = []
    for _ in range(settings.averages):
        taken = record_undisturbed(recorder, whole, route, settings.mic, settings.rate_hz)
        own = taken.samples[:, ear].astype(float)
        if microphone.clipped(own):
            raise microphone.too_loud("the sweep", taken.source, ear)
        takes.append(own)
    shortest = min(len(own) for own in takes)
    total = np.zeros(shortest)
    for own in takes:
        total += own[:shortest]
    return total / len(takes)


def _harmonic(order: int, curve: Curve, direction: Direction, stated: Conditions) -> NewCurve:
    own = replace(stated, harmonic=order, valid_hz=curve.valid_hz, note="relative to the fundamental, dB")
    return NewCurve("distortion", direction, np.stack([curve.hz, curve.level_db], axis=1), own)


def _peak_percent(curve: Curve) -> float:
    level = curve.level_db[curve.valid()]
    return round(float(100 * 10 ** (level.max() / 20)), 3) if len(level) else 0.0


def _corrected(impulse: NDArray[np.float64], rate_hz: int, calibration: Calibration) -> NDArray[np.float64]:
    """The impulse response without the microphone's own deviation (magnitude only)."""
    spectrum = np.fft.rfft(impulse)
    hz = np.fft.rfftfreq(len(impulse), 1 / rate_hz)
    gain = 10 ** (calibration.correction_db(np.maximum(hz, 1.0)) / 20)
    return np.fft.irfft(spectrum * gain, len(impulse))


def _npy(impulse: NDArray[np.float64]) -> bytes:
    out = io.BytesIO()
    np.save(out, impulse)
    return out.getvalue()
