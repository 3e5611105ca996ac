"""`loudness` of twelve files against two ffmpeg meters side by side, with true peak; and against decoding alone."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from .recordings import make
from .runs import EARWITNESS, Row, Taken, medians, taken, taken_by_all

FILES, LENGTH_S, GOAL, SIDE_BY_SIDE = 12, 240.0, 0.5, 2
DECODING = """
import sys, soundfile
for path in sys.argv[1:]:
    with soundfile.SoundFile(path) as file:
        for block in file.blocks(65536, dtype="float64", always_2d=True):
            pass
"""


def rows(folder: Path, times: int) -> Iterator[Row]:
    """The ratio of the medians, and where the floor lies."""
    paths = [
        str(make(folder / "loudness" / f"{number:02d}.flac", LENGTH_S, seed=number, limited=bool(number % 2)))
        for number in range(FILES)
    ]
    decoder = [sys.executable, "-c", DECODING]
    found = medians(
        {
            "ours": lambda: taken([*EARWITNESS, "loudness", *paths], folder),
            "ffmpeg": lambda: taken_by_all([_metered(path) for path in paths], folder, SIDE_BY_SIDE),
            "decoding": lambda: taken_by_all([[*decoder, *paths[k::2]] for k in range(2)], folder, SIDE_BY_SIDE),
        },
        times,
    )
    ratio = found["ours"].clock_s / found["ffmpeg"].clock_s
    yield Row(
        f"loudness of {FILES} four-minute FLACs, of the time of two ffmpeg meters side by side",
        f"{ratio:.2f} (processors {_processors(found, 'ours'):.2f})",
        f"at most {GOAL:g}",
        ratio <= GOAL,
    )
    floor = found["decoding"].clock_s / found["ffmpeg"].clock_s
    yield Row(
        "  of that, decoding the same files by two processes and nothing else",
        f"{floor:.2f} (processors {_processors(found, 'decoding'):.2f})",
        "the floor",
        True,
    )


def _processors(found: dict[str, Taken], name: str) -> float:
    return found[name].processor_s / found["ffmpeg"].processor_s


def _metered(path: str) -> list[str]:
    return ["ffmpeg", "-v", "error", "-nostats", "-nostdin", "-i", path, "-af", "ebur128=peak=true", "-f", "null", "-"]
