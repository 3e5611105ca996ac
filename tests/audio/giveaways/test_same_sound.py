"""Pairs that hold the same sound are compared once, and told of as if each had been compared."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product
from typing import Any

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading
from audio.giveaways import clipping, inspection, pair, same_sound
from audio.giveaways.findings import Finding
from demo_tracks import tracks

RATE_HZ = 48_000
NAMES = ("one", "one, a copy", "the reference", "the reference, a copy")  # a name may be what sentences call the first

PLANTED = NAMES[:2], NAMES[2:]


@pytest.fixture(scope="module")
def clips() -> dict[str, Clip]:
    """Two that differ in level and polarity, the first with noise, each with a copy of it."""
    music = reading.read(tracks.path("drums"), RATE_HZ, round(1.2 * RATE_HZ)).samples
    noisy = -0.8 * music + 6e-3 * np.random.default_rng(5).standard_normal(music.shape)
    planted = (noisy, noisy.copy(), music, music.copy())
    return {name: Clip(samples, RATE_HZ) for name, samples in zip(NAMES, planted, strict=True)}


def compared(clips: dict[str, Clip]) -> Iterator[Finding]:
    """What each pair gives that is compared by itself, each under its own name."""
    for against, setup in combinations(clips, 2):
        both = clips[against], clips[setup]
        assert clipping.clipping("p", "@", *both) == []
        for each in pair.between("p", "@", *both):
            sentence = each.what.replace(inspection.REFERENCE, against).replace("@", setup)
            if each.kind == "noise-floor":  # of the one that has it
                yield replace(each, setup=against, against=setup, measured=-each.measured, what=sentence)
            else:
                yield replace(each, setup=setup, against=against, what=sentence)


def test_what_is_told_of_copies_is_word_for_word_what_comparing_them_gives(
    clips: dict[str, Clip], monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = list(compared(clips))
    assert {(each.against, each.setup) for each in expected if each.kind == "level"} == set(product(*PLANTED))
    assert {(each.setup, each.against) for each in expected if each.kind == "noise-floor"} == set(product(*PLANTED))
    assert {"polarity"} < {each.kind for each in expected}
    done: list[tuple[Any, ...]] = []
    between = pair.between

    def counted(*what: Any, **how: Any) -> list[Finding]:
        done.append(what)
        return between(*what, **how)

    monkeypatch.setattr(pair, "between", counted)
    assert sorted(inspection.inspect("p", clips), key=repr) == sorted(expected, key=repr)
    assert len(done) == 1


def test_the_order_the_channels_and_the_rate_are_part_of_what_a_clip_holds() -> None:
    samples = np.arange(12.0).reshape(6, 2) / 12
    clips = [Clip(samples, 48_000), Clip(samples[::-1], 48_000), Clip(samples.reshape(12, 1), 48_000)]
    clips += [Clip(samples, 44_100), Clip(samples, 48_000, channel_mask=3)]
    assert len({same_sound.content(clip) for clip in clips}) == len(clips)
    assert same_sound.content(Clip(np.asfortranarray(samples), 48_000)) == same_sound.content(clips[0])


def test_every_pair_is_submitted_and_the_same_two_the_other_way_round_are_compared_anew() -> None:
    worked: list[str] = []
    submitted: list[object] = []

    def work(pair: str) -> list[str]:
        worked.append(pair)
        return [f"found in {pair}"]

    def submit(work: Any, thing: Any) -> Any:
        submitted.append(thing)
        return lambda: work(thing)

    contents = [("x", "y"), ("x", "x"), ("x", "y"), ("y", "x")]
    waiting = same_sound.once(submit, work, ["ab", "aa", "ac", "ba"], contents)
    assert [result() for result in waiting] == [["found in ab"], [], ["found in ab"], ["found in ba"]]
    assert (worked, len(submitted)) == (["ab", "ba"], 4)
