"""Whether a word's time lies in the music of its track. A track's time is that of its first recording.

Other recordings begin and end elsewhere in it: what is said of a setup is judged by that setup's own recording.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audio import track_time

from ..casebook import catalogue
from ..casebook.catalogue import Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError

if TYPE_CHECKING:
    from ..casebook.alignments import Alignment
    from ..casebook.recordings import Recording

CLOSE_S = 0.05  # a time is told in tenths: what is told alike is taken for the same


def check_within(casebook: Casebook, track_id: str, setup_id: str | None, time_s: float) -> None:
    """Nothing, if a time lies in a track: as the setup's recording holds it, or else as the longest one does.

    Without a recording nobody knows how long a track is, and every time is taken.

    Raises
    ------
    CatalogueError
        If it does not; the message says where the music begins or ends, and whose time that is.
    """
    from ..casebook import alignments, recordings  # they load what reads audio

    track = catalogue.find(casebook, Track, track_id)
    files = recordings.of_track(casebook, track)
    if not files:
        return
    own = [one for one in files if setup_id is not None and one.setup_id == setup_id]
    laid = alignments.in_force(casebook, own or files)
    held = [_held(one, laid.get(one.id)) for one in own or files]
    begin_s, end_s = min(begin for begin, _ in held), max(end for _, end in held)
    if begin_s - CLOSE_S <= time_s <= end_s + CLOSE_S:
        return
    late = time_s > end_s
    told, bound = track_time.told(time_s, 1), track_time.told(end_s if late else begin_s, 1)
    name = catalogue.find(casebook, Setup, own[0].setup_id).name if own and own[0].setup_id else ""
    raise CatalogueError(
        f"{told} lies {'beyond the end' if late else 'before the beginning'} of {track.name!r}"
        f"{f' as {name} has it' if name else ''}, {bound}{_whose_time(casebook, files)}; give a time "
        f"{'before' if late else 'after'} that"
    )


def _held(file: Recording, laid: Alignment | None) -> tuple[float, float]:
    """From where to where in the track a recording holds it, seconds of the track's time."""
    if laid is None or not laid.settled:
        return 0.0, file.length_s
    if laid.pieces:
        return min(piece.start_s for piece in laid.pieces), max(piece.end_s for piece in laid.pieces)
    return -laid.lag_at(0.0), file.length_s - laid.lag_at(file.length_s)


def _whose_time(casebook: Casebook, files: list[Recording]) -> str:
    """By which file a track's time counts, where there are several."""
    if len(files) == 1:
        return ""
    first = files[0].setup_id
    whose = (
        "the music's own"
        if first is None
        else f"that of its first recording, {catalogue.find(casebook, Setup, first).name}'s"
    )
    return f" (a track's time is {whose})"
