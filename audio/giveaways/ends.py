"""Where two clips in step begin and end: what one sounds before the other begins or after it has ended. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from . import hum
from .filter_residual import explained
from .findings import LIMITS, Finding, finding
from .hum import Hum

BLOCK_S = 0.005
FADED_DB, BESIDE_BLOCKS = 10.0, 10
SOUNDING_DB, GONE_DB = 30.0, 25.0  # within so much of the loudest, it sounds; so much below the other, it is missing
UNEXPLAINED = (
    0.3  # of the energy beyond an end: of what rooms ring out 0.25 and less, of music that goes on 0.5 and more, mostly
)


@dataclass(frozen=True)
class _Beyond:
    """What one of two clips sounds at an end beyond the other: its first block, the one after its last; whose it is."""

    first: int
    stop: int
    others: bool
    at_end: bool

    @property
    def longer_s(self) -> float:
        """By how much the other sounds longer."""
        return (self.stop - self.first) * BLOCK_S * (1 if self.others else -1)


def length(
    passage: str,
    setup: str,
    reference: Clip,
    other: Clip,
    order: Sequence[int] = (),
    longer_s: float = 0.0,
    hums: Sequence[Hum | None] = (),
) -> list[Finding]:
    """What gives the other away by where it begins and ends: clips brought into step, cut where both go.

    `order` names the other's channel for each of the reference's, where it is known: what a room there rings out after
    the end of the music is not counted, nor what either hums with all the time (`hums`). `longer_s` is by how much the
    whole clip was longer than the reference.
    """
    beyond = [each for each in _beyond(reference, other) if not _only_hums(reference, other, each, hums)]
    length_ms = 1000 * (longer_s + sum(each.longer_s for each in beyond))
    if abs(length_ms) > LIMITS["length"].value and beyond and order:  # the closer look last, which takes long
        beyond = [each for each in beyond if not (each.at_end and _rings_out(reference, other, order, each))]
        length_ms = 1000 * (longer_s + sum(each.longer_s for each in beyond))
    if abs(length_ms) <= LIMITS["length"].value:
        return []
    word = "longer" if length_ms > 0 else "shorter"
    what = f"{setup} sounds {abs(length_ms):.0f} ms {word} than the reference; choose a passage that both play whole"
    return [finding("length", setup, passage, length_ms, what)]


def held_by_both_s(reference: Clip, other: Clip) -> tuple[float, float]:
    """From when to when neither end lacks what the other has, in seconds, of clips brought into step."""
    apart = np.abs(_blocks_db(reference) - _blocks_db(other)) < GONE_DB
    both = np.flatnonzero(apart)
    block_s = _block(reference.rate_hz) / reference.rate_hz
    return (float(both[0]) * block_s, float(both[-1] + 1) * block_s) if both.size else (0.0, 0.0)


def without_bare_ends(reference: Clip, other: Clip) -> tuple[Clip, Clip]:
    """Clips brought into step, less the ends at which one of them holds nothing but zeros."""
    inside = np.flatnonzero(np.any(reference.samples, axis=1) & np.any(other.samples, axis=1))
    if inside.size == 0:
        return reference, other
    kept = slice(int(inside[0]), int(inside[-1]) + 1)
    return Clip(reference.samples[kept], reference.rate_hz), Clip(other.samples[kept], other.rate_hz)


def _beyond(reference: Clip, other: Clip) -> list[_Beyond]:
    """What either sounds at an end beyond the other, in blocks of 5 ms, of clips brought into step.

    A block of one is missing if it lies 25 dB below where the other's level would have it, and the other sounds
    there: within 30 dB of its loudest. What is fainter is taken for noise or for a soft end that nobody misses.
    """
    mine, theirs = _blocks_db(reference), _blocks_db(other)
    if mine.size == 0 or mine.max() <= -200 or theirs.max() <= -200:
        return []
    mine, theirs = mine - mine.max(), theirs - theirs.max()
    found = []
    for others, short, long in ((True, mine, theirs), (False, theirs, mine)):
        sounding = short > -SOUNDING_DB
        extra = (long > -SOUNDING_DB) & (short < long - GONE_DB)
        for at_end, way in ((False, slice(None)), (True, slice(None, None, -1))):
            first, stop = _leading(extra[way], sounding[way], (long - short)[way])
            if at_end:
                first, stop = mine.size - stop, mine.size - first
            if stop > first:
                found.append(_Beyond(first, stop, others, at_end))
    return found


def _only_hums(reference: Clip, other: Clip, beyond: _Beyond, hums: Sequence[Hum | None]) -> bool:
    """Whether what one sounds beyond the other is what it hums with all the time."""
    longer = other if beyond.others else reference
    block = _block(longer.rate_hz)
    stretch = longer.samples[beyond.first * block : beyond.stop * block]
    loudest = stretch[:, int(np.argmax(np.square(stretch).sum(axis=0)))]
    return any(hums) and hum.is_most_of(loudest, longer.rate_hz, hums)


def _rings_out(reference: Clip, other: Clip, order: Sequence[int], beyond: _Beyond) -> bool:
    """Whether what one sounds after the other's end is what a room makes of the music before it."""
    rate_hz = reference.rate_hz
    block = _block(rate_hz)
    stretch = slice(beyond.first * block, beyond.stop * block)
    heard, left = 0.0, 0.0
    for channel, place in enumerate(order):
        known = explained(reference.samples[:, channel], other.samples[:, place], rate_hz)[0]
        if known.of_other is not beyond.others:  # a room is in the one that rings
            return False
        heard += float(np.square(known.heard[stretch]).sum())
        left += float(np.square(known.left[stretch]).sum())
    return left < UNEXPLAINED * heard


def _block(rate_hz: int) -> int:
    """The frames of a block: whole ones, so that at 44.1 kHz it is a little less than 5 ms."""
    return max(1, round(BLOCK_S * rate_hz))


def _blocks_db(clip: Clip) -> NDArray[np.float64]:
    """The level of each block of 5 ms, the channels together, in dB, not below −200."""
    samples = clip.samples - [channel.mean() for channel in clip.samples.T]  # much faster than along the frames at once
    block = _block(clip.rate_hz)
    count = clip.frames // block
    power = np.mean(np.square(samples[: count * block].reshape(count, block * clip.channels)), axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 1e-20)))


def _leading(extra: NDArray[np.bool_], sounding: NDArray[np.bool_], louder_db: NDArray[np.float64]) -> tuple[int, int]:
    """From the first extra block to after the last one before the one that lacks them begins to sound; (0, 0): none.

    One that is merely fainter from there on, as dry music is after its last stroke in a room, lacks nothing there; nor
    one that is already `FADED_DB` fainter next to what it lacks, as where a room rings on after the music.
    """
    begins = np.flatnonzero(sounding & ~extra)
    where = np.flatnonzero(extra[: int(begins[0])] if begins.size else extra)
    if not where.size:
        return 0, 0
    first, stop = int(where[0]), int(where[-1]) + 1
    beside = louder_db[stop:][:BESIDE_BLOCKS]
    return (0, 0) if beside.size and float(beside.mean()) > FADED_DB else (first, stop)
