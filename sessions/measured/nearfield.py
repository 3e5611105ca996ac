"""Joining a nearfield reading of the bass, of a cone and of what else moves air, below the newest curve on axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from audio.curves import gaps, nearfield, splice, table
from audio.curves.curve import Curve
from audio.curves.gaps import gaps_of
from audio.curves.headings import Unit
from audio.curves.splice import Splice

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import curve_records
from .conditions import ON_AXIS
from .curve_records import CurveRecord, NewCurve, RawFile
from .figures.figure import signed
from .frequency_response import response_of


@dataclass(frozen=True)
class Join:
    """How a nearfield is to be joined.

    Attributes
    ----------
    at_hz, octaves
        Where the two meet, and over how much they are faded into each other.
    radius_m
        Of the cone; says up to where a nearfield holds. None where nobody said.
    others
        What else moves air, such as a port: its nearfield and its radius.
    baffle_m
        The width of the cabinet's front, whose step is then taken off the nearfield; None: it is left.
    unit
        Of the levels, where headings do not say it.
    """

    at_hz: float
    octaves: float = 1.0
    radius_m: float | None = None
    others: Sequence[tuple[Path, float]] = ()
    baffle_m: float | None = None
    unit: Unit | None = None


@dataclass(frozen=True, eq=False)
class Joined:
    """The joined curve as it is kept, the splice, and what is to be said of it."""

    record: CurveRecord
    splice: Splice
    said: tuple[str, ...]


def join(casebook: Casebook, setup: Setup, near: Path, wish: Join) -> Joined:
    """Join a nearfield reading below the newest curve on axis, and keep the whole as a curve of its own.

    Raises
    ------
    CatalogueError, FileError, MeasureError
        If there is no curve on axis, the file is none, the cone's radius is not said, a nearfield does not hold as high
        as where it is faded out, or cone and port cannot be added for lack of phase.
    """
    far = curve_records.in_direction(casebook, setup, ON_AXIS)
    if not far:
        raise CatalogueError(f"{setup.name!r} has no curve on axis to join to; add one first")
    if wish.radius_m is None:
        raise CatalogueError(
            "say the cone's radius with --radius M (half its width between the middles of the surround): up to where "
            "its nearfield holds follows from it"
        )
    if (distant := response_of(far[-1])).is_few:
        raise CatalogueError(f"the curve on axis, {far[-1].id}, is too little to be joined to: {distant.lacks}")
    _check_limits(wish)
    sources = [(near, wish.radius_m), *wish.others]
    whole = nearfield.summed([(_read(path, wish.unit), radius_m) for path, radius_m in sources])
    if wish.baffle_m is not None:
        whole = nearfield.with_baffle_step(whole, wish.baffle_m)
    made = splice.spliced(whole, distant, wish.at_hz, wish.octaves)
    onto = f"onto {far[-1].id} ({far[-1].conditions.in_words() or 'nothing was said of it'}, {_when(far[-1])})"
    lacks = (f"{gaps.in_words(made.curve.gaps_hz)}: left out",) if made.curve.gaps_hz else ()
    said = (onto, *lacks, *_said(wish))
    note = "; ".join(
        (
            f"nearfield {' + '.join(path.name for path, _ in sources)} joined at {wish.at_hz:g} Hz over "
            f"{wish.octaves:g} octaves, moved by {signed(made.moved_db)} dB",
            *said,
        )
    )
    stated = replace(far[-1].conditions, valid_hz=made.curve.band, note=note, gate_ms=None, taken=None)
    seen = ~gaps.inside(made.curve.hz, made.curve.gaps_hz)
    data = np.stack([made.curve.hz[seen], made.curve.level_db[seen]], axis=1)
    joined = NewCurve("response", ON_AXIS, data, stated)
    files: list[tuple[RawFile, Sequence[NewCurve]]] = [(RawFile.read(near), [joined])]
    files += [(RawFile.read(path), []) for path, _ in wish.others]
    return Joined(curve_records.keep(casebook, setup, files)[0], made, said)


def _when(record: CurveRecord) -> str:
    return record.conditions.when or record.at[:10]


def _check_limits(wish: Join) -> None:
    """Every nearfield must hold up to where it is wholly faded out."""
    top_hz = wish.at_hz * 2 ** (wish.octaves / 2)
    for what, radius_m in (("a cone", wish.radius_m or 0.0), *((path.name, own) for path, own in wish.others)):
        if top_hz > (limit := nearfield.limit_hz(radius_m)):
            raise CatalogueError(
                f"a nearfield of {what} of {radius_m:g} m holds up to {limit:.0f} Hz, and is heard up to {top_hz:.0f} "
                "Hz here; join it lower than that, or over fewer octaves"
            )


def _read(path: Path, unit: Unit | None) -> Curve:
    found = table.read_table(path, unit)
    if found.unit == "ohm":
        raise CatalogueError(f"{path} is an impedance ({found.read_as}); a nearfield is a level")
    return Curve(found.hz, found.values, found.phase_deg, gaps_hz=gaps_of(found.hz))


def _said(wish: Join) -> tuple[str, ...]:
    """What the join rests on, in sentences."""
    added = ", ".join(f"{path.name} ({radius_m:g} m)" for path, radius_m in wish.others)
    said = [f"{added} added to the cone by the air each moves (pressure times radius)"] if added else []
    if wish.baffle_m is None:
        said.append(
            "the baffle step is not in it: a nearfield does not know that a cabinet away from walls loses up to 6 dB "
            "towards the bass, so that this may stand so much too high; --baffle WIDTH takes it off"
        )
        return tuple(said)
    at, low = nearfield.baffle_step_db(np.array([wish.at_hz, 20.0]), wish.baffle_m)
    said.append(
        f"baffle step taken off as of a rigid sphere {wish.baffle_m:g} m wide, away from walls: {low - at:+.1f} dB at "
        f"20 Hz against {wish.at_hz:g} Hz; the ripples of a box's edges are not in it"
    )
    return tuple(said)
