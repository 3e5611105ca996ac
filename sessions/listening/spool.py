"""Bytes that are needed for a while, on disk and not in memory: a file without a name, which goes with its program."""

from __future__ import annotations

import contextlib
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import IO


@dataclass(frozen=True)
class Stretch:
    """Where some bytes lie in the file."""

    start: int
    length: int


class Spool:
    """A file that nobody else can open. One caller at a time.

    Parameters
    ----------
    folder
        On whose disk it lies; None: where the system keeps such files, which may be memory.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._file: IO[bytes] | None = None
        self._end = 0

    def put(self, body: bytes) -> Stretch | bytes:
        """Keep some bytes; what `get` takes. Where they cannot be written, a full disk for one, they stay in memory."""
        try:
            if self._file is None:
                self._file = tempfile.TemporaryFile(dir=self._folder, buffering=0)  # noqa: SIM115 - `close` closes it
            self._file.seek(self._end)
            if self._file.write(body) != len(body):
                return body
        except OSError:
            return body
        kept = Stretch(self._end, len(body))
        self._end += len(body)
        return kept

    def get(self, kept: Stretch | bytes) -> bytes:
        """What was kept."""
        if isinstance(kept, bytes):
            return kept
        assert self._file is not None
        self._file.seek(kept.start)
        return self._file.read(kept.length)

    def clear(self) -> None:
        """Forget all that was kept."""
        self._end = 0
        if self._file is not None:
            self._file.truncate(0)

    def close(self) -> None:
        """Let go of the file, as happens by itself when nobody has the spool any more."""
        with contextlib.suppress(OSError):
            if self._file is not None:
                self._file.close()
        self._file, self._end = None, 0

    def __del__(self) -> None:
        self.close()
