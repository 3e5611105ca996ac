"""In how many tracks some words were said, and whether some were said outside of any track, which is no track. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .blindness import LabelledWord


@dataclass(frozen=True)
class TracksDescribed:
    """In how many tracks words were said, and whether also outside of any."""

    tracks: int
    outside: bool

    @property
    def places(self) -> int:
        """The tracks, and one more place for all that was said outside of any: by it, such words can be compared."""
        return self.tracks + self.outside

    def told(self, tracks_word: bool = True) -> str:
        """Where they were said, in words.

        >>> TracksDescribed(2, False).told(), TracksDescribed(0, True).told(), TracksDescribed(1, True).told()
        ('in 2 tracks', 'outside of any track', 'in 1 track and outside of any')
        >>> TracksDescribed(0, False).told(tracks_word=False)
        'in 0'
        """
        if self.outside and not self.tracks:
            return "outside of any track"
        noun = "" if not tracks_word and not self.outside else " track" if self.tracks == 1 else " tracks"
        return f"in {self.tracks}{noun}{' and outside of any' if self.outside else ''}"


def tracks_described(words: Iterable[LabelledWord]) -> TracksDescribed:
    """In how many tracks words were said, and whether also outside of any."""
    tracks = {one.word.track or "" for one in words}
    return TracksDescribed(len(tracks - {""}), "" in tracks)
