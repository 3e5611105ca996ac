"""Routes: how they are written, and that every setup plays on its own channels and nowhere else."""

from __future__ import annotations

import itertools
import time
from typing import Any

import numpy as np
import pytest

from audio.engine import fields as at
from audio.engine.fields import Wish
from audio.engine.orders import Answer, Load, Open, line_of
from audio.engine.player import Player
from audio.engine.renderer import Bank, Renderer
from audio.engine.routes import Route, parse
from audio.errors import DeviceError
from tests.jack import Server, record
from tests.virtual_device import VirtualDevice

RATE = 48_000


def test_a_route_is_a_device_and_channels_counted_from_1() -> None:
    assert parse("box:3,4") == Route("box", (2, 3))
    assert parse("system, JACK Audio Connection Kit:1") == Route("system, JACK Audio Connection Kit", (0,))
    assert parse(":2") == Route(None, (1,))
    assert parse("hw:1,0:5,6") == Route("hw:1,0", (4, 5))  # a device's own colons stay its own
    assert parse("box:3,4").text == "box:3,4"


@pytest.mark.parametrize("text", ["box", "box:", "box:a", "box:0,1", "box:1,1", "box:1;2", "box:65"])
def test_what_is_no_route_is_refused(text: str) -> None:
    with pytest.raises(DeviceError, match="a route"):
        parse(text)


def test_each_stimulus_sounds_on_its_route_and_silence_everywhere_else() -> None:
    fields = np.zeros(at.SIZE, dtype=np.int64)
    renderer = Renderer(fields)
    rng = np.random.default_rng(3)
    sound = rng.uniform(-1, 1, (2, 400, 2)).astype(np.float32)
    renderer.load(Bank(sound, 10, 0, routes=[(0, 1), (4, 2)]))
    heard = []
    for serial, stimulus in enumerate((0, 1, 0), 1):
        fields[at.WISH] = Wish(serial=serial, stimulus=stimulus).packed()
        out = np.full((100, 6), 9.0, dtype=np.float32)
        renderer.render(out)
        heard.append(out)
    whole = np.concatenate(heard)
    expected = np.zeros((300, 6), dtype=np.float32)
    expected[:100, [0, 1]] = sound[0, :100]
    expected[100:200, [4, 2]] = sound[1, 100:200]
    expected[200:, [0, 1]] = sound[0, 200:300]
    np.testing.assert_array_equal(whole, expected)


def test_playing_from_a_place_begins_there() -> None:
    fields = np.zeros(at.SIZE, dtype=np.int64)
    renderer = Renderer(fields)
    sound = np.arange(1, 101, dtype=np.float32).reshape(1, 100, 1)
    renderer.load(Bank(sound, 10, 0))
    fields[at.START] = 40
    fields[at.WISH] = Wish(serial=1, stimulus=0, restarts=1).packed()
    out = np.zeros((8, 1), dtype=np.float32)
    renderer.render(out)
    np.testing.assert_array_equal(out[:, 0], np.arange(41, 49))


def test_stimuli_need_a_place_among_the_routes_and_their_width() -> None:
    sound = np.zeros((100, 2), dtype=np.float32)
    with pytest.raises(ValueError, match="need a place each"):
        Player(routes=[(0, 1), (2, 3)]).load([sound, sound], RATE, [0, 2])
    with pytest.raises(ValueError, match="equally many channels"):
        Player(routes=[(0, 1), (2,)]).load([sound, sound], RATE, [0, 1])
    with pytest.raises(ValueError, match="do not fit routes of 1"):
        Player(routes=[(0,), (1,)]).load([sound, sound], RATE, [0, 1])


def test_the_engine_is_told_as_much_whatever_plays_where() -> None:
    """Routes of one digit and of two, and every order of three stimuli: one message and one number of bytes."""
    told: list[tuple[bytes, int]] = []

    class Told(VirtualDevice):
        def engine(self) -> Any:
            made = super().engine()
            obey = made.obey

            def keeping(order: Open | Load, stimuli: np.ndarray | None = None) -> Answer:
                told.append((line_of(order), 0 if stimuli is None else stimuli.nbytes))
                return obey(order, stimuli)

            made.obey = keeping
            return made

    device = Told(pace=50.0)
    sound = np.zeros((100, 2), dtype=np.float32)
    with Player(routes=[(0, 1), (10, 11)], engine=device.engine) as player:
        for places in itertools.product((0, 1), repeat=3):
            player.load([sound] * 3, RATE, places)
    loads = [(len(line), size) for line, size in told if b'"Load"' in line]
    assert len(loads) == 8
    assert len(set(loads)) == 1


@pytest.mark.jack
def test_routes_arrive_on_the_right_channels_bit_for_bit(server: Server) -> None:
    """Ramps say their own frame number (whole steps of 2^-22), so each frame that arrives tells where it belongs."""
    numbers = (np.arange(1, 96_001) / 2**22).astype(np.float32)
    sounds = [np.stack([numbers, -numbers], axis=1), np.stack([numbers + 0.25, -numbers - 0.25], axis=1)]
    for _ in range(6):
        with Player(routes=[(0, 1), (2, 3)]) as player:
            player.load(sounds, RATE, [0, 1])
            before = player.faults()
            with record(server, channels=4) as heard:
                for index in (0, 1, 0, 1):
                    player.play(index)
                    time.sleep(0.2)
                player.stop()
            auditions = player.auditions()
            clean = player.faults() == before and heard.overflows == 0
        if clean:
            break
    assert clean, "every run stumbled"
    assert [audition.stimulus for audition in auditions] == [0, 1, 0, 1]
    samples = heard.samples
    first, second = np.any(samples[:, :2] != 0, axis=1), np.any(samples[:, 2:] != 0, axis=1)
    assert not np.any(first & second)
    assert first.any()
    assert second.any()
    np.testing.assert_array_equal(samples[:, 0], -samples[:, 1])
    np.testing.assert_array_equal(samples[:, 2], -samples[:, 3])
    begins = int(np.flatnonzero(first)[0])
    for place, audition in enumerate(auditions):
        own = samples[:, 0 if audition.stimulus == 0 else 2]
        inside = slice(audition.from_frame + 240, audition.to_frame - 240)  # between the 5 ms fades
        here = slice(begins + inside.start - auditions[0].from_frame, begins + inside.stop - auditions[0].from_frame)
        np.testing.assert_array_equal(own[here], sounds[audition.stimulus][inside, 0], err_msg=f"audition {place}")
