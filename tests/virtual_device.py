"""A playback device without hardware: it asks for blocks at its own pace, and keeps what was played.

`VirtualDevice.engine` renders in the test's own process; this module as a program is the engine's process with such a
device in it, for what processes do to each other.
"""

from __future__ import annotations

import io
import threading
import time
from typing import Any

import numpy as np

from audio.engine import playback_process
from audio.engine.orders import Answer, Load, Loaded, Open, Opened, Refused
from audio.engine.playback_engine import no_fields
from audio.engine.playback_process import Engine
from audio.errors import DeviceError

RATE_HZ = 48_000
BLOCK = 256


class Flags:
    """A block's status as PortAudio gives it."""

    def __init__(self, underflow: bool = False, overflow: bool = False) -> None:
        self.output_underflow, self.output_overflow = underflow, overflow


class VirtualDevice:
    """One device; `pace` is how much faster than real time it plays, `latency_s` what it states."""

    def __init__(self, pace: float = 1.0, latency_s: float = 0.0) -> None:
        self.pace, self.latency_s = pace, latency_s
        self._played: list[np.ndarray] = []

    @property
    def played(self) -> np.ndarray:
        """All that was played so far, shape (frames, channels)."""
        return np.concatenate(self._played)

    def open_stream(self, wanted: str | None, rate_hz: int, channels: int, latency_s: float, fill: Any) -> Any:
        """A running stream, as `audio.engine.portaudio.open_stream`."""
        return _Stream(fill, channels, rate_hz * self.pace, self._played), Opened("virtual", channels, self.latency_s)

    def engine(self) -> _Engine:
        """A new engine that plays on this device."""
        return _Engine(self)


class _Stream:
    def __init__(self, fill: Any, channels: int, frames_per_s: float, played: list[np.ndarray]) -> None:
        self._fill, self._channels, self._frames_per_s, self._played = fill, channels, frames_per_s, played
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        begun, frames = time.monotonic(), 0
        while not self._ended.is_set():
            out = np.full((BLOCK, self._channels), 9.0, dtype=np.float32)  # a device's buffer holds old sound
            self._fill(out, BLOCK, None, Flags())
            self._played.append(out)
            frames += BLOCK
            self._ended.wait(max(0.0, begun + frames / self._frames_per_s - time.monotonic()))

    def abort(self, ignore_errors: bool = True) -> None:
        self._ended.set()
        self._thread.join()

    def close(self, ignore_errors: bool = True) -> None:
        self.abort()


class _Engine:
    """An engine in the test's own process."""

    def __init__(self, device: VirtualDevice) -> None:
        self.fields = no_fields()
        self._engine = Engine(self.fields, device.open_stream)
        self.alive = True

    def obey(self, order: Open | Load, stimuli: np.ndarray | None = None) -> Answer:
        answer = self._engine.obey(order, io.BytesIO(b"" if stimuli is None else stimuli.tobytes()))
        if isinstance(answer, Refused):
            raise DeviceError(answer.why)
        assert isinstance(answer, (Opened, Loaded))
        return answer

    def end(self) -> None:
        self.alive = False
        self._engine.close()


if __name__ == "__main__":
    playback_process.main(VirtualDevice().open_stream)
