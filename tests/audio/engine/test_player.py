"""The player: what comes out is what went in, bit for bit, and whatever ends or stands still is a fault.

On a real PortAudio stream and a JACK dummy server where that is what is claimed; else on a device without hardware.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from audio.engine import devices
from audio.engine import fields as at
from audio.engine.playback import Audition, Faults
from audio.engine.playback_engine import EngineProcess
from audio.engine.playback_process import Engine
from audio.engine.player import Player
from audio.errors import DeviceError
from tests.jack import Server, record
from tests.virtual_device import Flags, VirtualDevice

ROOT = Path(__file__).parents[3]
RATE = 48_000
PACE = 4.0  # times real time, where no clock is asked
FADE = 240  # 5 ms
PAUSE = 24_000  # 500 ms
TRIES = 6  # a loaded machine makes the dummy server stumble; a run with a fault on record proves nothing either way


def ramp(frames: int, offset: float = 0.0) -> np.ndarray:
    """Stereo in which every frame says its own number: whole multiples of 2^-22, the right channel negative."""
    numbers = (np.arange(1, frames + 1) / 2**22 + offset).astype(np.float32)
    return np.stack([numbers, -numbers], axis=1)


def expected(stimuli: list[np.ndarray], heard: list[Audition]) -> np.ndarray:
    """What a listener must get: the auditions in a row, each fading in and out except at a passage's own ends.

    Written from the description: 5 ms raised-cosine fades on the sounding side of every request, the music's clock
    running on, and 500 ms of silence before a passage starts again.
    """
    up = 0.5 - 0.5 * np.cos(np.pi * (np.arange(FADE) + 0.5) / FADE)
    frames = stimuli[0].shape[0]
    parts = []
    for place, audition in enumerate(heard):
        sound = stimuli[audition.stimulus][audition.from_frame : audition.to_frame].copy()
        requested = place == 0 or heard[place - 1].to_frame != frames
        if requested:
            sound[:FADE] *= up[:, None].astype(np.float32)
        if audition.to_frame != frames:
            sound[-FADE:] *= up[::-1, None].astype(np.float32)
        parts.append(sound)
        if audition.to_frame == frames:
            parts.append(np.zeros((PAUSE, sound.shape[1]), dtype=np.float32))
    return np.concatenate(parts)


def undisturbed(act: Callable[[], tuple[np.ndarray, Faults, int]]) -> np.ndarray:
    """The first recording in which neither side counted a fault."""
    for _ in range(TRIES):
        samples, faults, overflows = act()
        if faults == Faults() and overflows == 0:
            return samples
    pytest.fail(f"no run without a playback fault in {TRIES}: {faults}, {overflows} recorder overflows")


def sounding(samples: np.ndarray) -> np.ndarray:
    """From the first to the last frame that is not silent."""
    loud = np.flatnonzero(np.any(samples != 0, axis=1))
    return samples[loud[0] : loud[-1] + 1]


def session(server: Server, stimuli: list[np.ndarray], steps: list[tuple[str, float]]) -> np.ndarray:
    """Play a session of requests (with the seconds to wait after each) and compare its recording; returns it."""

    def act() -> tuple[np.ndarray, Faults, int]:
        with Player() as player:
            player.load(stimuli, RATE)
            before = player.faults()
            with record(server) as recording:
                request(player, steps)
                heard.append(player.auditions())
            after = player.faults()
        faults = Faults(*(a - b for a, b in zip(counts(after), counts(before), strict=True)))
        return recording.samples, faults, recording.overflows

    heard: list[list[Audition]] = []
    got = sounding(undisturbed(act))
    check(got, stimuli, heard[-1])
    return got


def virtual_session(stimuli: list[np.ndarray], steps: list[tuple[str, float]]) -> np.ndarray:
    """The same on a device without hardware, quicker than real time."""
    device = VirtualDevice(PACE)
    with Player(engine=device.engine) as player:
        player.load(stimuli, RATE)
        request(player, [(step, seconds / PACE) for step, seconds in steps])
        heard, faults = player.auditions(), player.faults()
    assert faults == Faults()
    got = sounding(device.played)
    check(got, stimuli, heard)
    return got


def request(player: Player, steps: list[tuple[str, float]]) -> None:
    for step, seconds in steps:
        player.play(int(step)) if step.isdigit() else getattr(player, step)()
        time.sleep(seconds)
    player.stop()


def check(got: np.ndarray, stimuli: list[np.ndarray], heard: list[Audition]) -> None:
    both = [np.repeat(sound, 2, axis=1) if sound.shape[1] == 1 else sound for sound in stimuli]
    np.testing.assert_array_equal(got, sounding(expected(both, heard)))


def counts(faults: Faults) -> list[int]:
    return [faults.underruns, faults.overruns, faults.stalls, faults.callback_errors, faults.switch_failures]


@pytest.fixture
def player() -> Iterator[Player]:
    """A player on a device without hardware."""
    with Player(engine=VirtualDevice().engine) as made:
        yield made


@pytest.fixture
def process_player(monkeypatch: pytest.MonkeyPatch) -> Iterator[Player]:
    """A player whose engine is a process of its own, with a device without hardware in it."""
    monkeypatch.chdir(ROOT)  # where the process finds `tests`
    with Player(engine=lambda: EngineProcess("tests.virtual_device")) as made:
        yield made


def process_of(player: Player) -> subprocess.Popen[bytes]:
    engine = player._engine
    assert isinstance(engine, EngineProcess)
    return engine.process


SWITCHES = [("0", 0.3), ("1", 0.25), ("2", 0.2), ("2", 0.2), ("0", 0.2)]


@pytest.mark.jack
def test_what_comes_out_is_bit_for_bit_what_went_in_through_switches(server: Server) -> None:
    session(server, [ramp(96_000), ramp(96_000, 0.25), ramp(96_000)], SWITCHES)


def test_what_is_rendered_is_bit_for_bit_what_went_in_through_switches() -> None:
    virtual_session([ramp(96_000), ramp(96_000, 0.25), ramp(96_000)], SWITCHES)


def test_the_passage_loops_with_its_pause() -> None:
    got = virtual_session([ramp(20_000), ramp(20_000, 0.5)], [("0", 0.2), ("1", 1.6)])
    silent = np.flatnonzero(np.all(got == 0, axis=1))
    assert silent.size >= PAUSE


def test_restart_and_a_mono_stimulus_on_both_channels() -> None:
    mono = [ramp(96_000)[:, :1], ramp(96_000, 0.25)[:, :1]]
    got = virtual_session(mono, [("1", 0.2), ("restart", 0.2)])
    np.testing.assert_array_equal(got[:, 0], got[:, 1])


def test_pause_holds_the_place(player: Player) -> None:
    player.load([ramp(96_000)], RATE)
    player.play(0)
    time.sleep(0.3)
    player.pause()
    time.sleep(0.2)
    held = player.position()
    time.sleep(0.2)
    assert player.position() == held
    assert (held.stimulus, held.playing) == (None, False)
    player.resume()
    time.sleep(0.2)
    player.stop()
    before, after = player.auditions()
    assert before.to_frame == held.frame == after.from_frame


def test_a_new_trial_is_loaded_without_stopping_the_stream(player: Player) -> None:
    player.load([ramp(48_000)], RATE)
    player.play(0)
    time.sleep(0.2)
    engine = player._engine
    frames = player.busy()["frames"]
    player.load([ramp(24_000, 0.5), ramp(24_000)], RATE)
    assert player._engine is engine
    assert player.busy()["frames"] > frames
    assert player.position().playing is False
    player.auditions()
    player.play(1)
    time.sleep(0.2)
    player.stop()
    assert [(a.stimulus, a.from_frame) for a in player.auditions()] == [(1, 0)]


def test_the_stream_has_run_silent_before_anything_can_be_heard(player: Player) -> None:
    """The first blocks of a stream can be lost; half a second of them holds nothing."""
    player.load([ramp(48_000)], RATE)
    assert player.busy()["frames"] >= RATE / 2
    assert player.auditions() == []


@pytest.mark.jack
def test_a_device_is_asked_whether_it_plays_what_is_needed(server: Server) -> None:
    """The server plays four channels at 48 kHz, and nothing else."""
    assert devices.playable(None, 2, [44_100]).rates_hz == {48_000}
    assert devices.playable("system", 4).rates_hz == {48_000}
    with pytest.raises(DeviceError, match=r"has 4 output channels, but 5 are needed"):
        devices.playable(None, 5)
    with pytest.raises(DeviceError, match="no sound device called 'kitchen'"):
        devices.playable("kitchen", 2, [48_000])


@pytest.mark.jack
def test_devices_are_listed_afresh_and_chosen_by_name(server: Server) -> None:
    found = devices.devices()
    assert [
        (found_one.name, found_one.outputs, found_one.inputs, found_one.default_rate_hz) for found_one in found
    ] == [("system", 4, 4, RATE)]
    assert devices.choose(found, None) == devices.choose(found, "SYSTEM") == found[0]
    assert devices.choose(found, "system, JACK Audio Connection Kit") == found[0]
    with pytest.raises(DeviceError, match="no sound device called 'kitchen'; there are: system, JACK"):
        devices.choose(found, "kitchen")
    twins = [devices.Device("USB audio", name, 2, 0, RATE, False, False) for name in ("ALSA", "JACK")]
    with pytest.raises(DeviceError, match="more than one sound device answers to 'usb'"):
        devices.choose(twins, "usb")
    server.stop()
    assert devices.devices() == []  # a list made once would still name the device that is gone


@pytest.mark.jack
def test_a_device_without_the_rate_or_the_channels_says_so(server: Server) -> None:
    with Player() as player, pytest.raises(DeviceError, match=r"cannot play 44100 Hz \(it takes: 48000\)"):
        player.load([ramp(44_100)], 44_100)
    wide = np.zeros((4800, 6), dtype=np.float32)
    with Player() as player, pytest.raises(DeviceError, match="has 4 output channels, but 6 are needed"):
        player.load([wide], RATE)


@pytest.mark.jack
def test_without_a_device_playing_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    with Player() as player, pytest.raises(DeviceError, match="no sound device to play on"):
        player.load([ramp(4800)], RATE)


def test_without_the_library_playing_says_how_to_get_it() -> None:
    """A child in which the dynamic loader finds no PortAudio, as on a machine that lacks it."""
    program = """
