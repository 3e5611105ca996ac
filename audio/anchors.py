"""Anchors: the reference through a low-pass, so that grades have something plainly worse to stand beside.

The masks are those of ITU-R BS.1534-3, 5.1: for the low anchor 3.5 kHz with ±0.1 dB of ripple, at least 25 dB down at
4 kHz and 50 dB at 4.5 kHz. The mid anchor's 7 kHz gets the same mask on twice the frequencies (our choice).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .clip import Clip
from .files import reading, writing

STOP_DB = 60.0
WIDTH = 1 / 7  # of the pass band: from 3.5 to 4 kHz
CEILING = 0.999


def low_pass(rate_hz: int, edge_hz: float) -> NDArray[np.float64]:
    """The filter's impulse response: odd length, symmetric, so that it delays by half its length and no more.

    Parameters
    ----------
    edge_hz
        The end of the pass band.

    Raises
    ------
    ValueError
        If the rate cannot carry the pass band and the slope above it.
    """
    from scipy.signal import firwin, kaiserord

    stop_hz = edge_hz * (1 + WIDTH)
    if stop_hz >= rate_hz / 2:
        raise ValueError(f"a low-pass at {edge_hz:g} Hz needs a rate above {2 * stop_hz:g} Hz; got {rate_hz}")
    taps, beta = kaiserord(STOP_DB, (stop_hz - edge_hz) / (rate_hz / 2))
    return np.asarray(firwin(taps | 1, (edge_hz + stop_hz) / 2, window=("kaiser", beta), fs=rate_hz))


def anchor(clip: Clip, edge_hz: float) -> tuple[Clip, float]:
    """The clip through the low-pass, in place and of its length, and by how many dB it had to be lowered.

    Without the highs a peak can rise above full scale; lowering an anchor a little does not matter, clipping would.
    """
    from scipy.signal import oaconvolve

    response = low_pass(clip.rate_hz, edge_hz)
    samples = np.asarray(oaconvolve(clip.samples, response[:, None], mode="same", axes=0))
    peak = float(np.abs(samples).max(initial=0.0))
    lowered_db = max(0.0, 20 * float(np.log10(max(peak, 1e-12) / CEILING)))
    return Clip(samples * 10 ** (-lowered_db / 20), clip.rate_hz, clip.channel_mask), lowered_db


def write(source: Path, path: Path, edge_hz: float) -> float:
    """Write the anchor of a prepared file beside it, as 24-bit WAV; by how many dB it was lowered."""
    made, lowered_db = anchor(reading.read(source), edge_hz)
    writing.write(path, made, seed=round(edge_hz))
    return lowered_db
