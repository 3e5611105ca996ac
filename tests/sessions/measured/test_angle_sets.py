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


@pytest.mark.parametrize(
    ("name", "direction"),
    [
        ("Mk2 left 30", ("horizontal", -30)),
        ("Mk2 right 30", ("horizontal", 30)),
        ("30 left", ("horizontal", -30)),
        ("left30", ("horizontal", -30)),
        ("ver down 10", ("vertical", -10)),
        ("v down 10", ("vertical", -10)),
        ("down10", ("vertical", -10)),
        ("up10", ("vertical", 10)),
        ("hor_m30", ("horizontal", -30)),
        ("v_m10", ("vertical", -10)),
        ("hor_p30", ("horizontal", 30)),
        ("hor minus 30", ("horizontal", -30)),
        ("30 hor L", ("horizontal", -30)),
        ("30L", ("horizontal", -30)),
        ("L30", ("horizontal", -30)),
        ("45\u00b0 R", ("horizontal", 45)),
        ("left 0", ("horizontal", 0)),
        ("left hor +30", ("horizontal", 30)),  # a sign says it: left is the loudspeaker's side then
        ("right hor -30", ("horizontal", -30)),
        ("L hor -30", ("horizontal", -30)),
    ],
)
def test_words_of_a_side_are_signs(name: str, direction: tuple[str, float]) -> None:
    assert angle_sets.direction_of(name) == direction


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("hor up 10", "both horizontal and vertical"),
        ("left 30 right", "both a negative and a positive side"),
        ("sallow L hor 30", "is 'L' the angle's side or the loudspeaker's"),
        ("right-30", "is its hyphen a minus"),
    ],
)
def test_a_side_that_may_be_another_thing_is_asked(name: str, says: str) -> None:
    with pytest.raises(CatalogueError, match=says):
        angle_sets.direction_of(name)


def test_a_folder_of_two_sides_is_read_and_told_how(tmp_path: Path) -> None:
    for name in ("Mk2 left 30", "Mk2 left 60", "Mk2 right 30", "Mk2 0"):
        (tmp_path / f"{name}.txt").write_text("Hz dB\n100 80\n200 81\n")
    found = angle_sets.named_by_angle(tmp_path, "horizontal", (".txt",))
    assert sorted(one.direction.angle for one in found) == [-60, -30, 0, 30]
    assert angle_sets.signs_in_words(found) == [
        "2 names say a negative side in words: 'Mk2 left 30' is read as horizontal -30°"
    ]
