"""What a run tells of the highest tone that a listener notices on a chain, and what that says beside a band. Pure.

It is never a statement about hearing: what a tone comes to at the ear follows from the level it was played at, from the
loudspeaker or headphones, from the room and from where the head was. So it is told as what was noticed on that chain at
that level, no age or health is read from it, and it changes no outcome and no verdict: beside them it is a remark.

The answers are read by the same rule as those to a change of a band (`own_thresholds`); a step there is the ratio of
the highest tone that can be played to the one that was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, log2
from typing import Literal

from ..casebook.hearing_rows import KeptReach, Reach
from . import own_thresholds

Place = Literal["within", "above", "below", "undecided"]
MOSTLY = 0.5  # of a band, in octaves, that must lie above where a check ended for that to be said; our choice
PER_KHZ = 1000.0


@dataclass(frozen=True)
class Reached:
    """Where a listener stopped noticing tones, as far as the answers tell.

    Attributes
    ----------
    trials, proportion, level
        As in `stats.adaptive_threshold.Threshold`.
    place
        ``within`` the tones played; ``above`` the highest (it was noticed, 95 % sure), ``below`` the lowest (not even
        that one was); otherwise ``undecided``: the interval reaches beyond the tones.
    ended_hz
        The middle of what is believed; None outside the tones.
    low_hz, high_hz
        Ends of the credible interval; None where the end lies outside the tones.
    """

    trials: int
    proportion: float
    place: Place
    ended_hz: float | None
    low_hz: float | None
    high_hz: float | None
    level: float


def reached(kept: KeptReach) -> Reached:
    """What the answers so far tell, in Hz.

    Raises
    ------
    CasebookError
        If an answer is to none of the run's tones.
    """
    found, highest_hz = own_thresholds.found(kept), kept.sought.tones_hz[0]
    # a small step is a high tone: whoever needs more than the largest step does not notice the lowest tone
    places: dict[str, Place] = {"above": "below", "below": "above", "within": "within", "undecided": "undecided"}
    ended, low, high = (None if step is None else highest_hz / step for step in (found.value, found.high, found.low))
    return Reached(found.trials, found.proportion, places[found.place], ended, low, high, found.level)


def ends_hz(kept: KeptReach) -> tuple[float, float]:
    """The interval, Hz: 0 and infinity where an end is open."""
    told, tones = reached(kept), kept.sought.tones_hz
    low = told.low_hz if told.low_hz is not None else float(tones[0]) if told.place == "above" else 0.0
    high = told.high_hz if told.high_hz is not None else float(tones[-1]) if told.place == "below" else inf
    return low, high


def newest(every: Iterable[KeptReach], listener_id: str) -> KeptReach | None:
    """The listener's newest run that came to its end and tells of hearing; None where there is none."""
    own = (one for one in every if one.listener_id == listener_id and one.complete)
    return max((one for one in own if not own_thresholds.doubt(one)), key=lambda one: one.at, default=None)


def remarks(
    every: Sequence[KeptReach],
    listener_ids: Collection[str],
    names: Mapping[str, str],
    low_hz: float,
    high_hz: float,
    what: str = "this band",
    *,
    wholly: bool = False,
) -> list[str]:
    """Of each listener whose newest run ended below a band, or below most of it, a sentence that says so.

    Parameters
    ----------
    names
        The listeners' names by their identifiers.
    what
        What lies there, in words.
    wholly
        Say it only of a band that begins above where the run ended.
    """
    found = []
    for listener_id in dict.fromkeys(listener_ids):
        kept = newest(every, listener_id)
        where = "" if kept is None else _where(kept, low_hz, high_hz, wholly=wholly)
        if kept is not None and where:
            found.append(f"{names[listener_id]}'s own check of {_ended(kept)}; {what} {where}")
    return found


def ended_in_words(kept: KeptReach) -> str:
    """Where a run that came to its end did end, with its interval."""
    told, tones = reached(kept), kept.sought.tones_hz
    if told.place == "below":
        return f"not noticed down to {khz(tones[-1])}, the lowest tone"
    if told.place == "above":
        return f"noticed up to {khz(tones[0])}, the highest tone"
    low = f"below {khz(tones[-1])}" if told.low_hz is None else khz(told.low_hz)
    high = f"above {khz(tones[0])}" if told.high_hz is None else khz(told.high_hz)
    return f"{low} to {high}" if told.ended_hz is None else f"{khz(told.ended_hz)} ({low} to {high})"


def level_in_words(sought: Reach) -> str:
    """How loud the tones were, as far as somebody knows."""
    if sought.level_spl_db is None:
        return f"{sought.level_dbfs:g} dBFS, set quiet by ear: how loud at the ears nobody knows"
    return f"{sought.level_dbfs:g} dBFS, where a meter read {sought.level_spl_db:g} dB SPL of 1 kHz"


def khz(freq_hz: float) -> str:
    """A frequency in kHz, to a tenth.

    >>> khz(13_127.0), khz(4000)
    ('13.1 kHz', '4 kHz')
    """
    return f"{round(freq_hz / PER_KHZ, 1):g} kHz"


def _ended(kept: KeptReach) -> str:
    told = reached(kept)
    ended = f"ended at {ended_in_words(kept)}"
    if told.place == "below" or told.ended_hz is None:
        ended = f"ended so: {ended_in_words(kept)}"
    loud = "quiet by ear" if kept.sought.level_spl_db is None else f"{kept.sought.level_spl_db:g} dB SPL"
    return f"{kept.at[:10]}, of tones ({loud}) through {kept.sought.device}, {ended}"


def _where(kept: KeptReach, low_hz: float, high_hz: float, *, wholly: bool) -> str:
    """Where a band lies by the end of a run; empty where the run says nothing of it."""
    if reached(kept).place == "above":
        return ""
    low, high = ends_hz(kept)
    if low_hz >= high:
        return "begins above it"
    if wholly:
        return ""
    if low_hz > low > 0:
        return "begins about there"
    if high != inf and high_hz > high and log2(high_hz / high) > MOSTLY * log2(high_hz / low_hz):
        return "lies mostly above it"
    return ""
