"""Bringing measured files in: text columns, impulse responses, sets named by angle, SOFA files."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from audio.curves import gate, sofa, splice, table
from audio.curves.curve import Curve
from audio.curves.table import PhaseUnit, Unit
from audio.errors import FileError
from audio.files.reading import read as read_audio
from audio.room.microphone import Calibration

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook, Row
from ..errors import CatalogueError
from . import curve_records
from .curve_records import Conditions

AUDIO = (".wav", ".flac", ".aif", ".aiff")
TEXT = (".txt", ".frd", ".zma", ".csv", ".tsv", ".dat")
ANGLE = re.compile(
    r"(?:^|[^a-z0-9])(?P<plane>h|hor|horizontal|v|ver|vert|vertical)?[ _.]*"
    r"(?P<angle>[+-]?\d{1,3})(?:deg|°)?(?=$|[^a-z0-9])",
    re.IGNORECASE,
)
STEP_DEG = 10


@dataclass(frozen=True)
class Brought:
    """What was brought in: rows of the casebook, and what was done to the data, in words."""

    rows: list[Row]
    notes: list[str]


@dataclass(frozen=True)
class Reading:
    """How files are to be read."""

    unit: Unit = "db"
    phase: PhaseUnit | None = None
    channel: int = 1
    plane: str = "horizontal"
    angle: int = 0
    calibration: Calibration | None = None


def bring(casebook: Casebook, setup: Setup, path: Path, reading: Reading, conditions: Conditions) -> Brought:
    """Bring in a file, a folder of files named by angle, or a small table that names them (file, plane, angle).

    Raises
    ------
    FileError, MeasureError, CatalogueError
        If a file cannot be read or does not hold what it should; nothing is kept then.
    """
    if path.is_dir():
        members = _named_by_angle(path, reading.plane)
    elif path.suffix.lower() == ".csv" and (listed := _listed(path)):
        members = listed
    elif path.suffix.lower() == ".sofa":
        return _sofa(casebook, setup, path, reading, conditions)
    else:
        members = [(path, reading.plane, reading.angle)]
    read = [
        (member, _read(member[0], replace(reading, plane=member[1], angle=member[2]), conditions)) for member in members
    ]
    notes, rows = [], []
    with casebook.writing():
        for (source, plane, angle), (kind, data, rate_hz, stated, told) in read:
            measurement = curve_records.keep_file(casebook, source.name, source.read_bytes())
            rows.append(
                curve_records.keep(
                    casebook, setup, measurement, kind, data, stated, plane=plane, angle=angle, rate_hz=rate_hz
                )
            )
            notes += [f"{source.name}: {one}" for one in told]
    return Brought(rows, notes)


def join(
    casebook: Casebook, setup: Setup, near: Path, at_hz: float, octaves: float, radius_m: float | None
) -> tuple[Row, splice.Splice]:
    """Join a nearfield reading below the newest curve on axis, and keep the whole as a curve of its own.

    Raises
    ------
    CatalogueError, FileError, MeasureError
        If there is no curve on axis, the file is none, or the nearfield does not hold as high as that.
    """
    axis = curve_records.newest(casebook, setup, "horizontal", 0)
    if axis is None:
        raise CatalogueError(f"{setup.name!r} has no curve on axis to join to; add one first")
    if radius_m is not None and at_hz > splice.nearfield_limit_hz(radius_m):
        limit = splice.nearfield_limit_hz(radius_m)
        raise CatalogueError(
            f"a nearfield of a cone of {radius_m:g} m holds up to {limit:.0f} Hz; join it lower than that"
        )
    found = table.read_table(near)
    far = axis.curve()
    made = splice.spliced(Curve(found.hz, found.values), far, at_hz, octaves)
    told = f"nearfield {near.name} joined at {at_hz:g} Hz over {octaves:g} octaves, moved by {made.moved_db:+.2f} dB"
    stated = replace(axis.conditions, valid_hz=made.curve.band, note=told, gate_ms=None)
    with casebook.writing():
        measurement = curve_records.keep_file(casebook, near.name, near.read_bytes())
        data = np.stack([made.curve.hz, made.curve.level_db], axis=1)
        return curve_records.keep(casebook, setup, measurement, "response", data, stated), made


def angle_of(name: str, plane: str = "horizontal") -> tuple[str, int]:
    """Plane and angle in a file's name, such as ``hor +30.txt``, ``V-10deg.frd`` or ``30.wav``.

    Raises
    ------
    CatalogueError
        If the name holds no angle, or more than one.

    >>> angle_of("sallow_h_-30deg"), angle_of("vert 10"), angle_of("60")
    (('horizontal', -30), ('vertical', 10), ('horizontal', 60))
    """
    found = [match for match in ANGLE.finditer(name) if abs(int(match["angle"])) <= 180]
    clear = [match for match in found if match["plane"]] or found
    if len(clear) != 1:
        raise CatalogueError(
            f"the name {name!r} holds {'more than one number' if clear else 'no angle'}; name files like 'hor 30', "
            "or list them in a table with the columns file, plane, angle"
        )
    told = (clear[0]["plane"] or "").lower()
    return ("vertical" if told.startswith("v") else "horizontal" if told else plane), int(clear[0]["angle"])


def _named_by_angle(folder: Path, plane: str) -> list[tuple[Path, str, int]]:
    sources = sorted(p for p in folder.iterdir() if p.suffix.lower() in (*AUDIO, *TEXT))
    if not sources:
        raise CatalogueError(
            f"{folder} holds no curves; they are text (.txt, .frd, .csv …) or impulse responses (.wav …)"
        )
    members = [(source, *angle_of(source.stem, plane)) for source in sources]
    seen: dict[tuple[str, int], Path] = {}
    for source, own_plane, angle in members:
        other = seen.setdefault((own_plane, angle), source)
        if other is not source:
            raise CatalogueError(
                f"{other.name} and {source.name} both name {own_plane} {angle}°; keep one of them there"
            )
    return members


def _listed(path: Path) -> list[tuple[Path, str, int]]:
    """The files that a table with the columns file, plane, angle names; empty if it is no such table."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return []
    rows = list(csv.DictReader(text.splitlines()))
    if not rows or not {"file", "angle"} <= {name.strip().lower() for name in rows[0] if name}:
        return []
    members = []
    for number, row in enumerate(rows, 2):
        own = {str(name).strip().lower(): str(value or "").strip() for name, value in row.items()}
        source = path.parent / own["file"]
        plane = own.get("plane") or "horizontal"
        if (
            not source.is_file()
            or plane not in ("horizontal", "vertical")
            or not re.fullmatch(r"[+-]?\d+", own["angle"])
        ):
            raise CatalogueError(
                f"{path}, line {number}: a line names a file, a plane (horizontal or vertical), a whole angle"
            )
        members.append((source, plane, int(own["angle"])))
    return members


