"""What plays in free listening: a passage, a whole track or any stretch of it, through each setup and equally loud.

A passage whose match sheet holds plays the files of that sheet. Everything else is prepared for the evening by the same
steps (cut where the recordings are aligned, matched over the whole stretch, measured again) and leaves no file behind.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..casebook import alignments, catalogue, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.recordings import Recording
from ..casebook.store import Casebook
from ..errors import CatalogueError, ListenError
from ..plans import evidence_in_force
from ..preparation import (
    match_files,
    match_real_gear,
    mends,
    passage_audio,
    prepared_audio,
    track_alignment,
)
from ..preparation.match_sheet import MatchedPassage
from ..preparation.prepared_audio import SealedFile
from ..preparation.selection import Selection

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SHORTEST_S = 1.0  # what can be matched at all
# A stretch is held and worked on as a whole: about 45 bytes a sample at the most, so some 4 GB; our choice.
MOST_SAMPLES = 96_000_000


@dataclass(frozen=True)
class Stretch:
    """What can be listened to: a track's stretch, as a passage; `name` is empty where it is no kept passage."""

    track: Track
    passage: Passage
    name: str

    @property
    def start_s(self) -> float:
        """Where in the track it begins."""
        return self.passage.start_frame / self.passage.rate_hz

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.passage.frames / self.passage.rate_hz

    @property
    def words(self) -> str:
        """What it is called."""
        return f"{self.track.name}, {self.name}" if self.name else self.track.name


@dataclass(frozen=True, eq=False)
class FreeSounds:
    """A stretch ready to play: shape (setups, frames, channels), its rate, and how loud.

    Attributes
    ----------
    residual_lu
        How far the setups' levels lie apart, in the measure they were matched by.
    chair_dba
        The level of the loudest at the chair; None where no calibrated microphone read it.
    """

    stretch: Stretch
    rate_hz: int
    sounds: NDArray[np.float32]
    residual_lu: float
    chair_dba: float | None

    @property
    def id(self) -> str:
        """Of its passage; a whole track's follows from the track."""
        return self.stretch.passage.id

    @property
    def frames(self) -> int:
        """How long it is, as it plays."""
        return int(self.sounds.shape[1])


def of_passage(casebook: Casebook, passage: Passage) -> Stretch:
    """A passage, to listen to."""
    return Stretch(catalogue.find(casebook, Track, passage.track_id), passage, passage.name)


