"""What was measured of two setups beside their responses, where a word may point there: distortion, decay and others.

Distortion alone has a threshold, and a vague one: quality falls from 0.6 to 3 % on, older thresholds are 2 to 10 %
(J. Acoust. Soc. Jpn (E) 11(1) 1990, its abstract; for all music and drivers alike, so that it is little). Of the
directivity index and of impedance we know none; of decay those we know contradict each other (`DECAY_SOURCE`) and speak
of rooms. These are told with their numbers, and nothing is judged by them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audio.curves import decay
from audio.curves.curve import Curve, log_grid
from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import SessionsError
from . import curve_records, curve_summary
from .band_effect import valid_at
from .conditions import ON_AXIS, STRAIGHT_UP
from .curve_records import CurveRecord, SetupCurves
from .figures import responses
from .figures.figure import Subject
from .frequency_response import response_of

DISTORTION_PERCENT = (0.6, 3.0)
DISTORTION_STEP_DB = 2.0  # our own rule: harmonics less far apart are not told apart, as no repeats of them are kept
DISTORTION_SOURCE = (
    "harmonics from 0.6 to 3 % on (J. Acoust. Soc. Jpn (E) 11(1) 1990, its abstract; which order it is, and how loud, "
    "matters as much)"
)
DECAY_SOURCE = (
    "from how long a decay on it is heard is not agreed on: 0.2 s from 100 Hz on (Stephenson 2012, its abstract), 0.3 "
    "to 0.4 s (Karjalainen and others 2004, second-hand), both of modes in rooms"
)
PERIODS_IN_GATE = 2.0  # of a band's lowest frequency, so that a fall of 20 dB can be told from the gate; our choice
LEAST_OF_BAND = 0.5  # in octaves
BAND_RINGS = 3.0  # over its width in Hz: a click's fall by 20 dB in a band of 60 to 250 Hz takes 2.6 of them, computed
WHOLE_HZ = (100.0, 10_000.0)  # where a word gives no band; our choice
DIRECTIVITY_HZ = (500.0, 10_000.0)
SMOOTHING = 12.0
PER_OCTAVE = 24
LEAST_POINTS = 8


@dataclass(frozen=True)
class Beside:
    """What was measured of both setups of one kind.

    Attributes
    ----------
    percent
        Of a distortion: the harmonics of the first and of the second, in the word's band; 0 where none stands above its
        floor. None where it cannot be judged.
    told
        The same in words.
    """

    kind: str
    told: str
    percent: tuple[float, float] | None = None


@dataclass(frozen=True)
class BesideWords:
    """Two setups' curves, ready to be asked for what a word may point to."""

    first: SetupCurves
    second: SetupCurves

    def of(self, kind: str, low_hz: float | None, high_hz: float | None) -> Beside | None:
        """What was measured of both of a kind, in a band (None: all of it); None where nothing of it was."""
        band = (low_hz or WHOLE_HZ[0], high_hz or WHOLE_HZ[1])
        if kind == "distortion":
            return self._distortion(band)
        if kind == "directivity":
            return self._directivity()
        if kind == "decay":
            return self._decay(band)
        return self._impedance() if kind == "impedance" else None

    @property
    def _both(self) -> tuple[SetupCurves, SetupCurves]:
        return self.first, self.second

    def _distortion(self, band_hz: tuple[float, float]) -> Beside | None:
        if not all(one.distortion for one in self._both):
            return None
        found = [
            harmonics_percent(responses.distortion(one.distortion, Subject(one, SMOOTHING)), *band_hz)
            for one in self._both
        ]
        if found[0] is None or found[1] is None:
            return None
        names = [one.setup.name for one in self._both]
        told = f"harmonics of {names[0]} {found[0]:.2g} %, of {names[1]} {found[1]:.2g} %, on average over "
        told += f"{band_hz[0]:g} to {band_hz[1]:g} Hz as far as they stand above their floors"
        drives = {record.conditions.drive_volts for one in self._both for record in one.distortion.values()}
        if None in drives or len(drives) > 1:
            return Beside(
                "distortion", f"{told}; they grow with the level, and it is not stated that both had one drive"
            )
        return Beside("distortion", f"{told}, at one drive, which need not be that of listening", (found[0], found[1]))

    def _decay(self, band_hz: tuple[float, float]) -> Beside | None:
        """How long each takes to fall by 20 dB in the band, as far as the gate of its newest impulse tells."""
        told = []
        for one in self._both:
            record = _newest_impulse(one)
            if record is None:
                return None
            gate_s, valid = record.conditions.gate_s, response_of(record).band
            low, high = max(band_hz[0], valid[0], PERIODS_IN_GATE / gate_s), min(band_hz[1], valid[1])
            name, gate = one.setup.name, f"a gate of {1000 * gate_s:.3g} ms"
            if high <= low or np.log2(high / low) < LEAST_OF_BAND * np.log2(band_hz[1] / band_hz[0]):
                told.append(f"{gate} is too short to tell how {name} decays there")
                continue
            fall_s = decay.band_fall_s(record.data, record.rate_hz, gate_s, (low, high))
            span = f"{low:.0f} to {high:.0f} Hz"
            if fall_s is None:
                told.append(f"{span} of {name} have not fallen by 20 dB within what {gate} can show")
            elif fall_s <= BAND_RINGS / (high - low):
                told.append(f"{span} of {name} fall by 20 dB as fast as so wide a band can, within {gate}")
            else:
                told.append(
                    f"{span} of {name} fall by 20 dB in {1000 * fall_s:.{0 if fall_s > 0.01 else 1}f} ms, within {gate}"
                )
        return Beside("decay", f"{'; '.join(told)}; {DECAY_SOURCE}")

    def _impedance(self) -> Beside | None:
        """The lowest of each, which only an amplifier that gives way at its output turns into something heard."""
        told = []
        for one in self._both:
            if one.impedance is None:
                return None
            try:
                found = curve_summary.impedance_in_numbers(one.impedance)
            except MeasureError:
                return None
            lowest = f"{found.minimum_ohm:.1f} ohm at {found.minimum_hz:.0f} Hz"
            told.append(f"the impedance of {one.setup.name} falls to {lowest}")
        why = "how much of it is heard hangs on the amplifier and the cable, which are not known here"
        return Beside("impedance", f"{'; '.join(told)}; {why}")

    def _directivity(self) -> Beside | None:
        indices = [_index(one) for one in self._both]
        if indices[0] is None or indices[1] is None:
            return None
        hz = log_grid(*DIRECTIVITY_HZ, PER_OCTAVE)
        valid = np.all([valid_at(one, hz) for one in (indices[0], indices[1])], axis=0)
        if valid.sum() < LEAST_POINTS:
            return None
        apart = float(np.mean(indices[0].at(hz[valid]) - indices[1].at(hz[valid])))
        more, less = (self.first, self.second) if apart >= 0 else (self.second, self.first)
        told = f"{more.setup.name} sends its sound {abs(apart):.1f} dB more to the front than {less.setup.name}"
        span = f"{hz[valid][0]:.0f} to {hz[valid][-1]:.0f} Hz"
        told += f" (directivity index over {span}), and from which difference on that is heard nobody states"
        return Beside("directivity", told)


