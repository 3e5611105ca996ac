"""From what a microphone read of setups to their trims and what is left, in the meaning of equal asked for. Pure.

A weighting adds up powers (`audio.room.trims`); ISO 532-1 hears the recorded noise itself
(`audio.room.chair_loudness`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from audio.errors import MeasureError
from audio.levels.loudness_levels import levels_db
from audio.levels.weighting import ISO_532, ZWICKER, By, at, is_n5
from audio.room import chair_loudness, level, trims
from audio.room.microphone import Calibration

from .loudness_meanings import iso_532_at
from .match_evidence import ChairLoudness
from .microphone_pass import MicrophoneWish

Progress = Callable[[str], None]
UNHEARD = (
    "the noise is too faint at the chair for loudness by ISO 532-1: turn it up with care, state a higher "
    "--chair-level, or match by a weighting"
)


@dataclass(frozen=True)
class Before:
    """What was read before the trims.

    Attributes
    ----------
    by
        The measure: a weighting, or a method of ISO 532-1 with the level of the microphone's full scale.
    full_scale_spl
        That level, taken or known; None where nothing hears it.
    levels_db
        In that measure; by ISO 532-1 in phon.
    """

    by: By
    full_scale_spl: int | None
    levels_db: Mapping[str, float]
    gains_db: Mapping[str, float]
    loudness: ChairLoudness | None


@dataclass(frozen=True)
class After:
    """What was read with the trims: in the measure matched by, of each channel, and in every measure there is."""

    levels_db: Mapping[str, float]
    channels_db: Mapping[str, tuple[float, ...]]
    levels_by: Mapping[By, Mapping[str, float]]


def before(
    positions: Sequence[trims.Position],
    wish: MicrophoneWish,
    rate_hz: int,
    mic: Calibration | None,
    spl_offset_db: float | None,
    progress: Progress,
) -> Before:
    """The levels before the trims, and the trims.

    Raises
    ------
    MeasureError
        If a setup does not rise above the background, or is too faint to be heard.
    """
    found = trims.levels(positions, wish.weighting)
    if wish.by not in ISO_532 and not wish.iso_532:
        return _by_weighting(wish, found, None)
    heard = chair_loudness.sounds(positions, rate_hz, mic)
    softest = min(chair_loudness.level_dbfs(clip) for clip in heard.values())
    spl = round(wish.chair_spl_db - softest if spl_offset_db is None else spl_offset_db)
    if wish.by not in ISO_532:
        return _by_weighting(wish, found, spl)
    progress("working out loudness by ISO 532-1 …")
    by = at(wish.by, spl)
    phons = chair_loudness.phons(heard, spl, n5=is_n5(by))
    known = {name: phon for name, phon in phons.items() if phon is not None}
    gains = chair_loudness.gains_db(heard, by)
    if len(known) < len(heard) or not gains:
        raise MeasureError(UNHEARD)
    trims_at = {}
    if spl_offset_db is None:
        for off in (0.0, *chair_loudness.OTHER_LEVELS_DB):
            own = chair_loudness.gains_db(heard, at(ZWICKER, round(spl + off)))
            trims_at[f"{off:+g}"] = {name: round(gain, 3) for name, gain in own.items()}
    assumed = wish.chair_spl_db if spl_offset_db is None else None
    told = ChairLoudness({name: round(phon, 3) for name, phon in known.items()}, assumed, trims_at)
    return Before(by, spl, known, gains, told)


def after(
    positions: Sequence[trims.Position],
    wish: MicrophoneWish,
    rate_hz: int,
    mic: Calibration | None,
    made: Before,
    progress: Progress,
) -> After:
    """What is left with the trims, and how loud the setups are then in every measure.

    Raises
    ------
    MeasureError
        As `before`.
    """
    weighted = {one: trims.levels(positions, one) for one in level.WEIGHTINGS}
    levels_by: dict[By, Mapping[str, float]] = {
        one: {name: own.level_db for name, own in levels.items()} for one, levels in weighted.items()
    }
    if made.full_scale_spl is not None:
        heard = chair_loudness.sounds(positions, rate_hz, mic)
        wanted = iso_532_at(made.full_scale_spl, wish.iso_532)
        for by in wanted if made.by in (*wanted, *level.WEIGHTINGS) else [*wanted, made.by]:
            progress("working out loudness by ISO 532-1 …")
            found = levels_db(heard, by)
            levels_by |= {} if found is None else {by: found}
    if made.by not in levels_by:
        raise MeasureError(UNHEARD)
    channels = {name: own.channels_db for name, own in weighted[wish.weighting].items()}
    return After(levels_by[made.by], channels, levels_by)


def _by_weighting(wish: MicrophoneWish, found: Mapping[str, trims.Level], full_scale_spl: int | None) -> Before:
    levels = {name: own.level_db for name, own in found.items()}
    return Before(wish.by, full_scale_spl, levels, trims.gains_db(levels), None)