def of_track(
    casebook: Casebook, setups: tuple[Setup, ...], track: Track, from_s: float | None = None, to_s: float | None = None
) -> Stretch:
    """A whole track as far as all setups hold it, or a stretch of it between two moments.

    Raises
    ------
    CatalogueError
        If a setup lacks the track, or nothing of that is left, or too much to be held at once.
    """
    files = [recordings.of(casebook, setup, track.id) for setup in setups]
    track_alignment.ensure(casebook, [] if setups[0].is_real else [track.id])
    laid = {} if setups[0].is_real else alignments.in_force(casebook, files)
    spans = [_held(file, laid.get(file.id)) for file in files]
    begin, end = max(0.0, *(span[0] for span in spans)), min(span[1] for span in spans)
    whole = f"{_clock(begin)} to {_clock(end)}"
    begin, end = max(begin, from_s or 0.0), min(end, end if to_s is None else to_s)
    if end - begin < SHORTEST_S:
        raise CatalogueError(
            f"track {track.name!r} is held by all these setups from {whole}; name at least {SHORTEST_S:g} s of that "
            "with --from and --to"
        )
    rate_hz = max(file.rate_hz for file in files)
    samples = (end - begin) * rate_hz * len(setups) * max(file.channels for file in files)
    if samples > MOST_SAMPLES:
        most_s = int((end - begin) * MOST_SAMPLES / samples)
        raise CatalogueError(
            f"{_clock(end - begin)} of track {track.name!r} through {len(setups)} setups is more than can be held at "
            f"once; name a part of up to {_clock(most_s)} with --from and --to"
        )
    start = -int(-begin * rate_hz // 1)
    frames = int((end - begin) * rate_hz)
    passage = Passage(f"whole-{track.id}", track.id, track.name, start, frames, rate_hz, "", "")
    return Stretch(track, passage, "")


def _held(file: Recording, laid: Alignment | None) -> tuple[float, float]:
    """From where to where in the track a recording holds it; of one with cuts its longest part."""
    if laid is None:
        return 0.0, file.length_s
    if laid.pieces:
        longest = max(laid.pieces, key=lambda piece: piece.end_s - piece.start_s)
        return longest.start_s, longest.end_s
    return -laid.lag_at(0.0), file.length_s - laid.lag_at(file.length_s)


def rate_of(casebook: Casebook, setups: tuple[Setup, ...], stretch: Stretch) -> int:
    """The rate, in Hz, at which a stretch plays where nothing else is asked for.

    It is its match sheet's; else the one chosen for these setups, or else the highest of the recordings; of real gear
    the one at which it was read.

    Raises
    ------
    CatalogueError
        If a setup lacks the track, or real gear was not matched yet.
    """
    selection = Selection(setups, (stretch.passage,))
    matched = _sheet_of(casebook, selection, stretch)[1]
    if matched is not None:
        return matched.prepared.rate_hz
    if setups[0].is_real:
        return match_real_gear.read_rate(casebook, selection)
    own_hz = max(recordings.of(casebook, setup, stretch.track.id).rate_hz for setup in setups)
    return match_files.kept_rate(casebook, selection) or own_hz


def ready(casebook: Casebook, setups: tuple[Setup, ...], stretch: Stretch, rate_hz: int | None = None) -> FreeSounds:
    """The stretch through each setup, equally loud, at a rate (None: that of `rate_of`).

    Real gear keeps its own rate.

    Raises
    ------
    CatalogueError
        If a setup lacks the track, a file was changed, or real gear was not matched yet.
    PassageError, MeasureError
        If it cannot be matched, as in `match files`.
    """
    selection = Selection(setups, (stretch.passage,))
    rate_hz = rate_hz or rate_of(casebook, setups, stretch)
    there = of_sheet(casebook, setups, stretch, rate_hz)
    if there is not None:
        return there
    with prepared_audio.fresh_folder(casebook.prepared) as folder:
        made = _matched(casebook, selection, stretch.passage, folder, rate_hz)
        return _read(casebook, made, selection, stretch, None, folder)


def _sheet_of(casebook: Casebook, selection: Selection, stretch: Stretch) -> tuple[str | None, MatchedPassage | None]:
    """The match sheet that holds for a passage, by its hash, and the passage as it stands there; None without one."""
    kept = evidence_in_force.sheet(casebook, selection) if stretch.name else None
    return (None, None) if kept is None else (kept.hash, kept.record.passage(stretch.passage.id))


def of_sheet(
    casebook: Casebook, setups: tuple[Setup, ...], stretch: Stretch, rate_hz: int | None = None
) -> FreeSounds | None:
    """The passage as its match sheet prepared it, at that rate (None: at any).

    None where that sheet does not hold, has another rate, or its files are gone.
    """
    selection = Selection(setups, (stretch.passage,))
    sheet, matched = _sheet_of(casebook, selection, stretch)
    if matched is None or rate_hz not in (None, matched.prepared.rate_hz):
        return None
    try:
        return _read(casebook, matched, selection, stretch, sheet, casebook.prepared)
    except ListenError:  # prepared again, for this evening
        return None


def _matched(casebook: Casebook, selection: Selection, passage: Passage, folder: Path, rate_hz: int) -> MatchedPassage:
    if selection.setups[0].is_real:
        return match_real_gear.match_passage(casebook, selection, passage, folder)
    track_alignment.ensure(casebook, [passage.track_id])
    sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
    repairs = mends.in_force(casebook, selection.setups, passage)
    by = match_files.measure_last_used(casebook, [setup.id for setup in selection.setups])
    return match_files.match_passage(passage, sources, repairs, folder, by=by, rate_hz=rate_hz)


def _read(
    casebook: Casebook,
    matched: MatchedPassage,
    selection: Selection,
    stretch: Stretch,
    sheet: str | None,
    folder: Path,
) -> FreeSounds:
    import numpy as np

    from audio.files import reading

    wanted = [setup.id for setup in selection.setups]
    files = {file.setup: file for file in matched.prepared.setups}
    if sheet is not None:
        sealed = [SealedFile(files[setup].sha256, files[setup].file) for setup in wanted]
        sounds = prepared_audio.sounds(casebook, stretch.words, sealed, sheet)
    else:
        sounds = np.stack([reading.read(folder / files[setup].file).samples.astype(np.float32) for setup in wanted])
    own = matched.setups_of(wanted)
    levels = [one.after_level_db for one in own]
    chair = [one.chair_dba for one in own if one.chair_dba is not None]
    return FreeSounds(
        stretch,
        matched.prepared.rate_hz,
        sounds,
        max(levels) - min(levels),
        max(chair) if chair and len(chair) == len(own) else None,
    )


def _clock(time_s: float) -> str:
    from audio import track_time

    return track_time.told(time_s, 1)
