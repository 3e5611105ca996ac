"""Whether the delay that was found between two recordings is known: that of the direct sound, and of no echo. Pure.

Two rooms between which much of the sound is reflected share many delays, and which of them is the start may be hidden;
what all channels share is the direct sound, if anything is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..alignment.delay import Alignment, Band, peak, whitened

ALL_THERE_IS = 0.3  # of the lines follow one delay: two rooms that hide it leave 0.23 and less of any
REFLECTED_S = 0.1  # what a room reflects later is far fainter
PLAINLY_BEST = 0.4  # certainty, of all channels together: 0.24 and less in rooms that hide it, 0.57 and more in others
TOGETHER_S = 1e-4  # the delays of all channels and of one are then the same


@dataclass(frozen=True)
class Answer:
    """The other's place that answers to a channel, by how much later it is, and `evenly` of both there."""

    place: int
    late_s: float
    evenly: float


def is_told(one: Band, two: Band, channels: dict[int, Answer], found: Alignment) -> bool:
    """Whether the delay of `found` is known: it is all there is, or plainly the best of all channels together.

    Parameters
    ----------
    channels
        What of the other answers to each channel of the one.
    """
    if abs(found.evenly) >= ALL_THERE_IS:
        return True
    shared = np.zeros(one.freqs_hz.size, dtype=np.complex128)
    for channel, each in channels.items():
        white = whitened(one, channel, two, each.place)
        if white is not None:
            shared += np.sign(each.evenly) * white * np.exp(2j * np.pi * one.freqs_hz * each.late_s)
    delay_s, _, _, certainty = peak(shared, one, found.delay_s, REFLECTED_S)
    return certainty >= PLAINLY_BEST and abs(delay_s - found.delay_s) < TOGETHER_S
