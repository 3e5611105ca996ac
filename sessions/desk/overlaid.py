"""Two setups' responses on one set of axes at the desk, and their difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..measured import compared_in_words, curve_records
from ..measured.curve_comparison import CurveComparison, compare_setups
from . import figures_shown, two_setups
from .two_setups import Two

FIGURES = {"response": "Both responses on axis", "difference": "The first less the second"}


@dataclass(frozen=True)
class Overlaid:
    """The page: two setups, how far their responses differ in sentences, or what is lacking."""

    two: Two
    lines: Sequence[str] = ()
    lacking: Sequence[str] = ()
    figures: Sequence[tuple[str, str]] = tuple(FIGURES.items())


def gather(casebook: Casebook, first: str, second: str) -> Overlaid:
    """Two setups on one set of axes.

    Raises
    ------
    CatalogueError, MeasureError
        If a setup is unknown, both are one, or their curves cannot be set side by side.
    """
    two = two_setups.chosen(casebook, first, second)
    compared = _compared(casebook, two)
    if compared is None:
        measured = [curve_records.of_setup(casebook, one) for one in two.setups]
        return Overlaid(two, lacking=[curve_records.no_axis(one) for one in measured if one.on_axis is None])
    return Overlaid(two, compared_in_words.lines(compared))


def picture(casebook: Casebook, first: str, second: str, what: str, *, wide: bool = False) -> str:
    """One of `FIGURES` as SVG text.

    Raises
    ------
    CatalogueError, MeasureError
        If there is no such figure, or not both were measured.
    """
    from ..measured.figures.responses import Difference, Overlay

    compared = _compared(casebook, two_setups.chosen(casebook, first, second))
    if compared is None or what not in FIGURES:
        raise CatalogueError(two_setups.NOTHING_TO_DRAW)
    return figures_shown.svg(Overlay(compared) if what == "response" else Difference(compared), wide=wide)


def _compared(casebook: Casebook, two: Two) -> CurveComparison | None:
    return compare_setups(casebook, *two.setups) if two.setups else None
