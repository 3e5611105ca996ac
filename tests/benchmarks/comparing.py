"""`compare` of five and five four-minute recordings up to the plan, against reading the ten files once."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from .recordings import make
from .runs import EARWITNESS, Row, Taken, medians, taken

TRACKS, LENGTH_S, GOAL = 5, 240.0, 6.0
READING = (
    "import sys\nfrom audio.files import reading\nfor path in sys.argv[1:]:\n    for _ in reading.blocks(path): pass"
)


def rows(folder: Path, times: int) -> Iterator[Row]:
    """The ratio of the medians."""
    paths = [
        str(make(folder / "pairs" / name / f"piece {track + 1}.flac", LENGTH_S, seed=track, tilt=tilt))
        for name, tilt in (("plain", 0.0), ("dull", -0.3))
        for track in range(TRACKS)
    ]
    book = folder / "pairs-book"

    def compared() -> Taken:
        shutil.rmtree(book, ignore_errors=True)
        taken([*EARWITNESS, "new", str(book)], folder)
        words = ["compare", "pairs/plain", "pairs/dull", "--listener", "Ada", "--no-listen", "--yes"]
        return taken([*EARWITNESS, "--casebook", str(book), *words], folder)

    found = medians(
        {"compare": compared, "reading": lambda: taken([sys.executable, "-c", READING, *paths], folder)}, times
    )
    ratio = found["compare"].clock_s / found["reading"].clock_s
    yield Row(
        f"compare of {TRACKS} + {TRACKS} four-minute files, of the time of reading them once",
        f"{ratio:.1f} (processors {found['compare'].processor_s / found['reading'].processor_s:.1f})",
        f"at most {GOAL:g}",
        ratio <= GOAL,
    )
