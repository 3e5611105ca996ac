"""Loudness by ISO 532-1 (Zwicker, stationary sounds), as a loudness level in phon. Pure; the library is an extra.

The one module that imports mosqito, and only when it is asked. The method hears sound pressure: full scale must be
said to play at some level. Channels are heard together, as powers add at the chair; the whole clip counts as one steady
sound, so that what comes and goes weighs by its power.
"""

from __future__ import annotations

import contextlib
import io
import shlex
import sys
import warnings
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..errors import MeasureError

REFERENCE_PA = 2e-5
HIGHEST_HZ = 24_000  # the library asks for a spectrum up to here
LACKING = (
    "loudness by ISO 532-1 needs a library that is not installed; install earwitness anew with its extra 'loudness', "
    "in its source folder: into the environment that it runs in by {python} -m pip install '.[loudness]'; or, where "
    "pipx made that, by pipx install --force '.[loudness]'"
)


def check_installed() -> None:
    """Nothing, if the library is there.

    Raises
    ------
    MeasureError
        If it is not.
    """
    _library()


def loudness_sone(clips: Sequence[Clip], full_scale_spl_db: float) -> list[float]:
    """The loudness of each clip in sone, in a free field; 0 for silence.

    Parameters
    ----------
    full_scale_spl_db
        The level at the chair, dB SPL, of one channel with an RMS of full scale (1).

    Raises
    ------
    MeasureError
        If the library is not installed.
    """
    calculate = _library()
    power = np.column_stack([_power(clip) for clip in clips])
    pressure = REFERENCE_PA * 10 ** (full_scale_spl_db / 20) * np.sqrt(power)
    hz = np.arange(HIGHEST_HZ + 1, dtype=np.float64)
    with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):  # it prints what it has to say
        warnings.simplefilter("ignore")
        sone = np.ravel(calculate(pressure, hz)[0])
    return [float(own) if heard > 0 else 0.0 for own, heard in zip(sone, power.sum(axis=0), strict=True)]


def levels_phon(clips: Sequence[Clip], full_scale_spl_db: float) -> list[float | None]:
    """The loudness level of each clip, in phon; None where nothing of it is loud enough to be heard.

    The parameters and what is raised are those of `loudness_sone`.
    """
    return [phon(sone) if sone > 0 else None for sone in loudness_sone(clips, full_scale_spl_db)]


def phon(sone: float) -> float:
    """The loudness level of a loudness: 40 + 10 log2 N from 1 sone on, below it 40 (N + 0.0005)^0.35.

    ISO 532-1 (the clause from memory).

    >>> phon(1.0), phon(4.0), round(phon(0.126), 1)
    (40.0, 60.0, 19.4)

    So each doubling of loudness is 10 phon.
    """
    return 40 + 10 * float(np.log2(sone)) if sone >= 1 else 40 * (sone + 0.0005) ** 0.35


def _power(clip: Clip) -> NDArray[np.float64]:
    """The mean square of all channels nearest to each whole hertz from 0 to 24 kHz; shape (24001,)."""
    power = np.sum(np.square(np.abs(np.fft.rfft(clip.samples, axis=0))), axis=1) / clip.frames**2
    power[1:] *= 2
    if clip.frames % 2 == 0:
        power[-1] /= 2
    nearest = np.rint(np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz)).astype(int)
    return np.asarray(np.bincount(nearest, power, minlength=HIGHEST_HZ + 1)[: HIGHEST_HZ + 1], dtype=np.float64)


def _library() -> Callable[..., Any]:
    """The function that works stationary loudness out of a spectrum."""
    try:
        from mosqito.sq_metrics.loudness.loudness_zwst.loudness_zwst_freq import loudness_zwst_freq
    except ImportError as error:
        raise MeasureError(LACKING.format(python=shlex.quote(sys.executable or "python3"))) from error
    calculate: Callable[..., Any] = loudness_zwst_freq
    return calculate
