"""Making what will be played: matched passages on disk, measured again from there.

Its files carry names that tell nothing, are equally long in bytes, and bear one time stamp.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from . import match
from .clip import Clip
from .errors import FileError, MeasureError, PassageError
from .files import reading, writing
from .levels.true_peak import true_peak_db
from .levels.weighting import BY, By, channel_levels_db, level_db, levels_db
from .match import PassageMatch, SetupMatch

FADE_S = 0.005  # ITU-R BS.1534-3, 5.3 (as cited in public notes): 5 ms raised-cosine fades at the ends
GOOD_ENOUGH_LU = 0.005  # gains are refined until the residual is below this, at most `MOST_PASSES` times
MOST_PASSES = 3
PEAK_ROOM_DB = 0.001  # kept under the ceiling: dither and rounding move a peak after the gain is chosen
TIME_STAMP = 0  # every prepared file's; the order of writing must not tell setups apart


def prepare(
    passage: str, clips: Mapping[str, Clip], folder: Path, *, by: By = "bs1770", seed: bytes = b""
) -> tuple[PassageMatch, dict[str, Path]]:
    """Match the clips of a passage, write them as 24-bit WAV, read them back and measure what will be played.

    Parameters
    ----------
    clips
        One clip a setup: equally long, same rate, same channels, offsets mended.
    seed
        Names the files, with the passage's and the setup's name, and starts the dither. All setups of a passage get
        the same dither, so that a setup and its twin stay the same to the last bit; different dither would be a
        difference.

    Raises
    ------
    PassageError
        If a setup is silent there, or the passage too short.
    MeasureError
        If the clips do not fit together.
    """
    match.check_clips(passage, clips)
    faded = {name: _faded(clip) for name, clip in clips.items()}
    before = _levels(passage, faded, by)
    peaks = {name: _peak(clip) for name, clip in faded.items()}
    gains = match.gains_db(before, peaks, match.CEILING_DBTP - PEAK_ROOM_DB)
    for _ in range(MOST_PASSES):
        after = _levels(passage, {name: _scaled(clip, gains[name]) for name, clip in faded.items()}, by)
        if match.residual(after) <= GOOD_ENOUGH_LU:
            break
        lowest = min(after.values())
        gains = {name: gains[name] + lowest - after[name] for name in gains}
    paths = _written(passage, faded, gains, folder, seed)
    return _measured(passage, faded, before, gains, paths, by), paths


def prepare_with_gains(
    passage: str, clips: Mapping[str, Clip], gains_db: Mapping[str, float], folder: Path, *, seed: bytes = b""
) -> tuple[dict[str, float], dict[str, Path]]:
    """Write the clips of a passage with gains found elsewhere (at a microphone or voltmeter), as 24-bit WAV.

    All setups are attenuated alike, beyond their gains, as far as the ceiling of true peaks demands. Returns the gains
    applied in dB, that attenuation included, and the files.

    Raises
    ------
    PassageError
        If the passage is silent or too short.
    MeasureError
        If the clips do not fit together.
    """
    match.check_clips(passage, clips)
    faded = {name: _faded(clip) for name, clip in clips.items()}
    for name, clip in faded.items():
        _level(passage, name, clip, "bs1770")
    highest = max(_peak(clip) + gains_db[name] for name, clip in faded.items())
    room_db = min(0.0, match.CEILING_DBTP - PEAK_ROOM_DB - highest)
    applied = {name: gains_db[name] + room_db for name in clips}
    return applied, _written(passage, faded, applied, folder, seed)


def loudness_lufs(path: Path) -> float:
    """The loudness of a prepared file, read back."""
    return _loudness(path.name, path.name, reading.read(path))


def peak_dbtp(path: Path) -> float:
    """The true peak of a prepared file, read back."""
    return _peak(reading.read(path))


def a_level_dbfs(path: Path) -> float:
    """The A-weighted level of a prepared file, the mean of its channels' powers, in dB re full scale."""
    clip = reading.read(path)
    return _level(path.name, path.name, clip, "a") - 10 * float(np.log10(clip.channels))


