"""The time left that `match mic` tells, against the lengths of what it really plays afterwards."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.engine.recording import Recording
from audio.engine.routes import parse
from demo_tracks import tracks
from sessions.casebook.store import open_casebook
from sessions.preparation import match_real_gear
from sessions.preparation.microphone_pass import MicrophoneWish
from sessions.preparation.reading_time import DEVICE_S, ROUND_TO_S
from sessions.preparation.selection import select
from tests.command_line import earwitness
from tests.room import Room, Speaker


class TimedRoom(Room):
    """A room that notes how long each signal is, among what was told."""

    def __init__(self, speakers: list[Speaker], told: list[float | str]) -> None:
        super().__init__(speakers)
        self.told = told

    def record(self, signal: np.ndarray, *others: Any, **named: Any) -> Recording:
        self.told.append(len(signal) / others[2])
        return super().record(signal, *others, **named)


def test_the_time_left_is_that_of_what_is_still_played(tmp_path: Path) -> None:
    book = tmp_path / "book"
    for words in (
        ("new", str(book)),
        ("setup", "add", "sallow", "--route", "room:1,2"),
        ("setup", "add", "bracken", "--route", "room:3,4"),
        ("track", "add", "drums", "--music", str(tracks.path("drums"))),
        ("passage", "add", "drums", "--from", "1", "--to", "4"),
    ):
        assert earwitness(book, *words).returncode == 0
    told: list[float | str] = []
    room = TimedRoom([Speaker(-20.0, 3.0 + place / 10) for place in range(4)], told)
    with open_casebook(book) as casebook:
        wish = MicrophoneWish(mic=parse("room:1", "--mic"), positions=2, repeatability_db=0.3)
        match_real_gear.by_microphone(
            casebook, room, select(casebook, (), ()), wish, moved=lambda place: None, led=lambda setup: None,
            progress=told.append,
        )  # fmt: skip
    said = [(place, text) for place, text in enumerate(told) if isinstance(text, str) and "left" in text]
    assert len(said) == 2 * 2 * 3  # passes, positions, silence and setups
    assert "reading bracken (2 of 2) at position 2 of 2 …" in said[-1][1]
    for place, text in said:
        minutes, seconds = re.findall(r"about (\d+):(\d\d) left", text)[0]
        lengths = [one for one in told[place:] if isinstance(one, float)]
        expected = sum(lengths) + DEVICE_S * len(lengths)
        assert 60 * int(minutes) + int(seconds) == pytest.approx(expected, abs=ROUND_TO_S + 3)  # 3: the arrivals' take
