"""The terminal screen of a run for a threshold: it draws its page and hands it the keys."""

from __future__ import annotations

import curses
import os
from contextlib import suppress

from . import keyboard, window_text
from .keyboard import Keyboard
from .threshold_page import ThresholdPage
from .window_text import Block, Span

TICK_MS = 50
NARROWEST = 40
APART = 9  # columns from one letter to the next


def run(page: ThresholdPage) -> None:
    """Answer trials until the run is at its end, or the listener stops."""
    for stale in ("COLUMNS", "LINES"):  # exported sizes would win over the terminal's own
        os.environ.pop(stale, None)
    curses.wrapper(_loop, page)


def _loop(window: curses.window, page: ThresholdPage) -> None:
    with suppress(curses.error):  # some terminals cannot hide it
        curses.curs_set(0)
    curses.set_escdelay(25)
    keys = Keyboard(window, TICK_MS, window.encoding)
    while not page.ended:
        if page.brings:
            _draw(window, page)
            page.bring()
            if {"q", "Q"} & set(keys.forget()) and page.asking == "hear":  # other keys were not meant for this trial
                page.asking = "leave"
            continue
        page.poll()
        _draw(window, page)
        asking, key = page.asking, keys.read()
        if key is None or key == keyboard.RESIZED:
            continue
        page.turn(key)
        if page.asking == "next" and asking == "answer":
            keys.ignore_held(key)  # a letter that is an answer here is played there


def _draw(window: curses.window, page: ThresholdPage) -> None:
    wide = window_text.room(window.getmaxyx()[1])
    marks = {"on": " ▲ on ", "heard": " heard"}
    shown = page.presentations()
    letters = tuple(
        Span(f"  {letter}  ", APART * place, "marked" if state == "on" else "plain")
        for place, (letter, state) in enumerate(shown)
    )
    states = tuple(Span(marks.get(state, ""), APART * place, "dim") for place, (_, state) in enumerate(shown))
    blocks: list[Block] = [
        window_text.sentences(page.head(), wide, "dim"),
        window_text.sentences(page.asked(), wide, "bold"),
        [letters, states],
        window_text.sentences(page.place_words(), wide),
        window_text.hints(page.what_keys_do(), wide),
        [row for text in page.messages() for row in window_text.sentences(text, wide, "dim")],
    ]
    window_text.draw(window, blocks, NARROWEST)
