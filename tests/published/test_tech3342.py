"""EBU Tech 3342 (2023, read): loudness range, the minimum requirements test signals 1 to 4.

1 kHz sine in phase in both channels, 20 s each level, per-channel peak level. Signals 5 and 6 are real programmes.
"""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.levels.loudness import measure

TOLERANCE_LU = 1.0  # of the document
CASES = [
    (1, (-20, -30), 10.0),
    (2, (-20, -15), 5.0),
    (3, (-40, -20), 20.0),
    (4, (-50, -35, -20, -35, -50), 15.0),
]
AT_ONE_RATE = [(*case, 48_000) for case in CASES]
AT_OTHERS = [(*case, rate_hz) for case, rate_hz in zip(CASES[:3], (44_100, 96_000, 192_000), strict=True)]


def steps(rate_hz: int, levels_db: tuple[float, ...]) -> Clip:
    gains = np.repeat([10 ** (level / 20) for level in levels_db], 20 * rate_hz)
    sine = gains * np.sin(2 * np.pi * 1000 * np.arange(gains.size) / rate_hz)
    return Clip(np.stack([sine, sine], axis=1), rate_hz)


@pytest.mark.parametrize(("case", "levels_db", "expected_lu", "rate_hz"), AT_ONE_RATE + AT_OTHERS)
def test_the_range_of_the_test_signals(
    case: int, levels_db: tuple[float, ...], expected_lu: float, rate_hz: int
) -> None:
    """All of them at one rate, and one at each other: the range sees windows' loudness alone, whatever the rate."""
    found = measure(steps(rate_hz, levels_db)).range_lu
    np.testing.assert_allclose(found, expected_lu, rtol=0, atol=TOLERANCE_LU, err_msg=f"case {case}")


@pytest.mark.parametrize(("case", "levels_db", "expected_lu"), CASES)
def test_repeating_the_whole_signal_leaves_the_range(
    case: int, levels_db: tuple[float, ...], expected_lu: float
) -> None:
    # The document asks this of the descriptor; a few windows lie across the seam.
    once, twice = (measure(steps(48_000, levels_db * times)).range_lu for times in (1, 2))
    assert once is not None
    np.testing.assert_allclose(twice, once, rtol=0, atol=0.1, err_msg=f"case {case}")
