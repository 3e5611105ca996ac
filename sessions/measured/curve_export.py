"""A curve as text that any other tool reads: Hz, dB (or ohm) and degrees, under a header of its conditions. Pure.

Lines that begin with # are the header, the last of which names the columns; then one row a frequency, tabs between. All
frequencies there are stand in it, as far as the curve is valid: what other tools do not know to be invalid misleads.
In a gap none stands, also where the curve was smoothed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from audio.curves import gaps, gate
from audio.curves.curve import Curve

from ..errors import CatalogueError
from .conditions import Conditions
from .curve_records import DIRECTED, CurveRecord, ListedCurve
from .frequency_response import response_of, shown

PLACES = 4  # of every number: a ten thousandth of a Hz, a decibel, a degree


def as_text(record: CurveRecord, listed: ListedCurve, smoothing: float = 0.0) -> str:
    """The text of a curve.

    Parameters
    ----------
    smoothing
        To 1/smoothing octave, 0 for none; a smoothed curve has no phase.

    Raises
    ------
    CatalogueError
        If something other than a response is to be smoothed, or nothing of it is valid.
    """
    if smoothing and record.kind not in DIRECTED:
        raise CatalogueError(f"{record.id} is {record.kind}, which is not smoothed; leave --smooth out")
    curve = _curve(record, smoothing)
    seen = curve.valid()
    if not seen.any():
        raise CatalogueError(f"nothing of {record.id} is valid, so there is nothing to export")
    columns = [("Hz", curve.hz), ("ohm" if record.kind == "impedance" else "dB", curve.level_db)]
    columns += [] if curve.phase_deg is None else [("degrees", curve.phase_deg)]
    header = [*_header(record, listed, smoothing, curve), "\t".join(name for name, _ in columns)]
    rows = np.stack([values[seen] for _, values in columns], axis=1)
    lines = [f"# {line}" for line in header] + ["\t".join(f"{value:.{PLACES}f}" for value in row) for row in rows]
    return "\n".join(lines) + "\n"


def _curve(record: CurveRecord, smoothing: float) -> Curve:
    if record.kind in DIRECTED:
        made = response_of(record)
        return shown(made, smoothing) if smoothing else made
    return Curve(record.hz, record.values, record.phase_deg, record.conditions.valid_hz, gaps.gaps_of(record.hz))


def _header(record: CurveRecord, listed: ListedCurve, smoothing: float, curve: Curve) -> Sequence[str]:
    """What must be known of the numbers, a line each; what nobody said is left out."""
    stated = record.conditions
    kind = f"harmonic {stated.harmonic}" if stated.harmonic else record.kind
    gone = f"; withdrawn: {listed.withdrawn}" if listed.withdrawn else ""
    low, high = curve.band
    over = tuple(gap for gap in curve.gaps_hz if gap[0] < high and gap[1] > low)
    taken = stated.taken
    lines = [
        f"{listed.setup}: {kind}, {record.direction} ({record.id}, kept {record.at[:10]}{gone})",
        f"valid and listed from {low:.4g} to {high:.5g} Hz",
        f"a gap: {gaps.in_words(over)}" if over else "",
        _of_level(record),
        _of_phase(record) if curve.phase_deg is not None else "",
        _of_smoothing(record, smoothing),
        _of_gate(stated),
        f"distance {stated.distance_m:g} m" if stated.distance_m else "",
        f"drive {stated.drive_volts:g} V" if stated.drive_volts else "",
        f"microphone's own response taken off: {stated.calibration}" if record.kind != "impedance" else "",
        *_in_words(stated),
        *(f"disturbed: {said}" for said in (taken.disturbances if taken else ())),
        f"from the file {listed.file}, SHA-256 {listed.sha256}",
    ]
    return [" ".join(line.split()) for line in lines if line]


def _of_gate(stated: Conditions) -> str:
    if stated.ungated:
        return "not gated: reflections are in it"
    return f"gate {stated.gate_ms:.4g} ms, {stated.gate_window}" if stated.gate_ms else ""


def _of_level(record: CurveRecord) -> str:
    if record.kind == "impedance":
        return "modulus in ohm"
    if record.kind == "distortion":
        return "dB relative to the fundamental, at the fundamental's frequency"
    return "dB SPL" if record.conditions.spl else "dB without an absolute reference"


def _of_phase(record: CurveRecord) -> str:
    if record.kind != "impulse":
        return "phase as it was brought in"
    onset_ms = 1000 * gate.onset(record.data, record.rate_hz) / record.rate_hz
    return f"phase with time counted from the onset, which lies {onset_ms:.4f} ms into the impulse response"


def _of_smoothing(record: CurveRecord, smoothing: float) -> str:
    own = record.conditions.smoothing
    before = f"smoothed to 1/{own:g} octave when it was brought in" if own else ""
    after = f"smoothed to 1/{smoothing:g} octave (power mean)" if smoothing else ""
    return "; ".join(part for part in (before, after) if part) or "not smoothed"


def _in_words(stated: Conditions) -> Sequence[str]:
    named = (("axis", stated.axis), ("room", stated.room), ("measured by", stated.by), ("measured", stated.when))
    return [f"{name}: {words}" for name, words in (*named, ("note", stated.note)) if words]
