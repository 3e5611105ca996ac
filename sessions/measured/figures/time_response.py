"""Figures of an impulse response in time: how it dies away, its step response, group delay and phase. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audio.curves import decay, draw, gate, maps, phase
from audio.curves.curve import Curve
from audio.curves.decay import LOOKED_FOR, Decay

from ..curve_records import CurveRecord
from ..frequency_response import only_valid, response_of
from .figure import Subject, columns, rounded, titled

BURST_CYCLES = 4.0
EDGE_WORDS = "ended where the end of the band rings into it"
CABINET_LEAST_S = 0.05  # of a gate: 50 Hz resolved, 30 ms followed; with less no mode of a cabinet can be told apart
STEP_FROM_FRAMES, STEP_FROM_S, STEP_TO_S = 48, 0.0005, 0.01  # of a step response: before its onset (the longer), after


@dataclass(frozen=True, eq=False)
class DecayMap:
    """A decay as a map."""

    decay: Decay
    title: str
    note: str
    said: tuple[str, ...] = ()

    def to_document(self) -> dict[str, Any]:
        """Level against frequency (columns) and time in s or periods (rows)."""
        found = self.decay
        return {
            "unit": found.unit,
            "hz": rounded(found.hz, 2),
            "steps": rounded(found.steps, 6),
            "valid_from_hz": rounded(found.valid_from_hz, 2),
            **({} if found.valid_to_hz is None else {"valid_to_hz": rounded(found.valid_to_hz, 2)}),
            "level_db": [rounded(row, 2) for row in found.level_db],
            "note": self.note,
            "said": list(self.said),
        }

    def sentences(self) -> list[str]:
        """What it can show and what not."""
        return list(self.said)

    def drawn(self) -> Any:
        """Time or periods downwards."""
        return maps.decay_map(self.decay, title=self.title, note=self.note)


@dataclass(frozen=True, eq=False)
class DecaySlices(DecayMap):
    """The same decay as slices."""

    def drawn(self) -> Any:
        """One line a slice."""
        return maps.decay_slices(self.decay, title=self.title, note=self.note)


@dataclass(frozen=True, eq=False)
class StepResponse:
    """The running sum of an impulse response around its onset, which lies at frame `onset`; its peak is at ±1."""

    name: str
    amplitude: NDArray[np.float64]
    onset: int
    rate_hz: int
    note: str = ""

    def to_document(self) -> dict[str, Any]:
        """Amplitude by frames."""
        return {
            "rate_hz": self.rate_hz,
            "from_onset_frames": -self.onset,
            "amplitude": rounded(self.amplitude, 5),
        }

    def drawn(self) -> Any:
        """One line against time."""
        return draw.step(self.amplitude, self.rate_hz, self.onset, title=f"{self.name}: step response", note=self.note)


@dataclass(frozen=True, eq=False)
class GroupDelay:
    """The group delay in ms, as a curve's level."""

    name: str
    curve: Curve
    note: str = ""

    def to_document(self) -> dict[str, Any]:
        """Delay against frequency."""
        return columns(("hz", "ms"), self.curve.hz, self.curve.level_db)

    def drawn(self) -> Any:
        """One line."""
        return draw.delay(self.curve.hz, self.curve.level_db, title=f"{self.name}: group delay", note=self.note)


@dataclass(frozen=True, eq=False)
class Phases:
    """The phase as it was measured, and the minimum phase of the same magnitude, degrees, unwrapped."""

    name: str
    hz: NDArray[np.float64]
    measured_deg: NDArray[np.float64]
    minimum_deg: NDArray[np.float64]
    valid_hz: tuple[float, float]
    note: str = ""

    @property
    def excess_deg(self) -> NDArray[np.float64]:
        """What was measured beyond the minimum."""
        return self.measured_deg - self.minimum_deg

    def to_document(self) -> dict[str, Any]:
        """Phases against frequency."""
        names = ("hz", "measured_deg", "minimum_deg", "excess_deg")
        return columns(names, self.hz, self.measured_deg, self.minimum_deg, self.excess_deg)

    def drawn(self) -> Any:
        """Three lines, wrapped."""
        curves = {"measured": self.measured_deg, "minimum": self.minimum_deg, "excess": self.excess_deg}
        return draw.phases(self.hz, curves, self.valid_hz, title=f"{self.name}: phase", note=self.note)


