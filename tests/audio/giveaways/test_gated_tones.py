"""Sounds that break off by themselves, and what a filter rings on after or hiss fills: no dropout of either."""

from __future__ import annotations

import numpy as np
from scipy.signal import butter, sosfilt

from audio.giveaways import filter_residual, gaps
from audio.giveaways.short_silences import short_silences
from tests import families

from .equally_loud import RATE_HZ, Samples

LENGTH_S = 6.0


def drums_and_a_tone() -> Samples:
    """Drums, and 55 Hz from 2.85 s on until it breaks off."""
    rng = np.random.default_rng([13, 404])
    drums = families.played(families.score(rng, LENGTH_S, drums=True, tonal=False), LENGTH_S, RATE_HZ)
    tone_hz, begin_s, lasts_s = rng.uniform(35, 60), rng.uniform(0.3, 3), rng.uniform(0.5, 2.8)
    seconds = np.arange(len(drums)) / RATE_HZ
    gate = (seconds > begin_s) & (seconds < begin_s + lasts_s)
    size = rng.uniform(0.3, 0.7)
    tone = size * np.sin(2 * np.pi * tone_hz * seconds + rng.uniform(0, 6)) * gate
    made = drums[:, 0] / np.abs(drums).max() * 0.5 + tone
    return np.asarray(made / np.abs(made).max() * 0.6)


def found(other: Samples) -> list[float]:
    (known,) = filter_residual.explained(drums_and_a_tone(), other, RATE_HZ)
    return [each.at_s for each in gaps.find_gaps(known, RATE_HZ, 0)]


def test_what_a_high_pass_rings_on_after_a_tone_that_breaks_off_is_no_dropout_and_a_gap_in_the_tone_is() -> None:
    high_passed = sosfilt(butter(2, 84.6, "high", fs=RATE_HZ, output="sos"), drums_and_a_tone())
    assert found(high_passed) == []
    broken = high_passed.copy()
    broken[round(3.5 * RATE_HZ) : round(3.53 * RATE_HZ)] = 0
    (at_s,) = found(broken)
    assert abs(at_s - 3.515) < 0.02


def test_between_the_beats_of_a_deep_voice_hiss_in_the_other_recording_makes_no_silence() -> None:
    """A hundred beats a second with 700 Hz in each, and steady hiss, which alone changes in between."""
    t = np.arange(3 * RATE_HZ) / RATE_HZ
    voice = 0.3 * np.cos(np.pi * 100 * t) ** 6 * np.sin(2 * np.pi * 700 * t) * (t % 1.0 < 0.8)
    rng = np.random.default_rng(2)
    plain, hissing = ((voice + size * rng.standard_normal(t.size)).astype(np.float32) for size in (1e-5, 2.5e-3))
    assert short_silences(hissing, plain, RATE_HZ, 0) == short_silences(plain, hissing, RATE_HZ, 0) == []
