"""A cue that a chain adds to the sound: a DC offset. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..mend import Mend
from .findings import LIMITS, Finding, finding

THUMP_HZ = 60.0  # a step's energy falls by 6 dB an octave: above this, little of it is left
MOMENT, QUIETER = 12, 0.1  # at twice that rate: 0.1 s
STAYS, OFTEN = 0.5, 0.9  # so much of an offset is there so often, or it comes and goes with the music
MENDED_HZ = 10.0  # an octave below what is heard; second order: 0.3 dB are lost at 20 Hz


def offset(passage: str, setup: str, reference: Clip, other: Clip, *, mending: bool = False) -> list[Finding]:
    """Another DC offset, that could be heard: as a thump at a switch, beyond what the music itself holds down there.

    Where it is mended already (`mending`) nothing is said of how it can be.
    """
    apart_db = dc_difference_db(reference, other)
    if apart_db <= LIMITS["dc"].value or apart_db <= max(held_below_db(reference), held_below_db(other)):
        return []
    what = f"{_compared(setup, reference, other)} ({apart_db:.0f} dBFS apart): a thump at a switch"
    if not mending:
        what += f"; --mend takes it off by a high-pass at {MENDED_HZ:g} Hz, alike for all setups"
    return [finding("dc", setup, passage, apart_db, what, Mend(high_pass_hz=MENDED_HZ))]


def _compared(setup: str, reference: Clip, other: Clip) -> str:
    """Which of two has the offset, or more of it, as is true of both: by the channel in which they differ most."""
    least = 10 ** (LIMITS["dc"].value / 20)
    one, two = (clip.samples.mean(axis=0) for clip in (reference, other))
    channel = int(np.argmax(_standing_apart(reference, other)))
    names = ("the reference", setup) if abs(one[channel]) > abs(two[channel]) else (setup, "the reference")
    who, whom = names
    if np.abs(two if who != setup else one).max() <= least:
        return f"{who} has a DC offset that {whom} has not"
    if one[channel] * two[channel] < 0 and min(abs(one[channel]), abs(two[channel])) > least:
        return f"{setup} has a DC offset of the other sign than the reference in channel {channel + 1}"
    return f"{who} has more DC offset than {whom} in channel {channel + 1}"


def dc_difference_db(reference: Clip, other: Clip) -> float:
    """The largest difference of a channel's mean that stays throughout, in dB re full scale; −200 for none."""
    return 20 * float(np.log10(max(float(_standing_apart(reference, other).max(initial=0.0)), 1e-10)))


def _standing_apart(reference: Clip, other: Clip) -> NDArray[np.float64]:
    """By how much each channel's means differ where that stays throughout, else 0.

    A chain's offset is there in pauses, too. What comes and goes is the music's own (a voice, a plucked string), that a
    room, an equaliser or turned polarity makes another one of.
    """
    channels = min(reference.channels, other.channels)
    apart = other.samples.mean(axis=0)[:channels] - reference.samples.mean(axis=0)[:channels]
    one, two = (_slow(clip)[:, :channels] for clip in (reference, other))
    count = min(len(one), len(two))
    if count < 2 * MOMENT:
        return np.zeros(channels)
    shape = np.hanning(2 * MOMENT + 1)[1:]
    courses = np.lib.stride_tricks.sliding_window_view(two[:count] - one[:count], shape.size, axis=0)[::MOMENT]
    stays = np.quantile(courses @ (shape / shape.sum()) * np.sign(apart), 1 - OFTEN, axis=0) > STAYS * np.abs(apart)
    return np.asarray(np.where(stays, np.abs(apart), 0.0))


def held_below_db(clip: Clip) -> float:
    """What a clip holds below some 60 Hz, less its mean, in its quieter moments, in dB re full scale; -200 for nothing.

    Moments of 0.1 s; the level that a tenth of them stay below, of the channel that has most.
    """
    slow = _slow(clip)
    slow -= slow.mean(axis=0)
    moments = slow[: len(slow) // MOMENT * MOMENT].reshape(-1, MOMENT, clip.channels)
    power = np.quantile(np.mean(np.square(moments), axis=1), QUIETER, axis=0)
    return 10 * float(np.log10(max(float(power.max()), 1e-20)))


def _slow(clip: Clip) -> NDArray[np.float64]:
    """What is below some `THUMP_HZ`, at twice that rate; shape (moments, channels)."""
    block = max(1, round(clip.rate_hz / (2 * THUMP_HZ)))
    count = clip.frames // block
    return np.asarray(clip.samples[: count * block].reshape(count, block, clip.channels).mean(axis=1))
