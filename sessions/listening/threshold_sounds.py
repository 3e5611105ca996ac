"""What plays in a run for a threshold: a passage through a setup, or pink noise, as it is and with each difference."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import log2, sqrt
from typing import TYPE_CHECKING

from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..casebook.threshold_rows import Kind, Sought
from ..errors import CatalogueError, ListenError
from ..plans.drafting import LEAST_LIFT_HZ, MOST_LIFT_HZ
from ..preparation import match_files, mends, passage_audio, track_alignment
from . import free_sounds

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from audio.clip import Clip
    from audio.known_difference import Difference
    from audio.levels.weighting import By

# In equal ratios of about the square root of two, as far as known differences of plans go; our choice.
BAND_DB = (0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 12.0)
LEVEL_DB = (0.1, 0.14, 0.2, 0.28, 0.4, 0.56, 0.8, 1.1, 1.6, 2.2, 3.0)
# Three presentations: whoever listens need not know how the change sounds, only which one is the other. Trials take
# some 10 s, so that a run lasts five to ten minutes; our choice.
ALTERNATIVES, PROPORTION, LEVEL, WIDTH, FEWEST, MOST = 3, 2 / 3, 0.95, 2.5, 18, 48
SHORTEST_S, LONGEST_S = 1.0, 30.0  # all sizes of it are held at once, 13 times its length
NOISE_S, NOISE_HZ, NOISE_DBFS = 4.0, 48_000, -26.0
NOISE = "pink noise"


@dataclass(frozen=True)
class Band:
    """Where something is changed: around which frequency, how wide, and whether there is less of it."""

    centre_hz: int
    octaves: float
    less: bool = False


@dataclass(frozen=True, eq=False)
class ThresholdSounds:
    """All that is played: float32, shape (1 + sizes, frames, channels), the unchanged one first; and what is sought."""

    sounds: NDArray[np.float32]
    sought: Sought
    heard_at = 0  # any of it tells
    from_start = False


def band_between(low_hz: float, high_hz: float, *, less: bool) -> Band:
    """The band between two frequencies."""
    return Band(round(sqrt(low_hz * high_hz)), log2(high_hz / low_hz), less)


PlayedAt = Callable[[int], int]
"""Gives the rate, in Hz, at which something of a rate is played."""


def as_it_is(rate_hz: int) -> int:
    """The rate itself."""
    return rate_hz


def of_passage(
    casebook: Casebook,
    setup: Setup,
    passage: Passage,
    band: Band | None,
    device: str,
    level_dba: float | None,
    played_at: PlayedAt = as_it_is,
) -> ThresholdSounds:
    """A passage through a setup, ready to be played; without a band all of it is made louder.

    At another rate than its own all sizes are made of what was resampled once.

    Raises
    ------
    CatalogueError
        If the setup lacks the track, or is gear that was not matched or stands behind an outside switch.
    ListenError
        If the passage or the band does not fit, or the passage holds too little there for anyone to notice.
    """
    clip, chair_dba = clip_of(casebook, setup, passage, played_at)
    by = match_files.measure_last_used(casebook, [setup.id])
    return _ready(clip, passage.name, band, by, device, chair_dba if level_dba is None else level_dba)


def largest_change_db(sounds: NDArray[np.float32], rate_hz: int, level_dba: float | None) -> float:
    """What the last of some sounds changes in the ear against the first, where it changes most, in dB."""
    from audio.clip import Clip
    from audio.excitation_change import change_db

    unchanged, largest = (Clip(sounds[place].astype("float64"), rate_hz) for place in (0, -1))
    return change_db(unchanged, largest, level_dba)


def clip_of(
    casebook: Casebook, setup: Setup, passage: Passage, played_at: PlayedAt = as_it_is
) -> tuple[Clip, float | None]:
    """A passage through a setup at the rate at which it is played, and how loud it is at the chair.

    Raises
    ------
    CatalogueError, ListenError
        As for `of_passage`.
    """
    if setup.chain is not None and setup.chain.switch is not None:
        raise CatalogueError(
            f"{setup.name!r} stands behind an outside switch; a threshold is found on recordings, or on gear with a "
            "route of its own"
        )
    length_s = passage.frames / passage.rate_hz
    if not SHORTEST_S <= length_s <= LONGEST_S:
        raise ListenError(
            f"passage {passage.name!r} lasts {length_s:.1f} s; a threshold needs one of {SHORTEST_S:g} to "
            f"{LONGEST_S:g} s, best of 4 to 10"
        )
    clip, chair_dba = _clip(casebook, setup, passage)
    return _at(clip, played_at), chair_dba


def of_noise(
    band: Band | None, device: str, level_dba: float | None, played_at: PlayedAt = as_it_is
) -> ThresholdSounds:  # fmt: skip
    """Pink noise, the same each time, ready to be played.

    Raises
    ------
    ListenError
        If the band does not fit.
    """
    from audio.clip import Clip
    from audio.room import noise

    made = noise.pink(noise.FULL_HZ, round(NOISE_S * NOISE_HZ), NOISE_HZ, "threshold")
    clip = Clip((made.samples * 10 ** (NOISE_DBFS / 20))[:, None], NOISE_HZ)
    return _ready(_at(_rounded_off(clip), played_at), "", band, "bs1770", device, level_dba)


def _at(clip: Clip, played_at: PlayedAt) -> Clip:
    """The same at the rate at which it is played."""
    from audio.resample import resample

    return resample(clip, played_at(clip.rate_hz))


def _clip(casebook: Casebook, setup: Setup, passage: Passage) -> tuple[Clip, float | None]:
    """The passage as its match sheet prepared it, or else as it was recorded; and how loud it is at the chair."""
    import numpy as np

    from audio.clip import Clip

    stretch = free_sounds.of_passage(casebook, passage)
    there = free_sounds.of_sheet(casebook, (setup,), stretch)
    if there is not None:
        return Clip(there.sounds[0].astype(np.float64), there.rate_hz), there.chair_dba
    if setup.is_real:
        raise CatalogueError(
            f"{setup.name!r} is gear, and passage {passage.name!r} was not matched for it yet: earwitness match mic, "
            "or match volts"
        )
    track_alignment.ensure(casebook, [passage.track_id])
    sources = passage_audio.sources_of(casebook, (setup,), passage.track_id)
    clips = passage_audio.cut(sources, passage, mends.in_force(casebook, (setup,), passage))
    return _rounded_off(clips[setup.name]), None


def _rounded_off(clip: Clip) -> Clip:
    """The same, with the fades of prepared audio at its ends, so that its end makes no click."""
    from audio import prepare

    samples, rise = clip.samples.copy(), prepare.rise(clip.rate_hz)[:, None]
    samples[: len(rise)] *= rise
    samples[-len(rise) :] *= rise[::-1]
    return replace(clip, samples=samples)


def _ready(
    clip: Clip, passage: str, band: Band | None, by: By, device: str, level_dba: float | None
) -> ThresholdSounds:
    from audio.difference_steps import difference_steps
    from audio.excitation_change import JUST_NOTICED_DB

    sizes_db = LEVEL_DB if band is None else BAND_DB
    try:
        made = difference_steps(clip, _differences(band, sizes_db), by)
    except ValueError as error:
        raise ListenError(f"{passage or NOISE} at {clip.rate_hz} Hz: {error}") from error
    changes_db = largest_change_db(made.sounds, clip.rate_hz, level_dba)
    if changes_db < JUST_NOTICED_DB:
        where = "passage " + repr(passage) if passage else NOISE
        what = "at all" if band is None else f"around {band.centre_hz} Hz"
        raise ListenError(
            f"{where} holds too little {what}: its largest change, {sizes_db[-1]:g} dB, would be one of "
            f"{changes_db:.2f} dB in the ear, and nobody notices less than about {JUST_NOTICED_DB:g} dB; choose "
            "another passage, or --noise"
        )
    sought = Sought(
        kind=_kind(band),
        centre_hz=None if band is None else band.centre_hz,
        octaves=None if band is None else round(band.octaves, 4),
        sizes_db=sizes_db,
        alternatives=ALTERNATIVES,
        proportion=round(PROPORTION, 4),
        level=LEVEL,
        width=WIDTH,
        fewest=FEWEST,
        most=MOST,
        passage=passage,
        length_ms=round(1000 * clip.length_s),
        rate_hz=clip.rate_hz,
        sha256=hashlib.sha256(clip.samples.tobytes()).hexdigest(),
        by=by,
        gain_db=round(made.gain_db, 2),
        device=device,
        level_dba=level_dba,
        changes_db=round(changes_db, 1),
    )
    return ThresholdSounds(made.sounds, sought)


def _kind(band: Band | None) -> Kind:
    return "level" if band is None else "cut" if band.less else "lift"


def _differences(band: Band | None, sizes_db: Sequence[float]) -> list[Difference]:
    from audio.known_difference import Lift, Step

    if band is None:
        return [Step(size_db) for size_db in sizes_db]
    if not LEAST_LIFT_HZ <= band.centre_hz <= MOST_LIFT_HZ:
        raise ListenError(
            f"a band around {band.centre_hz} Hz is beyond what music holds and people hear; give "
            f"{LEAST_LIFT_HZ} to {MOST_LIFT_HZ} Hz"
        )
    sign = -1 if band.less else 1
    return [Lift(band.centre_hz, sign * size_db, band.octaves) for size_db in sizes_db]
