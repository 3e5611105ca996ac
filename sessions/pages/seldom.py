"""Sentences for the host's terminal, each one at most once a minute: many pages may meet the same trouble."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

TOLD_EVERY_S = 60.0


class Seldom:
    """Tells what it is given, but nothing again within a minute. Safe to be used from several threads."""

    def __init__(self, tell: Callable[[str], None], monotonic: Callable[[], float] = time.monotonic) -> None:
        self._tell = tell
        self._monotonic = monotonic
        self._told: dict[str, float] = {}
        self._lock = threading.Lock()

    def __call__(self, sentence: str) -> None:
        """Tell it, unless it was told lately."""
        now = self._monotonic()
        with self._lock:
            self._told = {said: at for said, at in self._told.items() if now - at < TOLD_EVERY_S}
            if sentence in self._told:
                return
            self._told[sentence] = now
        self._tell(sentence)
