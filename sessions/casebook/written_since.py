"""Recordings that were written to since they were added: what can be told of it at once. It loads no arithmetic."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from audio.files import checksum

from .store import stored_time

READ_BYTES = 24 << 20  # hashed in 0.1 s: our choice, since whoever asks where a casebook stands wants it at once


@dataclass(frozen=True)
class Added:
    """A file as it was added: where it lies, its hash, and when that was."""

    path: Path
    sha256: str
    at: str


@dataclass(frozen=True)
class WrittenSince:
    """The files that are not what was added any more, and those written since that were too large to be hashed."""

    changed: frozenset[Path]
    unread: frozenset[Path]


def written_since(files: Iterable[Added]) -> WrittenSince:
    """Which files were written to since they were added; missing ones are none of them.

    Only files that the disk says to be newer are read, the smallest first.
    """
    newer = {}
    for one in files:
        try:
            seen = one.path.stat()
        except OSError:
            continue
        if _time(max(seen.st_mtime, seen.st_ctime)) > one.at:
            newer[one.path] = one, seen
    changed, unread, left = set(), set(), READ_BYTES
    for path, (one, seen) in sorted(newer.items(), key=lambda each: each[1][1].st_size):
        left -= seen.st_size
        if left >= 0:
            if checksum.sha256(path) != one.sha256:
                changed.add(path)
        elif _written_later(seen, one.at):
            unread.add(path)
    return WrittenSince(frozenset(changed), frozenset(unread))


def _written_later(seen: os.stat_result, at: str) -> bool:
    """Whether its content was written later; a file that was only moved keeps the time of that."""
    return _time(seen.st_mtime) > at


def _time(seconds: float) -> str:
    """A time of the disk as casebooks write theirs, so that both can be compared as text."""
    return stored_time(datetime.fromtimestamp(seconds, UTC))
