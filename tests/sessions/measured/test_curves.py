"""Measured data in the casebook: brought in, kept whole, compared, drawn, and set beside a verdict."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.curves.curve import log_grid
from audio.files import writing
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import comparison, curve_import, curve_records, curve_sentences, drawing, swept_curves
from sessions.measured.curve_import import Reading
from sessions.measured.curve_records import Conditions
from sessions.report import contents, page
from sessions.results import verification
from tests.sessions.commands.test_commands import Done, run

HZ = log_grid(20, 20_000, 24)


def text(level: np.ndarray, hz: np.ndarray = HZ) -> str:
    return "\n".join(f"{f:.3f}\t{db:.3f}" for f, db in zip(hz, level, strict=True)) + "\n"


@pytest.fixture
def sallow(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "sallow")


@pytest.fixture
def bracken(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "bracken")


def ask(casebook: Casebook, *arguments: object) -> Done:
    return run("--casebook", casebook.folder, *arguments)


def test_a_curve_keeps_its_file_its_conditions_and_its_hash(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = tmp_path / "axis.txt"
    path.write_text(text(np.zeros(len(HZ))))
    stated = Conditions(distance_m=1.0, drive_volts=2.83, gate_ms=6.0, room="barn", by="Ada")
    rows = curve_import.bring(casebook, sallow, path, Reading(), stated).rows
    kept = curve_records.by_angle(casebook, sallow)["horizontal", 0]
    assert kept.conditions.room == "barn"
    assert kept.curve().valid_hz[0] == pytest.approx(1000 / 6)  # a gate of 6 ms
    assert kept.data[:, 0] == pytest.approx(HZ, abs=1e-3)
    assert curve_records.raw(casebook, rows[0]["measurement_id"]) == path.read_bytes()
    assert verification.verify(casebook).ok
    with pytest.raises(Exception, match="append-only"):
        casebook.db.execute("UPDATE curves SET angle = 30")


def test_a_folder_of_angles_is_a_set(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for plane, angle in (("hor", 0), ("hor", 30), ("hor", -30), ("vert", 10)):
        (tmp_path / f"sallow {plane} {angle}.txt").write_text(text(np.full(len(HZ), -abs(angle) / 10)))
    brought = curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert len(brought.rows) == 4
    found = curve_records.by_angle(casebook, sallow)
    assert set(found) == {("horizontal", 0), ("horizontal", 30), ("horizontal", -30), ("vertical", 10)}
    assert found["horizontal", -30].curve().level_db == pytest.approx(-3, abs=1e-3)


def test_a_table_names_files_and_angles(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(text(np.zeros(len(HZ))))
    (tmp_path / "b.txt").write_text(text(np.ones(len(HZ))))
    (tmp_path / "set.csv").write_text("file,plane,angle\na.txt,horizontal,0\nb.txt,vertical,-20\n")
    assert len(curve_import.bring(casebook, sallow, tmp_path / "set.csv", Reading(), Conditions()).rows) == 2
    (tmp_path / "set.csv").write_text("file,plane,angle\nnone.txt,horizontal,0\n")
    with pytest.raises(CatalogueError, match="line 2: a line names a file"):
        curve_import.bring(casebook, sallow, tmp_path / "set.csv", Reading(), Conditions())


@pytest.mark.parametrize("name", ["sallow.txt", "10 of 30.txt"])
def test_a_name_without_one_angle_is_refused_and_nothing_is_kept(
    casebook: Casebook, sallow: Setup, tmp_path: Path, name: str
) -> None:
    (tmp_path / "hor 0.txt").write_text(text(np.zeros(len(HZ))))
    (tmp_path / name).write_text(text(np.zeros(len(HZ))))
    with pytest.raises(CatalogueError, match="the name"):
        curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert casebook.query("SELECT * FROM curves") == []


def test_an_impulse_response_needs_a_gate_that_fits(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    impulse = np.zeros((4800, 1))
    impulse[480] = 1.0
    writing.write(tmp_path / "ir.wav", Clip(impulse, 48_000), subtype="FLOAT", dither=False)
    with pytest.raises(CatalogueError, match="needs a gate"):
        curve_import.bring(casebook, sallow, tmp_path / "ir.wav", Reading(), Conditions())
    curve_import.bring(casebook, sallow, tmp_path / "ir.wav", Reading(), Conditions(gate_ms=10.0))
    curve = curve_records.by_angle(casebook, sallow)["horizontal", 0].curve()
    assert curve.valid_hz[0] == pytest.approx(100)
    assert curve.level_db[(curve.hz > 200) & (curve.hz < 20_000)] == pytest.approx(0, abs=0.05)


def test_two_setups_are_compared_at_one_level_with_what_differs(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    bump = 6 * np.exp(-((np.log2(HZ / 5000) / 0.3) ** 2))
    for name, setup, level, metres in (("a", sallow, bump + 80, 1.0), ("b", bracken, np.full(len(HZ), 74.0), 2.0)):
        (tmp_path / f"{name}.txt").write_text(text(level))
        curve_import.bring(casebook, setup, tmp_path / f"{name}.txt", Reading(), Conditions(distance_m=metres))
    found = comparison.compared(casebook, sallow, bracken)
    assert found is not None
    hz, db = found.largest
    assert (hz, db) == (pytest.approx(5000, rel=0.05), pytest.approx(6, abs=0.3))
    assert found.notes == ["distance m: sallow 1.0, bracken 2.0"]
    assert found.uncertainty_db is None
    for name, setup, level in (("c", sallow, bump + 80.6), ("d", bracken, np.full(len(HZ), 74.0))):
        (tmp_path / f"{name}.txt").write_text(text(level + 0.3 * np.sin(np.log2(HZ) * 9)))
        curve_import.bring(casebook, setup, tmp_path / f"{name}.txt", Reading(), Conditions())
    again = comparison.compared(casebook, sallow, bracken)
    assert again is not None
    assert again.uncertainty_db is not None
    # half the squared difference of two repeats each: 0.3²/4 a setup, together √2·0.15
    assert again.uncertainty_db == pytest.approx(2**0.5 * 0.15, rel=0.2)


def test_a_comparison_without_curves_says_so_in_one_line(casebook: Casebook, sallow: Setup, bracken: Setup) -> None:
    told = curve_sentences.beside(casebook, [sallow, bracken])
    assert told.sentences == [
        "Measured: no curve on axis of sallow and bracken, so nothing to set beside what was heard."
    ]


def test_curves_stand_beside_the_verdict_and_in_the_report(
    sealed: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup, tilt in ((sallow, 0.0), (bracken, -1.0)):
        (tmp_path / "axis.txt").write_text(text(tilt * np.log2(HZ / 1000)))
        curve_import.bring(sealed, setup, tmp_path / "axis.txt", Reading(), Conditions())
    ohm = tmp_path / "ohm.txt"
    ohm.write_text("20 8 10\n100 4.5 -20\n1000 9 30\n20000 12 45\n")
    curve_import.bring(sealed, sallow, ohm, Reading("ohm"), Conditions())
    text_of = page.render(contents.gather(sealed, "x"))
    assert "sallow differs most from bracken" in text_of
    assert "Impedance of sallow: at least 4.5 ohm (at 100 Hz), supports a rating of 5 ohm." in text_of
    assert "There are no measured curves" not in text_of
    assert text_of.count('class="curve"') == 2
    done = ask(sealed, "verdict", "evening", "--json")
    measured = json.loads(done.stdout)["plans"][0]["measured"]
    assert measured["compared"][0]["setups"] == ["sallow", "bracken"]


def test_the_command_line_adds_lists_shows_and_draws(casebook: Casebook, tmp_path: Path) -> None:
    path = tmp_path / "axis.txt"
    path.write_text(text(np.zeros(len(HZ))))
    added = ask(casebook, "curve", "add", "sallow", path, "--distance", 1, "--height", 1.2, "--by", "Ada")
    assert added.returncode == 0, added.stderr
    ask(casebook, "curve", "add", "bracken", path)
    listed = json.loads(ask(casebook, "curve", "list", "--json").stdout)["curves"]
    assert [row["setup"] for row in listed] == ["sallow", "bracken"]
    assert listed[0]["conditions"]["gate_ms"] == pytest.approx(4.662, abs=5e-3)  # the floor, at 1.2 m and 1 m
    shown = ask(casebook, "curve", "show", "sallow", "--against", "bracken", "--out", tmp_path / "both.png",
                "--band", 500, 2000)  # fmt: skip
    assert "nothing below 215" in shown.stdout
    assert "at one level over 500 to 2000 Hz" in shown.stdout
    assert (tmp_path / "both.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["show", "sallow", "--what", "waterfall"], "--what is one of"),
        (["show", "sallow", "--what", "impedance", "--out", "x.png"], "has no impedance yet"),
        (["show", "sallow", "--out", "x.png"], "has no curve on axis yet"),
        (["show", "sallow", "--against", "bracken"], "need a curve on axis each"),
        (["add", "sallow", "none.txt"], "there is no none.txt"),
        (["sweep", "sallow", "--mic", "room:1"], "is no real gear"),
        (["sweep", "sallow", "--mic", "room:1,2"], "--mic takes one input"),
        (["sweep", "sallow", "--mic", "room:1", "--angles", "0-90"], "FROM:TO:STEP"),
        (["sweep", "sallow", "--mic", "room:1", "--heights", "0,1"], "needs --distance"),
    ],
)
def test_what_does_not_fit_gets_one_line(casebook: Casebook, arguments: list[object], says: str) -> None:
    done = ask(casebook, "curve", *arguments)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_sofa_set_is_read_and_drawn(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    """Debian's libmysofa1 ships measured head-related responses; here they stand for a set of angles."""
    path = Path("/usr/share/libmysofa/MIT_KEMAR_normal_pinna.sofa")
    brought = curve_import.bring(casebook, sallow, path, Reading(), Conditions())
    assert any("SimpleFreeFieldHRIR" in note for note in brought.notes)
    found = curve_records.by_angle(casebook, sallow)
    assert ("horizontal", 90) in found
    assert len(casebook.query("SELECT * FROM measurements")) == 1
    for what in ("polar", "horizontal", "decay", "burst", "slices", "delay"):
        from audio.curves import draw

        draw.write(drawing.figure(casebook, sallow, what, smoothing=6), tmp_path / f"{what}.png")
        assert (tmp_path / f"{what}.png").stat().st_size > 10_000


