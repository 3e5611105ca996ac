from __future__ import annotations

import numpy as np
import pytest

from audio.engine.device_clocks import DeviceClock, difference


def running(rate_hz: float, seconds: float, jitter_s: float, seed: int, block: int = 256) -> DeviceClock:
    """A device's stamps: whole blocks at its own rate, read late by a random jitter."""
    rng = np.random.default_rng(seed)
    clock = DeviceClock()
    for number in range(1, int(seconds * rate_hz / block)):
        moment = number * block / rate_hz + rng.exponential(jitter_s)
        clock.add((number * block, round(1e9 * moment) + 12_345_678_901))
    return clock


@pytest.mark.parametrize("ppm", [-150.0, -5.0, 0.0, 40.0, 300.0])
def test_a_planted_difference_is_found_within_its_uncertainty(ppm: float) -> None:
    one, other = running(48_000 * (1 + ppm * 1e-6), 60, 0.0005, 1), running(48_000, 60, 0.0005, 2)
    found = difference(one, other)
    assert found is not None
    assert found.uncertainty_ppm < 5
    assert abs(found.ppm - ppm) < 2 * found.uncertainty_ppm


def test_too_little_is_no_answer_and_a_new_stream_begins_anew() -> None:
    clock = running(48_000, 3, 0.0, 1)
    assert clock.rate_hz() is None
    clock.add((256, 99))
    assert clock.stamps == [(256, 99)]
    clock.add((256, 120))
    assert len(clock.stamps) == 1
