"""What comes again at each turn of a loop is the music's; what comes once, or elsewhere in it, is a fault."""

from __future__ import annotations

import numpy as np
import pytest

from audio.giveaways import interruptions
from audio.giveaways.moments import Moment
from audio.giveaways.recurring import without_recurring
from tests.benchmarks import clean_pairs

RATE_HZ = 8000
TURN_S = 1.3


def moment(at_s: float) -> Moment:
    return Moment(at_s, 0.16, 0, 0.6, False)


@pytest.fixture(scope="module")
def loop() -> np.ndarray:
    turn = np.random.default_rng(3).standard_normal(round(TURN_S * RATE_HZ))
    return np.tile(turn, 6).astype(np.float32)


def test_moments_at_one_place_of_each_turn_are_the_musics(loop: np.ndarray) -> None:
    at_s = [1.5, 1.5 + 2 * TURN_S + 0.05, 1.5 + 3 * TURN_S]  # one is drawn out longer, so 50 ms off its place
    assert without_recurring([moment(each) for each in at_s], loop, RATE_HZ) == []


def test_one_moment_and_moments_at_different_places_stay(loop: np.ndarray) -> None:
    faults = [moment(1.5), moment(1.5 + 2 * TURN_S + 0.2)]
    assert without_recurring(faults, loop, RATE_HZ) == faults
    assert without_recurring(faults[:1], loop, RATE_HZ) == faults[:1]


def test_in_music_that_does_not_repeat_all_stay(loop: np.ndarray) -> None:
    music = np.random.default_rng(4).standard_normal(loop.size).astype(np.float32)
    faults = [moment(1.5), moment(1.5 + TURN_S)]
    assert without_recurring(faults, music, RATE_HZ) == faults


@pytest.mark.parametrize(("number", "seed"), [(379, 9701), (5, 9821)])
def test_what_a_room_of_08_s_rings_on_into_the_pause_of_a_loop_is_no_silence(number: int, seed: int) -> None:
    pair = clean_pairs.pair(number, seed)
    assert interruptions.interruptions("p", "two", pair.reference, pair.other, (0, 1))[0] == []
