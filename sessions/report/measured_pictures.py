"""What was measured of the setups compared, for a report: sentences, and pictures, each drawn once."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
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
from . import kept_pictures, side_by_side, words_heard
from .kept_pictures import Picture
from .word_rows import WordRow

if TYPE_CHECKING:
    from ..measured.curve_comparison import CurveComparison
    from ..measured.figures.figure import FigureData

OF_SEVERAL = ("pair", "places", "seatings", "electronics")  # figures of curves that do not stand for their setup


@dataclass(frozen=True)
class Drawn:
    """A picture as it stands on the page, its caption, and what stands under that, a line each."""

    drawn: str
    caption: str
    below: Sequence[str] = ()


@dataclass(frozen=True)
class Measured:
    """The curves beside a comparison: sentences, pictures with their captions, and what both rest on."""

    sentences: list[str]
    pictures: list[Drawn]
    comparisons: Sequence[CurveComparison] = ()


@dataclass(frozen=True, eq=False)
class Sketch:
    """A picture that is still to be drawn: its figure, its caption, and what stands under that."""

    figure: FigureData
    caption: str
    below: Sequence[str] = ()


@dataclass(frozen=True)
class Sketched:
    """What was measured of some setups, with its pictures as far as they are."""

    sentences: list[str]
    pictures: list[Sketch | Drawn]
    comparisons: Sequence[CurveComparison] = ()


MeasuredOf = Callable[[tuple[str, ...]], Measured]
"""What was measured of some setups, by their identifiers."""


@contextmanager
def gathered(
    casebook: Casebook, plans: Sequence[Plan], words: Sequence[WordRow], units: Sequence[Setup] = ()
) -> Iterator[Callable[[], MeasuredOf]]:
    """What was measured of each plan's setups, or without plans of all: each picture drawn once for all who show it.

    It is drawn while something else is done, as far as it can be; called, it waits for what is not drawn yet. Of
    `units`, where the report is about some, what no plan shows of them stands under no setups (`()`).
    """

    @functools.cache
    def of_one(setup: Setup, is_compared: bool) -> list[Sketch | Drawn]:
        return _of_one(casebook, setup, is_compared or (bool(plans) and not units))

    asked = {tuple(setup.id for setup in plan.setups) for plan in plans}
    sketched = {setups: _sketched(casebook, setups, words, of_one) for setups in sorted(asked)}
    if units:
        compared = {name for own in sketched.values() for one in own.comparisons for name in one.names}
        sketched[()] = review.by_itself(
            lambda: _of_units(casebook, units, compared, of_one),
            lambda reason: Sketched([f"Measured: cannot be shown: {reason}"], []),
        )
    elif not plans:
        sketched[()] = _sketched(casebook, _with_curves(casebook), words, of_one)
    sketches = list(dict.fromkeys(one for own in sketched.values() for one in own.pictures if isinstance(one, Sketch)))
    with _begun(sketches) as all_drawn:

        def measured_of() -> MeasuredOf:
            pictures = dict(zip(sketches, all_drawn(), strict=True))
            measured = {
                setups: Measured(
                    own.sentences,
                    [pictures[one] if isinstance(one, Sketch) else one for one in own.pictures],
                    own.comparisons,
                )
                for setups, own in sketched.items()
            }
            return measured.__getitem__

        yield measured_of


def _sketched(
    casebook: Casebook,
    setups: Sequence[str],
    words: Sequence[WordRow],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
) -> Sketched:
    """What was measured of the setups compared: both on one set of axes, their difference, and each by itself."""
    return review.by_itself(
        lambda: _every_measured(casebook, setups, words, of_one),
        lambda reason: Sketched([f"Measured: cannot be shown: {reason}"], []),
    )


def _every_measured(
    casebook: Casebook,
    setup_ids: Sequence[str],
    words: Sequence[WordRow],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
) -> Sketched:
    from ..measured.figures.responses import Overlay

    setups = [catalogue.find(casebook, Setup, setup) for setup in setup_ids]
    measured = curve_sentences.measurements_of(casebook, setups)
    pictures: list[Sketch | Drawn] = []
    lexicon, reach_of = lexicon_rows.in_force(casebook), crosscheck_of_two.reach_by_name(casebook)
    for one in measured.comparisons:
        pictures.append(Sketch(Overlay(one), f"Measured on axis: {' and '.join(one.names)}."))
        pictures.append(_difference(one, setups, words, lexicon, reach_of))
    compared = {name for one in measured.comparisons for name in one.names}
    for setup in setups:
        pictures += of_one(setup, setup.name in compared)
    return Sketched(measured.sentences, pictures, measured.comparisons)


def _of_units(
    casebook: Casebook,
    units: Sequence[Setup],
    compared: set[str],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
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
        pictures.append(Sketch(lines(found, Subject(measured[found[0][0]], SMOOTHING)), f"On axis, all: {names}."))
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
    reach_of: words_heard.ReachOf,
) -> Sketch:
    """The difference of two curves, with the words heard of their setups where a band is stated for them."""
    from ..measured.figures.responses import Difference

    own = {setup.id: name for name in compared.names for setup in setups if setup.name == name}
    heard = words_heard.words_heard(words, own, compared.difference.band, lexicon, reach_of)
    figure = Difference(compared, heard.marked(), words_heard.EXPLAINED)
    return Sketch(figure, f"The difference: {' less '.join(compared.names)}.", heard.lines())


def _of_one(casebook: Casebook, setup: Setup, is_compared: bool) -> list[Sketch | Drawn]:
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
                pictures.append(Sketch(data, f"{what.capitalize()} of {setup.name}."))
        except NotMeasured:
            continue
        except (CatalogueError, MeasureError) as error:
            pictures.append(Drawn("", f"{what.capitalize()} of {setup.name} cannot be drawn: {error}"))
    return pictures


def drawn(sketches: Sequence[Sketch]) -> list[Drawn]:
    """All pictures: those drawn before as they are, the others side by side, each by itself."""
    with _begun(sketches) as all_drawn:
        return all_drawn()


@contextmanager
def _begun(sketches: Sequence[Sketch]) -> Iterator[Callable[[], list[Drawn]]]:
    """The same, begun: called, it gives all pictures."""
    keys = [kept_pictures.key(one.figure) for one in sketches]
    before = kept_pictures.kept(keys) if keys else {}
    new = {key or at: one.figure for at, (key, one) in enumerate(zip(keys, sketches, strict=True)) if key not in before}
    if new:
        from audio.curves import picture

        picture.load()  # once for all who draw
    with side_by_side.begun([functools.partial(_picture, one) for one in new.values()]) as all_made:

        def all_drawn() -> list[Drawn]:
            made = dict(zip(new, all_made(), strict=True))
            kept_pictures.keep(
                {key: one for key, one in made.items() if isinstance(key, str) and isinstance(one, Picture)}
            )
            every = [before.get(key) or made[key or at] for at, key in enumerate(keys)]
            return [_captioned(sketch, one) for sketch, one in zip(sketches, every, strict=True)]

        yield all_drawn


def _picture(figure: FigureData) -> Picture | str:
    """The picture of a figure, or why it cannot be drawn."""
    from audio.curves import picture

    def drawn() -> Picture | str:
        try:
            made = figure.drawn()
        except (CatalogueError, MeasureError) as error:  # of what was measured, not of the program
            return str(error)
        return Picture(picture.svg(made), picture.is_hatched(made))

    return review.by_itself(drawn, str)


def _captioned(sketch: Sketch, made: Picture | str) -> Drawn:
    if isinstance(made, str):
        return Drawn("", f"{sketch.caption} It cannot be drawn: {made}", sketch.below)
    return Drawn(made.svg, sketch.caption + (" Hatched: not valid." if made.is_hatched else ""), sketch.below)


def _with_curves(casebook: Casebook) -> tuple[str, ...]:
    """The setups, by identifier, of which curves are there that count, or facts."""
    from ..measured import curve_records, fact_rows

    counting = {one.setup for one in curve_records.listed(casebook) if not one.withdrawn}
    setups = catalogue.everything(casebook, Setup)
    return tuple(one.id for one in setups if one.name in counting or fact_rows.of_setup(casebook, one))
