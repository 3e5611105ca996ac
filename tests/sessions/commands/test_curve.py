from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.store import Casebook
from sessions.measured.figures.figure_table import FIGURES
from tests.sessions.measured.measured_files import HZ, write_impulse, write_level

from .test_commands import Done, run


def ask(casebook: Casebook, *arguments: object) -> Done:
    return run("--casebook", casebook.folder, "curve", *arguments)


def test_the_command_line_adds_lists_shows_and_draws(casebook: Casebook, tmp_path: Path) -> None:
    path = write_level(tmp_path / "axis.txt", 0)
    added = ask(casebook, "add", "sallow", path, "--distance", 1, "--height", 1.2, "--by", "Ada")
    assert added.returncode == 0, added.stderr
    ask(casebook, "add", "bracken", path)
    listed = json.loads(ask(casebook, "list", "--json").stdout)["curves"]
    assert [row["setup"] for row in listed] == ["sallow", "bracken"]
    assert set(listed[0]) == {
        "id", "setup", "kind", "plane", "angle", "at", "file", "sha256", "conditions", "withdrawn", "replaced_by",
    }  # fmt: skip
    assert listed[0]["conditions"]["gate_ms"] == pytest.approx(4.662, abs=5e-3)  # the floor, at 1.2 m and 1 m
    shown = ask(casebook, "show", "sallow", "--against", "bracken", "--out", tmp_path / "both.png", "--band", 500, 2000)
    assert "nothing below 215" in shown.stdout
    assert "At one level over 500 to 2000 Hz" in shown.stdout
    assert (tmp_path / "both.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["show", "sallow", "--what", "waterfall"], "--what is one of"),
        (["show", "sallow", "--what", "impedance", "--out", "x.png"], "has no impedance yet"),
        (["show", "sallow", "--out", "x.png"], "has no curve on axis yet"),
        (["show", "sallow", "--against", "bracken"], "need a curve on axis each"),
        (["show", "sallow", "--what", "difference", "--json"], "needs a second setup with a curve"),
        (["show", "sallow", "--curve", "a"], "no curve 'a' in this casebook"),
        (["show", "sallow", "--curve", "a", "--against", "bracken"], "by --curve ID and --against-curve ID"),
        (["show"], "name a setup, or one curve with --curve ID"),
        (["show", "sallow", "--against-curve", "a"], "--curve ID and --against-curve ID"),
        (["add", "sallow", "none.txt"], "there is no none.txt"),
        (["sweep", "sallow", "--mic", "room:1"], "is no real gear"),
        (["sweep", "sallow", "--mic", "room:1,2"], "--mic takes one input"),
        (["sweep", "sallow", "--mic", "room:1", "--angles", "0-90"], "FROM:TO:STEP"),
        (["sweep", "sallow", "--mic", "room:1", "--heights", "0,1"], "needs --distance"),
        (["sweep", "sallow", "--mic", "room:1", "--heights", "0", "--angles", "0:1:1"], "not both"),
    ],
)
def test_what_does_not_fit_gets_one_line(casebook: Casebook, arguments: list[object], says: str) -> None:
    done = ask(casebook, *arguments)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("how", [[], ["--json"], ["--out", "x.png"]])
@pytest.mark.parametrize("what", ["polar", "vertical"])
def test_too_few_angles_get_the_same_line_with_and_without_a_picture(
    casebook: Casebook, tmp_path: Path, what: str, how: list[str]
) -> None:
    (tmp_path / "a.txt").write_text("Hz dB\n20 80\n1000 80\n20000 80\n")
    assert ask(casebook, "add", "sallow", tmp_path / "a.txt").returncode == 0
    done = ask(casebook, "show", "sallow", "--what", what, *how)
    assert (done.returncode, done.stdout) == (2, "")
    assert "angles for a picture; measure three or more" in done.stderr
    assert done.stderr.count("\n") == 1
    assert "1 direction measured." in ask(casebook, "show", "sallow").stdout


@pytest.mark.parametrize("what", ["response", "impedance", "distortion", "polar"])
def test_numbers_of_what_was_not_measured_are_empty(casebook: Casebook, what: str) -> None:
    done = ask(casebook, "show", "sallow", "--what", what, "--json")
    assert done.returncode == 0, done.stderr
    nothing = {"setup": "sallow", "directions": [], "figure": what, "numbers": {}, "record_holds": True}
    assert json.loads(done.stdout) == nothing


def test_the_help_names_every_figure_of_the_table() -> None:
    words = run("curve", "show", "--help").stdout.split()
    assert set(FIGURES) <= {word.strip(".,;]") for word in words}


