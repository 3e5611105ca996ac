"""Match sheets of real gear: by microphone at the chair or by voltmeter at the terminals. Casebook in, casebook out.

What was read is kept whole on the sheet, beside the gains that follow; then every passage is prepared with them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from audio import prepare
from audio.clip import Clip
from audio.engine.recording import Recorder
from audio.engine.routes import Route
from audio.mend import Mend, read_mended
from audio.room import microphone, reading, trims, voltmeter

from ..casebook import catalogue, playback_chain
from ..casebook.catalogue import Passage, Recording
from ..casebook.playback_chain import PlaybackChain
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import match_files
from .match_files import Selection
from .microphone_pass import Led, MicrophoneWish, Moved, Told, evidence_of, measure, sensitivities_of


def check_real(selection: Selection) -> list[PlaybackChain]:
    """The chains of real setups that can be compared.

    Raises
    ------
    CatalogueError
        If some of them are recordings, or they cannot be compared.
    """
    playback_chain.check_comparable(selection.setups)
    found = [setup.chain for setup in selection.setups if setup.chain is not None]
    if len(found) < len(selection.setups):
        raise CatalogueError(
            "microphone and voltmeter match real gear; these setups are recordings: earwitness match files"
        )
    return found


def by_microphone(
    casebook: Casebook,
    recorder: Recorder,
    selection: Selection,
    wish: MicrophoneWish,
    *,
    moved: Moved,
    led: Led,
    told: Told,
) -> dict[str, Any]:
    """Read every setup at the microphone, trim, read again with the trims, prepare the passages, keep the sheet.

    Raises
    ------
    MeasureError
        If the microphone or a setup does not do what it should; with advice.
    DeviceError
        If a device is absent or stumbles.
    """
    found = check_real(selection)
    rate_hz = wish.rate_hz or _music_rate(casebook, selection)
    mic = None if wish.calibration is None else microphone.read_calibration(*wish.calibration)
    none = {setup.name: 0.0 for setup in selection.setups}
    first = measure(recorder, selection, found, wish, rate_hz, mic, none, first=True, moved=moved, led=led, told=told)
    before = trims.levels(first.positions, wish.by)
    gains = trims.gains_db({name: own.level_db for name, own in before.items()})
    told("reading again with the trims applied …")
    second = measure(
        recorder, selection, found, wish, rate_hz, mic, gains, first=False, moved=moved, led=led, told=told
    )
    offset = spl_offset(casebook, second.device, wish.mic)
    evidence = {
        "device": second.device,
        "input": wish.mic.channels[0] + 1,
        "rate_hz": rate_hz,
        "positions": wish.positions,
        "noise_dbfs": wish.level_dbfs,
        "noise_s": round(reading.turn_s(wish.repeatability_db, wish.by, rate_hz), 3),
        "crest_db": {kind: round(value, 2) for kind, value in second.crest_db.items()},
        "repeatability_db": wish.repeatability_db,
        "calibration": "none" if wish.calibration is None else f"{wish.calibration[0].name} ({wish.calibration[1]})",
        "spl_offset_db": offset,
        "arrivals_ms": {name: round(value, 3) for name, value in first.arrivals_ms.items()},
        "before": evidence_of(first.positions),
        "after": evidence_of(second.positions),
    }
    after = trims.levels(second.positions, wish.by)
    pairs = {
        difference.setups: difference.uncertainty_db for difference in trims.differences(second.positions, wish.by)
    }
    sensitivities = sensitivities_of(first, wish, rate_hz, offset)
    return _keep(
        casebook,
        selection,
        by="mic",
        weighting=wish.by,
        tolerance=wish.tolerance_db,
        rate_hz=rate_hz,
        levels={name: (before[name].level_db, after[name].level_db, after[name].channels_db) for name in gains},
        gains=gains,
        uncertainties=pairs,
        evidence=evidence,
        sensitivities=sensitivities,
    )


def by_voltmeter(
    casebook: Casebook,
    selection: Selection,
    before: Mapping[str, Mapping[float, voltmeter.Volts]],
    after: Mapping[str, voltmeter.Volts],
    *,
    tolerance_db: float = voltmeter.TOLERANCE_DB,
    rate_hz: int | None = None,
) -> dict[str, Any]:
    """A sheet from voltmeter readings: at several frequencies before, at 1 kHz again with the gains applied.

    Raises
    ------
    MeasureError
        If readings are missing.
    """
    check_real(selection)
    found = voltmeter.chains(before)
    at_match = {name: own[voltmeter.MATCH_HZ] for name, own in found.levels_db.items()}
    again = {name: voltmeter.decibels(read.volts) for name, read in after.items()}
    names = list(found.gains_db)
    pairs = {
        (one, other): voltmeter.uncertainty_db(after[one], after[other])
        for place, one in enumerate(names)
        for other in names[place + 1 :]
    }
    evidence = {
        "volts": {name: {f"{freq:g}": read.volts for freq, read in own.items()} for name, own in before.items()},
        "volts_after": {name: read.volts for name, read in after.items()},
        "response_db": found.response_db,
        "response_limit_db": voltmeter.RESPONSE_DB,
    }
    return _keep(
        casebook,
        selection,
        by="volts",
        weighting="tone",
        tolerance=tolerance_db,
        rate_hz=rate_hz or _music_rate(casebook, selection),
        levels={name: (at_match[name], again[name], ()) for name in names},
        gains=dict(found.gains_db),
        uncertainties=pairs,
        evidence=evidence,
        sensitivities={},
    )


def further_passages(casebook: Casebook, selection: Selection) -> dict[str, Any]:
    """A new sheet for these passages with the readings of the newest microphone or voltmeter sheet of the setups.

    Raises
    ------
    CatalogueError
        If there is no such sheet.
    """
    check_real(selection)
    wanted = {setup.id for setup in selection.setups}
    for row in casebook.query("SELECT * FROM match_sheets ORDER BY seq DESC"):
        document = json.loads(row["document"])
        if document["by"] in ("mic", "volts") and wanted <= set(document["setups"]):
            readings = document["readings"]
            names = [setup.name for setup in selection.setups]
            return _keep(
                casebook,
                selection,
                by=document["by"],
                weighting=document["weighting"],
                tolerance=document["tolerance_lu"],
                rate_hz=readings["rate_hz"],
                levels={name: tuple(readings["levels"][name]) for name in names},
                gains={name: readings["gains"][name] for name in names},
                uncertainties={tuple(pair["setups"]): pair["uncertainty_lu"] for pair in readings["pairs"]},
                evidence=document["evidence"],
                sensitivities=readings["sensitivities"],
            )
    raise CatalogueError("no microphone or voltmeter sheet of these setups yet; make one with match mic or match volts")


def spl_offset(casebook: Casebook, device: str, mic: Route) -> float | None:
    """What turns this input's dBFS into dB SPL, by its newest calibration; None where there is none."""
    for row in casebook.query("SELECT document FROM calibrations ORDER BY seq DESC"):
        document = json.loads(row["document"])
        if document["device"] == device and document["input"] == mic.channels[0] + 1:
            return float(document["offset_db"])
    return None


