"""Two folders of recordings to a plan ready to be sealed: paired, cut, mended, matched, checked, planned."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from audio import pairing, parallel
from audio.alignment import coherence
from audio.alignment.track import LONE_S
from audio.errors import AudioError, ProcessError

from ..casebook import catalogue, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.near_names import unknown
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_sheet, mends, track_alignment, track_pair
from ..preparation.giveaway_check import GiveawayCheck
from ..preparation.match_sheet import DEFAULT_TOLERANCE_LU, MatchSheet
from ..preparation.mends import PassageMend
from ..preparation.passage_proposals import ProposedPassage
from ..preparation.recording_folder import audio_files, track_name
from ..preparation.selection import Selection
from ..preparation.track_alignment import Question
from ..preparation.track_pair import Looked, NewPair, PassageOfPair, Prepared, TrackPair
from . import drafting, plan_rows
from .plan import Plan

T = TypeVar("T")
R = TypeVar("R")
MOST_PASSAGES = 6  # enough variety for an evening, few enough to know each of them

Proposals = Callable[[], list[ProposedPassage]]
Choose = Callable[[Question], float | None]
"""Answers at which of several lags a recording lies, in seconds; None: nobody can say, and the pair is left out."""


@dataclass(frozen=True)
class LeftOut:
    """A track that does not fit (or, not `whole`, a moment of it), and why; the rest goes on without it."""

    track: str
    why: str
    whole: bool = True


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


def check_tracks(paired: pairing.Pairing, names: Iterable[str]) -> None:
    """Nothing, if these are names of tracks that both folders hold.

    Raises
    ------
    CatalogueError
        If one is not.
    """
    known = [track_name(pair.a) for pair in paired.pairs]
    for name in names:
        if name not in known:
            raise CatalogueError(unknown("track", name, known, " is in both folders"))


def setup_names(folder_a: Path, folder_b: Path) -> tuple[str, str]:
    """The setups' names after the folders'."""
    return _apart(*(_name_after(folder) for folder in (folder_a, folder_b)))


def plain_names(folder_a: Path, folder_b: Path) -> tuple[str, str]:
    """The same without signs: what a casebook's folder is called after, and what setups were before signs were kept."""
    plain = (re.sub(r"\s+", " ", re.sub(r"[,&/()]+", " ", _name_after(folder))) for folder in (folder_a, folder_b))
    return _apart(*(name.strip(" ._-") for name in plain))


def _name_after(folder: Path) -> str:
    return track_name(Path(folder.resolve().name + ".x"))


def _apart(first: str, second: str) -> tuple[str, str]:
    return (first, second) if first != second else (f"{first} A", f"{second} B")


