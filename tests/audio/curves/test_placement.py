"""Each step of a vertical series has its own geometry."""

from __future__ import annotations

from math import hypot

import pytest

from audio.curves import placement
from audio.curves.gate import speed_of_sound
from audio.errors import MeasureError


def test_a_raised_microphone_has_its_own_way_and_reflection() -> None:
    """Source at 1.2 m, 1 m away, the microphone 0.5 m lower: by Pythagoras on the source's image in the floor."""
    place = placement.raised(1.0, 1.2, -0.5)
    assert place.way_m == pytest.approx(hypot(1, 0.5))
    assert place.gate_s == pytest.approx((hypot(1, 1.9) - hypot(1, 0.5)) / speed_of_sound())
    assert placement.farther_db(place.way_m, 1.0) == pytest.approx(0.969, abs=1e-3)  # 10·log10(1.25)


def test_a_microphone_on_a_circle_keeps_its_distance() -> None:
    place = placement.circled(2.0, 1.5, 30)
    assert (place.way_m, place.microphone_height_m) == (pytest.approx(2), pytest.approx(2.5))


def test_a_place_in_the_floor_is_refused() -> None:
    with pytest.raises(MeasureError, match=r"at -1.30 m the microphone would be 0.10 m below the floor"):
        placement.raised(1.0, 1.2, -1.3)
    with pytest.raises(MeasureError, match=r"at -60° the microphone would be 0.23 m below the floor"):
        placement.circled(2.0, 1.5, -60)
