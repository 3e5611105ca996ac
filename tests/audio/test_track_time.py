"""Times in music and of listening, as people read them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audio.track_time import for_how_long


@pytest.mark.parametrize("time_s", [1, 59, 60, 95, 3599, 3600, 3700, 86_399])
def test_how_long_was_listened_has_its_hours(time_s: int) -> None:
    """As the standard library writes it, without hours where there are none."""
    assert for_how_long(float(time_s)).rjust(5, "0") == str(timedelta(seconds=time_s)).removeprefix("0:")


@pytest.mark.parametrize("time_s", [0.001, 0.4, 0.6, 0.999])
def test_what_was_heard_is_never_0_long(time_s: float) -> None:
    assert for_how_long(time_s) == "less than a second"
