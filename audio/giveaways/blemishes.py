"""A cue that a chain adds to the sound: a DC offset. Pure."""

from __future__ import annotations

import numpy as np

from ..clip import Clip
from ..mend import Mend
from .findings import LIMITS, Finding, finding

THUMP_HZ = 60.0  # a step's energy falls by 6 dB an octave: above this, little of it is left
MOMENT_S, QUIETER = 0.1, 0.1
MENDED_HZ = 10.0  # an octave below what is heard; second order: 0.3 dB are lost at 20 Hz


def offset(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """Another DC offset, that could be heard: as a thump at a switch, beyond what the music itself holds down there."""
    apart_db = dc_difference_db(reference, other)
    if apart_db <= LIMITS["dc"].value or apart_db <= max(held_below_db(reference), held_below_db(other)):
        return []
    lower = np.abs(reference.samples.mean(axis=0)).max() < np.abs(other.samples.mean(axis=0)).max()
    who = setup if lower else "the reference"
    what = (
        f"{who} has a DC offset that {'the reference' if lower else setup} has not ({apart_db:.0f} dBFS apart): a "
        f"thump at a switch; --mend takes it off by a high-pass at {MENDED_HZ:g} Hz, alike for all setups"
    )
    return [finding("dc", setup, passage, apart_db, what, Mend(high_pass_hz=MENDED_HZ))]


def dc_difference_db(reference: Clip, other: Clip) -> float:
    """The largest difference of a channel's mean, in dB re full scale; −200 where there is none."""
    channels = min(reference.channels, other.channels)
    apart = np.abs(other.samples.mean(axis=0)[:channels] - reference.samples.mean(axis=0)[:channels])
    return 20 * float(np.log10(max(float(apart.max()), 1e-10)))


def held_below_db(clip: Clip) -> float:
    """What a clip holds below some 60 Hz, less its mean, in its quieter moments, in dB re full scale; -200 for nothing.

    Moments of 0.1 s; the level that a tenth of them stay below, of the channel that has most.
    """
    block = max(1, round(clip.rate_hz / (2 * THUMP_HZ)))
    count = clip.frames // block
    slow = clip.samples[: count * block].reshape(count, block, clip.channels).mean(axis=1)
    slow -= slow.mean(axis=0)
    moment = round(2 * THUMP_HZ * MOMENT_S)
    moments = slow[: count // moment * moment].reshape(-1, moment, clip.channels)
    power = np.quantile(np.mean(np.square(moments), axis=1), QUIETER, axis=0)
    return 10 * float(np.log10(max(float(power.max()), 1e-20)))
