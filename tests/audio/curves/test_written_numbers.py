"""Headings with a reference, decimal commas between commas, and marks of thousands beside decimals."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from audio.curves.headings import is_spl, meaning
from audio.curves.table import Wish, read_table, read_tables
from audio.errors import FileError

HZ = (20, 20.5, 1015.6, 2031.2, 10_020)


@pytest.mark.parametrize(
    ("text", "spl"),
    [
        ("dB re 20 \u00b5Pa", True),  # the micro sign, the Greek letter and what keyboards have
        ("Level [dB re 20\u03bcPa]", True),
        ("dB (re 20 uPa)", True),
        ("SPL (dB)", True),
        ("dB re 1 V", False),
        ("dB re 1V", False),
        ("level dB (re 1 kHz)", False),
    ],
)
def test_a_level_with_its_reference_is_a_level(text: str, spl: bool) -> None:
    found = meaning(text)
    assert (found.quantity, found.unit) == ("level", "db")
    assert is_spl(text) == spl


@pytest.mark.parametrize("text", ["Re", "Re(H)", "Im [Ohm]", "Re (dB)", "real", "Z re"])
def test_parts_of_a_complex_number_stay_what_they_are(text: str) -> None:
    assert meaning(text).quantity == "complex"


@pytest.mark.parametrize("head", ["Hz\tdB re 20 \u00b5Pa", "Hz dB re 20 \u00b5Pa", "Hz,dB (re 1 kHz)", "Hz;dB re 1 V"])
def test_a_file_with_a_reference_in_its_heading_is_read(tmp_path: Path, head: str) -> None:
    path, mark = tmp_path / "curve.txt", re.sub(r"[^\t,; ]", "", head.replace("Hz", "", 1))[0]
    path.write_text(f"{head}\n100{mark}80\n1000{mark}81\n", encoding="utf-8")
    assert read_table(path).values.tolist() == [80, 81]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Hz,dB\n20,0,83,1\n21,2,83,4\n22,5,83,7\n", "decimal commas"),
        ("Hz,dB,deg\n20,0,83,1,10,5\n21,2,83,4,10,6\n", "decimal commas"),
        ("20,0,83,1\n21,2,83,4\n22,5,83,7\n", "decimal commas"),
    ],
)
@pytest.mark.parametrize("column", ["", "3"])
def test_decimal_commas_between_commas_are_refused_in_one_line(
    tmp_path: Path, text: str, says: str, column: str
) -> None:
    path = tmp_path / "curve.csv"
    path.write_text(text)
    with pytest.raises(FileError, match=says) as refused:
        read_tables(path, Wish(unit="db", column=column))
    assert "\n" not in str(refused.value)
    assert "--column" not in str(refused.value)


def test_four_columns_of_whole_numbers_are_four_columns(tmp_path: Path) -> None:
    path = tmp_path / "curve.csv"
    path.write_text("Hz,dB,left,right\n100,80,81,82\n1000,81,82,83\n")
    assert read_tables(path, Wish(column="2"))[0].values.tolist() == [80, 81]
    path.write_text("100,80,181,82\n1000,81,182,83\n")  # what stands between commas is no single digit everywhere
    assert read_tables(path, Wish(unit="db", column="2"))[0].values.tolist() == [80, 81]


@pytest.mark.parametrize(
    ("text", "hz", "db"),
    [
        ('Hz,dB\n"20.0",83.2\n"20.5",83.3\n"1,015.6",86.2\n"2,031.2",86.1\n"10,020.0",85.0\n', HZ, 86.2),
        ("Hz;dB\n20,0;83,2\n20,5;83,3\n1.015,6;86,2\n2.031,2;86,1\n10.020,0;85,0\n", HZ, 86.2),
        ("Hz\tdB\n20.0\t83.2\n20.5\t83.3\n1'015.6\t86.2\n2'031.2\t86.1\n10\u2019020.0\t85.0\n", HZ, 86.2),
        ("Hz dB\n20.0 83.2\n20.5 83.3\n1'015.6 86.2\n2'031.2 86.1\n10'020 85.0\n", HZ, 86.2),
        ('"Hz","Ohm"\n"1,015.6","1,000.5"\n"2,031.2","8.0"\n', (1015.6, 2031.2), 1000.5),
    ],
)
def test_marks_of_thousands_beside_decimals_are_taken_out(
    tmp_path: Path, text: str, hz: tuple[float, ...], db: float
) -> None:
    path = tmp_path / "curve.csv"
    path.write_text(text, encoding="utf-8")
    found = read_table(path)
    assert found.hz.tolist() == list(hz)
    assert found.values[found.hz.tolist().index(1015.6)] == db
