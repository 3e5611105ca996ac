"""Two folders of recordings to a plan ready to be sealed: paired, cut, mended, matched, checked, planned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audio import pairing
from audio.mend import Mend

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_files, match_sheet, mends, passage_proposals
from ..preparation.giveaway_check import GiveawayCheck
from ..preparation.match_sheet import DEFAULT_TOLERANCE_LU, MatchedPassage, MatchSheet
from ..preparation.mends import PassageMend
from ..preparation.passage_audio import Source
from ..preparation.passage_proposals import ProposedPassage
from ..preparation.recording_folder import audio_files, track_name
from ..preparation.selection import Selection
from . import drafting, plan_rows
from .plan import Plan

MOST_PASSAGES = 6  # enough variety for an evening, few enough to know each of them


@dataclass(frozen=True)
class Comparison:
    """What was made of two folders: setups, paired tracks, left-overs, evidence, and the plan as it would be sealed."""

    setups: tuple[str, str]
    pairs: Sequence[pairing.Pair]
    left_over: tuple[Path, ...]
    passages: list[ProposedPassage]
    mended: list[PassageMend]
    sheet: MatchSheet
    check: GiveawayCheck
    plan: Plan


def pair_folders(folder_a: Path, folder_b: Path) -> pairing.Pairing:
    """The recordings of two folders, paired by name or content.

    Raises
    ------
    CatalogueError
        If a folder has no audio, or no recording has a partner.
    """
    if folder_a.resolve() == folder_b.resolve():
        raise CatalogueError(f"both folders are {folder_a}; name two folders, one a setup")
    found = pairing.pair(audio_files(folder_a), audio_files(folder_b))
    if not found.pairs:
        raise CatalogueError(
            f"no recording in {folder_a} has a partner in {folder_b}: no two names agree and no two play the same music"
        )
    return found


def setup_names(folder_a: Path, folder_b: Path) -> tuple[str, str]:
    """The setups' names after the folders'."""
    first, second = (track_name(Path(folder.resolve().name + ".x")) for folder in (folder_a, folder_b))
    return (first, second) if first != second else (f"{first} A", f"{second} B")


def prepare(
    casebook: Casebook,
    folder_a: Path,
    folder_b: Path,
    wish: plan_rows.Wish,
    *,
    progress: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Take two folders all the way to a draft plan. What was found is kept at the end, all or nothing.

    Parameters
    ----------
    wish
        Method, listener, trials and so on; its setups and passages are filled in here.
    progress
        Called with each step, for a progress line.
    """
    progress("pairing the recordings …")
    paired = pair_folders(folder_a, folder_b)
    names = setup_names(folder_a, folder_b)
    setups = [
        catalogue.new_setup(casebook, name, f"recordings in {folder}")
        for name, folder in zip(names, (folder_a, folder_b), strict=True)
    ]
    tracks = [_new_track(casebook, setups, pair) for pair in paired.pairs]
    progress("looking for the passages in which they differ most …")
    proposals = [part for one in tracks for part in one.proposals()]
    proposals = sorted(proposals, key=lambda part: -part.difference_db)[:MOST_PASSAGES]
    files = {one.track.id: [source.recording for source in one.sources] for one in tracks}
    sources = {one.track.id: one.sources for one in tracks}
    played = [
        _Played(passage, sources[passage.track_id]) for passage in passage_proposals.named(casebook, proposals, files)
    ]
    progress("looking for offsets, drift and other giveaways …")
    played = [replace(one, mended=mends.needed(one.passage, one.sources, {})) for one in played]
    progress("matching levels …")
    sheet = MatchSheet("bs1770", DEFAULT_TOLERANCE_LU, tuple(one.matched(casebook.prepared) for one in played))
    progress("checking what will be played …")
    found = [
        giveaway
        for one, part in zip(played, sheet.passages, strict=True)
        for giveaway in giveaway_check.check_passage(one.passage, one.sources, one.repairs, part, casebook.prepared)
    ]
    selection = Selection(tuple(setups), tuple(one.passage for one in played))
    check = giveaway_check.of_findings(selection, found)
    mended = [repair for one in played for repair in one.mended]
    with casebook.writing():
        for setup in setups:
            catalogue.keep(casebook, setup)
        for track in tracks:
            track.keep(casebook)
        for one in played:
            catalogue.keep(casebook, one.passage)
        mends.keep(casebook, mended)
        match_sheet.keep(casebook, sheet)
        giveaway_check.keep(casebook, check)
    filled = replace(wish, setups=names, passages=tuple(one.passage.name for one in played))
    return Comparison(
        setups=names,
        pairs=paired.pairs,
        left_over=(*paired.left_a, *paired.left_b),
        passages=proposals,
        mended=mended,
        sheet=sheet,
        check=check,
        plan=drafting.draft(casebook, filled),
    )


@dataclass(frozen=True)
class _NewTrack:
    """A track and its recording of either folder, none of them kept yet."""

    track: Track
    sources: tuple[Source, Source]

    def proposals(self) -> list[ProposedPassage]:
        """The passage in which the two differ most; none where there is none."""
        rate_hz = max(source.recording.rate_hz for source in self.sources)
        return passage_proposals.propose(self.track, self.sources, rate_hz, 1)

    def keep(self, casebook: Casebook) -> None:
        """Keep the track and both recordings."""
        catalogue.keep(casebook, self.track)
        for source in self.sources:
            recordings.keep(casebook, source.recording, source.setup, self.track, source.path)


@dataclass(frozen=True)
class _Played:
    """A passage not kept yet, the files it is cut from, and what had to be mended."""

    passage: Passage
    sources: tuple[Source, Source]
    mended: Sequence[PassageMend] = ()

    @property
    def repairs(self) -> dict[str, Mend]:
        """The mends by the setups' identifiers."""
        return {one.setup_id: one.mend for one in self.mended}

    def matched(self, folder: Path) -> MatchedPassage:
        """The passage matched and prepared."""
        return match_files.match_passage(self.passage, self.sources, self.repairs, folder)


def _new_track(casebook: Casebook, setups: list[Setup], pair: pairing.Pair) -> _NewTrack:
    track = catalogue.new_track(casebook, track_name(pair.a))
    one, other = (
        Source(setup, recordings.new(casebook, setup, track, path), path)
        for setup, path in zip(setups, (pair.a, pair.b), strict=True)
    )
    return _NewTrack(track, (one, other))
