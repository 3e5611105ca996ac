"""The guests as they are kept while the pages are open, so that a program that was killed finds them again.

A file of this user alone in the casebook's folder of locks: codes, and hashes of tokens. It goes when the pages close.
"""

from __future__ import annotations

import errno
import os
import time
from dataclasses import dataclass
from pathlib import Path

from ..casebook import documents, private_files
from ..casebook.store import LOCKS
from ..errors import CasebookError, ListenError
from .joining import Claim, Guest, Guests, Role

NAME = "pages.json"
OLDEST_S = 24 * 3600.0


@dataclass(frozen=True)
class KeptGuest:
    """A guest without the clock."""

    key: str
    role: Role
    claim: Claim | None = None


@dataclass(frozen=True)
class Kept:
    """What the file holds."""

    code: str
    desk_code: str
    assistant_code: str
    address: str
    inside: tuple[KeptGuest, ...]


def found(folder: Path, now: float) -> Guests:
    """The guests of pages that were not closed lately, or none yet."""
    path = folder / LOCKS / NAME
    try:
        if time.time() - path.stat().st_mtime > OLDEST_S:
            return Guests()
        kept = documents.from_text(path.read_text(encoding="utf-8"), Kept)
    except (OSError, CasebookError):
        return Guests()
    inside = {one.key: Guest(one.key, one.role, one.claim, now) for one in kept.inside}
    return Guests(kept.code, kept.desk_code, kept.assistant_code, kept.address, inside)


def keep(folder: Path, guests: Guests) -> None:
    """Write them down; whoever reads the file finds it whole. On a full disk it stays as it was, and they are in.

    Raises
    ------
    ListenError
        If it cannot be written.
    """
    path = folder / LOCKS / NAME
    inside = tuple(KeptGuest(one.key, one.role, one.claim) for one in guests.inside.values())
    kept = Kept(guests.code, guests.desk_code, guests.assistant_code, guests.address, inside)
    text = documents.text_of(documents.plain(kept))
    part = path.with_suffix(".part")
    try:
        private_files.make_folder(path.parent)
        part.unlink(missing_ok=True)
        private_files.make_file(part)
        part.write_text(text, encoding="utf-8")
        os.replace(part, path)
    except OSError as error:
        if error.errno == errno.ENOSPC:
            return
        raise ListenError(f"cannot write {path}: {error.strerror}; check the disk and its permissions") from error


def forget(folder: Path) -> None:
    """Take the file away: no token counts any longer."""
    (folder / LOCKS / NAME).unlink(missing_ok=True)
