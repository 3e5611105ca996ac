"""Figures of a casebook's curves: what to draw from what is kept."""

from __future__ import annotations

from typing import Any

from audio.curves import angles, decay, draw, gate, phase
from audio.curves.curve import Curve

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import comparison, curve_records
from .comparison import Compared

FIGURES = ("response", "difference", "horizontal", "vertical", "polar", "directivity", "decay", "slices", "burst",
           "impedance", "delay", "phase", "step", "distortion")  # fmt: skip

LONGEST_DECAY_S = 0.012  # of a cumulative decay: what is later is the room, or nothing


def figure(casebook: Casebook, setup: Setup, what: str, *, smoothing: float, compared: Compared | None = None) -> Any:
    """One figure of a setup, or of a comparison.

    Raises
    ------
    CatalogueError
        If what it needs was not measured; the message says what that is.
    """
    name = str(setup.name)
    if what == "difference" or (what == "response" and compared is not None):
        if compared is None:
            raise CatalogueError("a difference needs a second setup with a curve; add --against SETUP")
        return difference(compared) if what == "difference" else overlay(compared)
    if what == "impedance":
        held = curve_records.impedance_of(casebook, setup)
        if held is None:
            raise CatalogueError(f"{name!r} has no impedance yet: earwitness curve add {name} FILE --unit ohm")
        turned = held.data[:, 2] if held.data.shape[1] > 2 else None
        return draw.impedance(held.data[:, 0], held.data[:, 1], turned, title=f"{name}: impedance")
    if what == "distortion":
        return _distortion(casebook, setup)
    directions = curve_records.by_angle(casebook, setup)
    axis = directions.get(angles.ON_AXIS)
    if axis is None:
        raise CatalogueError(f"{name!r} has no curve on axis yet: earwitness curve add {name} FILE")
    smoothed = f"1/{smoothing:g}-octave smoothing" if smoothing else "not smoothed"
    if what == "response":
        if axis.conditions.gate_ms:
            smoothed += f"; gate {axis.conditions.gate_ms:.1f} ms, {axis.conditions.window or 'half-tukey'}"
        return draw.responses(
            {name: comparison.prepared(axis.curve(), smoothing, None)}, title=f"{name}, on axis", note=smoothed
        )
    if what in ("horizontal", "vertical", "polar"):
        plane = "vertical" if what == "vertical" else "horizontal"
        known = angles.completed(
            {where: comparison.prepared(k.curve(), smoothing, None) for where, k in directions.items()}
        )
        family = {angle: curve for (own, angle), curve in known.items() if own == plane}
        if len(family) < 3:
            raise CatalogueError(f"{name!r} has too few {plane} angles for a picture; measure three or more")
        if what == "polar":
            return draw.polar_map(family, title=f"{name}, {plane}", note=smoothed)
        return draw.family(family, title=f"{name}, {plane}", note=smoothed)
    if what == "directivity":
        return directivity(name, comparison.set_of(directions, smoothing), smoothed)
    if what in ("delay", "phase"):
        return _of_phase(name, axis.curve(), what)
    if axis.kind != "impulse":
        raise CatalogueError(f"{what} is drawn from an impulse response, and {name!r} has none on axis; add one as WAV")
    return _of_impulse(name, axis, what)


def overlay(compared: Compared) -> Any:
    """Both curves of a comparison on one set of axes."""
    return draw.responses(dict(zip(compared.names, compared.curves, strict=True)), title=" and ".join(compared.names),
                          note=_stated(compared))  # fmt: skip


def difference(compared: Compared) -> Any:
    """The difference curve of a comparison."""
    one, other = compared.names
    return draw.responses({f"{one} less {other}": compared.apart}, title=f"{one} less {other}", note=_stated(compared),
                          span_db=25.0)  # fmt: skip


def directivity(name: str, known: dict[tuple[str, int], Curve], note: str) -> Any:
    """On axis, listening window, early reflections, sound power, in-room estimate, as far as the angles allow."""
    made = angles.directivity(known, mirror=True)
    wanted = ("on axis", "listening window", "early reflections", "sound power", "in-room estimate")
    curves = {part: made.curves[part] for part in wanted if part in made.curves}
    lacking = "; ".join(f"{part} {why}" for part, why in made.lacking.items() if part in wanted)
    return draw.responses(
        curves, title=f"{name}: by ANSI/CTA-2034-A", note=note + (f"; lacking: {lacking[:90]}" if lacking else "")
    )


def _of_impulse(name: str, axis: curve_records.Kept, what: str) -> Any:
    length = (axis.conditions.gate_ms or 5.0) / 1000
    if what == "step":
        return draw.step(
            phase.step_response(axis.data), axis.rate_hz, gate.onset(axis.data), title=f"{name}: step response"
        )
    if what == "burst":
        found = decay.burst(axis.data, axis.rate_hz)
        return draw.decay_map(found, title=f"{name}: burst decay, 4 cycles")
    found = decay.cumulative(axis.data, axis.rate_hz, min(length, LONGEST_DECAY_S))
    if what == "slices":
        return draw.decay_slices(found, title=f"{name}: cumulative spectral decay")
    return draw.decay_map(
        found, title=f"{name}: cumulative spectral decay", note="hatched: what is left cannot resolve it"
    )


def _of_phase(name: str, made: Curve, what: str) -> Any:
    if what == "delay":
        delay = Curve(made.hz, 1000 * phase.group_delay_s(made), None, made.valid_hz)
        return draw.responses({name: delay}, title=f"{name}: group delay", unit="ms", span_db=25.0)
    least = phase.minimum_phase_of(made)
    measured = phase.measured_phase(made)
    curves = {"measured": measured, "minimum": least, "excess": measured - least}
    return draw.phases(made.hz, curves, made.valid_hz, title=f"{name}: phase")


def _distortion(casebook: Casebook, setup: Setup) -> Any:
    found = curve_records.distortion_of(casebook, setup)
    if not found:
        raise CatalogueError(f"{setup.name!r} has no distortion yet; it is taken with earwitness curve sweep")
    curves = {
        f"harmonic {order}": Curve(kept.data[:, 0], kept.data[:, 1], None, kept.conditions.valid_hz)
        for order, kept in sorted(found.items())
    }
    return draw.responses(curves, title=f"{setup.name}: distortion", note="at the fundamental's frequency",
                          unit="dB below the fundamental", span_db=75.0)  # fmt: skip


def _stated(compared: Compared) -> str:
    low, high = compared.band_hz
    told = f"at one level over {low:g} to {high:g} Hz; 1/{compared.smoothing:g}-octave smoothing"
    if compared.uncertainty_db is not None:
        told += f"; repeated measurements differ by {compared.uncertainty_db:.2f} dB (one standard deviation)"
    return told
