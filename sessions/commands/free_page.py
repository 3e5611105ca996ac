"""The page of free listening: what its keys do, and what stands on it. It draws nothing.

Nothing is hidden here, so the setups stand by their names.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from string import ascii_lowercase

from audio.errors import AudioError

from ..chair.word_lines import HERE, USUAL_STRENGTH, typed_here
from ..errors import CatalogueError, SessionsError
from ..listening.free_listening import FreeListening, Moment, Shown
from ..listening.free_sounds import FreeSounds, Stretch
from ..listening.words_said_here import SaidHere
from . import keyboard
from .line_editor import LineEditor
from .times import clock

STEP_S = 5.0
LAST_WORDS = 5
TITLE = "Free listening, sighted: nothing of it counts"
QUIET = "Start quiet and turn up slowly; rest your ears."
STRENGTHS = f"strength 1 (a trace) to 5 (overwhelming), Enter: {USUAL_STRENGTH}"

BEFORE_MS = 2000  # of music before a word's moment, when it is heard again
Prepare = Callable[[Stretch], FreeSounds]
Recall = Callable[[Stretch], Sequence[SaidHere]]


def nothing_said(_: Stretch) -> Sequence[SaidHere]:
    """No word was said there before."""
    return ()


@dataclass
class FreePage:
    """What is listened to, what is being typed, and what was said this evening.

    Attributes
    ----------
    place
        Which of the stretches is at the player, or on its way there.
    asking
        hear, word, strength, next (another stretch is on its way), over
    instructions
        What connects each setup, where a person does.
    recall
        The words that were said of a stretch before, the newest first.
    recalled
        How many of them were gone back to by now.
    """

    listening: FreeListening
    stretches: Sequence[Stretch]
    prepare: Prepare
    instructions: Sequence[str] = ()
    recall: Recall = nothing_said
    recalled: int = 0
    place: int = 0
    asking: str = "hear"
    message: str = QUIET
    typed: LineEditor = field(default_factory=LineEditor)
    said_at: Moment = field(default_factory=lambda: Moment(0, 0))
    note: str = ""
    words: list[str] = field(default_factory=list)

    def turn(self, key: str) -> None:
        """Take a key."""
        try:
            if self.asking in ("word", "strength"):
                self._word_turn(key)
            elif self.asking == "hear":
                self._hear_turn(key.lower() if len(key) == 1 else key)
        except (SessionsError, AudioError) as error:
            self.asking, self.message = "hear", str(error)

    def bring(self) -> None:
        """Bring the stretch that was asked for to the player, at the setup that was heard last."""
        wanted = self.listening.now().wanted
        self.asking = "hear"
        try:
            self.listening.load(self.prepare(self.stretches[self.place]))
            if wanted is not None:
                self.listening.hear(wanted)
        except (SessionsError, AudioError) as error:
            self.message = str(error)
            self.place = self.stretches.index(self.listening.loaded.stretch)

    def poll(self) -> None:
        """Keep what was heard; say what disturbed the sound."""
        self.message = self.listening.poll() or self.message

    def lines(self) -> list[str]:
        """What this is and how equally loud, what plays, and where it is."""
        stretch = self.listening.loaded.stretch
        equal = f"levels within {self.listening.loaded.residual_lu:.2f} LU"
        count = f"   ({self.stretches.index(stretch) + 1} of {len(self.stretches)})" if len(self.stretches) > 1 else ""
        return [f"{TITLE}; {equal}", f"{stretch.words}{count}", place_words(self.listening.now())]

    def setups(self) -> list[tuple[str, bool]]:
        """Each setup with its key, what connects it, and whether it is on."""
        playing = self.listening.now().playing
        found = []
        for place, setup in enumerate(self.listening.session.setups):
            by_hand = f"   ({self.instructions[place]})" if self.instructions else ""
            found.append((f"{ascii_lowercase[place]}  {setup.name}{by_hand}", place == playing))
        return found

    def what_keys_do(self) -> list[str]:
        """What can be typed now."""
        if self.asking == "word":
            at = self.said_at
            name = self.listening.session.setups[at.setup].name
            return [
                f"A word for {name} at {clock(at.track_ms / 1000)}: {self.typed.text}_",
                f"{HERE}   Enter: keep   Esc: leave it",
            ]
        if self.asking == "strength":
            return [f"{self.typed.words}: {STRENGTHS}", "Esc: leave it"]
        if self.asking == "next":
            return [f"One moment: {self.stretches[self.place].words} is made ready.", ""]
        letters = " ".join(ascii_lowercase[: len(self.listening.session.setups)])
        others = "    n p: next, previous" if len(self.stretches) > 1 else ""
        return [
            f"{letters}: hear    space: pause    s: from the start    left, right: {STEP_S:g} s",
            "w: log a word    z: take the last one back",
            "r: hear the last word's moment again, and those before it",
            f"i o: loop from, to here    u: no loop{others}    q: stop",
        ]

    def messages(self) -> list[str]:
        """What is said once, and what was logged last."""
        said = [self.listening.waiting or self.message, self.listening.warning]
        return [text for text in said if text]

    def _hear_turn(self, key: str) -> None:
        self.message = ""
        if key == "r":
            self._recall_turn()
            return
        self.recalled = 0
        setups = len(self.listening.session.setups)
        if len(key) == 1 and key in ascii_lowercase[:setups]:
            self.listening.hear(ascii_lowercase.index(key))
        elif key in [str(number) for number in range(1, setups + 1)]:
            self.listening.hear(int(key) - 1)
        elif key == " ":
            self.listening.pause()
        elif key == "s":
            self.listening.restart()
        elif key in (keyboard.LEFT, keyboard.RIGHT):
            self.listening.seek(-STEP_S if key == keyboard.LEFT else STEP_S)
        elif key == "i":
            self.message = self.listening.loop_from_here()
        elif key == "o":
            self.message = self.listening.loop_to_here()
        elif key == "u":
            self.listening.no_loop()
        elif key in ("n", "p") and len(self.stretches) > 1:
            self.place = (self.place + (1 if key == "n" else -1)) % len(self.stretches)
            self.asking = "next"
        elif key == "w":
            now = self.listening.moment()
            if now is None:
                self.message = "play something first; a word belongs to what you hear"
            else:
                self.asking, self.typed, self.said_at = "word", LineEditor(), now
        elif key == "z":
            self._take_back()
        elif key == "q":
            self.asking = "over"

    def _recall_turn(self) -> None:
        """Play the moment of a word again: the newest first, with each further key the one before it."""
        said = self.recall(self.listening.loaded.stretch)
        if not said:
            self.message = "no word was said at a moment of this music yet"
            return
        one = said[self.recalled % len(said)]
        self.recalled = self.recalled % len(said) + 1
        self.listening.go_to(Moment(one.setup, max(0, one.track_ms - BEFORE_MS)))
        name = self.listening.session.setups[one.setup].name
        told = f"{one.term} {one.strength}: {name}, {clock(one.track_ms / 1000)}, by {one.listener}"
        self.message = f"word {self.recalled} of {len(said)}: {told}"

    def _word_turn(self, key: str) -> None:
        if key == keyboard.ESCAPE:
            self.asking, self.message = "hear", "no word kept"
        elif self.asking == "word":
            self.message = ""
            if key != keyboard.ENTER:
                self.typed.turn(key)
            elif not self.typed.words:
                self.asking = "hear"
            else:
                self._take_word()
        elif key in ("1", "2", "3", "4", "5", keyboard.ENTER):
            self._keep(USUAL_STRENGTH if key == keyboard.ENTER else int(key))

    def _take_word(self) -> None:
        """The word that was typed, with its strength and note; a line that is none may be mended."""
        try:
            term, strength, self.note = typed_here(self.typed.words)
        except CatalogueError as error:
            self.message = str(error)
            return
        self.asking, self.typed = "strength", LineEditor(term)
        if strength is not None:
            self._keep(strength)

    def _keep(self, strength: int) -> None:
        self.asking = "hear"
        at, word = self.said_at, self.typed.words
        kept = self.listening.keep_word(word, strength, at, self.note)
        name = self.listening.session.setups[at.setup].name
        self.words.append(f"{word} {strength}: {name}, {clock(at.track_ms / 1000)}")
        self.message = f"kept the word: {word}" if kept else ""

    def _take_back(self) -> None:
        kept = self.listening.take_back()
        gone = self.words.pop()
        self.message = f"taken back: {gone}" if kept else ""


def place_words(now: Shown) -> str:
    """Where the music is, and within what."""
    within = f"{clock(now.start_s)} to {clock(now.end_s)}"
    if now.loop is not None:
        begin, end = now.loop
        within += f", loop from {clock(begin)} to {clock(end)}"
    state = "" if now.playing is not None else "paused at " if now.paused else "silent at "
    return f"{state}{clock(now.position_s)}   of {within}"
