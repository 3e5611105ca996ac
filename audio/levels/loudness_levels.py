"""Loudness by ISO 532-1 as a difference in decibels: what a gain must make good. Pure.

A decibel more is not a phon more: of music at 75 dB SPL it is 0.90 to 0.96 phon (measured on the demo tracks, by both
methods), and not the same for every sound. So each sound is turned up or down until it is as loud as the first. By the
method for steady sounds that costs little; N5 is then worked out once, of sounds that are nearly equal already (what
is left was 0.06 phon at most where N5 and steady loudness differ by half a phon). The gain depends on the level played,
too: by 0.05 dB in 3 dB for noise behind a bass cut, by 0.2 dB for drums.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from . import zwicker
from .weighting import By, full_scale_spl_db, is_n5

STEP_DB = 1.0  # up and down from the level played, over which a decibel's worth is read
GOOD_ENOUGH_PHON = 0.01  # the library rounds to 0.001 or 0.01 sone, which is some 0.005 phon where it is most
MOST_PASSES = 5


def levels_db(clips: Mapping[str, Clip], by: By) -> dict[str, float] | None:
    """How loud clips are by one of the methods of ISO 532-1, told in dB from the first on, whose own is in phon.

    None where one of them is not heard, or so faint that loudness does not follow its level.

    Raises
    ------
    ValueError
        If the measure is another one.
    MeasureError
        If the library is not installed.
    """
    spl_db = full_scale_spl_db(by)
    if spl_db is None:
        raise ValueError(f"loudness by ISO 532-1 is meant, with the level of full scale; got {by!r}")
    names, sounds = list(clips), list(clips.values())
    a_decibel = _a_decibel(sounds, spl_db)
    if a_decibel is None:
        return None
    gains, phons = np.zeros(len(sounds)), _phons(sounds, np.zeros(len(sounds)), spl_db, n5=False)
    for _ in range(MOST_PASSES):
        if phons is None:
            return None
        gains += (phons[0] - phons) / a_decibel
        if np.ptp(phons) <= GOOD_ENOUGH_PHON:
            break
        phons = _phons(sounds, gains, spl_db, n5=False)
    if is_n5(by):
        phons = _phons(sounds, gains, spl_db, n5=True)
        if phons is None:
            return None
        gains += (phons[0] - phons) / a_decibel
    assert phons is not None
    return {name: float(phons[0] - gain) for name, gain in zip(names, gains, strict=True)}


def _a_decibel(sounds: Sequence[Clip], spl_db: float) -> float | None:
    """What a decibel more gives the sounds in phon, their mean; None where that cannot be read."""
    steps = [_phons(sounds, np.full(len(sounds), step), spl_db, n5=False) for step in (-STEP_DB, STEP_DB)]
    if steps[0] is None or steps[1] is None:
        return None
    found = float(np.mean(steps[1] - steps[0])) / (2 * STEP_DB)
    return found if found > 0 else None


def _phons(
    sounds: Sequence[Clip], gains_db: NDArray[np.float64], spl_db: float, *, n5: bool
) -> NDArray[np.float64] | None:
    """The loudness level of each sound with its gain; None where one is not heard."""
    played = [
        Clip(sound.samples * 10 ** (gain / 20), sound.rate_hz) for sound, gain in zip(sounds, gains_db, strict=True)
    ]
    found = (zwicker.n5_phon if n5 else zwicker.levels_phon)(played, spl_db)
    known = [phon for phon in found if phon is not None]
    return np.array(known) if len(known) == len(sounds) else None
