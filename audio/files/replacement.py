"""A file that appears under its name only when it is complete. It knows nothing of sound."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import IO


@contextlib.contextmanager
def replacement(path: Path) -> Iterator[IO[bytes]]:
    """An open file that takes the place of `path` when the block ends well, and vanishes when it does not.

    It is written beside `path`, forced onto the disk and then renamed, so that a reader finds the old file or
    the new one, never a part.

    Raises
    ------
    OSError
        As the system gave it: disk full, read-only, not permitted, no such folder.
    """
    partial = path.parent / f".{secrets.token_hex(8)}.part"
    try:
        descriptor = os.open(partial, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(descriptor, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            partial.unlink()
        raise


class Sink:
    """A file for a C library to write to that remembers the system's first refusal instead of losing it.

    An exception cannot pass through the library's callbacks. After a refusal the rest is swallowed, so that
    the library finishes in peace, and `error` holds what happened.
    """

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.error: OSError | None = None

    def write(self, data: bytes) -> int:
        """Number of bytes taken, always all of them."""
        if self.error is None:
            try:
                return self._file.write(data)
            except OSError as error:
                self.error = error
        return len(data)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Position after the move."""
        if self.error is None:
            try:
                return self._file.seek(offset, whence)
            except OSError as error:  # moving writes out what is still held back
                self.error = error
        return 0

    def tell(self) -> int:
        """Position."""
        return self._file.tell() if self.error is None else 0

    def read(self, size: int) -> bytes:
        """Up to `size` bytes from the position on."""
        return self._file.read(size) if self.error is None else b""