def decay_map(found: CurveRecord, subject: Subject) -> DecayMap:
    """The cumulative spectral decay as a map."""
    made = decay_slices(found, subject)
    hatched = "what is left cannot resolve it" + (", or not looked at" if _looked_to_hz(subject) else "")
    return DecayMap(made.decay, made.title, f"{made.note}; hatched: {hatched}", made.said)


def decay_slices(found: CurveRecord, subject: Subject) -> DecaySlices:
    """The cumulative spectral decay as slices, over a window that follows from what is looked for."""
    sought, gate_s = LOOKED_FOR[subject.looked_for], found.conditions.gate_s
    window_s = sought.window_s(gate_s)
    made = decay.cumulative(found.data, found.rate_hz, window_s, sought, highest_hz=response_of(found).band[1])
    ends = EDGE_WORDS if made.valid_to_hz is not None and made.valid_to_hz.min() < made.hz[-1] else ""
    up_to = f", up to {looked_to:g} Hz" if (looked_to := _looked_to_hz(subject)) else ""
    return DecaySlices(
        made,
        f"{titled(subject, found)}: cumulative spectral decay",
        f"{1000 * window_s:.3g} ms looked at{up_to}; {subject.caption(found, ends)}",
        (_of_cabinets(subject.looked_for, gate_s, made),),
    )


def burst(found: CurveRecord, subject: Subject) -> DecayMap:
    """The burst decay of what lies within the gate."""
    gate_s = found.conditions.gate_s
    return DecayMap(
        decay.burst(found.data, found.rate_hz, gate_s, BURST_CYCLES),
        f"{titled(subject, found)}: burst decay, {BURST_CYCLES:g} cycles",
        f"{subject.caption(found)}; hatched: the burst and its periods do not fit into the gate",
    )


def step(found: CurveRecord, subject: Subject) -> StepResponse:
    """The step response, from shortly before the onset."""
    onset, rate_hz = gate.onset(found.data, found.rate_hz), found.rate_hz
    first = max(0, onset - max(STEP_FROM_FRAMES, round(STEP_FROM_S * rate_hz)))
    amplitude = phase.step_response(found.data)[first : onset + round(STEP_TO_S * rate_hz)]
    return StepResponse(titled(subject, found), amplitude, onset - first, rate_hz, subject.caption(found))


def group_delay(found: CurveRecord, subject: Subject) -> GroupDelay:
    """The group delay of the curve on axis."""
    made = response_of(found)
    delay = only_valid(Curve(made.hz, 1000 * phase.group_delay_s(made), None, made.valid_hz))
    return GroupDelay(titled(subject, found), delay, subject.caption(found, "not smoothed"))


def phases(found: CurveRecord, subject: Subject) -> Phases:
    """The phase of the curve on axis, measured and minimum."""
    made = response_of(found)
    seen = made.valid()
    measured, least = phase.measured_phase(made)[seen], phase.minimum_phase_of(made)[seen]
    return Phases(titled(subject, found), made.hz[seen], measured, least, made.valid_hz, subject.caption(found))


def _looked_to_hz(subject: Subject) -> float:
    """Up to where a decay looks for what is sought; 0 where that is all that can be heard."""
    highest = LOOKED_FOR[subject.looked_for].high_hz
    return highest if highest < decay.HIGHEST_HZ else 0.0


def _of_cabinets(looked_for: str, gate_s: float, made: Decay) -> str:
    """What can be told of a cabinet's modes, which ring longer than anything else of a loudspeaker."""
    longest_ms, gate_ms = 1000 * decay.CABINET.longest_s, 1000 * gate_s
    if looked_for != "cabinet" and gate_s >= CABINET_LEAST_S:
        return f"modes of the cabinet ring for up to {longest_ms:g} ms, longer than is shown here: --look-for cabinet"
    resolves = f"nothing below {made.valid_from_hz[0]:.0f} Hz is resolved and nothing followed beyond "
    resolves += f"{1000 * made.steps[-1]:.3g} ms"
    if gate_s < CABINET_LEAST_S:
        return (
            f"a gate of {gate_ms:.3g} ms cannot show modes of the cabinet, which ring for up to {longest_ms:g} ms: "
            f"{resolves}; measure close to the cabinet or outdoors, where the gate may be longer"
        )
    short = "" if gate_s >= decay.CABINET.longest_s else f"; modes may ring for {longest_ms:g} ms, the gate is shorter"
    return resolves + short