def prepare(
    casebook: Casebook,
    folder_a: Path,
    folder_b: Path,
    wish: plan_rows.Wish,
    *,
    paired: pairing.Pairing | None = None,
    around_s: Mapping[str, Sequence[float]] | None = None,
    lags_s: Mapping[str, float] | None = None,
    choose: Choose = lambda _: None,
    progress: Callable[[str], None] = lambda _: None,
    again: str = "earwitness compare",
    into: tuple[Setup, Setup] | None = None,
    draft: Callable[[Casebook, plan_rows.Wish], Plan] = drafting.draft,
) -> Comparison:
    """Take two folders all the way to a draft plan. What was found is kept at the end, all or nothing.

    Parameters
    ----------
    wish
        Method, listener, trials and so on; its setups and passages are filled in here.
    paired
        How the folders' recordings are paired, where that is known already.
    around_s
        The reviewer's moments, in seconds, by the track's name: there are passages around them as well.
    lags_s
        Where the second folder's recordings lie, in seconds, by the track's name, as somebody says beforehand: a pair
        that does not fit there is left out.
    choose
        Asked where a recording fits at several lags as well and nobody has said it.
    progress
        Called with each step, for a progress line.
    again
        The command by which this is done again, for what can be said with it.
    into
        The setups of these folders, where they are kept already: the pairs are further ones.
    draft
        How the plan is drafted of the wish, when all else is kept.

    Raises
    ------
    CatalogueError
        If no pair of recordings can be compared, or a moment is of no track. A pair that cannot is left out, and the
        rest goes on.
    """
    paired = paired or pair_folders(folder_a, folder_b)
    around_s = around_s or {}
    lags_s = lags_s or {}
    check_tracks(paired, [*around_s, *lags_s])
    names = setup_names(folder_a, folder_b)
    setups = into or (
        catalogue.new_setup(casebook, names[0], f"recordings in {folder_a}"),
        catalogue.new_setup(casebook, names[1], f"recordings in {folder_b}"),
    )
    names = setups[0].name, setups[1].name
    left_out: list[LeftOut] = []
    with parallel.workers(min(len(paired.pairs), parallel.cores())) as submit:
        work = _Work(casebook, setups, around_s, lags_s, choose, again, progress, submit, left_out)
        tracks = work.laid(paired.pairs)
        played = work.played(tracks)
    if not played:
        raise CatalogueError(
            "no pair of recordings can be compared: " + "; ".join(f"{one.track}: {one.why}" for one in left_out)
        )
    clean = [one for one in played if not one.prepared.found]
    if clean:  # else it is something about the setups, which is for people to decide
        for one in (one for one in played if one.prepared.found):
            what = "; ".join(found.what for found in one.prepared.found)
            left_out.append(LeftOut(one.proposal.track.name, f"what would be played gives a setup away: {what}"))
        played = clean
    gone = {one.track for one in left_out if one.whole} - {one.proposal.track.name for one in played}
    tracks = [one for one in tracks if one[0].track.name not in gone]
    sheet = MatchSheet("bs1770", DEFAULT_TOLERANCE_LU, tuple(one.prepared.matched for one in played))
    selection = Selection(setups, tuple(one.passage for one in played))
    check = giveaway_check.of_findings(
        selection,
        [giveaway for one in played for giveaway in one.prepared.found],
        [note for one in played for note in one.prepared.notes],
    )
    mended = [repair for one in played for repair in one.prepared.mended]
    with casebook.writing():
        for setup in () if into else setups:
            catalogue.keep(casebook, setup)
        for track, _ in tracks:
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
        laid={track.track.name: track.laid for track, _ in tracks},
        passages=[one.proposal for one in played],
        mended=mended,
        sheet=sheet,
        check=check,
        plan=draft(casebook, filled),
    )


@dataclass(frozen=True)
class _Played:
    """A proposal, the passage that it has become, and what was prepared of it."""

    proposal: ProposedPassage
    passage: Passage
    prepared: Prepared


