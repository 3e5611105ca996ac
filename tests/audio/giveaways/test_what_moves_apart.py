"""Balance, one channel's gain, width and polarity that change in mid-passage: planted, behind whatever filter stays.

How much was planted, and where, is known by construction; each is found by its own name, and by no other's.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from audio.clip import Clip
from audio.giveaways import exchanged_midway, gain_course, moving_balance, turned_midway
from audio.giveaways.moving_balance import SIDE, Apart
from tests import families
from tests.benchmarks import clean_pairs

from .equally_loud import RATE_HZ, Samples, decibels, found_between

LENGTH_S = 8.0
AT_S = 4.8
Change = Callable[[Samples], Samples]
AFTER: dict[str, Change] = {
    "an equaliser": lambda x: families.equaliser(np.random.default_rng(1), x, RATE_HZ),
    "a room of 0.4 s": lambda x: families.room(np.random.default_rng(3), x, 0.4, 3.0, RATE_HZ),
}


@cache
def piece(number: int = 0) -> Samples:
    events = families.score(np.random.default_rng([9, number]), LENGTH_S)
    return families.played(events, LENGTH_S, RATE_HZ)


def stepping(by_db: float) -> Samples:
    """0 dB, then so many: from 4.8 s on."""
    return np.where(np.arange(round(LENGTH_S * RATE_HZ)) < AT_S * RATE_HZ, 0.0, by_db)


def sliding(by_db: float) -> Samples:
    return np.linspace(-by_db / 2, by_db / 2, round(LENGTH_S * RATE_HZ))


def balanced(samples: Samples, course_db: Samples) -> Samples:
    """The first channel up by half of it, the second down by as much."""
    return samples * decibels(np.stack([course_db / 2, -course_db / 2], axis=1))


def widened(samples: Samples, course_db: Samples) -> Samples:
    middle = samples.mean(axis=1, keepdims=True)
    return np.asarray(middle + decibels(course_db)[:, None] * (samples - middle))


def one_alone(samples: Samples, course_db: Samples) -> Samples:
    """The second channel alone."""
    return samples * decibels(np.stack([0 * course_db, course_db], axis=1))


def turning(samples: Samples) -> Samples:
    """The second channel's polarity from 4.8 s on."""
    return np.asarray(samples * np.where(stepping(1.0) > 0, [[1.0], [-1.0]], 1.0).T)


def exchanging(samples: Samples) -> Samples:
    """The channels change places at 4.8 s."""
    return np.where(stepping(1.0)[:, None] > 0, samples[:, ::-1], samples)


def wide_piece() -> Samples:
    """Its channels unlike enough that it matters which is which."""
    return widened(piece(), stepping(0.0) + 14.0)


def apart(one: Samples, two: Samples) -> Apart | None:
    clips = Clip(one, RATE_HZ), Clip(two, RATE_HZ)
    spectra = gain_course.both(*clips)
    assert spectra is not None
    return moving_balance.apart(clips, spectra)


@pytest.mark.parametrize("after", AFTER)
@pytest.mark.parametrize("course", [stepping, sliding])
def test_a_balance_that_moves_is_measured_whatever_filter_stays(course: Callable[[float], Samples], after: str) -> None:
    """2.5 dB is beyond the limit of 1 dB, 0.6 dB within; whichever of the two moves."""
    moved = AFTER[after](balanced(piece(), course(2.5)))
    there, back = apart(piece(), moved), apart(moved, piece())
    assert there is not None
    assert back is not None
    assert (there.part, there.alone) == (0, None)
    assert 0.75 * 2.5 < min(there.by_db, back.by_db) <= max(there.by_db, back.by_db) < 1.1 * 2.5
    assert apart(piece(), AFTER[after](balanced(piece(), course(0.6)))) is None


@pytest.mark.parametrize("by_db", [-6.0, 6.0])
def test_a_width_that_steps_is_no_balance_and_a_common_fade_is_neither(by_db: float) -> None:
    found = apart(piece(), AFTER["an equaliser"](widened(piece(), stepping(by_db))))
    assert found is not None
    assert found.part == SIDE
    assert 0.7 * 6 < found.by_db < 1.1 * 6
    assert found.step is not None
    assert found.step.by_db * by_db > 0
    assert found.step.at_s == pytest.approx(AT_S, abs=0.4)
    assert apart(piece(), widened(piece(), stepping(by_db / 4))) is None
    assert apart(piece(), piece() * decibels(sliding(by_db))[:, None]) is None


@pytest.mark.parametrize("after", AFTER)
def test_the_channel_that_alone_moves_is_named_and_put_right(after: str) -> None:
    moved = AFTER[after](one_alone(piece(), stepping(-3.0)))
    found = apart(piece(), moved)
    assert found is not None
    assert found.alone == 1
    assert found.by_db == pytest.approx(3.0, abs=0.5)
    assert apart(piece(), moving_balance.without(Clip(moved, RATE_HZ), found).samples) is None


def test_one_channel_of_three_is_named() -> None:
    three = np.concatenate([piece(), piece(1)[:, :1]], axis=1)
    moved = three * decibels(np.stack([0 * stepping(3), stepping(3), 0 * stepping(3)], axis=1))
    found = apart(three, moved)
    assert found is not None
    assert (found.part, found.alone) == (1, 1)
    assert found.by_db == pytest.approx(3.0, abs=0.3)


