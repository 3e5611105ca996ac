"""Two folders of recordings to a plan ready to be sealed: paired, cut, mended, matched, checked, planned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from audio import pairing

from ..casebook import catalogue
from ..casebook.catalogue import Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import match_files, passage_proposals
from ..preparation.recording_folder import audio_files, track_name
from . import drafting, plan_rows
from .plan import Plan

MOST_PASSAGES = 6  # enough variety for an evening, few enough to know each of them


@dataclass(frozen=True)
class Comparison:
    """What was made of two folders: setups, paired tracks, left-overs, evidence, and the plan as it would be sealed."""

    setups: tuple[str, str]
    pairs: list[dict[str, str]]
    left_over: list[str]
    passages: list[passage_proposals.Telling]
    mended: list[dict[str, Any]]
    sheet: dict[str, Any]
    check: dict[str, Any]
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
    told: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Take two folders all the way to a draft plan.

    Parameters
    ----------
    wish
        Method, listener, trials and so on; its setups and passages are filled in here.
    told
        Is told each step, for a progress line.
    """
    told("pairing the recordings …")
    paired = pair_folders(folder_a, folder_b)
    names = setup_names(folder_a, folder_b)
    setups = [
        catalogue.add_setup(casebook, name, f"recordings in {folder}")
        for name, folder in zip(names, (folder_a, folder_b), strict=True)
    ]
    tracks = [_add_track(casebook, setups, found) for found in paired.pairs]
    told("looking for the passages in which they differ most …")
    proposals = [part for track in tracks for part in passage_proposals.suggest(casebook, track, setups, 1)]
    proposals = sorted(proposals, key=lambda part: -part.difference_db)[:MOST_PASSAGES]
    passages = passage_proposals.add(casebook, proposals)
    selection = match_files.Selection(tuple(setups), tuple(passages))
    told("looking for offsets, drift and other giveaways …")
    mended = match_files.mend(casebook, selection)
    told("matching levels …")
    sheet = match_files.make_match_sheet(casebook, selection)
    told("checking what will be played …")
    check = match_files.check_giveaways(casebook, selection)
    filled = replace(wish, setups=names, passages=tuple(passage.name for passage in passages))
    return Comparison(
        setups=names,
        pairs=[{"track": pair.name, "a": str(pair.a), "b": str(pair.b), "by": pair.by} for pair in paired.pairs],
        left_over=[str(path) for path in (*paired.left_a, *paired.left_b)],
        passages=proposals,
        mended=mended,
        sheet=sheet,
        check=check,
        plan=drafting.draft(casebook, filled),
    )


def _add_track(casebook: Casebook, setups: list[Setup], found: pairing.Pair) -> Track:
    track = catalogue.add_track(casebook, track_name(found.a))
    for setup, path in zip(setups, (found.a, found.b), strict=True):
        catalogue.add_recording(casebook, setup, track, path)
    return track