import ctypes.util
ctypes.util.find_library = lambda name: None
from audio.engine import portaudio
portaudio.main()
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    answer = json.loads(done.stdout.splitlines()[-1])
    assert "apt install libportaudio2" in answer["error"]


def test_a_killed_engine_is_a_fault_and_the_next_trial_starts_another(process_player: Player) -> None:
    process_player.load([ramp(48_000)], RATE)
    process_player.play(0)
    time.sleep(0.2)
    process_of(process_player).kill()
    process_of(process_player).wait()
    assert process_player.faults().stalls == 1
    process_player.load([ramp(48_000)], RATE)
    process_player.play(0)
    time.sleep(0.2)
    assert process_player.position().playing
    assert process_player.faults().stalls == 1


@pytest.mark.jack
def test_a_dead_sound_server_is_a_fault_and_playing_goes_on_when_it_is_back(server: Server) -> None:
    with Player() as player:
        player.load([ramp(480_000)], RATE)
        player.play(0)
        time.sleep(0.2)
        server.kill()
        give_up = time.monotonic() + 10
        while player.faults().stalls == 0:
            assert time.monotonic() < give_up, "the stall was not noticed"
            time.sleep(0.05)
        with pytest.raises(DeviceError, match="no sound device"):
            player.load([ramp(48_000)], RATE)
        server.start()
        player.load([ramp(48_000)], RATE)
        player.play(0)
        time.sleep(0.2)
        assert player.position().playing


