"""Stereo against mono: one recording whose channels are nearly the same, where the other's are not. Pure.

A room makes two channels of nearly the same music unlike as well, each by a decay of its own, and is no giveaway. But
what it adds to the side it adds to the middle too, as much of it: so it is a room if the middle of the wide recording
holds about as much that no smooth response makes of the narrow one's middle as its side does. Stereo mixed to mono
leaves the middle as it was, through whatever loudspeaker. A noise of each channel's own is a side, too, but no stereo:
it stays the same whatever the music does, and is told as what it is.
"""

from __future__ import annotations

import itertools

import numpy as np

from ..clip import Clip
from .findings import LIMITS, Finding, finding
from .gain_course import AUDIBLE, SHARES_HZ, Lines, Moments, Signal
from .width import FEWEST_LINES, mean_of, middle_and_side

FAINTEST_SIDE_DB = -80.0
LEAST_SIDE_DB = -40.0  # our choice, no source: a stereo whose side is fainter is none to the ear, under its own middle
MOMENT_S = 0.1
QUIET, LOUD = 0.1, 0.5  # of the moments, by their middle: the faintest and the loudest of them
MOVES, STAYS = 10.0, 2.0  # times as much power in these: what the middle does at least, and a noise at most
KEPT = 0.25  # of the side's power: as much in the narrow one's pauses, and it is what sounds around the music
SMOOTH_HZ = 100.0  # what a loudspeaker does is about the same within it; what a decay of 10 ms and more does is not
DECAY = 0.03  # of the middle: less, and it may be a loudspeaker's resonances (0.005)
OF_THE_SIDE = 0.5  # as much of the middle as of the side, on average; rooms drawn at random have 0.69 to 1.42


def merged(
    passage: str, setup: str, reference: Clip, other: Clip, spectra: tuple[Moments, Moments] | None
) -> list[Finding]:
    """A stereo recording against one whose channels are the same; `spectra` are theirs, in step, if they can be."""
    if reference.channels != 2:
        return []
    apart = side_db(other) - side_db(reference)
    if abs(apart) <= LIMITS["channels-width"].value:
        return []
    wide, narrow = (other, reference) if apart > 0 else (reference, other)
    if side_db(wide) < LEAST_SIDE_DB or _is_noise(wide, narrow):
        return []
    if side_db(as_balanced(wide, narrow)) - side_db(narrow) <= LIMITS["channels-width"].value / 2:
        return []  # one channel of it is only fainter
    if spectra is not None and _of_a_room(*(spectra if apart > 0 else spectra[::-1])):
        return []
    word = "wider" if apart > 0 else "narrower"
    what = f"{setup}'s stereo is {abs(apart):.0f} dB {word} than the reference's (mono against stereo?)"
    return [finding("channels-width", setup, passage, apart, what)]


def as_balanced(clip: Clip, like: Clip) -> Clip:
    """A clip with each of its channels as strong as the other clip's."""
    mine, theirs = (np.sqrt(np.mean(np.square(each.samples), axis=0)) for each in (like, clip))
    return Clip(clip.samples * (np.maximum(mine, 1e-6) / np.maximum(theirs, 1e-6)), clip.rate_hz)


def side_db(clip: Clip) -> float:
    """The side signal's level against the middle's, not below −80 dB."""
    middle, side = clip.samples.sum(axis=1), clip.samples[:, 0] - clip.samples[:, 1]
    ratio = float(np.mean(np.square(side))) / max(float(np.mean(np.square(middle))), 1e-12)
    return 10 * float(np.log10(max(ratio, 10 ** (FAINTEST_SIDE_DB / 10))))


def _is_noise(wide: Clip, narrow: Clip) -> bool:
    """Whether the side stays the same while the middle moves, and the narrow one lacks such a sound: noise, no music.

    What sounds around a voice, rain or an audience, may be as steady, but mixed to mono it is in the middle.
    """
    (middle, side), (other, _) = (_moments(each) for each in (wide, narrow))
    if min(middle.size, other.size) < 1 / QUIET:
        return False
    order = np.argsort(middle, kind="stable")
    quiet, loud = order[: round(QUIET * order.size)], order[-round(LOUD * order.size) :]
    rises = [float(each[loud].mean()) / max(float(each[quiet].mean()), 1e-20) for each in (middle, side)]
    pauses = float(np.quantile(other, QUIET / 2))
    return rises[0] > MOVES and rises[1] < STAYS and pauses < KEPT * float(side[quiet].mean())


def _moments(clip: Clip) -> tuple[Signal, Signal]:
    """The mean squares of middle and side, moment by moment."""
    length = round(MOMENT_S * clip.rate_hz)
    count = clip.frames // length
    both = clip.samples.sum(axis=1), clip.samples[:, 0] - clip.samples[:, 1]
    middle, side = (np.square(each[: count * length]).reshape(count, length).mean(axis=1) for each in both)
    return middle, side


def _of_a_room(narrow: Moments, wide: Moments) -> bool:
    """Whether the wide recording's side is no more than what a room adds to its middle as well."""
    (middle, _), (middle_2, side_2) = middle_and_side(narrow), middle_and_side(wide)
    power, power_2, own = (mean_of(each, each).real for each in (middle, middle_2, side_2))
    tied, side_tied = mean_of(middle_2, middle), mean_of(side_2, middle)
    heard = (power > AUDIBLE * power.max()) & (power_2 > AUDIBLE * power_2.max())
    freqs = narrow.freqs_hz[: len(middle)]
    decays, shares = [], []
    for low_hz, high_hz in itertools.pairwise(SHARES_HZ):
        lines = heard & (freqs >= low_hz) & (freqs < high_hz)
        if lines.sum() < FEWEST_LINES:
            continue
        left, side, free = 0.0, 0.0, 0
        for near in np.unique(freqs[lines] // SMOOTH_HZ):
            some = lines & (freqs // SMOOTH_HZ == near)
            weight = 1 / power_2[some]  # every line counts alike
            # few tones tell few lines of a response: a smooth one then passes for more of both than it is
            left += _unexplained(weight, power_2[some], tied[some], power[some])
            side += _unexplained(weight, own[some], side_tied[some], power[some])
            free += int(some.sum()) - 1
        if free > 0:
            # a band counts by its lines: few of them tell a room's share of the side badly
            decays += [left / free] * free
            shares += [left / max(side, 1e-9)] * free
    return bool(shares) and float(np.median(decays)) > DECAY and float(np.median(shares)) > OF_THE_SIDE


def _unexplained(weight: Signal, what: Signal, tied: Lines, by: Signal) -> float:
    """What of some neighbouring lines' power no one response makes of what they are tied to."""
    met = np.square(np.abs(np.sum(weight * tied))) / np.sum(weight * by)
    return float(np.sum(weight * what) - met)
