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


@pytest.mark.parametrize(
    ("name", "direction"),
    [
        ("sallow h22.5", ("horizontal", 22.5)),
        ("h 7,5", ("horizontal", 7.5)),
        ("hor \u221230", ("horizontal", -30)),  # the minus of typesetting
        ("V\u201310\u00ba", ("vertical", -10)),  # a dash, and an ordinal sign as people type it
        ("sallow 22.5\u02da", ("horizontal", 22.5)),
        ("vertical sallow 30", ("vertical", 30)),
        ("sallow -30", ("horizontal", -30)),
        ("sallow_30", ("horizontal", 30)),
        ("sallow-30deg h", None),
        ("sallow 1 m 30 deg", ("horizontal", 30)),
        ("h 270", None),
        ("hor 30 vert 10", None),
        ("vertical h 10", None),
        ("sallow v2", None),
        ("take 5", None),
        ("sallow 3", None),
        ("sallow 30 cm", None),
        ("sallow 40 Hz", None),
        ("sallow-30", None),
        ("2.83V", None),
        ("2024-05-10", None),
        ("90\u00b0 2", ("horizontal", 90)),
    ],
)
def test_a_number_that_is_no_clear_angle_is_refused(name: str, direction: tuple[str, float] | None) -> None:
    if direction is None:
        with pytest.raises(CatalogueError, match="the name"):
            angle_sets.direction_of(name)
        return
    found = angle_sets.direction_of(name)
    assert found == direction
    assert isinstance(found.angle, int) == (found.angle == int(found.angle))


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


@pytest.mark.parametrize(
    "line", ["none.txt,horizontal,0", "a.txt,sideways,0", "a.txt,horizontal,270", "a.txt,horizontal,left"]
)
def test_a_table_s_line_that_does_not_fit_is_named(tmp_path: Path, line: str) -> None:
    (tmp_path / "a.txt").touch()
    (tmp_path / "set.csv").write_text(f"file,plane,angle\na.txt,,\u221222.5°\n{line}\n", encoding="utf-8")
    with pytest.raises(CatalogueError, match="line 3: a line names a file"):
        angle_sets.listed_in_table(tmp_path / "set.csv")


def test_a_curve_s_own_columns_are_no_table_of_files(tmp_path: Path) -> None:
    (tmp_path / "axis.csv").write_text("Hz,dB\n100,80\n")
    assert angle_sets.listed_in_table(tmp_path / "axis.csv") == []
