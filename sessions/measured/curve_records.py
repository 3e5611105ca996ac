"""The casebook's rows of measured data: raw files, the curves read from them, and withdrawals. Their SQL is all here.

The tables are chained, so their texts stay as they were written: conditions and numbers are made into text here alone,
before the short transaction that keeps them.
"""

from __future__ import annotations

import base64
import hashlib
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from audio.errors import FileError

from ..casebook import catalogue, documents
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook, Row
from ..errors import CasebookError, CatalogueError
from .conditions import ON_AXIS, STRAIGHT_UP, Conditions, Direction, Plane, direction, where_in_words
from .member import ALONE, Member

Kind = Literal["response", "impulse", "impedance", "distortion"]
MOST_OTHERS = 3
DIRECTED: tuple[Kind, ...] = ("response", "impulse")  # the kinds that say what goes out in a direction
COUNTS = "id NOT IN (SELECT curve_id FROM withdrawals)"
ADDED_AS = "added_as"  # in a row's conditions, where the file's content was kept before under another name
EXACT_ANGLE = (
    "exact_angle"  # in a row's conditions, where the angle is not whole: its column holds the nearest whole one
)


@dataclass(frozen=True)
class RawFile:
    """A raw file to be kept, packed beforehand."""

    name: str
    sha256: str
    packed: str

    @classmethod
    def of(cls, name: str, content: bytes) -> RawFile:
        """The file with this content."""
        return cls(name, hashlib.sha256(content).hexdigest(), _packed(content))

    @classmethod
    def read(cls, path: Path) -> RawFile:
        """The file at this place.

        Raises
        ------
        FileError
            If it cannot be read.
        """
        try:
            return cls.of(path.name, path.read_bytes())
        except OSError as error:
            raise FileError(f"cannot read {path}: {error.strerror}; check the name and its permissions") from error


@dataclass(frozen=True, eq=False)
class NewCurve:
    """A curve to be kept. `data` as in `CurveRecord`."""

    kind: Kind
    direction: Direction
    data: NDArray[np.float64]
    conditions: Conditions
    rate_hz: int = 0


@dataclass(frozen=True, eq=False)
class CurveRecord:
    """A curve as the casebook holds it.

    `data` has the columns frequency (Hz), level (dB, or ohm) and, if there is a third, phase (degrees); of an impulse
    response the samples, shape (frames,), at `rate_hz`. `at` is when it was kept,
    `withdrawn` why it no longer counts, where it was asked for by its identifier (`by_id`).
    """

    id: str
    setup_id: str
    measurement_id: str
    kind: Kind
    direction: Direction
    at: str
    conditions: Conditions
    data: NDArray[np.float64]
    rate_hz: int = 0
    withdrawn: str = ""

    @property
    def hz(self) -> NDArray[np.float64]:
        """The frequencies of a curve in columns."""
        return self.data[:, 0]

    @property
    def values(self) -> NDArray[np.float64]:
        """The levels in dB (of an impedance: ohm) of a curve in columns."""
        return self.data[:, 1]

    @property
    def phase_deg(self) -> NDArray[np.float64] | None:
        """The phases of a curve in columns; None where they were not measured."""
        return self.data[:, 2] if self.data.shape[1] > 2 else None


@dataclass(frozen=True, eq=False)
class SetupCurves:
    """What is measured of one setup: the newest curve of each direction, its impedance, its harmonics by order.

    `everything` holds all its curves that count, the newest last: also those of one driver or side, of places around
    the chair, on a coupler and of a loop, which do not stand for the setup. `single` is the one curve, where it is
    shown alone.
    """

    setup: Setup
    directions: Mapping[Direction, CurveRecord]
    impedance: CurveRecord | None
    distortion: Mapping[int, CurveRecord]
    everything: Sequence[CurveRecord] = ()
    single: CurveRecord | None = None

    @property
    def is_loop(self) -> bool:
        """Whether it is electronics, measured through a line loop."""
        return any(one.conditions.one_of.quantity for one in self.everything)

    @property
    def on_axis(self) -> CurveRecord | None:
        """The newest response (or impulse response) on axis; where there is none, vertically at 0°."""
        return self.directions.get(ON_AXIS) or self.directions.get(STRAIGHT_UP)

    @property
    def all_on_axis(self) -> list[CurveRecord]:
        """All responses on axis that stand for the setup, the newest last; a single one off the axis stands alone."""
        own = [one for one in self.everything if one.kind in DIRECTED and one.conditions.one_of.alone]
        return [one for one in own if one.direction == ON_AXIS] or [one for one in own if one.direction == STRAIGHT_UP]


