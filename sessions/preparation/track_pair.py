"""Two recordings of one track, from their files to what will be played: laid, looked through, prepared, checked.

Each step takes and gives plain facts and keeps nothing, so that another process can do it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from audio.errors import AudioError
from audio.files import remembered
from audio.mend import Mend

from ..casebook import alignments, catalogue, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.recordings import NewFile
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import (
    giveaway_check,
    match_files,
    mends,
    passage_audio,
    passage_notes,
    passage_proposals,
    track_alignment,
)
from .check_note import Note
from .giveaway_check import Giveaway
from .match_sheet import MatchedPassage
from .mends import PassageMend
from .passage_audio import NO_MEND, Source
from .proposed_passage import LookedThrough, ProposedPassage
from .selection import Selection


@dataclass(frozen=True)
class TrackPair:
    """A track, its recording of either setup, and where the second lies against the first."""

    track: Track
    sources: tuple[Source, Source]
    laid: Alignment

    @property
    def paths(self) -> tuple[Path, Path]:
        """Where both files lie."""
        return self.sources[0].path, self.sources[1].path

    @property
    def by_recording(self) -> dict[str, Alignment]:
        """Where its recordings lie, by identifier."""
        return {self.laid.recording: self.laid}

    @property
    def rate_hz(self) -> int:
        """At which its passages are counted: the higher of the two."""
        return max(source.recording.rate_hz for source in self.sources)

    def lacking(self, around_s: Sequence[float]) -> dict[float, str]:
        """Those of some moments, in seconds, that not both recordings hold, each with a sentence that says so.

        Raises
        ------
        CatalogueError
            If they hold no second of music together.
        """
        return passage_proposals.lacking(self.track, self.sources, self.rate_hz, self.by_recording, around_s)

    def place(self, passage: Passage) -> dict[str, Mend]:
        """How the second setup's recording lies on a passage, by the setup's identifier; none where in step."""
        mend = self.laid.mend(passage.start_frame / passage.rate_hz, passage.frames / passage.rate_hz)
        return {} if mend == NO_MEND else {self.sources[1].setup.id: mend}

    def named(self, casebook: Casebook, proposal: ProposedPassage, taken: Sequence[str]) -> Passage:
        """A proposal as a passage, checked and named (as none of those taken), not kept yet."""
        files = {self.track.id: [source.recording for source in self.sources]}
        (passage,) = passage_proposals.named(casebook, [proposal], files, self.by_recording, taken)
        return passage

    def keep(self, casebook: Casebook) -> None:
        """Keep the track, both recordings and where they lie."""
        catalogue.keep(casebook, self.track)
        for source in self.sources:
            recordings.keep(casebook, source.recording, source.setup, self.track, source.path)
        alignments.keep(casebook, [self.laid])


@dataclass(frozen=True)
class NewPair:
    """A track that is new, a file of it for either setup, not looked at yet, and the reviewer's moments in seconds."""

    track: Track
    setups: tuple[Setup, Setup]
    files: tuple[NewFile, NewFile]
    around_s: tuple[float, ...]


@dataclass(frozen=True)
class Looked:
    """A pair laid and looked through, or why it could not be; not as long as it is not settled where it lies."""

    pair: TrackPair
    through: LookedThrough | Exception | None


@dataclass(frozen=True)
class PassageOfPair:
    """A passage of a pair, the folder in which it will be prepared, and whether turned polarity is turned back."""

    pair: TrackPair
    passage: Passage
    folder: Path
    polarity: bool = False


@dataclass(frozen=True)
class Prepared:
    """A passage as it will be played: what had to be mended, how it was matched, what was found in it, and notes."""

    mended: Sequence[PassageMend]
    matched: MatchedPassage
    found: Sequence[Giveaway]
    notes: Sequence[Note] = ()


def looked_at(new: NewPair) -> Looked:
    """What two files are, where the second lies against the first, and the passages to be heard.

    What is read for one of these is not read again for the next, if they are short enough to be remembered.
    """
    with remembered.remembering():
        one, other = (
            Source(setup, file.inspected(), file.path) for setup, file in zip(new.setups, new.files, strict=True)
        )
        laid = track_alignment.lay((one.recording, one.path), (other.recording, other.path))
        pair = TrackPair(new.track, (one, other), laid)
        if not laid.settled:
            return Looked(pair, None)
        try:
            return Looked(pair, proposals((pair, new.around_s)))
        except (AudioError, CatalogueError) as error:
            return Looked(pair, error)


def proposals(of: tuple[TrackPair, tuple[float, ...]]) -> LookedThrough:
    """A pair looked through: where the two differ most, and around those of some moments (in s) that both hold."""
    pair, around_s = of
    lacking = pair.lacking(around_s)
    held_s = [each for each in around_s if each not in lacking]
    return passage_proposals.propose(pair.track, pair.sources, pair.rate_hz, pair.by_recording, around_s=held_s)


def prepared(of: PassageOfPair) -> Prepared:
    """A passage mended, matched, written as it will be played, and checked.

    Raises
    ------
    CatalogueError
        If the two do not play the same performance there.
    """
    passage, sources, place = of.passage, of.pair.sources, of.pair.place(of.passage)
    clips = passage_audio.cut(sources, passage, place)
    mended = mends.needed(passage, sources, place, polarity=of.polarity, clips=clips, laid=of.pair.by_recording)
    repairs = place | {each.setup_id: each.mend for each in mended}
    again = passage_audio.cut(sources, passage, repairs) if _beyond(repairs, place) else clips
    matched = match_files.match_clips(passage, sources, repairs, again, of.folder)
    found, played = giveaway_check.check_passage(passage, sources, repairs, matched, of.folder, places=place)
    unlike = next((each for each in found if each.kind == "performance"), None)
    if unlike is not None:
        raise CatalogueError(unlike.what)
    selection = Selection(tuple(source.setup for source in sources), (passage,))
    notes = passage_notes.notes_on(passage, sources, again, played=played, found=found)
    return Prepared(mended, matched, giveaway_check.left(found, selection, of.polarity), notes)


def _beyond(repairs: Mapping[str, Mend], place: Mapping[str, Mend]) -> bool:
    return any(mend != place.get(setup, NO_MEND) for setup, mend in repairs.items())
