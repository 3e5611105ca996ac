"""Numbers of `curve show` and `curve export`, through the whole command, against truth planted and computed apart."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import writing
from sessions.casebook.store import Casebook
from tests.command_line import Done, earwitness

RATE = 48_000
GATE_S = 0.3


def ask(casebook: Casebook, *arguments: object) -> Done:
    done = earwitness(casebook.folder, "curve", *map(str, arguments))
    assert done.returncode == 0, done.stderr
    return done


def in_room() -> np.ndarray:
    """A direct sound and a room that dies away by 60 dB in 0.45 s: a comb far finer than any twelfth of an octave."""
    random = np.random.default_rng(5)
    response = np.zeros(RATE)
    tail = random.normal(0, 1, RATE // 2) * 10 ** (-3 * np.arange(RATE // 2) / (0.45 * RATE))
    response[480:24_480] = 0.05 * tail
    response[480] += 1.0
    return response


def write(path: Path, impulse: np.ndarray) -> Path:
    writing.write(path, Clip(impulse[:, None], RATE), subtype="FLOAT", dither=False)
    return path


def power_mean_db(impulse: np.ndarray, hz: np.ndarray, fraction: float) -> np.ndarray:
    """The power mean over log f around each frequency, by a spectrum 0.02 Hz fine and the plain sum of P·df/f."""
    size = 1 << 21
    f = np.fft.rfftfreq(size, 1 / RATE)[1:]
    power = np.abs(np.fft.rfft(impulse, size)[1:]) ** 2
    edges = np.searchsorted(f, np.outer([2 ** (-0.5 / fraction), 2 ** (0.5 / fraction)], hz))
    bands = [slice(low, high) for low, high in edges.T]
    return np.array([10 * np.log10(np.sum(power[one] / f[one]) / np.sum(1 / f[one])) for one in bands])


def gated(impulse: np.ndarray) -> np.ndarray:
    """What a rectangular gate of `GATE_S` leaves, as it is defined."""
    cut = impulse.copy()
    cut[480 + round(GATE_S * RATE) :] = 0
    return cut


@pytest.fixture
def room(casebook: Casebook, tmp_path: Path) -> Casebook:
    """A casebook with one curve: the room's."""
    path = write(tmp_path / "room.wav", in_room())
    ask(casebook, "add", "sallow", path, "--gate", 1000 * GATE_S, "--window", "rectangular")
    return casebook


@pytest.mark.parametrize("fraction", [3, 12, 24])
def test_a_smoothed_response_holds_the_energy_of_the_band_around_each_frequency(room: Casebook, fraction: int) -> None:
    numbers = json.loads(ask(room, "show", "sallow", "--smooth", fraction, "--json").stdout)["numbers"]
    hz, db = np.array(numbers["hz"]), np.array(numbers["db"])
    seen = (hz > 40) & (hz < 19_000)
    some = np.flatnonzero(seen)[::7]
    assert db[some] == pytest.approx(power_mean_db(gated(in_room()), hz[some], fraction), abs=0.13)
    assert len(hz) >= 9 * 48  # every point of the picture


def test_unsmoothed_numbers_are_all_that_was_measured(room: Casebook) -> None:
    numbers = json.loads(ask(room, "show", "sallow", "--smooth", 0, "--json").stdout)["numbers"]
    hz, db = np.array(numbers["hz"]), np.array(numbers["db"])
    assert np.diff(hz).max() < 1 / (2 * GATE_S)  # finer cannot be told apart
    some = np.arange(3, len(hz), 501)
    turns = np.exp(-2j * np.pi * np.outer(hz[some], np.arange(RATE)) / RATE)
    assert db[some] == pytest.approx(20 * np.log10(np.abs(turns @ gated(in_room()))), abs=2e-2)
    assert (hz[0], hz[-1]) == (pytest.approx(20, abs=1), pytest.approx(20_000, abs=1))


def test_an_unsmoothed_difference_is_one_too(room: Casebook, tmp_path: Path) -> None:
    """The other setup is the same room, louder."""
    ask(room, "add", "bracken", write(tmp_path / "other.wav", 2 * in_room()), "--gate", 300, "--window", "rectangular")
    asked = ("show", "sallow", "--against", "bracken", "--what", "difference", "--json", "--band", "20", "20000")
    difference = json.loads(ask(room, *asked, "--smooth", 0).stdout)["numbers"]["difference"]
    assert len(difference["hz"]) > 20_000
    assert np.abs(difference["db"]).max() < 1e-3


