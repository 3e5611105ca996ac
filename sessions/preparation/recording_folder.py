"""Taking in a folder of recordings: which files are audio, what their tracks are called, where they lie in them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..casebook import alignments, catalogue, recordings, system_faults
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Setup, Track
from ..casebook.near_names import meant
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import track_alignment, unread_files

NEVER_FIRST, NEVER_LAST = " ._-,+&/()", " ._-,&/("  # of a name in the catalogue
SUFFIXES = frozenset({".wav", ".aif", ".aiff", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".w64", ".rf64"})


@dataclass(frozen=True)
class Collected:
    """A file of a folder as the recording it will be of a track (new or not); no setup: it is the music itself.

    `alignment` is where it lies against the track's first recording; None for that one, and for the music.
    """

    setup: Setup | None
    track: Track
    path: Path
    recording: Recording
    alignment: Alignment | None = None


def audio_files(folder: Path) -> list[Path]:
    """The audio files of a folder, by name.

    Raises
    ------
    CatalogueError
        If the folder is missing, not a folder, or holds none.
    """
    check_folder(folder)
    found = sorted(
        path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES and not path.name.startswith(".")
    )
    if not found:
        unread = unread_files.sentence(unread_in(folder))
        raise CatalogueError(
            f"no audio files in {folder}; WAV, AIFF, FLAC, Ogg and MP3 are read" + (f"; {unread}" if unread else "")
        )
    return found


def check_folder(folder: Path) -> None:
    """Nothing, if there is such a folder.

    Raises
    ------
    CatalogueError
        If there is none; a folder beside it that is called nearly so is named.
    """
    try:
        if folder.is_dir():
            return
        beside = [one.name for one in folder.parent.iterdir() if one.is_dir()] if folder.parent.is_dir() else []
    except OSError:  # no system takes such a path, or nobody may look there
        beside = []
    near = meant(folder.name, sorted(beside)) if beside else None
    asked = f"; did you mean {str(folder.parent / near)!r}?" if near else "; name the folder that holds the recordings"
    raise CatalogueError(f"no folder {system_faults.in_short(str(folder))}{asked}")


def unread_in(folder: Path) -> tuple[Path, ...]:
    """The files of a folder that hold sound of a kind that is not read."""
    return unread_files.of_folder(folder, SUFFIXES) if folder.is_dir() else ()


def track_name(path: Path) -> str:
    """A track's name after its file's: the stem, with every sign that a name in the catalogue may hold.

    >>> track_name(Path("02 - Salt & Sand (take_2, mono).flac"))
    '02 - Salt & Sand (take_2, mono)'
    """
    name = re.sub(r"\s+", " ", re.sub(r"[^\w .,+&/()-]+", " ", path.stem))
    return name.lstrip(NEVER_FIRST)[:60].rstrip(NEVER_LAST) or "track"


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
    return laid(casebook, found)


def collected(casebook: Casebook, setup: Setup | None, track: Track, path: Path) -> Collected:
    """One file as the recording it will be of a track; see `collect`."""
    if setup is None:
        return Collected(None, track, path, recordings.new_music(casebook, track, path))
    return Collected(setup, track, path, recordings.new(casebook, setup, track, path))


def laid(casebook: Casebook, found: Sequence[Collected]) -> list[Collected]:
    """The same, each recording laid against the first one of its track."""
    made: dict[str, Alignment] = {}
    for track in {one.track.id: one.track for one in found}.values():
        new = [one for one in found if one.track.id == track.id]
        files = recordings.of_track(casebook, track) + [one.recording for one in new]
        paths = {one.recording.id: one.path for one in new}
        made |= {each.recording: each for each in track_alignment.missing(casebook, files, paths)}
    return [replace(one, alignment=made.get(one.recording.id)) for one in found]


def keep(casebook: Casebook, found: Sequence[Collected]) -> None:
    """Keep what was collected, with the tracks that are new; all or nothing."""
    with casebook.writing():
        for one in found:
            if catalogue.named(casebook, Track, one.track.id) is None:
                catalogue.keep(casebook, one.track)
            recordings.keep(casebook, one.recording, one.setup, one.track, one.path)
        alignments.keep(casebook, [one.alignment for one in found if one.alignment is not None])


def add_folder(casebook: Casebook, setup: Setup | None, folder: Path) -> list[Collected]:
    """Collect a folder and keep it."""
    found = collect(casebook, setup, folder)
    keep(casebook, found)
    return found
