"""What an audience answered, as it was counted when a viewers' test was ended: a file of its own beside the casebook.

The test's opening, a link of the chain, holds the hash of it, so that the file needs no guard: it counts
only where it fits.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from pathlib import Path

from ..errors import CasebookError
from . import private_files

FOLDER = "audience"


def path_of(folder: Path, test_id: str) -> Path:
    """Where a casebook's folder holds the answers of a viewers' test."""
    return folder / FOLDER / f"{Path(test_id).name}.txt"  # an edited identifier leads nowhere else


def digest(text: str) -> str:
    """The hash of answers as the record holds it."""
    return hashlib.sha256(text.encode()).hexdigest()


def keep(folder: Path, test_id: str, text: str) -> None:
    """Keep the answers of a test; they are there whole, or not at all.

    Raises
    ------
    CasebookError
        If they cannot be written.
    """
    path = path_of(folder, test_id)
    part = path.with_name(f".{secrets.token_hex(8)}.part")
    try:
        private_files.make_folder(path.parent)
        with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, private_files.FILE), "wb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        raise CasebookError(
            f"cannot write the answers of a viewers' test into {path.parent}: {error.strerror}; check the disk and its "
            "permissions"
        ) from error


def read(folder: Path, test_id: str, sha256: str) -> str | None:
    """The answers of a test, if those that its record names are there."""
    try:
        text = path_of(folder, test_id).read_bytes().decode()
    except (OSError, ValueError):
        return None
    return text if digest(text) == sha256 else None
