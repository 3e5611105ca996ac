"""Files and folders that only their owner may read: made so, and made so again where others may.

Some file systems know no owner (FAT, many network drives), and Windows keeps its own lists: there nothing is kept from
other users of the machine, and `is_private` says so.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterable
from pathlib import Path

FOLDER, FILE = 0o700, 0o600
OTHERS = 0o077


def make_folder(path: Path, *, parents: bool = False) -> None:
    """Make a folder for its owner alone; one that is there already stays as it is.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    path.mkdir(mode=FOLDER, parents=parents, exist_ok=True)


def make_file(path: Path) -> None:
    """Make an empty file for its owner alone.

    Raises
    ------
    OSError
        If there is one already, or it cannot be made.
    """
    os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE))


def tighten(paths: Iterable[Path]) -> None:
    """Take others' rights on files and folders away, where there are any and they are ours to take."""
    for path in paths:
        with contextlib.suppress(OSError):  # somebody else's, or gone meanwhile; `is_private` tells what came of it
            if stat.S_IMODE(path.stat().st_mode) & OTHERS:
                path.chmod(FOLDER if path.is_dir() else FILE)


def is_private(path: Path) -> bool:
    """Whether the system keeps a file or folder from other users."""
    return os.name == "posix" and not stat.S_IMODE(path.stat().st_mode) & OTHERS
