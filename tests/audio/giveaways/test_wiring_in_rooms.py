"""Polarity and delay of channels where two loudspeakers in a room are heard by two microphones: nothing is made up.

What was planted is known by construction.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from audio.clip import Clip
from audio.giveaways import interruptions, timing, unjudged
from audio.giveaways.channel_delay import channel_delay
from audio.giveaways.wiring import Wiring, wiring
from tests import families

RATE_HZ = 48_000
LENGTH_S = 4.0
Samples = NDArray[np.float64]


def heard_by_two(rng: np.random.Generator, samples: Samples, length_s: float = 0.3) -> Samples:
    """Each of two loudspeakers to each of two microphones: its direct sound, six echoes, a tail 2 dB above it."""
    frames = round(1.2 * length_s * RATE_HZ)
    decay = 10 ** (-3 * np.arange(frames) / RATE_HZ / length_s)
    result = np.zeros_like(samples)
    for heard in range(2):
        for source in range(2):
            tail = rng.standard_normal(frames) * decay
            tail[: round(0.004 * RATE_HZ)] = 0
            response = tail * np.sqrt(10**0.2 / np.sum(tail**2) / 2)
            response[0] += 1.0 if source == heard else 0.12
            for _ in range(6):
                response[round(rng.uniform(0.001, 0.02) * RATE_HZ)] += rng.uniform(-0.35, 0.35)
            result[:, heard] += fftconvolve(samples[:, source], response)[: len(samples)]
    return result


def two_rooms(seed: int) -> tuple[Clip, Samples]:
    rng = np.random.default_rng(seed)
    music = families.played(families.score(rng, LENGTH_S, drums=False), LENGTH_S, RATE_HZ)
    one = heard_by_two(rng, music)
    return Clip(one, RATE_HZ), heard_by_two(rng, families.equaliser(rng, music, RATE_HZ))


def found_in(one: Clip, other: Samples) -> Wiring:
    found = wiring(one, Clip(other, RATE_HZ))
    assert found is not None
    return found


@pytest.mark.parametrize("seed", [0, 1, 7])
def test_where_all_channels_are_turned_none_is_accused_alone(seed: int) -> None:
    one, other = two_rooms(seed)
    found = found_in(one, -other)
    assert found.turned == ()
    assert found.correlation < 0 or not found.polarity_judged


def test_a_channel_is_accused_only_where_the_others_are_plainly_upright() -> None:
    """What every seed may say: the one that is turned, or nothing, and then that it is not judged."""
    for seed in (0, 2):
        one, other = two_rooms(seed)
        found = found_in(one, other * [1, -1])
        assert (found.turned == (1,)) == found.polarity_judged
        assert found.turned in ((), (1,))
        assert found.correlation > 0


@pytest.mark.parametrize("seed", [0, 3, 7])
def test_a_channel_that_is_late_in_a_room_is_named_and_is_no_onset_of_the_whole(seed: int) -> None:
    one, other = two_rooms(seed)
    late = other.copy()
    late[48:, 1], late[:48, 1] = other[:-48, 1], 0
    found = found_in(one, late)
    (told,) = channel_delay("p", "two", found)
    assert told.measured == pytest.approx(1, abs=0.06)
    assert told.what.startswith("channel 2 of two comes ")
    assert timing.timing("p", "two", one, Clip(late, RATE_HZ), timing.Step(found, None)) == []


def test_no_onset_is_told_or_mended_where_channels_disagree_about_it() -> None:
    one, _ = two_rooms(1)
    known = {"told": (1.0, 0.1), "known": (True, False), "delays_judged": False}
    for agree in (True, False):
        found = Wiring(0.0015, 0.5, (), (0, 1), 0.0, (0, 0), (0.0, 0.0), **known, agree=agree)
        assert channel_delay("p", "two", found) == []
        for fine in (True, False):
            onsets = timing.timing("p", "two", one, one, timing.Step(found, None), fine=fine)
            assert [each.kind for each in onsets] == (["onset"] if agree else [])


def hall_of_echoes(rng: np.random.Generator, samples: Samples) -> Samples:
    """Sixty echoes within a quarter of a second, 8 dB louder than the direct sound, which is not delayed."""
    response = np.zeros(round(0.25 * RATE_HZ))
    at = np.sort(rng.integers(60, response.size, 60))
    response[at] = rng.choice([-1, 1], 60) * 10 ** (-3 * at / RATE_HZ / 0.35) * rng.uniform(0.5, 1, 60)
    response *= 10 ** (8 / 20) / np.sqrt(np.sum(response**2))
    response[0] = 1
    return np.stack([fftconvolve(channel, response)[: len(samples)] for channel in samples.T], axis=1)


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_an_echo_that_two_halls_share_by_chance_is_no_offset(seed: int) -> None:
    """Both start at once; which of the many delays between two such halls is that of the start cannot be known."""
    rng = np.random.default_rng([91, seed])
    music = families.played(families.score(rng, 8.0), 8.0)
    one, other = (Clip(hall_of_echoes(rng, music), RATE_HZ) for _ in range(2))
    step = timing.in_step(one, other)
    assert step is not None
    for fine in (True, False):
        assert [each.kind for each in timing.timing("p", "two", one, other, step, fine=fine)] == []
    (note,) = unjudged.unjudged("p", {"one": one, "two": other})
    assert "an offset of all of them" in note


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_an_offset_is_told_in_a_room_that_leaves_the_direct_sound_plain(seed: int) -> None:
    one, other = two_rooms(seed)
    late = np.roll(other, round(0.005 * RATE_HZ), axis=0)
    step = timing.in_step(one, Clip(late, RATE_HZ))
    assert step is not None
    (told,) = timing.timing("p", "two", one, Clip(late, RATE_HZ), step)
    assert told.kind == "onset"
    assert told.measured == pytest.approx(5.0, abs=0.1)


def test_what_two_rooms_hide_of_the_channels_is_said() -> None:
    """Of the seed 0 nearly alike channels play, of which the first's polarity is not plain."""
    one, other = two_rooms(0)
    for sign, is_hidden in (([1, -1], True), ([1, 1], False)):
        clips = {"one": one, "two": Clip(other * sign, RATE_HZ)}
        (note,) = unjudged.unjudged("p", clips)
        assert (" polarity, " in note) == is_hidden
        assert " exchanged channels, " in note
        assert " a delay between channels" not in note


