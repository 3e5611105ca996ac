"""Cues of time: onset, drift of the clock, length, and (found on the way) turned polarity. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..clip import Clip
from ..mend import MOST_STRETCH_PPM, Mend
from .delay import BAND_HZ, Delay, estimate
from .findings import LIMITS, Finding, finding

WINDOW_S, HOP_S = 2.0, 1.0
FEWEST_WINDOWS = 4  # a slope through fewer says nothing
SURE_ENOUGH = 0.3  # correlation in a window from which its delay is used
SOUNDING = 10 ** (-90 / 20)  # below −90 dBFS nothing sounds


@dataclass(frozen=True)
class Drift:
    """The clock's error in parts per million (positive: runs fast), and the delay at the passage's start, seconds."""

    ppm: float
    start_s: float


def timing(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """What gives the other away by time, against the reference."""
    found = []
    late = estimate(reference, other)
    if late is not None:
        found += _onset_and_drift(passage, setup, reference, other, late)
        if late.correlation < LIMITS["polarity"].value:
            what = f"{setup} has turned polarity (correlation {late.correlation:.2f})"
            found.append(finding("polarity", setup, passage, late.correlation, what, Mend(invert=True)))
    length_ms = 1000 * length_difference_s(reference, other)
    if abs(length_ms) > LIMITS["length"].value:
        word = "longer" if length_ms > 0 else "shorter"
        # an offset explains a missing end; there is nothing to repair beyond it
        what = f"{setup} sounds {abs(length_ms):.0f} ms {word} than the reference"
        found.append(finding("length", setup, passage, length_ms, what))
    return found


def drift(reference: Clip, other: Clip, late: Delay) -> Drift | None:
    """The slope of the delay over the passage; None where too few windows tell it.

    Each window's delay is sought near what is expected there; the slope is the median of the slopes between all
    pairs of windows (Theil and Sen), which a few wrong windows do not bend.
    """
    rate_hz = reference.rate_hz
    window, hop = round(WINDOW_S * rate_hz), round(HOP_S * rate_hz)
    shift = round(late.delay_s * rate_hz)
    times, delays = [], []
    for start in range(0, reference.frames - window + 1, hop):
        begin = start + shift
        if begin < 0 or begin + window > other.frames:
            continue
        stretch = Clip(other.samples[begin : begin + window], rate_hz)
        reach_s = MOST_STRETCH_PPM * 1e-6 * reference.length_s + 0.002
        here = estimate(Clip(reference.samples[start : start + window], rate_hz), stretch, 0.0, reach_s)
        if here is not None and abs(here.correlation) >= SURE_ENOUGH:
            times.append(start / rate_hz + _centre_s(Clip(reference.samples[start : start + window], rate_hz)))
            delays.append(here.delay_s + shift / rate_hz)
    if len(times) < FEWEST_WINDOWS:
        return None
    when, how_late = np.array(times), np.array(delays)
    one, two = np.triu_indices(when.size, 1)
    slope = float(np.median((how_late[two] - how_late[one]) / (when[two] - when[one])))
    return Drift(1e6 * slope, float(np.median(how_late - slope * when)))


def length_difference_s(reference: Clip, other: Clip) -> float:
    """By how much longer the other sounds, from its first to its last sample above −90 dBFS."""
    return _sounding_s(other) - _sounding_s(reference)


def _onset_and_drift(passage: str, setup: str, reference: Clip, other: Clip, late: Delay) -> list[Finding]:
    found = []
    delay_s, stretch_ppm = late.delay_s, 0.0
    clock = drift(reference, other, late)
    gathered_ms = 0.0 if clock is None else 1e-3 * clock.ppm * reference.length_s
    if clock is not None and abs(gathered_ms) > LIMITS["drift"].value:
        delay_s, stretch_ppm = clock.start_s, clock.ppm
        word = "behind" if gathered_ms > 0 else "ahead"
        what = (
            f"{setup} falls {abs(gathered_ms):.2f} ms {word} over the passage: its clock is off by {clock.ppm:+.0f} ppm"
        )
        mend = Mend(stretch_ppm=stretch_ppm) if abs(stretch_ppm) <= MOST_STRETCH_PPM else None
        found.append(finding("drift", setup, passage, gathered_ms, what, mend))
    if abs(1000 * delay_s) > LIMITS["onset"].value:
        word = "late" if delay_s > 0 else "early"
        what = f"{setup} is {abs(1000 * delay_s):.3f} ms {word} against the reference"
        found.append(finding("onset", setup, passage, 1000 * delay_s, what, Mend(delay_s=delay_s)))
    return found


def _centre_s(clip: Clip) -> float:
    """Where in a window the moments lie that tell its delay: the centre of its energy in the delay's band, seconds."""
    spectrum = np.fft.rfft(clip.samples.sum(axis=1))
    freqs = np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz)
    energy = np.square(np.fft.irfft(np.where((freqs >= BAND_HZ[0]) & (freqs <= BAND_HZ[1]), spectrum, 0), clip.frames))
    total = float(energy.sum())
    centre = float(np.arange(clip.frames) @ energy) / total if total > 0 else clip.frames / 2
    return centre / clip.rate_hz


def _sounding_s(clip: Clip) -> float:
    swing = np.abs(clip.samples - clip.samples.mean(axis=0))  # an offset is no sound
    sounding = np.flatnonzero(swing.max(axis=1) > SOUNDING)
    return 0.0 if sounding.size == 0 else (sounding[-1] - sounding[0] + 1) / clip.rate_hz
