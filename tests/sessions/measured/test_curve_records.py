from __future__ import annotations

import base64
import hashlib
import json
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import, curve_records
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.curve_import import Reading
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.measured.frequency_response import response_of
from sessions.results import verification

from .measured_files import HZ, write_level


def test_a_curve_keeps_its_file_its_conditions_and_its_hash(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = write_level(tmp_path / "axis.txt", 0)
    stated = Conditions(distance_m=1.0, drive_volts=2.83, gate_ms=6.0, room="barn", by="Ada")
    brought = curve_import.bring(casebook, sallow, path, Reading(), stated).curves
    kept = curve_records.of_setup(casebook, sallow).on_axis
    assert kept is not None
    assert kept.conditions.room == "barn"
    assert response_of(kept).valid_hz[0] == pytest.approx(1000 / 6)  # a gate of 6 ms
    assert kept.hz == pytest.approx(HZ, abs=1e-3)
    [file] = casebook.query("SELECT * FROM measurements WHERE id = ?", [brought[0].measurement_id])
    assert zlib.decompress(base64.b64decode(file["content"])) == path.read_bytes()
    assert (file["name"], file["sha256"]) == ("axis.txt", hashlib.sha256(path.read_bytes()).hexdigest())
    assert verification.verify(casebook).ok
    with pytest.raises(Exception, match="append-only"):
        casebook.db.execute("UPDATE curves SET angle = 30")


def test_what_is_given_back_on_keeping_is_what_is_read_again(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    brought = curve_import.bring(casebook, sallow, write_level(tmp_path / "a.txt", 3), Reading(), Conditions(room="x"))
    read = curve_records.by_id(casebook, brought.curves[0].id)
    assert (read.id, read.direction, read.conditions) == (
        brought.curves[0].id, brought.curves[0].direction, brought.curves[0].conditions,
    )  # fmt: skip
    np.testing.assert_array_equal(read.data, brought.curves[0].data)


def test_the_texts_of_a_kept_curve_never_change_their_form(casebook: Casebook, sallow: Setup) -> None:
    """They are hashed: these are the very texts that the first version wrote."""
    stated = Conditions(distance_m=1.0, drive_volts=2.83, gate_ms=6.0, room="Scheune", axis="Kalotte — höher", spl=True)
    new = NewCurve("response", Direction("vertical", -10), np.array([[100.0, 85.5], [200.0, 84.25]]), stated)
    curve_records.keep(casebook, sallow, [(RawFile.of("a.txt", b"100 85.5\n200 84.25\n"), [new])])
    row = casebook.query("SELECT * FROM curves")[0]
    assert row["conditions"] == (
        '{"axis": "Kalotte \\u2014 h\\u00f6her", "by": "", "calibration": "", "distance_m": 1.0, "drive_volts": 2.83, '
        '"gate_ms": 6.0, "harmonic": 0, "note": "", "room": "Scheune", "smoothing": 0.0, "spl": true, '
        '"valid_hz": [0.0, 1000000.0], "when": "", "window": ""}'
    )
    packed = json.loads(row["data"])["float64"]
    assert row["data"] == f'{{"float64": "{packed}", "rate_hz": 0, "shape": [2, 2]}}'
    assert zlib.decompress(base64.b64decode(packed)) == struct.pack("<4d", 100.0, 85.5, 200.0, 84.25)
    assert (row["plane"], row["angle"]) == ("vertical", -10)


def test_a_raw_file_is_kept_once(casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path) -> None:
    path = write_level(tmp_path / "axis.txt", 0)
    ids = {
        curve_import.bring(casebook, setup, path, Reading(), Conditions()).curves[0].measurement_id
        for setup in (sallow, bracken)
    }
    assert [row["id"] for row in casebook.query("SELECT id FROM measurements")] == list(ids)


def test_the_newest_of_each_direction_counts(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for level in (1.0, 2.0):
        for angle in (0, 30):
            reading = Reading(direction=Direction("horizontal", angle))
            curve_import.bring(casebook, sallow, write_level(tmp_path / "a.txt", level), reading, Conditions())
    found = curve_records.of_setup(casebook, sallow).directions
    assert {direction: kept.values[0] for direction, kept in found.items()} == {
        ("horizontal", 0): 2.0, ("horizontal", 30): 2.0,
    }  # fmt: skip
    assert len(curve_records.in_direction(casebook, sallow, Direction("horizontal", 30))) == 2
    assert curve_records.directions_of(casebook, sallow) == set(found)


def test_an_angle_between_whole_degrees_is_kept_as_it_was(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for angle in (22.5, 22, -22.5):
        toward = Direction("horizontal", angle)
        path = write_level(tmp_path / "a.txt", angle)
        curve_import.bring(casebook, sallow, path, Reading(direction=toward), Conditions())
        [found] = curve_records.in_direction(casebook, sallow, toward)
        assert (found.direction, found.values[0]) == (toward, pytest.approx(angle))
    assert curve_records.directions_of(casebook, sallow) == {("horizontal", one) for one in (22.5, 22, -22.5)}
    assert [one.angle for one in curve_records.listed(casebook)] == [22.5, 22, -22.5]
    assert verification.verify(casebook).ok


def test_harmonics_are_withdrawn_with_their_sweep(casebook: Casebook, sallow: Setup) -> None:
    columns = np.array([[100.0, -50.0], [200.0, -50.0]])
    impulse, toward = np.zeros(480), Direction("horizontal", 0)
    impulse[100] = 1.0
    new = [
        NewCurve("impulse", toward, impulse, Conditions(gate_ms=5.0), 48_000),
        *(NewCurve("distortion", toward, columns, Conditions(harmonic=order)) for order in (2, 3)),
    ]
    kept = curve_records.keep(casebook, sallow, [(RawFile.of("a.npy", b"a"), new)])
    assert curve_records.withdraw(casebook, kept[:1], "a door slammed") == [one.id for one in kept]
    found = curve_records.of_setup(casebook, sallow)
    assert (found.directions, found.distortion) == ({}, {})
    assert {one.withdrawn for one in curve_records.listed(casebook)} == {"a door slammed"}
    assert verification.verify(casebook).ok


def test_nothing_is_kept_where_what_it_replaces_was_withdrawn_before(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    path = write_level(tmp_path / "a.txt", 80)
    old = curve_import.bring(casebook, sallow, path, Reading(), Conditions()).curves
    curve_records.withdraw(casebook, old, "moved")
    with pytest.raises(CatalogueError, match="was withdrawn before"):
        curve_import.bring(casebook, sallow, path, Reading(), Conditions(), replaces=old, why="again")
    assert len(casebook.query("SELECT id FROM curves")) == 1


def test_an_unknown_identifier_is_refused(casebook: Casebook) -> None:
    with pytest.raises(CatalogueError, match="no curve 'curve-x' in this casebook"):
        curve_records.by_id(casebook, "curve-x")


def test_everything_is_packed_before_the_casebook_is_locked(
    casebook: Casebook, sallow: Setup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Others can write while a large set is read and packed."""
    packed = curve_records._packed
    locked = []

    def watched(content: bytes) -> str:  # only the transaction at that moment is of interest
        locked.append(casebook.db.conn.in_transaction)
        return packed(content)

    monkeypatch.setattr(curve_records, "_packed", watched)
    for angle in (0, 10):
        write_level(tmp_path / f"hor {angle}.txt", angle)
    curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert locked == [False] * 4  # two files, two curves
