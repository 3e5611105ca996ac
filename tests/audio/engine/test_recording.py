"""A recording that stumbled is made again with more patience, and refused in words when all of them stumble."""

from __future__ import annotations

import numpy as np
import pytest

from audio.engine.recorder import DeviceRecorder
from audio.engine.recording import LATENCY_S, TRIES, record_undisturbed
from audio.engine.routes import Route
from audio.errors import DeviceError
from tests.room import Room, Speaker

WAY = Route("room", (0,))
QUIET = np.zeros((480, 1), dtype=np.float32)


@pytest.mark.parametrize("stumbles", [0, 1, TRIES - 1])
def test_the_first_clean_recording_is_taken(stumbles: int) -> None:
    room = Room([Speaker()], stumbles=stumbles)
    assert record_undisturbed(room, QUIET, WAY, WAY, 48_000).clean
    assert room.made == [LATENCY_S * attempt for attempt in range(1, stumbles + 2)]


def test_too_many_stumbles_are_refused_with_what_stumbled() -> None:
    with pytest.raises(DeviceError, match=rf"every one of {TRIES} takes stumbled \(the last: 1 underruns\)"):
        record_undisturbed(Room([Speaker()], stumbles=TRIES), QUIET, WAY, WAY, 48_000)


def test_a_signal_needs_as_many_channels_as_its_route() -> None:
    with pytest.raises(ValueError, match="the route 2 channels"):
        DeviceRecorder().record(QUIET, Route("room", (0, 1)), WAY, 48_000)
