"""Another take and another speed are told as what they are, where they only look like many small cuts."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from audio.clip import Clip
from audio.giveaways import edits, performance, speeds, timing
from audio.giveaways.turning import Jump
from tests import families

from .equally_loud import RATE_HZ, Samples, found_between

LENGTH_S = 8.0


def notes() -> list[families.Event]:
    return families.score(np.random.default_rng([9, 4]), LENGTH_S)


@cache
def piece() -> Samples:
    return families.played(notes(), LENGTH_S, RATE_HZ)


def faster(samples: Samples, percent: float) -> Samples:
    """Read by so much faster, between samples by a straight line: good enough below 4 kHz."""
    places = np.arange(0, len(samples) - 1, 1 + percent / 100)
    return np.stack([np.interp(places, np.arange(len(samples)), channel) for channel in samples.T], axis=1)


@pytest.mark.parametrize("percent", [-0.5, 0.2, 1.0])
def test_a_speed_is_told_as_the_speed_it_is(percent: float) -> None:
    """0.5 % was told as cuts, or as another take."""
    in_a_room = families.room(np.random.default_rng(3), piece(), 0.3, 6.0, RATE_HZ)
    found = speeds.speed(Clip(piece(), RATE_HZ), Clip(faster(in_a_room, percent), RATE_HZ))
    assert found is not None
    assert 100 * found == pytest.approx(percent, abs=0.005)


def test_the_sentence_says_the_speed() -> None:
    (found,) = found_between(piece(), faster(piece(), 0.5))
    assert found.kind == "performance"
    assert "two plays 0.50 % faster than one throughout" in found.what


def test_another_take_has_no_speed_and_is_no_cut() -> None:
    """Each note played 8 to 16 ms earlier or later."""
    take = families.played(families.another_take(np.random.default_rng(5), notes(), 0.012), LENGTH_S, RATE_HZ)
    clips = Clip(piece(), RATE_HZ), Clip(take, RATE_HZ)
    assert speeds.speed(*clips) is None
    near = timing.nearest(*clips)
    assert near is not None
    jumps = [Jump(2.0, 0.012), Jump(5.0, -0.009)]
    assert not edits.hold(*clips, near.delay_s, jumps, near.pair)
    (found,) = performance.between_jumps("p", "two", *clips, near, jumps)
    assert "another take, speed or edit" in found.what


def test_what_lies_between_cuts_holds_in_a_room_too() -> None:
    """20 ms cut out at 3 s, 15 ms put in at 6 s."""
    cut = np.concatenate([piece()[:144000], piece()[144960:288000], piece()[287280:]])
    clips = Clip(piece(), RATE_HZ), Clip(families.room(np.random.default_rng(3), cut, 0.6, 0.0, RATE_HZ), RATE_HZ)
    assert edits.hold(*clips, 0.0, [Jump(3.0, -0.02), Jump(6.0, 0.015)], (0, 0))
