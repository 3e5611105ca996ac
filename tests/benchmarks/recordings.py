"""Recordings to measure with: the demo pieces in a row, in an order and at levels drawn from a seed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile

from audio.clip import Clip, Samples
from audio.files import reading
from audio.resample import resample
from demo_tracks import tracks

LIMITED_GAIN = 4.0


def make(
    path: Path, length_s: float, rate_hz: int = 48_000, *, seed: int = 0, limited: bool = False, tilt: float = 0.0
) -> Path:
    """A stereo recording of 16 bits; `limited` is driven into a soft limiter, as much music is; `tilt` makes it duller.

    What is made with one seed is the same music.
    """
    if path.exists():
        return path
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(f"part-{path.name}")
    with soundfile.SoundFile(partial, "w", rate_hz, 2, "PCM_16", format=path.suffix[1:].upper()) as file:
        left = round(length_s * rate_hz)
        for piece in _pieces(rate_hz, seed):
            samples = piece - tilt * np.concatenate([np.zeros((1, 2)), piece[:-1]])
            samples = 0.97 * np.tanh(LIMITED_GAIN * samples) if limited else 0.9 * samples / (1 + abs(tilt))
            file.write(samples[:left])
            left -= len(samples)
            if left <= 0:
                break
    partial.rename(path)
    return path


def _pieces(rate_hz: int, seed: int) -> Iterator[Samples]:
    rng = np.random.default_rng(seed)
    clips = [resample(reading.read(tracks.path(track.name)), rate_hz) for track in tracks.TRACKS]
    scaled = [Clip(clip.samples / np.abs(clip.samples).max(), rate_hz) for clip in clips]
    while True:
        yield scaled[rng.integers(len(scaled))].samples * 10 ** (rng.uniform(-12, 0) / 20)
