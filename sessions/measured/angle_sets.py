"""Which file holds which direction: a folder of files named by angle, or a small table that names them."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import CatalogueError
from .conditions import Direction, Plane

ANGLE = re.compile(
    r"(?:^|[^a-z0-9])(?P<plane>h|hor|horizontal|v|ver|vert|vertical)?[ _.]*"
    r"(?P<angle>[+-]?\d{1,3})(?:deg|°)?(?=$|[^a-z0-9])",
    re.IGNORECASE,
)
PLANES: dict[str, Plane] = {"horizontal": "horizontal", "vertical": "vertical"}


@dataclass(frozen=True)
class DirectedFile:
    """A file, and the direction in which it was measured."""

    path: Path
    direction: Direction


def direction_of(name: str, plane: Plane = "horizontal") -> Direction:
    """The direction in a file's name, such as ``hor +30.txt``, ``V-10deg.frd`` or ``30.wav`` (then in `plane`).

    Raises
    ------
    CatalogueError
        If the name holds no angle, or more than one.

    >>> for name in ("sallow_h_-30deg", "vert 10", "60"):
    ...     print(direction_of(name))
    horizontal -30°
    vertical 10°
    horizontal 60°
    """
    found = [match for match in ANGLE.finditer(name) if abs(int(match["angle"])) <= 180]
    clear = [match for match in found if match["plane"]] or found
    if len(clear) != 1:
        raise CatalogueError(
            f"the name {name!r} holds {'more than one number' if clear else 'no angle'}; name files like 'hor 30', "
            "or list them in a table with the columns file, plane, angle"
        )
    named = (clear[0]["plane"] or plane).lower()
    return Direction("vertical" if named.startswith("v") else "horizontal", int(clear[0]["angle"]))


def named_by_angle(folder: Path, plane: Plane, endings: Sequence[str]) -> list[DirectedFile]:
    """The files of a folder that end so, each with the direction in its name.

    Raises
    ------
    CatalogueError
        If there are none, a name holds no angle, or two name the same direction.
    """
    sources = sorted(path for path in folder.iterdir() if path.suffix.lower() in endings)
    if not sources:
        raise CatalogueError(
            f"{folder} holds no curves; they are text (.txt, .frd, .csv …) or impulse responses (.wav …)"
        )
    seen: dict[Direction, Path] = {}
    for source in sources:
        direction = direction_of(source.stem, plane)
        other = seen.setdefault(direction, source)
        if other is not source:
            raise CatalogueError(f"{other.name} and {source.name} both name {direction}; keep one of them there")
    return [DirectedFile(source, direction) for direction, source in seen.items()]


def listed_in_table(path: Path) -> list[DirectedFile]:
    """The files that a table with the columns file, plane, angle names; empty if it is no such table.

    Raises
    ------
    CatalogueError
        If a line names no file, or no plane or angle that there is.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return []
    rows = list(csv.DictReader(text.splitlines()))
    if not rows or not {"file", "angle"} <= {name.strip().lower() for name in rows[0] if name}:
        return []
    members = []
    for number, row in enumerate(rows, 2):
        own = {str(name).strip().lower(): str(value or "").strip() for name, value in row.items()}
        source = path.parent / own["file"]
        plane = PLANES.get(own.get("plane") or "horizontal")
        if plane is None or not source.is_file() or not re.fullmatch(r"[+-]?\d+", own["angle"]):
            raise CatalogueError(
                f"{path}, line {number}: a line names a file, a plane (horizontal or vertical), a whole angle"
            )
        members.append(DirectedFile(source, Direction(plane, int(own["angle"]))))
    return members
