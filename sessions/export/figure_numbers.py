"""The numbers of every figure of measured data, as the report, stills and the command line draw them.

A setup's own figures, and what two setups come to side by side. As one long table they have a row a number, so that
every figure goes into every form and its columns into the dictionary.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

from audio.errors import AudioError

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import SessionsError
from ..measured import curve_records, makers_facts
from ..measured.curve_comparison import compare_setups
from ..measured.figures import figure_table
from ..measured.figures.figure import Subject
from ..measured.frequency_response import SMOOTHING
from ..plans import plan_rows
from .tables import Column, Table

NAME = "figure_numbers"
OF_TWO = "difference"  # its numbers hold both curves' comparison
MOST_PAIRS = 100  # of setups; with more of them only those that a plan compares are set side by side
TOO_FINE = ("delay", "phase")  # a number for each of some 100,000 frequencies; the report and stills draw neither
COLUMNS = (
    Column("setup", "text", "", "the setup's name; of two set side by side the first"),
    Column("beside", "text", "", "the second setup's name, where the figure sets two side by side"),
    Column("figure", "text", "", f"the figure's name, as curve show --what has it (not {' nor '.join(TOO_FINE)})"),
    Column("part", "text", "", "what of the figure it is: names from outside inwards with / between"),
    Column("place", "whole number", "", "place in its line of numbers, from 0; those of one place belong together"),
    Column("number", "number", "", "the number; empty where nothing was measured validly"),
    Column("unit", "text", "", "the number's unit; empty where it has none, or where the figure's own part unit says"),
    Column("words", "text", "", "what is said instead of a number"),
)
"""The table of all of them."""
UNITS = {
    "hz": "Hz", "db": "dB", "ohm": "ohm", "deg": "degrees", "ms": "ms", "s": "s", "m": "m", "volts": "V",
    "percent": "%", "frames": "frames", "octave": "dB an octave",
}  # fmt: skip
"""Units by how a name ends."""


@dataclass(frozen=True)
class FigureNumbers:
    """One figure's numbers: of which setup, beside which other one (or none)."""

    setup: str
    beside: str
    figure: str
    numbers: dict[str, Any]

    @property
    def document(self) -> dict[str, Any]:
        """As it stands in its file."""
        beside = {"beside": self.beside} if self.beside else {}
        return {"setup": self.setup, **beside, "figure": self.figure, "numbers": self.numbers}


@dataclass(frozen=True)
class Pairs:
    """Setups set side by side, two by two, and how many more there would be."""

    taken: list[tuple[Setup, Setup]]
    left_out: int


def every(casebook: Casebook) -> Iterator[FigureNumbers]:
    """Each setup's figures, then those of two; a figure that lacks what it needs is left out."""
    setups = catalogue.everything(casebook, Setup)
    for setup in setups:
        measured = curve_records.of_setup(casebook, setup)
        subject = Subject(measured, SMOOTHING, facts=makers_facts.of_setup(casebook, setup))
        for figure in figure_table.ROWS:
            try:
                numbers = figure.of(subject).to_document()
            except (SessionsError, AudioError):  # it needs what was not measured, or a second setup
                continue
            yield FigureNumbers(setup.name, "", figure.name, numbers)
    for one, other in pairs(casebook).taken:
        try:
            compared = compare_setups(casebook, one, other)
        except (SessionsError, AudioError):  # no band that both share
            continue
        if compared is not None:
            yield FigureNumbers(one.name, other.name, OF_TWO, compared.to_document())


def pairs(casebook: Casebook) -> Pairs:
    """The setups with curves, two by two; of more than `MOST_PAIRS` those that a sealed plan compares."""
    measured = {one.setup for one in curve_records.listed(casebook) if not one.withdrawn}
    setups = [one for one in catalogue.everything(casebook, Setup) if one.name in measured]
    found = list(combinations(setups, 2))
    if len(found) <= MOST_PAIRS:
        return Pairs(found, 0)
    asked = [{setup.id for setup in one.plan.setups} for one in plan_rows.every_sealed(casebook)]
    taken = [two for two in found if any({one.id for one in two} <= plan for plan in asked)]
    return Pairs(taken, len(found) - len(taken))


def table(files: Sequence[Path]) -> Table:
    """The long table of figures whose files are written, read from them one after the other."""

    def rows() -> Iterator[tuple[Any, ...]]:
        for file in files:
            one = json.loads(file.read_text(encoding="utf-8"))
            if one["figure"] not in TOO_FINE:
                head = one["setup"], one.get("beside", ""), one["figure"]
                yield from ((*head, *row) for row in _long(one["numbers"], ()))

    return Table(NAME, COLUMNS, rows)


def _long(found: Any, path: tuple[str, ...], place: int = 0) -> Iterator[tuple[Any, ...]]:
    """Part, place, number, unit and words of all that a document holds."""
    if isinstance(found, dict):
        for name, value in found.items():
            yield from _long(value, (*path, str(name)))
    elif isinstance(found, list):
        for at, value in enumerate(found):
            inner = (*path, str(at)) if isinstance(value, list | dict) else path
            yield from _long(value, inner, at)
    else:
        number = found if isinstance(found, int | float) and not isinstance(found, bool) else None
        words = None if found is None or number is not None else str(found)
        yield "/".join(path), place, None if number is None else float(number), _unit(path), words


def _unit(path: Iterable[str]) -> str:
    """By the last name in a path that has a unit.

    >>> _unit(["curves", "floor", "db"]), _unit(["balance", "slope_db_per_octave"]), _unit(["smoothing"])
    ('dB', 'dB an octave', '')
    """
    names = [name for name in path if not re.fullmatch(r"-?\d+", name)]
    return UNITS.get(names[-1].rpartition("_")[2], "") if names else ""