def _read(
    path: Path, reading: Reading, conditions: Conditions
) -> tuple[curve_records.Kind, np.ndarray, int, Conditions, Sequence[str]]:
    if path.suffix.lower() in AUDIO:
        return _impulse(path, reading, conditions)
    found = table.read_table(path, reading.unit, reading.phase)
    columns = [found.hz, found.values] + ([found.phase_deg] if found.phase_deg is not None else [])
    if found.unit == "ohm":
        return "impedance", np.stack(columns, axis=1), 0, conditions, found.notes
    if reading.calibration is not None:
        columns[1] = columns[1] + reading.calibration.correction_db(found.hz)
    low = max(conditions.valid_hz[0], 1000 / conditions.gate_ms) if conditions.gate_ms else conditions.valid_hz[0]
    stated = replace(conditions, valid_hz=(low, conditions.valid_hz[1]), spl=conditions.spl or found.unit == "pa")
    return "response", np.stack(columns, axis=1), 0, stated, found.notes


def _impulse(
    path: Path, reading: Reading, conditions: Conditions
) -> tuple[curve_records.Kind, np.ndarray, int, Conditions, Sequence[str]]:
    clip = read_audio(path)
    channels = clip.samples.shape[1]
    if not 1 <= reading.channel <= channels:
        raise CatalogueError(f"{path} has {channels} channels; --channel {reading.channel} is not among them")
    impulse = clip.samples[:, reading.channel - 1]
    if not conditions.gate_ms:
        raise CatalogueError(
            f"{path} is an impulse response and needs a gate: --gate MS, or --height and --distance for it"
        )
    window = conditions.window or "half-tukey"
    gate.gated(impulse, clip.rate_hz, conditions.gate_ms / 1000, window)  # type: ignore[arg-type]
    return "impulse", impulse, clip.rate_hz, conditions, []


def _sofa(casebook: Casebook, setup: Setup, path: Path, reading: Reading, conditions: Conditions) -> Brought:
    """The horizontal circle and the vertical one, in steps of 10 degrees, as far as they were measured."""
    held = sofa.read_sofa(path)
    receivers = held.impulses.shape[1]
    if not 1 <= reading.channel <= receivers:
        raise CatalogueError(f"{path} has {receivers} receivers; --channel {reading.channel} is not among them")
    found: list[tuple[str, int, np.ndarray]] = []
    lacking = 0
    for plane, angle in [("horizontal", a) for a in range(-170, 181, STEP_DEG)] + [
        ("vertical", a) for a in range(-170, 171, STEP_DEG) if a
    ]:
        behind = plane == "vertical" and abs(angle) > 90
        elevation = 0 if plane == "horizontal" else (180 - abs(angle)) * (1 if angle > 0 else -1) if behind else angle
        azimuth = -angle if plane == "horizontal" else (180 if behind else 0)
        try:
            place = held.nearest(azimuth, elevation)
        except FileError:
            lacking += 1
            continue
        found.append((plane, angle, held.impulses[place, reading.channel - 1]))
    if not found:
        raise CatalogueError(f"{path} holds no response near the horizontal or the vertical circle")
    length_ms = conditions.gate_ms or 1000 * held.impulses.shape[2] * 0.6 / held.rate_hz
    stated = replace(conditions, gate_ms=length_ms, window=conditions.window or "half-tukey")
    padded = round(0.002 * held.rate_hz)  # such sets often begin with the sound itself; silence before it is true
    rows = []
    with casebook.writing():
        measurement = curve_records.keep_file(casebook, path.name, path.read_bytes())
        for plane, angle, impulse in found:
            whole = np.concatenate([np.zeros(padded), impulse, np.zeros(held.rate_hz // 20)])
            rows.append(
                curve_records.keep(
                    casebook,
                    setup,
                    measurement,
                    "impulse",
                    whole,
                    stated,
                    plane=plane,
                    angle=angle,
                    rate_hz=held.rate_hz,
                )
            )
    told = [f"{held.convention}: {len(found)} directions read, every {STEP_DEG}°"]
    return Brought(rows, told + ([f"{lacking} directions were not measured"] if lacking else []))
