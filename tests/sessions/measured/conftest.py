from __future__ import annotations

from pathlib import Path

import pytest

from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create


@pytest.fixture
def sallow(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "sallow")


@pytest.fixture
def bracken(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "bracken")


@pytest.fixture
def amp_book(tmp_path: Path) -> Path:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "amp", "", playback_chain.routed("box:1,2"))
    return tmp_path / "book"
