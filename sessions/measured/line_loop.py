"""Electronics through a line loop: each channel's response, noise, a tone, and what the other channel gives of it.

One stream a channel plays markers and sweeps, then nothing, then a tone, and records both inputs meanwhile.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audio.curves import crosstalk, line_spectrum, sweep
from audio.curves.crosstalk import Crosstalk
from audio.curves.line_spectrum import LineSpectrum
from audio.curves.take import Layout, TakeReading, read_take
from audio.engine.recording import Recorder, record_undisturbed
from audio.engine.routes import Route
from audio.errors import MeasureError
from audio.room import microphone

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import curve_records, swept_curves
from .conditions import ON_AXIS, Conditions
from .curve_records import CurveRecord, NewCurve, RawFile
from .member import SIDES, Member, Side
from .swept_curves import HIGHEST_DBFS, PreparedSweep, SweepSettings

GATE_MS = 200.0
QUIET_S, TONE_S, EDGE_S, AFTER_S = 1.5, 2.5, 0.3, 1.0
FADE_S = 0.05
HIGHEST_TONE_DBFS = -0.5
MOST_INPUTS = 2
EXCHANGED = 10 ** (10 / 20)  # no crosstalk comes so far above what it comes from; our choice


@dataclass(frozen=True)
class LoopSettings:
    """How a loop is measured: its inputs, the levels of tone and sweep (dBFS, peak), the tone, the sweep's ends.

    `nothing_sounds`: somebody says that no loudspeaker or headphone hangs on it, so that the tone may be loud.
    """

    inputs: Route
    level_dbfs: float = -20.0
    tone_hz: float = 1000.0
    low_hz: float = 10.0  # an octave below what is read: a sweep's own beginning bends what lies next to it
    high_hz: float = 20_000.0
    seconds: float = 3.0
    averages: int = 2
    rate_hz: int = 48_000
    nothing_sounds: bool = False

    @property
    def swept(self) -> SweepSettings:
        """The sweep's own settings; it is never louder than a sweep through a loudspeaker may be."""
        level = min(self.level_dbfs, HIGHEST_DBFS)
        return SweepSettings(self.inputs, self.low_hz, self.high_hz, self.seconds, level, self.averages, self.rate_hz)


@dataclass(frozen=True, eq=False)
class LoopTaken:
    """A loop that was measured and kept: its curves, and what is to be said of each channel's take."""

    records: list[CurveRecord]
    said: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Channel:
    """What one channel gave."""

    side: Side | None
    read: TakeReading
    swept: PreparedSweep
    noise: LineSpectrum
    tone: LineSpectrum
    crosstalk: Crosstalk | None
    said: tuple[str, ...]


def take_loop(
    casebook: Casebook, recorder: Recorder, setup: Setup, settings: LoopSettings, conditions: Conditions
) -> LoopTaken:
    """Measure a setup's one or two channels through a line loop, and keep all of it or nothing.

    Raises
    ------
    CatalogueError, MeasureError, DeviceError
        If the setup has no route, a number is out of range, nothing arrives, or a take was disturbed.
    """
    route = _checked(setup, settings)
    gated = replace(conditions, gate_ms=conditions.gate_ms or GATE_MS)
    places = range(len(settings.inputs.channels))
    found = [_measured(recorder, setup, route, settings, gated, place) for place in places]
    raw = RawFile.of(f"{setup.name} loop.npz", _npz(found))
    curves = [curve for one in found for curve in _curves(one, settings, gated)]
    records = curve_records.keep(casebook, setup, [(raw, curves)])
    said = [f"{one.side}: {line}" if one.side else line for one in found for line in one.said]
    return LoopTaken(records, tuple(said))


def _checked(setup: Setup, settings: LoopSettings) -> Route:
    if setup.chain is None:
        raise CatalogueError(f"{setup.name!r} is no real gear; a loop needs a setup with a route")
    route, many = setup.chain.route, len(settings.inputs.channels)
    if many > MOST_INPUTS or many > len(route.channels):
        raise CatalogueError(
            f"--into names {many} inputs; name one for each channel of {setup.name!r} ({len(route.channels)}), two at "
            "most"
        )
    highest = HIGHEST_TONE_DBFS if settings.nothing_sounds else HIGHEST_DBFS
    if not -60 <= settings.level_dbfs <= highest:
        louder = "" if settings.nothing_sounds else "; more only with --nothing-sounds, if no loudspeaker hangs on it"
        raise CatalogueError(f"--level {settings.level_dbfs:g} is out of range; give -60 to {highest:g} dBFS{louder}")
    if not settings.low_hz <= settings.tone_hz <= settings.high_hz / 2:
        raise CatalogueError(
            f"--tone {settings.tone_hz:g} is out of range; a tone lies within the sweep, its second harmonic too "
            f"({settings.low_hz:g} to {settings.high_hz / 2:g} Hz)"
        )
    return route


