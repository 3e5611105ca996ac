"""How much each of many setups gives in each octave, against what is typical of all of them: one table. Pure.

Typical is the mean of their curves. As where two are set side by side (`band_effect`), a band is judged against what
most of the range has, so that no levels are compared. Of each setup that curve is taken which was measured most like
the others'.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from audio.curves import gaps
from audio.curves.curve import Curve, log_grid
from audio.errors import MeasureError

from .band_effect import PER_OCTAVE, BandEffects
from .curve_records import CurveRecord
from .frequency_response import LOWEST_HZ, SMOOTHING, response_of, shown
from .most_alike import differing, how_in_words, most_alike
from .repeats import repeats_of

# the midband frequencies by which IEC 61260-1 names octaves, and its exact ones, of base ten (from memory)
OCTAVES = {
    name: 1000 * 10 ** (0.3 * step)
    for step, name in enumerate(
        ("63 Hz", "125 Hz", "250 Hz", "500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz", "16 kHz"), -4
    )
}
HALF = 10**0.15
NEEDED_HZ = (500.0, 8000.0)  # a curve that is not valid here is left out rather than an octave; our choice
LEAST_APART_DB = 1e-6  # of a band in which all are the same nothing can be learnt
NARROW = f"its curve is not valid from {NEEDED_HZ[0]:g} to {NEEDED_HZ[1]:g} Hz"
NO_RESPONSE = "no response on axis that stands for all of it (not for one side, driver or place) was measured"


@dataclass(frozen=True)
class UnitBands:
    """Setups by octaves.

    Attributes
    ----------
    bands
        The octaves that were measured validly of all, by their names; `edges_hz` from where to where, each.
    units
        The identifiers of the setups, in their order.
    levels_db
        For each of them its mean in each band less that of the typical one, against what most of the range has.
    left_out
        Setups that cannot be among them, and why.
    otherwise
        How many of them were measured otherwise than the most, and what differs.
    """

    bands: tuple[str, ...]
    edges_hz: tuple[tuple[float, float], ...]
    units: tuple[str, ...]
    levels_db: tuple[tuple[float, ...], ...]
    left_out: tuple[tuple[str, str], ...]
    otherwise: tuple[int, tuple[str, ...]]


def unit_bands(measured: Iterable[tuple[str, Sequence[CurveRecord]]]) -> UnitBands:
    """The table, from the responses on axis of each setup by its identifier, the newest last."""
    given = [(unit, list(records)) for unit, records in measured]
    left_out = [(unit, NO_RESPONSE) for unit, records in given if not records]
    like = _most_usual([records for _, records in given if records])
    read: dict[str, tuple[Curve, ...]] = {}
    apart = list[tuple[str, ...]]()
    for unit, records in given:
        if not records or like is None:
            continue
        taken = most_alike([like], records)[1]
        curves = _curves([taken, *(one for one in repeats_of(taken, records) if one.id != taken.id)])
        if not curves or not _covers(curves[0]):
            left_out.append((unit, NARROW))
            continue
        read[unit] = curves
        apart.append(differing(taken, like))
    names, levels = _levels(list(read.values()))
    return UnitBands(
        names,
        tuple((OCTAVES[name] / HALF, OCTAVES[name] * HALF) for name in names),
        tuple(read),
        levels,
        tuple(left_out),
        (sum(map(bool, apart)), tuple(dict.fromkeys(chain.from_iterable(apart)))),
    )


def _levels(units: Sequence[tuple[Curve, ...]]) -> tuple[tuple[str, ...], tuple[tuple[float, ...], ...]]:
    """The octaves of which all units tell, and each unit's levels in them."""
    if not units:
        return (), ()
    typical = _mean([curves[0] for curves in units])
    every = [BandEffects(curves, (typical,)) for curves in units]
    found = {}
    for name, middle in OCTAVES.items():
        effects = [one.of(middle / HALF, middle * HALF) for one in every]
        told = [effect.db for effect in effects if effect is not None]
        if len(told) == len(units) and np.ptp(told) > LEAST_APART_DB:
            found[name] = told
    return tuple(found), tuple(zip(*found.values(), strict=True)) if found else tuple(() for _ in units)


def _mean(curves: Sequence[Curve]) -> Curve:
    """The mean level of curves, where all are valid."""
    low, high = max(max(curve.band[0] for curve in curves), LOWEST_HZ), min(curve.band[1] for curve in curves)
    hz = np.append(log_grid(low, high, 2 * PER_OCTAVE), high)
    hz = hz[np.append(True, np.diff(hz) > 1e-9 * high)]
    level = np.mean([curve.at(hz) for curve in curves], axis=0)
    return Curve(hz, level, None, (low, high), gaps.joined(*(curve.gaps_hz for curve in curves)))


def _most_usual(units: Sequence[Sequence[CurveRecord]]) -> CurveRecord | None:
    """The newest curve that was measured in the way in which most units were."""
    ways = Counter(way for records in units for way in {_way(one) for one in records})
    if not ways:
        return None
    usual = ways.most_common(1)[0][0]
    return max((one for records in units for one in records if _way(one) == usual), key=lambda one: one.at)


def _way(record: CurveRecord) -> tuple[str, ...]:
    return tuple(how_in_words(record.conditions).values())


def _curves(records: Sequence[CurveRecord]) -> tuple[Curve, ...]:
    curves = []
    for record in records:
        try:
            curves.append(shown(response_of(record), SMOOTHING))
        except MeasureError:  # too narrow to be smoothed
            continue
    return tuple(curves)


def _covers(curve: Curve) -> bool:
    return any(low <= NEEDED_HZ[0] and high >= NEEDED_HZ[1] for low, high in curve.parts)
