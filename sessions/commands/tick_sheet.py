"""The ticks of a trial at the listening screen: words chosen beforehand, ticked of what is heard."""

from __future__ import annotations

from ..chair.sheets import GivenTicks
from ..listening.now import Now
from ..plans.methods.word_ballot import WordBallot
from . import keyboard
from .window_text import Row, Span, columns

BOX = 4  # columns of a box and the space after it; where there are more labels than three, a mark alone
MOST_WIDE = 3
HEAD, NARROW_HEAD = 14, 10  # columns of a label with its state
MARK = 2  # columns before the boxes, for the place where the next tick goes
LEAST_DEEP = 4  # words below one another before a second column begins: up and down are to move so on the screen
MOVES = {keyboard.UP: -1, keyboard.DOWN: 1}
ENDS = (keyboard.HOME, keyboard.END)
TICK = " "
NOTHING_PLAYS = "play one of them first; a tick belongs to what you hear"


class TickSheet(GivenTicks):
    """The ticks of one trial while they are being given at the keyboard."""

    hears = ""  # how it is chosen what is heard, where that is not by labels
    pauses = "p: pause"

    def __init__(self, method: WordBallot) -> None:
        super().__init__(method)
        self.at = 0

    def turn(self, key: str, playing: str | None) -> str | None:
        """Take a key that moves on the list or ticks a word; what is to be said then, or None: it is another key."""
        last = len(self.method.shown) - 1
        if key in MOVES:
            self.at = min(last, max(0, self.at + MOVES[key]))
        elif key in ENDS:
            self.at = 0 if key == keyboard.HOME else last
        elif key != TICK:
            return None
        elif playing is None:
            return NOTHING_PLAYS
        else:
            self.given[playing] ^= {self.method.shown[self.at]}
        return ""

    def hints(self) -> list[list[str]]:
        """What the keys do while the trial is heard, in rows that belong together."""
        return [
            ["up, down: the next word", "space: tick it for what you hear, or not"],
            ["Enter: done", "w: log a word", "q: stop"],
        ]

    def rows(self, now: Now, wide: int) -> list[Row]:
        """The labels, and below them a box for each with every word, in as many columns as there is room for."""
        shown, labels = self.method.shown, self.method.needed
        few = len(labels) <= MOST_WIDE
        box, apart = (BOX, HEAD) if few else (1, NARROW_HEAD)
        head = tuple(
            Span(
                f" {label}: {_state(label, now) if few or label in now.heard or label == now.playing else '-'} ",
                apart * place,
                "marked" if label == now.playing else "plain",
            )
            for place, label in enumerate(labels)
        )
        boxes = tuple(
            Span(f" {label}" if few else label, MARK + box * place, "marked" if label == now.playing else "dim")
            for place, label in enumerate(labels)
        )
        cell = MARK + box * len(labels) + max(map(columns, shown)) + (1 if few else 2)
        side_by_side = max(1, (wide + 1) // cell)
        deep = min(len(shown), max(LEAST_DEEP, -(-len(shown) // side_by_side)))
        rows: list[Row] = [head, boxes]
        for line in range(deep):
            row: list[Span] = []
            for place, at in enumerate(range(line, len(shown), deep)):
                row += self._word(at, cell * place)
            rows.append(tuple(row))
        return rows

    def _word(self, at: int, column: int) -> list[Span]:
        word, here = self.method.shown[at], at == self.at
        marks = self._marks(word)
        few = len(marks) <= MOST_WIDE
        ticks = "".join(f"[{mark}] " for mark in marks) if few else "".join(marks).replace(" ", "·") + " "
        return [
            Span(f"{'>' if here else ' '} {ticks}", column),
            Span(word, column + MARK + len(ticks), "bold" if here else "plain"),
        ]

    def _marks(self, word: str) -> list[str]:
        """What stands in the boxes of a word, a letter for each label."""
        return ["x" if word in words else " " for words in self.given.values()]


def _state(label: str, now: Now) -> str:
    return "on" if label == now.playing else "heard" if label in now.heard else "not yet"
