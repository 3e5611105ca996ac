"""What a nearfield reading holds: up to where, what a port adds to a cone, and what the baffle step takes off. Pure.

Close to a small piston, in the middle of its face, the pressure is that of the piston alone: p = ρωU/(πa), U being the
air it moves (volume velocity) and a its radius (Keele 1974, from memory). So cones and ports are added by the air they
move: each pressure times its radius, which is the pressure times the root of its area.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np

from ..errors import MeasureError
from . import gaps
from .curve import Curve, Numbers, log_grid
from .gate import speed_of_sound
from .phase import measured_phase

TERMS = 10  # of the sphere's series, beyond ka: what is left is below 1e-6


def limit_hz(radius_m: float, celsius: float = 20.0) -> float:
    """Up to where a nearfield reading of a piston of this radius holds: ka = 1 (Keele 1974, from memory)."""
    if radius_m <= 0:
        raise MeasureError("a cone's radius is above 0 metres")
    return speed_of_sound(celsius) / (2 * pi * radius_m)


def summed(parts: Sequence[tuple[Curve, float]]) -> Curve:
    """The nearfields of a cone and of what else moves air (ports, further cones), each with its radius, added up.

    Returns
    -------
    Curve
        At the first one's frequencies and level, as if the first one moved all the air; valid where all of them hold,
        with the gaps of all.

    Raises
    ------
    MeasureError
        If one of several has no phase: a port works against its cone below the tuning, and only phase tells.
    """
    first, own_m = parts[0]
    if len(parts) == 1:
        return first
    for curve, _ in parts:
        if curve.phase_deg is None:
            raise MeasureError(
                "a nearfield has no phase, so that cone and port cannot be added; bring all of them with phase, taken "
                "with one and the same timing"
            )
    low, high = max(float(curve.hz[0]) for curve, _ in parts), min(float(curve.hz[-1]) for curve, _ in parts)
    hz = first.hz[(first.hz >= low) & (first.hz <= high)]
    if len(hz) < 2:
        raise MeasureError("the nearfields share too little to be added; measure all of them over one band")
    whole = np.zeros(len(hz), complex)
    for curve, radius_m in parts:
        turned = np.interp(np.log(hz), np.log(curve.hz), np.radians(measured_phase(curve)))
        whole += radius_m / own_m * 10 ** (curve.at(hz) / 20) * np.exp(1j * turned)
    level = 20 * np.log10(np.maximum(np.abs(whole), 1e-12))
    over = gaps.joined(*(curve.gaps_hz for curve, _ in parts))
    return Curve(hz, level, np.degrees(np.angle(whole)), first.valid_hz, over)


def baffle_step_db(hz: Numbers, width_m: float, celsius: float = 20.0) -> Numbers:
    """What a cabinet so wide takes from a driver on its front, against the driver in an endless wall: −6 … 0 dB.

    As if the cabinet were a rigid sphere of that width, free in the air, the driver small and the microphone far away
    on its axis: the one shape whose answer is exact. A box adds ripples of a decibel or two from its edges, which this
    leaves out; near walls less is lost.

    Notes
    -----
    By reciprocity the pressure on a sphere that faces a plane wave, |Σ (2n + 1)(−i)ⁿ/h′ₙ(ka)|/(ka)², which goes from 1
    to 2 (Morse and Ingard, from memory).
    """
    from scipy.special import spherical_jn, spherical_yn

    if width_m <= 0:
        raise MeasureError("a baffle's width is above 0 metres")
    ka = pi * width_m * hz / speed_of_sound(celsius)
    total = np.zeros(len(hz), complex)
    for n in range(int(np.max(ka)) + TERMS):
        seen = n < ka + TERMS
        slope = spherical_jn(n, ka[seen], derivative=True) + 1j * spherical_yn(n, ka[seen], derivative=True)
        total[seen] += (2 * n + 1) * (-1j) ** n / slope
    return np.asarray(20 * np.log10(np.abs(total) / ka**2 / 2))


def with_baffle_step(curve: Curve, width_m: float) -> Curve:
    """A nearfield as it would be heard far from a cabinet so wide; on frequencies as fine as the step asks for."""
    hz = np.union1d(curve.hz, log_grid(float(curve.hz[0]), float(curve.hz[-1])))
    return Curve(hz, curve.at(hz) + baffle_step_db(hz, width_m), None, curve.valid_hz, curve.gaps_hz)
