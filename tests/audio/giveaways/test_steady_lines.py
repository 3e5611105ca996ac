"""Low sound is taken from a recording as a library for signals does it, without loading that."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly

from audio.giveaways.steady_lines import thinned


@pytest.mark.parametrize(("frames", "by"), [(48_001, 20), (44_107, 18), (7999, 3), (100, 20), (500, 1)])
def test_sound_is_thinned_as_by_the_usual_polyphase_filter(frames: int, by: int) -> None:
    samples = np.random.default_rng(frames).uniform(-1, 1, frames).astype(np.float32)
    found = thinned(samples, by)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, resample_poly(samples.astype(np.float64), 1, by), rtol=0, atol=1e-6)
