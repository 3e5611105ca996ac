"""A rate that the device refuses, where nothing is sealed any more: practice and free listening."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import scipy.signal

from audio.engine import devices
from audio.engine.devices import Playable
from sessions.casebook.store import Casebook
from sessions.commands import at_terminal, free_listen, free_screen
from sessions.commands.free_page import FreePage
from sessions.listening import evening, free_sounds, players
from sessions.listening.free_sounds import FreeSounds
from tests.command_line import earwitness
from tests.fakes import SilentPlayer
from tests.real_gear import match_volts


class Unplayed(SilentPlayer):
    """A player that can be entered."""

    def __exit__(self, *exc: object) -> None:
        self.asked.append("left")


@pytest.fixture(autouse=True)
def cd_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal, and a device that takes 44.1 kHz alone."""

    def playable(name: str | None, channels: int, rates_hz: Sequence[int] = ()) -> Playable:
        return Playable("box", frozenset({44_100}))

    monkeypatch.setattr(devices, "playable", playable)
    for module in (at_terminal, free_listen):
        monkeypatch.setattr(module, "check_terminal", lambda: None)


def test_practice_is_refused_in_the_words_of_listening_with_what_to_do(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    practised = earwitness(sealed.folder, "rehearse", "evening", "--listener", "Ada")
    assert practised.returncode == 2
    refused = "the device does not play 48000 Hz (it takes: 44100); set the device to 48000 Hz and listen again; or,"
    assert refused in practised.stderr
    assert "plan close evening" in practised.stderr
    assert sealed.query("SELECT * FROM sessions") == []


def test_free_listening_prepares_all_setups_again_at_a_rate_that_the_device_takes(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Against another resampler, scipy's, of the files that the match sheet names."""
    played: list[FreeSounds] = []

    def screen(page: FreePage) -> None:
        for _ in page.stretches:
            played.append(page.listening.loaded)
            page.turn("n")
            page.bring()

    monkeypatch.setattr(free_screen, "run", screen)
    monkeypatch.setattr(players, "player_on", lambda *_: Unplayed())
    assert earwitness(casebook.folder, "listener", "add", "Ada").returncode == 0
    done = earwitness(casebook.folder, "listen", "--free")
    told = "for this evening all are prepared again at 44100 Hz, in the same way"
    assert (done.returncode, told in done.stdout + done.stderr) == (0, True), done.stderr
    assert [(one.stretch.name, one.rate_hz) for one in played] == [("drums 1", 44_100), ("strings 1", 44_100)]
    monkeypatch.undo()
    for one in played:
        setups = evening.setups_of(casebook, (), "")
        own = free_sounds.ready(casebook, setups, one.stretch)
        assert own.rate_hz == 48_000
        other = scipy.signal.resample_poly(own.sounds.astype(float), 147, 160, axis=1)
        inside = slice(4410, -4410)
        apart = one.sounds[:, inside] - other[:, inside]
        assert (
            20 * np.log10(np.linalg.norm(apart) / np.linalg.norm(other[:, inside])) < -35
        )  # their filters' top octave
    assert casebook.query("SELECT * FROM match_sheets")[1:] == []  # the sheet in force stays


def test_free_listening_to_gear_that_was_read_at_another_rate_is_refused(routed: Casebook) -> None:
    match_volts(routed)
    assert earwitness(routed.folder, "listener", "add", "Ada").returncode == 0
    done = earwitness(routed.folder, "listen", "--free")
    assert done.returncode == 2
    assert done.stderr.strip().endswith(
        "the device does not play 48000 Hz (it takes: 44100); set the device to 48000 Hz and listen again"
    )
    assert routed.query("SELECT * FROM sessions") == []