def test_heights_become_angles() -> None:
    assert [swept_curves.angle_of_height(h, 1.0) for h in (-0.176, 0, 0.364)] == [-10, 0, 20]


def test_a_guided_series_goes_on_where_it_stopped(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    from sessions.commands.sweep import series

    given = {"plane": "horizontal", "angle": 0, "distance": 1.0}
    whole = series(casebook, sallow, given, "0:30:10", None)
    assert [one[1] for one in whole] == [0, 10, 20, 30]
    assert whole[1][2] == "Turn the loudspeaker to 10°"
    for angle in (0, 10):
        (tmp_path / f"hor {angle}.txt").write_text(text(np.zeros(len(HZ))))
    curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert [one[1] for one in series(casebook, sallow, given, "0:30:10", None)] == [20, 30]
    heights = series(casebook, sallow, given, None, "-0.176,0.176")
    assert [(plane, angle) for plane, angle, _ in heights] == [("vertical", -10), ("vertical", 10)]
    with pytest.raises(CatalogueError, match="measured already"):
        series(casebook, sallow, given, "0:10:10", None)


def test_every_figure_has_its_numbers(casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path) -> None:
    from sessions.measured import figures

    impulse = np.zeros((9600, 1))
    impulse[480] = 1.0
    for setup in (sallow, bracken):
        folder = tmp_path / str(setup.name)
        folder.mkdir()
        writing.write(folder / "hor 0.wav", Clip(impulse, 48_000), subtype="FLOAT", dither=False)
        for plane, angle in (("hor", 30), ("hor", 60), ("vert", 10), ("vert", -10)):
            (folder / f"{plane} {angle}.txt").write_text(text(np.full(len(HZ), -abs(angle) / 10)))
        curve_import.bring(casebook, setup, folder, Reading(), Conditions(gate_ms=20.0))
    ohm = tmp_path / "ohm.txt"
    ohm.write_text("20 8 10\n1000 4.5 -20\n20000 12 45\n")
    curve_import.bring(casebook, sallow, ohm, Reading("ohm"), Conditions())
    compared = comparison.compared(casebook, sallow, bracken)
    for what in drawing.FIGURES:
        if what == "distortion":  # taken by a sweep only
            continue
        told = figures.numbers(casebook, sallow, what, smoothing=12, compared=compared)
        assert told, what
        assert json.loads(json.dumps(told, allow_nan=False)) == told, what
        drawn = drawing.figure(casebook, sallow, what, smoothing=12, compared=compared)
        assert drawn.axes, what
    burst = figures.numbers(casebook, sallow, "burst", smoothing=0, compared=None)
    assert np.shape(burst["level_db"]) == (len(burst["steps"]), len(burst["hz"]))
    directed = figures.numbers(casebook, sallow, "directivity", smoothing=0, compared=None)
    assert directed["mirrored"] is True
    assert "sound power" in directed["lacking"]


def test_a_nearfield_is_joined_and_says_by_what_rule(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    (tmp_path / "far.txt").write_text(text(np.full(len(HZ), 85.0)))
    (tmp_path / "near.txt").write_text(text(np.full(len(HZ), 97.0)))
    add = ask(casebook, "curve", "add", "sallow", tmp_path / "far.txt", "--gate", 6)
    assert add.returncode == 0, add.stderr
    high = ask(casebook, "curve", "join", "sallow", tmp_path / "near.txt", "--at", 900, "--radius", 0.1)
    assert high.returncode == 2
    assert "holds up to 546 Hz" in high.stderr  # ka = 1, Keele 1974 (from memory)
    done = ask(casebook, "curve", "join", "sallow", tmp_path / "near.txt", "--at", 300, "--radius", 0.1)
    assert done.returncode == 0, done.stderr
    assert "moved by -12.00 dB" in done.stdout
    kept = curve_records.by_angle(casebook, sallow)["horizontal", 0]
    assert kept.curve().level_db == pytest.approx(85, abs=1e-6)
    assert kept.conditions.valid_hz[0] == pytest.approx(20, rel=0.01)


def test_two_curves_of_one_setup_are_compared_by_their_identifiers(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    """The same unit in two rooms."""
    ids = []
    for room, tilt in (("studio", 0.0), ("barn", 1.0)):
        (tmp_path / "axis.txt").write_text(text(tilt * np.log2(HZ / 1000)))
        brought = curve_import.bring(casebook, sallow, tmp_path / "axis.txt", Reading(), Conditions(room=room))
        ids.append(brought.rows[0]["id"])
    done = ask(casebook, "curve", "show", "sallow", "--curve", ids[0], "--against-curve", ids[1])
    assert done.returncode == 0, done.stderr
    assert f"room: {ids[0]} studio, {ids[1]} barn" in done.stdout
    assert "they depart from a constant difference" in done.stdout
    assert ask(casebook, "curve", "show", "sallow", "--curve", ids[0]).returncode == 2
