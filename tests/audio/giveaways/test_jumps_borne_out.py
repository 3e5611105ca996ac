"""A jump is one only where the other lies elsewhere after it than before: what was planted is known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.giveaways import edits
from audio.giveaways.turning import Jump
from tests import families

RATE_HZ = families.RATE_HZ
LENGTH_S, AT_S, BY_S = 6.0, 3.0, 0.0125


def two(reverberation_s: float | None) -> tuple[Clip, Clip]:
    rng = np.random.default_rng(61)
    dry = families.played(families.score(rng, LENGTH_S), LENGTH_S)
    other = families.equaliser(rng, dry)
    if reverberation_s is not None:
        other = families.room(rng, other, reverberation_s, 0.0)
    return Clip(dry, RATE_HZ), Clip(other, RATE_HZ)


@pytest.mark.parametrize("reverberation_s", [None, 0.5])
def test_a_lone_jump_after_which_all_lies_as_before_is_none(reverberation_s: float | None) -> None:
    """What a click in a note of 80 Hz is taken for, read off a guitar with one."""
    one, other = two(reverberation_s)
    assert edits.borne_out(one, other, 0.0, [Jump(AT_S, -BY_S)], [(0, 0), (1, 1)]) == []


@pytest.mark.parametrize("reverberation_s", [None, 0.5])
@pytest.mark.parametrize("late_s", [0.0, -BY_S])
def test_a_true_one_stays_at_whichever_piece_the_delay_was_read(reverberation_s: float | None, late_s: float) -> None:
    one, other = two(reverberation_s)
    at, by = round(AT_S * RATE_HZ), round(BY_S * RATE_HZ)
    cut = Clip(np.concatenate([other.samples[:at], other.samples[at + by :]]), RATE_HZ)
    jump = Jump(AT_S, -BY_S)
    assert edits.borne_out(one, cut, late_s, [jump], [(0, 0), (1, 1)]) == [jump]
