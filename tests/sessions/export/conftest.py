"""Casebooks of before, brought up to this version: every counted method, panels, plans under way, real gear."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from sessions.casebook.store import open_casebook

KEPT = Path(__file__).parents[2] / "data" / "before-rooms"


def upgraded(kept: Path, folder: Path) -> Path:
    folder.mkdir()
    shutil.copyfile(kept / "casebook.db", folder / "casebook.db")
    open_casebook(folder).close()
    return folder


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook of before: every counted method, panels, plans under way with keys in their trials' rows."""
    return upgraded(KEPT, tmp_path_factory.mktemp("old") / "book")


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two casebooks that know nothing of each other: every method, and real gear; names in common."""
    home = tmp_path_factory.mktemp("sites")
    upgraded(KEPT, home / "files")
    upgraded(KEPT / "gear", home / "gear")
    return home
