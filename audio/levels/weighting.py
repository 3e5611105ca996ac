"""How loud a clip is, in the measure chosen: BS.1770 or ISO 532-1 loudness, A- or C-weighted level, that of a band.

Pure. The A and C curves are applied to the clip's spectrum by their defining formula (IEC 61672-1), so there is no
filter whose top octave bends as a bilinear transform's does; the price is that the whole clip is weighed at once.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip, Samples

By = str  # one of `BY`, or one of `ISO_532` `at` some level
BY: tuple[By, ...] = ("bs1770", "a", "c", "band")
ZWICKER, N5 = "zwicker", "zwicker-n5"  # loudness by ISO 532-1: of steady sounds, and N5 of those that come and go
ISO_532 = (ZWICKER, N5)
BAND_HZ = (500.0, 2000.0)  # EBU Tech 3343: pink noise 500 to 2000 Hz sets the listening level
# IEC 61672-1 pole frequencies in Hz (values from memory; the standard's Table 3 is reproduced by them, see the tests)
F1, F2, F3, F4 = 20.598997, 107.65265, 737.86223, 12194.217
SILENCE_DB = -120.0  # below this a clip is silence: under the least significant bit of 20-bit samples
SHORTEST_BLOCK_S = 0.4


def level_db(clip: Clip, by: By) -> float | None:
    """The clip's level in the chosen measure; None for silence.

    ``bs1770`` is the gated loudness in LUFS, ``zwicker@SPL`` the loudness level in phon, ``zwicker-n5@SPL`` that which
    is exceeded in 5 % of the time (its cost: `levels.zwicker`); the others are the energy of all channels together over
    the whole clip, in dB, where a full-scale sine in one channel reads −3.01 dB before weighting.

    Raises
    ------
    ValueError
        If the measure is unknown.
    """
    if by == "bs1770":
        from .loudness import integrated_lufs

        level = integrated_lufs(clip)
        return level if level is not None and level > SILENCE_DB else None
    spl_db = full_scale_spl_db(by)
    if spl_db is not None:
        from .zwicker import levels_phon, n5_phon

        return (n5_phon if is_n5(by) else levels_phon)([clip], spl_db)[0]
    return _decibels(float(np.sum(_spectral_power(clip, by))))


def levels_db(clips: Mapping[str, Clip], by: By) -> dict[str, float | None]:
    """The level of each clip in the chosen measure, as `level_db`; N5 of several costs less than of each alone."""
    spl_db = full_scale_spl_db(by)
    if spl_db is not None and is_n5(by):
        from .zwicker import n5_phon

        return dict(zip(clips, n5_phon(list(clips.values()), spl_db), strict=True))
    return {name: level_db(clip, by) for name, clip in clips.items()}


def at(method: str, full_scale_spl: int) -> By:
    """The measure that is loudness by one of `ISO_532`, an RMS of full scale taken to play at so many dB SPL.

    >>> at(ZWICKER, 98), at(N5, 98)
    ('zwicker@98', 'zwicker-n5@98')
    """
    return f"{method}@{full_scale_spl}"


def full_scale_spl_db(by: By) -> float | None:
    """Of loudness by ISO 532-1, at which dB SPL full scale is taken to play; None for other measures."""
    name, stated, level = by.partition("@")
    return float(level) if name in ISO_532 and stated and level.lstrip("-").isdigit() else None


def is_n5(by: By) -> bool:
    """Whether it is N5 of the loudness by ISO 532-1 for time-varying sounds, at some level."""
    return by.partition("@")[0] == N5


def is_measure(by: str) -> bool:
    """Whether it is a measure of clips."""
    return by in BY or full_scale_spl_db(by) is not None


def channel_levels_db(clip: Clip, by: By) -> tuple[float | None, ...]:
    """Each channel's level on its own, in the chosen measure (for ``bs1770`` its loudness as a single channel).

    By N5 it is that of a steady sound: what it is there for, which channel is louder where, is told so at a fraction of
    the cost.
    """
    by = _steady(by)
    return tuple(level_db(Clip(clip.samples[:, [place]], clip.rate_hz), by) for place in range(clip.channels))


def block_levels_db(clip: Clip, by: By, block_s: float = SHORTEST_BLOCK_S) -> NDArray[np.float64]:
    """The weighted level of each whole block of `block_s` seconds, ungated, in dB; shape (blocks,).

    By N5 each block counts as a steady sound.
    """
    length = round(block_s * clip.rate_hz)
    spl_db = full_scale_spl_db(by)
    if spl_db is not None:
        return _blocks_phon(clip, spl_db, length)
    weighted = _weighted(clip, by)
    count = clip.frames // length
    blocks = weighted[: count * length].reshape(count, length, clip.channels)
    power = np.sum(np.mean(np.square(blocks), axis=1), axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 10 ** (SILENCE_DB / 10))))


def a_weight_db(freq_hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """The A-weighting curve in dB, 0 at 1 kHz (IEC 61672-1, Annex E); −inf at 0 Hz."""
    return _curve_db(np.asarray(freq_hz, dtype=np.float64), _a_gain)


def c_weight_db(freq_hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """The C-weighting curve in dB, 0 at 1 kHz (IEC 61672-1, Annex E); −inf at 0 Hz."""
    return _curve_db(np.asarray(freq_hz, dtype=np.float64), _c_gain)


def third_octave_bands(rate_hz: int) -> NDArray[np.float64]:
    """The exact midband frequencies 1000·10^(n/10) Hz from 20 Hz up to 20 kHz whose band fits below half the rate.

    Source: IEC 61260-1, base ten; nominal 20 Hz is 19.953 Hz.
    """
    midbands = 1000.0 * 10.0 ** (np.arange(-17, 14) / 10)
    return midbands[midbands * 10**0.05 <= rate_hz / 2]


def _steady(by: By) -> By:
    return ZWICKER + by.removeprefix(N5) if is_n5(by) else by


def _blocks_phon(clip: Clip, full_scale_spl: float, length: int) -> NDArray[np.float64]:
    from .zwicker import levels_phon

    starts = range(0, clip.frames - length + 1, length)
    blocks = [Clip(clip.samples[start : start + length], clip.rate_hz) for start in starts]
    levels = levels_phon(blocks, full_scale_spl)
    return np.array([SILENCE_DB if level is None else level for level in levels])


def _spectral_power(clip: Clip, by: By) -> NDArray[np.float64]:
    freqs, power = _power_spectrum(clip)
    return power * np.square(_gain(freqs, by))[:, None]


def _power_spectrum(clip: Clip) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Frequencies (bins,) and mean-square power per bin and channel (bins, channels); its sum is the mean square."""
    spectrum = np.fft.rfft(clip.samples, axis=0)
    power = np.square(np.abs(spectrum)) / clip.frames**2
    power[1:] *= 2
    if clip.frames % 2 == 0:
        power[-1] /= 2
    return np.asarray(np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz), dtype=np.float64), power


