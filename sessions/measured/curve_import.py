"""Bringing measured files in: text columns, impulse responses, sets of them by angle, SOFA files.

Everything is read before anything is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from audio.curves import gaps, gate, sofa, table
from audio.curves.curve import Numbers, mean_level
from audio.curves.headings import FrequencyUnit, PhaseUnit, Unit, is_spl
from audio.curves.microphone_correction import Correction
from audio.curves.sofa import Directions
from audio.curves.table import Table, Wish
from audio.errors import FileError
from audio.files.reading import read as read_audio
from audio.room.microphone import Calibration

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import angle_sets, curve_records
from .angle_sets import DirectedFile
from .conditions import ON_AXIS, Conditions, Direction, Plane
from .curve_records import DIRECTED, CurveRecord, NewCurve, RawFile
from .frequency_response import middle_of, response_of

AUDIO = (".wav", ".flac", ".aif", ".aiff")
TEXT = (".txt", ".frd", ".zma", ".csv", ".tsv", ".dat")
PLAUSIBLE_SPL = (60.0, 130.0)  # of the loudest curve brought in, dB; our choice
SOFA_STEP_DEG = 10
SOFA_LEAD_S = 0.002  # such sets often begin with the sound itself; silence before it is true
MOST_SAME = 3  # files with the content of others that are told each; of more their number
SILENCE = 1e-12  # of a transfer function that is nothing somewhere
SOFA_GATE_SHARE = 0.6  # of the response, where no gate is given


@dataclass(frozen=True)
class Reading:
    """How files are to be read, where they do not say it themselves; None where that is not said.

    Attributes
    ----------
    unit, phase, frequency, column, part
        Of text columns, as in `table.Wish`.
    channel
        Of an impulse response; of a SOFA file the receiver, or the measurement where receivers are its directions.
    direction
        Where a file's name does not say it (in a folder: its plane).
    emitter
        Of a SOFA file with several.
    name_says
        Whether a single file's own name may say its angle, where nobody else did.
    asks_level
        Whether levels in dB SPL beyond `PLAUSIBLE_SPL` are refused: nobody stated that they are right.
    """

    unit: Unit | None = None
    phase: PhaseUnit | None = None
    channel: int = 1
    direction: Direction = ON_AXIS
    calibration: Calibration | None = None
    frequency: FrequencyUnit | None = None
    column: str = ""
    part: int | None = None
    emitter: int | None = None
    name_says: bool = False
    asks_level: bool = False

    @property
    def correction(self) -> Correction:
        """What is done about the microphone."""
        return Correction(self.calibration)

    def heard(self, conditions: Conditions) -> Conditions:
        """The conditions of what a microphone heard: valid where it is known, with what was done about it."""
        if self.calibration is None:
            return conditions
        valid = self.correction.valid_hz(conditions.valid_hz)
        return replace(conditions, valid_hz=valid, calibration=self.correction.words)

    @property
    def wish(self) -> Wish:
        """What is said of text columns."""
        return Wish(self.unit, self.phase, self.frequency, self.column, self.part)


@dataclass(frozen=True)
class Brought:
    """What was brought in: the curves now kept, what was understood of each file, and what was done to it, in words."""

    curves: list[CurveRecord]
    read_as: list[str]
    notes: list[str]


@dataclass(frozen=True, eq=False)
class _Read:
    """What one file holds."""

    curves: list[NewCurve]
    read_as: str
    notes: Sequence[str] = ()


def bring(
    casebook: Casebook,
    setup: Setup,
    path: Path,
    reading: Reading,
    conditions: Conditions,
    *,
    replaces: Sequence[CurveRecord] = (),
    why: str = "",
) -> Brought:
    """Bring in a file, a folder of files named by angle, a small table that names them (file, plane, angle), or SOFA.

    Parameters
    ----------
    replaces, why
        Curves that are withdrawn with it, and the reason.

    Raises
    ------
    FileError, MeasureError, CatalogueError
        If a file cannot be read or does not hold what it should; nothing is kept then.
    """
    members = _members(path, reading.direction)
    found = [(member, _read(member, reading, conditions)) for member in members]
    if not path.is_dir() and [member.path for member in members] == [path] and reading.name_says:
        found = [(member, _turned(read, path, reading.direction.plane)) for member, read in found]
    sources = [(RawFile.read(member.path), read.curves) for member, read in found]
    if reading.asks_level:
        _check_level([curve for _, curves in sources for curve in curves])
    again = _same_content(casebook, setup, sources)
    kept = curve_records.keep(casebook, setup, sources, replaces=replaces, why=why)
    notes = angle_sets.signs_in_words(members) if path.is_dir() else []
    notes += [f"{member.path.name}: {one}" for member, read in found for one in read.notes]
    return Brought(kept, _grouped([(member.path.name, read.read_as) for member, read in found]), [*notes, *again])


def _turned(read: _Read, path: Path, plane: Plane) -> _Read:
    """The one response of a single file in the direction that the file's name says."""
    if len(read.curves) != 1 or read.curves[0].kind not in DIRECTED or path.suffix.lower() == ".sofa":
        return read
    [only] = read.curves
    return replace(read, curves=[replace(only, direction=angle_sets.direction_of_one(path.stem, plane))])


