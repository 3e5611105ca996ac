"""A new folder that stands under its name only once all of it is written, and writes over nothing."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import CasebookError
from . import private_files


@contextmanager
def new_folder(folder: Path, casebook_folder: Path) -> Iterator[Path]:
    """Where to write what will stand in `folder` when the block ends well; otherwise nothing is left of it.

    Raises
    ------
    CasebookError
        If `folder` holds something already, lies in the casebook itself, or cannot be written.
    """
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise CasebookError(f"{folder} is there already; name a folder that is not, so that nothing is written over")
    if casebook_folder.resolve() in (folder.resolve(), *folder.resolve().parents):
        raise CasebookError(f"{folder} lies in the casebook itself; name a folder outside of it")
    part = folder.with_name(f".{folder.name}.{secrets.token_hex(4)}.part")
    try:
        private_files.make_folder(part, parents=True)
        yield part
        if folder.exists():  # empty, as it was when it was looked at
            folder.rmdir()
        part.replace(folder)
    except OSError as error:
        raise CasebookError(
            f"cannot write {folder}: {error.strerror or error}; check the disk and its permissions"
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
