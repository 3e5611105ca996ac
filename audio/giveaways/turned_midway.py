"""A channel whose polarity turns in mid-passage: upright before, turned after. Pure.

What lies between two recordings and stays, a loudspeaker or a room, has the same phase before and after any moment.
A channel whose polarity turns has the opposite one in every octave; one that jumps in time has any.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ..clip import Clip
from ..track_time import told as told_place
from .findings import LIMITS, Finding, finding
from .gain_course import AUDIBLE, FEWEST_LINES, SHARES_HZ, WINDOW_S, Lines, Moments, Signal

SHORTEST_S = 0.75  # on either side
FEWEST_OCTAVES = 4
PAUSE_DB = 40.0  # moments below the loudest one


@dataclass(frozen=True)
class Turn:
    """From when on, in seconds, a channel (from 0) is turned against what it was before, and how alike they then are.

    `correlation` is that of before and after, −1 to 1.
    """

    channel: int
    at_s: float
    correlation: float


def told(passage: str, setup: str, found: Turn, begun_s: float | None = 0.0) -> list[Finding]:
    """What is to be said of it. The clips begin `begun_s` into the passage; None: not known."""
    place = "" if begun_s is None else f" about {told_place(begun_s + found.at_s, 1)} into the passage"
    what = (
        f"the polarity of {setup}'s channel {found.channel + 1} turns{place}, against the reference (a lead, a switch "
        "or an edit in one of them?); record it again, or leave that stretch out"
    )
    return [finding("polarity-turning", setup, passage, found.correlation, what)]


def turns(one: Moments, two: Moments) -> list[Turn]:
    """The channels of the second that turn against the first's, of clips in step; at most one turn in each."""
    found = []
    for channel in np.unique(one.channel):
        own = one.channel == channel
        turn = _turn(one.lines[own], two.lines[own], one.freqs_hz[own], int(channel))
        if turn is not None:
            found.append(turn)
    return found


def upright(clip: Clip, found: list[Turn], begun_s: float = 0.0) -> Clip:
    """A clip with those channels turned back, its moments `begun_s` later than told. For measuring only."""
    samples = clip.samples.copy()
    for turn in found:
        samples[max(0, round((turn.at_s + begun_s) * clip.rate_hz)) :, turn.channel] *= -1
    return Clip(samples, clip.rate_hz)


def _turn(one: Lines, two: Lines, freqs_hz: Signal, channel: int) -> Turn | None:
    energies = [np.sum(np.square(np.abs(each)), axis=1) for each in (one, two)]
    heard = (energies[0] > AUDIBLE * energies[0].max()) & (energies[1] > AUDIBLE * energies[1].max())
    shortest = round(SHORTEST_S / (WINDOW_S / 2))
    count = one.shape[1]
    if heard.sum() < FEWEST_LINES or count < 2 * shortest + 1:
        return None
    across = one[heard].conj() * two[heard]
    level = np.abs(across).sum(axis=0)
    across = across * np.where(level > 10 ** (-PAUSE_DB / 10) * level.max(), 1 / np.sqrt(np.maximum(level, 1e-30)), 0)
    across = across / np.maximum(np.abs(across).sum(axis=1, keepdims=True), 1e-30)  # each line counts alike
    before = np.cumsum(across, axis=1)[:, shortest - 1 : count - shortest]
    after = across.sum(axis=1, keepdims=True) - before
    at = int(np.argmax(np.abs(after - before).sum(axis=0)))
    alike = np.real(before[:, at] * after[:, at].conj())
    size = np.abs(before[:, at]) * np.abs(after[:, at])
    freqs = freqs_hz[heard]
    values = []
    for low_hz, high_hz in itertools.pairwise(SHARES_HZ):
        lines = (freqs >= low_hz) & (freqs < high_hz)
        if lines.sum() >= FEWEST_LINES:
            values.append(float(alike[lines].sum() / max(float(size[lines].sum()), 1e-30)))
    limit = LIMITS["polarity-turning"].value
    if len(values) < FEWEST_OCTAVES or float(np.quantile(values, 0.75)) > limit / 2 or float(np.median(values)) > limit:
        return None
    return Turn(channel, (at + shortest + 0.5) * WINDOW_S / 2, float(np.median(values)))
