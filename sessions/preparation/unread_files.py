"""Sound that is not read: files whose names say that they hold some in a container this program does not open."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

_KINDS = (
    "3gp aac ac3 aifc alac amr ape asf au avi caf dff dsf dts eac3 flv m2ts m4a m4b m4v mka mkv mov mp2 mp4 mpc mpeg "
    "mpg mts ogv ra shn spx tta ts vob weba webm wma wmv wv"
)
SUFFIXES = frozenset(_KINDS.split())
"""Suffixes of sound, and of pictures with sound, as files commonly carry them."""
HOW = "convert to WAV or FLAC first, at the rate they have (any audio converter does; of a video, its sound)"


def of_folder(folder: Path, read: frozenset[str]) -> tuple[Path, ...]:
    """The files of a folder that hold sound by their suffix, and are of none of the kinds that are read, by name."""
    return tuple(
        path
        for path in sorted(folder.iterdir())
        if not path.name.startswith(".") and path.suffix.lower() not in read and path.suffix.lower()[1:] in SUFFIXES
    )


def sentence(paths: Sequence[Path]) -> str:
    """Which files are not read, and what to do about it; empty for none."""
    return f"not read: {', '.join(path.name for path in paths)}; {HOW}" if paths else ""
