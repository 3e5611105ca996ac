"""The renderer against a slow, obvious reference: every sample of random sessions, in random block sizes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from audio.engine import fields as at
from audio.engine.fields import Wish, packed_loop, unpacked_loop
from audio.engine.renderer import Bank, Renderer, rise

FADE, PAUSE, FRAMES = 7, 23, 60


def stimuli(count: int = 3, frames: int = FRAMES, channels: int = 2, seed: int = 5) -> np.ndarray:
    return np.random.default_rng(seed).uniform(-1, 1, (count, frames, channels)).astype(np.float32)


class Reference:
    """One frame at a time, by the words of the renderer's description."""

    def __init__(self, sound: np.ndarray) -> None:
        self.sound = sound
        self.gains = [np.float32(0.5 - 0.5 * np.cos(np.pi * (k + 0.5) / FADE)) for k in range(FADE)]
        self.wish: Wish | None = None
        self.stimulus, self.place, self.level, self.running, self.restarts = -1, 0, 0, False, 0
        self.loop = self.first, self.end = 0, FRAMES
        self.start = 0

    def frame(self) -> np.ndarray:
        if self.wish is not None and self.level == 0:
            self.first, self.end = self.loop
            if self.wish.stimulus < 0:
                self.place = self.first
            elif self.wish.restarts != self.restarts:
                self.place = self.start if self.first <= self.start < self.end else self.first
            if not self.first <= self.place < self.end + PAUSE:
                self.place = self.first
            self.restarts = self.wish.restarts
            self.stimulus = self.wish.stimulus
            self.running = self.stimulus >= 0 and not self.wish.paused
            self.wish = None
        if not self.running and self.level == 0:
            return np.zeros(2, dtype=np.float32)
        gain = np.float32(1)
        if self.wish is not None:
            self.level -= 1
            gain = self.gains[self.level]
        elif self.level < FADE:
            gain = self.gains[self.level]
            self.level += 1
        if self.place < self.end:
            out = self.sound[self.stimulus, self.place] * gain
            if self.first > 0 and self.place - self.first < FADE:
                out = out * self.gains[self.place - self.first]
            if self.end < FRAMES and self.end - 1 - self.place < FADE:
                out = out * self.gains[self.end - 1 - self.place]
        else:
            out = np.zeros(2, dtype=np.float32)
        self.place = self.place + 1 if self.place + 1 < self.end + PAUSE else self.first
        return out


loops = st.tuples(st.integers(0, FRAMES - 1), st.integers(1, FRAMES)).filter(lambda loop: loop[0] < loop[1])
requests = st.sampled_from(["0", "1", "2", "restart", "pause", "resume", "stop"]) | loops
session = st.lists(st.tuples(st.integers(1, 40), st.one_of(st.none(), requests)), min_size=1, max_size=40)


@settings(max_examples=300, deadline=None)
@given(session)
@example([(1, "0"), (1, (1, 2)), (1, None), (1, None), (1, "restart"), (1, None), (1, (0, 1))])
def test_every_sample_of_a_random_session_is_the_references(
    blocks: list[tuple[int, str | tuple[int, int] | None]],
) -> None:
    sound = stimuli()
    fields = np.zeros(at.SIZE, dtype=np.int64)
    fields[at.WISH] = Wish().packed()
    renderer, reference, wish = Renderer(fields), Reference(sound), Wish()
    renderer.load(Bank(sound, PAUSE, FADE))
    for frames, request in blocks:
        if isinstance(request, tuple):
            fields[at.LOOP] = packed_loop(*request)
            wish = replace(wish, serial=wish.serial + 1)
            fields[at.WISH] = wish.packed()
            reference.loop, reference.wish = request, wish
        elif request is not None:
            if request == "restart":  # the application names the place
                fields[at.START] = reference.start = reference.loop[0]
            changed = {
                "restart": replace(wish, paused=False, restarts=wish.restarts + 1),
                "pause": replace(wish, paused=True),
                "resume": replace(wish, paused=False),
                "stop": replace(wish, stimulus=-1, paused=False),
            }.get(request) or replace(wish, stimulus=int(request), paused=False)
            wish = replace(changed, serial=wish.serial + 1)
            fields[at.WISH] = wish.packed()
            reference.wish = wish
        out = np.full((frames, 4), 9.0, dtype=np.float32)  # a device's buffer holds old sound on entry
        renderer.render(out)
        expected = np.stack([reference.frame() for _ in range(frames)])
        np.testing.assert_array_equal(out[:, :2], expected)
        np.testing.assert_array_equal(out[:, 2:], 0)


