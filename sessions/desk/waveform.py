"""A passage's waveform as a picture: the highest and lowest sample in each column, of each setup's recording."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np
from numpy.typing import NDArray

from audio.files import reading

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..preparation import mends
from ..preparation.passage_audio import NO_MEND

COLUMNS, HEIGHT = 300, 44
LEAST = 0.4  # of a column's height: silence is still seen as a line
STROKES = ("#4f9a97", "#b07a4a", "#7a83c4", "#a86a92")  # on light and dark paper alike; told apart by their place, too


def picture(casebook: Casebook, name: str) -> str:
    """The waveforms of a passage, a row for each setup that has a recording of it, as an SVG file.

    Raises
    ------
    CatalogueError, FileError
        If there is no such passage, or a recording cannot be read.
    """
    passage = catalogue.find(casebook, Passage, name)
    setups = [one for one in catalogue.everything(casebook, Setup) if not one.is_real]
    repairs = mends.in_force(casebook, setups, passage)
    rows = []
    for setup in setups:
        own = next((one for one in recordings.of_setup(casebook, setup) if one.track_id == passage.track_id), None)
        if own is not None:
            scale = own.rate_hz / passage.rate_hz
            late = round(repairs.get(setup.id, NO_MEND).delay_s * own.rate_hz)
            start = min(max(round(passage.start_frame * scale) + late, 0), own.frames)
            frames = min(round(passage.frames * scale), own.frames - start)
            path = recordings.audio_path(casebook, own)
            rows.append((setup.name, peaks(reading.read(path, start, frames).samples, COLUMNS)))
    return drawn(rows)


def peaks(samples: NDArray[np.float64], columns: int) -> list[tuple[float, float]]:
    """The lowest and the highest sample of each of some columns, over all channels; full scale is 1.

    >>> peaks(np.array([[0.0], [0.5], [-0.25], [0.125]]), 2)
    [(0.0, 0.5), (-0.25, 0.125)]
    """
    columns = min(columns, len(samples))
    if not columns:
        return []
    edges = np.linspace(0, len(samples), columns + 1).astype(int)[:-1]
    low, high = np.minimum.reduceat(samples.min(axis=1), edges), np.maximum.reduceat(samples.max(axis=1), edges)
    return [(float(one), float(other)) for one, other in zip(low, high, strict=True)]


def drawn(rows: Sequence[tuple[str, Sequence[tuple[float, float]]]]) -> str:
    """Rows of peaks as a picture, each to the scale of the loudest of all."""
    most = max((max(abs(low), abs(high)) for _, own in rows for low, high in own), default=0.0) or 1.0
    parts = []
    for number, (name, own) in enumerate(rows):
        middle = HEIGHT * (number + 0.5)
        reach = (HEIGHT / 2 - 2) / most
        path = "".join(
            f"M{x + 0.5} {middle - max(high * reach, LEAST):.1f}V{middle - min(low * reach, -LEAST):.1f}"
            for x, (low, high) in enumerate(own)
        )
        stroke = STROKES[number % len(STROKES)]
        parts.append(f'<path d="{path}" stroke="{stroke}" fill="none"><title>{escape(name)}</title></path>')
    height = HEIGHT * max(1, len(rows))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {COLUMNS} {height}" preserveAspectRatio="none">'
        f"{''.join(parts)}</svg>"
    )
