"""Joining a nearfield reading of the bass below the newest curve on axis."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from audio.curves import splice, table
from audio.curves.curve import Curve
from audio.curves.headings import Unit

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import curve_records
from .conditions import ON_AXIS
from .curve_records import CurveRecord, NewCurve, RawFile
from .frequency_response import response_of


def join(
    casebook: Casebook,
    setup: Setup,
    near: Path,
    at_hz: float,
    octaves: float,
    radius_m: float | None,
    unit: Unit | None = None,
) -> tuple[CurveRecord, splice.Splice]:
    """Join a nearfield reading below the newest curve on axis, and keep the whole as a curve of its own.

    Parameters
    ----------
    octaves
        Over which the two are faded into each other around `at_hz`.
    radius_m
        Of the cone; says up to where a nearfield holds. None where nobody said.
    unit
        Of the reading's levels, where its headings do not say it.

    Raises
    ------
    CatalogueError, FileError, MeasureError
        If there is no curve on axis, the file is none, or the nearfield does not hold as high as that.
    """
    far = curve_records.in_direction(casebook, setup, ON_AXIS)
    if not far:
        raise CatalogueError(f"{setup.name!r} has no curve on axis to join to; add one first")
    if radius_m is not None and at_hz > (limit := splice.nearfield_limit_hz(radius_m)):
        raise CatalogueError(
            f"a nearfield of a cone of {radius_m:g} m holds up to {limit:.0f} Hz; join it lower than that"
        )
    found = table.read_table(near, unit)
    if found.unit == "ohm":
        raise CatalogueError(f"{near} is an impedance ({found.read_as}); a nearfield is a level")
    made = splice.spliced(Curve(found.hz, found.values), response_of(far[-1]), at_hz, octaves)
    note = f"nearfield {near.name} joined at {at_hz:g} Hz over {octaves:g} octaves, moved by {made.moved_db:+.2f} dB"
    stated = replace(far[-1].conditions, valid_hz=made.curve.band, note=note, gate_ms=None)
    joined = NewCurve("response", ON_AXIS, np.stack([made.curve.hz, made.curve.level_db], axis=1), stated)
    kept = curve_records.keep(casebook, setup, [(RawFile.read(near), [joined])])
    return kept[0], made