def _music_rate(casebook: Casebook, selection: Selection) -> int:
    rows = [catalogue.recording(casebook, selection.setups[0], passage.track_id) for passage in selection.passages]
    return int(max(row.rate_hz for row in rows))


def _keep(
    casebook: Casebook,
    selection: Selection,
    *,
    by: str,
    weighting: str,
    tolerance: float,
    rate_hz: int,
    levels: Mapping[str, Any],
    gains: Mapping[str, float],
    uncertainties: Mapping[Any, float],
    evidence: Mapping[str, Any],
    sensitivities: Mapping[str, float],
) -> dict[str, Any]:
    """Prepare every passage with the gains, and keep the sheet; its document."""
    from audio.match import residual

    left = residual({name: own[1] for name, own in levels.items()})
    pairs = [{"setups": list(pair), "uncertainty_lu": value} for pair, value in uncertainties.items()]
    parts = []
    for passage in selection.passages:
        clips, sources = _clips(casebook, selection, passage, rate_hz)
        applied, paths = prepare.prepare_with_gains(
            passage.name, clips, gains, casebook.prepared, seed=passage.id.encode()
        )
        first = next(iter(clips.values()))
        parts.append(
            {
                "passage": passage.name,
                "residual_lu": left,
                "channel_residual_lu": None,
                "uncertainty_lu": max(uncertainties.values()),
                "pairs": pairs,
                "setups": [
                    {
                        "setup": name,
                        "loudness_lufs": prepare.loudness_lufs(path) - applied[name],
                        "gain_db": applied[name],
                        "after_lufs": prepare.loudness_lufs(path),
                        "true_peak_dbtp": prepare.peak_dbtp(path),
                        "level_db": levels[name][0],
                        "after_level_db": levels[name][1],
                        "channel_after_db": list(levels[name][2]),
                        "chair_dba": _at_chair(path, sensitivities.get(name)),
                    }
                    for name, path in paths.items()
                ],
                "prepared": {
                    "passage": passage.id,
                    "rate_hz": rate_hz,
                    "frames": first.frames,
                    "setups": [
                        match_files.prepared_setup(setup, sources[setup.name], Mend(), paths[setup.name])
                        for setup in selection.setups
                    ],
                },
            }
        )
    document = {
        "ok": left <= tolerance,
        "tolerance_lu": tolerance,
        "residual_lu": left,
        "by": by,
        "weighting": weighting,
        "setups": [setup.id for setup in selection.setups],
        "passages": parts,
        "evidence": dict(evidence),
        "readings": {
            "rate_hz": rate_hz,
            "levels": {name: list(own) for name, own in levels.items()},
            "gains": dict(gains),
            "pairs": pairs,
            "sensitivities": dict(sensitivities),
        },
    }
    casebook.append("match_sheets", "sheet", {"document": json.dumps(document)})
    return document