@dataclass(frozen=True)
class ListedCurve:
    """A line of the list of all curves: what was measured of which setup, and the raw file it came from.

    `withdrawn` says why it no longer counts (empty while it does), `replaced_by` what stands for it, if anything does.
    """

    id: str
    setup: str
    kind: Kind
    plane: Plane
    angle: float
    at: str
    file: str
    sha256: str
    conditions: Conditions
    withdrawn: str = ""
    replaced_by: str | None = None

    @property
    def direction(self) -> Direction:
        """Where the microphone stood."""
        return Direction(self.plane, self.angle)

    def to_document(self) -> dict[str, Any]:
        """The line by name."""
        plain: dict[str, Any] = documents.plain(self)
        return plain | {"conditions": self.conditions.to_document()}


def no_axis(measured: SetupCurves) -> str:
    """That a setup has no curve on axis: what it has instead, or how to add one."""
    name = measured.setup.name
    others = dict.fromkeys(
        one.conditions.one_of.words for one in measured.everything if one.kind in DIRECTED and one.direction == ON_AXIS
    )
    if not others:
        return f"{name!r} has no curve on axis yet: earwitness curve add {quote(name)} FILE"
    return (
        f"{name!r} has no on-axis curve, only others ({_first(others)}), which do not stand for it; name one with "
        "--curve ID (earwitness curve list)"
    )


def instead_of_axis(measured: SetupCurves) -> str:
    """Which responses a setup has where none on axis stands for it, in few words; empty where it has none at all."""
    found = dict.fromkeys(
        ", ".join(filter(None, (one.conditions.one_of.words, where_in_words(one.direction))))
        for one in measured.everything
        if one.kind in DIRECTED
    )
    return _first(found)


def _first(of_curves: Iterable[str]) -> str:
    """The first few of what is said of curves."""
    every = list(of_curves)
    return "; ".join([*every[:MOST_OTHERS], *(["…"] if len(every) > MOST_OTHERS else [])])


def keep(
    casebook: Casebook,
    setup: Setup,
    sources: Sequence[tuple[RawFile, Sequence[NewCurve]]],
    *,
    replaces: Sequence[CurveRecord] = (),
    why: str = "",
) -> list[CurveRecord]:
    """Keep raw files and the curves read from each: all of them, or none. A file that is there already is kept once.

    Parameters
    ----------
    replaces
        Curves that are withdrawn with it, for the reason `why`.

    Raises
    ------
    CatalogueError
        If one of those was withdrawn before, or no reason is given.
    """
    names = {row["sha256"]: row["name"] for row in casebook.query("SELECT sha256, name FROM measurements")}
    for file, _ in sources:
        names.setdefault(file.sha256, file.name)
    ready = [
        (file, [(curve, _content(setup, curve, "" if names[file.sha256] == file.name else file.name)) for curve in own])
        for file, own in sources
    ]
    with casebook.writing():
        written = [
            (casebook.append("curves", "curve", {"setup_id": setup.id, "measurement_id": file_id, **content}), curve)
            for file, curves in ready
            for file_id in [_keep_file(casebook, file)]
            for curve, content in curves
        ]
        if replaces:
            instead = [row["id"] for row, curve in written if curve.kind != "distortion"]  # harmonics go with theirs
            withdraw(casebook, replaces, why, replaced_by=instead[0] if len(instead) == 1 else None)
    return [_record(row, curve.data, curve.conditions, curve.rate_hz) for row, curve in written]


def withdraw(
    casebook: Casebook, curves: Sequence[CurveRecord], why: str, *, replaced_by: str | None = None
) -> list[str]:
    """Say of curves that they no longer count; their rows stay. Harmonics go with the sweep they were taken with.

    Returns
    -------
    list
        The identifiers of all that no longer count from now on.

    Raises
    ------
    CatalogueError
        If no reason is given, or one of them was withdrawn before.
    """
    if not why.strip():
        raise CatalogueError("a curve is withdrawn for a reason that stays on record; say it with --why")
    with casebook.writing():
        gone = {row["curve_id"]: row["why"] for row in casebook.query("SELECT curve_id, why FROM withdrawals")}
        wanted: list[str] = []
        for one in curves:
            if one.id in gone:
                raise CatalogueError(
                    f"{one.id} was withdrawn before ({gone[one.id]}); add the file again to have it back"
                )
            along = _harmonics_of(casebook, one) if one.kind == "impulse" else []
            wanted += [curve for curve in (one.id, *along) if curve not in wanted and curve not in gone]
        for curve in wanted:
            content = {"curve_id": curve, "why": why.strip(), "replaced_by": replaced_by}
            casebook.append("withdrawals", "withdrawal", content)
    return wanted


