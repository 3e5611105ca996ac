"""The doctor's loop: what each kind of way does to the probe; a loop by arithmetic, and a real one on a JACK server."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly

from audio.engine import checkup
from audio.engine.recorder import DeviceRecorder
from audio.engine.routes import Route
from tests.jack import Server
from tests.jack_room import jack_room
from tests.room import Room, Speaker

RATE = 48_000


def way(heard: np.ndarray, delay: int = 300) -> np.ndarray:
    return np.concatenate([np.zeros(delay), heard, np.zeros(9000)])


@pytest.fixture(scope="module")
def sent() -> np.ndarray:
    return checkup.probe(RATE)[:, 0]


def test_a_digital_way_is_bit_exact(sent: np.ndarray) -> None:
    found = checkup.judge(sent, way(sent).astype(np.float32), RATE, 64)
    assert (found.heard, found.bit_exact, found.words) == (True, True, ())
    assert found.delay_frames == pytest.approx(300, abs=0.01)


def test_an_analogue_way_has_gain_delay_and_noise_but_no_trouble(sent: np.ndarray) -> None:
    rng = np.random.default_rng(1)
    heard = way(0.7 * sent) + 1e-5 * rng.standard_normal(sent.size + 9300)
    found = checkup.judge(sent, heard, RATE, 64)
    assert (found.heard, found.bit_exact, found.words) == (True, False, ())
    assert found.gain_db == pytest.approx(20 * np.log10(0.7), abs=0.01)


def test_each_trouble_is_said(sent: np.ndarray) -> None:
    def words(heard: np.ndarray) -> str:
        return " ".join(checkup.judge(sent, heard, RATE, 64).words)

    assert "nothing of the signal comes back" in words(way(np.zeros(sent.size)))
    assert "polarity is turned" in words(way(-sent))
    squeezed = np.tanh(30 * sent) / 30
    assert "a step of 20 dB came back as" in words(way(squeezed))
    rng = np.random.default_rng(2)
    assert "the sound is changed on the way" in words(way(sent) + 0.02 * rng.standard_normal(sent.size + 9300))
    slow = resample_poly(sent, 10_001, 10_000)
    assert "slips by" in words(way(slow))
    assert "no block size" in " ".join(checkup.judge(sent, way(sent), RATE, None).words)


def test_the_loop_is_played_and_heard_on_the_first_channels_alone() -> None:
    ear = Route("room", (0,))
    found = checkup.loop(Room([Speaker(0, 0)], noise_dbfs=-400, latency_frames=777), ear, ear, RATE)
    assert (found.bit_exact, found.smallest_block, found.words) == (True, checkup.BLOCKS[0], ())
    assert found.delay_frames == pytest.approx(777, abs=0.01)
    assert found.gain_db == pytest.approx(0, abs=1e-6)
    deaf = checkup.loop(Room([Speaker(-200, 0)]), Route("room", (0,)), ear, RATE)
    assert not deaf.heard


@pytest.mark.parametrize(("below", "smallest"), [(64, 64), (500, 512), (4096, None)])
def test_the_smallest_block_is_the_last_that_did_not_stumble(below: int, smallest: int | None) -> None:
    way = Route("room", (0,))
    assert checkup.smallest_block(Room([Speaker()], stumbles_below=below), way, way, RATE) == smallest


def test_a_stumble_as_a_stream_starts_is_no_verdict_on_its_blocks() -> None:
    way = Route("room", (0,))
    assert checkup.smallest_block(Room([Speaker()], stumbles=1), way, way, RATE) == checkup.BLOCKS[0]


@pytest.mark.jack
def test_a_real_loop_on_a_sound_server_is_bit_exact_and_a_period_late(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checkup, "BLOCKS", (server.period,))  # which blocks stumble is the machine's affair
    with jack_room(server, Room([Speaker(0, 0)], noise_dbfs=-400)):
        found = checkup.loop(DeviceRecorder(), Route("room", (0,)), Route("room", (0,)), RATE)
    assert found.bit_exact
    assert found.delay_frames == pytest.approx(server.period, abs=0.01)
    assert found.gain_db == pytest.approx(0, abs=1e-6)