def _at_chair(path: Path, sensitivity_db: float | None) -> float | None:
    """The passage's level at the chair in dBA, where the microphone was calibrated."""
    return None if sensitivity_db is None else prepare.a_level_dbfs(path) + sensitivity_db


def _clips(
    casebook: Casebook, selection: Selection, passage: Passage, rate_hz: int
) -> tuple[dict[str, Clip], dict[str, Recording]]:
    """The passage of the music as each setup plays it: with its delay, on as many channels as it has."""
    clips, sources = {}, {}
    for setup, chain in zip(selection.setups, check_real(selection), strict=True):
        source = catalogue.recording(casebook, setup, passage.track_id)
        path = match_files.unchanged(casebook, setup, source)
        clip = read_mended(
            path,
            passage.start_frame,
            passage.frames,
            passage.rate_hz,
            rate_hz,
            Mend(delay_s=-chain.delay_us / 1e6),
        )
        clips[setup.name] = _on_channels(clip, len(chain.channels), setup.name)
        sources[setup.name] = source
    return clips, sources


def _on_channels(clip: Clip, channels: int, setup: str) -> Clip:
    """The music on the channels of a route: one loudspeaker plays the mean of all, a mono file plays on all."""
    import numpy as np

    if clip.channels == channels:
        return clip
    if channels == 1:
        return Clip(clip.samples.mean(axis=1, keepdims=True), clip.rate_hz)
    if clip.channels == 1:
        return Clip(np.repeat(clip.samples, channels, axis=1), clip.rate_hz)
    raise CatalogueError(
        f"the music has {clip.channels} channels and {setup!r} plays on {channels}; bring music that fits the route"
    )
