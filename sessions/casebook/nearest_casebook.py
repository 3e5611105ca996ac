"""Which casebook is meant where none is named with a command: the nearest one upwards, and those just below."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from shlex import quote

from ..errors import CasebookError
from .store import FILE_NAME


def find(given: Path | None, start: Path) -> Path:
    """The casebook folder to use: the one given, EARWITNESS_CASEBOOK, or the nearest one upwards of `start`.

    The way up ends at the home folder and at the edge of the file system: what lies above belongs to others.

    Raises
    ------
    CasebookError
        If there is none.
    """
    named = given or (Path(os.environ["EARWITNESS_CASEBOOK"]) if os.environ.get("EARWITNESS_CASEBOOK") else None)
    if named is not None:
        if not (named / FILE_NAME).is_file():
            raise CasebookError(
                f"no casebook in {named} (no {FILE_NAME} there); start one: earwitness new {quote(str(named))}"
            )
        return named
    for folder in _upwards(start):
        if (folder / FILE_NAME).is_file():
            return folder
    near = below(start)
    if near:
        first, more = quote(near[0]), f"; and in {', '.join(near[1:])}" if near[1:] else ""
        raise CasebookError(
            f"no casebook in {start} or above it, but there is one in {near[0]}{more}: cd {first}, or name it with "
            f"each command: earwitness --casebook {first} status"
        )
    raise CasebookError(
        f"no casebook in {start} or above it; start one with earwitness new DIR, or name one with --casebook DIR"
    )


def below(start: Path) -> list[str]:
    """The names of the folders of `start` that are casebooks."""
    return sorted(path.parent.name for path in start.glob(f"*/{FILE_NAME}"))


def above(start: Path) -> Path | None:
    """The casebook that a command would use in `start` without naming one; None if there is none."""
    try:
        return find(None, start)
    except CasebookError:
        return None


def _upwards(start: Path) -> Iterator[Path]:
    """The folder, and those above it on the same file system, no farther than the home folder."""
    home = Path(os.path.expanduser("~"))
    drive = start.stat().st_dev
    for folder in (start, *start.parents):
        if folder.stat().st_dev != drive or (folder.parent == folder and folder != start):
            return
        yield folder
        if folder == home:
            return
