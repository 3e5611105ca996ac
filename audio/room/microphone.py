"""A microphone's own response, and what can be wrong with what it hears. Reads one text file; else pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..errors import FileError, MeasureError

Signal = NDArray[np.float64]
Meaning = Literal["response", "correction"]

FULL_SCALE = 0.999  # samples from here on are taken as clipped, if several follow each other
CLIPPED_RUN = 3
DEAD_DBFS = -110.0  # a real converter's noise lies above; our choice
LEAST_ABOVE_NOISE_DB = 15.0
HEARD_DB = 6.0  # a rise above the background that shows where a signal arrives; our choice
LINEAR_WITHIN_DB = 0.5  # a known step of the level must be read within this; our choice
MOST_ROWS = 100_000
LARGEST_DB = 60.0  # no microphone's deviation; a number above it is no decibel


@dataclass(frozen=True)
class Calibration:
    """A microphone's deviation from flat: frequencies in Hz, rising, and dB (positive: it reads too much)."""

    freqs_hz: tuple[float, ...]
    deviation_db: tuple[float, ...]

    def correction_db(self, freqs_hz: Signal) -> Signal:
        """What to add to a level at each frequency; on a logarithmic frequency scale, held beyond the ends."""
        places = np.log(np.maximum(freqs_hz, 1e-3))
        return np.asarray(-np.interp(places, np.log(np.array(self.freqs_hz)), np.array(self.deviation_db)))


def read_calibration(path: Path, meaning: Meaning) -> Calibration:
    """A calibration file: lines of frequency and dB (further columns are ignored), comments and headers allowed.

    Parameters
    ----------
    meaning
        ``response``: the file lists what the microphone itself does (it is taken off). ``correction``: it lists what to
        add. Suppliers differ and the file does not say; ask whoever measured it.

    Raises
    ------
    FileError
        If the file cannot be read, holds no such lines, a frequency twice, or numbers that cannot be meant.
    """
    try:
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError as error:
        raise FileError(f"cannot read the calibration file {path}: {error.strerror}; check its name") from error
    rows = [row for number, line in enumerate(text.splitlines()[:MOST_ROWS], 1) if (row := _row(path, number, line))]
    if len(rows) < 2:
        raise FileError(f"{path} holds no calibration: lines of frequency (Hz) and level (dB) are expected")
    rows.sort()
    freqs = [freq for freq, _ in rows]
    twice = next((one for one, other in pairwise(freqs) if one == other), None)
    if twice is not None:
        raise FileError(f"{path} gives {twice:g} Hz twice; keep one of the two lines")
    if freqs[0] <= 0 or freqs[-1] < 1000 or max(abs(level) for _, level in rows) > LARGEST_DB:
        raise FileError(
            f"{path} does not look like a calibration: frequencies in Hz (here {freqs[0]:g} to {freqs[-1]:g}) and "
            f"deviations in dB up to ±{LARGEST_DB:g} are expected"
        )
    sign = 1.0 if meaning == "response" else -1.0
    return Calibration(tuple(freqs), tuple(sign * level for _, level in rows))


def clipped(samples: NDArray[np.floating]) -> bool:
    """Whether a recording, shape (frames,), touches full scale for several frames running."""
    loud = np.abs(samples) >= FULL_SCALE
    run = np.convolve(loud.astype(np.int64), np.ones(CLIPPED_RUN, dtype=np.int64), "valid")
    return bool(run.size and run.max() >= CLIPPED_RUN)


def check_background(levels_dbfs: Sequence[float], wanted: int, device: str) -> None:
    """Nothing, if the input wanted hears at least its own noise.

    Raises
    ------
    MeasureError
        If it is dead; the message names an input that lives, if there is one.
    """
    if levels_dbfs[wanted] > DEAD_DBFS:
        return
    alive = [str(place + 1) for place, level in enumerate(levels_dbfs) if level > DEAD_DBFS]
    hint = f"input {' and '.join(alive)} is alive: is the microphone there?" if alive else "all its inputs are"
    raise MeasureError(
        f"input {wanted + 1} of {device} is silent, without even noise ({hint}); check the plug, the phantom power and "
        "the mute switch"
    )


def check_signal(
    background_db: Sequence[float], signal_db: Sequence[float], wanted: int, setup: str, device: str
) -> None:
    """Nothing, if a signal stands clear of the background at the input wanted.

    Raises
    ------
    MeasureError
        If it arrives elsewhere, nowhere, or too near the background; with advice.
    """
    rises = [signal - silent for signal, silent in zip(signal_db, background_db, strict=True)]
    if rises[wanted] >= LEAST_ABOVE_NOISE_DB:
        return
    best = int(np.argmax(rises))
    if rises[wanted] < HEARD_DB:
        if rises[best] >= LEAST_ABOVE_NOISE_DB:
            raise MeasureError(
                f"the noise of {setup} arrives at input {best + 1} of {device}, not at input {wanted + 1}; name the "
                f"microphone's input: --mic {device}:{best + 1}"
            )
        raise MeasureError(
            f"nothing of {setup} is heard at the microphone (input {wanted + 1} of {device}); is it connected, "
            "switched on and turned up, and is the route right?"
        )
    raise too_quiet(setup, rises[wanted])


def check_linear(step_db: float, read_db: float, device: str) -> None:
    """Nothing, if a step of the level played was read as that step.

    Raises
    ------
    MeasureError
        If something between, an automatic gain control or a limiter, follows the level.
    """
    if abs(read_db - step_db) > LINEAR_WITHIN_DB:
        raise MeasureError(
            f"a step of {step_db:.1f} dB was read as {read_db:.1f} dB by {device}: an automatic gain control, limiter "
            "or noise suppression is at work; switch it off in the interface or the system's sound settings"
        )


def too_quiet(what: str, above_db: float) -> MeasureError:
    """The refusal of something too near the background noise, with advice."""
    return MeasureError(
        f"{what} is only {above_db:.1f} dB above the background noise, {LEAST_ABOVE_NOISE_DB:g} dB are needed; "
        "turn up the volume with care, raise --level, come nearer, or wait for quiet"
    )


def too_loud(setup: str, device: str, wanted: int) -> MeasureError:
    """The refusal of a clipped recording, with advice."""
    return MeasureError(
        f"input {wanted + 1} of {device} clips while {setup} plays; turn the microphone's gain down, then match again"
    )


def _row(path: Path, number: int, line: str) -> tuple[float, float] | None:
    """Frequency and dB of one line; None for a comment, a header or an empty line."""
    text = line.strip()
    if not text or text[0] in "*#;\"'!/" or text[0].isalpha():
        return None
    decimal_comma = re.search(r"\d,\d", text) and "." not in text and re.search(r"[;\t ]", text)
    parts = re.split(r"[;\s]+" if decimal_comma else r"[;,\s]+", text)
    try:
        freq, level = (float(part.replace(",", ".")) for part in parts[:2])
    except ValueError as error:
        raise FileError(
            f"{path}, line {number}: {text[:40]!r} is not frequency and dB; mark it as a comment with * or #"
        ) from error
    if not (np.isfinite(freq) and np.isfinite(level)):
        raise FileError(f"{path}, line {number}: {text[:40]!r} holds no finite number; take the line out")
    return freq, level
