"""What other meanings of equal would have given, measured after a sheet was made: by ISO 532-1, and behind chains.

Files in, sheets out; it keeps nothing. ISO 532-1 is slow: `audio.levels.zwicker` says what it costs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from audio.clip import Clip
from audio.files import reading
from audio.levels.loudness_levels import levels_db
from audio.levels.weighting import BY, By, at, full_scale_spl_db, level_db
from audio.room import voltmeter

from .match_sheet import MatchedPassage, MatchSheet, Meaning


def with_iso_532(
    sheet: MatchSheet, folder: Path, full_scale_spl: int, methods: Sequence[str], progress: Callable[[str], None]
) -> MatchSheet:
    """A sheet of recordings with what methods of ISO 532-1 find in its files, full scale (RMS) at so many dB SPL.

    A method in which a setup is too quiet to be heard tells nothing.

    Raises
    ------
    MeasureError
        If the library is not installed.
    """
    passages = []
    for number, part in enumerate(sheet.passages, 1):
        progress(f"passage {number} of {len(sheet.passages)}: loudness by ISO 532-1 of {part.passage} …")
        told = {meaning.by for meaning in part.meanings}
        missing = [by for by in iso_532_at(full_scale_spl, methods) if by not in told]
        passages.append(replace(part, meanings=part.meanings + in_measures(_files(part, folder), missing)))
    return replace(sheet, passages=tuple(passages))


def behind_chains(
    sheet: MatchSheet,
    folder: Path,
    chains: Mapping[str, Mapping[float, float]],
    chair_spl_db: float | None,
    methods: Sequence[str],
    progress: Callable[[str], None],
) -> MatchSheet:
    """A voltmeter's sheet with what each measure finds in the music behind the chains, beside the voltage itself.

    Parameters
    ----------
    chains
        The level of each setup (its identifier) at the frequencies read, dB re 1 V.
    chair_spl_db
        At which level the loudest passage is taken to play, for ISO 532-1; None leaves that out.
    methods
        Those of ISO 532-1 that are told.

    Raises
    ------
    MeasureError
        If ISO 532-1 is wanted and its library is not installed.
    """
    passages, loudest = [], []
    for part in sheet.passages:
        read = Meaning(sheet.by, tuple(own.after_level_db for own in part.setups))
        others = in_measures(_behind(part, folder, chains), BY)
        loudest += [min(meaning.after_db) for meaning in others if meaning.by == "bs1770"]
        passages.append(replace(part, meanings=(read, *others)))
    if chair_spl_db is not None and loudest:
        measures = iso_532_at(round(chair_spl_db - max(loudest)), methods)
        for number, part in enumerate(passages):
            progress(f"passage {number + 1} of {len(passages)}: loudness by ISO 532-1 of {part.passage} …")
            found = in_measures(_behind(part, folder, chains), measures)
            passages[number] = replace(part, meanings=part.meanings + found)
    return replace(sheet, passages=tuple(passages))


def iso_532_at(full_scale_spl: int, methods: Sequence[str]) -> list[By]:
    """Methods of ISO 532-1, full scale (RMS) taken to play at so many dB SPL."""
    return [at(method, full_scale_spl) for method in methods]


def in_measures(clips: Mapping[str, Clip], measures: Sequence[By]) -> tuple[Meaning, ...]:
    """How loud clips are in each measure in which all of them are heard."""
    found = []
    for by in measures:
        levels = _levels(clips, by)
        found += [] if levels is None else [Meaning(by, tuple(levels))]
    return tuple(found)


def _levels(clips: Mapping[str, Clip], by: By) -> list[float] | None:
    if full_scale_spl_db(by) is not None:
        heard = levels_db(clips, by)
        return None if heard is None else list(heard.values())
    known = [level for level in (level_db(clip, by) for clip in clips.values()) if level is not None]
    return known if len(known) == len(clips) else None


def _files(part: MatchedPassage, folder: Path) -> dict[str, Clip]:
    return {file.setup: reading.read(folder / file.file) for file in part.prepared.setups}


def _behind(part: MatchedPassage, folder: Path, chains: Mapping[str, Mapping[float, float]]) -> dict[str, Clip]:
    return {setup: voltmeter.behind_chain(clip, chains[setup]) for setup, clip in _files(part, folder).items()}
