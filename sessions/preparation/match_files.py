"""Matching recordings: equal loudness by attenuation, the audio prepared, measured again, and kept as a sheet."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import asdict
from itertools import combinations
from pathlib import Path

from audio import pairing, prepare
from audio.clip import Clip
from audio.giveaways import gain_course, level_cues, wiring
from audio.giveaways.level_cues import Balance
from audio.levels import zwicker
from audio.levels.weighting import ISO_532, By, at, full_scale_spl_db, is_measure, level_db
from audio.mend import Mend

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.documents import Kept
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import loudness_meanings, match_sheet, mends, passage_audio, prepared_audio, track_alignment
from .channel_balance import PairBalance
from .match_evidence import PairUncertainty
from .match_sheet import DEFAULT_TOLERANCE_LU, MatchedPassage, MatchedSetup, MatchSheet, Meaning, PreparedPassage
from .passage_audio import NO_MEND, Source
from .selection import Selection, check_recordings


def make_match_sheet(
    casebook: Casebook,
    selection: Selection,
    *,
    by: By = "bs1770",
    tolerance_lu: float = DEFAULT_TOLERANCE_LU,
    rate_hz: int | None = None,
    chair_spl_db: float = 75.0,
    iso_532: Sequence[str] = (),
    full_scale_spl: int | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> MatchSheet:
    """Match the setups on every passage, prepare the audio, measure it again, and keep the sheet.

    Parameters
    ----------
    by
        A measure of clips, or a method of ISO 532-1: then the level of full scale follows from `chair_spl_db`.
    chair_spl_db
        At which level, dB SPL, the loudest of the passages is taken to play at the chair, of its quietest setup.
    iso_532
        Of which methods of ISO 532-1 the sheet tells what they would have given too; N5 is slow
        (`audio.levels.zwicker`).
    full_scale_spl
        At which dB SPL full scale is taken to play for that; None: as `by` states it, or by `chair_spl_db`.
    progress
        Called with each step, for a progress line.

    Raises
    ------
    CatalogueError
        If a setup is real gear.
    MeasureError
        If the library for ISO 532-1 is not installed.
    """
    check_recordings(selection, "match files")
    method = by.partition("@")[0]
    if method in ISO_532 or iso_532:
        zwicker.check_installed()
    track_alignment.ensure(casebook, [passage.track_id for passage in selection.passages])
    if by in ISO_532:
        by = at(method, round(chair_spl_db - _loudest_dbfs(casebook, selection, rate_hz)))
    matched = []
    for number, passage in enumerate(selection.passages, 1):
        progress(f"passage {number} of {len(selection.passages)}: matching {passage.name} …")
        sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
        repairs = mends.in_force(casebook, selection.setups, passage)
        matched.append(match_passage(passage, sources, repairs, casebook.prepared, by=by, rate_hz=rate_hz))
    sheet = MatchSheet(by, tolerance_lu, tuple(matched))
    if iso_532:
        loudest_lufs = max(min(own.loudness_lufs for own in part.setups) for part in matched)
        spl_db = full_scale_spl or full_scale_spl_db(by) or chair_spl_db - loudest_lufs
        sheet = loudness_meanings.with_iso_532(sheet, casebook.prepared, round(spl_db), iso_532, progress)
    match_sheet.keep(casebook, sheet)
    return sheet


def _loudest_dbfs(casebook: Casebook, selection: Selection, rate_hz: int | None) -> float:
    """The level of the loudest passage, of its quietest setup, as BS.1770 hears it."""
    found = []
    for passage in selection.passages:
        sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
        repairs = mends.in_force(casebook, selection.setups, passage)
        levels = [level_db(clip, "bs1770") for clip in passage_audio.cut(sources, passage, repairs, rate_hz).values()]
        found.append(min((level for level in levels if level is not None), default=0.0))
    return max(found)


def kept_rate(casebook: Casebook, selection: Selection) -> int | None:
    """The rate, in Hz, that was chosen when some of these setups were matched last; None where their own was taken.

    It was chosen for the device that will play them.
    """
    setups = {setup.id for setup in selection.setups}
    tracks = {passage.id: passage.track_id for passage in catalogue.everything(casebook, Passage)}
    for kept in match_sheet.newest_first(casebook):
        parts = [part.prepared for part in kept.record.passages]
        parts = [one for one in parts if len(setups & {file.setup for file in one.setups}) > 1]
        if parts and kept.record.readings is None:
            prepared_hz = {one.rate_hz for one in parts}
            own_hz = {_own_rate(casebook, tracks[one.passage], one) for one in parts if one.passage in tracks}
            return prepared_hz.pop() if len(prepared_hz) == 1 and own_hz and own_hz != prepared_hz else None
    return None


def _own_rate(casebook: Casebook, track_id: str, one: PreparedPassage) -> int:
    """The rate at which a passage is prepared where none is asked for: the highest of its recordings."""
    of_track = recordings.of_track(casebook, catalogue.find(casebook, Track, track_id))
    return max(each.rate_hz for each in of_track if each.setup_id in {file.setup for file in one.setups})


def match_again(casebook: Casebook, selection: Selection, sheet: MatchSheet) -> MatchSheet:
    """A new sheet by the measure, the tolerance and (where it had one for all) the rate of an older one.

    It tells loudness by the methods of ISO 532-1 of which the older one did, where it can.
    """
    beside = [one.by for part in sheet.passages for one in part.meanings if one.by != sheet.by]
    heard_at = next((level for level in map(full_scale_spl_db, beside) if level is not None), None)
    methods = {one.partition("@")[0] for one in beside}
    rates_hz = {part.prepared.rate_hz for part in sheet.passages}
    return make_match_sheet(
        casebook,
        selection,
        by=measure_of(sheet),
        tolerance_lu=sheet.tolerance_lu,
        rate_hz=rates_hz.pop() if len(rates_hz) == 1 else None,
        iso_532=[one for one in ISO_532 if one in methods] if zwicker.is_installed() else [],
        full_scale_spl=None if heard_at is None else round(heard_at),
    )


def match_mended(
    casebook: Casebook,
    selection: Selection,
    mended: Collection[tuple[str, str]] = (),
    progress: Callable[[str], None] = lambda _: None,
) -> list[MatchSheet]:
    """New sheets in place of those whose files were prepared before a mend of the selection, now or in an earlier run.

    Of each setup and passage the newest sheet counts, and of each passage the newest with all these setups; it is
    matched again as a whole, so that a plan finds in one sheet what it found in one before. Only passages outside the
    selection whose recordings are gone or changed are left out.

    Parameters
    ----------
    mended
        The setups and passages that were mended just now, by identifier.
    progress
        Called with what is left out, and why.
    """
    sheets, left, of_all, made = list(match_sheet.newest_first(casebook)), set(mended), set(), []
    ids = [setup.id for setup in selection.setups]
    for passage in selection.passages:
        left |= _outdated(casebook, passage, selection.setups, sheets)
        newest = [kept for kept in sheets if kept.record.covers(ids, [passage.id])][:1]
        if _outdated(casebook, passage, selection.setups, newest):
            of_all.add(newest[0].seq)
    for kept in sheets:
        held = {(file.setup, part.prepared.passage) for part in kept.record.passages for file in part.prepared.setups}
        if left & held or kept.seq in of_all:
            left -= held
            there = _readable(casebook, still_there(casebook, kept.record), selection, progress)
            if len(there.setups) > 1 and there.passages:
                made.append((there, kept.record))
    return [match_again(casebook, *one) for one in reversed(made)]


def _outdated(
    casebook: Casebook, passage: Passage, setups: Sequence[Setup], sheets: Iterable[Kept[MatchSheet]]
) -> set[tuple[str, str]]:
    """The setups whose newest prepared files of a passage were made before a mend, each with the passage."""
    repairs = mends.in_force(casebook, setups, passage)
    newest: dict[str, Mend] = {}
    for part in (kept.record.passage(passage.id) for kept in sheets):
        for file in part.prepared.setups if part else ():
            newest.setdefault(file.setup, file.mend)
    used = {setup.id: repairs.get(setup.id, NO_MEND) for setup in setups}
    return {(own, passage.id) for own, repair in used.items() if newest.get(own, repair) != repair}


def _readable(casebook: Casebook, whole: Selection, selection: Selection, progress: Callable[[str], None]) -> Selection:
    """What of a sheet's selection can be prepared now; what is asked for stays, so that it is refused by name."""
    passages = []
    for passage in whole.passages:
        try:
            if passage not in selection.passages:
                for source in passage_audio.sources_of(casebook, whole.setups, passage.track_id):
                    recordings.check_unchanged(source.path, source.recording, source.setup)
        except CatalogueError as error:
            progress(f"{passage.name} is not matched again: {error}")
            continue
        passages.append(passage)
    return Selection(whole.setups, tuple(passages))


