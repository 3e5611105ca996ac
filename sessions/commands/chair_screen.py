"""The chair's terminal screen: one question at a time. It draws and reads keys; the trial runner keeps.

Nothing drawn here depends on the key, on earlier answers, or on how long anything took.
"""

from __future__ import annotations

import curses
import os
import textwrap
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from audio.errors import DeviceError

from ..errors import CasebookBusy
from ..listening.trial_runner import Now, TrialRunner
from ..listening.write_queue import RETRY_S, WAITING
from ..plans.methods.graded import GradedMethod
from . import grade_sheet, keyboard
from .keyboard import Keyboard
from .line_editor import LineEditor
from .window_text import put

TICK_MS = 50
LONGEST_RETRY_S = 8.0  # between two tries at a lost device: each starts an engine, and holds the keys up meanwhile
LOST_FOR_S = 600.0  # a device that has not come back by then is not waited for any longer
KEPT = "kept"
BACK = "the sound is back; this trial starts afresh"
NARROWEST, LOWEST = 40, 14
SURENESS = {1: "a guess", 2: "leaning", 3: "fairly sure", 4: "certain"}
STRENGTHS = "strength 1 (a trace) to 5 (overwhelming)"
QUIET = "Start quiet and turn up slowly. How loud it is at your ears is not known here; rest them."
UNHEARD = ("done", "again", "disturbed", "device", "busy", "finished")  # no trial on these pages could be disturbed

KeepWord = Callable[[str, int, str, int], bool]
"""Keeps a word: term, strength, stimulus label, milliseconds in the track; whether it is on disk already."""


@dataclass
class Page:
    """What the screen says besides the trial itself."""

    message: str = ""
    asking: str = "hear"
    """hear, answer, sureness, word, strength, leave, stop, done, again, disturbed, next, device, busy, finished"""
    answer: str = ""
    typed: LineEditor = field(default_factory=LineEditor)
    word_at: tuple[str, int] = ("", 0)
    sheet: grade_sheet.Sheet | None = None


def run(runner: TrialRunner, title: str, keep_word: KeepWord) -> bool:
    """Work through the trials on the terminal, the first of which is on offer.

    True when all are answered, False when the listener stopped.
    """
    for stale in ("COLUMNS", "LINES"):  # exported sizes would win over the terminal's own
        os.environ.pop(stale, None)
    return bool(curses.wrapper(_loop, runner, title, keep_word))


def _loop(window: curses.window, runner: TrialRunner, title: str, keep_word: KeepWord) -> bool:
    curses.curs_set(0)
    curses.set_escdelay(25)
    keys = Keyboard(window, TICK_MS, window.encoding)
    page = _fresh(runner, QUIET)
    tried, retry_s, lost_at = time.monotonic(), RETRY_S, None
    while True:
        if page.asking in ("device", "busy") and time.monotonic() - tried > retry_s:
            lost = page.asking == "device"
            page, tried = _next(runner, BACK if lost else page.message), time.monotonic()
            retry_s = min(2 * retry_s, LONGEST_RETRY_S) if lost and page.asking == "device" else RETRY_S
            page = _forget_keys(keys, page)
        lost_at = (lost_at or time.monotonic()) if page.asking == "device" else None
        if lost_at is not None and time.monotonic() - lost_at > LOST_FOR_S:
            raise DeviceError(
                f"{page.message} (waited for {LOST_FOR_S / 60:.0f} minutes; nothing is lost, the same command goes on)"
            )
        if page.asking not in UNHEARD and not (page.asking == "leave" and runner.disturbed):
            fault = runner.poll()
            if fault is not None and page.asking != "leave":
                page = Page(asking="done")  # the runner says what disturbed it until the trial is heard again
        if page.asking == "finished":
            return True
        if page.asking == "done" and runner.disturbed and runner.keeps_failing:
            runner.give_up()
            page = Page(asking="disturbed")
            curses.flushinp()
        if page.asking in ("done", "again"):
            _draw(window, runner, Page(asking="next"), title)  # the trial takes its fixed time to come
            page, tried = _next(runner, page.message), time.monotonic()
            page = _forget_keys(keys, page)
            continue
        _draw(window, runner, page, title)
        key = keys.read()
        if key is None or key == keyboard.RESIZED:
            continue
        page = _turn(key, runner, page, keep_word)
        if page.asking == "stop":
            runner.leave()
            return False


def _forget_keys(keys: Keyboard, page: Page) -> Page:
    """Keys pressed while a trial was on its way are not meant for it; who wanted to leave is asked."""
    if page.asking != "hear":
        return page
    if {"q", "Q"} & set(keys.forget()):
        page.asking = "leave"
    return page


