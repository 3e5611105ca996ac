"""A listener in the chair with a page in their hand: one thing is asked at a time. It knows no web and draws nothing.

Whoever owns it calls `tick` some twenty times a second from the thread that made it. An answer may come twice, late, or
after the program was started anew: it is kept once, and the same is said to it each time.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from audio.errors import DeviceError

from ..casebook import session_rows
from ..casebook.catalogue import Listener
from ..errors import CasebookBusy, CatalogueError, ListenError
from ..listening.session import Offered
from ..listening.trial_runner import TrialRunner
from ..listening.write_queue import WAITS, sentence
from ..words import place_in_track
from . import kept_answers, kept_words, next_trial, sheets, wording
from .asked import Asked, asked
from .bringing import Bringing
from .given import Answered, Pressed, Said, WordSaid
from .kept_answers import AGAIN, LATE
from .view import View, hearing
from .word_lines import USUAL_STRENGTH, typed_here

if TYPE_CHECKING:
    from ..listening.browser_playback import BrowserPlayback

IDLE = ("question", "coming", "end", "stopped")  # no trial on offer could be disturbed


class Chair(Bringing):
    """A session at the player, asked one thing at a time."""

    def __init__(
        self,
        runner: TrialRunner,
        listener: Listener,
        *,
        monotonic: Callable[[], float] = time.monotonic,
        browser: BrowserPlayback | None = None,
    ) -> None:
        super().__init__(monotonic, "question")
        self.runner = runner
        self.listener = listener
        self.browser = browser  # where the listener's page plays by itself
        record = runner.session.record
        rehearsal = record.rehearsal is not None
        self.asked: Asked = asked(
            runner.session.plan, runner.method, begins_anew=rehearsal, run=record.id if rehearsal else ""
        )
        self._answered = runner.session.answered
        self._offered: dict[str, Offered] = {}  # in this run, by trial and offer
        self._answers: dict[str, Said] = {}  # what was said to each, by the page's own number
        self._words: set[str] = set()
        self._waits = ""  # for what the next trial does

    # -- time passes -------------------------------------------------------------------------------------------------
    def _bring(self) -> None:
        before = self._asking
        brought, said = next_trial.bring(self.runner)
        self._waits = said if brought == "busy" else ""
        if brought == "device":
            self._message = self._to_listener(DeviceError(said))
        elif before == "device":
            self._message = wording.BACK
        self._asking = "end" if brought == "finished" else brought
        if brought == "finished":
            self._answered += 1
        if brought == "hear":
            self._answered = self.runner.current.trial - 1  # they are answered one after the other
            self._offered[self.trial_id] = self.runner.current

    def _look_after(self) -> None:
        if self.runner.poll() is not None:
            self._disturbed()

    @property
    def device(self) -> str:
        """On what the record says it is heard."""
        return self.runner.session.record.device

    def heard_on(self, words: str) -> None:
        """Keep that it is heard on another output from now on."""
        self.runner.keep(lambda: self.runner.session.mark("resumed", f"heard on {words}"))

    def _disturbed(self) -> None:
        self._message = wording.QUIET if self._message == wording.QUIET else ""
        if self.runner.keeps_failing:
            self.runner.give_up()
            self._asking = "disturbed"
        else:
            self._asking = "coming"

    # -- what the page shows -----------------------------------------------------------------------------------------
    @property
    def trial_id(self) -> str:
        """The trial on offer, by its number and offer."""
        offered = self.runner.current
        return f"{offered.trial}-{offered.offer}"

    @property
    def _is_there(self) -> bool:
        """Whether a trial is on offer, or was."""
        try:
            return bool(self.runner.current)
        except ListenError:
            return False

    def view(self) -> View:
        """What may be shown now."""
        if self._asking in IDLE:
            said = [self._message] if self._asking == "question" else []
            return View(self._asking, self._answered, said=tuple(one for one in said if one))
        if not self._is_there:  # the casebook was in use before the first trial
            return View(self._asking, self._answered, said=tuple(one for one in self._said() if one))
        now = self.runner.now()
        seen = hearing(
            self._asking, self._answered, self.trial_id, now, self.asked.labels, self.runner.track_ms(), self._said()
        )
        sounds = self.browser.trial if self.browser is not None and self._asking == "hear" else None
        return seen if sounds is None else replace(seen, sound=sounds.names[0])

    def _said(self) -> list[str]:
        if self._asking == "busy":
            return [sentence(self.runner.waiting or self._waits) or WAITS]
        return [self.runner.disturbed, self._message or self.runner.warning, sentence(self.runner.waiting)]

    # -- what the listener does --------------------------------------------------------------------------------------
    def press(self, pressed: Pressed) -> Said:
        """Do what the remote asks; what there is to say of it."""
        do = pressed.do
        if do == "begin" and self._asking == "question":
            self._asking = "coming"
        elif do == "stop":
            self._stop()
        elif do == "try again" and self._asking == "disturbed":
            self.runner.take_up()
            self._asking = "coming"
        elif self._asking != "hear" or pressed.trial != self.trial_id:
            return Said("late")  # pressed while a trial was on its way: not meant for it
        else:
            return self._heard(pressed)
        return Said("kept")

    def _heard(self, pressed: Pressed) -> Said:
        runner, refused = self.runner, ""
        match pressed.do:
            case "hear":
                if pressed.label not in self.asked.labels:
                    return Said("refused", f"{pressed.label!r} is not heard in this trial")
                runner.hear(pressed.label)
            case "restart":
                runner.restart()
            case "pause" | "resume":
                if runner.now().paused != (pressed.do == "pause"):
                    runner.pause()
            case "rested":
                runner.rested()
            case "loop from":
                refused = runner.loop_from_here()
            case "loop to":
                refused = runner.loop_to_here()
            case "no loop":
                runner.no_loop()
        self._message = ""
        return Said("refused" if refused else "kept", refused)

    def _stop(self) -> None:
        if self._asking in ("hear", "disturbed", "device", "busy") and self._is_there:
            self.runner.leave()
        if self._asking != "end":
            self._asking = "stopped"

    # -- answers -----------------------------------------------------------------------------------------------------
    def answer(self, given: Answered) -> Said:
        """Keep an answer; the same one again is answered the same.

        Raises
        ------
        CasebookBusy
            If the casebook is in use and nothing can be said yet; it may be asked again.
        """
        if given.nonce in self._answers:
            said = self._answers[given.nonce]
            return Said("held") if said.result == "kept" and self._asking == "busy" else said
        session = self.runner.session
        if self._asking == "question":
            return self._heard_before(given)
        if self._asking != "hear" or given.trial != self.trial_id:
            return kept_answers.said_to(session.casebook, session.record.id, self.runner.method, given)
        now = self.runner.now()
        lacking = wording.missing(self.asked.needed, now.heard)
        if lacking:
            return Said("later", lacking)  # heard before the program was started anew, for one: the page keeps it
        try:
            answer = sheets.answer_from(self.runner.method, given.choice, given.marks)
            session.check_answer(answer, given.sureness)
        except ListenError as error:
            return Said("refused", str(error))
        return self._kept(given.nonce, answer, given.sureness)

    def _heard_before(self, given: Answered) -> Said:
        """An answer that was given before the program was started anew, before its trial is on offer again."""
        session = self.runner.session
        before = session.answered
        said = kept_answers.keep_heard(session, self.asked.needed, given)
        if session.answered > before:
            self._answers[given.nonce] = said
            if session_rows.is_complete(session.casebook, session.record.id):
                self._asking = "coming"  # it brings the end, and counts this answer
            else:
                self._answered = session.answered
        return said

    def _kept(self, nonce: str, answer: str, sureness: int) -> Said:
        try:
            fault = self.runner.answer(answer, sureness)
        except CasebookBusy:
            self._answers[nonce] = Said("kept")
            self._asking = "busy"
            return Said("held")
        if fault is not None:
            self._answers[nonce] = Said("again", AGAIN)
            self._disturbed()
        else:
            self._answers[nonce] = Said("kept")
            self._asking, self._message = "coming", ""
        return self._answers[nonce]

    # -- words -------------------------------------------------------------------------------------------------------
    def word(self, given: WordSaid) -> Said:
        """Keep a word; the same one again is kept once.

        Raises
        ------
        CasebookBusy
            If the casebook is in use; it may be asked again.
        """
        if given.nonce in self._words:
            return Said("held" if self.runner.waiting else "kept")
        offered = self._offered.get(given.trial)
        if offered is None:
            return Said("later" if self._asking in ("question", "coming", "device", "busy") else "late", LATE)
        if given.stimulus not in self.asked.labels:
            return Said("refused", "play something first; a word belongs to what you hear")
        try:
            term, strength, note = typed_here(given.line)
            book, track_id = self.runner.session.casebook, offered.passage.track_id
            place_in_track.check_within(book, track_id, None, given.track_ms / 1000)
            word = kept_words.SaidOf(
                offered, given.stimulus, given.track_ms, term, strength or given.strength or USUAL_STRENGTH,
                note or given.note,
            )  # fmt: skip
            before = kept_words.is_kept(self.runner, self.listener, word)
        except CatalogueError as error:
            return Said("refused", str(error))
        kept = before or kept_words.keep(self.runner, self.listener, word)
        self._words.add(given.nonce)
        return Said("kept" if kept else "held", f"kept the word: {term}" if kept else "")