def _weighted(clip: Clip, by: By) -> Samples:
    """The clip as the measure hears it, sample for sample."""
    if by == "bs1770":
        from .k_weighting import weighted

        # the constant of BS.1770's formula keeps a 997 Hz tone at its own level
        return weighted(clip.samples, clip.rate_hz) * 10 ** (-0.691 / 20)
    gain = _gain(np.asarray(np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz), dtype=np.float64), by)
    return np.fft.irfft(np.fft.rfft(clip.samples, axis=0) * gain[:, None], clip.frames, axis=0)


def _gain(freqs: NDArray[np.float64], by: By) -> NDArray[np.float64]:
    if by == "a":
        return _a_gain(freqs) / _a_gain(np.asarray(1000.0))
    if by == "c":
        return _c_gain(freqs) / _c_gain(np.asarray(1000.0))
    if by == "band":
        return ((freqs >= BAND_HZ[0]) & (freqs <= BAND_HZ[1])).astype(np.float64)
    raise ValueError(f"the measure is one of {', '.join(BY)}; got {by!r}")


def _a_gain(freqs: NDArray[np.float64]) -> NDArray[np.float64]:
    square = np.square(freqs)
    return _c_gain(freqs) * square / np.sqrt((square + F2**2) * (square + F3**2))


def _c_gain(freqs: NDArray[np.float64]) -> NDArray[np.float64]:
    square = np.square(freqs)
    return F4**2 * square / ((square + F1**2) * (square + F4**2))


def _curve_db(freqs: NDArray[np.float64], gain: object) -> NDArray[np.float64]:
    assert callable(gain)
    with np.errstate(divide="ignore"):
        return np.asarray(20 * np.log10(gain(freqs) / gain(np.asarray(1000.0))))


def _decibels(power: float) -> float | None:
    return 10 * float(np.log10(power)) if power > 10 ** (SILENCE_DB / 10) else None
