"""Fractional-octave smoothing: the power mean over a rectangle on the logarithmic frequency scale. Pure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import MeasureError
from .curve import Curve


def smoothed(curve: Curve, fraction: float) -> Curve:
    """The curve smoothed to 1/fraction octave.

    At each frequency f the mean of the power from f·2^(−1/2n) to f·2^(1/2n) over log f, so that every octave counts
    alike and the total power is kept; near the ends of the data the window is cut on both sides alike. Phase is
    dropped: a smoothed magnitude has none of its own.

    Parameters
    ----------
    fraction
        n of 1/n octave, from 1 to 96.

    Raises
    ------
    MeasureError
        If the fraction is out of range.
    """
    if not 1 <= fraction <= 96:
        raise MeasureError(f"smoothing is from 1/1 to 1/96 octave; got 1/{fraction:g}")
    places, power = np.log2(curve.hz), 10 ** (curve.level_db / 10)
    # the integral of the power, exact for the straight lines between the points
    steps = np.diff(places)
    total = np.concatenate([[0.0], np.cumsum(steps * (power[:-1] + power[1:]) / 2)])

    def integral(at: np.ndarray) -> np.ndarray:
        left = np.clip(np.searchsorted(places, at, side="right") - 1, 0, len(places) - 2)
        share = at - places[left]
        slope = (power[left + 1] - power[left]) / steps[left]
        return np.asarray(total[left] + share * (power[left] + slope * share / 2))

    half = np.minimum(1 / (2 * fraction), np.minimum(places - places[0], places[-1] - places))
    wide = half > 1e-9
    mean = power.copy()
    mean[wide] = (integral(places[wide] + half[wide]) - integral(places[wide] - half[wide])) / (2 * half[wide])
    return replace(curve, level_db=10 * np.log10(np.maximum(mean, 1e-30)), phase_deg=None)
