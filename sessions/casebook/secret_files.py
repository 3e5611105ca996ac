"""The secrets of sealed plans: each in a file of its own beside the casebook, out of the way of who looks into it.

A copy of `casebook.db` alone tells no key, and no tool that shows tables shows a secret. Before there were such files
secrets stood in the table `secrets`; what is found there is moved.
"""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from ..errors import CasebookError
from . import private_files

FOLDER = "secrets"
LENGTH = 32  # bytes


def path_of(folder: Path, plan_id: str) -> Path:
    """Where a casebook's folder holds the secret of a plan."""
    return folder / FOLDER / Path(plan_id).name  # an edited identifier leads nowhere else


def fresh() -> bytes:
    """A secret from the operating system's generator."""
    return secrets.token_bytes(LENGTH)


def keep(folder: Path, kept: Mapping[str, bytes]) -> None:
    """Keep secrets by their plans' identifiers; they are on disk, whole, when it returns.

    Raises
    ------
    CasebookError
        If they cannot be written.
    """
    home = folder / FOLDER
    try:
        private_files.make_folder(home)
        for plan_id, secret in kept.items():
            part = home / f".{secrets.token_hex(8)}.part"
            with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, private_files.FILE), "wb") as file:
                file.write(secret.hex().encode() + b"\n")
                file.flush()
                os.fsync(file.fileno())
            part.replace(path_of(folder, plan_id))
        _settle(home)
        _settle(folder)
    except OSError as error:
        raise CasebookError(
            f"cannot write a plan's secret into {home}: {error.strerror}; check the disk and its permissions"
        ) from error


def read(folder: Path, plan_id: str) -> bytes | None:
    """The secret of a plan; empty where its file is damaged or cannot be read, None where there is none."""
    try:
        return from_text(path_of(folder, plan_id).read_text(encoding="ascii"))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError):
        return b""


def from_text(text: str) -> bytes:
    """The secret that its hexadecimal digits stand for; empty where they are none."""
    try:
        secret = bytes.fromhex(text)
    except ValueError:
        return b""
    return secret if len(secret) == LENGTH else b""


def _settle(folder: Path) -> None:
    """A folder's entries on disk, where the system can be asked for that (Windows and some network drives cannot)."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        if error.errno not in (errno.EACCES, errno.EINVAL):
            raise
