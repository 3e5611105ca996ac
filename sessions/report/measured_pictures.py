"""What was measured of the setups compared, for a report: sentences, and pictures that are to be drawn."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audio.errors import MeasureError

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..measured import curve_sentences
from ..plans.plan import Plan
from ..results import crosscheck_of_two, review
from ..words import lexicon_rows
from ..words.lexicon import Lexicon
from . import words_heard
from .drawing import Drawing, Drawn, Sketch, whole
from .word_rows import WordRow

if TYPE_CHECKING:
    from ..measured.curve_comparison import CurveComparison

OF_SEVERAL = ("pair", "places", "seatings", "electronics")  # figures of curves that do not stand for their setup


@dataclass(frozen=True)
class Measured:
    """The curves beside a comparison: sentences, pictures with their captions, and what both rest on."""

    sentences: list[str]
    pictures: list[Drawn]
    comparisons: Sequence[CurveComparison] = ()


@dataclass(frozen=True)
class Sketched:
    """What was measured of some setups, with its pictures as far as they are."""

    sentences: list[str]
    pictures: list[Sketch | Drawn]
    comparisons: Sequence[CurveComparison] = ()


MeasuredOf = Callable[[tuple[str, ...]], Measured]
"""What was measured of some setups, by their identifiers."""


def sketched(
    casebook: Casebook,
    plans: Sequence[Plan],
    words: Sequence[WordRow],
    drawing: Drawing,
    units: Sequence[Setup] = (),
) -> dict[tuple[str, ...], Sketched]:
    """What was measured of each plan's setups, or without plans of all; its pictures begin to be drawn.

    Of `units`, where the report is about some, what no plan shows of them stands under no setups (`()`).
    """

    @functools.cache
    def of_one(setup: Setup, is_compared: bool) -> list[Sketch | Drawn]:
        return _of_one(casebook, setup, is_compared or (bool(plans) and not units), drawing)

    asked = {tuple(setup.id for setup in plan.setups) for plan in plans}
    found = {setups: _sketched(casebook, setups, words, of_one, drawing) for setups in sorted(asked)}
    if units:
        compared = {name for own in found.values() for one in own.comparisons for name in one.names}
        found[()] = review.by_itself(
            lambda: _of_units(casebook, units, compared, of_one, drawing),
            lambda reason: Sketched([f"Measured: cannot be shown: {reason}"], []),
        )
    elif not plans:
        found[()] = _sketched(casebook, _with_curves(casebook), words, of_one, drawing)
    return found


def measured_of(found: Mapping[tuple[str, ...], Sketched], drawn: Mapping[Sketch, Drawn]) -> MeasuredOf:
    """What was measured of some setups, with its pictures as they were drawn."""
    measured = {
        setups: Measured(
            own.sentences,
            whole(own.pictures, drawn),
            own.comparisons,
        )
        for setups, own in found.items()
    }
    return measured.__getitem__


def _sketched(
    casebook: Casebook,
    setups: Sequence[str],
    words: Sequence[WordRow],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
    drawing: Drawing,
) -> Sketched:
    """What was measured of the setups compared: both on one set of axes, their difference, and each by itself."""
    return review.by_itself(
        lambda: _every_measured(casebook, setups, words, of_one, drawing),
        lambda reason: Sketched([f"Measured: cannot be shown: {reason}"], []),
    )


def _every_measured(
    casebook: Casebook,
    setup_ids: Sequence[str],
    words: Sequence[WordRow],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
    drawing: Drawing,
) -> Sketched:
    from ..measured.figures.responses import Overlay

    setups = [catalogue.find(casebook, Setup, setup) for setup in setup_ids]
    measured = curve_sentences.measurements_of(casebook, setups)
    pictures: list[Sketch | Drawn] = []
    lexicon, reach_of = lexicon_rows.in_force(casebook), crosscheck_of_two.reach_by_name(casebook)
    for one in measured.comparisons:
        both = Sketch(Overlay(one), f"Measured on axis: {' and '.join(one.names)}.")
        pictures.append(drawing.begin(both))
        pictures.append(drawing.begin(_difference(one, setups, words, lexicon, reach_of)))
    compared = {name for one in measured.comparisons for name in one.names}
    for setup in setups:
        pictures += of_one(setup, setup.name in compared)
    return Sketched(measured.sentences, pictures, measured.comparisons)


def _of_units(
    casebook: Casebook,
    units: Sequence[Setup],
    compared: set[str],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
    drawing: Drawing,
) -> Sketched:
    """Several units' responses on one set of axes; and each by itself that no plan's pictures show."""
    from ..measured import curve_records
    from ..measured.figures.figure import Subject
    from ..measured.figures.lines import lines
    from ..measured.frequency_response import SMOOTHING

    pictures: list[Sketch | Drawn] = []
    measured = {one.name: curve_records.of_setup(casebook, one) for one in units}
    found = [(name, axis) for name, own in measured.items() if (axis := own.on_axis) is not None]
    together = len(found) > 1
    if together:
        names = " and ".join(name for name, _ in found)
        all_of_them = lines(found, Subject(measured[found[0][0]], SMOOTHING))
        pictures.append(drawing.begin(Sketch(all_of_them, f"On axis, all: {names}.")))
    for one in units:
        if one.name not in compared:
            pictures += of_one(one, together)
    sentences = [f"Measured: no curve on axis of {one.name}." for one in units if measured[one.name].on_axis is None]
    return Sketched(sentences, pictures)


def _difference(
    compared: CurveComparison,
    setups: Sequence[Setup],
    words: Sequence[WordRow],
    lexicon: Lexicon,
    reach_of: crosscheck_of_two.ReachByName,
) -> Sketch:
    """The difference of two curves, with the words heard of their setups where a band is stated for them."""
    from ..measured.figures.responses import Difference

    own = {setup.id: name for name in compared.names for setup in setups if setup.name == name}
    heard = words_heard.words_heard(words, own, compared.difference.band, lexicon, reach_of)
    figure = Difference(compared, heard.marked(), words_heard.EXPLAINED)
    return Sketch(figure, f"The difference: {' less '.join(compared.names)}.", heard.lines())


def _of_one(casebook: Casebook, setup: Setup, is_compared: bool, drawing: Drawing) -> list[Sketch | Drawn]:
    """What was measured of a setup, as far as it was: its axis too, where no comparison has it."""
    from ..measured import curve_records
    from ..measured.figures.figure import Subject
    from ..measured.figures.figure_table import named
    from ..measured.figures.needs import NotMeasured
    from ..measured.figures.radiation import DirectivityFigure
    from ..measured.frequency_response import SMOOTHING

    subject, pictures = Subject(curve_records.of_setup(casebook, setup), SMOOTHING), list[Sketch | Drawn]()
    axis = subject.measured.on_axis
    there = {
        "response": axis is not None and not is_compared,
        "directivity": len(subject.measured.directions) > 1,
        "impedance": subject.measured.impedance is not None,
        "decay": axis is not None and axis.kind == "impulse",
        **dict.fromkeys(OF_SEVERAL, True),
    }
    if subject.measured.is_loop:
        there["pair"] = False  # channels of electronics, which have a table of their own
    for what in (what for what, is_there in there.items() if is_there):
        try:
            data = named(what).of(subject)
            if not isinstance(data, DirectivityFigure) or len(data.directivity.curves) > 1:  # more than the axis alone
                pictures.append(drawing.begin(Sketch(data, f"{what.capitalize()} of {setup.name}.")))
        except NotMeasured:
            continue
        except (CatalogueError, MeasureError) as error:
            pictures.append(Drawn("", f"{what.capitalize()} of {setup.name} cannot be drawn: {error}"))
    return pictures


def _with_curves(casebook: Casebook) -> tuple[str, ...]:
    """The setups, by identifier, of which curves are there that count, or facts."""
    from ..measured import curve_records, fact_rows

    counting = {one.setup for one in curve_records.listed(casebook) if not one.withdrawn}
    setups = catalogue.everything(casebook, Setup)
    return tuple(one.id for one in setups if one.name in counting or fact_rows.of_setup(casebook, one))