def _check_level(curves: Sequence[NewCurve]) -> None:
    """Nothing, if the loudest of the curves in dB SPL can be a loudspeaker's or headphones'.

    Raises
    ------
    CatalogueError
        If it cannot, so that the levels are no dB SPL; the message says how to say that they are.
    """
    reached = [(_reached_db(curve), curve.conditions) for curve in curves if curve.conditions.spl]
    if not reached:
        return
    level, stated = max(reached, key=lambda one: one[0])
    if not PLAUSIBLE_SPL[0] <= level <= PLAUSIBLE_SPL[1]:
        drive = f" for {stated.drive_volts:g} V" if stated.drive_volts else ""
        away = f" at {stated.distance_m:g} m" if stated.distance_m else ""
        raise CatalogueError(
            f"{level:.1f} dB SPL{drive}{away} is no likely level ({PLAUSIBLE_SPL[0]:g} to {PLAUSIBLE_SPL[1]:g}): are "
            "these levels in dB SPL? Leave --spl out, or say --spl-is-right"
        )


def _reached_db(curve: NewCurve) -> float:
    """The mean level over the middle; of what lies beside that, such as a tweeter's, the most where it is valid."""
    record = CurveRecord("", "", "", curve.kind, curve.direction, "", curve.conditions, curve.data, curve.rate_hz)
    response = response_of(record)
    inside = response.valid() & (response.hz >= 20) & (response.hz <= 20_000)
    middle = middle_of(response)
    if not curve.conditions.one_of.role and middle is not None:
        return mean_level(response, *middle)
    return float(np.max(response.level_db[inside], initial=-np.inf))


def _same_content(casebook: Casebook, setup: Setup, sources: Sequence[tuple[RawFile, Sequence[NewCurve]]]) -> list[str]:
    """Which of the files hold what is there of another setup or direction: a warning each, of many one for all."""
    said: dict[str, list[str]] = {}
    there: dict[str, list[tuple[str, str, Direction]]] = {}
    for one in curve_records.listed(casebook):
        there.setdefault(one.sha256, []).append((one.file, one.setup, one.direction))
    for file, curves in sources:
        before = there.setdefault(file.sha256, [])
        places = {(name, toward) for _, name, toward in before}
        if before and not any((setup.name, curve.direction) in places for curve in curves):
            name, of, toward = before[-1]
            same = f"{file.name} has the same content as {name} of {of}, {toward}"
            said.setdefault(of, []).append(same)
        before += [(file.name, setup.name, curve.direction) for curve in curves]
    return [line for of, own in said.items() for line in _told_once(of, own)]


def _told_once(of: str, same: Sequence[str]) -> list[str]:
    if len(same) <= MOST_SAME:
        return [f"{one}: is it the right file?" for one in same]
    return [
        f"{len(same)} files have the same content as files of {of} (the first: {same[0]}): are they the right ones?"
    ]


def _grouped(understood: Sequence[tuple[str, str]]) -> list[str]:
    """What was understood, once for all files that were read alike."""
    names: dict[str, list[str]] = {}
    for name, words in understood:
        names.setdefault(words, []).append(name)
    if len(names) == 1:
        return [f"read as: {words}" for words in names]
    return [
        f"{own[0] if len(own) == 1 else f'{len(own)} files ({own[0]} …)'} read as: {words}"
        for words, own in names.items()
    ]


def _members(path: Path, direction: Direction) -> list[DirectedFile]:
    if path.is_dir():
        return angle_sets.named_by_angle(path, direction.plane, (*AUDIO, *TEXT))
    if path.suffix.lower() == ".csv" and (listed := angle_sets.listed_in_table(path)):
        return listed
    return [DirectedFile(path, direction)]


