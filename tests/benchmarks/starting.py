"""How long commands take above bare Python, on the demo's casebook, and `status` on a large one too."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from sessions.casebook.store import open_casebook
from tests.large_casebook import large

from .runs import CACHE, EARWITNESS, Row, Taken, medians, taken

DRAWN = "report of the demo, all pictures drawn"
LARGE = "status of 40 setups, 200 passages and 60 plans"
GOALS_S: dict[str, tuple[float, tuple[str, ...]]] = {
    "word log": (0.2, ("word", "log", "bright", "--listener", "Ada")),
    "verify": (0.2, ("verify",)),
    "status": (0.2, ("status",)),
    "tally": (0.3, ("tally", "abx", "--correct", "12", "--trials", "16")),
    "power": (0.3, ("power", "abx")),
    "verdict of the demo": (0.5, ("verdict",)),
    DRAWN: (1.5, ("report",)),
    "report of the demo, made again": (1.5, ("report",)),
    LARGE: (0.5, ("status",)),
}


def rows(folder: Path, times: int) -> Iterator[Row]:
    """One row a command."""
    book = folder / "demo-book"
    if not book.exists():
        taken([*EARWITNESS, "demo", "--dir", str(book)], folder)
    if not (folder / "large-book").exists():
        with open_casebook(book) as like:
            large(folder / "large-book", like).close()
    works: dict[str, Callable[[], Taken]] = {"bare": partial(taken, [sys.executable, "-c", "pass"], folder)}
    for name, (_, words) in GOALS_S.items():
        program = [*EARWITNESS, "--casebook", str(folder / "large-book" if name == LARGE else book)]
        works[name] = partial(_anew if name == DRAWN else taken, [*program, *words], folder)
    for work in works.values():
        work()  # once for what is read from the disk and compiled the first time only
    found = medians(works, max(times, 5))
    for name, (goal_s, _) in GOALS_S.items():
        above = found[name].clock_s - found["bare"].clock_s
        busy = found[name].processor_s - found["bare"].processor_s
        yield Row(
            f"{name}: start to end, above bare Python",
            f"{above:.2f} s (processors {busy:.2f})",
            f"at most {goal_s:g} s",
            above <= goal_s,
        )


def _anew(command: list[str], folder: Path) -> Taken:
    """What a program takes that finds nothing kept."""
    shutil.rmtree(folder / CACHE, ignore_errors=True)
    return taken(command, folder)