def test_a_delay_that_cannot_be_told_between_channels_is_said() -> None:
    """One channel of another sound: neither its polarity nor its delay can be known."""
    one, other = two_rooms(3)
    noise = np.random.default_rng(5).standard_normal(len(other)) * other[:, 1].std()
    (note,) = unjudged.unjudged("p", {"one": one, "two": Clip(np.stack([other[:, 0], noise], axis=1), RATE_HZ)})
    assert " polarity, " in note
    assert " a delay between channels, " in note


def test_of_recordings_that_differ_by_an_equaliser_all_of_the_channels_is_judged() -> None:
    rng = np.random.default_rng(4)
    music = families.played(families.score(rng, LENGTH_S), LENGTH_S, RATE_HZ)
    clips = {"one": Clip(music, RATE_HZ), "two": Clip(families.equaliser(rng, music, RATE_HZ), RATE_HZ)}
    assert unjudged.unjudged("p", clips) == []


@pytest.mark.parametrize("seed", [5, 7])
def test_a_silence_of_all_channels_in_a_room_is_told_in_all(seed: int) -> None:
    one, other = two_rooms(seed)
    broken = other.copy()
    broken[2 * RATE_HZ :][: RATE_HZ // 4] = 0
    (finding,), _ = interruptions.interruptions("p", "two", one, Clip(broken, RATE_HZ), (0, 1))
    assert finding.what.startswith("two falls silent while the other plays on (once, 0:02.")
    assert "in channels 1 and 2);" in finding.what


def test_a_silence_of_one_channel_in_a_room_is_told_in_that_one_alone() -> None:
    one, other = two_rooms(5)
    broken = other.copy()
    broken[2 * RATE_HZ :, 0][: RATE_HZ // 4] = 0
    (finding,), _ = interruptions.interruptions("p", "two", one, Clip(broken, RATE_HZ), (0, 1))
    assert "in channel 1);" in finding.what