def _next(runner: TrialRunner, message: str) -> Page:
    """The page of the next trial, or the one that waits for a lost device or for the casebook."""
    try:
        return Page(asking="finished") if runner.offer() is None else _fresh(runner, message)
    except DeviceError as error:
        return Page(message=str(error), asking="device")
    except CasebookBusy:
        return Page(message=message, asking="busy")


def _fresh(runner: TrialRunner, message: str) -> Page:
    """The page of a trial nobody has heard yet."""
    method = runner.method
    return Page(message=message, sheet=grade_sheet.Sheet(method) if isinstance(method, GradedMethod) else None)


def _turn(key: str, runner: TrialRunner, page: Page, keep_word: KeepWord) -> Page:
    """The page after a key; grades given stay with the trial."""
    turned = _turned(key, runner, page, keep_word)
    if turned.sheet is None and turned.asking not in ("done", "stop"):
        turned.sheet = page.sheet
    return turned


def _turned(key: str, runner: TrialRunner, page: Page, keep_word: KeepWord) -> Page:
    if page.asking in ("device", "busy", "disturbed"):
        if page.asking == "disturbed" and key == keyboard.ENTER:
            runner.take_up()
            return Page(asking="again")
        return Page(asking="stop") if key in ("q", "Q") else page
    if page.asking in ("word", "strength"):
        return _word_turn(key, page, keep_word)
    letter = key.lower() if len(key) == 1 else ""
    if page.asking == "hear":
        if page.sheet is not None and page.sheet.turn(key, runner.now().playing):
            return Page()
        return _hear_turn(key, letter, runner, page.sheet)
    if key in (keyboard.ESCAPE, keyboard.BACKSPACE):
        disturbed = page.asking == "leave" and runner.disturbed  # meanwhile: the trial comes again
        return Page(asking="done") if disturbed else Page(message="taken back; listen on")
    if page.asking == "answer":
        chosen = letter.upper()
        if chosen in runner.method.answers:
            return Page(asking="sureness", answer=chosen)
        return page
    if page.asking == "sureness" and key in ("1", "2", "3", "4"):
        try:
            fault = runner.answer(page.answer, int(letter))
        except CasebookBusy:
            return Page(asking="busy", message=KEPT)
        return Page(asking="done", message="" if fault else KEPT)
    if page.asking == "leave" and letter == "y":
        return Page(asking="stop")
    return page


def _hear_turn(key: str, letter: str, runner: TrialRunner, sheet: grade_sheet.Sheet | None) -> Page:
    if letter.upper() in runner.method.stimuli:
        runner.hear(letter.upper())
    elif letter == "s":
        runner.restart()
    elif letter == " ":
        runner.pause()
    elif letter == "k":
        runner.rested()
    elif letter == "w":
        now = runner.now()
        if now.playing is None:
            return Page(message="play something first; a word belongs to what you hear")
        return Page(asking="word", word_at=(now.playing, runner.track_ms()))
    elif key == keyboard.ENTER:
        if not runner.may_answer():
            return Page(message=f"hear {_missing(runner)} before you answer")
        if sheet is None:
            return Page(asking="answer")
        lacking = sheet.lacking()
        return Page(message=lacking) if lacking else Page(asking="sureness", answer=sheet.answer())
    elif letter == "q":
        return Page(asking="leave")
    return Page()


def _missing(runner: TrialRunner) -> str:
    """What has not been heard yet."""
    heard = runner.now().heard
    return " and ".join(label for label in runner.method.needed if label not in heard)


def _word_turn(key: str, page: Page, keep_word: KeepWord) -> Page:
    if key == keyboard.ESCAPE:
        return Page(message="no word kept")
    if page.asking == "strength":
        if key in ("1", "2", "3", "4", "5"):
            word = page.typed.words
            kept = keep_word(word, int(key), *page.word_at)
            return Page(message=f"kept the word: {word}" if kept else "")
        return page
    if key == keyboard.ENTER:
        return Page(asking="strength", typed=page.typed, word_at=page.word_at) if page.typed.words else Page()
    page.typed.turn(key)
    return page