def rise(rate_hz: int) -> NDArray[np.float64]:
    """The gains of the fade at the beginning of what is prepared; at its end they are the same backwards."""
    length = max(1, round(FADE_S * rate_hz))
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * (np.arange(length) + 0.5) / length))


def dither(seed: bytes) -> int:
    """The seed of the dither that all files of a passage get."""
    return int.from_bytes(hashlib.sha256(b"dither" + seed).digest()[:8], "big")


def stamp(path: Path) -> None:
    """Give a prepared file the time stamp that all of them have.

    Raises
    ------
    FileError
        If the file system does not let it.
    """
    try:
        os.utime(path, (TIME_STAMP, TIME_STAMP))
    except OSError as error:
        raise FileError(f"cannot set the time of {path}: {error.strerror}") from error


def _written(
    passage: str, faded: Mapping[str, Clip], gains_db: Mapping[str, float], folder: Path, seed: bytes
) -> dict[str, Path]:
    """Write what will be played; names follow from the seed, all get the same dither and the same time stamp."""
    paths = {
        name: folder / f"{hashlib.sha256(b'|'.join([seed, passage.encode(), name.encode()])).hexdigest()[:24]}.wav"
        for name in faded
    }
    for name in sorted(paths, key=lambda each: paths[each].name):
        writing.write(paths[name], _scaled(faded[name], gains_db[name]), subtype="PCM_24", seed=dither(seed))
        stamp(paths[name])
    return paths


def _measured(
    passage: str,
    faded: Mapping[str, Clip],
    before: Mapping[str, float],
    gains: Mapping[str, float],
    paths: Mapping[str, Path],
    by: By,
) -> PassageMatch:
    played = {name: reading.read(path) for name, path in paths.items()}
    after = _levels(passage, played, by)
    channels = {name: channel_levels_db(clip, by) for name, clip in played.items()}
    setups = tuple(
        SetupMatch(
            setup=name,
            loudness_lufs=before[name] if by == "bs1770" else _loudness(passage, name, faded[name]),
            gain_db=gains[name],
            after_lufs=after[name] if by == "bs1770" else _loudness(passage, name, played[name]),
            true_peak_dbtp=_peak(played[name]),
            level_db=before[name],
            after_level_db=after[name],
            channel_after_db=channels[name],
        )
        for name in faded
    )
    return PassageMatch(
        passage,
        setups,
        match.residual(after),
        match.channel_residual(channels),
        match.uncertainties_lu(played, by),
        {by: after} | _in_others(played, by),
    )


def _in_others(played: Mapping[str, Clip], by: By) -> dict[By, dict[str, float]]:
    """How loud the setups are in the other measures; a measure in which one of them is silent tells nothing."""
    found = {}
    for other in BY:
        levels = {name: level_db(clip, other) for name, clip in played.items() if other != by}
        known = {name: level for name, level in levels.items() if level is not None}
        if known and len(known) == len(played):
            found[other] = known
    return found


def _levels(passage: str, clips: Mapping[str, Clip], by: By) -> dict[str, float]:
    return {name: _known(passage, name, level) for name, level in levels_db(clips, by).items()}


def _level(passage: str, setup: str, clip: Clip, by: By) -> float:
    return _known(passage, setup, level_db(clip, by))


def _known(passage: str, setup: str, level: float | None) -> float:
    if level is None:
        raise PassageError(
            f"passage {passage!r} is silent (or too quiet to measure) in setup {setup!r}; choose another"
        )
    return level


def _loudness(passage: str, setup: str, clip: Clip) -> float:
    return _level(passage, setup, clip, "bs1770")


def _peak(clip: Clip) -> float:
    peak = true_peak_db(clip.samples, clip.rate_hz)
    if peak is None:
        raise MeasureError("a silent clip has no true peak")  # silence is refused before
    return peak


def _scaled(clip: Clip, gain_db: float) -> Clip:
    return Clip(clip.samples * 10 ** (gain_db / 20), clip.rate_hz, clip.channel_mask)


def _faded(clip: Clip) -> Clip:
    gains = rise(clip.rate_hz)
    samples = clip.samples.copy()
    samples[: gains.size] *= gains[:, None]
    samples[-gains.size :] *= gains[::-1, None]
    return Clip(samples, clip.rate_hz, clip.channel_mask)
