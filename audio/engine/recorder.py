"""What the application records with: PortAudio in a process of its own, one for each recording."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from .orders import Record, Recorded, Refused, line_of, message_of
from .recording import LATENCY_S, Recording
from .routes import Route

LEAD_S = 0.7  # silence before the signal: the first blocks of a stream can be lost
TAIL_S = 0.7  # and after it: the sound's way through buffers, air and room


class DeviceRecorder:
    """The real one. It holds nothing: devices are opened for each recording and closed after it."""

    def record(
        self,
        signal: NDArray[np.float32],
        route: Route,
        source: Route,
        rate_hz: int,
        *,
        latency_s: float = LATENCY_S,
        block: int = 0,
    ) -> Recording:
        """Play a signal and record the inputs meanwhile, as `recording.Recorder` says."""
        if signal.ndim != 2 or signal.shape[1] != len(route.channels):
            raise ValueError(f"the signal has shape {signal.shape}, the route {len(route.channels)} channels")
        order = Record(
            output=route.device,
            source=source.device,
            channels=route.channels,
            inputs=source.channels,
            frames=signal.shape[0],
            rate_hz=rate_hz,
            lead=round(LEAD_S * rate_hz),
            tail=round(TAIL_S * rate_hz),
            latency_s=latency_s,
            block=block,
        )
        child = subprocess.Popen(
            [sys.executable, "-m", "audio.engine.recording_process"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        try:
            payload = np.ascontiguousarray(signal, dtype=np.float32).tobytes()
            answer, _ = child.communicate(line_of(order) + payload)
        finally:
            child.kill()  # whatever ends this side ends the sound
            child.wait()
        head, _, body = answer.partition(b"\n")
        try:
            about = message_of(head)
        except ValueError as error:
            raise DeviceError(
                "the process that plays and records ended; is the sound system running? Try again"
            ) from error
        if isinstance(about, Refused):
            raise DeviceError(about.why)
        assert isinstance(about, Recorded)
        samples = np.frombuffer(body, dtype=np.float32).reshape(tuple(about.shape))
        return Recording(samples, rate_hz, about.latency_s, about.output, about.source, about.faults)
