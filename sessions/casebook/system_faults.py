"""What the operating system refused, and what was typed beyond its bounds, in one short line. Pure."""

from __future__ import annotations

import errno
import re
from collections.abc import Iterable

LONGEST_PART, LONGEST_PATH = 255, 4096  # NAME_MAX and PATH_MAX of Linux's limits.h; other systems take no more
SHOWN = 60  # letters of what no system takes, so that it is known again


def told(error: OSError) -> str:
    """An error of the operating system in one line, with what to do.

    >>> told(OSError(errno.ENAMETOOLONG, "File name too long", "p" * 5000)).partition("…")[2]
    ': File name too long; type the path of a file or folder that can be'
    """
    where = f"{in_short(str(error.filename))}: " if error.filename else ""
    way = "type the path of a file or folder that can be" if error.errno == errno.ENAMETOOLONG else (
        "check the disk and its permissions"
    )  # fmt: skip
    return f"{where}{error.strerror or error}; {way}"


def in_short(typed: str) -> str:
    """What was typed, whole where it could be a path, and by its beginning where it could not.

    >>> in_short("music/sallow"), in_short("a/" + "p" * 300) == "a/" + "p" * 58 + "…"
    ('music/sallow', True)
    """
    parts = re.split(r"[/\\]", typed)
    fits = len(typed) <= LONGEST_PATH and all(len(part) <= LONGEST_PART for part in parts)
    return typed if fits else f"{typed[:SHOWN]}…"


def shortened(line: str, typed: Iterable[str]) -> str:
    """A line in which whatever was typed stands in short."""
    for one in typed:
        if (short := in_short(one)) != one:
            line = line.replace(one, short)
    return line
