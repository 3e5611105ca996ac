from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from sessions.casebook.store import Casebook, open_casebook
from sessions.plans import drafting, seals, viewers_rows
from sessions.plans.plan_rows import Wish
from sessions.plans.viewers_rows import SealedTest
from sessions.viewers import making, page_folder
from sessions.viewers.making import Ready
from tests.answered_plans import PAIR
from tests.browsers import launched
from tests.sessions.conftest import made_once

RATE_HZ = 16_000  # at which pages play here, so that their files are small


@dataclass(frozen=True)
class MadePage:
    """A casebook with a viewers' page, and the page's folder."""

    book: Path
    folder: Path
    sealed: SealedTest
    secret: bytes


def seal_plan(casebook: Casebook, method: str = "abx", name: str = "evening") -> None:
    """A sealed plan of both setups and both passages, for Ada."""
    drafting.draft(casebook, Wish(method, PAIR, listeners=("Ada",), trials=8), name)
    seals.seal(casebook, name)


@pytest.fixture(scope="session")
def page_home(matched_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with a page of four trials of ABX, and the page; made once, and never written to."""

    def make(home: Path) -> None:
        shutil.copytree(matched_folder, home / "book")
        with open_casebook(home / "book") as casebook:
            seal_plan(casebook)
            ready = making.drawn_up(casebook, "evening", "page", 4, {"rate_hz": RATE_HZ})
            sealed = making.seal(casebook, ready)
            page_folder.write(sealed, ready.secret, ready.sounds, home / "page", "Write it below the video.")

    return made_once(tmp_path_factory, "viewers-page", make)


@pytest.fixture
def made_page(page_home: Path, tmp_path: Path) -> MadePage:
    """The page as it lies there, and a copy of its casebook."""
    shutil.copytree(page_home / "book", tmp_path / "book")
    with open_casebook(tmp_path / "book") as casebook:
        sealed = viewers_rows.of_plan(casebook, "evening", "page")
        return MadePage(tmp_path / "book", page_home / "page", sealed, viewers_rows.secret_of(casebook, sealed))


@pytest.fixture
def ready(casebook: Casebook) -> Ready:
    """A soundtrack of ABX that is drawn up and not sealed."""
    seal_plan(casebook)
    return making.drawn_up(casebook, "evening", "soundtrack", 5, {"target_lufs": "-23", "pause_s": "2"})


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for all tests of a module."""
    with launched() as browser:
        yield browser
