"""Taking in a folder of recordings: which files are audio, what their tracks are called."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Setup, Track
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError

SUFFIXES = frozenset({".wav", ".aif", ".aiff", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".w64", ".rf64"})


@dataclass(frozen=True)
class Collected:
    """A file of a folder as the recording it will be of a track (new or not); no setup: it is the music itself."""

    setup: Setup | None
    track: Track
    path: Path
    recording: Recording


def audio_files(folder: Path) -> list[Path]:
    """The audio files of a folder, by name.

    Raises
    ------
    CatalogueError
        If the folder is missing, not a folder, or holds none.
    """
    if not folder.is_dir():
        raise CatalogueError(f"no folder {folder}; name the folder that holds the recordings")
    found = sorted(
        path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES and not path.name.startswith(".")
    )
    if not found:
        raise CatalogueError(f"no audio files in {folder}; WAV, AIFF, FLAC, Ogg and MP3 are read")
    return found


def track_name(path: Path) -> str:
    """A track's name after its file's: the stem, fit for a catalogue.

    >>> track_name(Path("02 - Blue (take_2).flac"))
    '02 - Blue take_2'
    """
    name = re.sub(r"[^\w .+-]+", " ", path.stem)
    return re.sub(r"\s+", " ", name).strip(" ._-")[:60].rstrip(" ._-") or "track"


def collect(casebook: Casebook, setup: Setup | None, folder: Path) -> list[Collected]:
    """Every audio file of a folder, inspected and hashed, for the track named like it; nothing is kept yet.

    Parameters
    ----------
    setup
        Whose recordings they are; None: they are the music itself.

    Raises
    ------
    CatalogueError
        If the folder holds none, or a track has its file already.
    """
    tracks: dict[str, Track] = {}
    found = []
    for path in audio_files(folder):
        name = track_name(path)
        if name not in tracks:
            tracks[name] = catalogue.named(casebook, Track, name) or catalogue.new_track(casebook, name)
        found.append(collected(casebook, setup, tracks[name], path))
    return found


def collected(casebook: Casebook, setup: Setup | None, track: Track, path: Path) -> Collected:
    """One file as the recording it will be of a track; see `collect`."""
    if setup is None:
        return Collected(None, track, path, recordings.new_music(casebook, track, path))
    return Collected(setup, track, path, recordings.new(casebook, setup, track, path))


def keep(casebook: Casebook, found: Sequence[Collected]) -> None:
    """Keep what was collected, with the tracks that are new; all or nothing."""
    with casebook.writing():
        for one in found:
            if catalogue.named(casebook, Track, one.track.id) is None:
                catalogue.keep(casebook, one.track)
            recordings.keep(casebook, one.recording, one.setup, one.track, one.path)


def add_folder(casebook: Casebook, setup: Setup | None, folder: Path) -> list[Collected]:
    """Collect a folder and keep it."""
    found = collect(casebook, setup, folder)
    keep(casebook, found)
    return found