def _read(member: DirectedFile, reading: Reading, conditions: Conditions) -> _Read:
    suffix = member.path.suffix.lower()
    if suffix == ".sofa":
        return _of_sofa(member.path, reading, conditions)
    if suffix in AUDIO:
        return _of_audio(member, reading, conditions)
    found = table.read_tables(member.path, reading.wish)
    several = len(found) > 1
    towards = [
        angle_sets.direction_of(one.name, member.direction.plane) if several else member.direction for one in found
    ]
    if len(set(towards)) < len(towards):
        raise CatalogueError(f"{member.path}: two of its columns name the same direction; keep one of them there")
    curves = [_of_columns(one, toward, reading, conditions) for one, toward in zip(found, towards, strict=True)]
    notes = [*found[0].notes, *_of_gaps(found[0]), *_of_microphone(found[0], reading), *_of_level(found[0], conditions)]
    side = f"; {len(found)} curves side by side, {', '.join(map(str, towards))}" if several else ""
    return _Read(curves, found[0].read_as + side, notes)


def _of_columns(found: Table, toward: Direction, reading: Reading, conditions: Conditions) -> NewCurve:
    if found.unit == "ohm":
        if reading.calibration is not None:
            raise CatalogueError(f"{found.name or 'ohm'}: an impedance is heard by no microphone; leave its file out")
        return NewCurve("impedance", toward, _stacked(found.hz, found.values, found.phase_deg), conditions)
    stated = replace(reading.heard(_ungated(conditions)), spl=conditions.spl or found.unit == "pa")
    return NewCurve("response", toward, _corrected(reading, found.hz, found.values, found.phase_deg), stated)


def _corrected(reading: Reading, hz: Numbers, level_db: Numbers, phase_deg: Numbers | None) -> Numbers:
    """Columns without the microphone's own response."""
    levels = reading.correction.levels(hz, level_db)
    return _stacked(hz, levels, None if phase_deg is None else reading.correction.phases(hz, phase_deg))


def _stacked(hz: Numbers, values: Numbers, phase_deg: Numbers | None) -> Numbers:
    return np.stack([hz, values] + ([] if phase_deg is None else [phase_deg]), axis=1)


def _of_microphone(found: Table, reading: Reading) -> list[str]:
    return reading.correction.said((float(found.hz[0]), float(found.hz[-1])))


def _of_gaps(found: Table) -> list[str]:
    """Where so much lacks that it counts as not measured."""
    there = gaps.gaps_of(found.hz)
    if len(found.hz) > 1 and gaps.is_sparse(found.hz):
        return [gaps.few_in_words(found.hz)]
    return [f"{gaps.in_words(there)}: a gap, which counts as not measured"] if there else []


def _of_level(found: Table, conditions: Conditions) -> list[str]:
    """What a heading claims of the level's zero, which only who measured it can confirm."""
    claims = found.unit == "db" and is_spl(found.name) and not conditions.spl
    return [f"its heading {found.name!r} speaks of SPL; it counts as dB SPL only with --spl"] if claims else []


def _ungated(conditions: Conditions) -> Conditions:
    """The conditions of what was gated elsewhere: below 1/gate nothing is valid."""
    low, high = conditions.valid_hz
    return replace(
        conditions, valid_hz=(max(low, 1000 / conditions.gate_ms), high) if conditions.gate_ms else (low, high)
    )


def _of_audio(member: DirectedFile, reading: Reading, conditions: Conditions) -> _Read:
    path = member.path
    clip = read_audio(path)
    frames, channels = clip.samples.shape
    if not 1 <= reading.channel <= channels:
        raise CatalogueError(f"{path} has {channels} channels; --channel {reading.channel} is not among them")
    impulse = clip.samples[:, reading.channel - 1]
    if not conditions.gate_ms:
        raise CatalogueError(
            f"{path} is an impulse response and needs a gate: --gate MS, or --height and --distance for it"
        )
    impulse = reading.correction.impulse(impulse, clip.rate_hz)
    gate.gated(impulse, clip.rate_hz, conditions.gate_s, conditions.gate_window)  # raises where the gate does not fit
    words = (
        f"impulse response, channel {reading.channel} of {channels}; {frames} samples at {clip.rate_hz / 1000:g} kHz, "
        f"{1000 * frames / clip.rate_hz:.0f} ms"
    )
    kept = NewCurve("impulse", member.direction, impulse, reading.heard(conditions), clip.rate_hz)
    return _Read([kept], words, reading.correction.said((20.0, clip.rate_hz / 2.2)))


