"""Two folders of recordings to a plan ready to be sealed: paired, cut, mended, matched, checked, planned."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audio import pairing, parallel, track_time

from ..casebook import catalogue
from ..casebook import left_out as noted
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Setup
from ..casebook.left_out import LeftOut
from ..casebook.near_names import unknown
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_sheet, mends
from ..preparation.giveaway_check import POLARITY, Giveaway, GiveawayCheck
from ..preparation.match_sheet import DEFAULT_TOLERANCE_LU, MatchSheet
from ..preparation.mends import PassageMend
from ..preparation.proposed_passage import ProposedPassage
from ..preparation.recording_folder import audio_files, track_name
from ..preparation.selection import Selection
from . import drafting, plan_rows
from .pair_work import Choose, PairWork, Played
from .plan import Plan

OTHER_TAKE = "performance"  # the kind of giveaway that no reason makes comparable
GIVES_AWAY = "what would be played gives a setup away: "


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

    @property
    def not_played(self) -> list[str]:
        """The tracks that fit and of which no passage is played, since there are enough of others."""
        out = {one.track for one in self.left_out if one.whole} | {part.track.name for part in self.passages}
        return [name for name in self.laid if name not in out]


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


def _telling(one: Played, wish: plan_rows.Wish) -> list[Giveaway]:
    """What of a passage gives a setup away, and nobody accepted."""
    accepted = {kind for kind, _ in wish.accepted}
    return [found for found in one.prepared.found if found.kind not in accepted]


def _given_away(
    of_track: Sequence[tuple[ProposedPassage, Sequence[Giveaway]]], besides: Sequence[str], again: str
) -> LeftOut:
    """That what would be played of a track gives a setup away: where, by what, and the commands that play it yet.

    `besides` is what else is said of the track. Of each passage its place is told, since the track has none in the
    casebook, and what is found in it is placed from its beginning.
    """
    told = [
        f"in the passage from {track_time.told(part.start_s, 1)} to {track_time.told(part.end_s, 1)}, "
        f"{'; '.join(giveaway.what for giveaway in found)}"
        for part, found in of_track
    ]
    every = [giveaway for _, found in of_track for giveaway in found]
    kinds = dict.fromkeys(giveaway.kind for giveaway in every)
    why = [f"{GIVES_AWAY}{'; '.join(told)}", *besides]
    if any(giveaway.kind == POLARITY and giveaway.mendable for giveaway in every):
        why.append(f"to have its polarity turned round: {again} --polarity")
    if OTHER_TAKE not in kinds:
        accept = " ".join(f"--accept {kind}=WHY" for kind in kinds)
        why.append(f"to hear it all the same, with your reason in place of WHY: {again} {accept}")
    return LeftOut(of_track[0][0].track.name, "; ".join(why))


def _once_a_track(left_out: Sequence[LeftOut]) -> list[LeftOut]:
    """One entry for each track, with all that is said of it."""
    by_track: dict[str, list[LeftOut]] = {}
    for one in left_out:
        by_track.setdefault(one.track, []).append(one)
    return [
        LeftOut(track, "; ".join(dict.fromkeys(one.why for one in own)), any(one.whole for one in own))
        for track, own in by_track.items()
    ]


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
    polarity: bool = False,
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
    polarity
        Whether inverted polarity is turned round as well.
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
        work = PairWork(casebook, setups, around_s, lags_s, choose, again, progress, submit, left_out, polarity)
        tracks = work.laid(paired.pairs)
        played = work.played(tracks, lambda one: not _telling(one, wish))
    if not played:
        raise CatalogueError(
            "no pair of recordings can be compared: "
            + "; ".join(f"{one.track}: {one.why}" for one in _once_a_track(left_out))
        )
    clean = [one for one in played if not _telling(one, wish)]
    if clean:  # else it is something about the setups, which is for people to decide
        for name in dict.fromkeys(one.proposal.track.name for one in played if one not in clean):
            poor = [one for one in played if one not in clean and one.proposal.track.name == name]
            poor.sort(key=lambda one: one.proposal.start_s)
            besides = [one.why for one in left_out if one.track == name]
            left_out = [one for one in left_out if one.track != name]
            left_out.append(_given_away([(one.proposal, _telling(one, wish)) for one in poor], besides, again))
        played = clean
    gone = {one.track for one in left_out if one.whole} - {one.proposal.track.name for one in played}
    tracks = [one for one in tracks if one[0].track.name not in gone]
    left_out = [replace(one, whole=one.whole and one.track in gone) for one in _once_a_track(left_out)]
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
        looked_at = [track_name(pair.a) for pair in paired.pairs]
        noted.keep(casebook, (setups[0].id, setups[1].id), looked_at, left_out, again)
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
