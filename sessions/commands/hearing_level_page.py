"""The pages before tones are heard: the cautions, and the level that a listener sets. It draws nothing.

The cautions stand until somebody says that the volume is down; before that nothing sounds, nor is it prepared.

The level begins far below what is heard. A tone of 1 kHz sounds again and again. Each key press turns it up by one
small step, and only once the last step has sounded, so that a key that is held does not run away. What it ends at is
the level of all tones that follow.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from audio.errors import DeviceError

from ..listening.hearing_sounds import LEAST_SPL_DB, MOST_SPL_DB, STEP_DB, SetLevel
from ..listening.write_queue import RETRY_S
from . import keyboard
from .threshold_page import LONGEST_RETRY_S

if TYPE_CHECKING:
    from audio.engine.playback import Playback

SOUNDS_S = 1.0  # a step must have sounded so long before the next one up: a tone with its silences
MOST_DIGITS = 4
TURN_DOWN = f"that is above {MOST_SPL_DB:g} dB SPL, the most that is played here: turn it down and read again"
VOLUME = (
    "Turn the volume down first. Never turn it up because you hear nothing; stop (q) when anything is uncomfortable."
)
Asking = Literal["next", "cautions", "level", "leave", "device", "set", "stopped"]


@dataclass
class HearingLevelPage:
    """What is asked while the level is set.

    Attributes
    ----------
    player, sounds, levels_dbfs, rate_hz
        What plays the tone, and the tone at each level, from the quietest.
    until
        The place of the level of a run that is taken up, which is the only one to end at; None: wherever it is quiet.
    cautions
        What must be read before anything sounds, a paragraph each; none once that was said.
    asking
        next (the tone is on its way), cautions, level, leave, device (waiting for it), set, stopped
    """

    player: Playback
    sounds: NDArray[np.float32]
    levels_dbfs: Sequence[float]
    rate_hz: int
    title: str
    until: int | None = None
    cautions: Sequence[str] = ()
    monotonic: Callable[[], float] = time.monotonic
    place: int = 0
    typed: str = ""
    asking: Asking = "next"
    message: str = ""
    changed_at: float = 0.0
    tried: float = 0.0
    retry_s: float = RETRY_S
    stalls: int = 0

    @property
    def ended(self) -> bool:
        """Whether the listener is done here."""
        return self.asking in ("set", "stopped")

    @property
    def level(self) -> SetLevel | None:
        """The level that was set; None where the listener left."""
        if self.asking != "set":
            return None
        return SetLevel(self.levels_dbfs[self.place], float(self.typed) if self.typed else None)

    @property
    def brings(self) -> bool:
        """Whether the tone is to be brought now."""
        if self.asking == "device":
            return self.monotonic() - self.tried > self.retry_s
        return self.asking == "next"

    def bring(self) -> None:
        """Bring the cautions, silent, as long as nobody read them; then the tone, at the quietest level."""
        if self.cautions:  # only now, as keys typed before are forgotten here: none of them was meant for these
            self.asking = "cautions"
            return
        waited, self.retry_s, self.place, self.typed = self.retry_s, RETRY_S, 0, ""
        try:
            self.player.load(list(self.sounds), self.rate_hz, [0] * len(self.sounds))
            self._play()
            self.asking, self.message = "level", ""
        except DeviceError as error:
            self.retry_s = min(2 * waited, LONGEST_RETRY_S)
            self.asking, self.message = "device", str(error)
        self.tried = self.monotonic()

    def poll(self) -> None:
        """Notice a device that stopped: the tone then begins at its quietest again."""
        stalls = self.player.faults().stalls
        if self.asking in ("level", "leave") and stalls > self.stalls:
            self.asking = "next"
        self.stalls = stalls

    def leave(self) -> None:
        """Ask whether to stop."""
        if self.asking == "level":
            self.asking = "leave"
        elif self.asking == "cautions":
            self._end("stopped")

    def named_by(self, key: str) -> bool:
        """Take a key."""
        self.turn(key)
        return False

    def turn(self, key: str) -> None:
        """Take a key."""
        letter = key.lower() if len(key) == 1 else key
        if self.asking in ("device", "cautions") and letter == "q":
            self._end("stopped")
        elif self.asking == "cautions" and letter == keyboard.ENTER:
            self.cautions, self.asking = (), "next"
        elif self.asking == "leave":
            if letter == "y":
                self._end("stopped")
            else:
                self.asking = "level"
        elif self.asking == "level":
            self.message = ""
            self._level_turn(letter)

    def _level_turn(self, letter: str) -> None:
        if letter in ("+", "=", keyboard.UP):
            self._up()
        elif letter in ("-", "_", keyboard.DOWN):
            self._to(self.place - 1)
        elif letter == "q":
            self.asking = "leave"
        elif letter == keyboard.BACKSPACE:
            self.typed = self.typed[:-1]
        elif letter == keyboard.ENTER:
            self._enter()
        elif self.until is None and (letter.isdigit() or (letter == "." and self.typed and "." not in self.typed)):
            self.typed = (self.typed + letter)[:MOST_DIGITS]

    def _up(self) -> None:
        if self.monotonic() - self.changed_at < SOUNDS_S:
            self.message = "one step at a time: let this one sound first"
        elif self.place >= self._most:
            self.message = (
                "this is where the run began: if it is not clear and quiet now, set the amplifier"
                if self.until is not None
                else "this is the most: turn the amplifier up a little, slowly, only if you hear next to nothing"
            )
        else:
            self._to(self.place + 1)

    def _to(self, place: int) -> None:
        if 0 <= place <= self._most:
            self.place, self.typed = place, ""  # a meter's reading holds for its level alone
            self._play()

    def _enter(self) -> None:
        if self.until is not None and self.place != self.until:
            self.message = f"this run was begun at {self._begun_at}: go up to it in steps with +"
        elif self.monotonic() - self.changed_at < SOUNDS_S:
            self.message = "let this one sound first"
        elif self.typed and float(self.typed) > MOST_SPL_DB:
            self.message = TURN_DOWN
        elif self.typed and float(self.typed) < LEAST_SPL_DB:
            self.message = f"a meter reads no {self.typed} dB; type what it shows, or take it out with Backspace"
        else:
            self._end("set")

    def _play(self) -> None:
        self.changed_at = self.monotonic()
        self.player.play_from(self.place, 0)

    def _end(self, asking: Asking) -> None:
        self.player.stop()
        self.asking = asking

    @property
    def _most(self) -> int:
        return len(self.levels_dbfs) - 1 if self.until is None else self.until

    @property
    def _begun_at(self) -> str:
        return "" if self.until is None else f"{self.levels_dbfs[self.until]:g} dBFS"

    def head(self) -> str:
        """What this is."""
        return f"{self.title}  ·  first {'this' if self.cautions else 'the level'}"

    def asked(self) -> str:
        """What is asked."""
        if self.cautions:
            return "Turn the volume down before you begin."
        if self.until is not None:
            return f"Go up with + to {self._begun_at}, as in this run so far; it should be clear and quiet as it was."
        return "Go up with + until you hear the tone clearly, and still quietly, as speech in the next room."

    def presentations(self) -> list[tuple[str, str]]:
        """There is nothing to choose from."""
        return []

    def place_words(self) -> str:
        """The level, and what a meter reads; nothing before it sounds."""
        if self.asking not in ("level", "leave"):
            return ""
        meter = f", a meter reads {self.typed} dB" if self.typed else ""
        return f"1 kHz, again and again, at {self.levels_dbfs[self.place]:g} dBFS{meter}"

    def what_keys_do(self) -> list[str]:
        """What can be typed now."""
        if self.asking == "leave":
            return ["Stop here?", "y: stop", "Esc: go on"]
        if self.asking == "device":
            return ["No sound: waiting for the device.", "q: stop"]
        if self.asking == "cautions":
            return ["Enter: the volume is down", "q: stop"]
        if self.asking != "level":
            return ["One moment." if self.cautions else "One moment: the tone is on its way."]
        digits = [] if self.until is not None else ["digits: what a sound level meter reads there, if you have one"]
        return [f"+: {STEP_DB:g} dB up", "-: down", "Enter: clear and quiet", *digits, "q: stop"]

    def messages(self) -> list[str]:
        """What must be read first, or what is said once, and of the volume as long as the level is set."""
        if self.cautions:
            return [*self.cautions]
        return [text for text in (self.message, VOLUME if self.asking in ("level", "leave") else "") if text]
