"""What a change changes in the ear: tones whose change is known, bands without music, and what is below hearing."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.excitation_change import JUST_NOTICED_DB, change_db
from audio.known_difference import Lift, levelled

SECONDS = np.arange(48_000) / 48_000


def tones(*parts: tuple[float, float]) -> Clip:
    """Tones of a frequency, Hz, and a peak each."""
    return Clip(sum(peak * np.sin(2 * np.pi * hz * SECONDS) for hz, peak in parts)[:, None], 48_000)


def test_a_tone_changed_by_so_many_decibels_changes_its_filter_by_as_many() -> None:
    low, high = (300.0, 0.1), (3000.0, 0.02)
    for db in (-12.0, 1.0, 6.0):
        changed = tones(low, (3000.0, 0.02 * 10 ** (db / 20)))
        assert change_db(tones(low, high), changed) == pytest.approx(abs(db), abs=0.1)


def test_a_band_with_no_music_in_it_changes_nothing_and_one_with_music_does() -> None:
    bass = tones((110.0, 0.1), (220.0, 0.05))
    assert change_db(bass, levelled(bass, Lift(8000, 12.0), "bs1770")) < JUST_NOTICED_DB / 10
    assert change_db(bass, levelled(bass, Lift(220, 12.0), "bs1770")) > 5


def test_what_lies_below_the_threshold_in_quiet_counts_once_it_is_played_loud_enough() -> None:
    """A tone 85 dB below one of 90 dBA is at 5 dB SPL, at 4 kHz above the threshold; of one of 60 dBA at -25."""
    weak = 10 ** (-85 / 20)
    one, other = tones((1000.0, 0.1), (4000.0, 0.1 * weak)), tones((1000.0, 0.1), (4000.0, 0.4 * weak))
    assert change_db(one, other, 90.0) > 5
    assert change_db(one, other, 60.0) < 0.5


def test_silence_changes_nothing() -> None:
    assert change_db(tones((100.0, 0.0)), tones((100.0, 0.0))) == 0.0
