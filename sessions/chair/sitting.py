"""What a page can be at: something that is shown, pressed, answered and given words, one thing at a time.

A trial's chair is one (`chair`); so are free listening (`free_chair`) and training (`training_chair`). Whoever owns it
calls `tick` some twenty times a second from the thread that made it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, Protocol

from .asked import Asked
from .given import Answered, Pressed, Said, WordSaid
from .view import Asking, View

if TYPE_CHECKING:
    from ..listening.browser_playback import BrowserPlayback

Doing = Literal["plan", "practice", "training", "free"]
"""What somebody sits down for: a plan, which counts, or what never does."""


class Sitting(Protocol):
    """Somebody at a page."""

    browser: BrowserPlayback | None  # where the page plays by itself
    trouble: str  # what goes wrong now, in whole: for the host

    @property
    def asked(self) -> Asked:
        """What stands for all of it."""

    @property
    def asking(self) -> Asking:
        """What is asked now."""

    @property
    def trial_id(self) -> str:
        """What presses and answers are of."""

    @property
    def device(self) -> str:
        """On what the record says it is heard."""

    def tick(self) -> None:
        """Bring what is to come, or look after what is heard."""

    def view(self) -> View:
        """What may be shown now."""

    def press(self, pressed: Pressed) -> Said:
        """Do what the remote asks."""

    def answer(self, given: Answered) -> Said:
        """Keep an answer; the same one again is answered the same."""

    def word(self, given: WordSaid) -> Said:
        """Keep a word; the same one again is kept once."""

    def come_anew(self) -> None:
        """Bring what is on offer once more: what plays it has changed."""

    def heard_on(self, words: str) -> None:
        """Keep that it is heard on another output from now on."""
