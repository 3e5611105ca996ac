"""Answers kept elsewhere, as a table with a header: read and checked into typed rows. No statistics here.

The rows come back sorted by what they say, so that the order of a table's lines changes nothing; the words of a ballot,
of which nothing is drawn, in the table's own order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from audio.typed_numbers import number, whole
from stats.errors import StatsError
from stats.panel import Count

from ..plans.methods.graded import Scale
from . import text_table
from .text_table import SHOWN

Value = TypeVar("Value", int, float)

PANEL = ("listener", "correct", "trials")
DIFFERENCES = ("listener", "reference", "object")
QUALITIES = ("listener", "item", "stimulus", "grade")
CHOICES = ("listener", "first", "second", "chosen")
TICKS = ("word", "first_only", "second_only")


@dataclass(frozen=True, order=True)
class ReferencePair:
    """One trial against a hidden reference: the grades of the reference and of the object."""

    listener: str
    reference: float
    object: float


@dataclass(frozen=True)
class QualityTrial:
    """One listener's grades of all stimuli of one item, by stimulus."""

    listener: str
    item: str
    grades: dict[str, float]


@dataclass(frozen=True, order=True)
class Choice:
    """One comparison of two setups in the order they were heard, and whether the first was chosen."""

    listener: str
    first: str
    second: str
    first_chosen: bool


@dataclass(frozen=True)
class WordCount:
    """One word of a ballot: in how many trials it was ticked of the first alone, and of the second alone."""

    word: str
    first_only: int
    second_only: int


def panel(path: Path) -> list[Count]:
    """Each listener's right answers and trials.

    Raises
    ------
    StatsError
        As all functions here, if the table cannot be read, lacks a column or holds what does not fit; the message says
        where, and what is wanted.
    """
    counts = [Count(row.text("listener"), row.count("correct"), row.count("trials")) for row in _rows(path, PANEL)]
    return sorted(counts, key=lambda own: (own.name, own.correct, own.trials))


def reference_pairs(path: Path, scale: Scale) -> list[ReferencePair]:
    """The grades of each trial against a hidden reference."""
    return sorted(
        ReferencePair(row.text("listener"), row.grade("reference", scale), row.grade("object", scale))
        for row in _rows(path, DIFFERENCES)
    )


def quality_trials(path: Path, scale: Scale) -> tuple[list[str], list[QualityTrial]]:
    """All stimuli by name, and the trials; every trial grades all of them."""
    stimuli: dict[str, None] = {}
    trials: dict[tuple[str, str], dict[str, float]] = {}
    for row in _rows(path, QUALITIES):
        listener, item, stimulus = row.text("listener"), row.text("item"), row.text("stimulus")
        grades = trials.setdefault((listener, item), {})
        if stimulus in grades:
            raise StatsError(f"{row.where}: {listener} graded {stimulus!r} in {item!r} twice")
        grades[stimulus] = row.grade("grade", scale)
        stimuli[stimulus] = None
    for (listener, item), grades in trials.items():
        missing = next((stimulus for stimulus in stimuli if stimulus not in grades), None)
        if missing is not None:
            raise StatsError(
                f"{path}: {listener} did not grade {missing!r} in {item!r}; every trial grades all stimuli"
            )
    return sorted(stimuli), [
        QualityTrial(listener, item, dict(sorted(grades.items())))
        for (listener, item), grades in sorted(trials.items())
    ]


def choices(path: Path) -> list[Choice]:
    """Pairwise choices, each with the order in which the two were heard."""
    made = []
    for row in _rows(path, CHOICES):
        first, second, chosen = row.text("first"), row.text("second"), row.text("chosen")
        if chosen not in (first, second) or first == second:
            raise StatsError(f"{row.where}: chosen {chosen!r} is not one of the two that were heard")
        made.append(Choice(row.text("listener"), first, second, chosen == first))
    return sorted(made)


def word_counts(path: Path) -> list[WordCount]:
    """The words of a ballot in the table's order, each once."""
    counts = [
        WordCount(row.text("word"), row.count("first_only"), row.count("second_only")) for row in _rows(path, TICKS)
    ]
    words = [one.word.casefold() for one in counts]
    twice = next((one.word for one in counts if words.count(one.word.casefold()) > 1), None)
    if twice is not None:
        raise StatsError(f"{path}: the word {twice!r} stands in it twice; add its trials up in one line")
    return counts


@dataclass(frozen=True)
class _Row:
    """The cells of one line by column, with the place where they stand."""

    where: str
    cells: dict[str, str]

    def text(self, column: str) -> str:
        return self.cells[column]

    def count(self, column: str) -> int:
        value = self._read(column, whole(self.cells[column]), "whole number")
        if value < 0:
            raise StatsError(f"{self.where}: {self.cells[column]!r} under {column!r} is below 0; nothing counts so")
        return value

    def grade(self, column: str, scale: Scale) -> float:
        grade = self._read(column, number(self.cells[column].replace(",", ".")), "number")
        if not float(scale.low) <= grade <= float(scale.high):
            raise StatsError(
                f"{self.where}: {self.cells[column]!r} under {column!r} is off the scale; grades lie from {scale.low} "
                f"to {scale.high}"
            )
        return grade

    def _read(self, column: str, value: Value | None, what: str) -> Value:
        if value is None:
            raise StatsError(f"{self.where}: {self.cells[column][:SHOWN]!r} under {column!r} is no {what}")
        return value


def _rows(path: Path, columns: Sequence[str]) -> list[_Row]:
    """The rows of a table of answers, nothing left empty."""
    rows = [_Row(where, cells) for where, cells in text_table.rows(path, columns)]
    for row in rows:
        empty = next((column for column in columns if not row.cells.get(column)), None)
        if empty is not None:
            raise StatsError(f"{row.where}: nothing under {empty!r}; fill it in or leave the line out")
    return rows
