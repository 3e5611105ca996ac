"""What plays where somebody finds how high their ears reach on a chain: one short tone, or none. Pure.

Decided here, and why:

- No tone is above -20 dBFS: twenty decibels stay free, so that nothing between the samples clips and a tweeter that
  plays music loudly is never asked for more by a tone. What is not heard can be loud all the same; so the limit is one
  of the file, whatever is heard.
- Each tone lasts half a second and rises and falls over a tenth of one (raised cosine): what a ramp spreads to other
  frequencies lies 90 dB and more below the tone from 150 Hz beside it on. A click would be heard by who hears no tone.
- A tone never lies above 0.45 of the sample rate, where converters' filters begin.
- Silence holds the same dither as the tones do: that of 16 bits (TPDF, -98 dBFS). So a device that rounds to 16 bits
  makes no harmonics of the tone, folded down to where they are heard, and one that mutes itself in digital silence
  does not tell which presentation is the empty one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .room.tones import tone

HIGHEST_DBFS = -20.0
LEAD_S, TONE_S, RAMP_S, TAIL_S = 0.25, 0.5, 0.1, 0.25
LENGTH_S = LEAD_S + TONE_S + TAIL_S
TONE_OVER_S = LEAD_S + TONE_S
MOST_OF_RATE = 0.45
DITHER_BITS = 16
DITHER_SEED = 16  # the same noise in all that is played, whenever it is made


def presentation(
    freq_hz: float | None, level_dbfs: float, rate_hz: int, *, channels: int = 1, only: int | None = None
) -> NDArray[np.float32]:
    """A second that holds one tone, or none: shape (frames, channels), float32.

    Parameters
    ----------
    freq_hz
        None: no tone.
    level_dbfs
        The tone's peak, in dB re full scale; a sine of full scale has 0.
    only
        The channel (from 0) that alone holds the tone; None: all of them.

    Raises
    ------
    ValueError
        If the tone would be above -20 dBFS, or above 0.45 of the rate.
    """
    made = np.repeat(_dither(rate_hz), channels, axis=1)
    if freq_hz is not None:
        if level_dbfs > HIGHEST_DBFS:
            raise ValueError(f"no tone above {HIGHEST_DBFS:g} dBFS is made; got {level_dbfs:g}")
        if freq_hz > MOST_OF_RATE * rate_hz:
            raise ValueError(f"no tone above {MOST_OF_RATE:g} of the rate is made; got {freq_hz:g} of {rate_hz} Hz")
        start, sound = round(LEAD_S * rate_hz), tone(freq_hz, level_dbfs, TONE_S, rate_hz, ramp_s=RAMP_S)
        where = slice(None) if only is None else slice(only, only + 1)
        made[start : start + len(sound), where] += sound
    return made.astype(np.float32)


def presentations(
    tones_hz: Sequence[float], level_dbfs: float, rate_hz: int, *, channels: int = 1, only: int | None = None
) -> NDArray[np.float32]:
    """The empty one and one of each tone: shape (1 + tones, frames, channels); parameters as of `presentation`."""
    every = (None, *tones_hz)
    return np.stack([presentation(one, level_dbfs, rate_hz, channels=channels, only=only) for one in every])


def _dither(rate_hz: int) -> NDArray[np.float64]:
    """Triangular noise of ±1 step of 16 bits, shape (frames, 1)."""
    draws = np.random.Generator(np.random.PCG64(DITHER_SEED)).random((round(LENGTH_S * rate_hz), 2))
    return np.asarray((draws[:, :1] - draws[:, 1:]) * 2.0 ** (1 - DITHER_BITS))
