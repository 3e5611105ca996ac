"""The checksum of a file. It loads no arithmetic, so that whoever only compares files need not wait for it."""

from __future__ import annotations

import hashlib
from pathlib import Path


def sha256(path: Path) -> str:
    """SHA-256 of a file's bytes, 64 hexadecimal digits.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
