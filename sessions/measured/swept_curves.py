"""Taking curves here: a sweep through a setup's route and a microphone, averaged, deconvolved and kept."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass, replace
from math import atan2, degrees

import numpy as np

from audio.curves import gate, sweep
from audio.engine.recording import Recorder, record_undisturbed
from audio.engine.routes import Route
from audio.room import microphone
from audio.room.microphone import Calibration

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook, Row
from ..errors import CatalogueError
from . import curve_records
from .curve_records import Conditions

DEFAULT_DBFS, HIGHEST_DBFS = -30.0, -12.0
AFTER_S = 1.0  # recorded after the sweep, for the room to die away
LEAST_RANGE_DB = 20.0


@dataclass(frozen=True)
class Wish:
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


@dataclass(frozen=True)
class Swept:
    """A sweep taken and kept: its row, its valid band, the noise below the peak, and harmonics in % where they peak."""

    row: Row
    valid_hz: tuple[float, float]
    noise_db: float
    harmonics_percent: dict[int, float]


def angle_of_height(height_m: float, distance_m: float) -> int:
    """The vertical angle of a microphone so much above the axis at a distance, to the nearest degree.

    >>> angle_of_height(0.176, 1.0), angle_of_height(-0.5, 1.0)
    (10, -27)
    """
    return round(degrees(atan2(height_m, distance_m)))


def take_sweep(
    casebook: Casebook,
    recorder: Recorder,
    setup: Setup,
    wish: Wish,
    conditions: Conditions,
    *,
    plane: str = "horizontal",
    angle: int = 0,
) -> Swept:
    """Sweep one setup in one direction and keep the impulse response.

    The level is limited, the sweep ramps up and plays nothing below its low end, which keeps tweeters and ears safe as
    long as the volume is low to begin with.

    Raises
    ------
    CatalogueError, MeasureError, DeviceError
        If the setup has no route, a number is out of range, or the recording is silent, clipped or too noisy.
    """
    if setup.chain is None:
        raise CatalogueError(f"{setup.name!r} is no real gear; a sweep needs a setup with a route")
    if not -60 <= wish.level_dbfs <= HIGHEST_DBFS:
        raise CatalogueError(
            f"--level {wish.level_dbfs:g} is out of range; give -60 to {HIGHEST_DBFS:g} dBFS, and begin "
            "low: sweeps burn tweeters"
        )
    if not 1 <= wish.averages <= 32:
        raise CatalogueError(f"--averages {wish.averages} is out of range; give 1 to 32")
    route = setup.chain.route
    if not 1 <= wish.channel <= len(route.channels):
        raise CatalogueError(f"{setup.name!r} has {len(route.channels)} channels; --channel {wish.channel} is not one")
    made = sweep.sweep(wish.low_hz, wish.high_hz, wish.seconds, wish.rate_hz, 10 ** (wish.level_dbfs / 20))
    result = sweep.deconvolved(made, _recorded(recorder, made, route, wish))
    if result.noise_db > -LEAST_RANGE_DB:
        raise CatalogueError(
            f"the response stands only {-result.noise_db:.0f} dB above the noise; raise the volume a little, average "
            "more, or make the room quieter"
        )
    length = (conditions.gate_ms or 5.0) / 1000
    gate.gated(result.impulse, wish.rate_hz, length, conditions.window or "half-tukey")  # type: ignore[arg-type]
    low = max(wish.low_hz, 1 / length)
    harmonics = sweep.distortion(made, result)
    told = {order: _peak_percent(curve) for order, curve in harmonics.items()}
    stated = replace(
        conditions,
        gate_ms=1000 * length,
        valid_hz=(low, wish.high_hz),
        note=json.dumps({"noise_db": round(result.noise_db, 1), "harmonics_percent": told, "sweep": made.__dict__}),
    )
    impulse = result.impulse
    if wish.calibration is not None:
        impulse = _corrected(impulse, wish.rate_hz, wish.calibration)
    with casebook.writing():
        measurement = curve_records.keep_file(casebook, f"{setup.name} {plane} {angle}.npy", _bytes(result.impulse))
        row = curve_records.keep(
            casebook, setup, measurement, "impulse", impulse, stated, plane=plane, angle=angle, rate_hz=wish.rate_hz
        )
        for order, curve in harmonics.items():
            own = replace(stated, harmonic=order, valid_hz=curve.valid_hz, note="relative to the fundamental, dB")
            data = np.stack([curve.hz, curve.level_db], axis=1)
            curve_records.keep(casebook, setup, measurement, "distortion", data, own, plane=plane, angle=angle)
    return Swept(row, (low, wish.high_hz), result.noise_db, told)


def _recorded(recorder: Recorder, made: sweep.Sweep, route: Route, wish: Wish) -> np.ndarray:
    """The mean of the averages, aligned by the take itself: one stream plays and records."""
    played = made.samples()
    whole = np.zeros((len(played) + round(AFTER_S * wish.rate_hz), len(route.channels)), np.float32)
    whole[: len(played), wish.channel - 1] = played
    total = np.zeros(0)
    for number in range(wish.averages):
        taken = record_undisturbed(recorder, whole, route, wish.mic, wish.rate_hz)
        own = taken.samples[:, wish.mic.channels[0]].astype(float)
        if microphone.clipped(own):
            raise microphone.too_loud("the sweep", taken.source, wish.mic.channels[0])
        if number and len(own) != len(total):
            own = own[: len(total)]
            total = total[: len(own)]
        total = own if not number else total + own
    return total / wish.averages


def _peak_percent(curve: object) -> float:
    level = curve.level_db[curve.valid()]  # type: ignore[attr-defined]
    return round(float(100 * 10 ** (level.max() / 20)), 3) if len(level) else 0.0


def _corrected(impulse: np.ndarray, rate_hz: int, calibration: Calibration) -> np.ndarray:
    """The impulse response without the microphone's own deviation (magnitude only)."""
    spectrum = np.fft.rfft(impulse)
    hz = np.fft.rfftfreq(len(impulse), 1 / rate_hz)
    gain = 10 ** (calibration.correction_db(np.maximum(hz, 1.0)) / 20)
    return np.fft.irfft(spectrum * gain, len(impulse))


def _bytes(impulse: np.ndarray) -> bytes:
    out = io.BytesIO()
    np.save(out, impulse)
    return out.getvalue()