def _draw(window: curses.window, runner: TrialRunner, page: Page, title: str) -> None:
    window.erase()
    height, width = window.getmaxyx()
    if width < NARROWEST or height < LOWEST:
        put(window, 0, 0, f"make the window larger ({NARROWEST} x {LOWEST})")
        window.refresh()
        return
    now = runner.now()
    put(window, 1, 3, f"{title}  ·  trial {now.trial} of {now.trials}", curses.A_DIM)
    put(window, 3, 3, runner.session.plan.question, curses.A_BOLD)
    if page.sheet is not None:
        put(window, 5, 3, _place(now))
        grade_sheet.draw(window, page.sheet, now)
        bottom = grade_sheet.rows(page.sheet)
        for line, text in enumerate(_asking(runner, page)):
            put(window, bottom + line, 3, text)
        _put_messages(window, bottom + 3, bottom + 3, _messages(runner, page, now))
        window.refresh()
        return
    column = 3
    for label in runner.method.stimuli:
        here = label == now.playing
        put(window, 5, column, f"  {label}  ", curses.A_REVERSE if here else curses.A_NORMAL)
        put(
            window,
            6,
            column,
            " ▲ on " if here else (" heard" if label in now.heard else "      "),
            curses.A_DIM,
        )
        column += 9
    put(window, 5, column + 2, _place(now))
    asked = _asking(runner, page)
    for line, text in enumerate(asked):
        put(window, 8 + line, 3, text)
    _put_messages(window, 8 + len(asked), max(13, 9 + len(asked)), _messages(runner, page, now))
    window.refresh()


def _messages(runner: TrialRunner, page: Page, now: Now) -> list[str]:
    disturbed = runner.disturbed if page.asking in ("hear", "next", "disturbed") else ""
    return [text for text in (disturbed, _message(runner, page, now)) if text]


def _message(runner: TrialRunner, page: Page, now: Now) -> str:
    if page.asking == "busy":
        return ""  # what the next trial will say is not true yet
    if runner.waiting:
        return WAITING
    if now.rest_due and not page.message:
        return "Twenty minutes are over: a rest helps. Press k when you have had one."
    return page.message or runner.warning


def _place(now: Now) -> str:
    if now.paused:
        return "paused"
    if now.playing is None:
        return "silent"
    return f"{min(now.position_s, now.length_s):5.1f} s of {now.length_s:.1f} s"


def _asking(runner: TrialRunner, page: Page) -> list[str]:
    if page.asking == "answer":
        choices = [f"{label.lower()}: {what}" for label, what in runner.method.answers.items()]
        if sum(map(len, choices)) > 50:
            return ["Your answer?", *[f"  {choice}" for choice in choices], "  Esc: listen on"]
        return ["Your answer?", f"  {'   '.join(choices)}", "  Esc: listen on"]
    if page.asking == "sureness":
        steps = "   ".join(f"{step}: {what}" for step, what in SURENESS.items())
        said = runner.method.answers.get(page.answer, "Your grades")
        return [f"{said}. How sure?", f"  {steps}", "  Esc: take it back"]
    if page.asking == "word":
        return [f"A word for {page.word_at[0]}: {page.typed.text}_", "  Enter: keep   Esc: leave it"]
    if page.asking == "strength":
        return [f"{page.typed.words}: {STRENGTHS}", "  Esc: leave it"]
    if page.asking == "device":
        return ["No sound: waiting for the device.", "  Nothing is lost; it goes on by itself.   q: stop"]
    if page.asking == "disturbed":
        return ["The sound keeps being disturbed: no trial comes by itself.", "  Enter: try again   q: stop"]
    if page.asking == "busy":
        return [f"{WAITING[0].upper()}{WAITING[1:]}.", "  It goes on by itself.   q: stop"]
    if page.asking == "next":
        return ["One moment: a trial is on its way.", ""]  # the next one, or a disturbed one again
    if page.asking == "leave":
        return ["Stop here? The session can be taken up again.", "  y: stop   Esc: listen on"]
    labels = "  ".join(label.lower() for label in runner.method.stimuli)
    if page.sheet is not None:
        return [
            f"{labels}: hear    s: from the start    space: pause",
            "up, down (page: by ten): grade what you hear    Enter: done    w: word    q: stop",
        ]
    return [
        f"{labels}: hear    s: from the start    space: pause",
        "Enter: answer    w: log a word    q: stop",
    ]


def _put_messages(window: curses.window, highest: int, line: int, texts: list[str]) -> None:
    """Draw sentences whole from a line on; higher, though not above `highest`, where the window ends before them."""
    height, width = window.getmaxyx()
    drawn = [row for text in texts for row in textwrap.wrap(text, width - 5, break_on_hyphens=False)]
    first = max(highest, min(line, height - len(drawn)))
    for place, row in enumerate(drawn):
        put(window, first + place, 3, row, curses.A_DIM)
