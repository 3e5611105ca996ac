"""A microphone's file: an absolute sensitivity never moves a curve unseen."""

from __future__ import annotations

from pathlib import Path

import pytest

from audio.errors import FileError
from audio.room.calibration_file import read_calibration

ROWS = "20 -1.5\n1000 0.0\n10000 3.0\n"


@pytest.mark.parametrize(
    ("first", "stated"),
    [
        ("*1000Hz\t-38.4\n", "1000Hz -38.4"),
        ('"Sens Factor =-1.2dB, number 7"\n', "Sens Factor =-1.2dB, number 7"),
        ("# Sensitivity: 12.6 mV/Pa at 1 kHz\n", "Sensitivity: 12.6 mV/Pa at 1 kHz"),
        ("1000 -38.4\n", "1000 Hz -38.4"),
        ("1250 -38.4\n", "1250 Hz -38.4"),
        ("# made at a bench in 2024\n", ""),
        ("Frequency Response at 1000 Hz\n", ""),
    ],
)
def test_a_stated_sensitivity_is_kept_as_text_and_in_no_number(tmp_path: Path, first: str, stated: str) -> None:
    (tmp_path / "mic.txt").write_text(first + ROWS)
    read = read_calibration(tmp_path / "mic.txt", "response")
    assert read.sensitivity == stated
    assert (read.freqs_hz, read.deviation_db) == ((20, 1000, 10_000), (-1.5, 0, 3))
    assert read.name == "mic.txt, its response"


def test_numbers_that_hold_the_sensitivity_are_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "mic.txt"
    path.write_text("20 -39.5\n1000 -38.0\n10000 -35.0\n")
    with pytest.raises(FileError, match=r"says -38\.0 dB at 1 kHz.*--file-zero 1kHz .* or --file-zero kept"):
        read_calibration(path, "response")
    at_zero = read_calibration(path, "response", "1kHz")
    assert at_zero.deviation_db == (-1.5, 0, 3)
    assert at_zero.sensitivity == "-38.00 dB at 1 kHz, taken off"
    assert read_calibration(path, "correction", "kept").deviation_db == (39.5, 38, 35)
