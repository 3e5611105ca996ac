"""Training with a page in the hand: which of three is changed, then whether that was right, and hear them by name.

It knows no web and draws nothing. An answer may come twice, and is kept once. What is changed is told only once it was
answered.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from string import ascii_uppercase
from typing import TYPE_CHECKING

from audio.errors import DeviceError

from ..casebook.training_rows import Exercise
from ..errors import CasebookBusy
from ..listening.threshold_listening import ThresholdListening
from ..listening.threshold_run import ThresholdRun
from ..measured import own_training
from . import wording
from .asked import Asked, Choice
from .bringing import Bringing
from .given import Answered, Pressed, Said, WordSaid
from .kept_answers import AGAIN, LATE
from .view import View

if TYPE_CHECKING:
    from ..listening.browser_playback import BrowserPlayback

QUESTION = "Two of these are alike. Which one is changed?"


@dataclass(frozen=True)
class TrainingView(View):
    """What is shown of training: how large the change is, what was told of an answer, how it goes."""

    size: str = ""
    told: str = ""
    changed: str = ""
    right: int = 0
    smallest: str = ""


class TrainingChair(Bringing):
    """A run of training, asked by a page.

    Parameters
    ----------
    device
        On what the record says it is heard.
    """

    def __init__(
        self,
        listening: ThresholdListening,
        run: ThresholdRun[Exercise],
        *,
        device: str = "",
        monotonic: Callable[[], float] = time.monotonic,
        browser: BrowserPlayback | None = None,
    ) -> None:
        super().__init__(monotonic, "question")
        self.listening = listening
        self.run = run
        self.browser = browser
        self.device = device
        self.asked = _asked(run)
        self._told = ""
        self._changed = ""
        self._size = ""
        self._answers: dict[str, Said] = {}

    @property
    def trial_id(self) -> str:
        """The trial on offer; once it is answered it is another one, so that no second answer is of it."""
        return f"{self.listening.current.trial}{'-told' if self._told else ''}"

    # -- time passes -------------------------------------------------------------------------------------------------
    def _bring(self) -> None:
        try:
            if self._told and self._asking == "busy":
                self.listening.write_out()
                self._asking = "hear"
            else:
                self._told = self._changed = ""
                self._asking = "hear" if self.listening.offer() else "end"
                if self._asking == "hear":
                    self._size = self.run.sought.in_words(self.listening.current.size)
        except DeviceError as error:
            self._asking, self._message = "device", self._to_listener(error)
        except CasebookBusy:
            self._asking = "busy"

    def _look_after(self) -> None:
        disturbed = self.listening.poll()
        if disturbed and not self._told:
            self._disturbed(disturbed)

    def _disturbed(self, sentence: str) -> None:
        self._message, self._asking = sentence, "coming"
        if self.listening.keeps_failing:
            self.listening.give_up()
            self._asking = "disturbed"

    def heard_on(self, words: str) -> None:
        """Keep that it is heard on another output from now on."""
        self.run.mark("resumed", f"heard on {words}")

    # -- what the page shows -----------------------------------------------------------------------------------------
    def view(self) -> View:
        """What may be shown now."""
        exercise, given = self.run.sought, self.run.given
        found = own_training.trained(exercise, given)
        told = self._to_say(self.listening.warning, self.listening.waiting)
        if self._asking == "end":
            return View("end", found.trials, said=(summary(found),))
        if self._asking != "hear":
            return View(self._asking, found.trials, said=told)
        now = self.listening.now()
        sounds = None if self.browser is None else self.browser.trial
        labels = self.asked.labels
        return TrainingView(
            asking="hear",
            answered=found.trials,
            trial_id=self.trial_id,
            trial=now.trial,
            passage=exercise.passage,
            playing=None if now.playing is None else labels[now.playing],
            heard=tuple(label for place, label in enumerate(labels) if place in now.heard),
            position_s=round(now.position_s, 2),
            length_s=round(now.length_s, 2),
            paused=now.paused,
            said=told,
            sound="" if sounds is None else sounds.names[0],
            size=self._size,
            told=self._told,
            changed=self._changed,
            right=found.right,
            smallest=found.smallest,
        )

    # -- what the listener does --------------------------------------------------------------------------------------
    def press(self, pressed: Pressed) -> Said:
        """Do what the remote asks; what there is to say of it."""
        do = pressed.do
        if do == "begin" and self._asking == "question":
            self._asking = "coming"
        elif do == "stop":
            self._asking = self._asking if self._asking == "end" else "stopped"
        elif do == "try again" and self._asking == "disturbed":
            self._asking = "coming"
        elif self._asking != "hear" or pressed.trial != self.trial_id:
            return Said("late")
        elif do == "next":
            if self._told:
                self._asking, self._message = "coming", ""
        else:
            self._heard(pressed)
        return Said("kept")

    def _heard(self, pressed: Pressed) -> None:
        listening, labels = self.listening, self.asked.labels
        self._message = ""
        match pressed.do:
            case "hear" if pressed.label in labels:
                listening.hear(labels.index(pressed.label))
            case "restart":
                listening.restart()
            case "pause" | "resume":
                if listening.now().paused != (pressed.do == "pause"):
                    listening.pause()

    def answer(self, given: Answered) -> Said:
        """Keep which one was named, and tell whether it was the changed one; the same answer again is told the same."""
        if given.nonce in self._answers:
            return self._answers[given.nonce]
        if self._asking != "hear" or self._told or given.trial != self.trial_id:
            return Said("late", LATE)
        labels = self.asked.labels
        if given.choice not in labels:
            return Said("refused", f"{given.choice!r} is not heard in this trial")
        lacking = wording.missing(labels, frozenset(labels[place] for place in self._heard_places()))
        if lacking:
            return Said("later", lacking)
        offered = self.listening.current
        try:
            disturbed = self.listening.answer(labels.index(given.choice))
        except CasebookBusy:
            self._asking = "busy"
            disturbed = ""
        if disturbed:
            self._answers[given.nonce] = Said("again", AGAIN)
            self._disturbed(disturbed)
            return self._answers[given.nonce]
        self._changed = labels[offered.changed]
        self._told = told(self.run.sought, self._changed, given.choice, offered.size)
        self._answers[given.nonce] = Said("kept", self._told)
        return self._answers[given.nonce]

    def _heard_places(self) -> set[int]:
        return set(range(len(self.asked.labels))) - set(self.listening.unheard())

    def word(self, given: WordSaid) -> Said:
        """Words belong to music as it is; here some of it is changed on purpose."""
        return Said("late", "no word is kept in training: what you hear is changed on purpose")


def told(exercise: Exercise, changed: str, named: str, size: int) -> str:
    """Whether an answer was right, and what was changed."""
    what = f"{changed} was changed: {exercise.said}, {exercise.in_words(size)}."
    return f"Right. {what}" if named == changed else f"Not this time. {what}"


def summary(found: own_training.Trained) -> str:
    """What a run came to."""
    right = f"{found.right} of {found.trials} right"
    smallest = f"; the smallest you named: {found.smallest}" if found.smallest else ""
    settled = f"; about seven in ten right at {found.settled}" if found.settled else ""
    return f"{right}{smallest}{settled}. Training never counts."


def _asked(run: ThresholdRun[Exercise]) -> Asked:
    exercise = run.sought
    labels = tuple(ascii_uppercase[: exercise.alternatives])
    return Asked(
        title=f"{exercise.plan} (training, never counted)",
        question=QUESTION,
        kind="training",
        trials=0,
        labels=labels,
        needed=labels,
        graded=(),
        choices=tuple(Choice(label, f"{label} is changed") for label in labels),
        words=(),
        scale=None,
        one_is_reference=False,
        rating=(0, 0),
        sureness=(),
        strengths=(),
        begins_anew=True,
        run=run.kept.session_id,
        music=(Choice(exercise.artefact, exercise.said),),
    )
