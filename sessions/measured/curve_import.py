"""Bringing measured files in: text columns, impulse responses, sets of them by angle, SOFA files.

Everything is read before anything is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from audio.curves import gate, sofa, table
from audio.curves.table import PhaseUnit, Unit
from audio.errors import FileError
from audio.files.reading import read as read_audio
from audio.room.microphone import Calibration

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import angle_sets, curve_records
from .angle_sets import DirectedFile
from .conditions import ON_AXIS, Conditions, Direction
from .curve_records import CurveRecord, NewCurve, RawFile

AUDIO = (".wav", ".flac", ".aif", ".aiff")
TEXT = (".txt", ".frd", ".zma", ".csv", ".tsv", ".dat")
SOFA_STEP_DEG = 10
SOFA_LEAD_S = 0.002  # such sets often begin with the sound itself; silence before it is true
SOFA_GATE_SHARE = 0.6  # of the response, where no gate is given


@dataclass(frozen=True)
class Reading:
    """How files are to be read; `direction` where a file's name does not say it (in a folder: its plane)."""

    unit: Unit = "db"
    phase: PhaseUnit | None = None
    channel: int = 1
    direction: Direction = ON_AXIS
    calibration: Calibration | None = None


@dataclass(frozen=True)
class Brought:
    """What was brought in: the curves now kept, and what was done to the data, in words."""

    curves: list[CurveRecord]
    notes: list[str]


def bring(casebook: Casebook, setup: Setup, path: Path, reading: Reading, conditions: Conditions) -> Brought:
    """Bring in a file, a folder of files named by angle, a small table that names them (file, plane, angle), or SOFA.

    Raises
    ------
    FileError, MeasureError, CatalogueError
        If a file cannot be read or does not hold what it should; nothing is kept then.
    """
    if path.suffix.lower() == ".sofa" and not path.is_dir():
        curves, notes = _of_sofa(path, reading, conditions)
        return Brought(curve_records.keep(casebook, setup, [(RawFile.read(path), curves)]), notes)
    sources, notes = [], []
    for member in _members(path, reading.direction):
        curve, said = _read(member, reading, conditions)
        sources.append((RawFile.read(member.path), [curve]))
        notes += [f"{member.path.name}: {one}" for one in said]
    return Brought(curve_records.keep(casebook, setup, sources), notes)


def _members(path: Path, direction: Direction) -> list[DirectedFile]:
    if path.is_dir():
        return angle_sets.named_by_angle(path, direction.plane, (*AUDIO, *TEXT))
    if path.suffix.lower() == ".csv" and (listed := angle_sets.listed_in_table(path)):
        return listed
    return [DirectedFile(path, direction)]


def _read(member: DirectedFile, reading: Reading, conditions: Conditions) -> tuple[NewCurve, Sequence[str]]:
    """One file's curve, and what was done to it in words."""
    if member.path.suffix.lower() in AUDIO:
        return _of_audio(member, reading, conditions), []
    found = table.read_table(member.path, reading.unit, reading.phase)
    columns = [found.hz, found.values] + ([found.phase_deg] if found.phase_deg is not None else [])
    if found.unit == "ohm":
        return NewCurve("impedance", member.direction, np.stack(columns, axis=1), conditions), found.notes
    if reading.calibration is not None:
        columns[1] = columns[1] + reading.calibration.correction_db(found.hz)
    low = max(conditions.valid_hz[0], 1000 / conditions.gate_ms) if conditions.gate_ms else conditions.valid_hz[0]
    stated = replace(conditions, valid_hz=(low, conditions.valid_hz[1]), spl=conditions.spl or found.unit == "pa")
    return NewCurve("response", member.direction, np.stack(columns, axis=1), stated), found.notes


def _of_audio(member: DirectedFile, reading: Reading, conditions: Conditions) -> NewCurve:
    path = member.path
    clip = read_audio(path)
    channels = clip.samples.shape[1]
    if not 1 <= reading.channel <= channels:
        raise CatalogueError(f"{path} has {channels} channels; --channel {reading.channel} is not among them")
    impulse = clip.samples[:, reading.channel - 1]
    if not conditions.gate_ms:
        raise CatalogueError(
            f"{path} is an impulse response and needs a gate: --gate MS, or --height and --distance for it"
        )
    gate.gated(impulse, clip.rate_hz, conditions.gate_s, conditions.gate_window)  # raises where the gate does not fit
    return NewCurve("impulse", member.direction, impulse, conditions, clip.rate_hz)


def _of_sofa(path: Path, reading: Reading, conditions: Conditions) -> tuple[list[NewCurve], list[str]]:
    """The horizontal circle and the vertical one, in steps of 10 degrees, as far as they were measured."""
    held = sofa.read_sofa(path)
    receivers = held.impulses.shape[1]
    if not 1 <= reading.channel <= receivers:
        raise CatalogueError(f"{path} has {receivers} receivers; --channel {reading.channel} is not among them")
    length_ms = conditions.gate_ms or 1000 * held.impulses.shape[2] * SOFA_GATE_SHARE / held.rate_hz
    stated = replace(conditions, gate_ms=length_ms, window=conditions.gate_window)
    lead, tail = np.zeros(round(SOFA_LEAD_S * held.rate_hz)), np.zeros(held.rate_hz // 20)
    curves, lacking = [], 0
    for direction in _circles():
        try:
            place = held.nearest(*_as_sofa_counts(direction))
        except FileError:
            lacking += 1
            continue
        impulse = np.concatenate([lead, held.impulses[place, reading.channel - 1], tail])
        curves.append(NewCurve("impulse", direction, impulse, stated, held.rate_hz))
    if not curves:
        raise CatalogueError(f"{path} holds no response near the horizontal or the vertical circle")
    notes = [f"{held.convention}: {len(curves)} directions read, every {SOFA_STEP_DEG}°"]
    return curves, notes + ([f"{lacking} directions were not measured"] if lacking else [])


def _circles() -> list[Direction]:
    """The 70 directions of two circles; front and back are in both, and taken once."""
    return [
        *(Direction("horizontal", angle) for angle in range(-170, 181, SOFA_STEP_DEG)),
        *(Direction("vertical", angle) for angle in range(-170, 171, SOFA_STEP_DEG) if angle),
    ]


def _as_sofa_counts(direction: Direction) -> tuple[int, int]:
    """Azimuth (counter-clockwise from the front) and elevation of a direction, degrees."""
    plane, angle = direction
    if plane == "horizontal":
        return -angle, 0
    if abs(angle) <= 90:
        return 0, angle
    return 180, (180 - abs(angle)) * (1 if angle > 0 else -1)
