"""What a figure is: a name, what it needs, and one function from that to its numbers, which draw themselves. Pure."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from audio.curves.curve import Curve

from ..conditions import ON_AXIS
from ..curve_comparison import CurveComparison
from ..curve_records import CurveRecord, SetupCurves
from ..frequency_response import BAND_HZ
from ..makers_facts import CheckedFact
from .captions import measured_in_words, measured_together, smoothing_in_words

Needed = TypeVar("Needed")
Labelled = tuple[str, CurveRecord]
"""A curve, and what it is called beside others."""


@dataclass(frozen=True, eq=False)
class Subject:
    """What figures are made of: a setup's curves, their smoothing (n of 1/n octave; 0 for none), a comparison.

    Attributes
    ----------
    facts
        The maker's, each beside what was measured of it.
    others
        Further curves on the same axes, with what each is called.
    band_hz
        In which levels are set against each other where they share no calibration.
    one_calibration
        Somebody states that the curves share microphone, gain and drive.
    target
        What a mean is to be, with the name of its file.
    looked_for
        What a decay is to show (`decay.LOOKED_FOR`).
    """

    measured: SetupCurves
    smoothing: float = 0.0
    comparison: CurveComparison | None = None
    facts: Sequence[CheckedFact] = ()
    others: Sequence[Labelled] = ()
    band_hz: tuple[float, float] = BAND_HZ
    one_calibration: bool = False
    target: tuple[str, Curve] | None = None
    looked_for: str = "drivers"

    @property
    def name(self) -> str:
        """The setup's name."""
        return self.measured.setup.name

    @property
    def smoothing_note(self) -> str:
        """The smoothing in words, as a figure states it."""
        return smoothing_in_words(self.smoothing)

    def caption(self, record: CurveRecord, *parts: str) -> str:
        """How a curve was measured, and what else is to be said under its picture."""
        return "; ".join(part for part in (measured_in_words(record), *parts) if part)

    def caption_of(self, records: Mapping[str, CurveRecord], *parts: str, but_for: Collection[str] = ()) -> str:
        """How several curves of one figure were measured, and what else is to be said under it."""
        return "; ".join(part for part in (measured_together(records, but_for=but_for), *parts) if part)


class FigureData(Protocol):
    """A figure's numbers, and the picture made from them."""

    def to_document(self) -> dict[str, Any]:
        """The numbers by name, as the command line prints them."""

    def drawn(self) -> Any:
        """The picture, as `audio.curves.draw` makes it.

        Raises
        ------
        CatalogueError
            If there is too little for a picture.
        """


@runtime_checkable
class Telling(Protocol):
    """A figure that says what it comes to."""

    def sentences(self) -> list[str]:
        """What is to be read from it, a sentence each."""


@dataclass(frozen=True)
class Figure(Generic[Needed]):
    """One figure. `needs` gives what it is computed from, or raises with the sentence that says what lacks.

    `takes` names what else it goes with: further curves (``--with``), a ``--target``, ``--one-calibration``.
    """

    name: str
    needs: Callable[[Subject, str], Needed]
    compute: Callable[[Needed, Subject], FigureData]
    takes: tuple[str, ...] = ()

    def of(self, subject: Subject) -> FigureData:
        """The figure's numbers.

        Raises
        ------
        NotMeasured
            If what it needs was not measured.
        CatalogueError, MeasureError
            If what was measured cannot give it.
        """
        return self.compute(self.needs(subject, self.name), subject)


def titled(subject: Subject, found: CurveRecord) -> str:
    """The setup's name, with where the microphone stood if that was not on axis."""
    return subject.name if found.direction == ON_AXIS else f"{subject.name}, {found.direction}"


def told(name: str, record: CurveRecord) -> str:
    """What a curve is called in a figure: one that no longer counts is said to be withdrawn."""
    return f"{name} (withdrawn)" if record.withdrawn else name


def signed(db: float, places: int = 2) -> str:
    """A level difference with its sign; what rounds to nothing has none.

    >>> signed(-0.004), signed(0.3), signed(-2.0, 1)
    ('0.00', '+0.30', '-2.0')
    """
    return f"{db:+.{places}f}" if round(db, places) else f"{0:.{places}f}"


def rounded(values: NDArray[np.float64], places: int) -> list[float | None]:
    """Plain numbers; None for not-a-number, where nothing was measured."""
    return [None if np.isnan(value) else round(float(value), places) for value in values]


def columns(names: Sequence[str], *values: NDArray[np.float64] | None) -> dict[str, list[float | None]]:
    """Columns of plain numbers by name; a column that was not measured is left out."""
    return {name: rounded(column, 4) for name, column in zip(names, values, strict=True) if column is not None}
