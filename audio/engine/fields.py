"""The shared numbers between the application and its playback engine: who writes which, and where they lie.

One block of 64-bit whole numbers, each with a single writer. The application's whole wish is one number, so that it
changes at once or not at all; the engine answers with its place, its counts, and a ring of auditions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# written by the application; the start place and the loop before the wish that asks for them
WISH, START, LOOP = 0, 15, 18
# written by the engine
SEEN, APPLIED_AT, BLOCKS, FRAMES, STIMULUS, POSITION, SOUNDING = 1, 2, 3, 4, 5, 6, 7
UNDERRUNS, OVERRUNS, CALLBACK_ERRORS, AUDITIONS, BANK, WORST_NS, BUSY_NS = 8, 9, 10, 11, 12, 13, 14
STAMP_FRAMES, STAMP_NS = 16, 17
RING = 64  # where the ring of auditions begins
RING_PLACES, RING_WIDTH = 1024, 3  # stimulus, from frame, to frame
SIZE = RING + RING_PLACES * RING_WIDTH
BYTES = SIZE * 8

Fields = NDArray[np.int64]


def packed_loop(start: int, end: int) -> int:
    """A part of the passage as one number, from its first frame to the one after its last; 0 is none."""
    return start << 31 | end


def unpacked_loop(number: int) -> tuple[int, int]:
    """The part of a packed number."""
    return number >> 31, number & 0x7FFFFFFF


@dataclass(frozen=True)
class Wish:
    """What the application wants to be heard.

    Attributes
    ----------
    serial
        Rises with every request, so that asking for the same thing again is seen (a switch to itself fades as well).
    stimulus
        Index of the stimulus, or −1 for silence.
    paused
        Silence that holds the place in the music.
    restarts
        Rises with every request to go to the start place (frame 0, unless the application wrote another).
    """

    serial: int = 0
    stimulus: int = -1
    paused: bool = False
    restarts: int = 0

    def packed(self) -> int:
        """The wish as one number: 30 bits serial, 16 bits restarts, 1 bit paused, 16 bits stimulus + 1."""
        return (
            (self.serial & 0x3FFFFFFF) << 33
            | (self.restarts & 0xFFFF) << 17
            | int(self.paused) << 16
            | (self.stimulus + 1) & 0xFFFF
        )

    @classmethod
    def unpacked(cls, number: int) -> Wish:
        """The wish of a packed number."""
        return cls(
            serial=number >> 33 & 0x3FFFFFFF,
            stimulus=(number & 0xFFFF) - 1,
            paused=bool(number >> 16 & 1),
            restarts=number >> 17 & 0xFFFF,
        )
