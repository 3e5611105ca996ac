from __future__ import annotations

from pathlib import Path

import pytest

from sessions.errors import CatalogueError
from sessions.measured import angle_sets


def test_a_name_holds_plane_and_angle() -> None:
    assert angle_sets.direction_of("sallow hor +30") == ("horizontal", 30)
    assert angle_sets.direction_of("V-10deg") == ("vertical", -10)
    assert angle_sets.direction_of("30", "vertical") == ("vertical", 30)
    assert angle_sets.direction_of("2024 session h 10") == ("horizontal", 10)


@pytest.mark.parametrize(("name", "says"), [("sallow", "no angle"), ("10 of 30", "more than one number")])
def test_a_name_without_one_angle_is_refused(name: str, says: str) -> None:
    with pytest.raises(CatalogueError, match=says):
        angle_sets.direction_of(name)


def test_two_files_of_one_direction_are_refused(tmp_path: Path) -> None:
    for name in ("hor 30.txt", "h+30.txt"):
        (tmp_path / name).touch()
    with pytest.raises(CatalogueError, match=r"both name horizontal 30°; keep one of them there"):
        angle_sets.named_by_angle(tmp_path, "horizontal", (".txt",))


def test_a_folder_without_curves_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.pdf").touch()
    with pytest.raises(CatalogueError, match="holds no curves"):
        angle_sets.named_by_angle(tmp_path, "horizontal", (".txt",))


@pytest.mark.parametrize("line", ["none.txt,horizontal,0", "a.txt,sideways,0", "a.txt,horizontal,1.5"])
def test_a_table_s_line_that_does_not_fit_is_named(tmp_path: Path, line: str) -> None:
    (tmp_path / "a.txt").touch()
    (tmp_path / "set.csv").write_text(f"file,plane,angle\na.txt,,10\n{line}\n")
    with pytest.raises(CatalogueError, match="line 3: a line names a file"):
        angle_sets.listed_in_table(tmp_path / "set.csv")


def test_a_curve_s_own_columns_are_no_table_of_files(tmp_path: Path) -> None:
    (tmp_path / "axis.csv").write_text("Hz,dB\n100,80\n")
    assert angle_sets.listed_in_table(tmp_path / "axis.csv") == []
