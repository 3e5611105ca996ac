"""The page of training at a terminal: that of a run of forced choices, and what is told after each answer."""

from __future__ import annotations

from dataclasses import dataclass

from ..chair.training_chair import QUESTION, told
from ..errors import CasebookBusy
from . import keyboard
from .threshold_page import KEPT, ThresholdPage, Wording

WORDS = Wording(QUESTION, "this one is changed")


@dataclass
class TrainingPage(ThresholdPage):
    """What is asked at the moment; once it was answered, which one was changed, until the next trial is asked for.

    Attributes
    ----------
    feedback
        What is told of the answer; empty while there is none.
    changed
        The place of the presentation that was changed, once it is told.
    """

    feedback: str = ""
    changed: int = -1

    def turn(self, key: str) -> None:
        """Take a key."""
        if not (self.asking == "hear" and self.feedback):
            super().turn(key)
        elif key == keyboard.ENTER:
            self.feedback, self.changed, self.asking = "", -1, "next"
        else:
            self._hear_turn(key.lower() if len(key) == 1 else key)

    def named_by(self, key: str) -> bool:
        """Take a key; whether it was an answer, so that its further repeats are not meant for what comes then."""
        asking = self.asking
        self.turn(key)
        return asking == "answer" and bool(self.feedback)

    def _answer_turn(self, letter: str) -> None:
        place = self._place(letter)
        if place is None:
            super()._answer_turn(letter)
            return
        offered, run = self.listening.current, self.listening.run
        try:
            disturbed = self.listening.answer(place)
        except CasebookBusy:  # it is held, and the next trial writes it first
            disturbed = ""
        if disturbed:
            self._disturbed(disturbed)
            return
        letters = "ABC"
        self.changed, self.asking, self.message = offered.changed, "hear", KEPT
        self.feedback = told(run.sought, letters[offered.changed], letters[place], offered.size)

    def _disturbed(self, sentence: str) -> None:
        self.feedback, self.changed = "", -1
        super()._disturbed(sentence)

    def head(self) -> str:
        """What this is, the trial's number, and how large the change is."""
        run = self.listening.run
        number = run.answered + (0 if self.feedback else 1)
        size = run.sought.in_words(self.listening.current.size) if self.asking in ("hear", "answer", "leave") else ""
        return f"{self.title}  ·  trial {number}{f'  ·  {size}' if size else ''}"

    def asked(self) -> str:
        """What is asked, or what was told."""
        return self.feedback or super().asked()

    def presentations(self) -> list[tuple[str, str]]:
        """Each presentation's letter with what is said of it; once it was answered, which one was changed."""
        shown = super().presentations()
        if not self.feedback:
            return shown
        named = ["changed" if place == self.changed else "as it is" for place in range(len(shown))]
        return [(letter, "on" if state == "on" else said) for (letter, state), said in zip(shown, named, strict=True)]

    def what_keys_do(self) -> list[str]:
        """What can be typed now."""
        if self.asking == "hear" and self.feedback:
            return ["a b c: hear them again", "s: from the start", "space: pause", "Enter: next", "q: stop"]
        if self.asking == "leave":
            return ["Stop here? What was trained is kept.", "y: stop", "Esc: listen on"]
        return super().what_keys_do()
