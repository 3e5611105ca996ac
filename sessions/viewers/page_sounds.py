"""The sounds of a viewers' page: which there are, under which names, each with dither of its own. It keeps nothing.

For each trial's slot there are two files, one a setup, in the order that the slot's coin says; the viewer's browser
draws which of them it plays. In ABX each passage has A and B beside them, open. All files of a passage have one size,
and their names, dither and order follow from the secret alone.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from audio import browser_sound
from audio.browser_sound import BrowserSound
from audio.clip import Clip
from audio.files.wav_bytes import HEADER_BYTES

from ..plans import viewers_test
from ..plans.viewers_test import ViewersTest

Sounds = Mapping[int, NDArray[np.float32]]
"""What is played of each passage, by its place: shape (setups, frames, channels)."""


@dataclass(frozen=True)
class NamedSound:
    """A file of the page: its name, and what it holds."""

    name: str
    sound: BrowserSound = field(repr=False)

    @property
    def crc32(self) -> int:
        """Of its samples, for the page to compare with what it plays."""
        return zlib.crc32(memoryview(self.sound.body)[HEADER_BYTES:])


def open_files(test: ViewersTest, place: int) -> tuple[str, ...]:
    """What A and B of a passage are called before they are given a name; nothing for a preference."""
    return tuple(f"open|{place + 1}|{setup}" for setup in range(2)) if test.method == "abx" else ()


def slot_files(test: ViewersTest, secret: bytes, slot: int) -> tuple[str, str]:
    """What a slot's two files are called before they are given a name, the first one first."""
    first = viewers_test.coin(test, secret, slot)
    return f"slot|{slot}|{first}", f"slot|{slot}|{1 - first}"


def made(test: ViewersTest, secret: bytes, sounds: Sounds, rate_hz: int) -> Iterator[NamedSound]:
    """Every file of the page, one at a time, in the order of their names.

    Raises
    ------
    FileError
        If a sound has more than two channels, or would clip.
    """
    wanted: dict[str, tuple[str, int, int]] = {}
    for place in sounds:
        for setup, which in enumerate(open_files(test, place)):
            wanted[viewers_test.file_name(secret, which)] = which, place, setup
    for slot in range(1, test.trials + 1):
        for which in slot_files(test, secret, slot):
            place = viewers_test.passage_of(test, secret, slot)
            wanted[viewers_test.file_name(secret, which)] = which, place, int(which[-1])
    for name in sorted(wanted):
        which, place, setup = wanted[name]
        clip = Clip(sounds[place][setup].astype(np.float64), test.passages[place].rate_hz)
        yield NamedSound(name, browser_sound.made(clip, rate_hz, viewers_test.dither_seed(secret, which)))
