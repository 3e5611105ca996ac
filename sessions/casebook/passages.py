"""Passages: stretches of a track, checked against every file of it when they are entered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from audio import track_time
from audio.clip import Clip
from audio.files import reading
from audio.mend import Mend

from ..errors import CatalogueError
from . import alignments, catalogue, recordings
from .alignments import Alignment
from .catalogue import Passage, Track
from .ids import new_id
from .recordings import Recording
from .store import Casebook

SHORTEST_PASSAGE_S = 1.0  # our choice: below this neither a loudness reading nor a comparison by ear means much
ENDS_S = 0.005  # so much may lack at either end of a recording: passages are faded in and out over it
SILENT_BELOW_DBFS = -70.0  # BS.1770-5's absolute gate, used here on the RMS level


def new(
    casebook: Casebook,
    track: Track,
    start_frame: int,
    frames: int,
    rate_hz: int,
    name: str,
    note: str = "",
    files: Sequence[Recording] | None = None,
    laid: Mapping[str, Alignment] | None = None,
) -> Passage:
    """A passage not kept yet: `frames` frames from `start_frame`, counted at `rate_hz`.

    Parameters
    ----------
    files
        The files of the track, where they are not kept yet; None: those of the casebook.
    laid
        Where they lie in the track, by identifier; None: as the casebook has it.

    Raises
    ------
    CatalogueError
        If it is shorter than `SHORTEST_PASSAGE_S`, starts before the track or a recording does, runs past one's end or
        across a cut in one, or is silent.
    """
    catalogue.check_name(Passage, name)
    what = f"passage {name!r} of {track.name!r}"
    if frames < SHORTEST_PASSAGE_S * rate_hz:
        raise CatalogueError(f"{what} is {frames / rate_hz:.2f} s long; choose at least {SHORTEST_PASSAGE_S:g} s")
    if start_frame < 0:
        raise CatalogueError(f"{what} starts before the track, at {start_frame / rate_hz:.2f} s; choose a start from 0")
    files = recordings.of_track(casebook, track) if files is None else files
    if not files:
        raise CatalogueError(f"track {track.name!r} has no recording yet; add one before its passages")
    laid = alignments.in_force(casebook, files) if laid is None else laid
    for recorded in files:
        own = laid.get(recorded.id)
        mend = own.mend(start_frame / rate_hz, frames / rate_hz) if own else Mend()
        across = own.across(start_frame / rate_hz, (start_frame + frames) / rate_hz) if own else ""
        if across:
            first = next((one.path for one in files if own and one.id == own.reference), "the track's first recording")
            raise CatalogueError(
                f"{what} runs across a cut in {recorded.path} or in {first} (which of them was cut cannot be told from "
                f"them), or a change of a clock: {across}"
            )
        late_s = mend.delay_s
        start_s, end_s, length_s = start_frame / rate_hz, (start_frame + frames) / rate_hz, recorded.length_s
        slack_s = ENDS_S if late_s else 0.5 / rate_hz
        if start_s + late_s < -slack_s:
            raise CatalogueError(
                f"{what} starts at {_place(start_s)}, before {recorded.path} does; choose a start from "
                f"{_place(-late_s)}"
            )
        if end_s + late_s > length_s + slack_s:
            where = f", where {recorded.path} ends at {_place(length_s - late_s)}" if late_s else ""
            raise CatalogueError(
                f"{what} runs past the end: it ends at {_place(end_s)}"
                + (where or f", but {recorded.path} is {_place(length_s)} long")
            )
        scale = recorded.rate_hz / rate_hz
        start = max(0, round((start_s + late_s) * recorded.rate_hz))
        stretch = reading.read(
            recordings.audio_path(casebook, recorded), start, min(round(frames * scale), recorded.frames - start)
        )
        level = _rms_dbfs(stretch)
        if level < SILENT_BELOW_DBFS:
            raise CatalogueError(
                f"{what} is silent, or recorded too faintly, in {recorded.path} ({max(level, -200.0):.0f} dBFS, at "
                f"least {SILENT_BELOW_DBFS:g} needed); choose a stretch with music in it, or record it louder"
            )
    return Passage(new_id("passage"), track.id, name, start_frame, frames, rate_hz, note, casebook.now())


def _place(time_s: float) -> str:
    """A place in a track as it is typed, in minutes and seconds."""
    return track_time.told(time_s, 2)


def add(
    casebook: Casebook, track: Track, start_frame: int, frames: int, rate_hz: int, name: str, note: str = ""
) -> Passage:
    """A new passage, kept; see `new`."""
    return catalogue.keep(casebook, new(casebook, track, start_frame, frames, rate_hz, name, note))


def _rms_dbfs(clip: Clip) -> float:
    mean_square = float(np.mean(np.square(clip.samples))) if clip.frames else 0.0
    return 10 * float(np.log10(mean_square)) if mean_square > 0 else float("-inf")