def modal() -> np.ndarray:
    """A direct sound, and a cabinet's mode of 180 Hz that falls by 60 dB in 0.5 s."""
    response = np.zeros(RATE // 2)
    times = np.arange(len(response) - 480) / RATE
    response[480:] = 0.02 * np.sin(2 * np.pi * 180 * times) * 10 ** (-3 * times / 0.5)
    response[480] += 1.0
    return response


@pytest.mark.parametrize("what", ["decay", "slices"])
def test_a_cabinet_s_mode_is_followed_where_the_gate_is_long_enough(
    casebook: Casebook, tmp_path: Path, what: str
) -> None:
    ask(casebook, "add", "sallow", write(tmp_path / "near.wav", modal()), "--gate", 220)
    asked = ("show", "sallow", "--what", what, "--look-for", "cabinet")
    found = json.loads(ask(casebook, *asked, "--json", "--out", tmp_path / "a.svg").stdout)["numbers"]
    levels, steps = np.array(found["level_db"]), np.array(found["steps"])
    at = int(np.argmin(np.abs(np.array(found["hz"]) - 180)))
    later = (steps > 0.01) & (steps < 0.115)
    assert np.polyfit(steps[later], levels[later, at], 1)[0] == pytest.approx(-120, abs=2)
    assert steps[-1] == pytest.approx(0.12, rel=0.01)
    assert "200 ms looked at, up to 2000 Hz; gate 220 ms" in (tmp_path / "a.svg").read_text()
    assert "modes of the cabinet ring for up to 200 ms, longer than is shown here: --look-for cabinet" in (
        ask(casebook, "show", "sallow", "--what", what).stdout
    )


@pytest.mark.parametrize("look_for", ["drivers", "cabinet"])
def test_a_short_gate_says_that_it_cannot_show_a_cabinet_s_modes(
    casebook: Casebook, tmp_path: Path, look_for: str
) -> None:
    ask(casebook, "add", "sallow", write(tmp_path / "near.wav", modal()), "--gate", 5)
    said = ask(casebook, "show", "sallow", "--what", "decay", "--look-for", look_for).stdout
    assert "a gate of 5 ms cannot show modes of the cabinet, which ring for up to 200 ms" in said
    assert "nothing followed beyond 3 ms" in said


def test_a_burst_decay_ends_with_the_gate_in_its_numbers(casebook: Casebook, tmp_path: Path) -> None:
    """A reflection 8 ms late, in a gate of 6 ms."""
    response = np.zeros(RATE // 4)
    response[480], response[480 + 384] = 1.0, 0.7
    ask(casebook, "add", "sallow", write(tmp_path / "a.wav", response), "--gate", 6)
    found = json.loads(ask(casebook, "show", "sallow", "--what", "burst", "--json").stdout)["numbers"]
    level, hz, steps = np.array(found["level_db"]), np.array(found["hz"]), np.array(found["steps"])
    at = int(np.argmin(np.abs(hz - 2000)))
    assert level[steps == 2.0, at] == pytest.approx(-6.02, abs=0.1)
    assert level[steps > 8, at].max() < -60
    assert np.array(found["valid_from_hz"])[steps == 2.0] == pytest.approx(4 / 0.0045, rel=0.01)
    assert "gate 6 ms" in found["note"]


FINE_HZ = np.geomspace(10, 2000, 500)


def write_complex(path: Path, pressure: np.ndarray) -> Path:
    rows = zip(FINE_HZ, 20 * np.log10(np.abs(pressure)), np.degrees(np.angle(pressure)), strict=True)
    path.write_text("Hz\tdB\tdegrees\n" + "\n".join(f"{f:.4f}\t{db:.4f}\t{deg:.3f}" for f, db, deg in rows) + "\n")
    return path


def write_flat(path: Path) -> Path:
    path.write_text("Hz\tdB\n" + "".join(f"{hz:.3f}\t80\n" for hz in np.geomspace(20, 20_000, 240)))
    return path


def joined_db(casebook: Casebook, hz: np.ndarray) -> np.ndarray:
    numbers = json.loads(ask(casebook, "show", "sallow", "--smooth", 0, "--json").stdout)["numbers"]
    return np.interp(np.log(hz), np.log(numbers["hz"]), numbers["db"])


def test_cone_and_port_are_added_by_the_air_they_move(casebook: Casebook, tmp_path: Path) -> None:
    """A vented box tuned to 40 Hz: the port moves −1/(1 − (f/fb)² + jf/(fb·Q)) of the cone's air.

    What is heard far away goes with the air both move together; close to each, with that air over its radius.
    """
    s = 1j * FINE_HZ / 40
    cone = s**2 / (s**2 + 1.2 * s + 1)
    port = -cone / (1 + s**2 + s / 12)
    cone_m, port_m = 0.1, 0.035
    near = write_complex(tmp_path / "cone.txt", cone / cone_m)
    vent = write_complex(tmp_path / "port.txt", port / port_m)
    ask(casebook, "add", "sallow", write_flat(tmp_path / "far.txt"), "--gate", 10)
    joined = ask(casebook, "join", "sallow", near, "--at", 250, "--radius", cone_m, "--port", vent, port_m)
    assert "port.txt (0.035 m) added to the cone by the air each moves" in joined.stdout
    hz = np.array([20.0, 25, 32, 40, 50, 63, 100])
    air = np.interp(hz, FINE_HZ, 20 * np.log10(np.abs(cone + port)))
    found = joined_db(casebook, hz)
    assert found - found[-1] == pytest.approx(air - air[-1], abs=0.1)
    assert found[0] - found[-1] < -12  # alone the cone would stand 11 dB higher here


def test_a_port_without_phase_is_not_added(casebook: Casebook, tmp_path: Path) -> None:
    far = write_flat(tmp_path / "far.txt")
    ask(casebook, "add", "sallow", far)
    asked = ("curve", "join", "sallow", str(far), "--at", "250", "--radius", "0.1", "--port", str(far), "0.03")
    refused = earwitness(casebook.folder, *asked)
    assert refused.returncode == 2
    assert "has no phase, so that cone and port cannot be added" in refused.stderr


def test_the_baffle_step_is_named_and_taken_off_where_it_is_asked_for(casebook: Casebook, tmp_path: Path) -> None:
    """A flat nearfield joined at 500 Hz: far below the step of a 0.2 m front it stands lower by what is left."""
    far = write_flat(tmp_path / "far.txt")
    ask(casebook, "add", "sallow", far)
    plain = ask(casebook, "join", "sallow", far, "--at", 500, "--radius", 0.05).stdout
    assert "a nearfield does not know that a cabinet away from walls loses up to 6 dB" in plain
    assert "--baffle WIDTH takes it off" in plain
    assert joined_db(casebook, np.array([25.0])) == pytest.approx(80, abs=0.01)
    stepped = ask(casebook, "join", "sallow", far, "--at", 500, "--radius", 0.05, "--baffle", 0.2).stdout
    assert "baffle step taken off as of a rigid sphere 0.2 m wide, away from walls" in stepped
    low, lower = joined_db(casebook, np.array([100.0, 25.0]))
    assert lower == pytest.approx(80 - 2.4, abs=0.5)  # 115/width (a rule of thumb, from memory) is 575 Hz: about half
    assert 0 < low - lower < 0.15  # nothing more is lost so far below it


def test_a_single_curve_off_the_axis_is_never_called_on_axis(casebook: Casebook, tmp_path: Path) -> None:
    added = ask(casebook, "add", "sallow", write_flat(tmp_path / "a.txt"), "--angle", 30, "--json")
    [one] = json.loads(added.stdout)["curves"]
    picture = tmp_path / "a.svg"
    assert "horizontal 30° valid from" in ask(casebook, "show", "--curve", one, "--out", picture).stdout
    assert "sallow, horizontal 30°" in picture.read_text()
    assert "on axis" not in picture.read_text()
    document = json.loads(ask(casebook, "show", "--curve", one, "--json").stdout)
    assert document["directions"] == [{"plane": "horizontal", "angle": 30}]
    assert document["off_axis"]["direction"] == {"plane": "horizontal", "angle": 30}
    assert "on_axis" not in document


def test_an_exported_response_is_read_by_any_reader_of_columns(room: Casebook, tmp_path: Path) -> None:
    """By numpy's own reader: every frequency, level and phase as the definition gives them; and it comes back in."""
    out = tmp_path / "axis.txt"
    assert ask(room, "export", "sallow", "--out", out).stdout == f"Written: {out}\n"
    hz, db, degrees = np.loadtxt(out).T
    assert (hz[0], hz[-1]) == (pytest.approx(1 / GATE_S, abs=0.5), pytest.approx(RATE / 2.2, abs=0.5))
    some = np.arange(3, len(hz), 997)
    cut = gated(in_room())[480:]  # time counts from the onset
    truth = np.exp(-2j * np.pi * np.outer(hz[some], np.arange(len(cut))) / RATE) @ cut
    assert db[some] == pytest.approx(20 * np.log10(np.abs(truth)), abs=2e-2)
    assert np.abs(np.angle(np.exp(1j * np.radians(degrees[some])) / truth)) == pytest.approx(0, abs=2e-3)
    header = [line for line in out.read_text().splitlines() if line.startswith("#")]
    for said in (
        "sallow: impulse, horizontal 0°",
        "not smoothed",
        "gate 300 ms, rectangular",
        "valid and listed from 3.3",
        "dB without an absolute reference",
        "10.0000 ms into the impulse response",
        "from the file room.wav",
    ):
        assert any(said in line for line in header), said
    assert header[-1] == "# Hz\tdB\tdegrees"
    back = ask(room, "add", "bracken", out)
    assert "read as: Hz, dB, degrees" in back.stdout
    over = earwitness(room.folder, "curve", "export", "sallow", "--out", str(out))
    assert (over.returncode, "is not written over" in over.stderr) == (2, True)


def test_an_export_is_smoothed_where_it_is_asked_for(room: Casebook) -> None:
    text = ask(room, "export", "sallow", "--smooth", 6).stdout
    hz, db = np.loadtxt(text.splitlines()).T
    some = np.flatnonzero((hz > 40) & (hz < 19_000))[::11]
    assert db[some] == pytest.approx(power_mean_db(gated(in_room()), hz[some], 6), abs=0.13)
    assert "# smoothed to 1/6 octave (power mean)" in text.splitlines()


def test_all_directions_are_exported_into_a_folder_that_comes_back_in(casebook: Casebook, tmp_path: Path) -> None:
    folder, out = tmp_path / "set", tmp_path / "out"
    folder.mkdir()
    for angle in ("hor 0", "hor -22.5", "vert 10"):
        (folder / f"{angle}.txt").write_text(f"Hz\tdB\n20\t{len(angle)}\n20000\t80\n")
    ask(casebook, "add", "sallow", folder, "--distance", 2, "--room", "barn")
    said = json.loads(ask(casebook, "export", "sallow", "--folder", out, "--json").stdout)
    assert sorted(Path(one).name for one in said["files"]) == ["hor -22.5.txt", "hor 0.txt", "ver 10.txt"]
    assert "# distance 2 m" in (out / "ver 10.txt").read_text()
    assert "# room: barn" in (out / "ver 10.txt").read_text()
    ask(casebook, "add", "bracken", out)
    curves = json.loads(ask(casebook, "list", "--json").stdout)["curves"]
    back = {(one["plane"], one["angle"]) for one in curves if one["setup"] == "bracken"}
    assert back == {("horizontal", 0), ("horizontal", -22.5), ("vertical", 10)}


def test_an_impedance_is_exported_in_ohm(casebook: Casebook, tmp_path: Path) -> None:
    (tmp_path / "z.txt").write_text("Hz\tohm\tdegrees\n20\t8\t10\n1000\t4.5\t-20\n")
    [one] = json.loads(ask(casebook, "add", "sallow", tmp_path / "z.txt", "--json").stdout)["curves"]
    text = ask(casebook, "export", "--curve", one).stdout
    assert "# Hz\tohm\tdegrees" in text
    assert np.loadtxt(text.splitlines()).tolist() == [[20, 8, 10], [1000, 4.5, -20]]
    refused = earwitness(casebook.folder, "curve", "export", "--curve", one, "--smooth", "3")
    assert (refused.returncode, "is impedance, which is not smoothed" in refused.stderr) == (2, True)