@given(st.builds(Wish, st.integers(0, 2**30 - 1), st.integers(-1, 1000), st.booleans(), st.integers(0, 2**16 - 1)))
def test_a_wish_survives_its_packing(wish: Wish) -> None:
    assert Wish.unpacked(wish.packed()) == wish
    assert 0 <= wish.packed() < 2**63


@given(st.integers(0, 2**31 - 2), st.integers(1, 2**31 - 1))
def test_a_loop_survives_its_packing(start: int, end: int) -> None:
    assert unpacked_loop(packed_loop(start, end)) == (start, end)
    assert 0 < packed_loop(start, end) < 2**63


def ready(sound: np.ndarray, pause: int = PAUSE, fade: int = FADE) -> tuple[Renderer, np.ndarray]:
    fields = np.zeros(at.SIZE, dtype=np.int64)
    fields[at.WISH] = Wish().packed()
    renderer = Renderer(fields)
    renderer.load(Bank(sound, pause, fade))
    return renderer, fields


def played(renderer: Renderer, frames: int) -> np.ndarray:
    out = np.full((frames, 2), 9.0, dtype=np.float32)
    renderer.render(out)
    return out


def test_switch_keeps_every_frame_in_place() -> None:
    ramp = np.arange(1, 1001, dtype=np.float32)[None, :, None] / 2**12 * np.ones((2, 1, 2), dtype=np.float32)
    renderer, fields = ready(ramp)
    fields[at.WISH] = Wish(1, 0).packed()
    first = played(renderer, 300)
    fields[at.WISH] = Wish(2, 1).packed()
    second = played(renderer, 300)
    heard = np.concatenate([first, second])
    outside = np.ones(600, dtype=bool)
    outside[:FADE] = outside[300 : 300 + 2 * FADE] = False
    np.testing.assert_array_equal(heard[outside], ramp[0, :600][outside])


def test_x_to_its_twin_and_to_itself_fade_alike() -> None:
    twin = stimuli(1, 400)
    sound = np.concatenate([twin, twin])
    heard = []
    for target in (0, 1):
        renderer, fields = ready(sound)
        fields[at.WISH] = Wish(1, 0).packed()
        before = played(renderer, 100)
        fields[at.WISH] = Wish(2, target).packed()
        heard.append(np.concatenate([before, played(renderer, 100)]))
    np.testing.assert_array_equal(heard[0], heard[1])
    np.testing.assert_array_equal(heard[0][100 : 100 + FADE], (twin[0, 100 : 100 + FADE] * rise(FADE)[::-1, None]))


def test_the_passage_starts_again_after_its_pause() -> None:
    sound = stimuli(1)
    renderer, fields = ready(sound)
    fields[at.WISH] = Wish(1, 0).packed()
    heard = played(renderer, 2 * FRAMES + PAUSE)
    np.testing.assert_array_equal(heard[FRAMES : FRAMES + PAUSE], 0)
    np.testing.assert_array_equal(heard[FRAMES + PAUSE :], sound[0])


LONG = 400


def looping(first: int, end: int) -> tuple[Renderer, np.ndarray, np.ndarray]:
    """A renderer in a loop, with its stimuli: the same ramp twice, so that a sample tells its frame."""
    ramp = np.arange(1, LONG + 1, dtype=np.float32)[None, :, None] / 2**12 * np.ones((2, 1, 2), dtype=np.float32)
    renderer, fields = ready(ramp)
    fields[at.LOOP] = packed_loop(first, end)
    fields[at.WISH] = Wish(1, 0).packed()
    return renderer, fields, ramp[0]


