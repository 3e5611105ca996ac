"""Match sheets of real gear: by microphone at the chair or by voltmeter at the terminals. Casebook in, casebook out.

What was read is kept whole on the sheet, beside the gains that follow; then every passage is prepared with them. What
other meanings of equal would have given is told of the noise at the microphone, or of the music behind the chains.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

from audio import prepare
from audio.engine.recording import Recorder
from audio.levels import zwicker
from audio.levels.weighting import ISO_532
from audio.match import residual
from audio.mend import Mend
from audio.room import calibration_file, reading, trims, voltmeter

from ..casebook import recordings
from ..casebook.catalogue import Passage
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import chair_match, loudness_meanings, match_sheet, passage_audio, prepared_audio, spl_calibration
from .match_evidence import LevelReading, MicrophoneEvidence, PairUncertainty, Readings, VoltmeterEvidence
from .match_sheet import MatchedPassage, MatchedSetup, MatchSheet, Meaning
from .microphone_pass import Led, MicrophoneWish, Moved, Progress, evidence_of, measure, sensitivities_of
from .reading_time import ReadingTime
from .selection import Selection, check_real


@dataclass(frozen=True)
class _Read:
    """What was read of real setups, from which a sheet of any passages follows.

    `levels_by` are the setups' levels with the trims in each measure, where the noise at the microphone tells them;
    `chains` those at each frequency, where a voltmeter read them. Both by the setups' identifiers.
    """

    by: str
    weighting: str
    tolerance_db: float
    readings: Readings
    microphone: MicrophoneEvidence | None = None
    voltmeter: VoltmeterEvidence | None = None
    levels_by: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    chains: Mapping[str, Mapping[float, float]] = field(default_factory=dict)


def by_microphone(
    casebook: Casebook,
    recorder: Recorder,
    selection: Selection,
    wish: MicrophoneWish,
    *,
    moved: Moved,
    led: Led,
    progress: Progress,
) -> MatchSheet:
    """Read every setup at the microphone, trim, read again with the trims, prepare the passages, keep the sheet.

    Raises
    ------
    MeasureError
        If the microphone or a setup does not do what it should; with advice.
    DeviceError
        If a device is absent or stumbles.
    """
    found = check_real(selection)
    if wish.by in ISO_532 or wish.iso_532:
        zwicker.check_installed()
    rate_hz = wish.rate_hz or _music_rate(casebook, selection)
    mic = None if wish.calibration is None else calibration_file.read_calibration(*wish.calibration)
    none = {setup.name: 0.0 for setup in selection.setups}
    turn_s = reading.turn_s(wish.repeatability_db, wish.weighting, rate_hz)
    time = ReadingTime([len(chain.channels) for chain in found], wish.positions, turn_s, progress)
    first = measure(recorder, selection, found, wish, rate_hz, mic, none, first=True, moved=moved, led=led, time=time)
    offset = spl_calibration.offset_db(casebook, first.device, wish.mic)
    before = chair_match.before(first.positions, wish, rate_hz, mic, offset, progress)
    gains = before.gains_db
    progress("reading again with the trims applied …")
    second = measure(
        recorder, selection, found, wish, rate_hz, mic, gains, first=False, moved=moved, led=led, time=time
    )
    after = chair_match.after(second.positions, wish, rate_hz, mic, before, progress)
    evidence = MicrophoneEvidence(
        device=second.device,
        input=wish.mic.channels[0] + 1,
        rate_hz=rate_hz,
        positions=wish.positions,
        noise_dbfs=wish.level_dbfs,
        noise_s=round(turn_s, 3),
        crest_db={kind: round(value, 2) for kind, value in second.crest_db.items()},
        repeatability_db=wish.repeatability_db,
        calibration="none" if wish.calibration is None else f"{wish.calibration[0].name} ({wish.calibration[1]})",
        spl_offset_db=offset,
        arrivals_ms={name: round(value, 3) for name, value in first.arrivals_ms.items()},
        before=evidence_of(first.positions),
        after=evidence_of(second.positions),
        loudness=before.loudness,
    )
    readings = Readings(
        rate_hz=rate_hz,
        levels={
            name: LevelReading(before.levels_db[name], after.levels_db[name], after.channels_db[name]) for name in gains
        },
        gains=gains,
        pairs=tuple(
            PairUncertainty(one.setups, one.uncertainty_db)
            for one in trims.differences(second.positions, wish.weighting)
        ),
        sensitivities=sensitivities_of(first, wish, rate_hz, offset),
    )
    ids = {setup.name: setup.id for setup in selection.setups}
    levels_by = {by: {ids[name]: own for name, own in levels.items()} for by, levels in after.levels_by.items()}
    read = _Read("mic", before.by, wish.tolerance_db, readings, microphone=evidence, levels_by=levels_by)
    return _prepare(casebook, selection, read)


def by_voltmeter(
    casebook: Casebook,
    selection: Selection,
    before: Mapping[str, Mapping[float, voltmeter.Volts]],
    after: Mapping[str, voltmeter.Volts],
    *,
    tolerance_db: float = voltmeter.TOLERANCE_DB,
    rate_hz: int | None = None,
    chair_spl_db: float | None = None,
    iso_532: Sequence[str] = ISO_532,
    progress: Callable[[str], None] = lambda _: None,
) -> MatchSheet:
    """A sheet from voltmeter readings: at several frequencies before, at 1 kHz again with the gains applied.

    Parameters
    ----------
    chair_spl_db
        At which level the loudest passage is taken to play, if the sheet is to tell loudness by ISO 532-1 too.
    iso_532
        Of which of its methods.

    Raises
    ------
    MeasureError
        If readings are missing, or the library for ISO 532-1.
    """
    check_real(selection)
    if chair_spl_db is not None:
        zwicker.check_installed()
    found = voltmeter.chains(before)
    evidence = VoltmeterEvidence(
        volts={name: {f"{freq:g}": read.volts for freq, read in own.items()} for name, own in before.items()},
        volts_after={name: read.volts for name, read in after.items()},
        response_db=found.response_db,
        response_limit_db=voltmeter.RESPONSE_DB,
    )
    readings = Readings(
        rate_hz=rate_hz or _music_rate(casebook, selection),
        levels={
            name: LevelReading(own[voltmeter.MATCH_HZ], voltmeter.decibels(after[name].volts), ())
            for name, own in found.levels_db.items()
        },
        gains=dict(found.gains_db),
        pairs=tuple(
            PairUncertainty((one, other), voltmeter.uncertainty_db(after[one], after[other]))
            for one, other in combinations(found.gains_db, 2)
        ),
        sensitivities={},
    )
    chains = {setup.id: found.levels_db[setup.name] for setup in selection.setups}
    read = _Read("volts", "tone", tolerance_db, readings, voltmeter=evidence, chains=chains)
    return _prepare(casebook, selection, read, chair_spl_db, iso_532, progress)


def further_passages(
    casebook: Casebook,
    selection: Selection,
    chair_spl_db: float | None = None,
    iso_532: Sequence[str] = ISO_532,
    progress: Callable[[str], None] = lambda _: None,
) -> MatchSheet:
    """A new sheet for these passages with the readings of the newest microphone or voltmeter sheet of the setups.

    `chair_spl_db` and `iso_532` are those of `by_voltmeter`; what was told of the noise at a microphone stands.

    Raises
    ------
    CatalogueError
        If there is no such sheet.
    MeasureError
        If the library for ISO 532-1 is wanted and not installed.
    """
    return _prepare(casebook, selection, _newest_read(casebook, selection), chair_spl_db, iso_532, progress)


def match_passage(casebook: Casebook, selection: Selection, passage: Passage, folder: Path) -> MatchedPassage:
    """A passage prepared in `folder` with those readings; no record is written.

    Raises
    ------
    CatalogueError
        If there is no such sheet.
    """
    return _prepare_passage(casebook, selection, passage, _newest_read(casebook, selection), folder)


def read_rate(casebook: Casebook, selection: Selection) -> int:
    """The rate, in Hz, at which the newest sheet of these setups was read, and everything is prepared since.

    Raises
    ------
    CatalogueError
        If there is no such sheet.
    """
    return _newest_read(casebook, selection).readings.rate_hz


def _newest_read(casebook: Casebook, selection: Selection) -> _Read:
    check_real(selection)
    wanted = {setup.id for setup in selection.setups}
    for kept in match_sheet.newest_first(casebook):
        sheet = kept.record
        if sheet.readings is not None and wanted <= set(sheet.setups):
            readings = Readings(
                rate_hz=sheet.readings.rate_hz,
                levels={setup.name: sheet.reading_of(setup.id) for setup in selection.setups},
                gains={setup.name: sheet.trim_of(setup.id) for setup in selection.setups},
                pairs=sheet.readings.pairs,
                sensitivities=sheet.readings.sensitivities,
            )
            return _Read(
                sheet.by,
                sheet.weighting or "",
                sheet.tolerance_lu,
                readings,
                sheet.microphone,
                sheet.voltmeter,
                _levels_by(sheet) if sheet.microphone else {},
                {setup.id: _chain(sheet, setup.id) for setup in selection.setups} if sheet.voltmeter else {},
            )
    raise CatalogueError("no microphone or voltmeter sheet of these setups yet; make one with match mic or match volts")


def _levels_by(sheet: MatchSheet) -> dict[str, dict[str, float]]:
    """What a sheet tells of its setups in each measure, by their identifiers: the same for all of its passages."""
    part = sheet.passages[0]
    ids = [own.id for own in part.setups]
    return {meaning.by: dict(zip(ids, meaning.after_db, strict=True)) for meaning in part.meanings}


def _chain(sheet: MatchSheet, setup_id: str) -> dict[float, float]:
    """What a voltmeter's sheet read of a setup at each frequency, in dB re 1 V."""
    assert sheet.voltmeter is not None
    own = sheet.voltmeter.volts[sheet.name_of(setup_id)]
    return {float(freq): voltmeter.decibels(volts) for freq, volts in own.items()}


