"""Recordings that moved: found again in a folder by what they hold, and pointed at. Files are only read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from audio.files import reading

from ..errors import CatalogueError
from . import catalogue_changes, recordings
from .store import Casebook


@dataclass(frozen=True)
class Moved:
    """A file of the catalogue that is not where it was, and where it is now (None: not found)."""

    table: str
    id: str
    sha256: str
    was: Path
    now: Path | None = None


def missing(casebook: Casebook) -> list[Moved]:
    """The files of setups and tracks that are not where they were."""
    found = []
    for table in ("recordings", "sources"):
        for row in casebook.query(f"SELECT id, path, sha256 FROM {table} ORDER BY path"):
            path = Path(casebook.folder, row["path"])  # an absolute path stays itself
            if not path.is_file():
                found.append(Moved(table, row["id"], row["sha256"], path))
    return found


def found_in(folder: Path, lost: Sequence[Moved]) -> list[Moved]:
    """The same, each with where in the folder (or below it) the very same file lies now.

    Files of the lost ones' kinds are hashed, those with a lost one's name first, until all are found.

    Raises
    ------
    CatalogueError
        If there is no such folder.
    """
    if not folder.is_dir():
        raise CatalogueError(f"no folder {folder}; name the folder in which the recordings are now")
    kinds, names = {one.was.suffix.lower() for one in lost}, {one.was.name for one in lost}
    wanted, places = {one.sha256 for one in lost}, dict[str, Path]()
    candidates = [path for path in folder.rglob("*") if path.suffix.lower() in kinds and path.is_file()]
    for path in sorted(candidates, key=lambda path: (path.name not in names, path)):
        if wanted <= places.keys():
            break
        places.setdefault(reading.sha256(path), path)
    return [Moved(one.table, one.id, one.sha256, one.was, places.get(one.sha256)) for one in lost]


def keep(casebook: Casebook, moved: Sequence[Moved]) -> None:
    """Point at the files that were found, all of them or none."""
    with casebook.writing():
        for one in moved:
            if one.now is not None:
                path = recordings.stored_path(casebook, one.now)
                catalogue_changes.change(casebook, one.table, one.id, {"path": path})