@pytest.mark.parametrize(
    ("change", "kind", "said"),
    [
        (
            lambda x: balanced(x, stepping(2.4)),
            "channel-level",
            "balance of two's channels steps by 2.4 dB about 0:04.",
        ),
        (lambda x: balanced(x, sliding(3.0)), "channel-level", "balance of two's channels moves by"),
        (lambda x: one_alone(x, stepping(-3.0)), "channel-level", "channel 2 alone of two steps down by 3.0 dB about"),
        (lambda x: widened(x, stepping(-8.0)), "width", "dB narrower about 0:04."),
        (turning, "polarity", "polarity of two's channel 2 turns about 0:04.8 into the passage"),
    ],
)
def test_each_is_told_by_its_own_name_and_no_other(change: Change, kind: str, said: str) -> None:
    """A limiter, pumping and a fade were told of these, or nothing."""
    (found,) = found_between(piece(), AFTER["an equaliser"](change(piece())))
    assert found.kind == kind
    assert said in found.what


@pytest.mark.parametrize("after", AFTER)
def test_a_turn_is_told_with_its_moment_and_a_small_jump_is_none(after: str) -> None:
    """A jump of 1 ms turns what lies about 500 Hz, and nothing else."""
    late = np.roll(piece(), 48, axis=0)
    jumps = np.where(stepping(1.0)[:, None] > 0, late, piece())
    spectra = [gain_course.moments(x, RATE_HZ) for x in (piece(), AFTER[after](turning(piece())), AFTER[after](jumps))]
    (turn,) = turned_midway.turns(spectra[0], spectra[1])
    assert turn.channel == 1
    assert turn.at_s == pytest.approx(AT_S, abs=0.1)
    assert turn.correlation < -0.8
    assert turned_midway.turns(spectra[0], spectra[2]) == []


@pytest.mark.parametrize("exchanged_after", [True, False])
def test_channels_that_change_places_are_told_with_the_moment_and_nothing_else_is(exchanged_after: bool) -> None:
    """A balance that moves was told of these."""
    changed = exchanging(wide_piece())
    (found,) = found_between(wide_piece(), AFTER["an equaliser"](changed if exchanged_after else changed[:, ::-1]))
    assert found.kind == "channels"
    part = r"from about 0:04\.[789] into the passage on" if exchanged_after else r"up to about 0:04\.[789] into"
    assert re.search(rf"left and right of two are exchanged {part}", found.what)


@pytest.mark.parametrize("exchanged_after", [True, False])
def test_less_than_a_second_of_exchanged_channels_at_an_end_is_told_as_that_and_is_no_click(
    exchanged_after: bool,
) -> None:
    """It was told as a click of 0.7 s, or not at all."""
    shown = slice(0, round((AT_S + 0.7) * RATE_HZ)) if exchanged_after else slice(round((AT_S - 0.7) * RATE_HZ), None)
    changed = exchanging(wide_piece()) if exchanged_after else exchanging(wide_piece())[:, ::-1]
    (found,) = found_between(wide_piece()[shown], AFTER["an equaliser"](changed)[shown])
    assert found.kind == "channels"
    part = r"from about 0:04\.[789] into the passage on" if exchanged_after else r"up to about 0:00\.[678] into"
    assert re.search(rf"left and right of two are exchanged {part}", found.what)


def test_of_three_channels_the_two_that_change_places_are_named() -> None:
    three = np.concatenate([piece(1)[:, :1], wide_piece()], axis=1)
    changed = np.concatenate([three[:, :1], exchanging(wide_piece())], axis=1)
    found = exchanged_midway.exchange(Clip(three, RATE_HZ), Clip(changed, RATE_HZ))
    assert found is not None
    assert (found.channels, found.after) == ((1, 2), True)
    assert found.at_s == pytest.approx(AT_S, abs=0.1)


@pytest.mark.parametrize(
    "change", [lambda x: one_alone(x, stepping(-20.0)), turning, lambda x: widened(x, stepping(-20.0))]
)
def test_neither_a_balance_that_steps_nor_a_turned_channel_nor_a_width_is_an_exchange(change: Change) -> None:
    assert exchanged_midway.exchange(Clip(wide_piece(), RATE_HZ), Clip(change(wide_piece()), RATE_HZ)) is None


@pytest.mark.parametrize("number", [5, 6, 9, 10])
def test_rooms_and_remasters_neither_move_apart_nor_turn(number: int) -> None:
    """Rooms of 0.4 to 0.8 s with a decay for each channel, a compressor, a remaster; both ways."""
    pair = clean_pairs.pair(number, 1)
    spectra = gain_course.both(pair.reference, pair.other)
    assert spectra is not None
    assert moving_balance.apart((pair.reference, pair.other), spectra) is None
    assert moving_balance.apart((pair.other, pair.reference), spectra[::-1]) is None
    assert turned_midway.turns(*spectra) == []
    assert exchanged_midway.exchange(pair.reference, pair.other) is None
