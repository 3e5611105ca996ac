"""A soundtrack of a blind test, the same for everybody: its sound, and what is heard when. Pure.

In each trial of ABX one hears A, B and X; of a preference 1 and 2. Which is which follows from the test's secret. One
gain is on all of it, so that the level match stays; there is no limiter, so that where the true peak would be too high
all of it stays quieter than was asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from audio.clip import Clip, Samples
from audio.errors import MeasureError
from audio.levels import loudness
from audio.resample import resample

from ..plans import viewers_test
from ..plans.viewers_test import ViewersTest
from . import slates

MOST_DBTP = -1.0  # EBU R 128: the maximum true peak of a programme
BETWEEN_S = 0.7
FIRST_S = 1.0


@dataclass(frozen=True)
class Cue:
    """What is heard from one frame to another, as its caption says it; `trial` is 0 outside of one."""

    start: int
    end: int
    words: str
    trial: int = 0


@dataclass(frozen=True)
class Soundtrack:
    """The sound, its cues, its loudness and true peak, and whether the peak kept it below the target."""

    clip: Clip = field(repr=False)
    cues: tuple[Cue, ...]
    loudness_lufs: float
    true_peak_dbtp: float
    held_back: bool


def made(test: ViewersTest, secret: bytes, sounds: Mapping[int, NDArray[np.float32]]) -> Soundtrack:
    """The soundtrack of a test.

    Parameters
    ----------
    sounds
        What is played of each passage, by its place: shape (setups, frames, channels).

    Raises
    ------
    MeasureError
        If the passages have no loudness, or differ in their channels.
    """
    rate_hz = max(passage.rate_hz for passage in test.passages)
    played = {place: _at(rate_hz, test.passages[place].rate_hz, one) for place, one in sounds.items()}
    if len({one.shape[2] for one in played.values()}) != 1:
        raise MeasureError("the passages have different numbers of channels; a soundtrack has one: choose one kind")
    samples, cues = _laid_out(test, secret, played, rate_hz, _slate_gain(played, rate_hz))
    read = loudness.measure(Clip(samples, rate_hz))
    if read.integrated_lufs is None or read.true_peak_dbtp is None:
        raise MeasureError("the passages are too quiet or too short to have a loudness; choose others")
    wanted_db = float(test.document["target_lufs"]) - read.integrated_lufs
    gain_db = min(wanted_db, MOST_DBTP - read.true_peak_dbtp)
    clip = Clip(samples * 10 ** (gain_db / 20), rate_hz)
    return Soundtrack(
        clip, cues, read.integrated_lufs + gain_db, read.true_peak_dbtp + gain_db, wanted_db > gain_db + 0.05
    )


def heard(test: ViewersTest, secret: bytes, slot: int) -> tuple[int, ...]:
    """The place of the setup of each sound of a trial."""
    first = viewers_test.coin(test, secret, slot)
    return (0, 1, first) if test.method == "abx" else (first, 1 - first)


def _laid_out(
    test: ViewersTest, secret: bytes, played: Mapping[int, Samples], rate_hz: int, slate_gain: float
) -> tuple[Samples, tuple[Cue, ...]]:
    channels = next(iter(played.values())).shape[2]
    pause_s = float(test.document["pause_s"])
    parts: list[Samples] = []
    cues: list[Cue] = []
    at = 0

    def silence(length_s: float) -> None:
        nonlocal at
        parts.append(np.zeros((round(length_s * rate_hz), channels)))
        at += len(parts[-1])

    def sound(samples: Samples) -> None:
        nonlocal at
        parts.append(samples)
        at += len(samples)

    silence(FIRST_S)
    for slot in range(1, test.trials + 1):
        which = f"Trial {slot} of {test.trials}"
        begun = at
        sound(slate_gain * slates.trial(rate_hz, channels))
        silence(BETWEEN_S)
        cues.append(Cue(begun, at, which, slot))
        copies = played[viewers_test.passage_of(test, secret, slot)]
        for place, (name, setup) in enumerate(zip(test.labels, heard(test, secret, slot), strict=True), start=1):
            begun = at
            sound(slate_gain * slates.pips(place, rate_hz, channels))
            silence(BETWEEN_S / 2)
            sound(copies[setup])
            cues.append(Cue(begun, at, f"{which}: {name}", slot))
            silence(BETWEEN_S)
        begun = at
        sound(slate_gain * slates.vote(rate_hz, channels))
        silence(pause_s)
        cues.append(Cue(begun, at, f"{which}: {test.question}", slot))
    return np.concatenate(parts), tuple(cues)


def _slate_gain(played: Mapping[int, Samples], rate_hz: int) -> float:
    """Of tones on all channels, so that they lie below the music (a tone of full scale on two reads 0 LUFS)."""
    read = [loudness.integrated_lufs(Clip(one[0], rate_hz)) for one in played.values()]
    known = [one for one in read if one is not None]
    return float(10 ** ((sum(known) / len(known) - slates.BELOW_LU) / 20)) if known else 0.0


def _at(rate_hz: int, own_hz: int, sounds: NDArray[np.float32]) -> Samples:
    """Both setups' sounds at one rate; shape (setups, frames, channels)."""
    return np.stack([resample(Clip(one.astype(np.float64), own_hz), rate_hz).samples for one in sounds])
