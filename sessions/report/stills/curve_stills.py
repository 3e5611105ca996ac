"""Stills of curves, a row of `KINDS` each. Units share their axes: all that the casebook has of a kind fits on them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from audio.curves import palette, picture, still
from audio.curves.curve import Curve
from audio.curves.still import Axis, Line, Still
from audio.errors import MeasureError

from ...casebook import catalogue
from ...casebook.catalogue import Setup
from ...casebook.store import Casebook
from ...errors import CatalogueError, SessionsError
from ...measured import curve_records
from ...measured.curve_comparison import compare_setups
from ...measured.curve_records import CurveRecord
from ...measured.figures.captions import smoothing_in_words
from ...measured.figures.figure import Subject
from ...measured.figures.figure_table import named
from ...measured.figures.needs import NotMeasured, impedance, on_axis
from ...measured.figures.radiation import AngleFamily
from ...measured.frequency_response import BAND_HZ, SMOOTHING, response_of, shown

HIGH_DB = 15.0  # of a response's axis, above its level from 300 to 3000 Hz; it moves up where a unit needs more
LEVEL = Axis(HIGH_DB - still.db_over(50.0), HIGH_DB, (-30, -20, -10, 0, 10), "level, dB")
HALF_DB = still.db_over(25.0) / 2
DIFFERENCE = Axis(-HALF_DB, HALF_DB, (-10, -5, 0, 5, 10), "difference, dB")
OHMS = (16.0, 32.0, 64.0, 128.0, 256.0, 512.0)
STEP_DB = 5.0
NAMED_DEG = (0, 30, 60, 90, 120, 180)
BAND = f"{BAND_HZ[0]:g} to {BAND_HZ[1]:g} Hz"
HOW = smoothing_in_words(SMOOTHING)


@dataclass(frozen=True)
class Kind:
    """One kind of still: how many setups it takes at least and at most, and how it is made of them."""

    fewest: int
    most: int
    make: Callable[[Casebook, Sequence[Setup]], Still]


def make(casebook: Casebook, what: str, names: Sequence[str]) -> Still:
    """The still of some setups.

    Raises
    ------
    CatalogueError
        If there is no such kind or setup, or it takes more or fewer of them.
    NotMeasured
        If what it shows was not measured.
    MeasureError
        If what was measured cannot give it.
    """
    if what not in KINDS:
        raise CatalogueError(f"--what is one of {', '.join(KINDS)}; got {what!r}")
    kind, setups = KINDS[what], [catalogue.find(casebook, Setup, name) for name in names]
    if not kind.fewest <= len(setups) <= kind.most or len(set(names)) != len(names):
        many = f"{kind.fewest} to {kind.most} setups" if kind.fewest != kind.most else f"{kind.most} of them"
        raise CatalogueError(f"a still of {what} is made of different setups, {many}; got {', '.join(names) or 'none'}")
    return kind.make(casebook, setups)


def _response(casebook: Casebook, setups: Sequence[Setup]) -> Still:
    curves = {setup.name: _axis_curve(casebook, setup) for setup in setups}
    lines = [still.curve_line(name, curve, place) for place, (name, curve) in enumerate(curves.items())]
    axis = still.taller(LEVEL, _every(casebook, lambda setup: [_line_of(_axis_curve(casebook, setup))]), STEP_DB)
    title = f"On axis: {_together(setups)}"
    return still.framed(
        lines, axis, title=title, note=f"{HOW}; 0 dB: its own mean, {BAND}", valid_hz=_valid(list(curves.values()))
    )


def _difference(casebook: Casebook, setups: Sequence[Setup]) -> Still:
    compared = compare_setups(casebook, setups[0], setups[1])
    if compared is None:
        lacking = [one.name for one in setups if curve_records.of_setup(casebook, one).on_axis is None]
        raise NotMeasured(f"a difference needs a curve on axis of each; there is none of {' and '.join(lacking)}")
    title = f"{compared.names[0]} less {compared.names[1]}, on axis"
    line = still.curve_line("", compared.difference, 0)
    axis = still.taller(DIFFERENCE, [line], STEP_DB)
    note = f"{HOW}; at one level, {BAND}; above 0: {compared.names[0]} gives more"
    return still.framed([line], axis, title=title, note=note, valid_hz=_valid([compared.difference]), zero=True)


def _impedance(casebook: Casebook, setups: Sequence[Setup]) -> Still:
    records = {one.name: impedance(Subject(curve_records.of_setup(casebook, one)), "impedance") for one in setups}
    lines = [_ohms(name, record, place) for place, (name, record) in enumerate(records.items())]
    every = [
        _ohms("", record, 0)
        for setup in catalogue.everything(casebook, Setup)
        if (record := curve_records.impedance_of(casebook, setup)) is not None
    ]
    top = max(still.highest(line) for line in every)
    high = next((one for one in OHMS if one >= top), OHMS[-1])
    axis = Axis(0.0, high, tuple(np.linspace(0, high, 5)[:4]), "impedance, ohm")
    valid = max(float(one.hz[0]) for one in lines), min(float(one.hz[-1]) for one in lines)
    return still.framed(lines, axis, title=f"Impedance: {_together(setups)}", note="Modulus", valid_hz=valid)


def _horizontal(casebook: Casebook, setups: Sequence[Setup]) -> Still:
    return _family(casebook, setups[0], "horizontal")


def _vertical(casebook: Casebook, setups: Sequence[Setup]) -> Still:
    return _family(casebook, setups[0], "vertical")


def _family(casebook: Casebook, setup: Setup, plane: str) -> Still:
    """The angles of a plane from the axis outwards, each against the level on axis."""
    found = named(plane).of(Subject(curve_records.of_setup(casebook, setup), SMOOTHING))
    assert isinstance(found, AngleFamily)
    level = found.curves[0]
    inside = level.valid() & (level.hz >= BAND_HZ[0]) & (level.hz <= BAND_HZ[1])
    if not inside.any():
        raise MeasureError(f"on axis nothing was measured validly from {BAND_HZ[0]:g} to {BAND_HZ[1]:g} Hz")
    at_zero = float(level.level_db[inside].mean())
    widest = max(map(abs, found.curves)) or 1
    lines = [
        Line(
            ("on axis" if not angle else f"{angle:+g}°") if angle in NAMED_DEG else "",
            curve.hz,
            curve.level_db - at_zero,
            curve.valid(),
            picture.shade(abs(angle) / widest),
            "-" if angle >= 0 else (0, (4, 2)),
            still.LINE_PT if not angle else 1.4,
        )
        for angle, curve in sorted(found.curves.items(), key=lambda one: (abs(one[0]), -one[0]))
    ]
    axis = still.taller(LEVEL, lines, STEP_DB)
    note = f"{HOW}; 0 dB: on axis, {BAND}" + ("; broken: angles below 0" if min(found.curves) < 0 else "")
    title = f"{setup.name}: {plane} angles"
    return still.framed(lines, axis, title=title, note=note, valid_hz=_valid(list(found.curves.values())))


KINDS: Mapping[str, Kind] = {
    "response": Kind(1, still.MOST_NAMED, _response),
    "difference": Kind(2, 2, _difference),
    "impedance": Kind(1, still.MOST_NAMED, _impedance),
    "horizontal": Kind(1, 1, _horizontal),
    "vertical": Kind(1, 1, _vertical),
}


def _axis_curve(casebook: Casebook, setup: Setup) -> Curve:
    record = on_axis(Subject(curve_records.of_setup(casebook, setup)), "response")
    return shown(response_of(record), SMOOTHING, BAND_HZ)


def _line_of(curve: Curve) -> Line:
    return still.curve_line("", curve, 0)


def _every(casebook: Casebook, lines_of: Callable[[Setup], list[Line]]) -> list[Line]:
    """The lines of all setups that have some."""
    found = []
    for setup in catalogue.everything(casebook, Setup):
        try:
            found += lines_of(setup)
        except (SessionsError, MeasureError):
            continue
    return found


def _ohms(name: str, record: CurveRecord, place: int) -> Line:
    colour, style = palette.line_look(place)
    return Line(name, record.hz, record.values, np.isfinite(record.values), colour, style)


def _valid(curves: Sequence[Curve]) -> tuple[float, float]:
    low, high = max(curve.band[0] for curve in curves), min(curve.band[1] for curve in curves)
    return (low, high) if low < high else (0.0, inf)


def _together(setups: Sequence[Setup]) -> str:
    names = [one.name for one in setups]
    return ", ".join(names[:-1]) + f" and {names[-1]}" if len(names) > 1 else names[0]
