from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio.curves.lanes import Marked
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import
from sessions.measured.conditions import Conditions
from sessions.measured.curve_comparison import compare_curves, compare_setups
from sessions.measured.curve_import import Reading
from sessions.measured.figures.responses import Difference

from .measured_files import HZ, write_level

BUMP = 6 * np.exp(-((np.log2(HZ / 5000) / 0.3) ** 2))


def test_two_setups_are_compared_at_one_level_with_what_differs(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup, level, metres in ((sallow, BUMP + 80, 1.0), (bracken, 74.0, 2.0)):
        path = write_level(tmp_path / f"{setup.name}.txt", level)
        curve_import.bring(casebook, setup, path, Reading(), Conditions(distance_m=metres))
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    hz, db = found.largest
    assert (hz, db) == (pytest.approx(5000, rel=0.05), pytest.approx(6, abs=0.3))
    assert list(found.notes) == ["distance: sallow 1 m, bracken 2 m"]
    assert found.uncertainty_db is None


def test_what_was_measured_differently_is_said_with_units_and_as_finely_as_people_read(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    stated = (
        Conditions(distance_m=0.856, drive_volts=2.83, gate_ms=4.661806036975897, smoothing=12.0, room="barn"),
        Conditions(distance_m=0.8561, drive_volts=2.0, smoothing=0.0),
    )
    records = []
    for setup, conditions in zip((sallow, bracken), stated, strict=True):
        path = write_level(tmp_path / "a.txt", 0)
        records.append(curve_import.bring(casebook, setup, path, Reading(), conditions).curves[0])
    notes = compare_curves(("heron", "plover"), (records[0], records[1])).notes
    assert notes == (
        "gate: heron 4.7 ms, plover not said",
        "drive: heron 2.83 V, plover 2 V",
        "smoothing: heron 1/12 octave, plover none",
        "room: heron barn, plover not said",
    )


def test_repeated_measurements_say_how_well_a_difference_is_known(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    ripple = 0.3 * np.sin(np.log2(HZ) * 9)
    for setup, first, second in ((sallow, BUMP + 80, BUMP + 80.6 + ripple), (bracken, 74.0, 74.0 + ripple)):
        for level in (first, second):
            path = write_level(tmp_path / "axis.txt", level)
            curve_import.bring(casebook, setup, path, Reading(), Conditions())
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    assert found.uncertainty_db is not None
    # half the squared difference of two repeats each: 0.3²/4 a setup, together √2·0.15
    assert found.uncertainty_db == pytest.approx(2**0.5 * 0.15, rel=0.2)


def test_a_setup_without_a_curve_there_is_compared_with_nobody(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    curve_import.bring(casebook, sallow, write_level(tmp_path / "a.txt", 0), Reading(), Conditions())
    assert compare_setups(casebook, sallow, bracken) is None


def test_an_impedance_is_no_frequency_response(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    (tmp_path / "ohm.txt").write_text("20 8 10\n1000 4.5 -20\n20000 12 45\n")
    ohm = curve_import.bring(casebook, sallow, tmp_path / "ohm.txt", Reading("ohm"), Conditions()).curves[0]
    with pytest.raises(CatalogueError, match="is impedance, and no frequency response"):
        compare_curves(("a", "b"), (ohm, ohm))


def test_beside_words_zero_is_what_most_of_the_range_has_and_not_the_level_of_one_band(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    """3 dB less in two octaves and nothing else. At one level over 300 to 3000 Hz, 3.32 octaves, whose mean power is
    (2 · 0.5 + 1.32) / 3.32 = 0.70 of the other's, or -1.55 dB, the bass stands 1.55 dB above 0 though it is equal.
    """
    hole = np.where((HZ >= 700) & (HZ <= 2800), -3.0, 0.0)
    for setup, level in ((sallow, 80 + hole), (bracken, 80 + 0 * hole)):
        curve_import.bring(casebook, setup, write_level(tmp_path / f"{setup.name}.txt", level), Reading(), Conditions())
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    at = np.searchsorted(found.difference.hz, [100.0, 1400.0])
    for marked, drawn_db in (([], [1.55, -1.45]), ([Marked(60.0, 120.0, "thin", True)], [0.0, -3.0])):
        figure = Difference(found, marked).drawn()
        [line] = [one for one in figure.axes[0].lines if len(one.get_xdata()) == len(found.difference.hz)]
        np.testing.assert_allclose(np.asarray(line.get_ydata())[at], drawn_db, atol=0.1)
        texts = " ".join(one.get_text() for one in figure.findobj(lambda one: hasattr(one, "get_text")))
        assert ("at one level over 300 to 3000 Hz" in texts) == (not marked)
        assert ("0 dB: what most of 100 to 10000 Hz has" in texts.replace("\n", " ")) == bool(marked)
