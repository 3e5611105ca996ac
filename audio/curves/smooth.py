"""Fractional-octave smoothing: the power mean over a rectangle on the logarithmic frequency scale. Pure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import MeasureError
from .band_power import BandPower
from .curve import Curve, Numbers


def smoothed(curve: Curve, fraction: float, hz: Numbers | None = None) -> Curve:
    """The curve smoothed to 1/fraction octave.

    At each frequency f the mean of the power from f·2^(−1/2n) to f·2^(1/2n) over log f, so that every octave counts
    alike and the total power is kept; near the ends of the data, and of a gap, the window is cut on both sides alike.
    Phase is dropped: a smoothed magnitude has none of its own.

    Parameters
    ----------
    fraction
        n of 1/n octave, from 1 to 96.
    hz
        Where the smoothed curve is read, within the data; None: at the curve's own frequencies. Every point of the
        curve counts, however far apart these lie: what is read at few frequencies first and smoothed after holds
        whatever a notch or a peak of the room made of these.

    Raises
    ------
    MeasureError
        If the fraction is out of range.
    """
    if not 1 <= fraction <= 96:
        raise MeasureError(f"smoothing is from 1/1 to 1/96 octave; got 1/{fraction:g}")
    held = BandPower.of(curve.hz, curve.level_db)
    at = curve.hz if hz is None else hz
    places = np.log2(at)
    half = np.minimum(1 / (2 * fraction), np.minimum(places - held.places[0], held.places[-1] - places))
    for low, high in np.log2(np.asarray(curve.gaps_hz)).reshape(-1, 2):  # what lies across it was not measured
        half = np.where(places <= low, np.minimum(half, low - places), half)
        half = np.where(places >= high, np.minimum(half, places - high), half)
    wide = half > 1e-9
    mean = held.at(places)
    mean[wide] = held.mean(places[wide] - half[wide], places[wide] + half[wide])
    return replace(curve, hz=at, level_db=10 * np.log10(np.maximum(mean, 1e-30)), phase_deg=None)
