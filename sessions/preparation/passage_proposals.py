"""Proposed passages: stretches of a track in which the setups differ most, and those around moments of the reviewer's.

They are found in the casebook's recordings, which are compared where they play the same music.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import audio.passages
from audio import surveys, track_time
from audio.alignment.track import LONE_S
from audio.errors import PassageError
from audio.passages import Wish

from ..casebook import alignments, catalogue, passages, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import passage_audio, track_alignment
from .passage_audio import NO_MEND, Source
from .proposed_passage import LookedThrough, ProposedPassage

MOST_OF = 0.5  # of a proposal's stretch: a passage that shares more is that proposal, added before or marked by hand
CLEAR_S = 0.05  # clear of the ends of a recording that is read late or on another clock
CUT_S = 0.25  # clear of a cut, which is told to 0.15 s, and of what still rings on over it; our choice


def track_rate(casebook: Casebook, track: Track) -> int:
    """The highest rate among a track's recordings; its passages are counted at it.

    Raises
    ------
    CatalogueError
        If the track has no recording.
    """
    rates = [recorded.rate_hz for recorded in recordings.of_track(casebook, track)]
    if not rates:
        raise CatalogueError(f"track {track.name!r} has no recording yet; add one before its passages")
    return max(rates)


def suggest(
    casebook: Casebook, track: Track, setups: Sequence[Setup], count: int = 1, around_s: Sequence[float] = ()
) -> LookedThrough:
    """The passages of a track in which the setups, once equally loud, differ most, and those around some moments.

    Raises
    ------
    CatalogueError
        If the setups are fewer than two, or real gear, or lack the track, or a moment lies outside, or the recordings
        hold other performances.
    """
    real = [setup.name for setup in setups if setup.is_real]
    if real:
        raise CatalogueError(
            f"passages are suggested where recordings differ; {real[0]!r} is real gear and plays the music itself: "
            "choose by ear with passage add TRACK --from S --to S"
        )
    if len(setups) < 2:
        raise CatalogueError("passages are suggested where setups differ; add a second setup first")
    rate_hz = track_rate(casebook, track)
    sources = passage_audio.sources_of(casebook, setups, track.id)
    for source in sources:
        recordings.check_there(source.path)
    track_alignment.ensure(casebook, [track.id])
    laid = alignments.in_force(casebook, [source.recording for source in sources])
    for source in sources:
        own = laid.get(source.recording.id)
        if own is not None and own.silent:
            raise CatalogueError(
                f"no passage of {track.name!r}: {own.silence('the first recording', source.setup.name)}"
            )
        if own is not None and not own.settled:
            raise CatalogueError(
                f"the recordings of {track.name!r} do not hold the same performance, or not at one speed "
                f"({source.setup.name!r} does not fit), not even in a piece of {LONE_S:g} s; bring recordings of one "
                "take, at one speed"
            )
    return propose(track, sources, rate_hz, laid, count, around_s)


def propose(
    track: Track,
    sources: Sequence[Source],
    rate_hz: int,
    laid: Mapping[str, Alignment],
    count: int = 1,
    around_s: Sequence[float] = (),
) -> LookedThrough:
    """The passages in which some files of a track differ most, and those around some moments, counted at a rate.

    Parameters
    ----------
    laid
        Where recordings lie in the track, by identifier: they are compared where they play the same music, clear of the
        ends that only some of them hold and of cuts.
    around_s
        The moments, in seconds of the track.

    Raises
    ------
    CatalogueError
        If they hold no second of music together, or not all of them hold a moment.
    """
    spans = _held_by_all(track, sources, rate_hz, laid)
    begin_s = spans[0][0] / rate_hz
    for why in _lacking(track, spans, rate_hz, around_s).values():
        raise CatalogueError(why)
    found = []
    for start, frames in spans:
        start_s, end_s = start / rate_hz, (start + frames) / rate_hz
        parts = {}
        for source in sources:
            own = laid.get(source.recording.id)
            mend = own.mend(start_s, end_s - start_s) if own else None
            parts[source.setup.name] = audio.passages.FilePart(source.path, start, mend)
        wish = Wish(count, around_s=tuple(each - start_s for each in around_s if start_s <= each <= end_s))
        try:
            found.append((start - spans[0][0], frames, audio.passages.survey_files(parts, frames, rate_hz, wish)))
        except PassageError:  # a silent piece, where another sounds
            if (start, frames) == spans[-1] and not found:
                raise
    return LookedThrough(track, begin_s, rate_hz, surveys.joined(found, rate_hz, count))


def lacking(
    track: Track, sources: Sequence[Source], rate_hz: int, laid: Mapping[str, Alignment], around_s: Sequence[float]
) -> dict[float, str]:
    """The moments that not all files of a track hold, each with a sentence that says so; see `propose`.

    Raises
    ------
    CatalogueError
        If they hold no second of music together.
    """
    return _lacking(track, _held_by_all(track, sources, rate_hz, laid), rate_hz, around_s)


def _lacking(
    track: Track, spans: Sequence[tuple[int, int]], rate_hz: int, around_s: Sequence[float]
) -> dict[float, str]:
    held = " or ".join(
        f"from {track_time.told(start / rate_hz, 1)} to {track_time.told((start + frames) / rate_hz, 1)}"
        for start, frames in spans
    )
    return {
        moment_s: (
            f"not all recordings of {track.name!r} hold the moment {track_time.told(moment_s, 1)}; choose one {held}"
        )
        for moment_s in around_s
        if not any(start <= moment_s * rate_hz <= start + frames for start, frames in spans)
    }


def _held_by_all(
    track: Track, sources: Sequence[Source], rate_hz: int, laid: Mapping[str, Alignment]
) -> list[tuple[int, int]]:
    """The stretches of a track that all its files hold in one piece: the first frame of each, and how many."""
    spans = [(0.0, float("inf"))]
    for source in sources:
        own = laid.get(source.recording.id)
        length_s = source.recording.length_s
        if own is not None and own.pieces and own.settled:
            held = [(max(0.0, piece.start_s + CUT_S), piece.end_s - CUT_S) for piece in own.pieces]
        elif own is None or own.mend(0.0, length_s) == NO_MEND:
            held = [(0.0, length_s)]
        else:
            ends_at_s = length_s - own.lag_at(length_s)
            held = [(max(0.0, CLEAR_S - own.lag_at(0.0)), ends_at_s - CLEAR_S)]
        spans = [
            (max(start, begin), min(end, stop)) for start, end in spans for begin, stop in held if stop > start < end
        ]
    long_enough = [(start, end) for start, end in spans if end - start >= passages.SHORTEST_PASSAGE_S]
    if not long_enough:
        longest_s = max((end - start for start, end in spans), default=0.0)
        raise CatalogueError(
            f"the recordings of {track.name!r} hold {max(longest_s, 0.0):.2f} s of music together; bring longer ones"
        )
    return [(round(start * rate_hz), round((end - start) * rate_hz)) for start, end in long_enough]


def named(
    casebook: Casebook,
    found: Sequence[ProposedPassage],
    files: Mapping[str, Sequence[Recording]] | None = None,
    laid: Mapping[str, Alignment] | None = None,
    taken: Collection[str] = (),
) -> list[Passage]:
    """Proposals as passages, named after their tracks and checked, not kept yet.

    Parameters
    ----------
    files
        The files by the track's identifier, where they are not kept yet; None: those of the casebook.
    laid
        Where recordings lie in their tracks, by their identifiers, where that is not kept yet.
    taken
        Names of passages that are not kept yet either.
    """
    made: list[Passage] = []
    for part in found:
        track = part.track
        name = free_name(casebook, track.name, [*taken, *(passage.name for passage in made)])
        note = f"suggested: {part.what}"
        own = None if files is None else files[track.id]
        made.append(passages.new(casebook, track, part.start_frame, part.frames, part.rate_hz, name, note, own, laid))
    return made


@dataclass(frozen=True)
class Added:
    """The passages that proposals have become, and those that were there already for others of them."""

    made: list[Passage]
    there: list[Passage]


def add(casebook: Casebook, found: Sequence[ProposedPassage]) -> Added:
    """Add proposals to the casebook, named after their tracks, all or none; those that are there are left as they are.

    One is there if a passage of its track shares most of its stretch and holds those of its marks that it holds.
    """
    kept = catalogue.everything(casebook, Passage)
    there = [next((one for one in kept if _is_there(part, one)), None) for part in found]
    made = named(casebook, [part for part, one in zip(found, there, strict=True) if one is None])
    with casebook.writing():
        for passage in made:
            catalogue.keep(casebook, passage)
    return Added(made, [one for one in there if one is not None])


def _is_there(part: ProposedPassage, kept: Passage) -> bool:
    start_s = kept.start_frame / kept.rate_hz
    end_s = start_s + kept.frames / kept.rate_hz
    shared_s = min(part.end_s, end_s) - max(part.start_s, start_s)
    held = all(start_s <= mark_s <= end_s for mark_s in part.marks_held_s)
    return kept.track_id == part.track.id and shared_s > MOST_OF * (part.end_s - part.start_s) and held


def free_name(casebook: Casebook, track: str, more_taken: Collection[str] = ()) -> str:
    """The track's name with the first number that no passage has yet."""
    taken = {passage.name for passage in catalogue.everything(casebook, Passage)} | set(more_taken)
    stem = track[:56].rstrip(" ._-")
    return next(f"{stem} {n}" for n in range(1, len(taken) + 2) if f"{stem} {n}" not in taken)
