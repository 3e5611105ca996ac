"""Recordings laid whole against the first of their track, once, when they come in; and what is asked where two fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audio.alignment import movements
from audio.alignment import track as track_audio
from audio.errors import MeasureError, SilentError

from ..casebook import alignments, catalogue, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Setup, Track
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError

SAME_LAG_S = 0.005  # a lag given by hand names the found one that is so near: they are told to a thousandth


@dataclass(frozen=True)
class Question:
    """A recording that fits at two lags as well: whose it is, of which track, and the two lags in seconds."""

    track: str
    setup: str
    lags_s: tuple[float, float]

    @property
    def sentence(self) -> str:
        """The question in one line."""
        one, other = self.lags_s
        return (
            f"{self.setup!r} may lie {one:+.3f} s or {other:+.3f} s late in {self.track!r}: the music repeats itself, "
            "and both fit as well"
        )


def lay(reference: tuple[Recording, Path], other: tuple[Recording, Path]) -> Alignment:
    """Where a recording lies against another, each with where its file lies."""
    try:
        laid = track_audio.align_files(reference[1], other[1])
    except MeasureError:  # too short or silent to know its place by
        silent = tuple(recording.id for recording, path in (reference, other) if _is_silent(path))
        return alignments.found(reference[0], other[0], None, silent)
    return alignments.found(reference[0], other[0], laid)


def _is_silent(path: Path) -> bool:
    try:
        movements.of_file(path)
    except SilentError:
        return True
    except MeasureError:
        return False
    return False


def missing(casebook: Casebook, files: Sequence[Recording], paths: Mapping[str, Path] | None = None) -> list[Alignment]:
    """The alignments that recordings of one track (the first of it first) still lack; nothing is kept.

    Parameters
    ----------
    paths
        Where the files of recordings lie that are not kept yet, by identifier.
    """
    files = [each for each in files if each.setup_id is not None]
    if len(files) < 2:
        return []
    known = alignments.in_force(casebook, files)

    def placed(one: Recording) -> tuple[Recording, Path]:
        return one, (paths or {}).get(one.id) or recordings.audio_path(casebook, one)

    return [lay(placed(files[0]), placed(each)) for each in files[1:] if each.id not in known]


def ensure(casebook: Casebook, track_ids: Sequence[str]) -> None:
    """Lay the recordings of tracks that are not laid yet (those of an older casebook), and keep that.

    Raises
    ------
    CatalogueError
        If one fits at two lags as well; the message says how to choose.
    """
    for track_id in dict.fromkeys(track_ids):
        track = catalogue.find(casebook, Track, track_id)
        made = missing(casebook, recordings.of_track(casebook, track))
        if made:
            with casebook.writing():
                alignments.keep(casebook, made)
        open_questions = questions(casebook, track)
        if open_questions:
            asked = open_questions[0]
            raise CatalogueError(f"{asked.sentence}; choose: {how_to_choose(asked)}")


def how_to_choose(asked: Question) -> str:
    """The command that answers a question."""
    return (
        f"earwitness track align {asked.track!r} --lag {asked.setup}={asked.lags_s[0]:.3f} (or {asked.lags_s[1]:.3f})"
    )


def questions(casebook: Casebook, track: Track) -> list[Question]:
    """The recordings of a track that fit at two lags as well, and nobody has chosen yet."""
    names = {setup.id: setup.name for setup in catalogue.everything(casebook, Setup)}
    files = {each.id: each for each in recordings.of_track(casebook, track)}
    found = []
    for recording, laid in alignments.in_force(casebook, files.values()).items():
        setup_id = files[recording].setup_id
        if laid.ambiguous and laid.best and laid.next_best and setup_id:
            found.append(Question(track.name, names[setup_id], (laid.best.lag_s, laid.next_best.lag_s)))
    return found


def choose(casebook: Casebook, track: Track, setup: Setup, lag_s: float) -> Alignment:
    """Say at which lag a setup's recording lies, in seconds; the found one near it is taken, or else that very lag.

    Raises
    ------
    CatalogueError
        If the recording is the track's first, or the setup lacks the track.
    """
    own = recordings.of(casebook, setup, track.id)
    laid = alignments.in_force(casebook, [own]).get(own.id)
    if laid is None:
        raise CatalogueError(
            f"the recording of {track.name!r} through {setup.name!r} is not laid against another: it is the track's "
            "first, or the only one"
        )
    made = chosen(laid, lag_s)
    with casebook.writing():
        alignments.keep(casebook, [made])
    return made


def chosen(laid: Alignment, lag_s: float) -> Alignment:
    """An alignment at the lag that somebody chose, in seconds.

    Raises
    ------
    CatalogueError
        If the recordings fit at no such lag.
    """
    near = next((fit for fit in (laid.best, laid.next_best) if fit and abs(fit.lag_s - lag_s) <= SAME_LAG_S), None)
    if near is None:
        fits = (
            " or ".join(f"{round(fit.lag_s, 3) + 0.0:.3f} s" for fit in (laid.best, laid.next_best) if fit) or "nowhere"
        )
        raise CatalogueError(f"the recordings do not fit at {lag_s:.3f} s but at {fits}; choose one of these")
    other = laid.next_best if near is laid.best else laid.best
    worse = near.coherence - other.coherence if other else 1.0
    return replace(laid, best=near, next_best=other, next_worse=worse, settled=True, chosen=True)
