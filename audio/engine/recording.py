"""The shape of anything that plays a signal and records what comes of it, and what it brings back. It does neither."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from .orders import StreamFaults
from .routes import Route

LATENCY_S = 0.15
TRIES = 4  # a recording that stumbled is made again


@dataclass(frozen=True)
class Recording:
    """What was heard from the signal's first frame on, not corrected for the way there and back.

    `samples` has shape (frames, inputs of the device), `latency_s` is what the device states for both ways, `faults`
    counts what stumbled; `output` and `source` are the devices' full names.
    """

    samples: NDArray[np.float32]
    rate_hz: int
    latency_s: float
    output: str
    source: str
    faults: StreamFaults

    @property
    def clean(self) -> bool:
        """Whether nothing stumbled."""
        return self.faults == StreamFaults()


class Recorder(Protocol):
    """Anything that plays a signal and records meanwhile."""

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
        """Play a signal, shape (frames, channels of the route), and record the inputs meanwhile.

        Parameters
        ----------
        route, source
            The channels to play on; the inputs that must be among those recorded.
        latency_s
            The latency to ask for.
        block
            Frames a block; 0 lets the system choose.

        Raises
        ------
        DeviceError
            If a device is absent, unsuitable or stands still.
        """


def record_undisturbed(
    recorder: Recorder, signal: NDArray[np.float32], route: Route, source: Route, rate_hz: int
) -> Recording:
    """A recording in which nothing stumbled, tried `TRIES` times with more patience each time.

    Raises
    ------
    DeviceError
        If all of them stumbled.
    """
    stumbled = ""
    for attempt in range(TRIES):
        heard = recorder.record(signal, route, source, rate_hz, latency_s=LATENCY_S * (attempt + 1))
        if heard.clean:
            return heard
        stumbled = heard.faults.words
    raise DeviceError(
        f"every one of {TRIES} takes stumbled (the last: {stumbled}); close other programs, or ask the "
        "sound system for larger blocks"
    )
