"""Tracks that a comparison of two setups left out, each with its reason: where one can begin to take them in.

The one module that reads and writes them. They are no records of what happened but the newest answer to why a track
is missing: made anew whenever the comparison is gone on with.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .store import Casebook


@dataclass(frozen=True)
class LeftOut:
    """A track that does not fit (or, not `whole`, a moment of it), and why; the rest goes on without it."""

    track: str
    why: str
    whole: bool = True


@dataclass(frozen=True)
class Noted:
    """One of them as it is kept: of which setups (by identifier), and the command that compares them again."""

    setups: tuple[str, str]
    left_out: LeftOut
    again: str


def keep(
    casebook: Casebook, setups: tuple[str, str], tracks: Iterable[str], found: Iterable[LeftOut], again: str
) -> None:
    """Note what is left out of these tracks now, in place of what was noted of them before."""
    with casebook.writing():
        for track in tracks:
            casebook.db.execute("DELETE FROM left_out WHERE first = ? AND second = ? AND track = ?", [*setups, track])
        for one in found:
            casebook.db.execute(
                "INSERT INTO left_out (first, second, track, whole, why, again) VALUES (?, ?, ?, ?, ?, ?)",
                [*setups, one.track, int(one.whole), one.why, again],
            )


def everything(casebook: Casebook) -> list[Noted]:
    """What is left out still: not of setups that were removed, nor a whole track that both play by now."""
    rows = casebook.query(
        """SELECT * FROM left_out
           WHERE first IN (SELECT id FROM setups) AND second IN (SELECT id FROM setups) AND NOT (whole AND 2 = (
               SELECT count(*) FROM recordings JOIN tracks ON tracks.id = recordings.track_id
               WHERE tracks.name = left_out.track AND recordings.setup_id IN (first, second)))
           ORDER BY rowid"""
    )
    return [
        Noted((row["first"], row["second"]), LeftOut(row["track"], row["why"], bool(row["whole"])), row["again"])
        for row in rows
    ]
