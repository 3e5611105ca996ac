"""Turning a microphone's reading into dB SPL: by a calibrator's tone, or by a meter that stands beside it.

The one module that reads and writes calibrations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audio.engine.recording import Recorder, record_undisturbed
from audio.engine.routes import Route
from audio.errors import MeasureError
from audio.room import level, microphone, reading

from ..casebook import documents
from ..casebook.documents import Kept
from ..casebook.store import Casebook

LISTEN_S = 3.0
LEAST_METER_DBA, MOST_METER_DBA = 40.0, 110.0
NOISE_S = 6.0


@dataclass(frozen=True)
class SplCalibration:
    """What an input's reading means: `read_dbfs` were `spl_db`, by the calibrator or meter named.

    Attributes
    ----------
    input
        The input's number, from 1.
    offset_db
        dB SPL of full scale.
    """

    device: str
    input: int
    by: str
    spl_db: float
    read_dbfs: float
    offset_db: float


def by_calibrator(
    casebook: Casebook, recorder: Recorder, mic: Route, calibrator_db: float, rate_hz: int
) -> SplCalibration:
    """Listen to a calibrator's 1 kHz tone and keep the offset.

    Raises
    ------
    MeasureError
        If no steady clear tone is heard, or the input clips.
    """
    quiet = np.zeros((round(LISTEN_S * rate_hz), 1), dtype=np.float32)
    taken = record_undisturbed(recorder, quiet, Route(None, (0,)), mic, rate_hz)
    heard = taken.samples[:, mic.channels[0]]
    if microphone.clipped(heard):
        raise microphone.too_loud("the calibrator", taken.source, mic.channels[0])
    read, wrong = level.calibrator_level_dbfs(heard, rate_hz)
    if wrong:
        raise MeasureError(
            f"input {mic.channels[0] + 1} of {taken.source}: {wrong}; is the calibrator on and well seated?"
        )
    return _keep(casebook, mic, taken.source, f"{calibrator_db:g} dB calibrator", calibrator_db, read)


def by_meter(
    casebook: Casebook, recorder: Recorder, mic: Route, route: Route, meter_dba: float, noise_dbfs: float, rate_hz: int
) -> SplCalibration:
    """Play noise, and take a sound level meter's A-weighted reading of it as true.

    Raises
    ------
    MeasureError
        If the reading cannot be meant, or the noise does not stand clear at the microphone.
    """
    if not LEAST_METER_DBA <= meter_dba <= MOST_METER_DBA:
        raise MeasureError(
            f"a meter reading of {meter_dba:g} dBA is out of range; give {LEAST_METER_DBA:g} to {MOST_METER_DBA:g}"
        )
    mono = Route(route.device, route.channels[:1])
    made = reading.reading_signal(rate_hz, NOISE_S, 1, noise_dbfs)
    silent = record_undisturbed(recorder, np.zeros((rate_hz, 1), dtype=np.float32), mono, mic, rate_hz)
    taken = record_undisturbed(recorder, made.signal, mono, mic, rate_hz)
    wanted = mic.channels[0]
    hush = [level.decibels(float(level.block_powers(column, rate_hz, "band", 1)[0])) for column in silent.samples.T]
    microphone.check_signal(
        hush, reading.rough_levels_db(taken.samples, made, rate_hz), wanted, "the noise", taken.source
    )
    heard = taken.samples[:, wanted]
    if microphone.clipped(heard):
        raise microphone.too_loud("the noise", taken.source, wanted)
    powers = reading.read(heard, made, reading.arrival(heard, made), rate_hz)[0].powers["a"]
    return _keep(
        casebook, mic, taken.source, "meter beside it, A-weighted", meter_dba, level.decibels(float(powers.mean()))
    )


def everything(casebook: Casebook) -> list[Kept[SplCalibration]]:
    """All calibrations, the oldest first."""
    return [
        Kept(documents.from_text(row["document"], SplCalibration), row["seq"], row["hash"], row["at"])
        for row in casebook.query("SELECT * FROM calibrations ORDER BY seq")
    ]


def offset_db(casebook: Casebook, device: str, mic: Route) -> float | None:
    """What turns this input's dBFS into dB SPL, by its newest calibration; None where there is none."""
    for kept in reversed(everything(casebook)):
        if (kept.record.device, kept.record.input) == (device, mic.channels[0] + 1):
            return kept.record.offset_db
    return None


def _keep(casebook: Casebook, mic: Route, device: str, by: str, spl_db: float, read_dbfs: float) -> SplCalibration:
    made = SplCalibration(
        device=device,
        input=mic.channels[0] + 1,
        by=by,
        spl_db=spl_db,
        read_dbfs=read_dbfs,
        offset_db=level.spl_offset_db(spl_db, read_dbfs),
    )
    casebook.append(
        "calibrations", "calibration", {"document": documents.text_of(documents.plain(made), sort_keys=False)}
    )
    return made