def test_a_loop_plays_its_frames_and_no_others_faded_where_it_cuts_into_the_music() -> None:
    first, end = 100, 160
    renderer, _, ramp = looping(first, end)
    heard = played(renderer, 3 * (end - first + PAUSE))
    turns = heard.reshape(3, end - first + PAUSE, 2)
    np.testing.assert_array_equal(turns[:, end - first :], 0)
    inner = slice(FADE, end - first - FADE)
    for turn in turns:
        np.testing.assert_array_equal(turn[inner], ramp[first:end][inner])
        np.testing.assert_array_equal(turn[-PAUSE - FADE : -PAUSE], ramp[end - FADE : end] * rise(FADE)[::-1, None])
    np.testing.assert_array_equal(turns[1, :FADE], ramp[first : first + FADE] * rise(FADE)[:, None])


def test_a_switch_inside_a_loop_keeps_every_frame_in_place() -> None:
    first, end = 100, 300
    renderer, fields, ramp = looping(first, end)
    before = played(renderer, 80)
    fields[at.WISH] = Wish(2, 1).packed()
    heard = np.concatenate([before, played(renderer, 100)])
    outside = np.ones(180, dtype=bool)
    outside[:FADE] = outside[80 : 80 + 2 * FADE] = False
    np.testing.assert_array_equal(heard[outside], ramp[first : first + 180][outside])


def test_a_loop_that_ends_where_the_music_is_goes_on_from_its_start_after_the_pause_and_is_left_at_its_place() -> None:
    renderer, fields, ramp = looping(0, LONG)
    played(renderer, 150)
    fields[at.LOOP] = packed_loop(50, 150)
    fields[at.WISH] = Wish(2, 0).packed()
    faded = played(renderer, PAUSE)
    np.testing.assert_array_equal(faded[:FADE], ramp[150 : 150 + FADE] * rise(FADE)[::-1, None])
    np.testing.assert_array_equal(faded[FADE:], 0)
    np.testing.assert_array_equal(played(renderer, 60)[FADE:], ramp[50 + FADE : 110])
    fields[at.LOOP] = packed_loop(0, LONG)
    fields[at.WISH] = Wish(3, 0).packed()
    left = played(renderer, 200)
    np.testing.assert_array_equal(left[2 * FADE :], ramp[110 + 2 * FADE : 310])
    count = int(fields[at.AUDITIONS])
    ring = fields[at.RING : at.RING + 3 * count].reshape(count, 3).tolist()
    assert ring == [[0, 0, 150 + FADE], [0, 50, 110 + FADE]]


def test_a_loop_that_is_none_of_this_passage_is_not_played() -> None:
    renderer, _, ramp = looping(100, LONG + 1)
    np.testing.assert_array_equal(played(renderer, LONG)[FADE:], ramp[FADE:])


def test_auditions_tell_what_was_heard_from_where_to_where() -> None:
    renderer, fields = ready(stimuli(2))
    fields[at.WISH] = Wish(1, 0).packed()
    played(renderer, 30)
    fields[at.WISH] = Wish(2, 1).packed()
    played(renderer, FRAMES + PAUSE)
    fields[at.WISH] = Wish(3, -1).packed()
    played(renderer, 40)
    count = int(fields[at.AUDITIONS])
    ring = fields[at.RING : at.RING + 3 * count].reshape(count, 3).tolist()
    assert ring == [[0, 0, 30 + FADE], [1, 30 + FADE, FRAMES], [1, 0, 30 + FADE]]


@pytest.mark.parametrize("fade", [1, 2, 240])
def test_gains_of_a_fade_rise_and_its_halves_mirror(fade: int) -> None:
    gains = rise(fade).astype(np.float64)
    assert np.all(np.diff(gains) > 0)
    assert gains.min() > 0
    assert gains.max() < 1 or fade == 1
    np.testing.assert_allclose(gains + gains[::-1], 1, atol=1e-6)


def test_before_anything_is_loaded_every_block_is_silent() -> None:
    fields = np.zeros(at.SIZE, dtype=np.int64)
    renderer = Renderer(fields)
    fields[at.WISH] = Wish(1, 0).packed()
    np.testing.assert_array_equal(played(renderer, 64), 0)
