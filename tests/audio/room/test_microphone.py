from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio.errors import FileError, MeasureError
from audio.room import calibration_file, microphone
from audio.room.level import block_powers, calibrator_level_dbfs, decibels

RATE = 48_000


@pytest.mark.parametrize(
    "text",
    [
        "* made on a bench\n20 -1.5\n1000 0.0\n10000 3.0\n",
        "Hz,dB\n20,-1.5\n1000,0\n10000,3.0\n",
        "20;-1,5\n1000;0,0\n10000;3,0\n",
        "10000\t3.0\t12.5\n20\t-1.5\t0\n1000\t0\t0\n",
        "\ufeff# bom\r\n20 -1.5\r\n1000 0\r\n10000 +3.0\r\n",
    ],
)
def test_calibration_files_of_the_usual_forms_read_alike(tmp_path: Path, text: str) -> None:
    path = tmp_path / "mic.txt"
    path.write_text(text, encoding="utf-8")
    read = calibration_file.read_calibration(path, "response")
    assert read.freqs_hz == (20, 1000, 10_000)
    assert read.deviation_db == (-1.5, 0, 3)


def test_a_microphone_that_reads_too_much_is_taken_off_and_a_correction_is_added(tmp_path: Path) -> None:
    """A flat source, the microphone +3 dB at 10 kHz: its file lists +3.0, corrected the level is 0.0."""
    path = tmp_path / "mic.txt"
    path.write_text("100 0\n1000 0\n10000 3\n")
    tone = np.sin(2 * np.pi * 10_000 * np.arange(RATE) / RATE) * 10 ** (3 / 20)
    for meaning, wanted in (("response", 0.0), ("correction", 6.0)):
        calibration = calibration_file.read_calibration(path, meaning)  # type: ignore[arg-type]
        power = block_powers(tone, RATE, "z", 1, calibration)[0]
        assert decibels(float(power)) - decibels(0.5) == pytest.approx(wanted, abs=1e-6)


def test_calibration_is_read_between_its_lines_on_a_logarithmic_scale_and_held_beyond() -> None:
    calibration = microphone.Calibration((100.0, 10_000.0), (0.0, 4.0))
    freqs = np.array([10.0, 100, 1000, 10_000, 20_000])
    np.testing.assert_allclose(calibration.correction_db(freqs), [0, 0, -2, -4, -4])


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("hello\nworld\n", "holds no calibration"),
        ("20 0\n20 1\n1000 0\n", "gives 20 Hz twice"),
        ("20 0\n100 0\n", "does not look like a calibration"),
        ("20 94\n1000 93\n", "does not look like a calibration"),
        ("20 zero\n1000 0\n", "line 1: '20 zero' is not frequency and dB"),
        ("20\n1000 0\n", "line 1: '20' is not frequency and dB"),
        ("20 nan\n1000 0\n", "not frequency and dB"),
    ],
)
def test_files_that_are_no_calibration_are_refused(tmp_path: Path, text: str, match: str) -> None:
    path = tmp_path / "mic.txt"
    path.write_text(text)
    with pytest.raises(FileError, match=match):
        calibration_file.read_calibration(path, "response")
    with pytest.raises(FileError, match="cannot read the calibration file"):
        calibration_file.read_calibration(tmp_path / "none.txt", "response")


def test_clipping_is_flat_tops_not_a_single_peak() -> None:
    tone = np.sin(2 * np.pi * 997 * np.arange(RATE) / RATE)
    assert microphone.clipped(np.clip(1.2 * tone, -1, 1))
    assert not microphone.clipped(0.9 * tone)
    single = 0.1 * tone
    single[100] = 1.0
    assert not microphone.clipped(single)


def test_what_is_wrong_at_the_inputs_is_said() -> None:
    with pytest.raises(MeasureError, match=r"input 1 of box is silent, without even noise \(input 2 is alive"):
        microphone.check_background([-300, -80], 0, "box")
    microphone.check_background([-80, -300], 0, "box")
    with pytest.raises(MeasureError, match="arrives at input 2 of box, not at input 1"):
        microphone.check_signal([-80, -80], [-79, -40], 0, "sallow", "box")
    with pytest.raises(MeasureError, match="nothing of sallow is heard"):
        microphone.check_signal([-80, -80], [-79, -79], 0, "sallow", "box")
    with pytest.raises(MeasureError, match=r"only 12\.0 dB above the background noise, 15 dB are needed; turn up"):
        microphone.check_signal([-80, -80], [-68, -79], 0, "sallow", "box")
    microphone.check_signal([-80, -80], [-65, -79], 0, "sallow", "box")
    with pytest.raises(MeasureError, match=r"10\.0 dB was read as 6.2 dB by box: an automatic gain"):
        microphone.check_linear(10, 6.2, "box")
    microphone.check_linear(10, 10.4, "box")


def test_a_calibrator_is_known_by_its_steady_clear_tone() -> None:
    rng = np.random.default_rng(1)
    seconds = np.arange(3 * RATE) / RATE
    tone = 0.1 * np.sin(2 * np.pi * 1000 * seconds)
    hiss = 1e-4 * rng.standard_normal(seconds.size)
    read, wrong = calibrator_level_dbfs(tone + hiss, RATE)
    assert wrong == ""
    assert read == pytest.approx(20 * np.log10(0.1 / np.sqrt(2)), abs=0.001)
    assert "no clear 1 kHz tone" in calibrator_level_dbfs(hiss, RATE)[1]
    assert "wavers" in calibrator_level_dbfs(tone * (1 + 0.1 * seconds) + hiss, RATE)[1]
