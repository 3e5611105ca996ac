"""Matching amplifiers and sources by a voltmeter: gains from readings of a tone, what is left, how sure. Pure.

A voltmeter across the amplifier's terminals reads each chain in turn with the same tone; its own error cancels in the
ratio when meter and range stay the same, its last digit does not.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..clip import Clip
from ..errors import MeasureError
from ..match import residual

MATCH_HZ = 1000.0  # common practice, no source
FREQUENCIES_HZ = (100.0, 1000.0, 10_000.0)
RESPONSE_DB = 0.1  # chains that differ by more over the frequencies differ in response; design of the match
TOLERANCE_DB = 0.1  # electronics are customarily matched to ±0.1 dB (from memory: Clark, JAES 30(5), 1982)
SMALLEST_V, LARGEST_V = 1e-4, 200.0
CAUTIONS = (
    "Amplifier terminals can carry dangerous voltage and current: put the probes on before you turn up.",
    "Across the two terminals of ONE channel, nothing shorted; never join two amplifiers' outputs.",
    "A bridged amplifier has no ground at either terminal: never connect one of them to ground; a meter on batteries.",
    "Tweeters burn on loud tones: disconnect the loudspeakers, or keep the tone low.",
    "Mains-powered gear is opened by qualified people only; local rules come first.",
)


@dataclass(frozen=True)
class Volts:
    """One reading: the value, and half its last digit, in volts."""

    volts: float
    half_digit: float


@dataclass(frozen=True)
class Chains:
    """What readings say: each chain's level at each frequency (dB re 1 V), their gains, and the response difference."""

    levels_db: Mapping[str, Mapping[float, float]]
    gains_db: Mapping[str, float]
    response_db: float


def parse(text: str) -> Volts:
    """A reading as typed: ``2.83``, ``2,83``, ``283 mV``; its last digit tells how finely it was read.

    Raises
    ------
    MeasureError
        If it is no voltage, or one that no amplifier's terminals show in this work.

    Examples
    --------
    >>> parse("283 mV")
    Volts(volts=0.283, half_digit=0.0005)
    """
    found = re.fullmatch(r"\s*(\d+)(?:[.,](\d+))?\s*(mV|V)?\s*", text, re.IGNORECASE)
    if found is None:
        raise MeasureError(f"{text.strip()!r} is no voltage; type all the digits of the reading, like 2.830 or 283 mV")
    whole, digits, unit = found[1], found[2] or "", (found[3] or "V").lower()
    scale = 1e-3 if unit == "mv" else 1.0
    volts = round(float(f"{whole}.{digits or 0}") * scale, 9)
    if not SMALLEST_V <= volts <= LARGEST_V:
        raise MeasureError(
            f"{volts:g} V is out of range; {SMALLEST_V:g} to {LARGEST_V:g} V is expected (is the meter on AC?)"
        )
    return Volts(volts, round(0.5 * 10.0 ** -len(digits) * scale, 12))


def decibels(ratio: float) -> float:
    """A ratio of voltages in dB, 20·log10.

    >>> round(decibels(2.8628 / 2.83), 2)
    0.1
    """
    return 20 * float(np.log10(ratio))


def chains(readings: Mapping[str, Mapping[float, Volts]], match_hz: float = MATCH_HZ) -> Chains:
    """Levels, gains (the quietest chain sets the level) and the difference of response.

    Raises
    ------
    MeasureError
        If a chain lacks a frequency that another has, or the frequency to match at.
    """
    wanted = sorted({freq for own in readings.values() for freq in own})
    for name, own in readings.items():
        missing = [f"{freq:g}" for freq in [*wanted, match_hz] if freq not in own]
        if missing:
            raise MeasureError(f"{name} lacks the reading at {missing[0]} Hz; read every chain at every frequency")
    found = {name: {freq: decibels(own[freq].volts) for freq in wanted} for name, own in readings.items()}
    at_match = {name: own[match_hz] for name, own in found.items()}
    target = min(at_match.values())
    gains = {name: target - level for name, level in at_match.items()}
    shapes = {name: {freq: level - own[match_hz] for freq, level in own.items()} for name, own in found.items()}
    response = max(residual({name: shape[freq] for name, shape in shapes.items()}) for freq in wanted)
    return Chains(found, gains, response)


def behind_chain(clip: Clip, levels_db: Mapping[float, float]) -> Clip:
    """A sound as a chain gives it out, by its level (dB re 1 V) at the frequencies read; in volts.

    Between them on a logarithmic scale of frequency, beyond them as at the last one.
    """
    freqs = sorted(levels_db)
    hz = np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz)
    gain_db = np.interp(np.log(np.maximum(hz, 1e-3)), np.log(freqs), [levels_db[freq] for freq in freqs])
    spectrum = np.fft.rfft(clip.samples, axis=0) * (10 ** (gain_db / 20))[:, None]
    return Clip(np.fft.irfft(spectrum, clip.frames, axis=0), clip.rate_hz, clip.channel_mask)


def uncertainty_db(one: Volts, other: Volts) -> float:
    """The expanded uncertainty (k = 2) of the ratio of two readings in dB, from their last digits.

    Each digit's half is the half-width of a rectangular distribution (JCGM 100:2008, 4.3.7).
    """
    relative = np.hypot(one.half_digit / one.volts, other.half_digit / other.volts) / np.sqrt(3)
    return float(2 * 20 / np.log(10) * relative)
