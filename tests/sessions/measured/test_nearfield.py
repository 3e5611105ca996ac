from __future__ import annotations

from pathlib import Path

import pytest

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import, curve_records, nearfield
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.measured.frequency_response import response_of
from sessions.measured.nearfield import Join

from .measured_files import write_level


def test_a_nearfield_is_joined_at_the_far_field_s_level(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    near = write_level(tmp_path / "near.txt", 97)
    with pytest.raises(CatalogueError, match="no curve on axis to join to"):
        nearfield.join(casebook, sallow, near, Join(300, radius_m=0.1))
    far = write_level(tmp_path / "far.txt", 85)
    curve_import.bring(casebook, sallow, far, Reading(), Conditions(gate_ms=6.0, room="barn"))
    with pytest.raises(CatalogueError, match=r"say the cone's radius with --radius M"):
        nearfield.join(casebook, sallow, near, Join(300))
    joined = nearfield.join(casebook, sallow, near, Join(300, radius_m=0.1))
    kept, made = joined.record, joined.splice
    assert made.moved_db == pytest.approx(-12)
    newest = curve_records.of_setup(casebook, sallow).on_axis
    assert newest is not None
    assert newest.id == kept.id
    assert response_of(newest).level_db == pytest.approx(85, abs=1e-6)
    assert newest.conditions.valid_hz[0] == pytest.approx(20, rel=0.01)
    assert (newest.conditions.room, newest.conditions.gate_ms) == ("barn", None)
    assert newest.conditions.note.startswith("nearfield near.txt joined at 300 Hz over 1 octaves, moved by -12.00 dB; ")
    assert "the baffle step is not in it" in newest.conditions.note


def test_a_nearfield_holds_up_to_where_the_cone_is_small(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    curve_import.bring(casebook, sallow, write_level(tmp_path / "far.txt", 85), Reading(), Conditions())
    near = write_level(tmp_path / "near.txt", 97)
    with pytest.raises(CatalogueError, match="holds up to 546 Hz"):  # ka = 1, Keele 1974 (from memory)
        nearfield.join(casebook, sallow, near, Join(900, radius_m=0.1))
    with pytest.raises(CatalogueError, match="is heard up to 566 Hz here"):  # an octave around 400 ends there
        nearfield.join(casebook, sallow, near, Join(400, radius_m=0.1))
    nearfield.join(casebook, sallow, near, Join(400, 0.8, radius_m=0.1))


def test_an_impedance_is_no_nearfield(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    curve_import.bring(casebook, sallow, write_level(tmp_path / "far.txt", 85), Reading(), Conditions())
    (tmp_path / "z.txt").write_text("Hz ohm\n20 8\n20000 9\n")
    with pytest.raises(CatalogueError, match="is an impedance"):
        nearfield.join(casebook, sallow, tmp_path / "z.txt", Join(300, radius_m=0.1))


def test_a_far_field_of_two_points_is_refused_as_what_it_is(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    (tmp_path / "far.txt").write_text("Hz dB\n20 85\n20000 85\n")
    curve_import.bring(casebook, sallow, tmp_path / "far.txt", Reading(), Conditions())
    with pytest.raises(CatalogueError, match="is too little to be joined to: 2 points only"):
        nearfield.join(casebook, sallow, write_level(tmp_path / "near.txt", 97), Join(300, radius_m=0.1))
