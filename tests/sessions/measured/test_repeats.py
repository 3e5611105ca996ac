"""Which curves are repeats of another, through the command line: the spread counts only what was measured alike."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.store import Casebook
from tests.sessions.commands.test_commands import run

from .measured_files import HZ, text

RIPPLE = 0.3 * np.sin(np.log2(HZ) * 9)
ALIKE = ("--room", "barn", "--axis", "tweeter", "--distance", "1")


def add(casebook: Casebook, setup: str, path: Path, *stated: str) -> None:
    done = run("--casebook", casebook.folder, "curve", "add", setup, path, *stated)
    assert done.returncode == 0, done.stderr


def uncertainty_db(casebook: Casebook) -> float | None:
    done = run("--casebook", casebook.folder, "curve", "show", "sallow", "--against", "bracken", "--json")
    assert done.returncode == 0, done.stderr
    found: float | None = json.loads(done.stdout)["compared"]["uncertainty_db"]
    return found


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """Two readings that differ by a ripple of 0.3 dB."""
    first, second = tmp_path / "first.txt", tmp_path / "second.txt"
    first.write_text(text(np.full(len(HZ), 80.0)))
    second.write_text(text(80.0 + RIPPLE))
    return first, second


def test_readings_made_alike_are_repeats(casebook: Casebook, files: tuple[Path, Path]) -> None:
    for setup in ("sallow", "bracken"):
        for path in files:
            add(casebook, setup, path, *ALIKE)
    # half the squared difference of two repeats: 0.3²/4 a setup, together √2·0.15
    assert uncertainty_db(casebook) == pytest.approx(2**0.5 * 0.15, rel=0.2)


def test_another_room_axis_distance_or_drive_is_no_repeat(casebook: Casebook, files: tuple[Path, Path]) -> None:
    for setup in ("sallow", "bracken"):
        for other in (
            ("--room", "hall", *ALIKE[2:]),
            (*ALIKE[:2], "--axis", "woofer", *ALIKE[4:]),
            (*ALIKE[:4], "--distance", "2"),
            (*ALIKE, "--volts", "2.83"),
            (*ALIKE, "--smoothed", "12"),
            (*ALIKE, "--side", "left"),
            ALIKE[2:],
        ):
            add(casebook, setup, files[0], *other)
        add(casebook, setup, files[1], *ALIKE)
    assert uncertainty_db(casebook) is None


def test_the_same_file_twice_is_no_repeat(casebook: Casebook, files: tuple[Path, Path]) -> None:
    """Nor the same numbers under another name, with another line on top."""
    for setup in ("sallow", "bracken"):
        add(casebook, setup, files[0], *ALIKE)
        add(casebook, setup, files[0], *ALIKE)
        again = files[0].with_name("again.txt")
        again.write_text("* written again\n" + files[0].read_text())
        add(casebook, setup, again, *ALIKE)
    assert uncertainty_db(casebook) is None