def are_there(casebook: Casebook) -> bool:
    """Whether there is any curve, counting or withdrawn."""
    return bool(casebook.query("SELECT 1 FROM curves LIMIT 1"))


def listed(casebook: Casebook, curve_id: str | None = None) -> list[ListedCurve]:
    """All curves (or one), withdrawn ones too, the newest last; their numbers are not unpacked."""
    rows = casebook.query(
        """SELECT curves.id, setups.name AS setup, curves.kind, plane, angle, curves.at, measurements.name AS file,
           sha256, conditions, coalesce(why, '') AS withdrawn, replaced_by FROM curves
           JOIN setups ON setups.id = setup_id JOIN measurements ON measurements.id = measurement_id
           LEFT JOIN withdrawals ON curve_id = curves.id WHERE curves.id = coalesce(?, curves.id)
           ORDER BY curves.seq""",
        [curve_id],
    )
    found = []
    for row in rows:
        conditions, toward = _where_and_how(row)
        name = documents.value_of(row["conditions"]).get(ADDED_AS, row["file"])
        found.append(ListedCurve(**row | {"conditions": conditions, "angle": toward.angle, "file": name}))
    return found


def of_setup(casebook: Casebook, setup: Setup) -> SetupCurves:
    """What is measured of a setup and counts, the newest of each."""
    rows = casebook.query(f"SELECT * FROM curves WHERE setup_id = ? AND {COUNTS} ORDER BY seq", [setup.id])
    return measured(setup, [_read(row) for row in rows])


def measured(setup: Setup, found: Sequence[CurveRecord]) -> SetupCurves:
    """These curves as what is measured of a setup, the newest of each."""
    return SetupCurves(
        setup,
        directions={one.direction: one for one in found if one.kind in DIRECTED and one.conditions.one_of.alone},
        impedance=next(
            (one for one in reversed(found) if one.kind == "impedance" and one.conditions.one_of.alone), None
        ),
        distortion={
            one.conditions.harmonic: one for one in found if one.kind == "distortion" and one.conditions.one_of.whole
        },
        everything=found,
    )


def alone(casebook: Casebook, record: CurveRecord) -> SetupCurves:
    """One curve, counting or withdrawn, in the place of its setup's newest one on axis; it knows its own direction.

    The harmonics that were taken with a sweep come with it.
    """
    [setup] = [one for one in catalogue.everything(casebook, Setup) if one.id == record.setup_id]
    found = replace(measured(setup, [record]), single=record)
    if record.kind == "impedance":
        return replace(found, impedance=record)
    if record.kind == "distortion":
        return replace(found, distortion={record.conditions.harmonic: record})
    if record.kind == "impulse":
        harmonics = [by_id(casebook, one) for one in _harmonics_of(casebook, record)]
        found = replace(found, distortion={one.conditions.harmonic: one for one in harmonics})
    return replace(found, directions={ON_AXIS: record}) if record.kind in DIRECTED else found


def in_direction(casebook: Casebook, setup: Setup, toward: Direction) -> list[CurveRecord]:
    """A setup's own responses (and impulse responses) in one direction, the newest last; others are not unpacked.

    On axis those said to be vertical at 0° where there are no others: it is the same place.
    """
    rows = casebook.query(
        f"""SELECT * FROM curves WHERE setup_id = ? AND plane = ? AND angle = ? AND kind IN ('response', 'impulse')
            AND {COUNTS} ORDER BY seq""",
        [setup.id, toward.plane, round(toward.angle)],
    )
    found = [_read(row) for row in rows for how, where in [_where_and_how(row)] if where == toward and how.one_of.alone]
    return found if found or toward != ON_AXIS else in_direction(casebook, setup, STRAIGHT_UP)


def directions_of(casebook: Casebook, setup: Setup, member: Member = ALONE) -> set[Direction]:
    """The directions in which a setup has a response (or impulse response) that is this one of several."""
    rows = casebook.query(
        f"""SELECT DISTINCT plane, angle, conditions FROM curves WHERE setup_id = ? AND kind IN ('response', 'impulse')
            AND {COUNTS}""",
        [setup.id],
    )
    return {where for row in rows for how, where in [_where_and_how(row)] if how.one_of == member}


