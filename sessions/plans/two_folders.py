"""Two folders of recordings to a plan ready to be sealed: paired, cut, mended, matched, checked, planned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audio import pairing

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_files, match_sheet, mends, passage_proposals
from ..preparation.giveaway_check import GiveawayCheck
from ..preparation.match_sheet import DEFAULT_TOLERANCE_LU, MatchSheet
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
    """Take two folders all the way to a draft plan. What was found is kept at the end, in one go.

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
    tracks = [_track(casebook, setups, pair) for pair in paired.pairs]
    progress("looking for the passages in which they differ most …")
    proposals = [part for one in tracks for part in one.proposals()]
    proposals = sorted(proposals, key=lambda part: -part.difference_db)[:MOST_PASSAGES]
    files = {one.track.id: [source.recording for source in one.sources] for one in tracks}
    passages = passage_proposals.named(casebook, proposals, files)
    played = [next(one.sources for one in tracks if one.track.id == passage.track_id) for passage in passages]
    progress("looking for offsets, drift and other giveaways …")
    mended = [one for passage, own in zip(passages, played, strict=True) for one in mends.needed(passage, own, {})]
    repairs = {passage.id: {m.setup_id: m.mend for m in mended if m.passage_id == passage.id} for passage in passages}
    progress("matching levels …")
    matched = [
        match_files.match_passage(passage, own, repairs[passage.id], casebook.prepared)
        for passage, own in zip(passages, played, strict=True)
    ]
    sheet = MatchSheet("bs1770", DEFAULT_TOLERANCE_LU, tuple(matched))
    progress("checking what will be played …")
    found = [
        one
        for passage, own, part in zip(passages, played, matched, strict=True)
        for one in giveaway_check.check_passage(passage, own, repairs[passage.id], part, casebook.prepared)
    ]
    check = giveaway_check.of_findings(Selection(tuple(setups), tuple(passages)), found)
    with casebook.writing():
        for setup in setups:
            catalogue.keep(casebook, setup)
        for one in tracks:
            one.keep(casebook)
        for passage in passages:
            catalogue.keep(casebook, passage)
        mends.keep(casebook, mended)
        match_sheet.keep(casebook, sheet)
        giveaway_check.keep(casebook, check)
    filled = replace(wish, setups=names, passages=tuple(passage.name for passage in passages))
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
class _PairedTrack:
    """A new track and its recording of either folder."""

    track: Track
    sources: tuple[Source, Source]

    def proposals(self) -> list[ProposedPassage]:
        """The passage in which the two differ most."""
        rate_hz = max(source.recording.rate_hz for source in self.sources)
        return passage_proposals.propose(self.track, self.sources, rate_hz, 1)

    def keep(self, casebook: Casebook) -> None:
        """Keep the track and both recordings."""
        catalogue.keep(casebook, self.track)
        for source in self.sources:
            recordings.keep(casebook, source.recording, source.setup, self.track, source.path)


def _track(casebook: Casebook, setups: list[Setup], pair: pairing.Pair) -> _PairedTrack:
    track = catalogue.new_track(casebook, track_name(pair.a))
    one, other = (
        Source(setup, recordings.new(casebook, setup, track, path), path)
        for setup, path in zip(setups, (pair.a, pair.b), strict=True)
    )
    return _PairedTrack(track, (one, other))
