"""The peak dissipation of a class B stage: quick, and still the highest of all moments and levels."""

from __future__ import annotations

import numpy as np
import pytest

from audio.curves.impedance import dissipation_share


@pytest.mark.parametrize("phase_deg", [0.0, 7.3, 30.0, 45.0, 59.9, 60.0, 60.1, 75.0, 89.9, 90.0])
def test_the_share_is_the_worst_of_all_moments_and_levels(phase_deg: float) -> None:
    theta = np.linspace(0, 2 * np.pi, 1441)[None, :]
    level = np.linspace(0.02, 1, 99)[:, None]
    current = level * np.sin(theta - np.radians(phase_deg))
    worst = np.where(current > 0, current * (1 - level * np.sin(theta)), 0).max()
    np.testing.assert_allclose(dissipation_share(phase_deg), 0.25 / worst, rtol=1e-12)
    assert dissipation_share(-phase_deg) == dissipation_share(phase_deg)
