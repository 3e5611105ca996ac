"""A copy of a whole casebook in another folder, consistent while a session runs.

It copies the tables as they stand at one moment, the secrets of plans, and prepared audio where that is asked;
recordings lie where they are. The copy stands under its name only once it is whole, and was looked at by whoever asked.
"""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ..errors import CasebookBusy
from . import audience_answers, database, private_files, secret_files, whole_folder
from .store import FILE_NAME, PREPARED, Casebook

R = TypeVar("R")
LONGEST_WAIT_S = 60.0  # for a moment between the writes of a session; each try waits as long as any command does


@dataclass(frozen=True)
class BackupCopy:
    """What was copied: where it will stand, where it stands until then, and how much of what it holds."""

    folder: Path
    part: Path
    rows: int
    secrets: int
    audio_files: int
    size_bytes: int


def patiently(read: Callable[[], R]) -> R:
    """What reading comes to, tried again while another program writes without a pause.

    Raises
    ------
    CasebookBusy
        If there was no moment between its writes in all that time.
    """
    end = time.monotonic() + LONGEST_WAIT_S
    while True:
        try:
            return read()
        except CasebookBusy as error:
            if time.monotonic() >= end:
                said = "another program writes into the casebook without a pause, so that no copy was made"
                raise CasebookBusy(f"{said}: try again, a session may go on meanwhile") from error


@contextmanager
def copied(casebook: Casebook, folder: Path, *, with_audio: bool = False) -> Iterator[BackupCopy]:
    """The copy, before it stands under its name: it does when the block ends well, and otherwise nothing is left of it.

    Raises
    ------
    CasebookError
        If `folder` holds something already, lies in the casebook itself, or cannot be written.
    """
    with whole_folder.new_folder(folder, casebook.folder) as part:
        yield _copy(casebook, folder, part, with_audio=with_audio)


def _copy(casebook: Casebook, folder: Path, part: Path, *, with_audio: bool) -> BackupCopy:
    file = part / FILE_NAME
    with patiently(casebook.snapshot) as now:
        rows = now.head()["head_seq"]
        database.write_to(now.db, file)
    _settle(file)
    # after the tables: a plan's secret is on disk before its row is, and is never taken away
    kept = _copy_files(casebook.folder / secret_files.FOLDER, part / secret_files.FOLDER)
    answered = _copy_files(casebook.folder / audience_answers.FOLDER, part / audience_answers.FOLDER)
    audio = _copy_files(casebook.folder / PREPARED, part / PREPARED) if with_audio else []
    size = sum(path.stat().st_size for path in (file, *kept, *answered, *audio))
    return BackupCopy(folder, part, rows, len(kept), len(audio), size)


def _copy_files(source: Path, target: Path) -> list[Path]:
    """Copies of all files below a folder, for their owner alone; none where there is no such folder."""
    made = []
    for path in sorted(source.rglob("*")) if source.is_dir() else ():
        if path.is_file() and not path.name.endswith(".part"):  # half-written, by a program that is at it now
            copy = target / path.relative_to(source)
            private_files.make_folder(target)
            private_files.make_folder(copy.parent, parents=True)
            private_files.make_file(copy)
            shutil.copyfile(path, copy)
            _settle(copy)
            made.append(copy)
    return made


def _settle(file: Path) -> None:
    """A file's bytes on disk."""
    with file.open("rb+") as opened:
        os.fsync(opened.fileno())
