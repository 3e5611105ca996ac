"""Recordings laid whole against the first of their track, once, when they come in; and what is asked where two fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from shlex import quote

from audio import track_time
from audio.alignment import movements
from audio.alignment import track as track_audio
from audio.errors import MeasureError, SilentError

from ..casebook import alignments, catalogue, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Setup, Track
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError

MOST_TOLD = 4  # lags in one sentence
SAME_LAG_S = 0.005  # a lag given by hand names the found one that is so near: they are told to a thousandth


@dataclass(frozen=True)
class Question:
    """A recording that fits at several lags as well: whose it is, of which track, and the lags in seconds.

    `silent_s` are those of them at which some of the music meets silence.
    """

    track: str
    setup: str
    lags_s: tuple[float, ...]
    silent_s: tuple[float, ...] = ()

    @property
    def every_s(self) -> float | None:
        """How far the lags lie apart, in seconds, where all lie as far from the next; None otherwise."""
        steps = [after - before for before, after in pairwise(sorted(self.lags_s))]
        even = len(steps) > 1 and max(steps) - min(steps) <= SAME_LAG_S
        return sum(steps) / len(steps) if even else None

    @property
    def sentence(self) -> str:
        """The question in one line."""
        told = self.lags_s[:MOST_TOLD]
        lags = f"{', '.join(map(track_time.aside, told[:-1]))} or {track_time.aside(told[-1])} in {self.track!r}"
        silent = [track_time.aside(lag_s) for lag_s in told if lag_s in self.silent_s]
        more = self.more(MOST_TOLD)
        return (
            f"{self.setup!r} may lie {lags}{f' ({more})' if more else ''}: the music repeats itself, and "
            f"{'both' if len(self.lags_s) == 2 else 'all of these'} fit as well"
            + (f" ({' and '.join(silent)}, some of it meets silence)" if silent else "")
        )

    def more(self, told: int) -> str:
        """What there is beyond so many lags that are told; empty where there is nothing."""
        if len(self.lags_s) <= told:
            return ""
        return f"and {len(self.lags_s) - told} more" + (f", every {self.every_s:.3f} s" if self.every_s else "")

    def options(self, name: str) -> str:
        """The option that answers it, with the other values that it may have; a program takes the first as it is."""
        first, *others = (round(lag_s, 3) + 0.0 for lag_s in self.lags_s[:MOST_TOLD])  # without a minus before zero
        more = self.more(MOST_TOLD)
        rest = f"{' or '.join(f'{lag_s:.3f}' for lag_s in others)}{f', {more}' if more else ''}"
        return f"--lag {quote(f'{name}={first:.3f}')} (or {rest})"


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
        If one fits at several lags as well; the message says how to choose.
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
            hint = f"earwitness --casebook {quote(str(casebook.folder))}"
            raise CatalogueError(f"{asked.sentence}; choose: {how_to_choose(asked, hint)}")


def how_to_choose(asked: Question, hint: str) -> str:
    """The command that answers a question; `hint` is how a command names the casebook."""
    return f"{hint} track align {quote(asked.track)} {asked.options(asked.setup)}"


def question(track: str, setup: str, laid: Alignment) -> Question | None:
    """What is to be asked about a setup's recording of a track; None where nothing is."""
    if not laid.ambiguous:
        return None
    best = laid.best
    assert best is not None
    fits = [fit for fit in laid.fits if track_audio.as_coherent(best, fit)]
    silent = [fit.lag_s for fit in fits if not track_audio.equally_good(best, fit)]
    return Question(track, setup, tuple(fit.lag_s for fit in fits), tuple(silent))


def questions(casebook: Casebook, track: Track) -> list[Question]:
    """The recordings of a track that fit at several lags as well, and nobody has chosen yet."""
    names = catalogue.names(casebook, Setup)
    files = {each.id: each for each in recordings.of_track(casebook, track)}
    found = []
    for recording, laid in alignments.in_force(casebook, files.values()).items():
        setup_id = files[recording].setup_id
        asked = question(track.name, names[setup_id], laid) if setup_id else None
        if asked:
            found.append(asked)
    return found


def choose(casebook: Casebook, track: Track, setup: Setup, lag_s: float) -> Alignment:
    """Say at which lag a setup's recording lies, in seconds: one of those that fit.

    Raises
    ------
    CatalogueError
        If the recording is the track's first, or the setup lacks the track, or it does not fit there.
    """
    own = recordings.of(casebook, setup, track.id)
    laid = alignments.in_force(casebook, [own]).get(own.id)
    if laid is None:
        raise CatalogueError(
            f"the recording of {track.name!r} through {setup.name!r} is not laid against another: it is the track's "
            "first, or the only one"
        )
    first = next(each for each in recordings.of_track(casebook, track) if each.id == laid.reference)
    made = chosen(laid, lag_s, (recordings.audio_path(casebook, first), recordings.audio_path(casebook, own)))
    with casebook.writing():
        alignments.keep(casebook, [made])
    return made


def chosen(laid: Alignment, lag_s: float, files: tuple[Path, Path]) -> Alignment:
    """An alignment at the lag that somebody chose, in seconds; the files are the first recording's and its own.

    Raises
    ------
    CatalogueError
        If the recordings fit at no such lag.
    """
    near = next((fit for fit in laid.fits if abs(fit.lag_s - lag_s) <= SAME_LAG_S), None)
    if near is None and laid.best is not None and not laid.pieces:
        there = track_audio.fit_at(*files, lag_s, laid.best.ppm)
        if there and abs(there.lag_s - lag_s) <= SAME_LAG_S and track_audio.as_coherent(laid.best, there):
            near = there
    if near is None:
        fits = [f"{round(fit.lag_s, 3) + 0.0:.3f} s" for fit in laid.fits]
        more = f" and at {len(fits) - MOST_TOLD} more" if len(fits) > MOST_TOLD else ""
        raise CatalogueError(
            f"the recordings do not fit at {lag_s:.3f} s but at {' or '.join(fits[:MOST_TOLD]) or 'nowhere'}{more}; "
            "choose one of these"
        )
    others = [fit for fit in laid.fits if fit is not near]
    equals = tuple(fit for fit in others if track_audio.as_coherent(near, fit))
    equals = tuple(sorted(equals, key=lambda fit: not track_audio.equally_good(near, fit)))
    next_best = equals[0] if equals else max(others, key=lambda fit: fit.coherence, default=None)
    worse = near.coherence - next_best.coherence if next_best else 1.0
    return replace(laid, best=near, next_best=next_best, next_worse=worse, settled=True, chosen=True, equals=equals)
