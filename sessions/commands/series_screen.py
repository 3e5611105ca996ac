"""The screen of a guided series: where it stands, one deliberate key a step, and notes. It measures nothing itself."""

from __future__ import annotations

import contextlib
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import click

from .context import WIDEST
from .plain_text import plain

if TYPE_CHECKING:
    from ..measured.sweep_series import Step

Choice = Literal["go", "redo", "skip", "back", "note", "stop"]
KEYS: dict[str, Choice] = {"g": "go", "r": "redo", "k": "skip", "b": "back", "n": "note", "q": "stop"}
ONCE_MORE = "g sweeps it, k leaves it as it is, q stops"
OFFER = "g sweeps, k skips, b goes back, r redoes the last one, n keeps a note, q stops"

LEAST_WIDTH = 20

Take = Callable[["Step", str], bool]
"""Takes one step with its note; whether it succeeded."""


@dataclass
class Progress:
    """How a series ended: how many steps were taken, and which were left out or not reached."""

    taken: int = 0
    stopped: bool = False
    left: tuple[str, ...] = ()


def run(steps: Sequence[Step], take: Take) -> Progress:
    """Go through the steps, each after a deliberate key; what was taken stays when it is stopped at any time."""
    with unseen_keys():
        return _run(steps, take)


def _run(steps: Sequence[Step], take: Take) -> Progress:
    place, last, note = 0, -1, ""
    done: set[int] = set()
    stopped = False
    while place < len(steps):
        step = steps[place]
        again = " (taken already)" if place in done else ""
        _tell(f"\n{place + 1} of {len(steps)}: {step.move}{again}.\n  {OFFER}")
        choice = asked()
        if choice == "stop":
            stopped = True
            break
        if choice == "note":
            note = _note(note)
        elif choice == "back":
            place = max(0, place - 1)
        elif choice == "skip":
            place, note = place + 1, ""
        elif choice == "redo" and last < 0:
            _tell("  nothing was taken yet")
        elif choice == "redo":
            _tell(f"  {last + 1} of {len(steps)} once more: {steps[last].move}.\n  {ONCE_MORE}")
            answer = asked()
            if answer == "stop":
                stopped = True
                break
            if answer == "go" and take(steps[last], note):
                note = ""
        elif take(step, note):
            done.add(place)
            place, last, note = place + 1, place, ""
    left = tuple(step.name for place, step in enumerate(steps) if place not in done)
    return Progress(len(done), stopped, left)


def _tell(text: str) -> None:
    click.echo(plain(in_lines(text)), err=True)


def asked() -> Choice:
    """The next deliberate key: what was typed before it was asked for does not count, nor any other key.

    Without a terminal a line of input is one key; its end stops the series.
    """
    if not sys.stdin.isatty():
        for line in sys.stdin:
            if line.strip()[:1].lower() in KEYS:
                return KEYS[line.strip()[0].lower()]
        return "stop"
    forget_keys()
    while True:
        try:
            key = click.getchar().lower()
        except (EOFError, KeyboardInterrupt):
            return "stop"
        if key in KEYS:
            return KEYS[key]


def in_lines(text: str) -> str:
    """The text with its lines broken between words, where a terminal would break them anywhere."""
    if not sys.stderr.isatty():
        return text
    width = max(min(WIDEST, shutil.get_terminal_size().columns - 1), LEAST_WIDTH)
    return "\n".join(
        textwrap.fill(line, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
        for line in text.split("\n")
    )


@contextlib.contextmanager
def unseen_keys(seen: bool = False) -> Iterator[None]:
    """Keys that are struck meanwhile do not appear on the terminal (`seen`: they do)."""
    if sys.platform == "win32" or not sys.stdin.isatty():
        yield
        return
    import termios

    terminal = sys.stdin.fileno()
    before = termios.tcgetattr(terminal)
    now = list(before)
    now[3] = now[3] | termios.ECHO if seen else now[3] & ~termios.ECHO
    termios.tcsetattr(terminal, termios.TCSANOW, now)
    try:
        yield
    finally:
        termios.tcsetattr(terminal, termios.TCSANOW, before)


def forget_keys() -> None:
    """Empty what was typed ahead."""
    if sys.platform == "win32":
        import msvcrt

        while msvcrt.kbhit():
            msvcrt.getwch()
        return
    import termios

    with contextlib.suppress(termios.error, OSError, ValueError):
        termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)


def _note(before: str) -> str:
    """A note for the step on offer, added to what was noted before."""
    if sys.stdin.isatty():
        forget_keys()
        with unseen_keys(seen=True):
            added = click.prompt("  note", default="", show_default=False, err=True)
    else:
        added = sys.stdin.readline()
    return "; ".join(part for part in (before, str(added).strip()) if part)
