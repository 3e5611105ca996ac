"""The demo tracks: their names, their titles and where their files lie. It opens and decodes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from pathlib import Path


@dataclass(frozen=True)
class Track:
    """A demo track: a short name, a title for people, the name of its FLAC file in this package."""

    name: str
    title: str
    file: str


TRACKS: tuple[Track, ...] = (
    Track("strings", "Hedge Path, plucked strings", "strings.flac"),
    Track("drums", "Barn Door, a drum kit that stops and starts", "drums.flac"),
    Track("voice", "Evening Over the Ford, a singing voice without words", "voice.flac"),
    Track("chords", "Mill Wheel, dense chords over a deep bass", "chords.flac"),
    Track("texture", "Rain on Slate, a texture of wind and rain", "texture.flac"),
)


def path(name: str) -> Path:
    """Path of the FLAC file of the track called `name`, in a checkout as in an installed wheel.

    Raises
    ------
    ValueError
        If there is no such track.
    FileNotFoundError
        If the file did not come with the installation.
    """
    for track in TRACKS:
        if track.name == name:
            found = Path(str(resources.files("demo_tracks").joinpath(track.file)))
            if not found.is_file():
                raise FileNotFoundError(
                    f"the demo track {name!r} is missing at {found}; install again or run demo_tracks/make.py"
                )
            return found
    raise ValueError(f"there is no demo track {name!r}; there are {', '.join(t.name for t in TRACKS)}")
