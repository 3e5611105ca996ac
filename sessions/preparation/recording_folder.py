"""Taking in a folder of recordings: which files are audio, what their tracks are called."""

from __future__ import annotations

import re
from pathlib import Path

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError

SUFFIXES = frozenset({".wav", ".aif", ".aiff", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".w64", ".rf64"})


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


def add_music_folder(casebook: Casebook, folder: Path) -> list[tuple[str, Path]]:
    """Add every audio file of a folder as the music of the track named like it; new tracks are made."""
    added = []
    for path in audio_files(folder):
        name = track_name(path)
        catalogue.add_music(casebook, catalogue.track_named(casebook, name), path)
        added.append((name, path))
    return added


def add_folder(casebook: Casebook, setup: Setup, folder: Path) -> list[tuple[str, Path]]:
    """Add every audio file of a folder as the setup's recording of the track named like it; new tracks are made."""
    added = []
    for path in audio_files(folder):
        name = track_name(path)
        catalogue.add_recording(casebook, setup, catalogue.track_named(casebook, name), path)
        added.append((name, path))
    return added
