"""Jumps of a fraction of a millisecond, beside a clock that is off or without one: planted, so that all is known."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.interpolate import make_interp_spline

from audio.clip import Clip
from audio.giveaways import small_jumps
from tests import families

from .equally_loud import RATE_HZ, Samples, found_between

LENGTH_S, AT_S = 8.0, 4.4


@cache
def piece() -> Samples:
    return families.played(families.score(np.random.default_rng([12, 5]), LENGTH_S), LENGTH_S, RATE_HZ)


def by_another_clock(samples: Samples, ppm: float) -> Samples:
    read = make_interp_spline(np.arange(len(samples)), samples, k=5)
    places = np.arange(len(samples)) * (1 + ppm * 1e-6)
    return np.asarray(read(np.minimum(places, len(samples) - 1)))


def cut(samples: Samples, by_ms: float) -> Samples:
    """So much taken out at 4.4 s, the ends faded over 2 ms; negative: played twice."""
    at, gone, fade = round(AT_S * RATE_HZ), round(by_ms * RATE_HZ / 1000), 96
    mix = np.linspace(0, 1, fade)[:, None]
    seam = samples[at - fade : at] * (1 - mix) + samples[at + gone - fade : at + gone] * mix
    return np.concatenate([samples[: at - fade], seam, samples[at + gone :]])


def loudspeaker(samples: Samples) -> Samples:
    return families.equaliser(np.random.default_rng(2), samples, RATE_HZ)


@pytest.mark.parametrize(("ppm", "by_ms"), [(20.0, 0.5), (60.0, 1.0), (0.0, -0.3)])
def test_a_small_cut_is_an_edit_and_no_clock_is_mended_by_it(ppm: float, by_ms: float) -> None:
    """0.5 ms at 20 ppm was mended as a clock of -68 ppm, and passed."""
    found = found_between(piece(), cut(loudspeaker(by_another_clock(piece(), ppm)), by_ms))
    (edit,) = [each for each in found if each.kind == "edit"]
    assert edit.measured == pytest.approx(-by_ms, abs=0.03)
    assert "about 0:04." in edit.what
    assert all(each.mend is None for each in found)


@pytest.mark.parametrize("ppm", [0.0, 40.0])
def test_without_a_cut_no_clock_nor_loudspeaker_nor_room_is_one(ppm: float) -> None:
    for made in (loudspeaker(piece()), families.room(np.random.default_rng(4), piece(), 0.5, 0.0, RATE_HZ)):
        other = by_another_clock(made, ppm)
        assert small_jumps.small_jump(Clip(piece(), RATE_HZ), Clip(other, RATE_HZ), (0, 0)) is None


def test_the_place_and_size_of_a_cut_in_a_room_are_read() -> None:
    other = cut(families.room(np.random.default_rng(4), piece(), 0.5, 0.0, RATE_HZ), 0.4)
    frames = min(len(other), len(piece()))
    jump = small_jumps.small_jump(Clip(piece()[:frames], RATE_HZ), Clip(other[:frames], RATE_HZ), (0, 0))
    assert jump is not None
    assert jump.at_s == pytest.approx(AT_S, abs=0.2)
    assert 1000 * jump.by_s == pytest.approx(-0.4, abs=0.03)
