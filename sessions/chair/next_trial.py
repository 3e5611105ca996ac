"""How the next trial comes: what is waited for where it cannot, and how long between two tries. It keeps no time.

A trial that was disturbed again and again comes only when it is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from audio.errors import DeviceError

from ..errors import CasebookBusy
from ..listening.trial_runner import TrialRunner
from ..listening.write_queue import RETRY_S

LONGEST_RETRY_S = 8.0  # between two tries at a lost device: each starts an engine, and holds the keys up meanwhile
LOST_FOR_S = 600.0  # a device that has not come back by then is not waited for any longer

Brought = Literal["hear", "device", "busy", "finished"]
"""A trial is there; the device is awaited, or the casebook; all trials are answered."""


@dataclass
class Tries:
    """When the next trial was tried for, and when it may be tried again. Times in seconds, by any one clock."""

    last: float
    retry_s: float = RETRY_S
    lost_at: float | None = None

    def due(self, now: float) -> bool:
        """Whether to try again."""
        return now - self.last > self.retry_s

    def tried(self, now: float, before: str, brought: str) -> None:
        """Note a try: each one at a lost device waits twice as long for the next."""
        again = before == brought == "device"
        self.retry_s = min(2 * self.retry_s, LONGEST_RETRY_S) if again else RETRY_S
        self.last = now

    def given_up(self, now: float, asking: str) -> bool:
        """Whether a lost device has been waited for too long."""
        self.lost_at = None if asking != "device" else now if self.lost_at is None else self.lost_at
        return self.lost_at is not None and now - self.lost_at > LOST_FOR_S


def bring(runner: TrialRunner) -> tuple[Brought, str]:
    """Bring the next trial, which takes its fixed time: what came, and what a lost device or a held casebook said."""
    try:
        return ("finished" if runner.offer() is None else "hear"), ""
    except DeviceError as error:
        return "device", str(error)
    except CasebookBusy as error:
        return "busy", error.waits


def lost(message: str) -> DeviceError:
    """What ends a session whose device does not come back."""
    minutes = f"{LOST_FOR_S / 60:.0f} minutes"
    return DeviceError(f"{message} (waited for {minutes}; nothing is lost, the same command goes on)")
