"""The grades of a trial at the listening screen: moved or typed while what they belong to is heard; a bar for each."""

from __future__ import annotations

from decimal import Decimal

from ..chair.sheets import GivenGrades
from ..listening.now import Now
from ..plans.methods.graded import GradedMethod, Scale
from . import keyboard
from .window_text import Row, Span, columns

BAR, LEAST_BAR = 30, 8
STATE, GRADE = 7, 14  # the columns in which they begin
MOVES = {keyboard.UP: 1, keyboard.DOWN: -1, keyboard.PAGE_UP: 10, keyboard.PAGE_DOWN: -10}
ENDS = (keyboard.HOME, keyboard.END)


class Sheet(GivenGrades):
    """The grades of one trial while they are being given at the keyboard."""

    pauses = "space: pause"
    hears = ""
    way = ": play it, then press up or down"

    def turn(self, key: str, playing: str | None) -> str | None:
        """Take a key that moves the grade of what is heard: nothing is to be said of it; None if it is another key."""
        if key not in MOVES and key not in ENDS:
            return None
        if playing is not None and playing in self.method.graded:
            self.given[playing] = self._moved(key, playing)
        return ""

    def _moved(self, key: str, label: str) -> Decimal:
        low, high, step = self.scale.low, self.scale.high, self.scale.step
        if key in ENDS:
            return high if key == keyboard.HOME else low
        middle = (low + high) / 2
        if label not in self.given:
            return middle - middle % step
        return min(high, max(low, self.given[label] + MOVES[key] * step))

    def hints(self) -> list[list[str]]:
        """What the keys do while the trial is heard, in rows that belong together."""
        return [
            ["up, down (page: by ten): grade what you hear", "g: type a grade"],
            ["Home: best", "End: worst", "Enter: done", "w: log a word", "q: stop"],
        ]

    def rows(self, now: Now, wide: int) -> list[Row]:
        """A row for every stimulus with its grade: what is heard stands out; the open reference has none."""
        return [_row(self.method, label, self.given.get(label), now, wide) for label in self.method.stimuli]


def _row(method: GradedMethod, label: str, grade: Decimal | None, now: Now, wide: int) -> Row:
    here = label == now.playing
    state = "on" if here else "heard" if label in now.heard else ""
    head = (Span(f"  {label}  ", 0, "marked" if here else "plain"), Span(state, STATE))
    if label not in method.graded:
        return (*head, Span("the reference", GRADE))
    if grade is None:
        return (*head, Span("not graded yet", GRADE, "dim"))
    scale = method.scale
    said = f" {grade:>5}  {scale.name(grade)}"
    length = bar_columns(scale, wide)
    filled = round(length * float((grade - scale.low) / (scale.high - scale.low)))
    return (*head, Span(f"{'█' * filled}{'·' * (length - filled)}{said}", GRADE))


def bar_columns(scale: Scale, wide: int) -> int:
    """How long the bars are beside the longest name of a step; 0 where there is no room for one that says anything."""
    longest = max(columns(name) for _, name in scale.names)
    length = min(BAR, wide - GRADE - len(" 100.0  ") - longest)
    return length if length >= LEAST_BAR else 0
