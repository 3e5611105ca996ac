"""The listening screen in a terminal: it draws what is asked and reads keys, one trial after the other.

What a key does stands in `chair_page`, what is drawn in `chair_rows`; the trial runner keeps.
"""

from __future__ import annotations

import curses
import os
import time
from contextlib import suppress

from ..chair import next_trial
from ..chair.next_trial import Tries
from ..chair.wording import BACK, QUIET
from ..listening.trial_runner import TrialRunner
from . import keyboard
from .chair_page import TYPING, UNHEARD, KeepWord, Page, fresh, turned
from .chair_rows import NARROWEST, Shown, blocks
from .keyboard import Keyboard
from .window_text import draw, room

TICK_MS = 50


def run(runner: TrialRunner, title: str, keep_word: KeepWord) -> bool:
    """Work through the trials on the terminal, the first of which is on offer.

    True when all are answered, False when the listener stopped.
    """
    for stale in ("COLUMNS", "LINES"):  # exported sizes would win over the terminal's own
        os.environ.pop(stale, None)
    return bool(curses.wrapper(_loop, runner, title, keep_word))


def _loop(window: curses.window, runner: TrialRunner, title: str, keep_word: KeepWord) -> bool:
    with suppress(curses.error):  # some terminals cannot hide it
        curses.curs_set(0)
    curses.set_escdelay(25)
    keys = Keyboard(window, TICK_MS, window.encoding)
    page = fresh(runner, QUIET)
    _draw(window, runner, page, title)
    page = _forget_keys(keys, page)
    tries = Tries(time.monotonic())
    while True:
        if page.asking in ("device", "busy") and tries.due(time.monotonic()):
            before = page.asking
            page = _next(runner, BACK if before == "device" else page.message)
            tries.tried(time.monotonic(), before, page.asking)
            page = _forget_keys(keys, page)
        if tries.given_up(time.monotonic(), page.asking):
            raise next_trial.lost(page.message)
        if page.asking not in UNHEARD and not (page.asking in TYPING and runner.disturbed):
            fault = runner.poll()
            if fault is not None and page.asking not in TYPING:
                caution = QUIET if page.message == QUIET else ""  # nothing was heard yet: it still holds
                page = Page(asking="done", message=caution)  # the runner says what disturbed it until it is heard again
        if page.asking == "finished":
            return True
        if page.asking == "done" and runner.disturbed and runner.keeps_failing:
            runner.give_up()
            page = Page(asking="disturbed")
            _draw(window, runner, page, title)
            keys.forget()
        if page.asking in ("done", "again"):
            _draw(window, runner, Page(asking="next"), title)  # the trial takes its fixed time to come
            page = _next(runner, page.message)
            tries.tried(time.monotonic(), "done", page.asking)
            page = _forget_keys(keys, page)
            continue
        _draw(window, runner, page, title)
        key = keys.read()
        if key is None or key == keyboard.RESIZED:
            continue
        asking, page = page.asking, turned(key, runner, page, keep_word)
        if page.asking == "sureness" != asking:
            keys.ignore_held(key)  # a digit that is an answer here is a sureness there
        if page.asking == "stop":
            runner.leave()
            return False


def _forget_keys(keys: Keyboard, page: Page) -> Page:
    """Keys pressed while a trial was on its way are not meant for it; who wanted to leave is asked."""
    if page.asking == "hear" and {"q", "Q"} & set(keys.forget()):
        page.asking = "leave"
    return page


def _next(runner: TrialRunner, message: str) -> Page:
    """The page of the next trial, or the one that waits for a lost device or for the casebook."""
    brought, said = next_trial.bring(runner)
    if brought == "hear":
        return fresh(runner, message)
    if brought == "busy":
        return Page(message=message, asking=brought, waits=said)  # the message is for the trial that comes
    return Page(message=said or message, asking=brought)


def _draw(window: curses.window, runner: TrialRunner, page: Page, title: str) -> None:
    shown = Shown(
        title=title,
        question=runner.session.plan.question,
        method=runner.method,
        now=runner.now(),
        page=page,
        disturbed=runner.disturbed,
        warning=runner.warning,
        waiting=runner.waiting,
        begins_anew=runner.session.record.rehearsal is not None,
    )
    _, width = window.getmaxyx()
    draw(window, blocks(shown, room(width)), NARROWEST)
