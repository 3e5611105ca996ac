"""Switching through silence: the same steps and the same time whatever changes, and no sound when a switch fails."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
import pytest

from audio.engine.interrupted import InterruptedPlayer
from audio.engine.player import Player
from audio.engine.switches import SwitchError
from tests.jack import Server
from tests.jack_room import jack_room
from tests.room import Room, Speaker
from tests.virtual_device import VirtualDevice

RATE = 48_000
HOLD_S = 0.4
JITTER_S = 0.1  # of the device's blocks and of threads on a busy machine


class Lever:
    """A switch by hand of the test."""

    def __init__(self) -> None:
        self.asked: list[tuple[int, float]] = []
        self.takes_s = 0.0
        self.broken = False

    def to(self, place: int, seconds: float) -> None:
        self.asked.append((place, seconds))
        time.sleep(min(self.takes_s, seconds))
        if self.broken:
            raise SwitchError("the lever broke")

    def close(self) -> None:
        self.asked.append((-1, 0.0))


@pytest.fixture
def lever() -> Lever:
    return Lever()


@pytest.fixture
def device() -> VirtualDevice:
    return VirtualDevice(latency_s=0.15)


@pytest.fixture
def player(device: VirtualDevice, lever: Lever) -> Iterator[InterruptedPlayer]:
    tones = [np.full((4 * RATE, 2), level, dtype=np.float32) for level in (0.25, 0.5)]
    one = Player(routes=[(0, 1), (0, 1)], engine=device.engine)
    with InterruptedPlayer([one], lambda place: 0, HOLD_S, lever, 0.1) as made:
        made.load([*tones, tones[0]], RATE, [0, 1, 0])
        yield made


def wait_playing(player: InterruptedPlayer, seconds: float = 3.0) -> None:
    give_up = time.monotonic() + seconds
    while not player.position().playing:
        assert time.monotonic() < give_up, "it does not play"
        time.sleep(0.005)


def test_every_request_takes_the_same_silence_changed_or_not(
    device: VirtualDevice, player: InterruptedPlayer, lever: Lever
) -> None:
    for index, takes in ((0, 0.0), (1, 0.2), (1, 0.0), (2, 0.1), (0, 0.0)):
        lever.takes_s = takes
        player.play(index)
        time.sleep(0.05)
        wait_playing(player)
        time.sleep(0.3)
    player.stop()
    assert [place for place, _ in lever.asked] == [0, 1, 1, 0, 0]
    assert all(seconds == pytest.approx(HOLD_S - 0.1) for _, seconds in lever.asked)
    sounding = np.concatenate([[0], (device.played[:, 0] != 0).astype(np.int8), [0]])
    begins, ends = np.flatnonzero(np.diff(sounding) == 1), np.flatnonzero(np.diff(sounding) == -1)
    assert len(begins) == 5
    silences = (begins[1:] - ends[:-1]) / RATE
    latency = player._players[0].latency_s
    assert silences.min() >= HOLD_S
    # every silence lasts hold plus latency plus the asking side's waking up; a block of the device at most between them
    assert np.ptp(silences) < 0.06
    assert silences.max() < HOLD_S + latency + 0.15


def test_the_place_in_the_music_is_held(player: InterruptedPlayer) -> None:
    player.play(0)
    wait_playing(player)
    time.sleep(0.5)
    player.play(1)
    time.sleep(0.1)
    held = player.position()
    assert (held.stimulus, held.playing) == (None, False)
    time.sleep(0.1)
    assert player.position() == held
    wait_playing(player)
    assert 0 <= player.position().frame - held.frame < 0.1 * RATE
    player.stop()
    first, second = player.auditions()
    assert (first.stimulus, second.stimulus) == (0, 1)
    assert 0 <= first.to_frame - second.from_frame < 0.1 * RATE


def test_a_failing_switch_stays_silent_and_is_counted(player: InterruptedPlayer, lever: Lever) -> None:
    lever.broken = True
    player.play(1)
    time.sleep(HOLD_S + 0.5)
    assert not player.position().playing
    assert player.faults().switch_failures == 1
    assert player.trouble() == "the lever broke"
    lever.broken = False
    player.play(1)
    wait_playing(player)
    assert player.faults().switch_failures == 1


def test_a_loop_asks_nothing_of_the_switch_and_is_kept_through_switches_and_pauses(
    player: InterruptedPlayer, lever: Lever
) -> None:
    first, end = RATE, RATE + RATE // 2
    player.play(0)
    wait_playing(player)
    player.loop(first, end)
    places = []
    for act in (lambda: None, lambda: player.play(1), player.restart, player.pause, player.resume):
        act()
        give_up = time.monotonic() + HOLD_S + 0.9
        while time.monotonic() < give_up:
            where = player.position()
            if where.playing:
                places.append(where.frame)
            time.sleep(0.01)
    player.stop()
    assert [place for place, _ in lever.asked] == [0, 1, 1]
    assert first <= min(places)
    assert end < max(places) < end + RATE // 2  # in the silence after it
    before, *inside = player.auditions()
    assert before.from_frame == 0
    assert len(inside) >= 4
    assert all(first <= heard.from_frame < heard.to_frame <= end for heard in inside)


def test_only_the_last_of_hasty_requests_is_heard(player: InterruptedPlayer) -> None:
    for index in (0, 1, 0, 1):
        player.play(index)
        time.sleep(0.03)
    wait_playing(player)
    time.sleep(0.3)
    player.stop()
    assert {heard.stimulus for heard in player.auditions()} == {1}


def test_pause_while_the_switch_works_keeps_it_silent(player: InterruptedPlayer) -> None:
    player.play(0)
    player.pause()
    time.sleep(HOLD_S + 0.4)
    assert not player.position().playing
    player.resume()
    wait_playing(player)


def test_two_devices_take_turns_and_never_sound_together() -> None:
    sound = np.full((4 * RATE, 2), 0.25, dtype=np.float32)
    devices = [VirtualDevice(latency_s=0.05), VirtualDevice(latency_s=0.1)]
    players = [Player(routes=[(0, 1)] * 2, engine=device.engine) for device in devices]
    with InterruptedPlayer(players, lambda place: place, HOLD_S) as player:
        player.load([sound, sound], RATE, [0, 1])
        for index in (0, 1, 0):
            player.play(index)
            wait_playing(player)
            assert [each.position().playing for each in players] == [index == 0, index == 1]
            time.sleep(0.2)
        player.stop()
        assert [heard.stimulus for heard in player.auditions()] == [0, 0, 1]  # by device


def test_neither_ear_nor_screen_tells_which_of_two_devices_plays() -> None:
    """One answers 0.2 s sooner than the other: when it falls silent, sounds and is shown must not differ by that."""
    sound = np.full((30 * RATE, 2), 0.25, dtype=np.float32)
    devices = [VirtualDevice(latency_s=latency) for latency in (0.05, 0.25)]
    players = [Player(routes=[(0, 1)] * 2, engine=device.engine) for device in devices]
    asked, shown, frames = [], [], []
    with InterruptedPlayer(players, lambda place: place, HOLD_S) as player:
        player.load([sound, sound], RATE, [0, 1])
        for index in (0, 1, 1, 0, 0, 1):
            asked.append(time.monotonic())
            player.play(index)
            wait_playing(player)
            shown.append(time.monotonic() - asked[-1])
            frames.append(player.position().frame)
            time.sleep(0.4)
        asked.append(time.monotonic())
        player.pause()
        time.sleep(0.4)
        asked.append(time.monotonic())
        player.resume()
        time.sleep(0.6)
        asked.append(time.monotonic())
        player.stop()
        heard = [moments(each, device) for each, device in zip(players, devices, strict=True)]
    begins, ends = (np.sort(np.concatenate(own)) for own in zip(*heard, strict=True))
    waits = begins[:6] - np.array(asked)[:6]
    assert np.ptp(waits) < JITTER_S, waits
    assert np.abs(waits - shown).max() < JITTER_S  # it is shown when it is heard
    ended = ends - np.array(asked)[[1, 2, 3, 4, 5, 6, 8]]  # by the next switch, the pause and the stop
    assert np.ptp(ended) < JITTER_S, ended
    heard_s = np.diff(frames) / RATE  # it goes on where it stopped, by one clock for both
    assert np.ptp(heard_s) < JITTER_S, heard_s


def test_a_loop_begins_at_one_moment_whichever_of_two_devices_plays() -> None:
    """One answers 0.2 s sooner: what is heard of the loop, and where it is shown to be, must not differ by that."""
    ramp = np.linspace(0.1, 0.9, 8 * RATE, dtype=np.float32)[:, None] * np.ones(2, dtype=np.float32)
    begun_s, shown = [], []
    for index in (0, 1):
        devices = [VirtualDevice(latency_s=latency) for latency in (0.05, 0.25)]
        players = [Player(routes=[(0, 1)] * 2, engine=device.engine) for device in devices]
        with InterruptedPlayer(players, lambda place: place, HOLD_S) as player:
            player.load([ramp, ramp], RATE, [0, 1])
            player.play(index)
            wait_playing(player)
            time.sleep(0.9)
            asked = time.monotonic()
            here = player.position().frame
            player.loop(here - RATE // 2, here)
            time.sleep(0.9)
            shown.append(player.position().frame - here + RATE // 2)
            player.stop()
            begins, _ = moments(players[index], devices[index])
            begun_s.append(begins[-1] - asked)
    assert begun_s == pytest.approx([0.5, 0.5], abs=JITTER_S)  # the pause after the loop, from its end on
    assert [frame / RATE for frame in shown] == pytest.approx([0.4, 0.4], abs=JITTER_S)


def moments(player: Player, device: VirtualDevice) -> tuple[np.ndarray, np.ndarray]:
    """When sound begins and ends at the ears: as the device was asked for it, and its latency later."""
    frames, moment = player.stamp()
    sounding = np.concatenate([[0], (device.played[:, 0] != 0).astype(np.int8), [0]])
    edges = [np.flatnonzero(np.diff(sounding) == step) for step in (1, -1)]
    begins, ends = (moment / 1e9 + (edge - frames) / RATE + device.latency_s for edge in edges)
    return begins, ends


def test_a_hasty_request_waits_equally_long_whatever_the_one_before_it_switches() -> None:
    """The way to one setup is quick, to the other it takes the whole hold."""

    class Uneven(Lever):
        def to(self, place: int, seconds: float) -> None:
            time.sleep(seconds if place else 0.0)

    one = Player(routes=[(0, 1)] * 2, engine=VirtualDevice().engine)
    sound = np.full((4 * RATE, 2), 0.25, dtype=np.float32)
    waited = []
    with InterruptedPlayer([one], lambda place: 0, HOLD_S, Uneven()) as player:
        player.load([sound, sound], RATE, [0, 1])
        for first in (0, 1):
            player.play(first)
            time.sleep(0.1)  # the switch has begun its work
            asked = time.monotonic()
            player.play(1)
            wait_playing(player)
            waited.append(time.monotonic() - asked)
            player.stop()
    assert waited[0] == pytest.approx(waited[1], abs=JITTER_S)


def test_after_a_failure_no_trial_comes_before_every_setup_was_reached(
    device: VirtualDevice, player: InterruptedPlayer, lever: Lever
) -> None:
    tones = [np.full((4 * RATE, 2), 0.25, dtype=np.float32)] * 2
    lever.broken = True
    player.play(1)
    time.sleep(HOLD_S + 0.5)
    assert player.faults().switch_failures == 1
    lever.asked.clear()
    with pytest.raises(SwitchError, match="the lever broke"):
        player.load(tones, RATE, [1, 0])
    assert [place for place, _ in lever.asked] == [0]
    lever.broken = False
    lever.asked.clear()
    player.load(tones, RATE, [1, 0])
    assert [place for place, _ in lever.asked] == [0, 1]  # in the order of the plan, whatever the trial plays
    player.load(tones, RATE, [1, 1])
    assert len(lever.asked) == 2


def test_paused_and_gone_on_while_the_switch_works_it_sounds(player: InterruptedPlayer) -> None:
    player.play(0)
    player.pause()
    time.sleep(HOLD_S + 0.16)  # when the device was to be asked already, and nothing is to be heard yet
    player.resume()
    wait_playing(player)
    time.sleep(0.5)
    player.stop()
    assert [heard.stimulus for heard in player.auditions()] == [0]


@pytest.mark.jack
def test_two_devices_take_turns_through_silence_and_their_clocks_are_compared(server: Server) -> None:
    from audio.engine import device_clocks

    sound = np.full((4 * RATE, 2), 0.25, dtype=np.float32)
    with jack_room(server, Room([Speaker(), Speaker()])):
        players = [Player("room", routes=[(0, 1)] * 2), Player("system", routes=[(2, 3)] * 2)]
        with InterruptedPlayer(players, lambda place: place, HOLD_S) as player:
            player.load([sound, sound], RATE, [0, 1])
            end = time.monotonic() + 7
            for index in (0, 1, 0):
                player.play(index)
                wait_playing(player)
                assert [each.position().playing for each in players] == [index == 0, index == 1]
                time.sleep(0.3)
            while time.monotonic() < end:
                player.position()
                time.sleep(0.01)
            player.stop()
            apart = device_clocks.difference(*player.clocks())
    assert apart is not None
    # one server, one clock; what is left is the stamps' jitter over some seconds, and it says how large that may be
    assert abs(apart.ppm) < max(60, 2 * apart.uncertainty_ppm)
    assert apart.uncertainty_ppm < 200