def impedance_of(casebook: Casebook, setup: Setup) -> CurveRecord | None:
    """A setup's newest impedance, not one of a driver or a side; its other curves are not unpacked."""
    rows = casebook.query(
        f"SELECT * FROM curves WHERE setup_id = ? AND kind = 'impedance' AND {COUNTS} ORDER BY seq DESC",
        [setup.id],
    )
    return next((_read(row) for row in rows if _where_and_how(row)[0].one_of.alone), None)


def by_id(casebook: Casebook, curve_id: str) -> CurveRecord:
    """The curve of that identifier, counting or withdrawn.

    Raises
    ------
    CatalogueError
        If there is none.
    """
    rows = casebook.query("SELECT * FROM curves WHERE id = ?", [curve_id])
    if not rows:
        raise CatalogueError(f"no curve {curve_id!r} in this casebook; see earwitness curve list")
    gone = casebook.query("SELECT why FROM withdrawals WHERE curve_id = ?", [curve_id])
    return replace(_read(rows[0]), withdrawn=gone[0]["why"] if gone else "")


def _harmonics_of(casebook: Casebook, one: CurveRecord) -> list[str]:
    """The distortion curves that were taken with a sweep's impulse response: kept after it, before the next one.

    Two takes that came out the same to the last bit share their file, so that it alone does not tell them apart.
    """
    rows = casebook.query(
        """SELECT id FROM curves WHERE measurement_id = ? AND setup_id = ? AND kind = 'distortion'
           AND (SELECT max(seq) FROM curves AS taken WHERE taken.measurement_id = curves.measurement_id
                AND taken.setup_id = curves.setup_id AND taken.kind = 'impulse' AND taken.seq < curves.seq)
               = (SELECT seq FROM curves WHERE id = ?) ORDER BY seq""",
        [one.measurement_id, one.setup_id, one.id],
    )
    return [row["id"] for row in rows]


def _keep_file(casebook: Casebook, file: RawFile) -> str:
    """The identifier of the kept file."""
    there = casebook.query("SELECT id FROM measurements WHERE sha256 = ?", [file.sha256])
    content = {"name": file.name, "sha256": file.sha256, "content": file.packed}
    return str((there[0] if there else casebook.append("measurements", "measurement", content))["id"])


def _content(setup: Setup, curve: NewCurve, added_as: str = "") -> Row:
    """What a curve's row holds of the curve itself; its two texts are hashed and keep this form for ever."""
    numbers = np.ascontiguousarray(curve.data, dtype="<f8")
    data = {"shape": list(numbers.shape), "rate_hz": curve.rate_hz, "float64": _packed(numbers.tobytes())}
    plane, angle = curve.direction
    stated = _stated(curve.conditions) | ({ADDED_AS: added_as} if added_as else {})
    return {
        "kind": curve.kind,
        "plane": plane,
        "angle": round(angle),
        "conditions": documents.text_of(stated | ({} if angle == round(angle) else {EXACT_ANGLE: angle})),
        "data": documents.text_of(data),
    }


def _where_and_how(row: Row) -> tuple[Conditions, Direction]:
    """A row's conditions and direction."""
    angle = documents.value_of(row["conditions"]).get(EXACT_ANGLE, row["angle"])
    return documents.from_text(row["conditions"], Conditions), direction(row["plane"], angle)


def _stated(conditions: Conditions) -> dict[str, Any]:
    """Conditions as they are kept; what is said only of sweeps stands only there."""
    plain = conditions.to_document()
    return {name: value for name, value in plain.items() if name != "taken" or value is not None}


def _read(row: Row) -> CurveRecord:
    held = documents.value_of(row["data"])
    try:
        numbers = np.frombuffer(zlib.decompress(base64.b64decode(held["float64"])), dtype="<f8").reshape(held["shape"])
    except (zlib.error, ValueError, KeyError) as error:
        raise CasebookError(
            f"the numbers of the curve {row['id']} cannot be read any more ({error}): the record was edited; "
            "see earwitness verify, or go back to a backup"
        ) from error
    return _record(row, numbers, _where_and_how(row)[0], held["rate_hz"])


def _record(row: Row, data: NDArray[np.float64], conditions: Conditions, rate_hz: int) -> CurveRecord:
    toward = _where_and_how(row)[1]
    return CurveRecord(
        row["id"], row["setup_id"], row["measurement_id"], row["kind"], toward, row["at"], conditions, data, rate_hz
    )


def _packed(content: bytes) -> str:
    return base64.b64encode(zlib.compress(content, 6)).decode("ascii")
