"""Measured curves at the desk: which figures each setup has, and each drawn as the report draws it."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from audio.errors import MeasureError

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..measured import curve_records, makers_facts
from ..measured.figures.figure import FigureData, Subject
from ..measured.figures.figure_table import ROWS, named
from ..measured.frequency_response import SMOOTHING
from ..report import kept_pictures
from ..report.kept_pictures import Picture

FIRST = ("response", "directivity", "impedance", "decay", "pair", "places", "seatings", "electronics")
WIDE = "page"  # of the sizes that there are
_DRAWING = threading.Lock()  # what draws keeps fonts and ticks for itself, and was not made for several threads


@dataclass(frozen=True)
class ShownCurves:
    """What was measured of a setup: its curves, the figures that are looked at first, and those there are besides."""

    setup: str
    curves: Sequence[str]
    first: Sequence[str]
    further: Sequence[str]


def gather(casebook: Casebook) -> list[ShownCurves]:
    """All setups of which something was measured, or stated by its maker."""
    found = []
    listed = [one for one in curve_records.listed(casebook) if not one.withdrawn]
    for setup in catalogue.everything(casebook, Setup):
        own = [one for one in listed if one.setup == setup.name]
        subject = _subject(casebook, setup)
        if own or subject.facts:
            curves = [f"{one.kind}, {direction_in_words(one)}{one.at[:10]}" for one in own]
            every = _figures(subject)
            first = [what for what in every if what in FIRST]
            found.append(ShownCurves(setup.name, curves, first, [what for what in every if what not in FIRST]))
    return found


def picture(casebook: Casebook, setup: str, what: str, *, wide: bool = False) -> str:
    """A figure of a setup, as SVG text; `wide`: for a page that is.

    Raises
    ------
    CatalogueError, MeasureError
        If it was not measured, or there is no such figure.
    """
    return svg(named(what).of(_subject(casebook, catalogue.find(casebook, Setup, setup))), wide=wide)


def svg(figure: FigureData, *, wide: bool = False) -> str:
    """A figure as SVG text, drawn once: as a telephone holds it, or `wide`, whose type is not enlarged with it."""
    from audio.curves import picture as drawing

    key = kept_pictures.key(figure)
    if wide and key:
        key += WIDE
    before = kept_pictures.kept([key]) if key else {}
    if key in before:
        return before[key].svg
    with _DRAWING:
        made = figure.drawn()
        text = drawing.svg(made, drawing.Look(size=WIDE) if wide else drawing.PLAIN)
        if key:
            kept_pictures.keep({key: Picture(text, drawing.is_hatched(made))})
    return text


def direction_in_words(one: curve_records.ListedCurve) -> str:
    """Where the microphone stood, where that says something."""
    return f"{one.plane} {one.angle:g}°, " if one.angle else ""


def _subject(casebook: Casebook, setup: Setup) -> Subject:
    facts = makers_facts.of_setup(casebook, setup)
    return Subject(curve_records.of_setup(casebook, setup), SMOOTHING, facts=facts)


def _figures(subject: Subject) -> list[str]:
    """Those that what was measured is enough for, as far as that is known before they are worked out."""
    found = []
    for row in ROWS:
        try:
            row.needs(subject, row.name)
        except (CatalogueError, MeasureError):
            continue
        found.append(row.name)
    return found
