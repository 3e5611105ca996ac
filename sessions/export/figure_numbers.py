"""The numbers of every figure that a setup's measured data give, as the command line prints them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from audio.errors import AudioError

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import SessionsError
from ..measured import curve_records, makers_facts
from ..measured.figures import figure_table
from ..measured.figures.figure import Subject


def every(casebook: Casebook) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Each setup's name with each figure's name and numbers; a figure that lacks what it needs is left out."""
    for setup in catalogue.everything(casebook, Setup):
        measured = curve_records.of_setup(casebook, setup)
        subject = Subject(measured, facts=makers_facts.of_setup(casebook, setup))
        for figure in figure_table.ROWS:
            try:
                numbers = figure.of(subject).to_document()
            except (SessionsError, AudioError):  # it needs what was not measured, or a second setup
                continue
            yield setup.name, figure.name, numbers
