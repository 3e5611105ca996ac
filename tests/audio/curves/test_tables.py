"""Text columns as they come: every separator, decimal commas, headers, disorder; and what is refused with one line."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from audio.curves.table import read_table
from audio.errors import FileError

HZ, DB = [20.0, 100.5, 1000.0, 20_000.0], [-3.25, 0.0, 1.5, -10.0]


def table(separator: str, comma: bool = False, phase: bool = False) -> str:
    rows = []
    for place, (f, db) in enumerate(zip(HZ, DB, strict=True)):
        numbers = [f"{f:g}", f"{db:g}"] + ([f"{-30.5 * place - 10:g}"] if phase else [])
        rows.append(separator.join(number.replace(".", ",") if comma else number for number in numbers))
    return "\n".join(rows)


@pytest.mark.parametrize(
    "text",
    [
        table(","),
        table(", "),
        table(";"),
        table("\t"),
        table("   "),
        table(";", comma=True),
        table("\t", comma=True),
        table("  ", comma=True),
        "Frequency (Hz), Level (dB)\n" + table(","),
        "* a comment\n# another\n\nfreq\tdB\n" + table("\t"),
        "\ufeff" + table(";"),
        table("\t").replace("\n", "\r\n"),
        "\n".join(reversed(table("\t").splitlines())),
        "2.0e1 -3.25\n1.005E+2 0\n1000 1.5\n20000 -10",
        "0\t-99\n" + table("\t"),
    ],
)
def test_columns_are_read_as_they_come(tmp_path: Path, text: str) -> None:
    path = tmp_path / "curve.txt"
    path.write_text(text, encoding="utf-8")
    found = read_table(path)
    assert found.hz == pytest.approx(HZ)
    assert found.values == pytest.approx(DB)


@pytest.mark.parametrize(("separator", "comma"), [(",", False), (";", True), ("\t", False), ("  ", True)])
def test_a_third_column_is_phase(tmp_path: Path, separator: str, comma: bool) -> None:
    path = tmp_path / "curve.txt"
    path.write_text(table(separator, comma, phase=True))
    found = read_table(path)
    assert found.phase_deg == pytest.approx([-10, -40.5, -71, -101.5])


def test_disorder_and_repetition_are_said(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("100 1\n50 0\n100 2\n200 3\n")
    found = read_table(path)
    assert found.hz.tolist() == [50, 100, 200]
    assert found.values.tolist() == [0, 1.5, 3]
    assert found.notes == (
        "its frequencies were not in order and were sorted",
        "1 repeated frequencies were averaged",
    )


def test_pressure_voltage_and_ohm_are_taken_when_named(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("100 1\n1000 0.1\n")
    assert read_table(path, "pa").values == pytest.approx([93.9794, 73.9794], abs=1e-4)  # 1 Pa: from the definition
    assert read_table(path, "v").values == pytest.approx([0, -20])
    assert read_table(path, "ohm").values.tolist() == [1, 0.1]


def test_radians_are_turned_when_named(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("100 1 1.5707963\n1000 1 -3.1415926\n")
    assert read_table(path, phase="rad").phase_deg == pytest.approx([90, -180], abs=1e-4)
    assert read_table(path, phase="deg").phase_deg == pytest.approx([1.5707963, -3.1415926])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "holds no columns of numbers"),
        ("hello\nworld\n", "holds no columns of numbers"),
        ("100\n200\n", "only one column"),
        ("100 1\n200 2 3\n", "2 to 3 numbers"),
        ("100 1\nend of data\n", "is no row of numbers"),
        ("-100 1\n200 2\n", "must hold frequencies above 0"),
        ("100 1\n", "at least two frequencies"),
        ("100 1 0.5\n200 2 -3.1\n", "degrees or radians"),
        ("100 900\n200 2\n", "are no dB"),
        ("Hz, Pa\n100,0.5\n200,0.2\n", "speaks of 'pa', not of dB"),
        ("100 0\n200 9\n100 12\n300 3\n", "stands there twice, 12.0 dB apart"),
        ("\x00\x01\x02", "is not a text file"),
    ],
)
def test_what_is_no_curve_is_refused_in_one_line(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "curve.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=re.escape(says)) as refused:
        read_table(path)
    assert "\n" not in str(refused.value)
    assert "curve.txt" in str(refused.value)


def test_levels_are_not_taken_for_ohm(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("100 -3\n200 2\n")
    with pytest.raises(FileError, match="are they dB"):
        read_table(path, "ohm")
    with pytest.raises(FileError, match="No such file"):
        read_table(tmp_path / "none.txt")


def test_numbers_survive_from_numpys_own_writer(tmp_path: Path) -> None:
    path = tmp_path / "curve.csv"
    data = np.column_stack([np.geomspace(20, 20_000, 50), np.linspace(-5, 5, 50)])
    np.savetxt(path, data, delimiter=",", header="f,db")
    found = read_table(path)
    assert found.values == pytest.approx(data[:, 1])