def _music_rate(casebook: Casebook, selection: Selection) -> int:
    found = [recordings.of(casebook, selection.setups[0], passage.track_id) for passage in selection.passages]
    return max(recorded.rate_hz for recorded in found)


def _prepare(
    casebook: Casebook,
    selection: Selection,
    read: _Read,
    chair_spl_db: float | None = None,
    iso_532: Sequence[str] = ISO_532,
    progress: Callable[[str], None] = lambda _: None,
) -> MatchSheet:
    """Prepare every passage with the gains, tell what other meanings would have given, and keep the sheet."""
    sheet = MatchSheet(
        by=read.by,
        tolerance_lu=read.tolerance_db,
        passages=tuple(
            _prepare_passage(casebook, selection, passage, read, casebook.prepared) for passage in selection.passages
        ),
        weighting=read.weighting,
        setups=tuple(setup.id for setup in selection.setups),
        microphone=read.microphone,
        voltmeter=read.voltmeter,
        readings=read.readings,
    )
    if read.chains:
        sheet = loudness_meanings.behind_chains(sheet, casebook.prepared, read.chains, chair_spl_db, iso_532, progress)
    match_sheet.keep(casebook, sheet)
    return sheet


def _prepare_passage(
    casebook: Casebook, selection: Selection, passage: Passage, read: _Read, folder: Path
) -> MatchedPassage:
    """The passage of the music as each setup plays it: with its delay and gain, on as many channels as it has."""
    readings = read.readings
    chains = dict(zip(selection.setups, check_real(selection), strict=True))
    delays = {setup.id: Mend(delay_s=-chain.delay_us / 1e6) for setup, chain in chains.items()}
    sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
    clips = passage_audio.cut(sources, passage, delays, readings.rate_hz)
    clips = {
        s.name: passage_audio.on_channels(clips[s.name], len(chain.channels), s.name) for s, chain in chains.items()
    }
    with prepared_audio.fresh_folder(folder) as fresh:
        applied, made = prepare.prepare_with_gains(passage.name, clips, readings.gains, fresh, seed=passage.id.encode())
        paths = prepared_audio.moved_in(made, folder)
    own = [(setup, paths[setup.name], readings.levels[setup.name]) for setup in selection.setups]
    return MatchedPassage(
        passage=passage.name,
        residual_lu=residual({setup.id: level.after_db for setup, _, level in own}),
        channel_residual_lu=None,
        uncertainty_lu=max(pair.uncertainty_lu for pair in readings.pairs),
        pairs=readings.pairs,
        setups=tuple(
            MatchedSetup(
                setup=setup.name,
                loudness_lufs=prepare.loudness_lufs(path) - applied[setup.name],
                gain_db=applied[setup.name],
                after_lufs=prepare.loudness_lufs(path),
                true_peak_dbtp=prepare.peak_dbtp(path),
                level_db=level.before_db,
                after_level_db=level.after_db,
                channel_after_db=level.channels_db,
                chair_dba=_at_chair(path, readings.sensitivities.get(setup.name)),
                channel_gains_db=level.channels_db if len(level.channels_db) > 1 else None,
                id=setup.id,
            )
            for setup, path, level in own
        ),
        prepared=prepared_audio.stated(passage, sources, {}, clips, paths),
        meanings=tuple(
            Meaning(by, tuple(levels[setup.id] for setup in selection.setups)) for by, levels in read.levels_by.items()
        ),
    )


def _at_chair(path: Path, sensitivity_db: float | None) -> float | None:
    """The passage's level at the chair in dBA, where the microphone was calibrated."""
    return None if sensitivity_db is None else prepare.a_level_dbfs(path) + sensitivity_db
