"""A target: what a response is to be, as somebody else states it, read from text columns and kept nowhere."""

from __future__ import annotations

from pathlib import Path

from audio.curves import table
from audio.curves.curve import Curve

from ..errors import CatalogueError


def read_target(path: Path) -> tuple[str, Curve]:
    """The target in a file, Hz and dB, with the file's name.

    Raises
    ------
    FileError, MeasureError
        If it cannot be read.
    CatalogueError
        If it is an impedance.
    """
    found = table.read_table(path, "db")
    if found.unit == "ohm":
        raise CatalogueError(f"{path} is an impedance ({found.read_as}); a target is a level in dB against Hz")
    return path.name, Curve(found.hz, found.values)
