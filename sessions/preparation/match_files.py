"""Matching recordings: equal loudness by attenuation, the audio prepared, measured again, and kept as a sheet."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict
from math import isfinite
from pathlib import Path

from audio import pairing, prepare
from audio.clip import Clip
from audio.giveaways import level_cues
from audio.levels.weighting import BY, By
from audio.mend import Mend

from ..casebook import catalogue
from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import match_sheet, mends, passage_audio, prepared_audio, track_alignment
from .match_evidence import PairUncertainty
from .match_sheet import DEFAULT_TOLERANCE_LU, MatchedPassage, MatchedSetup, MatchSheet
from .passage_audio import Source
from .selection import Selection, check_recordings


def make_match_sheet(
    casebook: Casebook,
    selection: Selection,
    *,
    by: By = "bs1770",
    tolerance_lu: float = DEFAULT_TOLERANCE_LU,
    rate_hz: int | None = None,
) -> MatchSheet:
    """Match the setups on every passage, prepare the audio, measure it again, and keep the sheet.

    Raises
    ------
    CatalogueError
        If a setup is real gear.
    """
    check_recordings(selection, "match files")
    track_alignment.ensure(casebook, [passage.track_id for passage in selection.passages])
    matched = []
    for passage in selection.passages:
        sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
        repairs = mends.in_force(casebook, selection.setups, passage)
        matched.append(match_passage(passage, sources, repairs, casebook.prepared, by=by, rate_hz=rate_hz))
    sheet = MatchSheet(by, tolerance_lu, tuple(matched))
    match_sheet.keep(casebook, sheet)
    return sheet


def match_again(casebook: Casebook, selection: Selection, sheet: MatchSheet) -> MatchSheet:
    """A new sheet by the measure and tolerance of an older one."""
    return make_match_sheet(casebook, selection, by=measure_of(sheet), tolerance_lu=sheet.tolerance_lu)


def match_mended(casebook: Casebook, mended: Collection[tuple[str, str]]) -> list[MatchSheet]:
    """New sheets in place of those whose files were prepared before a mend of these setups and passages.

    Of each setup and passage the newest sheet counts; it is matched again as a whole, so that a plan finds in one sheet
    what it found in one before.
    """
    left, made = set(mended), []
    for kept in match_sheet.newest_first(casebook):
        if not left:
            break
        held = {(file.setup, part.prepared.passage) for part in kept.record.passages for file in part.prepared.setups}
        if left & held:
            left -= held
            selection = _still_there(casebook, kept.record)
            if len(selection.setups) > 1 and selection.passages:
                made.append((selection, kept.record))
    return [match_again(casebook, *one) for one in reversed(made)]


def _still_there(casebook: Casebook, sheet: MatchSheet) -> Selection:
    """What a sheet matched, as far as it is in the casebook."""
    passages = {part.prepared.passage for part in sheet.passages}
    setups = {file.setup for part in sheet.passages for file in part.prepared.setups}
    return Selection(
        tuple(one for one in catalogue.everything(casebook, Setup) if one.id in setups),
        tuple(one for one in catalogue.everything(casebook, Passage) if one.id in passages),
    )


def measure_of(sheet: MatchSheet | None) -> By:
    """The measure that files were matched by; BS.1770 where they were not."""
    return next((by for by in BY if sheet is not None and sheet.by == by), "bs1770")


def match_passage(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    folder: Path,
    *,
    by: By = "bs1770",
    rate_hz: int | None = None,
) -> MatchedPassage:
    """One passage matched, prepared in `folder` and measured again; no record is written.

    Raises
    ------
    CatalogueError
        If a file was changed since it was added, or two do not play the same music.
    """
    clips = passage_audio.cut(sources, passage, repairs, rate_hz)
    return match_clips(passage, sources, repairs, clips, folder, by=by)


def match_clips(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    clips: Mapping[str, Clip],
    folder: Path,
    *,
    by: By = "bs1770",
) -> MatchedPassage:
    """As `match_passage`, of clips that are cut already, by the setups' names."""
    _check_same_music(passage, clips)
    with prepared_audio.fresh_folder(folder) as fresh:
        found, made = prepare.prepare(passage.name, clips, fresh, by=by, seed=passage.id.encode())
        paths = prepared_audio.moved_in(made, folder)
    gains = _channel_gains_db(clips)
    return MatchedPassage(
        passage=passage.name,
        residual_lu=found.residual_lu,
        channel_residual_lu=found.channel_residual_lu,
        uncertainty_lu=found.uncertainty_lu,
        pairs=tuple(PairUncertainty(pair, value) for pair, value in found.uncertainties_lu.items()),
        setups=tuple(
            MatchedSetup(**asdict(own), id=source.setup.id, channel_gains_db=gains[source.setup.name])
            for own, source in zip(found.setups, sources, strict=True)
        ),
        prepared=prepared_audio.stated(passage, sources, repairs, clips, paths),
    )


def _channel_gains_db(clips: Mapping[str, Clip]) -> dict[str, tuple[float, ...] | None]:
    """How much louder each channel of each is than the first one's, as far as its bands bear out; None: no meaning."""
    first = next(iter(clips.values()))
    found = {}
    for name, clip in clips.items():
        alike = clip.channels == first.channels and clip.channels > 1
        change = level_cues.balance_db(first, clip) if alike else None
        known = change is not None and all(isfinite(value) for value in change)
        found[name] = tuple(float(value) for value in change) if change is not None and known else None
    return found


def _check_same_music(passage: Passage, clips: Mapping[str, Clip]) -> None:
    reference, *others = clips
    for name in others:
        likeness = pairing.same_music(clips[reference], clips[name])
        if likeness < pairing.SAME_MUSIC and not pairing.same_performance(clips[reference], clips[name]):
            raise CatalogueError(
                f"passage {passage.name!r}: {reference!r} and {name!r} do not play the same music "
                f"(likeness {likeness:.2f}, at least {pairing.SAME_MUSIC:.2f} expected); check the files of that track"
            )
