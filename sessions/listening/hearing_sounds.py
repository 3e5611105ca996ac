"""What plays where a listener finds how high their ears reach on a chain: tones at one level, and those that set it.

Decided here, and why:

- Three presentations, one of which holds a tone while the others are silent. Who notices nothing names the right one
  in every third trial, so that wishing to hear a tone helps nobody.
- All tones have one level in the file: that at which a tone of 1 kHz was set clear and quiet by the listener, who
  begins far below what is heard and turns up in small steps (`STARTS_DBFS`, `STEP_DB`). Nothing else is ever played
  before that. Whoever types what a sound level meter reads of it has a known level, of at most 70 dB SPL: eight hours
  of that are a thirtieth of what NIOSH allows a day, and a check plays a few minutes. Without a meter it is kept as
  unknown and set by ear, and never above -20 dBFS in the file (`audio.high_tones`).
- Tones are preferred numbers a twelfth of an octave apart: hearing ends within a few of them, and a loudspeaker or a
  room is no more even than that.
- The rate is one that the device says it takes, so that nothing here resamples a tone: a bad resampler folds a tone
  that is not heard down to one that is. What a sound server does behind that cannot be seen from here, and is told.
- One loudspeaker at a time unless somebody says otherwise: of two that play one high tone the waves add and cancel
  within centimetres, and a move of the head would decide.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..casebook.hearing_rows import Reach, Side
from ..errors import ListenError

if TYPE_CHECKING:
    from collections.abc import Collection

    import numpy as np
    from numpy.typing import NDArray

# Preferred numbers of the series R40 (ISO 3, from memory), in tens and hundreds of Hz, from the highest.
TONES_HZ = (
    20_000, 19_000, 18_000, 17_000, 16_000, 15_000, 14_000, 13_200, 12_500, 11_800, 11_200, 10_600, 10_000, 9500, 9000,
    8500, 8000, 7500, 7100, 6700, 6300, 6000, 5600, 5300, 5000, 4750, 4500, 4250, 4000,
)  # fmt: skip
ALTERNATIVES, PROPORTION, LEVEL, WIDTH, FEWEST, MOST = 3, 0.6667, 0.95, 1.15, 18, 48
# How fast it goes from always to never noticed: a threshold in quiet that rises by 30 to 200 dB an octave, crossed over
# some 10 dB, is a Weibull of 13 to 90 in frequency; the flat ones are for places where a room or a tinnitus blurs it.
SLOPES = (6.0, 10.0, 16.0, 25.0, 40.0, 64.0)
BEYOND, POINTS = 1.2, 80
RATES_HZ = (48_000, 96_000, 88_200, 192_000, 176_400, 44_100)  # the first that the device takes; our order
LEVEL_TONE_HZ = 1000.0
STARTS_DBFS, STEP_DB = -74.0, 3.0
MOST_SPL_DB = 70.0  # our choice: see above
LEAST_SPL_DB = 20.0  # below what a sound level meter reads in a living room
FADE_S = 0.05  # between presentations: longer than that of music, whose own sound hides a switch


@dataclass(frozen=True)
class SetLevel:
    """The level at which the tone of 1 kHz was found clear and quiet, and what a meter read of it, if anything."""

    level_dbfs: float
    level_spl_db: float | None = None


@dataclass(frozen=True, eq=False)
class HearingSounds:
    """All that is played: float32, shape (1 + tones, frames, channels), the empty one first; and what is sought."""

    sounds: NDArray[np.float32]
    sought: Reach
    heard_at: int
    from_start = True


def rate_for(taken_hz: Collection[int]) -> int:
    """The rate at which tones are played, of those that a device takes; its own, so that nothing resamples them.

    Raises
    ------
    ListenError
        If it takes none of the usual ones.
    """
    for rate_hz in RATES_HZ:
        if rate_hz in taken_hz:
            return rate_hz
    taken = ", ".join(map(str, sorted(taken_hz))) or "none"
    raise ListenError(f"the device takes no usual sample rate (it takes: {taken}); set it to 48000 Hz")


def tones_at(rate_hz: int) -> tuple[int, ...]:
    """The tones that a sample rate holds, from the highest."""
    from audio.high_tones import MOST_OF_RATE

    return tuple(one for one in TONES_HZ if one <= MOST_OF_RATE * rate_hz)


def levels_dbfs() -> tuple[float, ...]:
    """The levels of the tone of 1 kHz by which the level is set, from the quietest.

    >>> levels_dbfs()[0], levels_dbfs()[-1], len(levels_dbfs())
    (-74.0, -20.0, 19)
    """
    from audio.high_tones import HIGHEST_DBFS

    steps = round((HIGHEST_DBFS - STARTS_DBFS) / STEP_DB)
    return tuple(STARTS_DBFS + STEP_DB * step for step in range(steps + 1))


def level_tones(rate_hz: int, channels: int, side: Side) -> NDArray[np.float32]:
    """The tone of 1 kHz at each of these levels; shape (levels, frames, channels)."""
    import numpy as np

    from audio.high_tones import presentation

    only = _only(side, channels)
    every = (presentation(LEVEL_TONE_HZ, one, rate_hz, channels=channels, only=only) for one in levels_dbfs())
    return np.stack(list(every))


def made(at: SetLevel, device: str, rate_hz: int, channels: int = 2, side: Side = "left") -> HearingSounds:
    """All tones at a level, ready to be played.

    Raises
    ------
    ListenError
        If the level is above what is allowed.
    """
    from audio import high_tones

    if at.level_spl_db is not None and at.level_spl_db > MOST_SPL_DB:
        raise ListenError(f"{at.level_spl_db:g} dB SPL is above {MOST_SPL_DB:g}, the most that is played here")
    tones_hz = tones_at(rate_hz)
    try:
        sounds = high_tones.presentations(
            tones_hz, at.level_dbfs, rate_hz, channels=channels, only=_only(side, channels)
        )
    except ValueError as error:
        raise ListenError(f"{error}; set the level lower") from error
    sought = Reach(
        kind="reach",
        tones_hz=tones_hz,
        alternatives=ALTERNATIVES,
        proportion=PROPORTION,
        level=LEVEL,
        width=WIDTH,
        fewest=FEWEST,
        most=MOST,
        slopes=SLOPES,
        beyond=BEYOND,
        points=POINTS,
        level_dbfs=at.level_dbfs,
        level_spl_db=at.level_spl_db,
        side=side,
        tone_ms=round(1000 * high_tones.TONE_S),
        ramp_ms=round(1000 * high_tones.RAMP_S),
        rate_hz=rate_hz,
        sha256=hashlib.sha256(sounds.tobytes()).hexdigest(),
        device=device,
    )
    return HearingSounds(sounds, sought, round(high_tones.TONE_OVER_S * rate_hz))


def _only(side: Side, channels: int) -> int | None:
    """The channel that alone plays; None: all of them."""
    if side == "both" or channels == 1:
        return None
    return 0 if side == "left" else 1
