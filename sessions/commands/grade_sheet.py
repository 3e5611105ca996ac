"""The grading part of the chair's terminal screen: a bar for each stimulus, moved while it is heard."""

from __future__ import annotations

import curses
from decimal import Decimal

from ..listening.trial_runner import Now
from ..plans.methods.graded import GradedMethod, answer_of
from . import keyboard
from .window_text import put

BAR = 30
TOP = 7
KEYS = {keyboard.UP: 1, keyboard.DOWN: -1, keyboard.PAGE_UP: 10, keyboard.PAGE_DOWN: -10}


class Sheet:
    """The grades of one trial while they are being given: none at first, so that none is suggested."""

    def __init__(self, method: GradedMethod) -> None:
        self.method = method
        self.scale = method.scale
        self.given: dict[str, Decimal] = {}

    def turn(self, key: str, playing: str | None) -> bool:
        """Take a key that moves the grade of what is heard; False if it is another key."""
        if key not in KEYS:
            return False
        if playing is not None and playing in self.method.graded:
            middle = (self.scale.low + self.scale.high) / 2
            start = self.given.get(playing, middle - middle % self.scale.step)
            moved = start + KEYS[key] * self.scale.step if playing in self.given else start
            self.given[playing] = min(self.scale.high, max(self.scale.low, moved))
        return True

    def lacking(self) -> str:
        """What still keeps the grades from being an answer, in words; empty when nothing does."""
        without = [label for label in self.method.graded if label not in self.given]
        if without:
            return f"grade {' and '.join(without)} as well: play it, then press up or down"
        return self.method.lacking(self.given)

    def answer(self) -> str:
        """The grades as they are kept."""
        return answer_of(self.given)


def rows(sheet: Sheet) -> int:
    """The first free line below the bars."""
    return TOP + len(sheet.method.stimuli) + 1


def draw(window: curses.window, sheet: Sheet, now: Now) -> None:
    """Draw every stimulus with its grade: what is heard stands out; the open reference has none."""
    _, width = window.getmaxyx()
    for line, label in enumerate(sheet.method.stimuli):
        here = label == now.playing
        style = curses.A_REVERSE if here else curses.A_NORMAL
        state = "on" if here else ("heard" if label in now.heard else "")
        put(window, TOP + line, 3, f"  {label}  ", style)
        put(window, TOP + line, 10, f"{state:<6}")
        if label not in sheet.method.graded:
            put(window, TOP + line, 17, "the reference")
            continue
        grade = sheet.given.get(label)
        if grade is None:
            put(window, TOP + line, 17, "not graded yet", curses.A_DIM)
            continue
        filled = round(BAR * float((grade - sheet.scale.low) / (sheet.scale.high - sheet.scale.low)))
        bar = "█" * filled + "·" * (BAR - filled)
        shown = bar if width > 60 + BAR // 2 else ""
        put(window, TOP + line, 17, f"{shown} {grade:>5}  {sheet.scale.name(grade)}")
