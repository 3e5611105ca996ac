"""Choosing telling passages: where in a track equally loud setups differ most. Pure, but for `suggest_in_files`.

The measure is deliberately plain: third-octave levels, compared after overall levels are made equal, counted only where
the music has something in the band. It ranks stretches of one track; it does not predict audibility.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .clip import Clip
from .errors import MeasureError, PassageError
from .files import reading
from .levels.weighting import SILENCE_DB, a_weight_db, third_octave_bands
from .match import SHORTEST_S
from .mend_values import Mend
from .spectrogram import FLOOR, band_powers, steps_in, streamed_band_powers

HOP_S = 0.1
WINDOW_S = 0.2
GRID_S = 0.5  # candidate starts lie this far apart before they move to a quiet point
SNAP_S = 0.4  # how far a start or an end may move to find one
AUDIBLE_DB = 40.0  # a band this far (A-weighted) below the strongest is left out; our choice
SILENT_DB = 50.0  # stretches this far below the track's loudest are not proposed; our choice


@dataclass(frozen=True)
class Proposal:
    """A stretch of the track, in frames, and how far the setups' third-octave levels differ in it (RMS, dB)."""

    start_frame: int
    frames: int
    difference_db: float


@dataclass(frozen=True)
class FilePart:
    """A file, the frame from which it is looked at (counted at the rate asked for), and how it is mended."""

    path: Path
    start_frame: int = 0
    mend: Mend | None = None


def suggest(
    clips: Mapping[str, Clip], *, length_s: tuple[float, float] = (10.0, 20.0), count: int = 1
) -> list[Proposal]:
    """The `count` most telling stretches that do not overlap, the most telling first.

    Parameters
    ----------
    clips
        The whole track through each setup: two or more, same rate; the shortest sets the length.
    length_s
        Shortest and longest stretch. A track shorter than the shortest is proposed whole.

    Raises
    ------
    MeasureError
        If there are fewer than two clips, their rates differ, or they hold samples that are not numbers.
    PassageError
        If the track is shorter than 1 s or silent in a setup, or the lengths or the count cannot be.
    """
    _check_wish(len(clips), length_s, count)
    if len({clip.rate_hz for clip in clips.values()}) != 1:
        raise MeasureError("passages are suggested for two or more setups at one sample rate")
    rate_hz = next(iter(clips.values())).rate_hz
    frames = min(clip.frames for clip in clips.values())
    edges = _band_edges(frames, rate_hz)
    powers = {
        name: band_powers(Clip(clip.samples[:frames], rate_hz), edges, HOP_S, WINDOW_S) for name, clip in clips.items()
    }
    return _most_telling(powers, frames, rate_hz, length_s, count)


def suggest_in_files(
    parts: Mapping[str, FilePart],
    frames: int,
    rate_hz: int,
    *,
    length_s: tuple[float, float] = (10.0, 20.0),
    count: int = 1,
) -> list[Proposal]:
    """As `suggest`, of files that are read in turn, each at its own rate: an hour takes little memory.

    Parameters
    ----------
    parts
        The track through each setup: two or more.
    frames, rate_hz
        How much of it is looked at, and the rate at which these frames, and those of the proposals, are counted.

    Raises
    ------
    FileError
        If a file cannot be read.
    MeasureError, PassageError
        As `suggest`.
    """
    _check_wish(len(parts), length_s, count)
    edges, steps = _band_edges(frames, rate_hz), steps_in(frames, rate_hz, HOP_S, WINDOW_S)
    powers = {name: _powers_in_file(part, rate_hz, edges, steps) for name, part in parts.items()}
    return _most_telling(powers, frames, rate_hz, length_s, count)


def _powers_in_file(part: FilePart, rate_hz: int, edges: Sequence[float], steps: int) -> NDArray[np.float64]:
    info, mend = reading.inspect(part.path), part.mend or Mend()
    first = (part.start_frame / rate_hz + mend.delay_s) * info.rate_hz
    hop_s = HOP_S * (1 + mend.stretch_ppm * 1e-6)
    blocks = reading.blocks(part.path)
    return streamed_band_powers(blocks, info.rate_hz, edges, hop_s, WINDOW_S, steps, first_frame=first)


def _check_wish(setups: int, length_s: tuple[float, float], count: int) -> None:
    if not SHORTEST_S <= length_s[0] <= length_s[1] or count < 1:
        raise PassageError(
            f"cannot suggest {count} passages of {length_s[0]:g} to {length_s[1]:g} s; ask for one or more, "
            f"of {SHORTEST_S:g} s or longer, the shorter length first"
        )
    if setups < 2:
        raise MeasureError("passages are suggested for two or more setups")


