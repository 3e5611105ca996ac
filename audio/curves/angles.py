"""Sets of curves by angle: listening window, early reflections, sound power and indices by ANSI/CTA-2034-A. Pure.

Angles and weights are those of the standard as its readers quote them (from memory; the weights agree to nine decimals
with the areas of square pyramids around each direction). Where the angles measured do not suffice a curve is left out,
and what lacks is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import asin, pi, radians, sin

import numpy as np

from ..errors import MeasureError
from .curve import Curve, difference, power_mean

Angle = tuple[str, float]
"""Plane and degrees: positive to the right and up, -180 … 180."""

ON_AXIS = ("horizontal", 0)
LISTENING_WINDOW: tuple[Angle, ...] = (
    ON_AXIS,
    *(("vertical", a) for a in (-10, 10)),
    *(("horizontal", a) for a in (-30, -20, -10, 10, 20, 30)),
)
REFLECTIONS: dict[str, tuple[Angle, ...]] = {
    "floor": tuple(("vertical", a) for a in (-20, -30, -40)),
    "ceiling": tuple(("vertical", a) for a in (40, 50, 60)),
    "front": tuple(("horizontal", a) for a in (-30, -20, -10, 0, 10, 20, 30)),
    "side": tuple(("horizontal", sign * a) for a in (40, 50, 60, 70, 80) for sign in (-1, 1)),
    "rear": (("horizontal", 180), ("horizontal", 90), ("horizontal", -90)),
}
SHARES = {"listening window": 0.12, "early reflections": 0.44, "sound power": 0.44}  # of the in-room estimate


@dataclass(frozen=True)
class Directivity:
    """What a set of angles gives: curves by name, and what could not be made and why."""

    curves: Mapping[str, Curve]
    lacking: Mapping[str, str] = field(default_factory=dict)


def weight(angle: float) -> float:
    """A direction's share of the sphere, of one of the 70 on two circles in steps of 10 degrees.

    >>> round(weight(0), 9), round(weight(-90), 9), round(weight(130), 9)
    (0.000604486, 0.019629373, 0.016868154)
    """
    bent = min(abs(angle), 180 - abs(angle))
    if bent == 0:
        return asin(sin(radians(5)) ** 2) / (4 * pi)
    outer, inner = (asin(sin(radians(bent + d)) ** 2) for d in (5, -5))
    if bent == 90:
        outer = pi - inner  # past the equator the pyramid of the other side is met
    return (outer - inner) / (4 * pi)


def completed(curves: Mapping[Angle, Curve], *, mirror: bool = False) -> dict[Angle, Curve]:
    """The set with what is the same direction filled in: 0 and 180 degrees of both planes, −180 as 180.

    Parameters
    ----------
    mirror
        Take missing horizontal angles from the other side, for a loudspeaker that is symmetric left and right.
    """
    made: dict[Angle, Curve] = {}
    for (plane, angle), curve in curves.items():
        made[plane, 180 if angle == -180 else angle] = curve
    for angle in (0, 180):
        for one, other in (("horizontal", "vertical"), ("vertical", "horizontal")):
            if (one, angle) in made:
                made.setdefault((other, angle), made[one, angle])
    if mirror:
        for (plane, angle), curve in list(made.items()):
            if plane == "horizontal" and 0 < abs(angle) < 180:
                made.setdefault((plane, -angle), curve)
    return made


def averages_of(known: Iterable[Angle], *, mirror: bool = False) -> int:
    """How many of listening window, early reflections and sound power follow from these directions."""
    there = completed(dict.fromkeys(known, Curve(np.array([1.0, 2.0]), np.zeros(2))), mirror=mirror)
    early = {angle for own in REFLECTIONS.values() for angle in own}
    return sum(set(needed) <= set(there) for needed in (LISTENING_WINDOW, early, _every_direction()))


def directivity(curves: Mapping[Angle, Curve], *, mirror: bool = False) -> Directivity:
    """Every curve that the angles allow.

    Listening window, the five reflections and their mean (a power average of the five), sound power (weighted over both
    circles, the weights divided by their sum), the two directivity indices (listening window less early reflections,
    less sound power), and the estimated in-room response: 12, 44 and 44 % of listening window, early reflections and
    sound power, averaged as powers (the standard's text leaves open whether as powers or in dB; stated with the curve).

    Raises
    ------
    MeasureError
        If there is no curve on axis.
    """
    known = completed(curves, mirror=mirror)
    if ON_AXIS not in known:
        raise MeasureError("a set of angles needs the curve on axis (0 degrees)")
    made: dict[str, Curve] = {"on axis": known[ON_AXIS]}
    lacking: dict[str, str] = {}
    _mean(made, lacking, "listening window", known, LISTENING_WINDOW)
    for name, angles in REFLECTIONS.items():
        _mean(made, lacking, name, known, angles)
    parts = [made[name] for name in REFLECTIONS if name in made]
    if len(parts) == len(REFLECTIONS):
        made["early reflections"] = power_mean(parts)
    else:
        lacking["early reflections"] = "needs " + ", ".join(name for name in REFLECTIONS if name not in made)
    _sound_power(made, lacking, known)
    for name, other in (("early reflections DI", "early reflections"), ("sound power DI", "sound power")):
        if "listening window" in made and other in made:
            made[name] = difference(made["listening window"], made[other])
        else:
            lacking[name] = f"needs listening window and {other}"
    if all(name in made for name in SHARES):
        made["in-room estimate"] = power_mean([made[name] for name in SHARES], np.array([*SHARES.values()]))
    else:
        lacking["in-room estimate"] = "needs " + ", ".join(name for name in SHARES if name not in made)
    return Directivity(made, lacking)


@dataclass(frozen=True)
class Balance:
    """How one curve's balance follows another's over a band in Hz.

    `slope_db_per_octave` is of the straight line against log f that fits their difference (first less second) best,
    `departure_db` the standard deviation from that line over the logarithmic frequency scale: a directivity that rises
    evenly costs nothing there, steps and holes do. `widest_db` is the difference farthest from that at the low end, at
    `widest_hz`: the slope included.
    """

    slope_db_per_octave: float
    departure_db: float
    widest_db: float
    widest_hz: float
    low_hz: float
    high_hz: float


def consistency(one: Curve, other: Curve, low_hz: float = 300.0, high_hz: float = 10_000.0) -> Balance:
    """How far the reflected sound (`one`) keeps the direct sound's balance.

    Raises
    ------
    MeasureError
        If too little of that band was measured.
    """
    apart = difference(one, other)
    inside = (apart.hz >= low_hz) & (apart.hz <= high_hz) & apart.valid()
    if inside.sum() < 8:
        raise MeasureError(f"too little is measured between {low_hz:g} and {high_hz:g} Hz to compare two balances")
    places, level = np.log2(apart.hz[inside]), apart.level_db[inside]
    line = np.polyfit(places, level, 1)
    left, change = level - np.polyval(line, places), level - level[0]
    widest, hz = int(np.argmax(np.abs(change))), apart.hz[inside]
    return Balance(
        slope_db_per_octave=float(line[0]),
        departure_db=float(left.std()),
        widest_db=float(change[widest]),
        widest_hz=float(hz[widest]),
        low_hz=float(hz[0]),
        high_hz=float(hz[-1]),
    )


def _mean(
    made: dict[str, Curve], lacking: dict[str, str], name: str, known: Mapping[Angle, Curve], angles: Sequence[Angle]
) -> None:
    missing = [angle for angle in angles if angle not in known]
    if missing:
        lacking[name] = "needs " + _named(missing)
    else:
        made[name] = power_mean([known[angle] for angle in angles])


def _sound_power(made: dict[str, Curve], lacking: dict[str, str], known: Mapping[Angle, Curve]) -> None:
    every = _every_direction()
    missing = [angle for angle in every if angle not in known]
    if missing:
        lacking["sound power"] = "needs " + _named(missing)
        return
    weights = np.array([weight(angle) for _, angle in every])
    made["sound power"] = power_mean([known[angle] for angle in every], weights)


def _every_direction() -> list[Angle]:
    """The 70 directions of the sound power; the averages over some of them need no others."""
    return [
        *(("horizontal", a) for a in range(-170, 181, 10)),
        *(("vertical", a) for a in range(-170, 171, 10) if a),
    ]


def _named(angles: Sequence[Angle]) -> str:
    """Missing angles in words, a few of them."""
    listed = ", ".join(f"{plane} {angle}°" for plane, angle in angles[:4])
    return listed + (f" and {len(angles) - 4} more" if len(angles) > 4 else "")