def still_there(casebook: Casebook, sheet: MatchSheet) -> Selection:
    """What a sheet matched, as far as it is in the casebook."""
    passages = {part.prepared.passage for part in sheet.passages}
    setups = {file.setup for part in sheet.passages for file in part.prepared.setups}
    return Selection(
        tuple(one for one in catalogue.everything(casebook, Setup) if one.id in setups),
        tuple(one for one in catalogue.everything(casebook, Passage) if one.id in passages),
    )


def measure_of(sheet: MatchSheet | None) -> By:
    """The measure that files were matched by; BS.1770 where they were not."""
    return sheet.by if sheet is not None and is_measure(sheet.by) else "bs1770"


def measure_last_used(casebook: Casebook, setup_ids: Collection[str]) -> By:
    """The measure of the newest sheet that holds all of these setups; BS.1770 where there is none."""
    wanted, sheets = set(setup_ids), (kept.record for kept in match_sheet.newest_first(casebook))
    last = next((one for one in sheets if wanted <= {own.id for part in one.passages for own in part.setups}), None)
    return measure_of(last)


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
    read = _balances(clips)
    gains = _channel_gains_db(clips, read)
    channels = {own.setup: own.channel_after_db for own in found.setups}
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
        meanings=tuple(
            Meaning(measure, tuple(levels[own.setup] for own in found.setups))
            for measure, levels in found.after_by.items()
        ),
        balances=tuple(
            PairBalance(
                pair,
                balance.told_db if balance.is_judged else None,
                balance.hides_db,
                _apart_db(*(channels[name] for name in pair)),
            )
            for pair, balance in read.items()
        ),
    )