def _band_edges(frames: int, rate_hz: int) -> list[float]:
    """The edges of the third-octave bands compared, of a track that is long enough."""
    if frames < SHORTEST_S * rate_hz:
        raise PassageError(f"the track is {frames / rate_hz:.2f} s long; at least {SHORTEST_S:g} s are needed")
    bands = third_octave_bands(rate_hz)
    return [*(bands * 10**-0.05), float(bands[-1] * 10**0.05)]


def _most_telling(
    powers_of: Mapping[str, NDArray[np.float64]],
    frames: int,
    rate_hz: int,
    length_s: tuple[float, float],
    count: int,
) -> list[Proposal]:
    """The proposals, from each setup's band powers over time."""
    powers, bands = list(powers_of.values()), third_octave_bands(rate_hz)
    loudness = 10 * np.log10(np.sum(powers[0], axis=1))
    for name, power in powers_of.items():
        if 10 * np.log10(np.sum(power, axis=1).max()) < SILENCE_DB:
            raise PassageError(f"the track is silent in setup {name!r}; choose another")
    sums = [np.concatenate([np.zeros((1, bands.size)), np.cumsum(power, axis=0)]) for power in powers]
    weight = a_weight_db(bands)
    steps = powers[0].shape[0]
    found = [
        (difference, start, end)
        for start, end in _candidates(loudness, steps, length_s)
        if (difference := _difference(sums, start, end, weight, loudness)) is not None
    ]
    if not found:
        raise PassageError("the track is silent; choose another")
    chosen: list[tuple[float, int, int]] = []
    for difference, start, end in sorted(found, reverse=True):
        if all(end <= other_start or start >= other_end for _, other_start, other_end in chosen):
            chosen.append((difference, start, end))
        if len(chosen) == count:
            break
    proposals = []
    for difference, start, end in chosen:
        first = 0 if start == 0 else _middle(start, rate_hz)
        last = frames if end >= steps else _middle(end, rate_hz)
        proposals.append(Proposal(first, last - first, difference))
    return proposals


def _middle(step: int, rate_hz: int) -> int:
    """The frame in the middle of a step's window: where it is quiet, if the step is."""
    return round(step * HOP_S * rate_hz) + round(WINDOW_S * rate_hz) // 2


def _candidates(loudness: NDArray[np.float64], steps: int, length_s: tuple[float, float]) -> list[tuple[int, int]]:
    """(start, end) steps, moved to quiet points; the whole track if it is no longer than the shortest stretch."""
    shortest, longest = (round(seconds / HOP_S) for seconds in length_s)
    if steps <= shortest:
        return [(0, steps)]
    quiet = _quiet_points(loudness)
    found = set()
    for start in range(0, steps - shortest + 1, round(GRID_S / HOP_S)):
        for length in range(shortest, longest + 1, max(1, (longest - shortest) // 4 or 1)):
            end = min(start + length, steps)
            begin = 0 if start == 0 else int(quiet[start])
            finish = steps if end == steps else int(quiet[end])
            if shortest <= finish - begin <= longest:
                found.add((begin, finish))
    return sorted(found) or [(0, min(steps, longest))]


def _quiet_points(loudness: NDArray[np.float64]) -> NDArray[np.int64]:
    """For each step, the quietest step within reach."""
    reach = round(SNAP_S / HOP_S)
    return np.array(
        [
            max(0, at - reach) + int(np.argmin(loudness[max(0, at - reach) : at + reach + 1]))
            for at in range(loudness.size)
        ]
    )


def _difference(
    sums: list[NDArray[np.float64]],
    start: int,
    end: int,
    weight: NDArray[np.float64],
    loudness: NDArray[np.float64],
) -> float | None:
    """The largest RMS difference of third-octave levels between two setups; None for a silent stretch."""
    if float(np.max(loudness[start:end])) < float(np.max(loudness)) - SILENT_DB:
        return None
    # a difference of long sums may vanish where a band is silent for the whole stretch
    levels = [10 * np.log10(np.maximum(total[end] - total[start], FLOOR)) for total in sums]
    worst = 0.0
    for one, other in combinations(levels, 2):
        strength = np.maximum(one, other) + weight
        share = np.clip((strength - strength.max() + AUDIBLE_DB) / AUDIBLE_DB, 0, 1)
        apart = one - other
        apart = apart - np.average(apart, weights=share)
        worst = max(worst, float(np.sqrt(np.average(np.square(apart), weights=share))))
    return worst
