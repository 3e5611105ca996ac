"""Text columns as they come: every separator, decimal commas, headers, disorder; and what is refused with one line."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from audio.curves.table import Wish, read_table, read_tables
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
    found = read_table(path, phase="deg")
    assert found.phase_deg == pytest.approx([-10, -40.5, -71, -101.5])


def test_disorder_and_repetition_are_said(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("100 1\n50 0\n100 2\n200 3\n")
    found = read_table(path, "db")
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
    assert read_table(path, "db", "rad").phase_deg == pytest.approx([90, -180], abs=1e-4)
    assert read_table(path, "db", "deg").phase_deg == pytest.approx([1.5707963, -3.1415926])


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
        ("Hz dB phase\n100 1 0.5\n200 2 -3.1\n", "degrees or radians"),
        ("Hz dB phase\n100 1 -2\n200 2 -20\n", "degrees or radians"),  # three turns, unwrapped, in radians
        ("Hz dB\n100 900\n200 2\n", "are no dB"),
        ("100 0\n200 9\n100 12\n300 3\n", "stands there twice, 12.0 dB apart"),
        ("Hz dB\n100 80\n100 82\n200 81\n200 83\n400 80\n400 82\n", "and most others too"),
        ("100 4.5\n1000 8\n", "nothing says what its values from 4.5 to 8 are"),
        ("100 80\n1000 85\n", "--unit db, pa, v, ohm or gain"),
        ("Hz, level\n100, 80\n1000, 85\n", "nothing says what its values from 80 to 85 are"),
        ("0.1 -3\n20 2\n", "could be Hz or kHz"),
        ("100 80 75\n1000 81 -4\n", "nothing says what its third column is"),
        ("100 80 75 3\n1000 81 74 4\n", "4 columns without headings; say which holds the level with --column"),
        ("Hz\tleft dB\tright dB\n100\t80\t70\n1000\t81\t71\n", "2 ('left dB'), 3 ('right dB'); say which with"),
        ("f,h2 dB,h3 dB,first dB\n100,-5,-6,80\n200,-5,-6,80\n", "2 ('h2 dB'), 3 ('h3 dB'), 4 ('first dB')"),
        ("Hz\tdB\tohm\n100\t80\t7\n1000\t81\t8\n", "2 columns that may be the level"),
        ("time [ms], Pa\n1, 0.5\n2, 0.2\n", "headed 'time [ms]'; a curve needs frequencies there"),
        ("Hz, real, imag\n100,0.5,1\n200,0.2,2\n", "real and imaginary parts"),
        (
            "Hz dB\n100 80\n200 80\n400 81\n100 82\n200 82\n400 83\n",
            "2 curves, one under the other (they begin at lines 2, 5); say which with --part 1 … 2",
        ),
        ("100 80\n200 80\n400 81\nanother\n100 82\n200 82\n400 83\n", "begin at lines 1, 5"),
        ("100 80\n200 80\nfoo\n400 81\n800 80\n", "is no row of numbers"),
        ("log10(f/Hz)\tdB\n2\t80\n3\t81\n", "headed 'log10(f/Hz)' is not read; write it in Hz"),
        ("Hz\tp^2 [Pa^2]\n100\t1\n1000\t2\n", "headed 'p^2 [Pa^2]' is not read; write it in dB, Pa"),
        ("Hz\tp² [Pa²]\n100\t1\n1000\t2\n", "is not read"),
        ("Hz\tImpedance [dB]\n100\t18\n1000\t18.1\n", "headed 'Impedance [dB]' is not read"),
        ("Frequency;HD2 dB\n100;-40\n1000;-50\n", "no column is headed as a level"),
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


@pytest.mark.parametrize(
    ("text", "read_as", "hz", "db", "degrees"),
    [
        ("f [Hz]\tSPL [dB]\tPhase[rad]\n100\t80\t-1.5707963\n1000\t81\t3.1415927\n",
         "Hz, dB, radians; 2 points, 100 Hz–1 kHz", (100, 1000), (80, 81), (-90, 180)),
        ("f [kHz];Level [dB]\n0,1;80\n1;81\n", "kHz, dB; 2 points, 100 Hz–1 kHz", (100, 1000), (80, 81), None),
        ("Hz,Pa\n100,1\n1000,0.1\n", "Hz, Pa; 2 points, 100 Hz–1 kHz", (100, 1000), (93.9794, 73.9794), None),
        ("Hz,p (mPa)\n100,1000\n1000,100\n", "Hz, Pa; 2 points, 100 Hz–1 kHz", (100, 1000), (93.9794, 73.9794), None),
        ("Freq\tLinear gain\n100\t0.5\n1000\t2\n", "Hz, linear gain; 2 points, 100 Hz–1 kHz", (100, 1000),
         (-6.0206, 6.0206), None),
        ("Freq (Hz)   Volts\n100   0.1\n1000   1\n", "Hz, V; 2 points, 100 Hz–1 kHz", (100, 1000), (-20, 0), None),
        ("* Frequency, |Z| in Ω, Phase in °\n100 4.5 -20\n1000 8 1\n", "Hz, ohm, degrees; 2 points, 100 Hz–1 kHz",
         (100, 1000), (4.5, 8), (-20, 1)),
        ('"Freq(Hz)" "SPL(dB)" "Phase(deg)"\n100 80 1\n1000 81 2\n', "Hz, dB, degrees; 2 points, 100 Hz–1 kHz",
         (100, 1000), (80, 81), (1, 2)),
        ("Frequency\tMagnitude\tPhase\nHz\tdB\trad\n100\t80\t1.5707963\n1000\t81\t0\n",
         "Hz, dB, radians; 2 points, 100 Hz–1 kHz", (100, 1000), (80, 81), (90, 0)),
        ("Hz;Pegel dB\n100;80;\n1000;81;\n", "Hz, dB; 2 points, 100 Hz–1 kHz", (100, 1000), (80, 81), None),
        ("omega [rad/s], dB\n628.3185307, 80\n6283.185308, 81\n", "rad/s, dB; 2 points, 100 Hz–1 kHz", (100, 1000),
         (80, 81), None),
        ("Hz dB\n" + "".join(f"{20 * 10 ** (n * 3 / 479):.6f} 80\n" for n in range(480)),
         "Hz, dB; 480 points, 20 Hz–20 kHz", None, None, None),
    ],
)  # fmt: skip
def test_headings_say_what_columns_are(
    tmp_path: Path, text: str, read_as: str, hz: tuple[float, ...], db: tuple[float, ...], degrees: tuple[float, ...]
) -> None:
    """Levels by the definitions: 20·log10 of pressure over 20 µPa, of volts over 1 V, of a gain."""
    path = tmp_path / "curve.txt"
    path.write_text(text, encoding="utf-8")
    found = read_table(path)
    assert found.read_as == read_as
    if hz:
        assert found.hz == pytest.approx(hz)
        assert found.values == pytest.approx(db, abs=1e-4)
        assert (found.phase_deg is None) if degrees is None else found.phase_deg == pytest.approx(degrees, abs=1e-4)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_missing_value_shifts_no_column(tmp_path: Path, separator: str) -> None:
    rows = ["Hz,dB,degrees", "100,,-30", "200,80,-40", "300,81,", "400,82,-60", "500,nan,-70", "600,83,-80"]
    path = tmp_path / "curve.txt"
    path.write_text("\n".join(rows).replace(",", separator))
    found = read_table(path)
    assert found.hz.tolist() == [200, 400, 600]
    assert found.values.tolist() == [80, 82, 83]
    assert found.phase_deg is not None
    assert found.phase_deg.tolist() == [-40, -60, -80]
    assert found.notes == ("3 rows without a value were left out (at 100, 300, 500)",)


def test_one_of_several_columns_is_taken_when_named(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("Hz\tleft dB\tphase °\tright dB\tphase rad\n100\t80\t9\t70\t0\n1000\t81\t8\t71\t3.14159265\n")
    for column, values, degrees in (("2", [80, 81], [9, 8]), ("right dB", [70, 71], [0, 180])):
        [found] = read_tables(path, Wish(column=column))
        assert found.values.tolist() == values
        assert found.phase_deg == pytest.approx(degrees)
        assert "left out: " in found.notes[0]
    for column in ("1", "9", "middle"):
        with pytest.raises(FileError, match=f"--column {column} names no column of levels there; its columns are"):
            read_tables(path, Wish(column=column))
    path.write_text("100 80 70 3\n1000 81 71 4\n")
    [found] = read_tables(path, Wish("db", column="3"))
    assert (found.values.tolist(), found.phase_deg) == ([70, 71], None)


def test_columns_headed_by_angles_are_curves_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "set.csv"
    path.write_text("Hz,0° (dB),hor 22.5 dB,vert \u221210 dB\n100,80,79,78\n1000,80,70,60\n", encoding="utf-8")
    found = read_tables(path)
    assert {one.name: one.values.tolist() for one in found} == {
        "0° (dB)": [80, 80], "hor 22.5 dB": [79, 70], "vert \u221210 dB": [78, 60],
    }  # fmt: skip


def test_a_curve_below_another_is_taken_when_named(tmp_path: Path) -> None:
    path = tmp_path / "two.txt"
    path.write_text("Hz dB\n100 80\n200 80\n400 81\n\nHz ohm\n100 4\n200 5\n400 6\n")
    assert [read_tables(path, Wish(part=part))[0].values.tolist() for part in (1, 2)] == [[80, 80, 81], [4, 5, 6]]
    with pytest.raises(FileError, match="--part 3 is not among them"):
        read_tables(path, Wish(part=3))


def test_what_was_named_must_not_contradict_the_heading(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("kHz, dB, rad\n0.1, 80, 1\n1, 81, 2\n")
    for wish, says in (
        (Wish("pa"), "'dB' says dB, not Pa"),
        (Wish(phase="deg"), "'rad' says radians, not degrees"),
        (Wish(frequency="hz"), "'kHz' says kHz, not hz"),
    ):
        with pytest.raises(FileError, match=says):
            read_tables(path, wish)


def test_clear_patterns_need_no_heading(tmp_path: Path) -> None:
    """A level below 0 can only be dB; phases that jump by a turn, or go far to both sides, are degrees."""
    path = tmp_path / "curve.txt"
    path.write_text("100 -3 170\n1000 2 -175\n")
    assert read_table(path).read_as.startswith("Hz, dB, degrees; ")
    path = tmp_path / "curve.zma"  # by its ending an impedance
    path.write_text("100 4.5 -20\n1000 8 60\n")
    assert read_table(path).read_as.startswith("Hz, ohm, degrees; ")


def test_numbers_survive_from_numpys_own_writer(tmp_path: Path) -> None:
    path = tmp_path / "curve.csv"
    data = np.column_stack([np.geomspace(20, 20_000, 50), np.linspace(-5, 5, 50)])
    np.savetxt(path, data, delimiter=",", header="f,db")
    found = read_table(path)
    assert found.values == pytest.approx(data[:, 1])


@pytest.mark.parametrize(
    "text",
    [
        "Hz\tdB\n500\t80.0\n800\t80.1\n1,000\t80.2\n1,250\t80.3\n20,000\t80.4\n",
        "Hz;dB\n500;80\n800;81\n1,000;82\n1,250;83\n20,000;84\n",
        "Hz;dB\n20,000;84\n1,250;83\n1,000;82\n800;81\n500;80\n",
        "Hz;dB\n500;80,0\n800;80,1\n1.000;80,2\n1.250;80,3\n20.000;80,4\n",
    ],
)
def test_marks_of_thousands_leave_the_treble_where_it_is(tmp_path: Path, text: str) -> None:
    path = tmp_path / "curve.txt"
    path.write_text(text)
    found = read_table(path)
    assert found.hz.tolist() == [500, 800, 1000, 1250, 20_000]
    assert (np.diff(found.values) > 0).all()


def test_thousands_alone_are_known_by_the_decimals_beside_them(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("Hz\tdB\n1,000\t80.0\n20,000\t80.5\n")
    assert read_table(path).hz.tolist() == [1000, 20_000]
    path.write_text("Hz;dB\n20,125;80,0\n31,500;80,5\n100,250;81,5\n")  # decimals that happen to be three
    assert read_table(path).hz.tolist() == [20.125, 31.5, 100.25]


def test_marks_that_may_be_either_are_refused_with_their_line(tmp_path: Path) -> None:
    path = tmp_path / "curve.txt"
    path.write_text("Hz;dB\n31,5;80\n800;81\n1,000;82\n1,250;83\n")
    with pytest.raises(FileError, match="line 4: '1,000' after '800' looks like a mark of thousands"):
        read_table(path)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("f[Hz] Z[mΩ]\n100 3000\n1000 8000\n", [[100, 3], [1000, 8]]),
        ("f[Hz] Z[mOhm]\n100 3000\n1000 8000\n", [[100, 3], [1000, 8]]),
        ("f[Hz] Z[MΩ]\n100 3\n1000 8\n", [[100, 3e6], [1000, 8e6]]),
        ("f[Hz] Z[MOhm]\n100 3\n1000 8\n", [[100, 3e6], [1000, 8e6]]),
        ("f [mHz]\tdB\n100000\t80\n1000000\t81\n", [[100, 80], [1000, 81]]),
        ("f [MHz]\tdB\n0.0001\t80\n0.001\t81\n", [[100, 80], [1000, 81]]),
        ("f[Hz] dB Phase[mrad]\n100 80 -1000\n1000 81 500\n", [[100, 80, -57.29578], [1000, 81, 28.64789]]),
        ("Hz\tdB\tPhase (cycles)\n100\t80\t0.25\n1000\t81\t-1.5\n", [[100, 80, 90], [1000, 81, -540]]),
    ],
)
def test_units_with_a_prefix_are_read_with_it(tmp_path: Path, text: str, expected: list[list[float]]) -> None:
    path = tmp_path / "curve.txt"
    path.write_text(text, encoding="utf-8")
    found = read_table(path)
    parts = [found.hz, found.values] + ([] if found.phase_deg is None else [found.phase_deg])
    assert np.column_stack(parts) == pytest.approx(np.array(expected))