@dataclass(frozen=True)
class _Work:
    """The way from pairs to what will be played: each step of each track is begun as soon as what it needs is there.

    Results are taken in the order in which one process would have come to them, so that they are the same.
    """

    casebook: Casebook
    setups: tuple[Setup, Setup]
    around_s: Mapping[str, Sequence[float]]
    lags_s: Mapping[str, float]
    choose: Choose
    again: str
    progress: Callable[[str], None]
    submit: parallel.Submit
    left_out: list[LeftOut]
    begun: dict[ProposedPassage, Callable[[], _Played]] = field(default_factory=dict)
    names: list[str] = field(default_factory=list)

    def laid(self, pairs: Sequence[pairing.Pair]) -> list[tuple[TrackPair, Proposals]]:
        """The pairs that can be compared, laid against one another, and their proposals, which are on their way."""
        looking = [(pair, self._begin(self._look, pair)) for pair in pairs]
        all_played = len(pairs) + sum(map(len, self.around_s.values())) <= MOST_PASSAGES

        def look(one: tuple[pairing.Pair, Callable[[], Looked]]) -> tuple[TrackPair, Proposals]:
            pair, looked_at = one
            self.progress(f"laying the recordings of {pair.name} against one another, and looking where they differ …")
            looked = looked_at()
            said_s = self.lags_s.get(looked.pair.track.name)
            if looked.pair.laid.settled:
                if said_s is not None:
                    track_alignment.chosen(looked.pair.laid, said_s, looked.pair.paths)
                if all_played and isinstance(looked.proposals, list):
                    self._begin_playing([(looked.pair, part) for part in looked.proposals])
                return looked.pair, partial(_given, looked.proposals)
            track = settled(looked.pair, pair, self.choose if said_s is None else lambda _: said_s, self.again)
            return track, self.submit(track_pair.proposals, (track, self._moments(track.track)))

        return self._fitting(looking, lambda one: one[0].name, look)

    def played(self, tracks: Sequence[tuple[TrackPair, Proposals]]) -> list[_Played]:
        """The first of the proposals that can be played, mended, matched and checked.

        `MOST_PASSAGES` of them or, with as many marked, one more than those: both kinds are heard.
        """

        def propose(both: tuple[TrackPair, Proposals]) -> list[tuple[TrackPair, ProposedPassage]]:
            track, proposed = both
            parts = [(track, part) for part in proposed()]
            lacking = track.lacking(self._moments(track.track))  # the rest of the track is good without them
            self.left_out.extend(LeftOut(track.track.name, why, whole=False) for why in lacking.values())
            return parts

        found = self._fitting(tracks, lambda both: both[0].track.name, propose)
        parts = _spread([each for one in found for each in one])
        most = max(MOST_PASSAGES, 1 + sum(bool(part.marks_s) for _, part in parts))

        def play(each: tuple[TrackPair, ProposedPassage]) -> _Played:
            self.progress(f"mending, matching and checking the passage of {each[0].track.name} …")
            return self.begun[each[1]]()

        played: list[_Played] = []
        while parts and (wanted := most - len(played)) > 0:
            next_ones, parts = parts[:wanted], parts[wanted:]
            self._begin_playing(next_ones)
            played += self._fitting(next_ones, lambda each: each[0].track.name, play)
        return played

    def _look(self, pair: pairing.Pair) -> Callable[[], Looked]:
        track = catalogue.new_track(self.casebook, track_name(pair.a))
        one, other = (
            recordings.announced(self.casebook, setup, track, path)
            for setup, path in zip(self.setups, (pair.a, pair.b), strict=True)
        )
        return self.submit(track_pair.looked_at, NewPair(track, self.setups, (one, other), self._moments(track)))

    def _moments(self, track: Track) -> tuple[float, ...]:
        return tuple(self.around_s.get(track.name, ()))

    def _begin_playing(self, parts: Sequence[tuple[TrackPair, ProposedPassage]]) -> None:
        for track, part in parts:
            if part not in self.begun:
                self.begun[part] = self._begin(self._play, (track, part))

    def _play(self, each: tuple[TrackPair, ProposedPassage]) -> Callable[[], _Played]:
        track, part = each
        passage = track.named(self.casebook, part, self.names)
        self.names.append(passage.name)
        prepared = self.submit(track_pair.prepared, PassageOfPair(track, passage, self.casebook.prepared))
        return lambda: _Played(part, passage, prepared())

    def _begin(self, work: Callable[[T], Callable[[], R]], thing: T) -> Callable[[], R]:
        """Begin some work; what cannot even be begun is said when it is asked for what came of it."""
        try:
            return work(thing)
        except (AudioError, CatalogueError) as error:
            return partial(_given, error)

    def _fitting(self, things: Iterable[T], name: Callable[[T], str], work: Callable[[T], R]) -> list[R]:
        """What comes of each thing; those that cannot be used are left out, each with its reason."""
        done = []
        for one in things:
            try:
                done.append(work(one))
            except ProcessError:
                raise
            except (AudioError, CatalogueError) as error:
                self.left_out.append(LeftOut(name(one), str(error)))
        return done


def _spread(parts: Sequence[tuple[TrackPair, ProposedPassage]]) -> list[tuple[TrackPair, ProposedPassage]]:
    """The tracks' proposals in the order in which they are taken.

    The marked ones first; then what differs most, of tracks without a mark before others: no track takes all.
    """
    marked = [each for each in parts if each[1].marks_s]
    told = {part.track.id for _, part in marked}
    others = sorted(
        (each for each in parts if not each[1].marks_s),
        key=lambda each: (each[1].track.id in told, -each[1].difference_sone),
    )
    return marked + others


def _given(answer: R | Exception) -> R:
    if isinstance(answer, Exception):
        raise answer
    return answer


def settled(track: TrackPair, pair: pairing.Pair, choose: Choose, again: str) -> TrackPair:
    """A pair that fits at several lags as well, with the one that was chosen.

    Raises
    ------
    CatalogueError
        If none was, or they hold other performances.
    """
    laid = track.laid
    asked = track_alignment.question(track.track.name, track.sources[1].setup.name, laid)
    if asked is not None:
        lag_s = choose(asked)
        if lag_s is None:
            raise CatalogueError(f"{asked.sentence}; choose: {again} {asked.options(asked.track)}")
        laid = track_alignment.chosen(laid, lag_s, track.paths)
    if laid.silent:
        raise CatalogueError(laid.silence(*(source.setup.name for source in track.sources)))
    if not laid.settled:
        alike = 0.0 if laid.best is None else max(laid.best.coherence, 0.0)
        raise CatalogueError(
            f"{pair.a} and {pair.b} do not hold the same performance (coherence {alike:.2f}, at least "
            f"{coherence.SAME:.2f} expected), not even in a piece of {LONE_S:g} s; bring recordings of one take"
        )
    return replace(track, laid=laid)
