"""Recordings that stand in another casebook beside this one already, whatever their folder is called now.

The other casebooks are only read, whatever made them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from .store import FILE_NAME


@dataclass(frozen=True)
class Standing:
    """A casebook's folder, and its setup that holds a recording."""

    casebook: Path
    setup: str


def holding(home: Path, hashes: tuple[str, str]) -> tuple[Standing, Standing] | None:
    """Where both recordings, known by their hashes, stand in one casebook in a folder of `home`; None: nowhere."""
    for path in sorted(home.glob(f"*/{FILE_NAME}")):
        setups = dict(_held(path))
        if all(one in setups for one in hashes) and setups[hashes[0]] != setups[hashes[1]]:
            first, second = (Standing(path.parent, setups[one]) for one in hashes)
            return first, second
    return None


def _held(path: Path) -> Iterator[tuple[str, str]]:
    """The hash of each recording of a casebook, and its setup; nothing of what cannot be read."""
    try:
        with closing(sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True, timeout=0.25)) as db:
            yield from db.execute(
                "SELECT recordings.sha256, setups.name FROM recordings JOIN setups ON setups.id = recordings.setup_id"
            ).fetchall()
    except sqlite3.Error:
        return
