"""Cues of level and channel: overall loudness, balance of the channels, swapped, missing or merged channels. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..weighting import By, channel_levels_db, level_db
from .findings import LIMITS, Finding, finding

ALIKE_CHANNELS = 0.98  # above this correlation left and right cannot be told apart, so nor can a swap
BAND_HZ = (300.0, 4000.0)
SILENT_DB = -120.0


def levels(passage: str, setup: str, reference: Clip, other: Clip, by: By = "bs1770") -> list[Finding]:
    """What gives the other away by level or channel, against the reference."""
    if reference.channels != other.channels:
        what = f"{setup} has {other.channels} channels, the reference {reference.channels}"
        return [finding("channels-count", setup, passage, other.channels - reference.channels, what)]
    found = _overall(passage, setup, reference, other, by)
    apart = _missing(passage, setup, reference, other) + _swapped(passage, setup, reference, other)
    apart += _width(passage, setup, reference, other)
    return found + (apart or _balance(passage, setup, reference, other, by))


def _overall(passage: str, setup: str, reference: Clip, other: Clip, by: By) -> list[Finding]:
    mine, theirs = level_db(reference, by), level_db(other, by)
    if mine is None or theirs is None:
        return []
    apart = theirs - mine
    if abs(apart) <= LIMITS["level"].value:
        return []
    word = "louder" if apart > 0 else "quieter"
    return [finding("level", setup, passage, apart, f"{setup} is {abs(apart):.2f} LU {word} than the reference")]


def _balance(passage: str, setup: str, reference: Clip, other: Clip, by: By) -> list[Finding]:
    """The largest change of one channel against the mean of all."""
    mine, theirs = _channels(reference, by), _channels(other, by)
    heard = (mine > SILENT_DB) & (theirs > SILENT_DB)
    if heard.sum() < 2:
        return []
    change = (theirs - mine)[heard]
    spread = float(np.ptp(change))
    if spread <= LIMITS["channel-level"].value:
        return []
    what = f"the balance of {setup}'s channels differs from the reference's by {spread:.2f} dB"
    return [finding("channel-level", setup, passage, spread, what)]


def _missing(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    mine, theirs = _rms_db(reference), _rms_db(other)
    found = []
    for place in range(reference.channels):
        lost = (mine[place] - mine.max()) - (theirs[place] - theirs.max())
        if abs(lost) > LIMITS["channels-missing"].value:
            word = "lacks" if lost > 0 else "has, unlike the reference,"
            what = f"{setup} {word} channel {place + 1} ({abs(lost):.0f} dB)"
            found.append(finding("channels-missing", setup, passage, abs(lost), what))
    return found


def _swapped(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """Left and right exchanged: the short-time levels of each channel follow the other's."""
    if reference.channels != 2:
        return []
    mine, theirs = _movement(reference), _movement(other)
    if _correlation(mine[:, 0], mine[:, 1]) > ALIKE_CHANNELS:
        return []
    straight = _correlation(mine[:, 0], theirs[:, 0]) + _correlation(mine[:, 1], theirs[:, 1])
    crossed = _correlation(mine[:, 0], theirs[:, 1]) + _correlation(mine[:, 1], theirs[:, 0])
    better = (crossed - straight) / 2
    if better <= LIMITS["channels-swapped"].value:
        return []
    what = f"{setup} has left and right exchanged (that order fits better by {better:.2f})"
    return [finding("channels-swapped", setup, passage, better, what)]


def _width(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """A stereo recording against one whose channels are the same."""
    if reference.channels != 2:
        return []
    apart = _side_db(other) - _side_db(reference)
    if abs(apart) <= LIMITS["channels-width"].value:
        return []
    word = "wider" if apart > 0 else "narrower"
    what = f"{setup}'s stereo is {abs(apart):.0f} dB {word} than the reference's (mono against stereo?)"
    return [finding("channels-width", setup, passage, apart, what)]


def _channels(clip: Clip, by: By) -> NDArray[np.float64]:
    return np.array([SILENT_DB if level is None else level for level in channel_levels_db(clip, by)])


def _rms_db(clip: Clip) -> NDArray[np.float64]:
    return 10 * np.log10(np.maximum(np.mean(np.square(clip.samples), axis=0), 10 ** (SILENT_DB / 10)))


def _side_db(clip: Clip) -> float:
    """The side signal's level against the middle's, not below −80 dB."""
    middle, side = clip.samples.sum(axis=1), clip.samples[:, 0] - clip.samples[:, 1]
    ratio = float(np.mean(np.square(side))) / max(float(np.mean(np.square(middle))), 1e-12)
    return 10 * float(np.log10(max(ratio, 1e-8)))


def _movement(clip: Clip) -> NDArray[np.float64]:
    """Each channel's level over time (20 ms steps) less the mean of the channels; what is common tells no swap."""
    step = max(1, round(0.02 * clip.rate_hz))
    count = clip.frames // step
    powers = np.mean(np.square(clip.samples[: count * step].reshape(count, step, clip.channels)), axis=1)
    return 10 * np.log10(np.maximum(powers, 10 ** (SILENT_DB / 10)))


def _correlation(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    one, other = one - one.mean(), other - other.mean()
    scale = float(np.sqrt(np.sum(np.square(one)) * np.sum(np.square(other))))
    return 0.0 if scale == 0 else float(np.sum(one * other)) / scale
