"""Two folders of recordings to a plan ready to be sealed: paired, cut, mended, matched, checked, planned."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from audio import pairing
from audio.alignment import coherence
from audio.errors import AudioError
from audio.mend import Mend

from ..casebook import alignments, catalogue, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_files, match_sheet, mends, passage_proposals, track_alignment
from ..preparation.giveaway_check import Giveaway, GiveawayCheck
from ..preparation.match_sheet import DEFAULT_TOLERANCE_LU, MatchedPassage, MatchSheet
from ..preparation.mends import PassageMend
from ..preparation.passage_audio import NO_MEND, Source
from ..preparation.passage_proposals import ProposedPassage
from ..preparation.recording_folder import audio_files, track_name
from ..preparation.selection import Selection
from ..preparation.track_alignment import Question
from . import drafting, plan_rows
from .plan import Plan

T = TypeVar("T")
R = TypeVar("R")
MOST_PASSAGES = 6  # enough variety for an evening, few enough to know each of them


Choose = Callable[[Question], float | None]
"""Answers at which of two lags a recording lies, in seconds; None: nobody can say, and the pair is left out."""


@dataclass(frozen=True)
class LeftOut:
    """A track that does not fit, and why; the rest goes on without it."""

    track: str
    why: str


@dataclass(frozen=True)
class Comparison:
    """What was made of two folders: setups, paired tracks, left-overs, evidence, and the plan as it would be sealed.

    `laid` says where the second folder's recordings lie against the first's, by the track's name.
    """

    setups: tuple[str, str]
    pairs: Sequence[pairing.Pair]
    left_over: tuple[Path, ...]
    left_out: tuple[LeftOut, ...]
    laid: Mapping[str, Alignment]
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
    around_s: Mapping[str, Sequence[float]] | None = None,
    choose: Choose = lambda _: None,
    progress: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Take two folders all the way to a draft plan. What was found is kept at the end, all or nothing.

    Parameters
    ----------
    wish
        Method, listener, trials and so on; its setups and passages are filled in here.
    around_s
        The reviewer's moments, in seconds, by the track's name: there are passages around them as well.
    choose
        Asked where a recording fits at two lags as well.
    progress
        Called with each step, for a progress line.

    Raises
    ------
    CatalogueError
        If no pair of recordings can be compared, or a moment is of no track. A pair that cannot is left out, and the
        rest goes on.
    """
    progress("pairing the recordings …")
    paired = pair_folders(folder_a, folder_b)
    around_s = around_s or {}
    known = [track_name(pair.a) for pair in paired.pairs]
    for name in around_s:
        if name not in known:
            raise CatalogueError(f"no track called {name!r} is in both folders; there are: {', '.join(known)}")
    names = setup_names(folder_a, folder_b)
    setups = [
        catalogue.new_setup(casebook, name, f"recordings in {folder}")
        for name, folder in zip(names, (folder_a, folder_b), strict=True)
    ]
    left_out: list[LeftOut] = []
    progress("laying the recordings against one another …")
    tracks = _fitting(
        paired.pairs, lambda pair: pair.name, lambda pair: _new_track(casebook, setups, pair, choose), left_out
    )
    progress("looking for the passages in which they differ most …")
    found = _fitting(
        tracks,
        lambda one: one.track.name,
        lambda one: (one, one.proposals(around_s.get(one.track.name, ()))),
        left_out,
    )
    of_track = {one.track.id: one for one, _ in found}
    proposals = _spread([parts for _, parts in found])
    progress("mending offsets and drift, matching levels, checking what will be played …")
    played = _prepared(casebook, proposals, of_track, left_out)
    if not played:
        raise CatalogueError(
            "no pair of recordings can be compared: " + "; ".join(f"{one.track}: {one.why}" for one in left_out)
        )
    gone = {one.track for one in left_out}
    tracks = [one for one in tracks if one.track.name not in gone]
    sheet = MatchSheet("bs1770", DEFAULT_TOLERANCE_LU, tuple(one.matched for one in played))
    selection = Selection(tuple(setups), tuple(one.passage for one in played))
    check = giveaway_check.of_findings(selection, [giveaway for one in played for giveaway in one.found])
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
        left_out=tuple(left_out),
        laid={one.track.name: one.laid for one in tracks},
        passages=[one.proposal for one in played],
        mended=mended,
        sheet=sheet,
        check=check,
        plan=drafting.draft(casebook, filled),
    )


