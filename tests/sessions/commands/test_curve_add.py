"""What `curve add` understands of a single file and says of it: its angle, level and content, what to type next."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_records
from sessions.measured.conditions import ON_AXIS
from tests.sessions.measured.measured_files import write_impulse, write_level

from .test_commands import Done, run


def ask(casebook: Casebook, *arguments: object) -> Done:
    return run("--casebook", casebook.folder, "curve", *arguments)


@pytest.mark.parametrize(
    ("name", "stated", "kept_as"),
    [
        ("hor 30", (), "horizontal 30°"),
        ("osk ver -10", (), "vertical -10°"),
        ("-20", (), "horizontal -20°"),
        ("15", ("--plane", "vertical"), "vertical 15°"),
        ("hor 30", ("--angle", 0), "horizontal 0°"),
        ("osk take 2", (), "horizontal 0°"),
        ("osk axis 100 cm", (), "horizontal 0°"),
        ("u0", (), "horizontal 0°"),  # the first unit, and no way up
        ("v0", (), "horizontal 0°"),
        ("u0", ("--plane", "vertical"), "vertical 0°"),
        ("v +10", (), "vertical 10°"),
        ("V10\u00b0", (), "vertical 10°"),
    ],
)
def test_a_single_file_named_by_its_angle_is_kept_at_it_and_says_so(
    casebook: Casebook, tmp_path: Path, name: str, stated: tuple[object, ...], kept_as: str
) -> None:
    path = write_impulse(tmp_path / f"{name}.wav")
    done = ask(casebook, "add", "sallow", path, "--gate", 5, *stated)
    assert done.returncode == 0, done.stderr
    assert f" of 'sallow' as {kept_as}, " in done.stdout
    [row] = json.loads(ask(casebook, "list", "--json").stdout)["curves"]
    assert f"{row['plane']} {row['angle']}°" == kept_as


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("3", "Say --angle 3"),
        ("osk 30", "Say --angle 30, or --angle 0"),
        ("hor 10 ver 20", "--angle"),
        ("osk v10", "is 'v10' in the name 'osk v10' an angle?"),
        ("u10", "is 'u10' in"),
    ],
)
def test_a_number_that_may_be_an_angle_is_asked_about(casebook: Casebook, tmp_path: Path, name: str, says: str) -> None:
    done = ask(casebook, "add", "sallow", write_level(tmp_path / f"{name}.txt", 80))
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert says in done.stderr
    assert json.loads(ask(casebook, "list", "--json").stdout)["curves"] == []


def test_vertically_at_0_degrees_is_on_axis_where_nothing_else_is(casebook: Casebook, tmp_path: Path) -> None:
    sallow = catalogue.find(casebook, Setup, "sallow")
    add = ("add", "sallow", write_level(tmp_path / "axis.txt", 80))
    ask(casebook, *add, "--plane", "vertical", "--angle", 0)
    [up] = curve_records.in_direction(casebook, sallow, ON_AXIS)
    assert up.direction == ("vertical", 0)
    measured = curve_records.of_setup(casebook, sallow)
    assert (measured.on_axis, measured.all_on_axis) == (measured.everything[0], [measured.everything[0]])
    ask(casebook, *add)
    assert [one.direction for one in curve_records.in_direction(casebook, sallow, ON_AXIS)] == [ON_AXIS]
    assert curve_records.of_setup(casebook, sallow).on_axis != measured.on_axis


@pytest.mark.parametrize("level_db", [-11.3, 131.0])
def test_an_unlikely_level_in_db_spl_is_asked_about(casebook: Casebook, tmp_path: Path, level_db: float) -> None:
    stated = ("add", "sallow", write_level(tmp_path / "axis.txt", level_db), "--volts", 2.83, "--distance", 1)
    done = ask(casebook, *stated, "--spl")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert f"{level_db:.1f} dB SPL for 2.83 V at 1 m is no likely level (60 to 130)" in done.stderr
    assert "--spl-is-right" in done.stderr
    assert ask(casebook, *stated).returncode == 0
    assert ask(casebook, *stated, "--spl", "--spl-is-right").returncode == 0


@pytest.mark.parametrize("level_db", [60.5, 129.5])
def test_a_likely_level_in_db_spl_is_taken(casebook: Casebook, tmp_path: Path, level_db: float) -> None:
    assert ask(casebook, "add", "sallow", write_level(tmp_path / "axis.txt", level_db), "--spl").returncode == 0


def test_a_raw_impulse_response_is_not_believed_to_be_in_db_spl(casebook: Casebook, tmp_path: Path) -> None:
    done = ask(casebook, "add", "sallow", write_impulse(tmp_path / "axis.wav"), "--gate", 5, "--spl")
    assert (done.returncode, "0.0 dB SPL is no likely level" in done.stderr) == (2, True)


def test_the_same_content_at_another_angle_is_told_and_listed_by_the_name_it_came_by(
    casebook: Casebook, tmp_path: Path
) -> None:
    ask(casebook, "add", "sallow", write_level(tmp_path / "hor 30.txt", 80))
    done = ask(casebook, "add", "sallow", write_level(tmp_path / "hor 40.txt", 80))
    assert "hor 40.txt has the same content as hor 30.txt of sallow, horizontal 30°" in done.stdout
    files = [one["file"] for one in json.loads(ask(casebook, "list", "--json").stdout)["curves"]]
    assert files == ["hor 30.txt", "hor 40.txt"]


def test_two_files_of_a_folder_with_the_same_content_are_told(casebook: Casebook, tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    for angle, level in ((0, 80), (10, 79), (20, 79)):
        write_level(tmp_path / "set" / f"hor {angle}.txt", level)
    done = ask(casebook, "add", "sallow", tmp_path / "set")
    assert "hor 20.txt has the same content as hor 10.txt of sallow, horizontal 10°" in done.stdout
    assert " as horizontal 0°, 10°, 20°, " in done.stdout
    assert done.stdout.strip().endswith("curve show sallow --what polar")
    assert run("--casebook", casebook.folder, "verify").returncode == 0


@pytest.mark.parametrize(
    ("stated", "what"),
    [
        (("--side", "left"), "--what pair"),
        (("--place", "chair"), "--what places"),
        (("--coupler", "ear"), "--what seatings"),
        (("--role", "woofer"), "--what drivers"),
        (("--unit", "ohm"), "--what impedance"),
        (("--unit", "OHM"), "--what impedance"),  # as it is written on the axis: dB, Pa, V
        ((), "curve show sallow"),
    ],
)
def test_the_next_command_fits_what_was_added(
    casebook: Casebook, tmp_path: Path, stated: tuple[str, ...], what: str
) -> None:
    path = tmp_path / "a.txt"
    path.write_text("20 8\n1000 8\n20000 8\n")
    done = ask(casebook, "add", "sallow", path, *(stated if "--unit" in stated else ("--unit", "db", *stated)))
    assert done.stdout.strip().endswith(what), done.stderr


def test_one_curve_is_withdrawn_in_the_singular(casebook: Casebook, tmp_path: Path) -> None:
    path = write_level(tmp_path / "axis.txt", 80)
    ids = [json.loads(ask(casebook, "add", "sallow", path, "--json").stdout)["curves"][0] for _ in range(3)]
    assert ". It stays on record" in ask(casebook, "withdraw", ids[0], "--why", "moved").stdout
    assert ". They stay on record" in ask(casebook, "withdraw", *ids[1:], "--why", "moved").stdout


@pytest.mark.parametrize("column", ["left", "Left", "left [dB]", "2"])
def test_a_column_is_named_with_or_without_its_unit(casebook: Casebook, tmp_path: Path, column: str) -> None:
    path = tmp_path / "both.csv"
    rows = "".join(f"{20 * 2 ** (step / 6):.2f},80,70\n" for step in range(60))
    path.write_text(f"f [Hz],left [dB],right [dB]\n{rows}")
    done = ask(casebook, "add", "sallow", path, "--column", column)
    assert done.returncode == 0, done.stderr
    found = json.loads(ask(casebook, "show", "sallow", "--json").stdout)
    assert found["on_axis"]["mean_db"] == pytest.approx(80)


def test_a_whole_set_of_another_setup_is_told_in_one_line(casebook: Casebook, tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    for place, angle in enumerate(range(0, 60, 10)):
        write_level(tmp_path / "set" / f"hor {angle}.txt", 80 - place)
    ask(casebook, "add", "sallow", tmp_path / "set")
    told = ask(casebook, "add", "bracken", tmp_path / "set").stdout
    assert "6 files have the same content as files of sallow (the first: hor 0.txt has the same content as" in told
    assert told.count("are they the right ones?") == 1
    assert "is it the right file" not in told
