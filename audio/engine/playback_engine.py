"""The engine that a player asks: shared fields and orders. The real one is a process of its own, started here.

The fields are a small file mapped into both processes; it has no name any more as soon as both have it (on Windows: as
soon as both are done with it).
"""

from __future__ import annotations

import mmap
import os
import queue
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from pathlib import Path
from typing import IO, Protocol

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from . import fields as at
from .fields import Fields
from .orders import Answer, Load, Open, Record, Refused, line_of, message_of

ANSWER_TIMEOUT_S = 30.0
STOPPED = "the playback engine stopped; is the sound system running? Try again"


class PlaybackEngine(Protocol):
    """Anything that renders stimuli by the wish in its fields, and obeys orders."""

    @property
    def fields(self) -> Fields:
        """The shared numbers."""

    @property
    def alive(self) -> bool:
        """Whether it still runs."""

    def obey(self, order: Open | Load, stimuli: NDArray[np.float32] | None = None) -> Answer:
        """Give an order and wait for its answer; raises DeviceError if the engine stopped or refuses."""

    def end(self) -> None:
        """End it; what sounds is cut off."""


class EngineProcess:
    """The real one; `program` is the module that runs in the process."""

    def __init__(self, program: str = "audio.engine.playback_process") -> None:
        memory = Path("/dev/shm")  # kept in memory where the system has a place for that
        handle, name = tempfile.mkstemp(prefix="earwitness-", dir=memory if memory.is_dir() else None)
        self._path = Path(name)
        with os.fdopen(handle, "r+b") as file:
            file.truncate(at.BYTES)
            self.fields: Fields = np.frombuffer(mmap.mmap(file.fileno(), at.BYTES), dtype=np.int64)
        self.process = subprocess.Popen(
            [sys.executable, "-m", program, name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        assert self.process.stdout is not None
        self._lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        threading.Thread(target=_pass_on, args=(self.process.stdout, self._lines), daemon=True).start()

    @property
    def alive(self) -> bool:
        """Whether the process still runs."""
        return self.process.poll() is None

    def obey(self, order: Open | Load, stimuli: NDArray[np.float32] | None = None) -> Answer:
        """Give an order and wait for its answer.

        Raises
        ------
        DeviceError
            If the process stopped or does not answer, or refuses.
        """
        assert self.process.stdin is not None
        try:
            self.process.stdin.write(line_of(order))
            if stimuli is not None:
                self.process.stdin.write(stimuli.data.cast("B"))
            self.process.stdin.flush()
            answer = message_of(self._lines.get(timeout=ANSWER_TIMEOUT_S))
        except (OSError, ValueError, queue.Empty) as error:
            raise DeviceError(STOPPED) from error
        self._forget_name()
        if isinstance(answer, Refused):
            raise DeviceError(answer.why)
        assert not isinstance(answer, (Open, Load, Record))
        return answer

    def end(self) -> None:
        """Kill the process."""
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                with suppress(OSError):  # bytes that nobody takes any more
                    pipe.close()
        self.fields = no_fields()
        self._forget_name()

    def _forget_name(self) -> None:
        with suppress(OSError):  # Windows keeps it while it is in use
            self._path.unlink(missing_ok=True)


def _pass_on(answers: IO[bytes], lines: queue.SimpleQueue[bytes]) -> None:
    """Each answer into the queue, and an empty one at the end, in a thread: pipes cannot be waited for everywhere."""
    with suppress(ValueError, OSError):  # closed meanwhile
        for line in answers:
            lines.put(line)
    lines.put(b"")


def no_fields() -> Fields:
    """The fields of no engine: nothing sounds, nothing was heard."""
    return np.zeros(at.SIZE, dtype=np.int64)
