"""Pictures that were drawn before, kept for this user: a report made again draws only what is new in it.

A picture is found by everything that it is drawn from: all numbers and words of its figure, the source of the rooms
that draw, and the libraries below them. Whatever of that changes, it is drawn anew; so a kept picture is the one that
would be drawn. They lie in a folder of this user's own and in no casebook: one that comes from somebody else shows what
its record holds, and brings no pictures along. The folder may be deleted at any time.
"""

from __future__ import annotations

import functools
import hashlib
import os
import pickle
import platform
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import metadata
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from ..casebook import documents, private_files, user_folders
from ..errors import CasebookError

if TYPE_CHECKING:
    from ..measured.figures.figure import FigureData

ROOMS = ("audio", "stats", "sessions.casebook", "sessions.measured")  # all that a figure and its picture are made by
LIBRARIES = ("matplotlib", "contourpy", "kiwisolver", "numpy")
MOST = 500  # pictures, of some 50 kB each: those asked for longest ago give way


@dataclass(frozen=True)
class Picture:
    """A figure as SVG, and whether anything in it is hatched."""

    svg: str
    is_hatched: bool


def key(figure: FigureData) -> str:
    """By what the picture of a figure is found; empty where it cannot be told what it is drawn from.

    Equal keys are equal figures, drawn by equal programs. Equal figures may have several keys (a number may be kept in
    several ways): then a picture is drawn once more.
    """
    return key_of(packed(figure))


def packed(figure: FigureData) -> bytes:
    """All numbers and words of a figure; empty where they cannot be told."""
    try:
        return pickle.dumps(figure, protocol=5)
    except (pickle.PicklingError, TypeError, AttributeError):
        return b""


def key_of(figure: bytes) -> str:
    """The same as `key`, of a figure that is packed."""
    by = _drawn_by() if figure else b""
    return hashlib.sha256(by + figure).hexdigest() if by else ""


def are_there() -> bool:
    """Whether any picture is kept."""
    try:
        return any(_folder().iterdir())
    except OSError:
        return False


@functools.cache
def _drawn_by() -> bytes:
    """What draws, hashed; empty where its source cannot be read."""
    versions = [f"{name} {metadata.version(name)}" for name in LIBRARIES]
    digest = hashlib.sha256("\n".join([platform.system(), platform.machine(), *versions]).encode())
    for room in ROOMS:
        spec = find_spec(room)
        sources = [
            file for home in (spec and spec.submodule_search_locations) or () for file in Path(home).rglob("*.py")
        ]
        if not sources:
            return b""
        for file in sorted(sources):
            text = file.read_bytes()
            digest.update(f"{file.name} {len(text)}\n".encode() + text)
    return digest.digest()


def kept(keys: Iterable[str]) -> dict[str, Picture]:
    """The pictures that are there, by their keys."""
    try:
        folder = _folder()
        if not user_folders.is_this_users_alone(folder):
            return {}
    except OSError:
        return {}
    found = {}
    for one in filter(None, keys):
        try:
            found[one] = documents.from_text((folder / one).read_text(encoding="utf-8"), Picture)
            os.utime(folder / one)  # asked for last
        except (OSError, UnicodeDecodeError, CasebookError):
            continue  # not kept, or not to its end
    return found


def keep(drawn: dict[str, Picture]) -> None:
    """Keep pictures by their keys; where they cannot be kept, they are drawn again the next time."""
    try:
        folder = _folder()
        private_files.make_folder(folder, parents=True)
        if not user_folders.is_this_users_alone(folder):
            return
        for one, picture in drawn.items():
            if one:
                unfinished = folder / f"{one}.{os.getpid()}.part"
                unfinished.write_text(documents.text_of(documents.plain(picture)), encoding="utf-8")
                unfinished.replace(folder / one)
        oldest_first = sorted(folder.iterdir(), key=lambda file: file.stat().st_mtime_ns)
        for file in oldest_first[: max(len(oldest_first) - MOST, 0)]:
            file.unlink(missing_ok=True)
    except OSError:
        return


def _folder() -> Path:
    return user_folders.cache() / "pictures"
