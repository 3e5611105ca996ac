"""Telling passages: the stretches of a track in which the setups differ most, found in the casebook's recordings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from audio import passages
from audio.mend import read_mended

from ..casebook import catalogue
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError


@dataclass(frozen=True)
class Telling:
    """One proposed passage of a track, counted in frames at the track's rate."""

    track: Track
    start_frame: int
    frames: int
    rate_hz: int
    difference_db: float

    @property
    def start_s(self) -> float:
        """Where it starts, in seconds."""
        return self.start_frame / self.rate_hz

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds."""
        return (self.start_frame + self.frames) / self.rate_hz

    def to_document(self) -> dict[str, Any]:
        """The proposal as the command line prints it."""
        return {
            "track": self.track.name,
            "start_frame": self.start_frame,
            "frames": self.frames,
            "rate_hz": self.rate_hz,
            "start_s": self.start_s,
            "end_s": self.end_s,
            "difference_db": self.difference_db,
        }


def track_rate(casebook: Casebook, track: Track) -> int:
    """The highest rate among a track's recordings; its passages are counted at it.

    Raises
    ------
    CatalogueError
        If the track has no recording.
    """
    rates = [row.rate_hz for row in catalogue.files_of_track(casebook, track)]
    if not rates:
        raise CatalogueError(f"track {track.name!r} has no recording yet; add one before its passages")
    return int(max(rates))


def suggest(casebook: Casebook, track: Track, setups: Sequence[Setup], count: int) -> list[Telling]:
    """The passages of a track in which the setups, once equally loud, differ most; the most telling first."""
    real = [setup.name for setup in setups if setup.is_real]
    if real:
        raise CatalogueError(
            f"passages are suggested where recordings differ; {real[0]!r} is real gear and plays the music itself: "
            "choose by ear with passage add TRACK --from S --to S"
        )
    if len(setups) < 2:
        raise CatalogueError("passages are suggested where setups differ; add a second setup first")
    rate_hz = track_rate(casebook, track)
    sources = [catalogue.recording(casebook, setup, track.id) for setup in setups]
    frames = min(source.frames * rate_hz // source.rate_hz for source in sources)
    clips = {
        setup.name: read_mended(catalogue.audio_path(casebook, source), 0, frames, rate_hz, rate_hz)
        for setup, source in zip(setups, sources, strict=True)
    }
    return [
        Telling(track, part.start_frame, part.frames, rate_hz, part.difference_db)
        for part in passages.suggest(clips, count=count)
    ]


def add(casebook: Casebook, found: Sequence[Telling]) -> list[Passage]:
    """Add proposals to the casebook, named after their tracks."""
    rows = []
    with casebook.writing():
        for part in found:
            name = free_name(casebook, part.track.name)
            note = f"suggested: third-octave levels differ by {part.difference_db:.1f} dB here"
            rows.append(
                catalogue.add_passage(casebook, part.track, part.start_frame, part.frames, part.rate_hz, name, note)
            )
    return rows


def free_name(casebook: Casebook, track: str) -> str:
    """The track's name with the first number that no passage has yet."""
    taken = {row["name"] for row in casebook.query("SELECT name FROM passages")}
    stem = track[:56].rstrip(" ._-")
    return next(f"{stem} {n}" for n in range(1, len(taken) + 2) if f"{stem} {n}" not in taken)
