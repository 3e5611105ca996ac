"""Free, sighted listening with a page in the hand: setups and passages by name, words with one tap. Nothing counts.

It knows no web and draws nothing. A word may come twice or late, and is kept once; it says of which stretch it is.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audio.errors import AudioError, DeviceError

from ..errors import CasebookBusy, CatalogueError, ListenError, SessionsError
from ..listening.free_listening import FreeListening, Moment
from ..listening.free_sounds import FreeSounds, Stretch
from ..listening.words_said_here import SaidHere
from ..words import place_in_track
from .asked import Asked, Choice, strengths
from .bringing import Bringing
from .given import Answered, Pressed, Said, WordSaid
from .view import View
from .word_lines import USUAL_STRENGTH, typed_here

if TYPE_CHECKING:
    from ..listening.browser_playback import BrowserPlayback

MOST_SHOWN = 60  # words of a stretch; older ones are in the log
TITLE = "Free listening"
QUESTION = "Listen as you like. Nothing of it counts."
GONE = "that is no part of this evening any more; load the page again"

Prepare = Callable[[Stretch], FreeSounds]
Recall = Callable[[Stretch], Sequence[SaidHere]]


@dataclass(frozen=True)
class WordThere:
    """A word of this music: by whom, of which setup, and where in the track; `id` where it can be taken back here."""

    id: str
    term: str
    strength: int
    listener: str
    setup: str
    track_ms: int


@dataclass(frozen=True)
class FreeView(View):
    """What is shown of free listening; `start_s` is where in the track the stretch begins."""

    start_s: float = 0.0
    equal: str = ""
    words: tuple[WordThere, ...] = ()


class FreeChair(Bringing):
    """An evening of free listening, asked by a page.

    Parameters
    ----------
    prepare, recall
        Make a stretch ready, and find what was said of it.
    instructions
        What connects each setup, where a person does.
    device
        On what the record says it is heard.
    """

    def __init__(
        self,
        listening: FreeListening,
        stretches: Sequence[Stretch],
        prepare: Prepare,
        recall: Recall,
        *,
        instructions: Sequence[str] = (),
        device: str = "",
        monotonic: Callable[[], float] = time.monotonic,
        browser: BrowserPlayback | None = None,
    ) -> None:
        super().__init__(monotonic, "coming")
        self.listening = listening
        self.browser = browser
        self.device = device
        self.asked = _asked(listening, stretches, instructions)
        self._stretches = {one.passage.id: one for one in stretches}
        self._wanted = stretches[0]
        self._prepare = prepare
        self._recall = recall
        self._sounds: FreeSounds | None = None
        self._setup: int | None = None
        self._nonces: set[str] = set()
        self._there: tuple[WordThere, ...] = ()

    @property
    def trial_id(self) -> str:
        """The stretch that is at the player, or on its way there."""
        return self._wanted.passage.id

    # -- time passes -------------------------------------------------------------------------------------------------
    def _bring(self) -> None:
        try:
            if self._sounds is None or self._sounds.stretch != self._wanted:
                sounds = self._prepare(self._wanted)
            else:
                sounds = self._sounds
            self.listening.load(sounds)
        except DeviceError as error:
            self._asking, self._message = "device", self._to_listener(error)
        except CasebookBusy:
            self._asking = "busy"
        except (SessionsError, AudioError) as error:
            if self._sounds is None:
                raise
            self._wanted, self._message, self._asking = self._sounds.stretch, self._to_listener(error), "hear"
        else:
            self._sounds, self._asking = sounds, "hear"
            with suppress(CasebookBusy):
                self._remember()
            if self._setup is not None and self.browser is None:
                self.listening.hear(self._setup)

    def _look_after(self) -> None:
        self._message = self.listening.poll() or self._message

    def heard_on(self, words: str) -> None:
        """Keep that it is heard on another output from now on."""
        self.listening.session.mark("resumed", f"heard on {words}")

    def _remember(self) -> None:
        """Read again what was said of this music."""
        setups = self.listening.session.setups
        own = {(one.term, one.strength, one.moment): one.id for one in self.listening.said}
        there = self._recall(self._wanted)[:MOST_SHOWN]
        self._there = tuple(
            WordThere(
                own.get((one.term, one.strength, Moment(one.setup, one.track_ms)), ""),
                one.term,
                one.strength,
                one.listener,
                setups[one.setup].name,
                one.track_ms,
            )
            for one in there
        )

    # -- what the page shows -----------------------------------------------------------------------------------------
    def view(self) -> View:
        """What may be shown now."""
        told = self._to_say(self.listening.warning, self.listening.waiting)
        if self._asking != "hear" or self._sounds is None:
            return View(self._asking, 0, self.trial_id, said=told)
        now = self.listening.now()
        start_s = now.start_s
        sounds = self.browser.trial if self.browser is not None else None
        return FreeView(
            asking=self._asking,
            answered=0,
            trial_id=self.trial_id,
            passage=self._sounds.stretch.words,
            playing=None if now.playing is None else self.asked.labels[now.playing],
            position_s=round(now.position_s - start_s, 2),
            length_s=round(now.end_s - start_s, 2),
            loop_s=None if now.loop is None else (now.loop[0] - start_s, now.loop[1] - start_s),
            track_ms=round(1000 * now.position_s),
            paused=now.paused,
            said=told,
            sound="" if sounds is None else sounds.names[0],
            start_s=start_s,
            equal=f"levels within {self._sounds.residual_lu:.2f} LU",
            words=self._there,
        )

    # -- what the listener does --------------------------------------------------------------------------------------
    def press(self, pressed: Pressed) -> Said:
        """Do what the remote asks; what there is to say of it."""
        if pressed.do == "stop":
            self._asking = "stopped"
            return Said("kept")
        if self._asking != "hear":
            return Said("late")
        if pressed.do == "passage":
            return self._turn_to(pressed.label)
        if pressed.do == "take back":
            return self._take_back(pressed.label)
        if pressed.trial != self.trial_id:
            return Said("late")
        try:
            refused = self._heard(pressed)
        except DeviceError as error:
            self._asking, self._message = "device", self._to_listener(error)
            return Said("kept")
        self._message = ""
        return Said("refused" if refused else "kept", refused)

    def _heard(self, pressed: Pressed) -> str:
        listening, refused = self.listening, ""
        match pressed.do:
            case "hear" | "moment" if pressed.label not in self.asked.labels:
                return f"{pressed.label!r} is not heard here"
            case "hear":
                self._setup = self.asked.labels.index(pressed.label)
                listening.hear(self._setup)
            case "moment":
                self._setup = self.asked.labels.index(pressed.label)
                listening.go_to(Moment(self._setup, max(0, pressed.track_ms)))
            case "seek":
                listening.seek(pressed.track_ms / 1000)
            case "restart":
                listening.restart()
            case "pause" | "resume":
                if listening.now().paused != (pressed.do == "pause"):
                    listening.pause()
            case "loop from":
                refused = listening.loop_from_here()
            case "loop to":
                refused = listening.loop_to_here()
            case "no loop":
                listening.no_loop()
        return refused

    def _turn_to(self, passage_id: str) -> Said:
        if passage_id not in self._stretches:
            return Said("refused", GONE)
        if passage_id != self.trial_id:
            self._wanted, self._asking, self._message = self._stretches[passage_id], "coming", ""
        return Said("kept")

    def _take_back(self, word_id: str) -> Said:
        found = next((one for one in self.listening.said if one.id == word_id), None)
        if found is None:
            return Said("kept")  # it was taken back: asked twice
        kept = self.listening.take_back(word_id)
        self._there = tuple(one for one in self._there if one.id != word_id)
        return Said("kept" if kept else "held", f"taken back: {found.term}")

    def answer(self, given: Answered) -> Said:
        """Nothing is answered here."""
        return Said("late", "nothing is asked in free listening; this answer is not taken")

    def word(self, given: WordSaid) -> Said:
        """Keep a word; the same one again is kept once.

        Raises
        ------
        CasebookBusy
            If the casebook is in use; it may be asked again.
        """
        if given.nonce in self._nonces:
            return Said("held" if self.listening.waiting else "kept")
        stretch = self._stretches.get(given.trial)
        if stretch is None or given.stimulus not in self.asked.labels:
            return Said("late" if stretch is None else "refused", GONE)
        try:
            term, strength, note = typed_here(given.line)
            book = self.listening.session.casebook
            place_in_track.check_within(book, stretch.track.id, None, given.track_ms / 1000)
            moment = Moment(self.asked.labels.index(given.stimulus), given.track_ms)
            kept = self.listening.keep_word(
                term, strength or given.strength or USUAL_STRENGTH, moment, note or given.note, stretch
            )
        except CatalogueError as error:
            return Said("refused", str(error))
        self._nonces.add(given.nonce)
        with suppress(CasebookBusy):
            self._remember()
        return Said("kept" if kept else "held", f"kept the word: {term}, {given.stimulus}" if kept else "")


def _asked(listening: FreeListening, stretches: Sequence[Stretch], instructions: Sequence[str]) -> Asked:
    if not stretches:
        raise ListenError("no music to listen to")
    names = tuple(setup.name for setup in listening.session.setups)
    return Asked(
        title=TITLE,
        question=QUESTION,
        kind="free",
        trials=0,
        labels=names,
        needed=(),
        graded=(),
        choices=tuple(Choice(name, said) for name, said in zip(names, instructions, strict=False)),
        words=(),
        scale=None,
        one_is_reference=False,
        rating=(0, 0),
        sureness=(),
        strengths=strengths(),
        begins_anew=True,
        run=listening.session.id,
        music=tuple(Choice(one.passage.id, one.words) for one in stretches),
    )