def test_the_directivity_is_the_same_in_the_summary_the_figure_and_the_picture(
    casebook: Casebook, tmp_path: Path
) -> None:
    folder = tmp_path / "set"
    folder.mkdir()
    write_impulse(folder / "hor 0.wav", frames=9600)
    for plane, angle in [("hor", a) for a in (10, 20, 30)] + [("vert", a) for a in (-10, 10)]:
        write_level(folder / f"{plane} {angle}.txt", -angle / 10)
    ask(casebook, "add", "sallow", folder, "--gate", 20)
    for smoothing in (0, 3):
        done = ask(
            casebook, "show", "sallow", "--what", "directivity", "--smooth", smoothing, "--json",
            "--out", tmp_path / f"{smoothing}.svg",
        )  # fmt: skip
        document = json.loads(done.stdout)
        assert document["numbers"] == document["directivity"]
        assert "Drawn: " in done.stderr
    assert (tmp_path / "0.svg").read_text() == (tmp_path / "3.svg").read_text()


def test_a_nearfield_is_joined_and_says_by_what_rule(casebook: Casebook, tmp_path: Path) -> None:
    far, near = write_level(tmp_path / "far.txt", 85), write_level(tmp_path / "near.txt", 97)
    add = ask(casebook, "add", "sallow", far, "--gate", 6)
    assert add.returncode == 0, add.stderr
    high = ask(casebook, "join", "sallow", near, "--at", 900, "--radius", 0.1)
    assert high.returncode == 2
    assert "holds up to 546 Hz" in high.stderr  # ka = 1, Keele 1974 (from memory)
    done = ask(casebook, "join", "sallow", near, "--at", 300, "--radius", 0.1)
    assert done.returncode == 0, done.stderr
    assert "moved by -12.00 dB" in done.stdout


def test_two_curves_of_one_setup_are_compared_by_their_identifiers(casebook: Casebook, tmp_path: Path) -> None:
    """The same unit in two rooms."""
    ids = []
    for room, tilt in (("studio", 0.0), ("barn", 1.0)):
        path = write_level(tmp_path / "axis.txt", tilt * np.log2(HZ / 1000))
        ids += json.loads(ask(casebook, "add", "sallow", path, "--room", room, "--json").stdout)["curves"]
    done = ask(casebook, "show", "sallow", "--curve", ids[0], "--against-curve", ids[1])
    assert done.returncode == 0, done.stderr
    assert "room: sallow (studio) studio, sallow (barn) barn" in done.stdout
    assert "they depart from a constant difference" in done.stdout


def test_what_was_understood_is_said_in_one_line(casebook: Casebook, tmp_path: Path) -> None:
    path = tmp_path / "axis.txt"
    rows = "".join(f"{0.02 * 10 ** (n * 3 / 479):.7f};80;-1.5707963\n" for n in range(480))
    path.write_text("f [kHz];SPL [dB];Phase[rad]\n" + rows)
    done = ask(casebook, "add", "sallow", path, "--room", "barn")
    assert done.returncode == 0, done.stderr
    assert "  read as: kHz, dB, radians; 480 points, 20 Hz–20 kHz\n" in done.stdout
    document = json.loads(ask(casebook, "add", "sallow", path, "--json").stdout)
    assert document["read_as"] == ["read as: kHz, dB, radians; 480 points, 20 Hz–20 kHz"]
    path.write_text("100 4.5\n1000 8\n")
    asked = ask(casebook, "add", "sallow", path)
    assert (asked.returncode, asked.stderr.count("\n")) == (2, 1)
    assert "name their unit with --unit db, pa, v, ohm or gain" in asked.stderr
    assert "read as: Hz, ohm; 2 points" in ask(casebook, "add", "sallow", path, "--unit", "ohm").stdout
    path.write_text("0.1,-3,0\n1,-4,-1\n")
    done = ask(
        casebook, "add", "sallow", path, "--frequency-unit", "khz", "--phase", "rad", "--angle", "\u221222.5", "--json"
    )  # fmt: skip
    assert json.loads(done.stdout)["read_as"] == ["read as: kHz, dB, radians; 2 points, 100 Hz–1 kHz"]
    path.write_text("Hz,left dB,right dB\n100,80,70\n1000,80,71\n")
    assert "say which with --column" in ask(casebook, "add", "sallow", path).stderr
    assert ask(casebook, "add", "sallow", path, "--column", "right dB").returncode == 0
    listed = ask(casebook, "list").stdout
    assert "horizontal -22.5°" in listed
    assert "barn" in listed


