"""The most memory that `passage suggest`, `match files` and `giveaways` hold on two recordings of an hour at 96 kHz."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

from .recordings import make
from .runs import EARWITNESS, Row, most_megabytes, taken

LENGTH_S, RATE_HZ, GOAL_MB = 3600.0, 96_000, 300


def rows(folder: Path, times: int) -> Iterator[Row]:
    """One row a command, in the order of the job."""
    book = folder / "hour-book"
    shutil.rmtree(book, ignore_errors=True)
    for name, tilt in (("plain", 0.0), ("dull", -0.3)):
        make(folder / "hour" / name / "long.wav", LENGTH_S, RATE_HZ, tilt=tilt)
    taken([*EARWITNESS, "new", str(book)], folder)
    for name in ("plain", "dull"):
        taken([*EARWITNESS, "--casebook", str(book), "setup", "add", name, "--from", f"hour/{name}"], folder)
    for words in (("passage", "suggest", "--add"), ("match", "files"), ("giveaways",)):
        most = most_megabytes([*EARWITNESS, "--casebook", str(book), *words], folder)
        command = " ".join(word for word in words if word != "--add")
        yield Row(f"{command} of an hour at 96 kHz: memory", f"{most:.0f} MB", f"under {GOAL_MB} MB", most < GOAL_MB)
