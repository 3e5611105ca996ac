from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.errors import FileError
from audio.room.microphone import Calibration
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import, curve_records
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.measured.frequency_response import response_of
from tests.audio.curves.sofa_files import AZIMUTH, around, louder_left, write
from tests.audio.curves.sofa_files import HZ as SOFA_HZ

from .measured_files import write_impulse, write_level


def test_a_folder_of_angles_is_a_set(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for plane, angle in (("hor", 0), ("hor", 30), ("hor", -30), ("vert", 10)):
        write_level(tmp_path / f"sallow {plane} {angle}.txt", -abs(angle) / 10)
    brought = curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert len(brought.curves) == 4
    found = curve_records.of_setup(casebook, sallow).directions
    assert set(found) == {("horizontal", 0), ("horizontal", 30), ("horizontal", -30), ("vertical", 10)}
    assert found["horizontal", -30].values == pytest.approx(-3, abs=1e-3)


def test_a_table_names_files_and_angles(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    write_level(tmp_path / "a.txt", 0)
    write_level(tmp_path / "b.txt", 1)
    (tmp_path / "set.csv").write_text("file,plane,angle\na.txt,horizontal,0\nb.txt,vertical,-20\n")
    brought = curve_import.bring(casebook, sallow, tmp_path / "set.csv", Reading(), Conditions())
    assert [curve.direction for curve in brought.curves] == [("horizontal", 0), ("vertical", -20)]
    (tmp_path / "set.csv").write_text("file,plane,angle\nnone.txt,horizontal,0\n")
    with pytest.raises(CatalogueError, match="line 2: a line names a file"):
        curve_import.bring(casebook, sallow, tmp_path / "set.csv", Reading(), Conditions())


def test_one_table_of_all_angles_is_a_set(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = tmp_path / "set.csv"
    path.write_text("Hz,0° (dB),\u221222.5° (dB),vert 10 (dB)\n100,80,79,78\n1000,80,70,60\n", encoding="utf-8")
    brought = curve_import.bring(casebook, sallow, path, Reading(), Conditions())
    assert {curve.direction: curve.values.tolist() for curve in brought.curves} == {
        ("horizontal", 0): [80, 80], ("horizontal", -22.5): [79, 70], ("vertical", 10): [78, 60],
    }  # fmt: skip
    [echo] = brought.read_as
    assert echo.startswith("read as: Hz, dB; 2 points, 100 Hz–1 kHz; 3 curves side by side, horizontal 0°")


def test_files_read_alike_are_said_once(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for angle in (0, 10):
        write_level(tmp_path / f"hor {angle}.txt", 80)
    brought = curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert brought.read_as == ["read as: Hz, dB; 240 points, 20 Hz–19.9 kHz"]
    (tmp_path / "hor 20.txt").write_text("kHz\tPa\n0.1\t1\n1\t1\n")
    brought = curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert brought.read_as[1] == "hor 20.txt read as: kHz, Pa; 2 points, 100 Hz–1 kHz"
    assert brought.curves[-1].values == pytest.approx(93.98, abs=0.01)
    assert brought.curves[-1].conditions.spl


@pytest.mark.parametrize("name", ["sallow.txt", "10 of 30.txt"])
def test_a_name_without_one_angle_is_refused_and_nothing_is_kept(
    casebook: Casebook, sallow: Setup, tmp_path: Path, name: str
) -> None:
    write_level(tmp_path / "hor 0.txt", 0)
    write_level(tmp_path / name, 0)
    with pytest.raises(CatalogueError, match="the name"):
        curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    assert casebook.query("SELECT * FROM curves") == []


def test_an_impulse_response_needs_a_gate_that_fits(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = write_impulse(tmp_path / "ir.wav")
    with pytest.raises(CatalogueError, match="needs a gate"):
        curve_import.bring(casebook, sallow, path, Reading(), Conditions())
    with pytest.raises(CatalogueError, match="has 1 channels; --channel 2"):
        curve_import.bring(casebook, sallow, path, Reading(channel=2), Conditions(gate_ms=10.0))
    brought = curve_import.bring(casebook, sallow, path, Reading(), Conditions(gate_ms=10.0))
    curve = response_of(brought.curves[0])
    assert curve.valid_hz[0] == pytest.approx(100)
    assert curve.level_db[(curve.hz > 200) & (curve.hz < 20_000)] == pytest.approx(0, abs=0.05)


def test_a_measured_set_of_a_sofa_file_is_read(casebook: Casebook, sallow: Setup) -> None:
    """Debian's libmysofa1 ships measured head-related responses; here they stand for a set of angles."""
    path = Path("/usr/share/libmysofa/MIT_KEMAR_normal_pinna.sofa")
    brought = curve_import.bring(casebook, sallow, path, Reading(), Conditions())
    assert brought.read_as[0].startswith("read as: SimpleFreeFieldHRIR, impulse responses, receiver 1 of 2; ")
    found = curve_records.of_setup(casebook, sallow).directions
    assert ("horizontal", 90) in found
    assert len(casebook.query("SELECT * FROM measurements")) == 1
    # heard at the left ear: louder from the left (negative angles) than from the right
    left, right = (found["horizontal", angle].data for angle in (-90, 90))
    assert np.square(left).sum() > 10 * np.square(right).sum()


def test_transfer_functions_of_a_sofa_file_are_responses_by_direction(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    """Louder to the source's left: our angles count its right as positive."""
    real = np.stack([louder_left(AZIMUTH), 2 * louder_left(AZIMUTH)])[:, :, None] * np.ones(3)
    path = write(
        tmp_path / "d.sofa", "FreeFieldDirectivityTF", Data_Real=0 * real, Data_Imag=real, N=SOFA_HZ,
        ReceiverPosition=around(AZIMUTH, 2.0)[:, :, None],
    )  # fmt: skip
    brought = curve_import.bring(casebook, sallow, path, Reading(channel=2), Conditions(gate_ms=5.0))
    [echo] = brought.read_as
    assert echo == (
        "read as: FreeFieldDirectivityTF, transfer functions, measurement 2 of 2; 36 directions, every 10°, "
        "azimuth −30 as 30 to the right"
    )
    assert brought.notes == ["d.sofa: 34 directions were not measured"]
    found = curve_records.of_setup(casebook, sallow).directions
    for angle, level in ((90, -6), (-30, 3), (0, 0)):
        kept = found["horizontal", angle]
        assert (kept.kind, kept.hz.tolist()) == ("response", SOFA_HZ.tolist())
        assert kept.values == pytest.approx(level + 6.0206, abs=1e-4)
        assert kept.phase_deg == pytest.approx(90)
        assert kept.conditions.valid_hz[0] == pytest.approx(200)
    with pytest.raises(CatalogueError, match="has 2 measurements; --channel 3"):
        curve_import.bring(casebook, sallow, path, Reading(channel=3), Conditions())


MICROPHONE = Calibration((100.0, 10_000.0), (6.0206, 6.0206), "m.txt, its response", "-38 dB re 1 V/Pa")


def test_a_microphone_is_taken_off_however_the_sound_comes_in(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    """It reads twice too much everywhere, which has no phase, and is known from 100 Hz to 10 kHz."""
    ones = np.ones((1, len(AZIMUTH), 3))
    around_it = {"ReceiverPosition": around(AZIMUTH)[:, :, None]}
    impulses_of_one = np.zeros((1, len(AZIMUTH), 256))
    impulses_of_one[:, :, 40] = 1.0
    text = tmp_path / "axis.txt"
    text.write_text("Hz dB deg\n20 80 10\n1000 80 20\n20000 80 30\n")
    for path, level, phase in (
        (text, 80.0, 20.0),
        (write_impulse(tmp_path / "ir.wav"), 0.0, None),
        (write(tmp_path / "tf.sofa", "FreeFieldDirectivityTF", Data_Real=ones, Data_Imag=0 * ones, N=SOFA_HZ,
               **around_it), 0.0, 0.0),
        (write(tmp_path / "ir.sofa", "GeneralFIR", Data_IR=impulses_of_one,
               Data_SamplingRate=np.array([48_000]), **around_it), 0.0, None),
    ):  # fmt: skip
        brought = curve_import.bring(
            casebook, sallow, path, Reading(calibration=MICROPHONE), Conditions(gate_ms=None if path == text else 4.0)
        )
        curve = response_of(brought.curves[len(brought.curves) // 2])
        assert curve.at(np.array([1000.0])) == pytest.approx(level - 6.0206, abs=0.01), path
        if phase is not None:
            assert curve.phase_deg is not None
            assert np.interp(1000, curve.hz, curve.phase_deg) == pytest.approx(phase, abs=0.01)
        assert curve.valid_hz[0] == pytest.approx(250 if path != text else 100)
        assert curve.valid_hz[1] == pytest.approx(10_000)
        assert brought.curves[0].conditions.calibration == "m.txt, its response, 100 to 10000 Hz"
        assert any("says nothing beyond 100 to 10000 Hz" in note for note in brought.notes)
        assert any("it moves no curve" in note for note in brought.notes)
    (tmp_path / "z.txt").write_text("Hz ohm\n20 8\n20000 9\n")
    with pytest.raises(CatalogueError, match="an impedance is heard by no microphone"):
        curve_import.bring(casebook, sallow, tmp_path / "z.txt", Reading(calibration=MICROPHONE), Conditions())


def test_a_heading_that_speaks_of_spl_is_said_and_not_believed(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    (tmp_path / "a.txt").write_text("Hz\tSPL (dB)\n" + "".join(f"{100 * 2 ** (n / 3):.1f}\t80\n" for n in range(9)))
    brought = curve_import.bring(casebook, sallow, tmp_path / "a.txt", Reading(), Conditions())
    assert brought.notes == ["a.txt: its heading 'SPL (dB)' speaks of SPL; it counts as dB SPL only with --spl"]
    assert not brought.curves[0].conditions.spl
    assert curve_import.bring(casebook, sallow, tmp_path / "a.txt", Reading(), Conditions(spl=True)).notes == []


@pytest.mark.parametrize("shape", ["each", "one", "emitters"])
def test_delays_that_a_sofa_file_states_beside_its_responses_are_applied(
    casebook: Casebook, sallow: Setup, tmp_path: Path, shape: str
) -> None:
    """Data.Delay in samples: 0.1 for each degree of azimuth from -170 on, or one for all; the first is negative."""
    delays = (AZIMUTH + 170)[:, None] / 10 - 0.5
    if shape == "one":
        delays = np.array([[3.25]])
    stacked = np.ones(36)[:, None, None] * np.eye(1, 64, 8)[None]
    more: dict[str, Any] = {}
    if shape == "emitters":
        stacked, more = np.stack([stacked, stacked], axis=3), {"EmitterPosition": np.zeros((2, 3, 1))}
        delays = np.stack([0 * delays, delays], axis=2)
    path = write(
        tmp_path / "d.sofa", "GeneralFIR-E" if more else "SimpleFreeFieldHRIR", Data_IR=stacked,
        Data_SamplingRate=np.array([48_000]), SourcePosition=around(AZIMUTH), Data_Delay=delays,
        axes={"Data.IR": "MRNE" if more else "MRN"}, **more,
    )  # fmt: skip
    reading = Reading(emitter=2) if more else Reading()
    brought = curve_import.bring(casebook, sallow, path, reading, Conditions(gate_ms=0.8))
    for record in brought.curves:
        if record.direction.plane == "vertical":
            continue
        azimuth = 180 if record.direction.angle == 180 else -record.direction.angle
        stated = 3.25 if shape == "one" else (azimuth + 170) / 10
        turned = np.unwrap(np.angle(np.fft.rfft(record.data)))
        lines = np.arange(len(turned))
        arrival = -np.polyfit(lines[10:-10], turned[10:-10], 1)[0] * len(record.data) / (2 * np.pi)
        assert arrival == pytest.approx(96 + 8 + stated, abs=0.02)
    words = "3.25 to 3.25" if shape == "one" else "0 to 35"
    assert f"d.sofa: delays of {words} samples (Data.Delay) were applied" in brought.notes


def test_delays_that_fit_no_response_are_refused(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = write(
        tmp_path / "d.sofa", "SimpleFreeFieldHRIR", Data_IR=np.ones((36, 1, 64)), Data_SamplingRate=np.array([48_000]),
        SourcePosition=around(AZIMUTH), Data_Delay=np.zeros((7, 1)),
    )  # fmt: skip
    with pytest.raises(FileError, match=r"7 × 1 delays \(Data.Delay\) do not belong to 36 measurements of 1 receivers"):
        curve_import.bring(casebook, sallow, path, Reading(), Conditions(gate_ms=0.8))