def test_the_engine_ends_with_a_killed_application() -> None:
    program = """
import time
import numpy as np
from audio.engine.playback_engine import EngineProcess
from audio.engine.player import Player
player = Player(engine=lambda: EngineProcess("tests.virtual_device"))
player.load([np.zeros((48000, 2), dtype=np.float32)], 48000)
player.play(0)
print(player._engine.process.pid, flush=True)
time.sleep(60)
"""
    application = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert application.stdout is not None
    engine = int(application.stdout.readline())
    application.send_signal(signal.SIGKILL)
    application.wait()
    application.stdout.close()
    give_up = time.monotonic() + 10  # by itself it would play on for ever; a busy machine is no failure
    while alive(engine):
        assert time.monotonic() < give_up, "the engine outlived its application"
        time.sleep(0.02)


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    with open(f"/proc/{process}/stat") as stat:
        return stat.read().rsplit(")", 1)[1].split()[0] != "Z"


def test_an_error_in_the_callback_is_counted_and_heard_as_silence() -> None:
    fields = np.zeros(at.SIZE, dtype=np.int64)
    engine = Engine(fields)

    def fail(out: np.ndarray) -> None:
        raise ZeroDivisionError

    engine.renderer.render = fail  # type: ignore[method-assign]
    out = np.full((64, 2), 7.0, dtype=np.float32)
    engine.fill(out, 64, None, Flags())
    assert fields[at.CALLBACK_ERRORS] == 1
    np.testing.assert_array_equal(out, 0)