def _of_sofa(path: Path, reading: Reading, conditions: Conditions) -> _Read:
    """The horizontal circle and the vertical one, in steps of 10 degrees, as far as they were measured."""
    held = sofa.read_sofa(path, reading.emitter)
    count = held.data.shape[1]
    if not 1 <= reading.channel <= count:
        raise CatalogueError(f"{path} has {count} {held.channels}; --channel {reading.channel} is not among them")
    curves, lacking, often = [], 0, 0
    for toward in _circles():
        try:
            place = held.nearest(*_as_sofa_counts(toward))
        except FileError:
            lacking += 1
            continue
        often += held.how_often(place) > 1
        curves.append(_of_response(held, (place, reading.channel - 1), toward, reading, conditions))
    if not curves:
        raise CatalogueError(f"{path} holds no response near the horizontal or the vertical circle")
    notes = [f"{often} directions were measured more than once; the first of each was taken"] if often else []
    notes += [f"{lacking} directions were not measured"] if lacking else []
    if held.delay_frames is not None:
        own = held.delay_frames[:, reading.channel - 1]
        notes.append(f"delays of {own.min():g} to {own.max():g} samples (Data.Delay) were applied")
    highest = held.rate_hz / 2.2 if held.hz is None else float(held.hz.max())
    notes += reading.correction.said((20.0, highest))
    what = "impulse responses" if held.hz is None else "transfer functions"
    words = (
        f"{held.convention}, {what}, {held.channels[:-1]} {reading.channel} of {count}; {len(curves)} directions, "
        f"every {SOFA_STEP_DEG}°, azimuth −30 as 30 to the right"
    )
    return _Read(curves, words, notes)


def _of_response(
    held: Directions, at: tuple[int, int], toward: Direction, reading: Reading, conditions: Conditions
) -> NewCurve:
    """One direction's response: an impulse response with silence around it, or a transfer function in columns.

    `at` is its place among the directions and its channel.
    """
    data = held.data[at]
    if held.hz is None:
        length_ms = conditions.gate_ms or 1000 * len(data) * SOFA_GATE_SHARE / held.rate_hz
        stated = replace(conditions, gate_ms=length_ms, window=conditions.gate_window)
        lead, tail = np.zeros(round(SOFA_LEAD_S * held.rate_hz)), np.zeros(held.rate_hz // 20)
        whole = np.concatenate([lead, data.astype(float), tail])
        if held.delay_frames is not None:
            whole = _later(whole, float(held.delay_frames[at]))
        impulse = reading.correction.impulse(whole, held.rate_hz)
        return NewCurve("impulse", toward, impulse, reading.heard(stated), held.rate_hz)
    order = np.argsort(held.hz)
    order = order[held.hz[order] > 0]
    level = 20 * np.log10(np.maximum(np.abs(data[order]), SILENCE))
    columns = _corrected(reading, held.hz[order], level, np.degrees(np.angle(data[order])))
    return NewCurve("response", toward, columns, reading.heard(_ungated(conditions)))


def _later(samples: Numbers, frames: float) -> Numbers:
    """The same so many frames later, to a fraction of one; longer by them."""
    whole = int(frames)
    made = np.concatenate([np.zeros(whole), samples])
    if frames == whole:
        return made
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(len(made)) * (frames - whole))
    return np.asarray(np.fft.irfft(np.fft.rfft(made) * turn, len(made)))


def _circles() -> list[Direction]:
    """The 70 directions of two circles; front and back are in both, and taken once."""
    return [
        *(Direction("horizontal", angle) for angle in range(-170, 181, SOFA_STEP_DEG)),
        *(Direction("vertical", angle) for angle in range(-170, 171, SOFA_STEP_DEG) if angle),
    ]


def _as_sofa_counts(toward: Direction) -> tuple[float, float]:
    """Azimuth (counter-clockwise from the front) and elevation of a direction, degrees."""
    plane, angle = toward
    if plane == "horizontal":
        return -angle, 0
    if abs(angle) <= 90:
        return 0, angle
    return 180, (180 - abs(angle)) * (1 if angle > 0 else -1)
