"""Slates of a soundtrack: soft tones of our own that say what comes, for who only hears it. Pure.

A long low tone begins a trial; one, two or three pips come before the first, second and third sound; a falling pair
asks for the vote.
"""

from __future__ import annotations

import numpy as np

from audio.clip import Samples

TRIAL_HZ, PIP_HZ = 330.0, 660.0
TRIAL_S, PIP_S, GAP_S, EDGE_S = 0.9, 0.14, 0.14, 0.02
BELOW_LU = 6.0  # of the music: heard, and no fright; our choice


def trial(rate_hz: int, channels: int) -> Samples:
    """The tone that begins a trial, of full scale; shape (frames, channels)."""
    return _spread(_tone(TRIAL_HZ, TRIAL_S, rate_hz), channels)


def pips(number: int, rate_hz: int, channels: int) -> Samples:
    """So many pips, of full scale; shape (frames, channels)."""
    gap = np.zeros(round(GAP_S * rate_hz))
    parts = [part for _ in range(number) for part in (_tone(PIP_HZ, PIP_S, rate_hz), gap)]
    return _spread(np.concatenate(parts[:-1]), channels)


def vote(rate_hz: int, channels: int) -> Samples:
    """The falling pair that asks for the vote, of full scale; shape (frames, channels)."""
    return _spread(np.concatenate([_tone(PIP_HZ, 2 * PIP_S, rate_hz), _tone(TRIAL_HZ, 2 * PIP_S, rate_hz)]), channels)


def _tone(hz: float, length_s: float, rate_hz: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    frames, edge = round(length_s * rate_hz), round(EDGE_S * rate_hz)
    time = np.arange(frames) / rate_hz
    rise = np.minimum(1.0, np.minimum(np.arange(frames), np.arange(frames)[::-1]) / edge)
    tone: np.ndarray[tuple[int], np.dtype[np.float64]] = np.sin(2 * np.pi * hz * time) * (
        0.5 - 0.5 * np.cos(np.pi * rise)
    )
    return tone


def _spread(tone: np.ndarray[tuple[int], np.dtype[np.float64]], channels: int) -> Samples:
    return np.repeat(tone[:, None], channels, axis=1)
