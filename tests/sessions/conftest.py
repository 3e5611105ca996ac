from __future__ import annotations

import logging
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from filelock import FileLock

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import loudspeakers, tracks
from sessions.casebook import catalogue, passages, playback_chain
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.preparation import giveaway_check, match_files, recording_folder
from sessions.preparation.selection import select
from tests.answered_plans import SETUPS
from tests.real_gear import add_music, match_volts

if TYPE_CHECKING:
    from playwright.sync_api import Browser

PIECES = ("strings", "drums")
LENGTH_S = 4.0
SHORT_S = 3.0


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """A folder that the first of several test processes makes and all read; whoever writes to it takes a copy."""
    shared = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent  # of all processes of this run, and of no other run
    home, made = shared / f"made-once-{name}", shared / f"made-once-{name}.done"
    with FileLock(shared / f"made-once-{name}.lock"):
        if not made.exists():
            shutil.rmtree(home, ignore_errors=True)  # of a process that failed in it
            home.mkdir()
            make(home)
            made.touch()
    return home


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for all tests of a module."""
    from tests.browsers import launched  # only where a browser is asked for

    with launched() as browser:
        yield browser


@pytest.fixture(scope="session")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folders of real recordings: the start of two demo pieces through two imaginary loudspeakers."""
    return made_once(tmp_path_factory, "rendered", _render)


def _render(home: Path) -> None:
    for name in ("sallow", "bracken"):
        (home / name).mkdir()
        for place, piece in enumerate(PIECES):
            whole = reading.read(tracks.path(piece))
            start = Clip(whole.samples[: round(LENGTH_S * whole.rate_hz)], whole.rate_hz)
            played = loudspeakers.render(name, start.samples, start.rate_hz)
            writing.write(home / name / f"{piece}.flac", Clip(played, start.rate_hz), seed=place)


@pytest.fixture(scope="session")
def matched_folder(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with two setups, two passages, a match sheet and a clean giveaway check."""

    def match(home: Path) -> None:
        with create(home / "book") as casebook:
            for name in ("sallow", "bracken"):
                recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), rendered / name)
            _match(casebook, LENGTH_S)

    return made_once(tmp_path_factory, "matched", match) / "book"


def _match(casebook: Casebook, passages_s: float) -> None:
    """Passages from the start of every track, matched and found clean."""
    for track in catalogue.everything(casebook, Track):
        passages.add(casebook, track, 0, round(passages_s * 48_000), 48_000, f"{track.name} 1")
    selection = select(casebook, [], [])
    assert match_files.make_match_sheet(casebook, selection).ok
    assert giveaway_check.check(casebook, selection).ok


@pytest.fixture
def casebook(matched_folder: Path, tmp_path: Path) -> Iterator[Casebook]:
    """A copy of the matched casebook, open."""
    shutil.copytree(matched_folder, tmp_path / "book")
    with open_casebook(tmp_path / "book") as opened:
        yield opened


@pytest.fixture
def sealed(casebook: Casebook) -> Casebook:
    """The same with a sealed ABX plan of 8 trials, called evening, for Ada."""
    drafting.draft(casebook, Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8), "evening")
    seals.seal(casebook, "evening")
    return casebook


@pytest.fixture
def routed(tmp_path: Path) -> Iterator[Casebook]:
    """Two setups on routes of their own, the second 2 ms late; two passages."""
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("box:1,2"))
        catalogue.add_setup(casebook, "bracken", "", playback_chain.routed("box:3,4", 2.0))
        add_music(casebook)
        yield casebook


@pytest.fixture
def swapped(tmp_path: Path) -> Iterator[Casebook]:
    """Two setups that an assistant swaps, matched and checked."""
    with create(tmp_path / "book") as casebook:
        for name in ("sallow", "bracken"):
            wish = playback_chain.SwitchWish("assistant", f"cables to {name}", hold_ms=3000)
            catalogue.add_setup(casebook, name, "", playback_chain.switched("box:1,2", wish))
        add_music(casebook)
        match_volts(casebook)
        giveaway_check.check(casebook, select(casebook, [], []))
        yield casebook


@pytest.fixture(scope="session")
def three_setups(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with three matched setups and two passages."""
    return made_once(tmp_path_factory, "three", _three) / "book"


def _three(home: Path) -> None:
    with create(home / "book") as casebook:
        for name in SETUPS:
            (home / name).mkdir()
            for place, piece in enumerate(PIECES):
                whole = reading.read(tracks.path(piece))
                start = Clip(whole.samples[: round(SHORT_S * whole.rate_hz)], whole.rate_hz)
                played = loudspeakers.render(name, start.samples, start.rate_hz)
                writing.write(home / name / f"{piece}.flac", Clip(played, start.rate_hz), seed=place)
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), home / name)
        _match(casebook, SHORT_S)


@pytest.fixture
def book(three_setups: Path, tmp_path: Path) -> Iterator[Casebook]:
    """A copy of the casebook with three setups, open."""
    shutil.copytree(three_setups, tmp_path / "book")
    with open_casebook(tmp_path / "book") as opened:
        yield opened


class _LeftOut(logging.Handler):
    """What a review left out because it failed."""

    def __init__(self) -> None:
        super().__init__()
        self.reasons: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        assert record.exc_info is not None
        self.reasons.append(repr(record.exc_info[1]))


@pytest.fixture(autouse=True)
def left_out() -> Iterator[list[str]]:
    """The errors that a review went on over: a test that expects some takes and clears them, any other fails."""
    logger, handler = logging.getLogger("sessions.results.review"), _LeftOut()
    logger.setLevel(logging.ERROR)
    logger.addHandler(handler)
    yield handler.reasons
    logger.removeHandler(handler)
    assert handler.reasons == []