def test_a_curve_is_withdrawn_with_a_reason_replaced_and_shown_alone(casebook: Casebook, tmp_path: Path) -> None:
    def add(level: float, *more: object) -> str:
        done = ask(casebook, "add", "sallow", write_level(tmp_path / "axis.txt", level), *more, "--json")
        return str(json.loads(done.stdout)["curves"][0])

    first, second = add(80, "--room", "barn", "--when", "2026-05-01"), add(90)
    bare = ask(casebook, "withdraw", second)
    assert (bare.returncode, bare.stderr.count("\n")) == (2, 1)
    assert "say it with --why" in bare.stderr
    assert ask(casebook, "withdraw", second, "--why", "wrong cable").returncode == 0
    again = ask(casebook, "withdraw", second, "--why", "twice")
    assert (again.returncode, "was withdrawn before (wrong cable)" in again.stderr) == (2, True)
    assert 'mean_db": 80' in ask(casebook, "show", "sallow", "--json").stdout
    third = add(70, "--replaces", first, "--why", "moved the microphone")
    document = json.loads(ask(casebook, "show", "sallow", "--json").stdout)
    assert document["on_axis"]["mean_db"] == pytest.approx(70)
    listed = ask(casebook, "list").stdout
    assert f"withdrawn: moved the microphone (replaced by {third}); barn" in listed
    assert all(one in listed for one in (first, second, third, "2026-05-01", "wrong cable"))
    alone = ask(casebook, "show", "--curve", first)
    assert alone.returncode == 0, alone.stderr
    assert f"{first} alone: response, horizontal 0°, 2026-05-01; withdrawn: moved the microphone" in alone.stdout
    assert "  on axis valid from" in alone.stdout
    document = json.loads(ask(casebook, "show", "--curve", first, "--json").stdout)
    assert document["curve"]["id"] == first
    assert document["on_axis"]["mean_db"] == pytest.approx(80)
    other = ask(casebook, "show", "bracken", "--curve", first)
    assert (other.returncode, "is a curve of 'sallow', not of 'bracken'" in other.stderr) == (2, True)
    assert ask(casebook, "show", "--curve", first, "--out", tmp_path / "alone.svg").returncode == 0
    assert casebook.query("SELECT count(*) AS n FROM curves")[0]["n"] == 3


def test_a_curve_said_to_be_in_db_spl_gives_its_sensitivity(casebook: Casebook, tmp_path: Path) -> None:
    """82 dB SPL at 2 m for 1 V are 97.06 dB for 2.83 V at 1 m: 9.04 and 6.02 dB more."""
    path = write_level(tmp_path / "axis.txt", 82)
    added = ask(casebook, "add", "sallow", path, "--spl", "--volts", 1, "--distance", 2)
    assert added.returncode == 0, added.stderr
    assert "sensitivity 97.1 dB SPL for 2.83 V at 1 m" in ask(casebook, "show", "sallow").stdout
    assert ask(casebook, "add", "bracken", path, "--volts", 1, "--distance", 2).returncode == 0
    assert "sensitivity" not in ask(casebook, "show", "bracken").stdout


def test_a_withdrawn_curve_is_called_so_beside_others(casebook: Casebook, tmp_path: Path) -> None:
    ids = []
    for level in (0.0, 1.0):
        path = write_level(tmp_path / "axis.txt", np.full(HZ.shape, 80 + level))
        ids += json.loads(ask(casebook, "add", "sallow", path, "--json").stdout)["curves"]
    assert ask(casebook, "withdraw", ids[0], "--why", "wrong drive").returncode == 0
    drawn = tmp_path / "x.svg"
    for arguments in (
        ("sallow", "--with", ids[0]),
        ("--curve", ids[0]),
        ("sallow", "--curve", ids[1], "--against-curve", ids[0]),
    ):
        done = ask(casebook, "show", *arguments, "--out", drawn)
        assert done.returncode == 0, done.stderr
        assert "withdrawn: wrong drive" in done.stdout, arguments
        assert " (withdrawn)" in drawn.read_text(), arguments
        assert not any(one in drawn.read_text() for one in ids), arguments


def test_a_seating_counts_from_one(casebook: Casebook, tmp_path: Path) -> None:
    path = write_level(tmp_path / "axis.txt", np.full(HZ.shape, 80.0))
    done = ask(casebook, "add", "sallow", path, "--coupler", "ear", "--seating", 0)
    assert (done.returncode, "seating" in done.stderr) == (2, True)


def test_curves_that_do_not_belong_together_are_told_with_what_differs(casebook: Casebook, tmp_path: Path) -> None:
    for number, stated in enumerate((("ear", "left"), ("dummy", "right"))):
        path = write_level(tmp_path / "axis.txt", np.full(HZ.shape, 80.0 + number))
        ask(casebook, "add", "sallow", path, "--coupler", stated[0])
        path = write_level(tmp_path / "axis.txt", np.full(HZ.shape, 70.0 + number))
        ask(casebook, "add", "sallow", path, "--place", stated[1], "--room", stated[0])
    for what, differs in (("seatings", "coupler (ear, dummy)"), ("places", "room (ear, dummy)")):
        done = ask(casebook, "show", "sallow", "--what", what)
        assert f"there are 2, but these differ: {differs}" in done.stdout, done.stderr
