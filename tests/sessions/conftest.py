from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import loudspeakers, tracks
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.plans import drafting
from sessions.preparation import match_files, recording_folder

PIECES = ("strings", "drums")
LENGTH_S = 4.0


@pytest.fixture(scope="session")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folders of real recordings: the start of two demo pieces through two imaginary loudspeakers."""
    home = tmp_path_factory.mktemp("rendered")
    for name in ("sallow", "bracken"):
        (home / name).mkdir()
        for place, piece in enumerate(PIECES):
            whole = reading.read(tracks.path(piece))
            start = Clip(whole.samples[: round(LENGTH_S * whole.rate_hz)], whole.rate_hz)
            played = loudspeakers.render(name, start.samples, start.rate_hz)
            writing.write(home / name / f"{piece}.flac", Clip(played, start.rate_hz), seed=place)
    return home


@pytest.fixture(scope="session")
def matched_folder(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with two setups, two passages, a match sheet and a clean giveaway check."""
    folder = tmp_path_factory.mktemp("matched") / "book"
    with create(folder) as casebook:
        for name in ("sallow", "bracken"):
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), rendered / name)
        for track in catalogue.everything(casebook, Track):
            catalogue.add_passage(casebook, track, 0, round(LENGTH_S * 48_000), 48_000, f"{track.name} 1")
        selection = match_files.select(casebook, [], [])
        assert match_files.make_match_sheet(casebook, selection)["ok"]
        assert match_files.check_giveaways(casebook, selection)["ok"]
    return folder


@pytest.fixture
def casebook(matched_folder: Path, tmp_path: Path) -> Iterator[Casebook]:
    """A copy of the matched casebook, open."""
    shutil.copytree(matched_folder, tmp_path / "book")
    with open_casebook(tmp_path / "book") as opened:
        yield opened


@pytest.fixture
def sealed(casebook: Casebook) -> Casebook:
    """The same with a sealed ABX plan of 8 trials, called evening, for Ada."""
    drafting.draft(casebook, drafting.Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8), "evening")
    drafting.seal(casebook, "evening")
    return casebook
