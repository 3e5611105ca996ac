"""How the imaginary loudspeakers radiate, and their impedance: simple models, so that the demo has whole measured sets.

A 13 cm cone and a 25 mm dome, each a flat piston in the front of a box, handed over at 2.4 kHz; behind the box the
treble is shaded off. The dome stands above the cone, so the vertical plane dips where both sound. All of it invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from . import loudspeakers

SOUND_M_S = 343.2
CONE_M, DOME_M, APART_M, HANDOVER_HZ = 0.052, 0.0125, 0.14, 2400.0
SHADE_HZ = 600.0
RATE_HZ = 96_000


@dataclass(frozen=True)
class Bass:
    """A loudspeaker's electrical side: coil resistance and inductance, and the two peaks of a vented box (or one)."""

    ohm: float
    millihenry: float
    peaks: tuple[tuple[float, float, float], ...]


BASS = MappingProxyType(
    {
        "sallow": Bass(5.6, 0.45, ((72.0, 26.0, 3.4),)),
        "sallow-late": Bass(5.6, 0.45, ((72.0, 26.0, 3.4),)),
        "bracken": Bass(3.4, 0.3, ((22.0, 18.0, 3.0), (58.0, 24.0, 4.0))),
    }
)


def response_db(name: str, hz: NDArray[np.float64], plane: str, angle_deg: float) -> NDArray[np.float64]:
    """Level in dB in a direction, relative to nothing in particular; on axis it is `loudspeakers.response_db`."""
    return loudspeakers.response_db(name, hz, RATE_HZ) + off_axis_db(hz, plane, angle_deg)


def off_axis_db(hz: NDArray[np.float64], plane: str, angle_deg: float) -> NDArray[np.float64]:
    """What a direction takes away, in dB: 0 on axis."""
    theta = np.radians(angle_deg)
    k = 2 * np.pi * hz / SOUND_M_S
    cone, dome = (_piston(k * radius * abs(np.sin(theta))) for radius in (CONE_M, DOME_M))
    low, high = 1 / (1 + (hz / HANDOVER_HZ) ** 4), 1 / (1 + (HANDOVER_HZ / hz) ** 4)
    late = k * APART_M * np.sin(theta) if plane == "vertical" else np.zeros_like(hz)
    total = low * cone + high * dome * np.exp(-1j * late)
    shade = 1 / np.sqrt(1 + (hz / SHADE_HZ) ** 2 * ((1 - np.cos(theta)) / 2) ** 2)
    level_db: NDArray[np.float64] = 20 * np.log10(np.maximum(np.abs(total) * shade, 1e-4))
    return level_db


def impedance(name: str, hz: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Modulus in ohm and phase in degrees."""
    own = BASS[name]
    z = own.ohm + 2j * np.pi * hz * own.millihenry / 1000
    for resonance, height, q in own.peaks:
        z = z + height / (1 + 1j * q * (hz / resonance - resonance / hz))
    return np.abs(z), np.degrees(np.angle(z))


def _piston(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """2·J1(x)/x, the directivity of a flat piston."""
    from scipy.special import j1

    return np.where(x < 1e-6, 1.0, 2 * j1(np.maximum(x, 1e-6)) / np.maximum(x, 1e-6))