def _measured(
    recorder: Recorder, setup: Setup, route: Route, settings: LoopSettings, conditions: Conditions, place: int
) -> _Channel:
    """One channel played, all inputs recorded, and what that comes to."""
    own_settings, rate = settings.swept, settings.rate_hz
    amplitude = 10 ** (own_settings.level_dbfs / 20)
    layout = Layout(
        sweep.sweep(settings.low_hz, settings.high_hz, settings.seconds, rate, amplitude), settings.averages
    )
    taking = layout.signal()
    quiet, sounding, edge = (round(seconds * rate) for seconds in (QUIET_S, TONE_S, EDGE_S))
    signal = np.concatenate([taking, np.zeros(quiet), _tone(settings), np.zeros(round(AFTER_S * rate))])
    whole = np.zeros((len(signal), len(route.channels)), np.float32)
    whole[:, place] = signal
    taken = record_undisturbed(recorder, whole, route, settings.inputs, rate)
    heard = [taken.samples[:, one].astype(float) for one in settings.inputs.channels]
    own = heard[place]
    if microphone.clipped(own):
        raise microphone.too_loud("the loop", taken.source, settings.inputs.channels[place], "measure")
    _check_inputs(settings, heard, place)
    read = read_take(layout, own[: len(taking) + quiet])
    arrival = round(read.response.arrival_s * rate)
    begin = len(taking) + arrival
    noise = line_spectrum.line_spectrum(own[begin + edge : begin + quiet - edge // 4], rate)
    tone = line_spectrum.line_spectrum(own[begin + quiet + edge : begin + quiet + sounding - edge // 4], rate)
    line_spectrum.tone_reading(tone, noise)  # raises where none arrives
    side: Side | None = SIDES[place] if len(heard) > 1 else None
    stated = replace(conditions, member=Member(side=side or ""))
    swept = swept_curves.prepared(setup, layout, read, own_settings, stated, ON_AXIS, None, None)
    said, between = list(swept.said), None
    if side is not None:
        try:
            between = crosstalk.crosstalk(layout, read.made, own, heard[1 - place], arrival)
        except MeasureError:
            said.append("the other input stays silent to the last bit: no crosstalk was read")
    return _Channel(side, read, swept, noise, tone, between, tuple(said))


def _check_inputs(settings: LoopSettings, heard: list[NDArray[np.float64]], place: int) -> None:
    """Nothing, if what a channel plays arrives at its own input rather than at the other's.

    Raises
    ------
    CatalogueError
        If the other input hears more of it.
    """
    if len(heard) < 2:
        return
    own, other = (float(np.sqrt(np.mean(heard[one] ** 2))) for one in (place, 1 - place))
    if other > EXCHANGED * own:
        wanted, found = (settings.inputs.channels[one] + 1 for one in (place, 1 - place))
        raise CatalogueError(
            f"what the {SIDES[place]} channel plays arrives at input {found}, not at input {wanted}: the inputs are "
            "exchanged; exchange the cables, or the inputs after --into"
        )


def _tone(settings: LoopSettings) -> NDArray[np.float64]:
    """The tone, faded in and out."""
    rate = settings.rate_hz
    time = np.arange(round(TONE_S * rate)) / rate
    made = 10 ** (settings.level_dbfs / 20) * np.sin(2 * np.pi * settings.tone_hz * time)
    frames = round(FADE_S * rate)
    fade = 0.5 - 0.5 * np.cos(np.pi * np.arange(frames) / frames)
    made[:frames] *= fade
    made[-frames:] *= fade[::-1]
    return made


def _curves(one: _Channel, settings: LoopSettings, conditions: Conditions) -> list[NewCurve]:
    """What is kept of a channel: the response with its harmonics, noise and tone as spectra, the crosstalk."""
    side = one.side or ""
    plain = replace(conditions, gate_ms=None, calibration="none", valid_hz=(20.0, settings.rate_hz / 2.2))
    members = (
        (one.noise, Member(side=side, quantity="noise")),
        (one.tone, Member(side=side, quantity="tone", tone_hz=settings.tone_hz, tone_dbfs=settings.level_dbfs)),
    )
    found = [*one.swept.curves]
    for spectrum, member in members:
        data = np.stack([spectrum.hz, spectrum.level_db], axis=1)
        found.append(NewCurve("response", ON_AXIS, data, replace(plain, member=member)))
    if one.crosstalk is not None:
        curve = one.crosstalk.curve
        taken = one.swept.curves[0].conditions.taken
        own = taken.with_floor(one.crosstalk.floor) if taken else None
        stated = replace(plain, valid_hz=curve.valid_hz, taken=own, member=Member(side=side, quantity="crosstalk"))
        found.append(NewCurve("response", ON_AXIS, np.stack([curve.hz, curve.level_db], axis=1), stated))
    return found


def _npz(found: list[_Channel]) -> bytes:
    """Responses, and spectra of noise and tone, as they were read."""
    parts: dict[str, NDArray[np.float64]] = {}
    for number, one in enumerate(found, 1):
        parts |= {
            f"impulse_{number}": one.read.response.impulse,
            f"noise_{number}": np.stack([one.noise.hz, one.noise.power]),
            f"tone_{number}": np.stack([one.tone.hz, one.tone.power]),
        }
    out = io.BytesIO()
    np.savez(out, allow_pickle=False, **parts)
    return out.getvalue()
