"""How much more one setup gives than another in a band, against what they share: what a word could be about.

A word names no level but a balance, so the level that both share is taken off: that of the half of the range in which
their difference is most alike. A shelf in the treble, however gentle, so tells nothing of the bass (a median of the
range, or a match by loudness, would follow it); where two halves are as alike, as in a tilt, the middle of them is
taken. Octaves count alike, of what is valid in both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audio.curves.curve import Curve, log_grid
from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from . import curve_records
from .conditions import ON_AXIS
from .curve_comparison import CurveComparison
from .curve_records import CurveRecord
from .frequency_response import response_of, shown
from .repeats import repeats_of

REST_HZ = (100.0, 10_000.0)  # the range against which a band is judged; our choice
WIDE_SHARE = 0.4  # of the range: so wide a band is judged against the others alone, or it would be its own measure
ALIKE_POWER = 8  # how fast halves of the range that are less alike lose their say; our choice
ALIKE_WITHIN_DB = 0.1  # halves that scatter less are as alike as any: nothing so small is heard
LEAST_VALID = 0.5  # of a band, and of the rest, in octaves; our choice
LEAST_REST_OCTAVES = 1.0  # outside of the band, so that there is something to set it against; our choice
REST = (
    f"The rest of the range: {REST_HZ[0]:g} to {REST_HZ[1]:g} Hz, as far as it was measured validly of both; of it the "
    "mean over that half in which the difference of the two changes least. A word's own band counts in it, unless it "
    f"takes up {100 * WIDE_SHARE:g} % of that range or more."
)
CONFIDENCE = 0.95
PER_OCTAVE = 24


@dataclass(frozen=True)
class BandEffect:
    """The mean difference in a band less the level that both share, dB, first setup less second.

    Attributes
    ----------
    low_hz, high_hz
        The band, as far as both curves are valid in it.
    expanded_db
        Half of its 95 % interval, by how far repeats of both setups scatter; None without repeats of both.
    repeats
        Over how many curves of each setup it is the mean.
    """

    low_hz: float
    high_hz: float
    db: float
    expanded_db: float | None
    repeats: tuple[int, int] = (1, 1)


@dataclass(frozen=True)
class BandEffects:
    """Two setups' curves at one level, with their repeats, ready to be asked for any band."""

    first: tuple[Curve, ...]
    second: tuple[Curve, ...]

    def of(self, low_hz: float, high_hz: float, *, as_laid: bool = False) -> BandEffect | None:
        """The effect in a band; None where less than half of it, or too little of the rest, is valid in both.

        The first curve of each setup is the one that is judged; where there are repeats the effect is that of their
        means, with its interval by Welch and Satterthwaite.

        Parameters
        ----------
        as_laid
            Nothing that both share is taken off: the mean difference of the curves at the level that they have here.
        """
        if self.lacking(low_hz, high_hz):
            return None
        band, rest = self._points(low_hz, high_hz)
        hz = np.concatenate([band, _measure(rest, low_hz, high_hz)])
        first, second = (
            np.array([curve.at(hz) for curve in curves if _covers(curve, hz)]) for curves in (self.first, self.second)
        )
        means = first.mean(axis=0), second.mean(axis=0)

        def effect_db(difference_db: NDArray[np.float64]) -> float:
            return float(np.mean(difference_db[: len(band)])) if as_laid else _effect_db(difference_db, len(band))

        expanded_db = _expanded_db(
            [effect_db(read - means[1]) for read in first], [effect_db(means[0] - read) for read in second]
        )
        found_db = effect_db(means[0] - means[1])
        return BandEffect(float(band[0]), float(band[-1]), found_db, expanded_db, (len(first), len(second)))

    @property
    def shared_db(self) -> float | None:
        """What the judged curves share: the zero of every band but the widest, dB; None where too little is valid."""
        _, every = self._points(*REST_HZ)
        if len(every) < LEAST_REST_OCTAVES * PER_OCTAVE:
            return None
        return _shared_db(self.first[0].at(every) - self.second[0].at(every))

    def lacking(self, low_hz: float, high_hz: float) -> str:
        """Why there is no effect in a band, in words; empty where there is one."""
        band, every = self._points(low_hz, high_hz)
        rest = _outside(every, low_hz, high_hz)
        if len(band) < LEAST_VALID * np.log2(high_hz / low_hz) * PER_OCTAVE:
            return f"{low_hz:g} to {high_hz:g} Hz was not measured validly of both"
        least = LEAST_REST_OCTAVES * PER_OCTAVE
        if len(_outside(log_grid(*REST_HZ, PER_OCTAVE), low_hz, high_hz)) < least:
            return f"too little of the range is left beside {low_hz:g} to {high_hz:g} Hz to compare with"
        if len(rest) < least:
            return f"beside {low_hz:g} to {high_hz:g} Hz too little was measured validly of both to compare with"
        return ""

    def _points(self, low_hz: float, high_hz: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The points of the band and those of the range that are valid in the curves that are judged."""
        judged = (self.first[0], self.second[0])
        return _grid(judged, low_hz, high_hz), _grid(judged, *REST_HZ)


def band_effects(
    casebook: Casebook, setups: Sequence[Setup], compared: CurveComparison, *, as_measured: bool = False
) -> BandEffects:
    """The two curves of a comparison with the repeats of each, in the comparison's own order of setups.

    They stand at the comparison's one level, or with the levels that were measured.
    """
    named = {setup.name: setup for setup in setups}
    sides = []
    for name, record in zip(compared.names, compared.records, strict=True):
        among = curve_records.in_direction(casebook, named[name], ON_AXIS)
        others = [one for one in repeats_of(record, among) if one.id != record.id]
        sides.append(tuple(_shown([record, *others], compared.smoothing, None if as_measured else compared.band_hz)))
    return BandEffects(sides[0], sides[1])


def effect_of_lift_db(centre_hz: int, lift_db: float, octaves: float, low_hz: float, high_hz: float) -> float:
    """The effect, in a band, of a bell-shaped change of `lift_db` at its centre, read as that of curves is, dB.

    >>> round(effect_of_lift_db(1000, 6.0, 1.0, 707, 1414), 1)
    4.5

    So of 6 dB at the centre of an octave 4.5 dB stand on average in that octave above what both share.
    """
    from audio.known_difference import peaking

    band, every = log_grid(low_hz, high_hz, PER_OCTAVE), log_grid(*REST_HZ, PER_OCTAVE)
    hz = np.concatenate([band, _measure(every, low_hz, high_hz)])
    response = peaking(hz, centre_hz, lift_db, octaves)
    return _effect_db(np.asarray(20 * np.log10(np.abs(response))), len(band))


def valid_at(curve: Curve, hz: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of some frequencies lie in a curve's valid parts."""
    inside: list[NDArray[np.bool_]] = [
        (hz >= low * (1 - 1e-9)) & (hz <= high * (1 + 1e-9)) for low, high in curve.parts
    ]
    valid: NDArray[np.bool_] = np.any(np.array(inside), axis=0)
    return valid


def _expanded_db(one: Sequence[float], other: Sequence[float]) -> float | None:
    """Half of the interval of the difference of two means, dB; None where one of them has no repeat.

    Each reading of one side is an effect against the mean of the other, so that what both share is taken as it is.
    """
    if min(len(one), len(other)) < 2:
        return None
    from scipy.special import stdtrit  # only where there are repeats: it takes longer to load than all the rest here

    means = [(float(np.var(read, ddof=1)) / len(read), len(read) - 1) for read in (one, other)]
    total = sum(variance for variance, _ in means)
    if total == 0:
        return 0.0
    freedom = total**2 / sum(variance**2 / degrees for variance, degrees in means)
    return float(stdtrit(freedom, (1 + CONFIDENCE) / 2) * np.sqrt(total))


def _shown(records: Sequence[CurveRecord], smoothing: float, band_hz: tuple[float, float] | None) -> list[Curve]:
    curves = []
    for place, record in enumerate(records):
        try:
            curves.append(shown(response_of(record), smoothing, band_hz))
        except MeasureError:  # narrower than the one that is judged: it tells nothing here
            if place == 0:
                raise
    return curves


def _grid(curves: Sequence[Curve], low_hz: float, high_hz: float) -> NDArray[np.float64]:
    """Points in a band where all curves are valid, equally many in each octave."""
    hz = log_grid(low_hz, high_hz, PER_OCTAVE)
    return hz[np.all([valid_at(curve, hz) for curve in curves], axis=0)]


def _outside(hz: NDArray[np.float64], low_hz: float, high_hz: float) -> NDArray[np.float64]:
    return hz[(hz < low_hz) | (hz > high_hz)]


def _measure(hz: NDArray[np.float64], low_hz: float, high_hz: float) -> NDArray[np.float64]:
    """Of the range, what a band is judged against: all of it, or what lies outside of a wide band."""
    others = _outside(hz, low_hz, high_hz)
    return others if len(hz) - len(others) >= WIDE_SHARE * len(hz) else hz


def _covers(curve: Curve, hz: NDArray[np.float64]) -> bool:
    return bool(np.all(valid_at(curve, hz)))


def _effect_db(difference_db: NDArray[np.float64], in_band: int) -> float:
    """The effect in the points of the band, which come first, against the level shared by all others."""
    return float(np.mean(difference_db[:in_band])) - _shared_db(difference_db[in_band:])


def _shared_db(difference_db: NDArray[np.float64]) -> float:
    """The mean of the half in which a difference is most alike, halves that are nearly so having nearly as much say."""
    rising = np.sort(difference_db)
    half = -(-len(rising) // 2)
    first = np.arange(len(rising) - half + 1)
    scatter = rising[first + half - 1] - rising[first] + ALIKE_WITHIN_DB
    sums = np.concatenate([[0.0], np.cumsum(rising)])
    means = (sums[first + half] - sums[first]) / half
    return float(np.average(means, weights=(scatter.min() / scatter) ** ALIKE_POWER))
