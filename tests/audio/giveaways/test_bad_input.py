"""Silence, samples that are not numbers, too short, too few, unlike lengths and rates: each has its answer."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.errors import MeasureError, PassageError
from audio.giveaways import inspection

RATE_HZ = 48_000


def test_one_setup_is_too_few(spoken: Clip) -> None:
    with pytest.raises(MeasureError, match="between two setups or more; got 1"):
        inspection.inspect("p", {"one": spoken})


@pytest.mark.parametrize("length_s", [0.0, 0.2, 0.99])
def test_a_short_passage_is_refused(spoken: Clip, length_s: float) -> None:
    short = Clip(spoken.samples[: round(length_s * RATE_HZ)], RATE_HZ)
    with pytest.raises(PassageError, match=f"'p' is {length_s:.2f} s long; choose at least 1 s"):
        inspection.inspect("p", {"one": spoken, "two": short})


def test_a_passage_of_one_second_is_inspected(spoken: Clip) -> None:
    short = Clip(spoken.samples[RATE_HZ : 2 * RATE_HZ], RATE_HZ)
    assert inspection.inspect("p", {"one": short, "two": short}) == []
    turned = inspection.inspect("p", {"one": short, "two": Clip(-short.samples, RATE_HZ)})
    assert [each.kind for each in turned] == ["polarity"]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers_are_refused(spoken: Clip, bad: float) -> None:
    samples = spoken.samples.copy()
    samples[777, 1] = bad
    with pytest.raises(MeasureError, match="'two' holds samples that are not numbers; export the file again"):
        inspection.inspect("p", {"one": spoken, "two": Clip(samples, RATE_HZ)})


def test_silence_everywhere_is_no_passage(spoken: Clip) -> None:
    silence = Clip(np.zeros_like(spoken.samples), RATE_HZ)
    with pytest.raises(PassageError, match="is silent in every setup; choose one with music in it"):
        inspection.inspect("p", {"one": silence, "two": silence})


@pytest.mark.parametrize(("order", "words"), [((0, 1), "two is silent"), ((1, 0), "two sounds where one is")])
def test_one_silent_setup_is_one_finding(spoken: Clip, order: tuple[int, int], words: str) -> None:
    both = (spoken, Clip(np.zeros_like(spoken.samples), RATE_HZ))
    found = inspection.inspect("p", {"one": both[order[0]], "two": both[order[1]]})
    assert [each.kind for each in found] == ["channels"]
    assert found[0].what.startswith(words)


def test_unlike_lengths_are_a_finding_and_compared_as_far_as_both_go(longer_music: dict[str, Clip]) -> None:
    whole = longer_music["chords"]
    part = Clip(whole.samples[: 3 * RATE_HZ], RATE_HZ)
    late = Clip(np.concatenate([np.zeros((480, 2)), whole.samples]), RATE_HZ)
    found = inspection.inspect("p", {"one": part, "two": late})
    assert [(each.kind, round(each.measured, 2)) for each in found] == [("onset", 10.0), ("length", 2010.0)]


def test_one_channel_is_inspected_as_two_are(spoken: Clip) -> None:
    one = Clip(spoken.samples[:, :1], RATE_HZ)
    assert inspection.inspect("p", {"one": one, "two": one}) == []
    late = Clip(np.concatenate([np.zeros((100, 1)), -one.samples[:-100]]), RATE_HZ)
    assert [each.kind for each in inspection.inspect("p", {"one": one, "two": late})] == ["onset", "polarity"]


def test_findings_name_the_deviating_setup_in_order(spoken: Clip) -> None:
    clips = {
        "reference": spoken,
        "turned": Clip(-spoken.samples, RATE_HZ),
        "alike": spoken,
        "loud and off": Clip(spoken.samples * 1.05 + 0.002, RATE_HZ),
    }
    found = inspection.inspect("p", clips)
    assert [(each.setup, each.against, each.kind) for each in found] == [
        ("turned", "reference", "polarity"),
        ("alike", "turned", "polarity"),
        ("loud and off", "reference", "level"),
        ("loud and off", "reference", "dc"),
        ("loud and off", "turned", "level"),
        ("loud and off", "turned", "polarity"),
        ("loud and off", "turned", "dc"),
        ("loud and off", "alike", "level"),
        ("loud and off", "alike", "dc"),
    ]


def test_other_music_is_no_crash(music: dict[str, Clip]) -> None:
    """Whether it is the same music is another check's affair; here there are findings, and they are finite."""
    found = inspection.inspect("p", {"one": music["strings"], "two": music["voice"]})
    assert found
    assert all(np.isfinite(each.measured) for each in found)
