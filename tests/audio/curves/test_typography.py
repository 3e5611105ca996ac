"""Typography of files and pictures: minus signs, headings of two words, times in legends, lines that look alike."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from audio.curves import draw, maps, palette
from audio.curves.curve import Curve, log_grid
from audio.curves.decay import Decay
from audio.curves.table import read_table
from audio.room.calibration_file import read_calibration

ROWS = [(20.0, 3.5, -12.5), (100.0, -0.25, -200.0), (1000.0, 1.5, -250.5), (20_000.0, -10.0, -300.0)]


@pytest.mark.parametrize("minus", ["\u2212", "\u2013", "-"])
@pytest.mark.parametrize("separator", [";", "\t", "  "])
def test_typographic_minus_signs_are_read_beside_decimal_commas(tmp_path: Path, minus: str, separator: str) -> None:
    rows = [separator.join(f"{value:g}".replace(".", ",").replace("-", minus) for value in row) for row in ROWS]
    path = tmp_path / "curve.txt"
    path.write_text("\n".join([separator.join(("f [Hz]", "level [dB]", "phase [deg]")), *rows]), encoding="utf-8")
    found = read_table(path)
    assert found.values == pytest.approx([row[1] for row in ROWS])
    assert found.phase_deg == pytest.approx([row[2] for row in ROWS])


@pytest.mark.parametrize("minus", ["\u2212", "-"])
def test_a_microphone_s_file_with_typographic_minus_signs_is_read(tmp_path: Path, minus: str) -> None:
    path = tmp_path / "mic.txt"
    path.write_text(f"20\t{minus}1,5\n1000\t0\n20000\t{minus}3,25\n", encoding="utf-8")
    assert read_calibration(path, "response").correction_db(np.array([20.0, 20_000.0])) == pytest.approx([1.5, 3.25])


@pytest.mark.parametrize("heading", ["# Hz dB SPL", "Hz dB SPL", "* freq  dB SPL", "Hz\tdB SPL"])
def test_a_heading_of_two_words_over_columns_that_blanks_part(tmp_path: Path, heading: str) -> None:
    path = tmp_path / "curve.txt"
    path.write_text(f"{heading}\n" + "\n".join(f"{hz:g} {80 + db:g}" for hz, db, _ in ROWS))
    found = read_table(path)
    assert (found.unit, found.values[0]) == ("db", 83.5)


def test_a_slice_s_time_reads_as_a_plain_number() -> None:
    hz = log_grid(100, 2000, 12)
    steps = np.linspace(0, 1.15, 24)
    decay = Decay(hz, steps, np.zeros((24, len(hz))) - 5.0, np.full(24, 50.0), "s")
    words = [line.get_label() for line in maps.decay_slices(decay).axes[0].get_lines()]
    assert words == ["0 ms", "250 ms", "500 ms", "750 ms", "1000 ms"]
    assert all(re.fullmatch(r"[\d.]+ ms", word) for word in words)


def test_no_two_lines_of_a_directivity_look_alike() -> None:
    hz = log_grid(100, 10_000, 12)
    names = ("on axis", "listening window", "early reflections", "sound power", "in-room estimate")
    curves = {name: Curve(hz, np.full(len(hz), 80.0 - place)) for place, name in enumerate(names)}
    below = {f"{name} DI": Curve(hz, np.full(len(hz), 5.0)) for name in ("early reflections", "sound power")}
    figure = draw.responses(curves, unit="dB SPL", below=below)
    looks = [(line.get_color(), str(line._unscaled_dash_pattern)) for axes in figure.axes for line in axes.get_lines()]
    assert len(set(looks)) == len(looks) == 7
    many = [palette.line_look(place) for place in range(36)]
    assert len({str(look) for look in many}) == 36
