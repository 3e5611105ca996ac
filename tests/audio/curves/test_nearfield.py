"""The step of a baffle and the sum of cone and port against limits and series worked out apart."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.special import eval_legendre, hankel1, jv

from audio.curves import nearfield
from audio.curves.curve import Curve
from audio.errors import MeasureError

C = 343.2


def test_the_baffle_step_goes_from_minus_six_to_nothing() -> None:
    low, high = nearfield.baffle_step_db(np.array([5.0, 19_000.0]), 0.3)
    assert (low, high) == (pytest.approx(-6.02, abs=0.01), pytest.approx(0, abs=0.05))


def test_half_of_the_step_lies_where_the_rule_of_thumb_says() -> None:
    """115 m/s over the width, from memory: 3 dB of the 6 are lost there."""
    for width in (0.15, 0.3, 0.6):
        assert nearfield.baffle_step_db(np.array([115 / width]), width)[0] == pytest.approx(-3, abs=0.4)


def spherical(kind: Callable[[float, float], complex], n: int, x: float) -> complex:
    return np.sqrt(np.pi / 2 / x) * kind(n + 0.5, x)


def test_the_step_is_what_waves_around_a_sphere_add_up_to() -> None:
    """A plane wave and the wave scattered by a rigid sphere, each summed as it is, at the point that faces it."""
    width = 0.3
    for ka in (0.2, 1.0, 2.5, 7.0):
        whole = 0j
        for n in range(int(ka) + 12):
            slopes = [spherical(kind, n - 1, ka) - (n + 1) / ka * spherical(kind, n, ka) for kind in (jv, hankel1)]
            here = spherical(jv, n, ka) - slopes[0] / slopes[1] * spherical(hankel1, n, ka)
            whole += 1j**n * (2 * n + 1) * eval_legendre(n, -1.0) * here
        hz = np.array([ka * C / (np.pi * width)])
        assert nearfield.baffle_step_db(hz, width)[0] == pytest.approx(20 * np.log10(abs(whole) / 2), abs=0.02)


def test_what_cannot_be_is_refused() -> None:
    for wrong in (lambda: nearfield.limit_hz(0), lambda: nearfield.baffle_step_db(np.array([100.0]), 0)):
        with pytest.raises(MeasureError, match="is above 0 metres"):
            wrong()
    low, high = (Curve(hz, 0 * hz, 0 * hz) for hz in (np.array([20.0, 40, 80]), np.array([200.0, 400, 800])))
    with pytest.raises(MeasureError, match="share too little to be added"):
        nearfield.summed([(low, 0.1), (high, 0.03)])
