"""What every chair does while time passes: it brings what is to come, and tries again where it cannot, up to an end."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable

from ..listening.write_queue import WAITS, sentence
from . import for_listeners, wording
from .next_trial import Tries, lost
from .view import Asking


class Bringing(ABC):
    """A chair in which one thing at a time is asked; each kind brings and looks after its own."""

    def __init__(self, monotonic: Callable[[], float], asking: Asking) -> None:
        self._monotonic = monotonic
        self._tries = Tries(monotonic())
        self._asking = asking
        self._message = wording.QUIET
        self._lack = ""  # why there was no sound
        self.trouble = ""  # the same, and of what else went wrong, in whole: for the host

    @property
    def asking(self) -> Asking:
        """What is asked now."""
        return self._asking

    def tick(self) -> None:
        """Bring what is to come, or look after what is heard.

        Raises
        ------
        DeviceError
            If a lost device did not come back for long.
        SessionsError, AudioError
            If what is to come can never be brought.
        """
        before = self._asking
        if before == "coming" or (before in ("device", "busy") and self._tries.due(self._monotonic())):
            self.trouble = ""
            self._bring()
            if self._asking == "device":
                self._lack = self._message
            elif self._lack and self._message == self._lack:
                self._message, self._lack = wording.QUIET, ""  # it is there now
            self._tries.tried(self._monotonic(), before, self._asking)
        elif before == "hear":
            self._look_after()
        if self._tries.given_up(self._monotonic(), self._asking):
            raise lost(self.trouble or self._message)

    def _to_listener(self, error: Exception) -> str:
        """What the listener is told of it; the whole is kept for the host."""
        self.trouble = str(error)
        return for_listeners.told(error)

    def _to_say(self, warning: str, waits: str) -> tuple[str, ...]:
        """What there is to say beside what is asked; `waits` is for what is waited before it can be written."""
        held = sentence(waits) or (WAITS if self._asking == "busy" else "")
        return tuple(one for one in (self._message, warning, held) if one)

    def come_anew(self) -> None:
        """Bring what is on offer once more: what plays it has changed."""
        if self._asking in ("hear", "device"):
            self._asking = "coming"

    @abstractmethod
    def _bring(self) -> None:
        """Bring what is to come; what is asked since says whether it is there, or for what it waits."""

    @abstractmethod
    def _look_after(self) -> None:
        """Keep what was heard, and notice what disturbed it."""
