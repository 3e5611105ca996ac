"""A passage as the setups' files hold it: cut, mended, at one rate, and inspected for giveaways. It keeps nothing.

The audio room calls setups by their names, which its messages use; so do the clips here.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from audio.clip import Clip
from audio.files import reading
from audio.files.file_info import FileInfo
from audio.giveaways.findings import Finding
from audio.levels.weighting import By
from audio.mend import Mend, read_mended
from audio.parallel import Submit

from ..casebook import recordings
from ..casebook.catalogue import Passage, Setup
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError

NO_MEND = Mend()


@dataclass(frozen=True)
class Source:
    """The file from which one setup's passage is cut, and where it lies."""

    setup: Setup
    recording: Recording
    path: Path


def sources_of(casebook: Casebook, setups: Sequence[Setup], track_id: str) -> tuple[Source, ...]:
    """The setups' files of a track.

    Raises
    ------
    CatalogueError
        If a setup lacks the track.
    """
    found = [recordings.of(casebook, setup, track_id) for setup in setups]
    return tuple(Source(s, r, recordings.audio_path(casebook, r)) for s, r in zip(setups, found, strict=True))


def cut(
    sources: Sequence[Source], passage: Passage, repairs: Mapping[str, Mend], rate_hz: int | None = None
) -> dict[str, Clip]:
    """Each setup's passage, cut, mended and at one rate, by the setups' names.

    Parameters
    ----------
    repairs
        The mends by the setups' identifiers; none where one is left out.
    rate_hz
        None: the highest among the files.

    Raises
    ------
    CatalogueError
        If a file was changed since it was added.
    """
    rate = rate_hz or max(source.recording.rate_hz for source in sources)
    clips = {}
    for source in sources:
        recordings.check_unchanged(source.path, source.recording, source.setup)
        repair = repairs.get(source.setup.id, NO_MEND)
        clips[source.setup.name] = read_mended(
            source.path, passage.start_frame, passage.frames, passage.rate_hz, rate, repair
        )
    return clips


def on_channels(clip: Clip, channels: int, setup: str) -> Clip:
    """The music on the channels of a route: one loudspeaker plays the mean of all, a mono file plays on all.

    Raises
    ------
    CatalogueError
        If neither fits.
    """
    if clip.channels == channels:
        return clip
    if channels == 1:
        return Clip(clip.samples.mean(axis=1, keepdims=True), clip.rate_hz)
    if clip.channels == 1:
        return Clip(np.repeat(clip.samples, channels, axis=1), clip.rate_hz)
    raise CatalogueError(
        f"the music has {clip.channels} channels and {setup!r} plays on {channels}; bring music that fits the route"
    )


def inspected(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    clips: Mapping[str, Clip],
    by: By = "bs1770",
    submit: Submit = functools.partial,
) -> list[Finding]:
    """The giveaways in some clips of a passage, and in the files they come from; `submit` takes the pairs as work."""
    from audio.giveaways import inspection  # not for who only asks how a passage was mended

    return inspection.inspect(
        passage.name,
        clips,
        _infos(sources),
        by=by,
        rates_hz=_rates_hz(sources, repairs),
        sources={s.setup.name: _as_recorded(s, passage, repairs.get(s.setup.id, NO_MEND)) for s in sources},
        submit=submit,
    )


def to_be_mended(
    passage: Passage, sources: Sequence[Source], repairs: Mapping[str, Mend], clips: Mapping[str, Clip]
) -> list[Finding]:
    """What can be mended in some clips of a passage; offsets and drifts however small."""
    from audio.giveaways import inspection

    return inspection.inspect(passage.name, clips, _infos(sources), rates_hz=_rates_hz(sources, repairs), fine=True)


def _infos(sources: Sequence[Source]) -> dict[str, FileInfo]:
    return {source.setup.name: reading.inspect(source.path) for source in sources}


def _rates_hz(sources: Sequence[Source], repairs: Mapping[str, Mend]) -> dict[str, int]:
    """The rates at which setups' files are read where these are not their own, on record, by the setups' names."""
    read = ((source.setup.name, repairs.get(source.setup.id, NO_MEND).rate_hz) for source in sources)
    return {name: rate_hz for name, rate_hz in read if rate_hz is not None}


def _as_recorded(source: Source, passage: Passage, repair: Mend) -> Clip:
    """The passage as it lies in the file, to the nearest frame: sample for sample what was recorded."""
    recorded = source.recording
    scale = recorded.rate_hz / passage.rate_hz
    late = round(repair.delay_s * recorded.rate_hz)
    start = min(max(round(passage.start_frame * scale) + late, 0), recorded.frames)
    frames = min(round(passage.frames * scale), recorded.frames - start)
    return reading.read(source.path, start, frames)
