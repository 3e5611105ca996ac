"""What an evening of free listening is of: setups that can be switched between, and the music they all hold."""

from __future__ import annotations

from collections.abc import Sequence

from ..casebook import catalogue, playback_chain
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import free_sounds
from .free_sounds import Stretch

MOST_SETUPS = 8  # at a terminal their letters stand before the keys' own; a page keeps to it, too
LONGEST_SENT_S = 60.0  # a stretch that goes to a browser: 17 MB a setup at 48 kHz in stereo


def setups_of(casebook: Casebook, names: Sequence[str], how: str = "") -> tuple[Setup, ...]:
    """The setups of these names; without any all there are. `how` says where they are named.

    Raises
    ------
    CatalogueError
        If they are fewer than two or too many, or cannot be compared.
    """
    found = [catalogue.find(casebook, Setup, name) for name in names] or catalogue.everything(casebook, Setup)
    if not 2 <= len(found) <= MOST_SETUPS or len({setup.id for setup in found}) < len(found):
        raise CatalogueError(
            f"free listening switches between 2 to {MOST_SETUPS} different setups; got "
            f"{', '.join(setup.name for setup in found) or 'none'}: name them{how}"
        )
    playback_chain.check_comparable(found)
    return tuple(found)


def music_of(
    casebook: Casebook,
    setups: tuple[Setup, ...],
    passages: Sequence[Passage] = (),
    tracks: Sequence[Track] = (),
    from_s: float | None = None,
    to_s: float | None = None,
) -> list[Stretch]:
    """What is played: these passages and tracks, or a stretch of the one track; else all passages, or else all tracks.

    Raises
    ------
    CatalogueError
        If there is no music yet, or a setup lacks a track.
    """
    if not passages and not tracks:
        passages = catalogue.everything(casebook, Passage)
        tracks = () if passages else catalogue.everything(casebook, Track)
    found = [free_sounds.of_passage(casebook, passage) for passage in passages]
    found += [free_sounds.of_track(casebook, setups, track, from_s, to_s) for track in tracks]
    if not found:
        raise CatalogueError(
            "no music to listen to yet; add a folder of recordings: earwitness setup add NAME --from DIR"
        )
    return found
