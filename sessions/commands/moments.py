"""Moments in tracks that the reviewer names, as ``TRACK=M:SS``, or at which they logged a word."""

from __future__ import annotations

from collections.abc import Iterable

from audio.track_time import seconds

from ..casebook.catalogue import Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..words import log


def moments_of(texts: Iterable[str]) -> dict[str, list[float]]:
    """Moments in seconds by the track's name, of some ``TRACK=M:SS``.

    Raises
    ------
    CatalogueError
        If one is not that.
    """
    found: dict[str, list[float]] = {}
    for text in texts:
        name, separator, moment = text.rpartition("=")
        if not separator or not name.strip("'"):
            raise CatalogueError(f"--around takes TRACK=M:SS; got {text!r}")
        time_s = seconds(moment)
        if time_s is None or time_s < 0:
            raise CatalogueError(f"{moment!r} is no time; give minutes and seconds, such as 0:30 or 1:02.5, or seconds")
        found.setdefault(name.strip("'"), []).append(time_s)
    return found


def of_words(casebook: Casebook, track: Track) -> list[float]:
    """When in a track words were logged in sighted listening, in seconds."""
    said = log.words(casebook, track_id=track.id)
    return [word.track_ms / 1000 for word in said if word.track_ms is not None and not word.blind]
