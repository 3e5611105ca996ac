"""A curve: level (and phase) against frequency, with the band in which it is valid. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from ..errors import MeasureError
from . import gaps
from .band_power import BandPower

Numbers = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curve:
    """A frequency response.

    Attributes
    ----------
    hz
        Frequencies in Hz, rising, shape (n,), n ≥ 2.
    level_db
        Level in dB, shape (n,).
    phase_deg
        Phase in degrees, shape (n,); None where it was not measured.
    valid_hz
        The band in which the curve can be relied on.
    gaps_hz
        Where nothing was measured within it, from and to, each: the curve cannot be relied on there.

    Raises
    ------
    MeasureError
        If the shapes differ, frequencies do not rise or are not above 0, or something is not a number.
    """

    hz: Numbers
    level_db: Numbers
    phase_deg: Numbers | None = None
    valid_hz: tuple[float, float] = (0.0, inf)
    gaps_hz: gaps.Bands = ()

    def __post_init__(self) -> None:
        if self.hz.ndim != 1 or len(self.hz) < 2 or self.hz.shape != self.level_db.shape:
            raise MeasureError(f"a curve needs at least two frequencies and a level for each; got {self.hz.shape}")
        if self.phase_deg is not None and self.phase_deg.shape != self.hz.shape:
            raise MeasureError("a curve with phase needs one for every frequency")
        if self.hz[0] <= 0 or not (np.diff(self.hz) > 0).all():
            raise MeasureError("the frequencies of a curve must be above 0 and rise")
        if not np.isfinite(self.hz).all() or not np.isfinite(self.level_db).all():
            raise MeasureError("a curve holds something that is not a number")

    @property
    def band(self) -> tuple[float, float]:
        """Where the curve has both data and validity."""
        return max(float(self.hz[0]), self.valid_hz[0]), min(float(self.hz[-1]), self.valid_hz[1])

    def at(self, hz: Numbers) -> Numbers:
        """The level at other frequencies, on a logarithmic scale; not-a-number outside the data."""
        level = np.interp(np.log(hz), np.log(self.hz), self.level_db)
        return np.where((hz < self.hz[0] * (1 - 1e-9)) | (hz > self.hz[-1] * (1 + 1e-9)), np.nan, level)

    def valid(self) -> NDArray[np.bool_]:
        """Which points are valid."""
        return (self.hz >= self.valid_hz[0]) & (self.hz <= self.valid_hz[1]) & ~gaps.inside(self.hz, self.gaps_hz)

    @property
    def is_few(self) -> bool:
        """Whether it is but a handful of points, with nothing known between them."""
        return bool(self.gaps_hz) and len(self.gaps_hz) == len(self.hz) - 1

    @property
    def lacks(self) -> str:
        """Its gaps in words; of a handful of points, how few these are."""
        return gaps.few_in_words(self.hz) if self.is_few else gaps.in_words(self.gaps_hz)

    @property
    def parts(self) -> list[tuple[float, float]]:
        """The band without its gaps: one part, or one on each side of every gap, Hz."""
        low, high = self.band
        ends = [low, *(end for gap in gaps.joined(self.gaps_hz) for end in gap), high]
        cut = [(max(start, low), min(end, high)) for start, end in zip(ends[::2], ends[1::2], strict=True)]
        return [(start, end) for start, end in cut if start < end]

    def shifted(self, db: float) -> Curve:
        """The same at another level."""
        return replace(self, level_db=self.level_db + db)


def log_grid(low_hz: float = 20.0, high_hz: float = 20_000.0, per_octave: int = 48) -> Numbers:
    """Frequencies evenly spaced on a logarithmic scale, both ends included where they fall on it."""
    steps = int(np.floor(np.log2(high_hz / low_hz) * per_octave + 1e-9))
    return low_hz * 2 ** (np.arange(steps + 1) / per_octave)


def mean_level(curve: Curve, low_hz: float, high_hz: float) -> float:
    """The power mean over a band, every octave weighted equally; of all that was measured there.

    Raises
    ------
    MeasureError
        If the curve is not valid over the whole band, or has a gap in it.
    """
    low, high = curve.band
    if low_hz < low * 0.999 or high_hz > high * 1.001:
        raise MeasureError(
            f"the band {low_hz:g} to {high_hz:g} Hz lies beyond what was measured ({low:.0f} to {high:.0f} Hz); choose "
            "a narrower one"
        )
    over = tuple(gap for gap in curve.gaps_hz if gap[0] < high_hz * 0.999 and gap[1] > low_hz * 1.001)
    if curve.is_few:
        raise MeasureError(curve.lacks)
    if over:
        raise MeasureError(f"{gaps.in_words(over)}, which lies in the band {low_hz:g} to {high_hz:g} Hz")
    ends = np.log2(np.clip([[low_hz], [high_hz]], curve.hz[0], curve.hz[-1]))
    return float(10 * np.log10(BandPower.of(curve.hz, curve.level_db).mean(*ends)[0]))


def normalised(curve: Curve, low_hz: float, high_hz: float) -> Curve:
    """The curve with its mean over a band at 0 dB."""
    return curve.shifted(-mean_level(curve, low_hz, high_hz))


def difference(one: Curve, other: Curve, hz: Numbers | None = None) -> Curve:
    """One curve less the other, where both have data, valid where both are.

    Parameters
    ----------
    hz
        Where it is read; None: evenly along log f.
    """
    low, high = max(one.hz[0], other.hz[0]), min(one.hz[-1], other.hz[-1])
    if low >= high:
        raise MeasureError("the two curves share no frequency; measure them over one band")
    hz = log_grid(low, high) if hz is None else hz[(hz >= low) & (hz <= high)]
    valid = max(one.valid_hz[0], other.valid_hz[0]), min(one.valid_hz[1], other.valid_hz[1])
    return Curve(hz, one.at(hz) - other.at(hz), None, valid, gaps.joined(one.gaps_hz, other.gaps_hz))


def farthest(values: Numbers, among: NDArray[np.bool_]) -> int:
    """The place of the value that lies farthest from 0, on either side, among some of them; the first if none is."""
    return int(np.argmax(np.where(among, np.abs(values), -1.0)))


def power_mean(curves: list[Curve], weights: Numbers | None = None) -> Curve:
    """The mean of curves as powers, on the first one's frequencies that all of them reach; valid where all are.

    Raises
    ------
    MeasureError
        If there are none, or they share too little.
    """
    if not curves:
        raise MeasureError("a mean needs at least one curve")
    low, high = max(float(curve.hz[0]) for curve in curves), min(float(curve.hz[-1]) for curve in curves)
    hz = curves[0].hz[(curves[0].hz >= low) & (curves[0].hz <= high)]
    if len(hz) < 2:
        raise MeasureError("the curves to be averaged share too little; measure all of them over one band")
    levels = np.array([curve.at(hz) for curve in curves])
    share = np.ones(len(curves)) if weights is None else np.asarray(weights, float)
    power = (10 ** (levels / 10) * share[:, None]).sum(axis=0) / share.sum()
    valid = max(curve.valid_hz[0] for curve in curves), min(curve.valid_hz[1] for curve in curves)
    return Curve(hz, 10 * np.log10(power), None, valid, gaps.joined(*(curve.gaps_hz for curve in curves)))
