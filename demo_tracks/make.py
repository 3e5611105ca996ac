"""The script that makes the demo tracks: `python -m demo_tracks.make [FOLDER]` writes the FLAC files anew.

The pieces are computed from their seeds with sums, products, quotients and square roots alone, so a rebuild gives
the same samples, bit for bit, on any x86-64 processor. (Elsewhere a compiler may fuse a product with a sum inside
scipy's filter; that moves a value by far less than a step of the 24-bit grid, but could tip one over an edge.)
Only this module writes files.
"""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

if __package__ in (None, ""):  # run as a file, `python demo_tracks/make.py`: let the package be found
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo_tracks.arithmetic import RATE_HZ
from demo_tracks.tracks import TRACKS

_FULL_SCALE = 1 << 23


def samples(name: str) -> NDArray[np.int32]:
    """The samples of a piece as 24-bit whole numbers, shape (frames, 2), computed from nothing but its seed.

    Raises
    ------
    ValueError
        If there is no such piece, or it would clip.
    """
    if name not in [track.name for track in TRACKS]:
        raise ValueError(f"there is no piece {name!r}; there are {', '.join(t.name for t in TRACKS)}")
    played = import_module(f"demo_tracks.{name}").play()
    whole = np.rint(played * _FULL_SCALE)
    if not (np.abs(whole) < _FULL_SCALE).all():
        raise ValueError(f"the piece {name!r} would clip; lower its final level")
    return np.asarray(whole.astype(np.int32))


def write(folder: Path) -> list[Path]:
    """Paths of the FLAC files, written anew into `folder`, one a piece."""
    import soundfile

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for track in TRACKS:
        # The library takes 24-bit samples in the upper bytes of 32-bit ones and passes them on unchanged.
        data = samples(track.name) << 8
        target = folder / track.file
        soundfile.write(target, data, RATE_HZ, format="FLAC", subtype="PCM_24", compression_level=1.0)
        written.append(target)
    return written


def main(arguments: list[str]) -> int:
    """Exit status 0; writes into the folder given, or beside this script."""
    folder = Path(arguments[0]) if arguments else Path(__file__).resolve().parent
    for target in write(folder):
        print(f"{target}: {target.stat().st_size / 1e6:.2f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
