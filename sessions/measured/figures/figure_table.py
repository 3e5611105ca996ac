"""All figures, one row each. A new one is a function in its family's module and a row here."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ...errors import CatalogueError
from . import (
    compression,
    electrical,
    facts,
    lines,
    loops,
    means,
    members,
    needs,
    pairs,
    radiation,
    responses,
    time_response,
)
from .figure import Figure

ROWS: tuple[Figure[Any], ...] = (
    Figure("response", members.comparison_or_axis, responses.response, ("--against", "--with", "--one-calibration")),
    Figure("difference", needs.comparison, responses.difference, ("--against",)),
    Figure("horizontal", needs.directions, radiation.horizontal),
    Figure("vertical", needs.directions, radiation.vertical),
    Figure("polar", needs.directions, radiation.polar),
    Figure("polar-vertical", needs.directions, radiation.polar_vertical),
    Figure("directivity", needs.directions, radiation.directivity),
    Figure("decay", needs.impulse_on_axis, time_response.decay_map),
    Figure("slices", needs.impulse_on_axis, time_response.decay_slices),
    Figure("burst", needs.impulse_on_axis, time_response.burst),
    Figure("impedance", needs.impedance, electrical.impedance),
    Figure("delay", needs.on_axis, time_response.group_delay),
    Figure("phase", needs.on_axis, time_response.phases),
    Figure("step", needs.impulse_on_axis, time_response.step),
    Figure("distortion", needs.distortion, responses.distortion),
    Figure("drivers", members.drivers, lines.driver_lines, ("--with", "--one-calibration")),
    Figure("pair", members.pair, pairs.pair, ("--one-calibration",)),
    Figure("places", members.places, means.places, ("--target",)),
    Figure("seatings", members.seatings, means.seatings, ("--target",)),
    Figure("compression", members.rising_levels, compression.compression),
    Figure("electronics", loops.loop, loops.electronics),
    Figure("spectrum", loops.loop, loops.spectrum),
    Figure("crosstalk", loops.loop, loops.crosstalk),
    Figure("facts", needs.facts, facts.facts),
)
FIGURES = {row.name: row for row in ROWS}


def named(name: str) -> Figure[Any]:
    """The figure of that name.

    Raises
    ------
    CatalogueError
        If there is none; the message lists the names there are.
    """
    if name not in FIGURES:
        raise CatalogueError(f"--what is one of {', '.join(FIGURES)}; got {name!r}")
    return FIGURES[name]


def check_takes(figure: Figure[Any], given: Iterable[str]) -> None:
    """Nothing, if the figure goes with these options.

    Raises
    ------
    CatalogueError
        If it would pass over one of them; the message says which figures take it.
    """
    for option in given:
        if option not in figure.takes:
            taking = ", ".join(row.name for row in ROWS if option in row.takes)
            raise CatalogueError(f"{option} goes with --what {taking}; {figure.name} does not take it")
