"""Cues of gain over time, moment by moment and peak by peak, each fault by one name. Pure.

What is held down in loud moments may be a compressor's doing or a limiter's; both measures see some of the other's
work. The larger one names it.
"""

from __future__ import annotations

from ..clip import Clip
from . import moving_gain, peaks, pumping
from .findings import LIMITS, Finding
from .gain_course import Moments

LEAKS = 0.25  # of a swing shorter than a stretch is in the course over time, at most
SOME_DB = 0.5  # of a gain that follows the level: as much as a limiter that is found makes at least


def dynamics(
    passage: str,
    setup: str,
    pair: tuple[Clip, Clip],
    spectra: tuple[Moments, Moments] | None,
    begun_s: float | None = 0.0,
) -> list[Finding]:
    """Gain that moves, a limiter, and clipping that lies under other processing; of clips in step, equally long.

    `spectra` are the clips' moments; `begun_s` is as for `moving_gain.told`.
    """
    limit_db = LIMITS["gain"].value
    moved = None if spectra is None else moving_gain.movement(*spectra, pair[0].length_s)
    swing = None if spectra is None else pumping.swing(*spectra, limit_db)
    if moved is not None and abs(moved.over_time_db) > limit_db and (moved.step or moved.there_and_back):
        swing = None if swing is None or not _apart(swing, moved) else swing  # what keeps its level swings in no period
    if moved is not None and abs(moved.over_time_db) > limit_db:  # else peaks seem held down wherever it is low
        pair = pair[0], moving_gain.without(pair[1], moved)
    held = peaks.held_down(*pair)
    at_peaks = 0.0 if held is None else abs(held.peaks_db)
    if at_peaks > LIMITS["limiter"].value:
        if moved is not None and moved.largest_db > limit_db:
            if abs(moved.by_level_db) > at_peaks:
                held = None
            elif abs(moved.by_level_db) > SOME_DB or abs(moved.over_time_db) < at_peaks:
                moved = None
        if swing is not None:
            held, swing = (held, None) if at_peaks > swing.by_db else (None, swing)
    found = [] if held is None else peaks.told(passage, setup, held)
    by_level_db = 0.0 if moved is None else abs(moved.by_level_db)
    if swing is not None and moved is not None and _apart(swing, moved):
        return moving_gain.told(passage, setup, moved, begun_s) + pumping.told(passage, setup, swing) + found
    if swing is not None and by_level_db <= limit_db and (moved is None or swing.by_db > moved.largest_db):
        return pumping.told(passage, setup, swing) + found
    return ([] if moved is None else moving_gain.told(passage, setup, moved, begun_s)) + found


def _apart(swing: pumping.Swing, moved: moving_gain.Movement) -> bool:
    """Whether a gain goes up and down and moves over time as well: neither of them can be what the other shows.

    A swing within each stretch of time is hardly in the course over the stretches; a step is in no period.
    """
    if swing.period_s is None or swing.period_s > moving_gain.STRETCH_S:
        return False
    over_db = abs(moved.over_time_db)
    return over_db > abs(moved.by_level_db) and over_db - LEAKS * swing.by_db > LIMITS["gain"].value