def _balances(clips: Mapping[str, Clip]) -> dict[tuple[str, str], Balance]:
    """The balance of the second of each two setups against the first's, where both have the same several channels."""
    found = {}
    for one, other in combinations(clips, 2):
        alike = clips[one].channels == clips[other].channels
        pair = clips[one], clips[other]
        balance = level_cues.balance_as_found(*pair, gain_course.both(*pair)) if alike else None
        if balance is not None and not balance.is_judged:  # exchanged, the bands agree in nothing: asked put right
            balance = _put_right(*pair) or balance
        if balance is not None:
            found[one, other] = balance
    return found


def _put_right(reference: Clip, other: Clip) -> Balance | None:
    """The balance of the second with its channels as the first has them; None where they are not exchanged."""
    wired = wiring.wiring(reference, other)
    if wired is None or not level_cues.exchanged(reference, other, wired):
        return None
    right = wiring.put_right(other, wired)
    return level_cues.balance_as_found(reference, right, gain_course.both(reference, right))


def _channel_gains_db(
    clips: Mapping[str, Clip], read: Mapping[tuple[str, str], Balance]
) -> dict[str, tuple[float, ...] | None]:
    """How much louder each channel of each is than the first one's; None: no meaning, or not judged."""
    first, *others = clips
    found: dict[str, tuple[float, ...] | None] = {first: None}
    if any(pair[0] == first for pair in read):
        found[first] = (0.0,) * clips[first].channels
    for name in others:
        balance = read.get((first, name))
        found[name] = balance.change_db if balance is not None and balance.is_judged else None
    return found


def _apart_db(one: Sequence[float | None], other: Sequence[float | None]) -> float | None:
    """How differently much louder the channels of the other are; None where one is silent."""
    louder = [b - a for a, b in zip(one, other, strict=True) if a is not None and b is not None]
    return max(louder) - min(louder) if len(louder) == len(one) else None


def _check_same_music(passage: Passage, clips: Mapping[str, Clip]) -> None:
    reference, *others = clips
    for name in others:
        likeness = pairing.same_music(clips[reference], clips[name])
        if likeness < pairing.SAME_MUSIC and not pairing.same_performance(clips[reference], clips[name]):
            raise CatalogueError(
                f"passage {passage.name!r}: {reference!r} and {name!r} do not play the same music "
                f"(likeness {likeness:.2f}, at least {pairing.SAME_MUSIC:.2f} expected); check the files of that track"
            )
