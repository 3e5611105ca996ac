"""A microphone's own response, and what can be wrong with what it hears. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import MeasureError

Signal = NDArray[np.float64]

FULL_SCALE = 0.999  # samples from here on are taken as clipped, if several follow each other
CLIPPED_RUN = 3
DEAD_DBFS = -110.0  # a real converter's noise lies above; our choice
LEAST_ABOVE_NOISE_DB = 15.0
HEARD_DB = 6.0  # a rise above the background that shows where a signal arrives; our choice
LINEAR_WITHIN_DB = 0.5  # a known step of the level must be read within this; our choice


@dataclass(frozen=True)
class Calibration:
    """A microphone's deviation from flat: frequencies in Hz, rising, and dB (positive: it reads too much).

    `name` is the file's and what its numbers are, `sensitivity` what it states of an absolute one, in its own words;
    both are empty where there is none. The sensitivity is in none of the numbers.
    """

    freqs_hz: tuple[float, ...]
    deviation_db: tuple[float, ...]
    name: str = ""
    sensitivity: str = ""

    @property
    def band_hz(self) -> tuple[float, float]:
        """Between which frequencies the microphone is known."""
        return self.freqs_hz[0], self.freqs_hz[-1]

    def correction_db(self, freqs_hz: Signal) -> Signal:
        """What to add to a level at each frequency; on a logarithmic frequency scale, held beyond the ends."""
        places = np.log(np.maximum(freqs_hz, 1e-3))
        return np.asarray(-np.interp(places, np.log(np.array(self.freqs_hz)), np.array(self.deviation_db)))


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


def too_loud(setup: str, device: str, wanted: int, again: str = "match") -> MeasureError:
    """The refusal of a clipped recording, with advice; `again` is what to do then."""
    return MeasureError(
        f"input {wanted + 1} of {device} clips while {setup} plays; turn the microphone's gain down, then {again} again"
    )
