"""From an impulse response to a gated frequency response, and what the gate leaves valid. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import Literal

import numpy as np

from ..errors import MeasureError
from .curve import Curve, Numbers

Window = Literal["half-hann", "half-tukey", "rectangular"]
WINDOWS: dict[str, float] = {"half-hann": 1.0, "half-tukey": 0.5, "rectangular": 0.0}
"""The share of the gate, from its end, over which a cosine fades out."""
ONSET_DB = -20.0  # the sound begins where it first comes within this of its peak; our choice
REACH_S = 0.02  # before the peak: no direct sound of a loudspeaker rises for longer; our choice
LONGEST_RISE_S = 0.005  # what lies earlier before the peak than this, and is weak, is noise
NOISE_S = 0.1  # of it are heard
CLEAR_OF_NOISE = 4.5  # times its RMS: reached by chance once in 150 000 samples of Gaussian noise
LEAD_S = 0.001  # kept before the onset, faded in over it
LINES = 8  # to 1/T
LEAST_PRE_DELAY_S = 0.0002
NEWEST = 16  # responses that are not worked out again: several sentences and pictures ask for the same one


@dataclass(frozen=True)
class Gate:
    """A gate as it was set: start and length in seconds, window, and the lowest frequency it leaves valid."""

    start_s: float
    length_s: float
    window: str

    @property
    def valid_from_hz(self) -> float:
        """1/T: a gate of 6 ms is valid from about 167 Hz."""
        return 1 / self.length_s


def speed_of_sound(celsius: float = 20.0) -> float:
    """In metres a second, in dry air: 331.3·√(1 + t/273.15)."""
    return 331.3 * sqrt(1 + celsius / 273.15)


def reflection_free_s(
    distance_m: float,
    source_height_m: float,
    microphone_height_m: float,
    *,
    walls_m: float = 1e9,
    celsius: float = 20.0,
) -> float:
    """How long after the direct sound the first reflection comes, from the geometry.

    Parameters
    ----------
    distance_m
        Along the floor, from source to microphone.
    walls_m
        The extra path over the nearest wall or ceiling, where that is shorter than the floor's.
    """
    if min(distance_m, source_height_m, microphone_height_m) <= 0:
        raise MeasureError("distance and heights must be above 0 metres")
    direct = sqrt(distance_m**2 + (source_height_m - microphone_height_m) ** 2)
    floor = sqrt(distance_m**2 + (source_height_m + microphone_height_m) ** 2)
    return min(floor - direct, walls_m) / speed_of_sound(celsius)


def onset(impulse: Numbers, rate_hz: int) -> int:
    """The frame at which the sound begins: the first near the peak that stands clear of what came before.

    Sought from `REACH_S` before the peak; clear is what comes within 20 dB of the peak and exceeds the noise before it
    `CLEAR_OF_NOISE` times, so that noise is never taken for the sound.

    Raises
    ------
    MeasureError
        If the response is silent.
    """
    size = np.abs(impulse)
    peak = float(size.max(initial=0.0))
    if peak <= 0 or not np.isfinite(peak):
        raise MeasureError("the impulse response is silent or holds something that is not a number")
    at = int(np.argmax(size))
    first = max(0, at - round(REACH_S * rate_hz))
    before = impulse[max(0, first - round(NOISE_S * rate_hz)) : max(0, at - round(LONGEST_RISE_S * rate_hz))]
    noise = float(np.sqrt(np.mean(np.square(before.astype(float))))) if len(before) else 0.0
    clear = min(max(peak * 10 ** (ONSET_DB / 20), CLEAR_OF_NOISE * noise), peak)
    return first + int(np.argmax(size[first : at + 1] >= clear))


def shape(frames: int, lead: int, window: Window) -> Numbers:
    """The gate's window, shape (lead + frames,): faded in before the onset, out at the end as the window says."""
    made = np.ones(lead + frames)
    made[:lead] = 0.5 - 0.5 * np.cos(np.pi * np.arange(lead) / max(lead, 1))
    tail = round(WINDOWS[window] * frames)
    if tail:
        made[-tail:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, tail + 1) / tail)
    return made


def lines(rate_hz: int, frames: int) -> Numbers:
    """The frequencies, in Hz, on which so many gated frames are turned into a response.

    They lie so near each other that the power between them is a straight line: that of T seconds is known by lines
    1/2T apart, and here are at least four for one of these.
    """
    size = 1 << int(np.ceil(np.log2(max(LINES * frames, rate_hz // 2))))
    return np.fft.rfftfreq(size, 1 / rate_hz).astype(float)


def gated(
    impulse: Numbers, rate_hz: int, length_s: float, window: Window = "half-tukey", reference: float = 1.0
) -> tuple[Curve, Gate]:
    """The frequency response of the first `length_s` seconds after the onset; the newest few are kept, read-only.

    Parameters
    ----------
    impulse
        Shape (frames,).
    reference
        The amplitude at 0 dB.

    Raises
    ------
    MeasureError
        If the gate is longer than the response, or nothing lies before its onset.
    """
    frames = np.ascontiguousarray(impulse)
    return _gated(frames.tobytes(), frames.dtype.str, rate_hz, length_s, window, reference)


@lru_cache(maxsize=NEWEST)
def _gated(
    frames_kept: bytes, kind: str, rate_hz: int, length_s: float, window: Window, reference: float
) -> tuple[Curve, Gate]:
    impulse = np.frombuffer(frames_kept, kind)
    if window not in WINDOWS:
        raise MeasureError(f"the window is one of {', '.join(WINDOWS)}; got {window!r}")
    begin = onset(impulse, rate_hz)
    frames = round(length_s * rate_hz)
    if frames < 8:
        raise MeasureError(f"a gate of {1000 * length_s:g} ms holds too few samples at {rate_hz} Hz; make it longer")
    if begin + frames > len(impulse):
        left = (len(impulse) - begin) / rate_hz
        raise MeasureError(
            f"the gate of {1000 * length_s:g} ms is longer than the {1000 * left:.1f} ms after the onset; shorten it"
        )
    if begin < LEAST_PRE_DELAY_S * rate_hz:
        raise MeasureError(
            "the impulse response begins with its onset, so part of it may be missing; export it with silence before"
        )
    lead = min(begin, round(LEAD_S * rate_hz))
    cut = impulse[begin - lead : begin + frames] * shape(frames, lead, window)
    hz = lines(rate_hz, len(cut))
    spectrum = np.fft.rfft(cut, 2 * (len(hz) - 1))
    delayed = spectrum * np.exp(2j * np.pi * hz * lead / rate_hz)  # time counts from the onset
    level = 20 * np.log10(np.maximum(np.abs(delayed) / reference, 1e-12))
    made = Gate(begin / rate_hz, length_s, window)
    columns = hz[1:-1], level[1:-1], np.degrees(np.angle(delayed))[1:-1]
    for column in columns:
        column.setflags(write=False)
    return Curve(*columns, (made.valid_from_hz, rate_hz / 2.2)), made
