"""What is played of passages, read once for all who listen, and let go where it would become too much.

A minute of stereo through three setups takes 70 MB. A panel listens to the same passages, so all share what was read,
and nobody may write to it; of what was read, the latest is kept up to a bound.
"""

from __future__ import annotations

import os
import threading
from collections import OrderedDict
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..casebook.store import Casebook
from ..preparation import prepared_audio
from ..preparation.prepared_audio import SealedFile

MOST_BYTES = 512 * 1024 * 1024  # of passages that are kept; the one asked for is, whatever it takes; our choice

Sounds = NDArray[np.float32]


class PassageSounds:
    """The passages that were read lately. Safe to be used from several threads.

    Attributes
    ----------
    turn
        Held while a trial's sounds are copied and made ready: each takes some 200 MB for a minute meanwhile, and no
        more than the processors can be made at once anyway.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._read: OrderedDict[tuple[Path, str, tuple[SealedFile, ...], str | None], Sounds] = OrderedDict()
        self._lock = threading.Lock()
        self.turn = threading.BoundedSemaphore(max(2, os.cpu_count() or 1))

    def of(self, casebook: Casebook, passage: str, sealed: Sequence[SealedFile], sheet: str | None) -> Sounds:
        """What is played of a passage, as `prepared_audio.sounds` reads it: shape (files, frames, channels).

        Raises
        ------
        ListenError
            If a file is missing or not what was sealed.
        """
        asked = casebook.folder, passage, tuple(sealed), sheet
        with self._lock:
            found = self._read.pop(asked, None)
            if found is None:
                found = prepared_audio.sounds(casebook, passage, sealed, sheet)
                found.flags.writeable = False
            self._read[asked] = found
            while len(self._read) > 1 and sum(one.nbytes for one in self._read.values()) > self._most_bytes:
                self._read.popitem(last=False)
            return found