def beside_words(casebook: Casebook, setups: Sequence[Setup]) -> BesideWords:
    """What was measured of two setups, first and second."""
    return BesideWords(curve_records.of_setup(casebook, setups[0]), curve_records.of_setup(casebook, setups[1]))


def harmonics_percent(found: responses.Distortion, low_hz: float, high_hz: float) -> float | None:
    """All harmonics above their floors, as the mean power over a band's octaves, in per cent of the fundamental.

    None where too little of the band was measured; 0 where no harmonic stands above its floor.
    """
    hz = log_grid(low_hz, high_hz, PER_OCTAVE)
    power, measured = np.zeros(len(hz)), np.zeros(len(hz), dtype=bool)
    for order, curve in found.harmonics.items():
        valid = valid_at(curve, hz)
        clear = np.interp(np.log(hz), np.log(curve.hz), found.clear[order].astype(float)) > 0.5
        power += np.where(valid & clear, 10 ** (curve.at(hz) / 10), 0.0)
        measured |= valid
    if measured.sum() < LEAST_POINTS:
        return None
    return 100 * float(np.sqrt(np.mean(power[measured])))


def _newest_impulse(measured: SetupCurves) -> CurveRecord | None:
    """On axis; a response that came later tells nothing of a decay, and takes nothing away."""
    own = [one for one in reversed(measured.everything) if one.kind == "impulse" and one.conditions.one_of.alone]
    return next((one for toward in (ON_AXIS, STRAIGHT_UP) for one in own if one.direction == toward), None)


def _index(measured: SetupCurves) -> Curve | None:
    """The directivity index of the sound power; None where the angles do not give it."""
    try:
        return curve_summary.directivity(curve_summary.set_of(measured)).curves.get("sound power DI")
    except (SessionsError, MeasureError):
        return None
