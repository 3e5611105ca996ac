"""The page of a run of forced choices: what its keys do, and what stands on it. It draws nothing.

Nothing here depends on which presentation is the changed one, on its size, or on earlier answers.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Literal

from audio.errors import DeviceError

from ..errors import CasebookBusy
from ..listening.threshold_listening import ThresholdListening
from ..listening.write_queue import RETRY_S, WAITS, sentence
from . import keyboard
from .times import clock

QUIET = "Start quiet and turn up slowly; then leave the volume as it is, and rest your ears when they tire."
KEPT = "kept"
LONGEST_RETRY_S = 8.0  # between two tries at a lost device: each starts an engine, and holds the keys up meanwhile
Asking = Literal["next", "hear", "answer", "leave", "device", "busy", "disturbed", "finished", "stopped"]


@dataclass(frozen=True)
class Wording:
    """How a page speaks of what is listened for.

    Attributes
    ----------
    asked
        What all presentations are, and the question.
    named
        What a letter says where an answer is given.
    music
        Whether the place in the music is told.
    """

    asked: str
    named: str
    music: bool = True


CHANGE = Wording("All of these are the same but one. Which one is the other?", "this one is the other")


@dataclass
class ThresholdPage:
    """What is asked at the moment, and what is said besides.

    Attributes
    ----------
    asking
        next (a trial is on its way), hear, answer, leave, device (waiting for it), busy (waiting for the casebook),
        disturbed (too often in a row), finished, stopped
    tried, retry_s
        When a trial was asked for last, and how long to wait before it is asked for again.
    stands
        What must stay in view all along; empty where nothing must.
    """

    listening: ThresholdListening
    title: str
    monotonic: Callable[[], float] = time.monotonic
    asking: Asking = "next"
    message: str = QUIET
    tried: float = 0.0
    retry_s: float = RETRY_S
    words: Wording = CHANGE
    stands: str = ""

    @property
    def ended(self) -> bool:
        """Whether the listener is done here."""
        return self.asking in ("finished", "stopped")

    @property
    def brings(self) -> bool:
        """Whether the next trial is to be brought now."""
        if self.asking in ("device", "busy"):
            return self.monotonic() - self.tried > self.retry_s
        return self.asking == "next"

    def bring(self) -> None:
        """Bring the next trial; what hinders it is waited for in view."""
        waited, self.retry_s = self.retry_s, RETRY_S
        try:
            self.asking = "hear" if self.listening.offer() else "finished"
        except DeviceError as error:
            self.retry_s = min(2 * waited, LONGEST_RETRY_S)
            self.asking, self.message = "device", str(error)
        except CasebookBusy:
            self.asking = "busy"
        self.tried = self.monotonic()

    def poll(self) -> None:
        """Keep what was heard; a disturbed trial comes afresh."""
        if self.asking not in ("hear", "answer", "leave"):
            return
        disturbed = self.listening.poll()
        if disturbed:
            self._disturbed(disturbed)

    def leave(self) -> None:
        """Ask whether to stop, for a key that was typed while the trial came."""
        if self.asking == "hear":
            self.asking = "leave"

    def named_by(self, key: str) -> bool:
        """Take a key; whether it was an answer, so that its further repeats are not meant for the next trial."""
        asking = self.asking
        self.turn(key)
        return self.asking == "next" and asking == "answer"

    def turn(self, key: str) -> None:
        """Take a key."""
        letter = key.lower() if len(key) == 1 else key
        if self.asking in ("device", "busy", "disturbed"):
            if letter == "q":
                self.asking = "stopped"
            elif self.asking == "disturbed" and key == keyboard.ENTER:
                self.asking = "next"
        elif self.asking == "hear":
            self.message = ""
            self._hear_turn(letter)
        elif self.asking == "answer":
            self._answer_turn(letter)
        elif self.asking == "leave":
            self.asking = "stopped" if letter == "y" else "hear"

    def _hear_turn(self, letter: str) -> None:
        place = self._place(letter)
        if place is not None:
            self.listening.hear(place)
        elif letter == "s":
            self.listening.restart()
        elif letter == " ":
            self.listening.pause()
        elif letter == "q":
            self.asking = "leave"
        elif letter == keyboard.ENTER:
            unheard = self.listening.unheard()
            if unheard:
                self.message = f"hear {' and '.join(ascii_uppercase[one] for one in unheard)} before you answer"
            else:
                self.asking = "answer"

    def _answer_turn(self, letter: str) -> None:
        place = self._place(letter)
        if letter in (keyboard.ESCAPE, keyboard.BACKSPACE):
            self.asking, self.message = "hear", "taken back; listen on"
        elif place is not None:
            try:
                disturbed = self.listening.answer(place)
            except CasebookBusy:
                self.asking, self.message = "busy", KEPT
                return
            if disturbed:
                self._disturbed(disturbed)
            else:
                self.asking, self.message = "next", KEPT

    def _disturbed(self, sentence: str) -> None:
        self.message, self.asking = sentence, "next"
        if self.listening.keeps_failing:
            self.listening.give_up()
            self.asking = "disturbed"

    def _place(self, letter: str) -> int | None:
        letters = ascii_uppercase[: self.listening.run.sought.alternatives].lower()
        return letters.index(letter) if len(letter) == 1 and letter in letters else None

    def head(self) -> str:
        """What this is, and the trial's number; how many there will be follows from the answers."""
        sought = self.listening.run.sought
        return f"{self.title}  ·  trial {self.listening.run.answered + 1}, of {sought.fewest} to {sought.most}"

    def asked(self) -> str:
        """What is asked."""
        return self.words.asked

    def presentations(self) -> list[tuple[str, str]]:
        """Each presentation's letter with what is said of it: on, heard, or nothing."""
        letters = ascii_uppercase[: self.listening.run.sought.alternatives]
        if self.asking not in ("hear", "answer", "leave"):
            return [(letter, "") for letter in letters]
        now = self.listening.now()
        return [
            (letter, "on" if place == now.playing else "heard" if place in now.heard else "")
            for place, letter in enumerate(letters)
        ]

    def place_words(self) -> str:
        """Where the music is."""
        if self.asking not in ("hear", "answer", "leave"):
            return ""
        now = self.listening.now()
        if not self.words.music:
            return "paused" if now.paused else "again and again" if now.playing is not None else "nothing is on"
        state = "paused at " if now.paused else "" if now.playing is not None else "silent at "
        return f"{state}{clock(now.position_s)} of {clock(now.length_s)}, over and over"

    def what_keys_do(self) -> list[str]:
        """What can be typed now."""
        letters = " ".join(ascii_uppercase[: self.listening.run.sought.alternatives].lower())
        match self.asking:
            case "hear":
                return [f"{letters}: hear", "s: from the start", "space: pause", "Enter: answer", "q: stop"]
            case "answer":
                return [f"{letters}: {self.words.named}; guess if you must", "Esc: listen on"]
            case "leave":
                return ["Stop here? The same command without --anew takes it up again.", "y: stop", "Esc: listen on"]
            case "device":
                return ["No sound: waiting for the device. Nothing is lost.", "q: stop"]
            case "busy":
                return [sentence(self.listening.waiting) or WAITS, "q: stop"]
            case "disturbed":
                return ["The sound keeps being disturbed: no trial comes by itself.", "Enter: try again", "q: stop"]
            case _:
                return ["One moment: a trial is on its way."]

    def messages(self) -> list[str]:
        """What is said once, and what stands all along."""
        waiting = self.listening.waiting if self.asking != "busy" else ""
        return [text for text in (waiting or self.message, self.listening.warning, self.stands) if text]
