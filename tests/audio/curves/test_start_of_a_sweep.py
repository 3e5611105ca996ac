"""Where a sweep begins no harmonic is told that is not there: planted by arithmetic, four times oversampled."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly

from audio.curves import sweep
from audio.curves.curve import Curve

RATE_HZ, AMPLITUDE = 48_000, 0.2
CLEAR_DB = 12.0  # above its own floor, as what is shown
LEAST_BELOW_DB = 30.0  # a false harmonic of 3 % of the one that is there is as much as a picture shows beside it


def taken(seconds: float, curvature: float) -> dict[int, tuple[Curve, np.ndarray]]:
    """The harmonics of a system x + curvature · x², which makes no harmonic but the second."""
    made = sweep.sweep(20, 20_000, seconds, RATE_HZ, AMPLITUDE)
    fine = resample_poly(np.concatenate([np.zeros(1600), made.samples(), np.zeros(RATE_HZ)]), 4, 1)
    heard = resample_poly(fine + curvature * fine**2, 1, 4)[200:]
    noise = 1e-7 * np.random.default_rng(1).standard_normal(len(heard))
    return sweep.distortion(made, sweep.deconvolved(made, heard + noise))


@pytest.mark.parametrize("seconds", [1, 2, 3, 5])
def test_a_second_harmonic_makes_no_others_where_the_sweep_begins(seconds: float) -> None:
    found = taken(seconds, 0.3)
    second = found[2][0]
    for order in (3, 4, 5):
        curve, floor = found[order]
        below = np.interp(curve.hz, second.hz, second.level_db) - curve.level_db
        assert below[curve.level_db > floor + CLEAR_DB].min(initial=np.inf) > LEAST_BELOW_DB, order


@pytest.mark.parametrize("seconds", [1, 2, 5])
def test_the_second_harmonic_is_true_from_where_it_is_told(seconds: float) -> None:
    """Of A·sin the square is A²/2 · cos of twice the frequency, so curvature · A/2 of the fundamental: 3 %."""
    second = taken(seconds, 0.3)[2][0]
    low = second.hz < 1000
    assert second.level_db[low] == pytest.approx(20 * np.log10(0.3 * AMPLITUDE / 2), abs=1.0)
    assert second.hz[0] < 45  # and that is no later than an octave above the sweep's low end, give or take some hertz