@dataclass(frozen=True)
class _NewTrack:
    """A track, its recording of either folder, and where the second lies against the first; none of them kept yet."""

    track: Track
    sources: tuple[Source, Source]
    laid: Alignment

    @property
    def by_recording(self) -> dict[str, Alignment]:
        """Where its recordings lie, by identifier."""
        return {self.laid.recording: self.laid}

    def proposals(self, around_s: Sequence[float]) -> list[ProposedPassage]:
        """The passage in which the two differ most, and those around some moments."""
        rate_hz = max(source.recording.rate_hz for source in self.sources)
        looked_through = passage_proposals.propose(
            self.track, self.sources, rate_hz, self.by_recording, around_s=around_s
        )
        return looked_through.passages

    def place(self, passage: Passage) -> dict[str, Mend]:
        """How the second setup's recording lies on a passage, by the setup's identifier; none where in step."""
        mend = self.laid.mend(passage.start_frame / passage.rate_hz, passage.frames / passage.rate_hz)
        return {} if mend == NO_MEND else {self.sources[1].setup.id: mend}

    def keep(self, casebook: Casebook) -> None:
        """Keep the track, both recordings and where they lie."""
        catalogue.keep(casebook, self.track)
        for source in self.sources:
            recordings.keep(casebook, source.recording, source.setup, self.track, source.path)
        alignments.keep(casebook, [self.laid])


@dataclass(frozen=True)
class _Played:
    """A passage as it will be played: what had to be mended, how it was matched, what was found in it."""

    proposal: ProposedPassage
    passage: Passage
    mended: Sequence[PassageMend]
    matched: MatchedPassage
    found: Sequence[Giveaway]


def _fitting(things: Iterable[T], name: Callable[[T], str], work: Callable[[T], R], left_out: list[LeftOut]) -> list[R]:
    """What comes of each thing; those that cannot be used are left out, each with its reason."""
    done = []
    for one in things:
        try:
            done.append(work(one))
        except (AudioError, CatalogueError) as error:
            left_out.append(LeftOut(name(one), str(error)))
    return done


def _spread(of_tracks: Sequence[Sequence[ProposedPassage]]) -> list[ProposedPassage]:
    """The tracks' proposals in the order in which they are taken.

    The marked ones first; then what differs most, of tracks without a mark before others: no track takes all.
    """
    every = [part for parts in of_tracks for part in parts]
    marked = [part for part in every if part.marks_s]
    told = {part.track.id for part in marked}
    others = sorted(
        (part for part in every if not part.marks_s), key=lambda part: (part.track.id in told, -part.difference_sone)
    )
    return marked + others


def _prepared(
    casebook: Casebook, proposals: Sequence[ProposedPassage], tracks: Mapping[str, _NewTrack], left_out: list[LeftOut]
) -> list[_Played]:
    """The first of some proposals that can be played, mended, matched and checked.

    `MOST_PASSAGES` of them or, with as many marked, one more than those: both kinds are heard.
    """
    played: list[_Played] = []
    most = max(MOST_PASSAGES, 1 + sum(bool(part.marks_s) for part in proposals))
    for part in proposals:
        if len(played) == most:
            break
        one = tracks[part.track.id]
        taken = [each.passage.name for each in played]
        played += _fitting([part], lambda each: each.track.name, partial(_made, casebook, one, taken), left_out)
    return played


def _made(casebook: Casebook, one: _NewTrack, taken: Sequence[str], part: ProposedPassage) -> _Played:
    files = {one.track.id: [source.recording for source in one.sources]}
    (passage,) = passage_proposals.named(casebook, [part], files, one.by_recording, taken)
    place = one.place(passage)
    mended = mends.needed(passage, one.sources, place)
    repairs = place | {each.setup_id: each.mend for each in mended}
    matched = match_files.match_passage(passage, one.sources, repairs, casebook.prepared)
    found = giveaway_check.check_passage(passage, one.sources, repairs, matched, casebook.prepared, places=place)
    unlike = next((each for each in found if each.kind == "performance"), None)
    if unlike is not None:
        raise CatalogueError(unlike.what)
    return _Played(part, passage, mended, matched, found)


def _new_track(casebook: Casebook, setups: list[Setup], pair: pairing.Pair, choose: Choose) -> _NewTrack:
    track = catalogue.new_track(casebook, track_name(pair.a))
    one, other = (
        Source(setup, recordings.new(casebook, setup, track, path), path)
        for setup, path in zip(setups, (pair.a, pair.b), strict=True)
    )
    laid = track_alignment.lay((one.recording, one.path), (other.recording, other.path))
    if laid.ambiguous and laid.best and laid.next_best:
        asked = Question(track.name, other.setup.name, (laid.best.lag_s, laid.next_best.lag_s))
        lag_s = choose(asked)
        if lag_s is None:
            raise CatalogueError(
                f"{asked.sentence}; choose: --lag {track.name!r}={asked.lags_s[0]:.3f} (or {asked.lags_s[1]:.3f})"
            )
        laid = track_alignment.chosen(laid, lag_s)
    if not laid.settled:
        alike = 0.0 if laid.best is None else max(laid.best.coherence, 0.0)
        raise CatalogueError(
            f"{pair.a.name} and {pair.b.name} do not hold the same performance (coherence {alike:.2f}, at least "
            f"{coherence.SAME:.2f} expected); bring recordings of one take"
        )
    return _NewTrack(track, (one, other), laid)
