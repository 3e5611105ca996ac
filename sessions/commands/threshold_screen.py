"""The terminal screen of a run of forced choices, and of what comes before it: it draws a page, and hands it keys."""

from __future__ import annotations

import curses
import os
from collections.abc import Sequence
from contextlib import suppress
from typing import Protocol

from . import keyboard, window_text
from .keyboard import Keyboard
from .window_text import Block, Span

TICK_MS = 50
NARROWEST = 40
APART = 9  # columns from one letter to the next


class Page(Protocol):
    """What is drawn, and takes the keys."""

    @property
    def ended(self) -> bool:
        """Whether the listener is done here."""

    @property
    def brings(self) -> bool:
        """Whether something is to be brought now."""

    def bring(self) -> None:
        """Bring it."""

    def poll(self) -> None:
        """Notice what happened meanwhile."""

    def leave(self) -> None:
        """Ask whether to stop."""

    def named_by(self, key: str) -> bool:
        """Take a key; whether its further repeats are meant for nothing."""

    def head(self) -> str:
        """What this is."""

    def asked(self) -> str:
        """What is asked."""

    def presentations(self) -> Sequence[tuple[str, str]]:
        """Each presentation's letter with what is said of it."""

    def place_words(self) -> str:
        """Where it stands."""

    def what_keys_do(self) -> list[str]:
        """What can be typed now."""

    def messages(self) -> list[str]:
        """What is said once."""


def run(page: Page) -> None:
    """Draw and take keys until the page is at its end."""
    for stale in ("COLUMNS", "LINES"):  # exported sizes would win over the terminal's own
        os.environ.pop(stale, None)
    curses.wrapper(_loop, page)


def _loop(window: curses.window, page: Page) -> None:
    with suppress(curses.error):  # some terminals cannot hide it
        curses.curs_set(0)
    curses.set_escdelay(25)
    keys = Keyboard(window, TICK_MS, window.encoding)
    while not page.ended:
        if page.brings:
            _draw(window, page)
            page.bring()
            if {"q", "Q"} & set(keys.forget()):  # other keys were not meant for this trial
                page.leave()
            continue
        page.poll()
        _draw(window, page)
        key = keys.read()
        if key is None or key == keyboard.RESIZED:
            continue
        if page.named_by(key):
            keys.ignore_held(key)  # a letter that is an answer here is played there


def _draw(window: curses.window, page: Page) -> None:
    wide = window_text.room(window.getmaxyx()[1])
    marks = {"on": " ▲ on ", "heard": " heard", "changed": " changed", "as it is": " as is"}
    shown = page.presentations()
    letters = tuple(
        Span(f"  {letter}  ", APART * place, "marked" if state == "on" else "plain")
        for place, (letter, state) in enumerate(shown)
    )
    states = tuple(Span(marks.get(state, ""), APART * place, "dim") for place, (_, state) in enumerate(shown))
    blocks: list[Block] = [
        window_text.sentences(page.head(), wide, "dim"),
        window_text.sentences(page.asked(), wide, "bold"),
        [letters, states] if shown else [],
        window_text.sentences(page.place_words(), wide),
        window_text.hints(page.what_keys_do(), wide),
        [row for text in page.messages() for row in window_text.sentences(text, wide, "dim")],
    ]
    window_text.draw(window, blocks, NARROWEST)