def test_underruns_are_counted_once_the_stream_is_ready() -> None:
    fields = np.zeros(at.SIZE, dtype=np.int64)
    engine = Engine(fields)
    flags = Flags(underflow=True)
    out = np.zeros((64, 2), dtype=np.float32)
    engine.fill(out, 64, None, flags)
    assert fields[at.UNDERRUNS] == 0
    engine._ready = True
    engine.fill(out, 64, None, flags)
    assert fields[at.UNDERRUNS] == 1


def test_a_stopped_engine_process_is_noticed_as_a_stall(process_player: Player) -> None:
    process_player.load([ramp(48_000)], RATE)
    process_player.play(0)
    time.sleep(0.1)
    os.kill(process_of(process_player).pid, signal.SIGSTOP)
    give_up = time.monotonic() + 5
    while process_player.faults().stalls == 0:
        assert time.monotonic() < give_up
        time.sleep(0.05)


def test_stimuli_that_differ_in_length_are_refused() -> None:
    with Player() as player, pytest.raises(ValueError, match="equally long"):
        player.load([ramp(100), ramp(101)], RATE)


def test_a_loop_is_played_from_its_first_frame_to_its_last_until_the_next_load() -> None:
    device = VirtualDevice(PACE)
    sound, first, end = ramp(2 * RATE), 20_001, 44_777
    with Player(engine=device.engine) as player:
        player.load([sound, sound], RATE)
        player.loop(first, end)
        player.play(0)
        time.sleep(1.3 / PACE)
        player.play(1)
        time.sleep(1.0 / PACE)
        player.restart()
        time.sleep(0.2 / PACE)
        player.stop()
        heard = player.auditions()
        with pytest.raises(ValueError, match="a loop lies in the passage's 96000 frames"):
            player.loop(0, 2 * RATE + 1)
        player.load([sound, sound], RATE)
        played_so_far = len(device.played)
        player.play(0)
        time.sleep(0.3 / PACE)
        player.stop()
        assert player.auditions()[0].from_frame == 0
    assert heard[0] == Audition(0, first, end)
    assert heard[-1].from_frame == first
    assert {one.stimulus for one in heard} == {0, 1}
    assert all(first <= one.from_frame < one.to_frame <= end for one in heard)
    samples = device.played[:played_so_far]
    begin = np.flatnonzero(samples[:, 0])[0]
    turn = samples[begin : begin + end - first]
    np.testing.assert_array_equal(turn[FADE:-FADE], sound[first + FADE : end - FADE])
    assert samples[:, 0].max() <= sound[end - 1, 0]
    assert sum(one.to_frame - one.from_frame for one in heard) == np.count_nonzero(samples[:, 0])
