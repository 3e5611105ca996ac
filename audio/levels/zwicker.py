"""Loudness by ISO 532-1 (Zwicker), as a loudness level in phon. Pure; the library is an extra.

The one module that imports mosqito, and only when it is asked. Both methods hear sound pressure: full scale must be
said to play at some level. Channels are heard together, as powers add at the chair. By the method for stationary sounds
the whole clip counts as one steady sound, so that what comes and goes weighs by its power. By that for time-varying
sounds loudness is followed through the clip, with what the ear holds on to after a stroke; the one number of it is N5.

The time-varying method costs some 0.35 s of processor time a second heard (the stationary one 0.01). Most of it is the
library's loop over the decay after a stroke, one step for each 1/48 000 s; so the parts of the library are called here,
and many stretches of the clip go through that loop side by side, each with what comes before it.
"""

from __future__ import annotations

import contextlib
import importlib.util
import io
import shlex
import sys
import warnings
from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..errors import MeasureError
from ..resample import resample

REFERENCE_PA = 2e-5
HIGHEST_HZ = 24_000  # the library asks for a spectrum up to here
RATE_HZ = 48_000  # of the standard's filters (6.3, as the library quotes it)
SHARE = 0.05  # of the time in which N5 is exceeded (ISO 532-1, the clause from memory)
EVERY = 4  # of the library's levels, one every 0.5 ms, one counts: a loudness every 2 ms
STRETCH, BEFORE = 500, 600  # levels of a stretch (0.25 s), and of what comes before it: the longest decay takes 75 ms
TOGETHER = 12  # stretches at once (some 200 MB); of twice as many a second heard costs a fifth less
LACKING = (
    "loudness by ISO 532-1 needs a library that is not installed; install earwitness anew with its extra 'loudness', "
    "in its source folder: into the environment that it runs in by {python} -m pip install '.[loudness]'; or, where "
    "pipx made that, by pipx install --force '.[loudness]'"
)


def is_installed() -> bool:
    """Whether the library is there; it is not loaded for that."""
    return importlib.util.find_spec("mosqito") is not None


def check_installed() -> None:
    """Nothing, if the library is there.

    Raises
    ------
    MeasureError
        If it is not.
    """
    with _library():
        pass


def loudness_sone(clips: Sequence[Clip], full_scale_spl_db: float) -> list[float]:
    """The stationary loudness of each clip in sone, in a free field; 0 for silence.

    Parameters
    ----------
    full_scale_spl_db
        The level at the chair, dB SPL, of one channel with an RMS of full scale (1).

    Raises
    ------
    MeasureError
        If the library is not installed.
    """
    power = np.column_stack([_power(clip) for clip in clips])
    pressure = REFERENCE_PA * 10 ** (full_scale_spl_db / 20) * np.sqrt(power)
    hz = np.arange(HIGHEST_HZ + 1, dtype=np.float64)
    with _library():
        from mosqito.sq_metrics.loudness.loudness_zwst.loudness_zwst_freq import loudness_zwst_freq

        sone = np.ravel(loudness_zwst_freq(pressure, hz)[0])
    return [float(own) if heard > 0 else 0.0 for own, heard in zip(sone, power.sum(axis=0), strict=True)]


def levels_phon(clips: Sequence[Clip], full_scale_spl_db: float) -> list[float | None]:
    """The stationary loudness level of each clip, in phon; None where nothing of it is loud enough to be heard.

    The parameters and what is raised are those of `loudness_sone`.
    """
    return [phon(sone) if sone > 0 else None for sone in loudness_sone(clips, full_scale_spl_db)]


def courses_sone(clips: Sequence[Clip], full_scale_spl_db: float) -> list[NDArray[np.float64]]:
    """The time-varying loudness of each clip in sone, every 2 ms from its start, in a free field; shape (times,).

    Before a clip all is silent. Full scale is that of `loudness_sone`, and so is what is raised.
    """
    scale = REFERENCE_PA * 10 ** (full_scale_spl_db / 20)
    with _library():
        from mosqito.sq_metrics.loudness.loudness_zwst._calc_slopes import _calc_slopes
        from mosqito.sq_metrics.loudness.loudness_zwst._main_loudness import _main_loudness
        from mosqito.sq_metrics.loudness.loudness_zwtv._nonlinear_decay import _nl_loudness
        from mosqito.sq_metrics.loudness.loudness_zwtv._temporal_weighting import _temporal_weighting
        from mosqito.sq_metrics.loudness.loudness_zwtv._third_octave_levels import _third_octave_levels

        cores = []
        for clip in clips:
            sound = resample(clip, RATE_HZ).samples * scale
            powers = sum(10 ** (_third_octave_levels(channel, RATE_HZ)[0] / 10) for channel in sound.T)
            cores.append(_main_loudness(10 * np.log10(powers), "free"))
        loudness = [_calc_slopes(core)[0] for core in _decayed(cores, _nl_loudness)]
        return [np.asarray(_temporal_weighting(own)[::EVERY], dtype=np.float64) for own in loudness]


def n5_phon(clips: Sequence[Clip], full_scale_spl_db: float) -> list[float | None]:
    """N5 of each clip, the loudness that it exceeds in 5 % of the time, in phon; None where it is not heard so long.

    ISO 532-1 reports N5 of a time-varying sound, as what people call its loudness lies near it (both from memory).
    """
    sone = [float(np.percentile(own, 100 * (1 - SHARE))) for own in courses_sone(clips, full_scale_spl_db)]
    return [phon(own) if own > 0 else None for own in sone]


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


def _decayed(
    cores: Sequence[NDArray[np.float64]], decay: Callable[[NDArray[np.float64]], NDArray[np.float64]]
) -> list[NDArray[np.float64]]:
    """Core loudness, each of shape (bands, times), with its decay; the library's function knows nothing across rows."""
    stretches: list[NDArray[np.float64]] = []
    for core in cores:
        padded = np.pad(core, ((0, 0), (BEFORE, STRETCH)))
        stretches += [padded[:, start : start + BEFORE + STRETCH] for start in range(0, core.shape[1], STRETCH)]
    parts: list[NDArray[np.float64]] = []
    for first in range(0, len(stretches), TOGETHER):
        chosen = stretches[first : first + TOGETHER]
        rows = decay(np.concatenate(chosen))
        parts += [own[:, BEFORE:] for own in rows.reshape(len(chosen), chosen[0].shape[0], -1)]
    found, place = [], 0
    for core in cores:
        count = -(-core.shape[1] // STRETCH)
        found.append(np.concatenate(parts[place : place + count], axis=1)[:, : core.shape[1]])
        place += count
    return found


@contextlib.contextmanager
def _library() -> Iterator[None]:
    """What is imported from the library inside is there, or said to lack; what it has to say otherwise is not told."""
    with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):  # it prints
        warnings.simplefilter("ignore")
        try:
            import mosqito  # noqa: F401

            yield
        except ImportError as error:
            raise MeasureError(LACKING.format(python=shlex.quote(sys.executable or "python3"))) from error
