"""Decays against responses whose decay is known from how they were made."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import bilinear, firwin, lfilter

from audio.curves import decay

RATE = 48_000
AT = 480


def direct(frames: int = RATE // 2) -> np.ndarray:
    """A sound that is over at once."""
    impulse = np.zeros(frames)
    impulse[AT] = 1.0
    return impulse


def ringing(hz: float, q: float, share: float, frames: int = RATE // 2) -> np.ndarray:
    """A direct sound, and a resonance whose own peak in the spectrum is `share` of it."""
    w = 2 * np.pi * hz
    b, a = bilinear([w / q, 0], [1, w / q, w**2], RATE)
    return direct(frames) + share * lfilter(b, a, direct(frames))


def held_db(found: decay.Decay, hz: float, step: float) -> float:
    """The level at a frequency and a time (or period)."""
    row = int(np.argmin(np.abs(found.steps - step)))
    return float(np.interp(hz, found.hz, found.level_db[row]))


@pytest.mark.parametrize("cycles", [2.0, 4.0, 8.0])
def test_a_burst_of_n_cycles_is_n_cycles_long_at_half_amplitude(cycles: float) -> None:
    """A system without memory answers with the burst itself: half (-6.02 dB) after n/2 periods, a sixteenth after n."""
    found = decay.burst(direct(), RATE, 0.1, cycles)
    for hz in (500.0, 1000.0, 5000.0):
        assert held_db(found, hz, cycles / 2) == pytest.approx(-6.02, abs=0.15)
        assert held_db(found, hz, cycles) == pytest.approx(-24.08, abs=0.6)


def test_a_burst_decay_sees_nothing_after_the_gate() -> None:
    """A reflection 8 ms late is within a gate of 20 ms, and beyond one of 6 ms."""
    reflected = direct()
    reflected[AT + round(0.008 * RATE)] += 0.7
    late = 8.0  # periods of 1 kHz
    assert held_db(decay.burst(reflected, RATE, 0.02), 1000, late) == pytest.approx(-3.1, abs=0.1)
    assert held_db(decay.burst(reflected, RATE, 0.006), 1000, late) < -60


def test_a_burst_decay_says_from_where_the_gate_still_holds_it() -> None:
    """The burst's half length and k periods must fit into what the gate leaves unfaded, three quarters of it."""
    found = decay.burst(direct(), RATE, 0.02, 4.0)
    row = int(np.argmin(np.abs(found.steps - 10)))
    assert found.valid_from_hz[row] == pytest.approx((10 + 2) / (0.75 * 0.02))
    assert (np.diff(found.valid_from_hz) > 0).all()


def test_a_mode_of_a_cabinet_is_followed_over_200_ms() -> None:
    """180 Hz, Q 40: it falls by pi·f/Q·8.686 = 122.8 dB a second; read over 80 ms."""
    found = decay.cumulative(ringing(180, 40, 1.0), RATE, 0.2, decay.CABINET)
    fallen = held_db(found, 180, 0.02) - held_db(found, 180, 0.1)
    assert fallen == pytest.approx(122.8 * 0.08, abs=0.3)
    assert held_db(found, 180, 0.1) > held_db(found, 400, 0.1) + 20
    assert found.hz[0] <= 50
    assert found.valid_from_hz == pytest.approx(1 / 0.08, rel=0.01)


@pytest.mark.parametrize(
    ("looked_for", "gate_ms", "length_ms"),
    [("drivers", 5.0, 5.0), ("drivers", 300.0, 12.0), ("cabinet", 300.0, 200.0), ("cabinet", 60.0, 60.0)],
)
def test_the_window_follows_from_what_is_looked_for_and_from_the_gate(
    looked_for: str, gate_ms: float, length_ms: float
) -> None:
    sought = decay.LOOKED_FOR[looked_for]
    window_s = sought.window_s(gate_ms / 1000)
    assert window_s == pytest.approx(length_ms / 1000)
    found = decay.cumulative(direct(), RATE, window_s, sought)
    assert found.steps[-1] == pytest.approx(0.6 * length_ms / 1000, rel=0.01)
    assert found.valid_from_hz[0] == pytest.approx(1000 / length_ms / (0.4 if sought.moving else 1), rel=0.02)


def test_the_end_of_the_band_is_not_shown_as_a_decay() -> None:
    """A sound over at once, cut off at 20 kHz: that edge rings, but what is valid of each slice does not show it."""
    cut = np.convolve(direct(), firwin(801, 20_000, fs=RATE))[400 : RATE // 2]
    found = decay.cumulative(cut, RATE, 0.005, highest_hz=20_000)
    assert found.valid_to_hz is not None
    later = np.flatnonzero(found.steps > 0.0003)
    assert found.level_db[later][:, found.hz > 18_000].max() > -30  # it is there
    for row in later:
        valid = (found.hz >= 5000) & (found.hz <= found.valid_to_hz[row])
        assert found.level_db[row][valid].max() < -40
    assert found.valid_to_hz[0] == 20_000
