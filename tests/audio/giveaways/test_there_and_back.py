"""A level that is set anew for a while and then back: told as steps, with both places, and not as pumping."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.giveaways import dynamics, gain_course, moving_gain
from tests import families

from .equally_loud import RATE_HZ, decibels

LENGTH_S = 12.0


def test_both_places_are_read_of_the_course() -> None:
    """Stretches of 1 s, down by 3 dB from 4.5 to 8.25 s."""
    course_db = np.array([0.1, 0, 0, 0, -1.5, -3, -3.1, -3, -0.75, 0, 0, 0.1])
    found = moving_gain.there_and_back(course_db, LENGTH_S)
    assert found is not None
    assert [each.at_s for each in found] == pytest.approx([4.5, 8.25], abs=0.05)
    assert [each.by_db for each in found] == pytest.approx([-3, 3], abs=0.1)
    assert moving_gain.there_and_back(np.linspace(0, 3, 12), LENGTH_S) is None
    assert moving_gain.there_and_back(3 * np.sin(np.arange(12.0)), LENGTH_S) is None


def test_a_step_that_comes_back_is_told_with_its_places() -> None:
    """Nothing was said of where it is."""
    rng = np.random.default_rng([9, 0])
    piece = families.played(families.score(rng, LENGTH_S), LENGTH_S, RATE_HZ)
    moments_s = np.arange(len(piece)) / RATE_HZ
    stepping = piece * decibels(np.where((moments_s > 3.6) & (moments_s < 8.5), -3.0, 0.0))[:, None]
    pair = Clip(piece, RATE_HZ), Clip(families.equaliser(rng, stepping, RATE_HZ), RATE_HZ)
    (found,) = dynamics.dynamics("p", "two", pair, gain_course.both(*pair))
    assert found.kind == "gain"
    assert "steps down by" in found.what
    assert "and back, from about 0:03." in found.what
    assert "to about 0:08." in found.what
