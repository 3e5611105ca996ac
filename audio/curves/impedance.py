"""Impedance: its minimum, the rating it supports, and how hard it is on an amplifier. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..errors import MeasureError
from . import gaps
from .curve import Numbers

RATINGS_OHM = (2, 3, 4, 5, 6, 8, 12, 16)
USUAL_OHM = (4, 6, 8)  # the ratings that loudspeakers are sold by
SHARE = 0.8  # IEC 60268-5: no impedance in the rated band below 80 % of the rated one
AUDIBLE_HZ = (20.0, 20_000.0)
END = 1.05  # a band is covered if its ends are, to this factor


@dataclass(frozen=True)
class Impedance:
    """What an impedance curve comes to.

    Attributes
    ----------
    supports_ohm
        The highest rating of `RATINGS_OHM` whose 80 % the minimum reaches; None if it reaches none, or if not all that
        can be heard was measured, so that it may be lower elsewhere.
    usual_ohm
        The same of the ratings that loudspeakers are sold by: 4, 6 and 8 ohm.
    hardest_ohm, hardest_hz
        The least equivalent peak dissipation resistance: the resistor that would heat an ideal class B output stage as
        much at its worst moment. None without phase.
    unmeasured
        What of the audible band was not measured, in words; empty where all of it was.
    """

    minimum_ohm: float
    minimum_hz: float
    phase_at_minimum_deg: float | None
    supports_ohm: int | None
    largest_phase_deg: float | None
    largest_phase_hz: float | None
    hardest_ohm: float | None
    hardest_hz: float | None
    usual_ohm: int | None = None
    unmeasured: str = ""


def read_impedance(hz: Numbers, ohm: Numbers, phase_deg: Numbers | None = None) -> Impedance:
    """The minimum in the audible band, the rating it supports, and the hardest spot.

    Raises
    ------
    MeasureError
        If something is not above 0 ohm, or nothing lies in the audible band.

    Examples
    --------
    >>> found = read_impedance(np.geomspace(20, 20_000, 31), np.array([6.0] * 7 + [4.5] + [9.0] * 23))
    >>> found.minimum_ohm, round(found.minimum_hz), found.supports_ohm, found.usual_ohm
    (4.5, 100, 5, 4)

    So a minimum of 4.5 ohm supports a rating of 5 ohm, and of the usual ones 4, not 6 (which asks for 4.8) or 8.
    """
    inside = (hz >= AUDIBLE_HZ[0]) & (hz <= AUDIBLE_HZ[1])
    if not inside.any():
        raise MeasureError("no impedance lies between 20 Hz and 20 kHz")
    if not np.isfinite(ohm).all() or float(ohm.min()) <= 0:
        raise MeasureError("an impedance is above 0 ohm everywhere; check the columns")
    f, z = hz[inside], ohm[inside]
    at = int(np.argmin(z))
    lacking = _unmeasured(hz)
    ratings = () if lacking else RATINGS_OHM
    supported = [rating for rating in ratings if SHARE * rating <= z[at] * (1 + 1e-9)]
    usual = [rating for rating in supported if rating in USUAL_OHM]
    phase = None if phase_deg is None else phase_deg[inside]
    steep = None if phase is None else int(np.argmax(np.abs(phase)))
    hard = None if phase is None else z * np.array([dissipation_share(float(p)) for p in phase])
    worst = None if hard is None else int(np.argmin(hard))
    return Impedance(
        minimum_ohm=float(z[at]),
        minimum_hz=float(f[at]),
        phase_at_minimum_deg=None if phase is None else float(phase[at]),
        supports_ohm=max(supported) if supported else None,
        largest_phase_deg=None if phase is None or steep is None else float(phase[steep]),
        largest_phase_hz=None if steep is None else float(f[steep]),
        hardest_ohm=None if hard is None or worst is None else float(hard[worst]),
        hardest_hz=None if worst is None else float(f[worst]),
        usual_ohm=max(usual) if usual else None,
        unmeasured=lacking,
    )


def _unmeasured(hz: Numbers) -> str:
    low, high = float(hz[0]), float(hz[-1])
    if len(hz) < 2 or low > AUDIBLE_HZ[0] * END or high < AUDIBLE_HZ[1] / END:
        return f"measured from {low:.0f} to {high:.0f} Hz only"
    if gaps.is_sparse(hz):
        return f"measured at {len(hz)} points only"
    there = tuple(gap for gap in gaps.gaps_of(hz) if gap[0] < AUDIBLE_HZ[1] and gap[1] > AUDIBLE_HZ[0])
    return gaps.in_words(there) if there else ""


def dissipation_share(phase_deg: float) -> float:
    """The equivalent peak dissipation resistance as a share of the impedance's modulus.

    An ideal class B stage between rails of ±1 drives a·sin θ; a device's loss is its current times the voltage left
    across it. Its worst moment, over all θ and all levels a up to the rails, is compared with a resistor's (¼).

    >>> round(dissipation_share(0), 3), round(dissipation_share(45), 3), round(dissipation_share(90), 3)
    (1.0, 0.354, 0.192)

    So a load of 45 degrees heats the stage like a resistor of about a third of its modulus.
    """
    return _share(round(abs(phase_deg), 1))


@lru_cache(maxsize=4096)
def _share(phase_deg: float) -> float:
    theta = np.linspace(0, 2 * np.pi, 1441)
    levels = np.linspace(0.02, 1, 99)
    voltage, current = np.sin(theta), np.sin(theta - np.radians(phase_deg))
    # at each moment a·current·(1 − a·voltage) is a parabola of the level a: highest at the level nearest to its vertex
    vertex = 1 / (2 * np.maximum(voltage, 0.5))
    level = levels[np.rint((vertex - levels[0]) / (levels[1] - levels[0])).astype(np.int64)]
    loss = np.where(current > 0, level * current * (1 - level * voltage), 0)
    return float(0.25 / loss.max())
