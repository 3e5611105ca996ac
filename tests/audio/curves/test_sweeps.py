"""Sweeps through planted systems: response, delay, reflection, distortion and noise come back."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from scipy.signal import butter, sosfilt, sosfreqz

from audio.curves import draw, gate, nearfield, picture, sofa, splice, sweep
from audio.curves.curve import Curve, difference, log_grid, normalised, power_mean
from audio.errors import FileError, MeasureError

RATE = 48_000


@pytest.fixture(scope="module")
def made() -> sweep.Sweep:
    return sweep.sweep(20, 20_000, 4, RATE, 0.25)


def recorded(made: sweep.Sweep, late: int = 300) -> np.ndarray:
    return np.concatenate([np.zeros(late), made.samples(), np.zeros(RATE)])


def test_a_wire_is_flat_and_late_by_its_delay(made: sweep.Sweep) -> None:
    found = sweep.deconvolved(made, recorded(made, 300))
    assert int(np.argmax(np.abs(found.impulse))) == round(sweep.PRE_DELAY_S * RATE)
    assert found.arrival_s == pytest.approx(300 / RATE)
    curve, _ = gate.gated(found.impulse, RATE, 0.05)
    seen = (curve.hz > 100) & (curve.hz < 15_000)
    assert np.abs(curve.level_db[seen]).max() < 0.2
    assert found.noise_db < -80


def test_a_filter_comes_back_as_it_is_through_noise(made: sweep.Sweep) -> None:
    """A band-pass of known response, 40 dB above the noise: within 0.3 dB where it passes."""
    sections = butter(2, [80, 8000], "bandpass", fs=RATE, output="sos")
    heard = sosfilt(sections, recorded(made))
    heard = heard + np.random.default_rng(1).normal(0, float(np.std(heard)) / 100, len(heard))
    curve, _ = gate.gated(sweep.deconvolved(made, heard).impulse, RATE, 0.1)
    hz = log_grid(120, 6000, 12)
    _, response = sosfreqz(sections, worN=hz, fs=RATE)
    assert curve.at(hz) == pytest.approx(20 * np.log10(np.abs(response)), abs=0.3)


def test_a_planted_reflection_is_gated_away(made: sweep.Sweep) -> None:
    whole = recorded(made)
    late = round(0.006 * RATE)
    whole[late:] += 0.5 * whole[:-late]
    impulse = sweep.deconvolved(made, whole).impulse
    clean, _ = gate.gated(impulse, RATE, 0.005)
    combed, _ = gate.gated(impulse, RATE, 0.05)
    seen = (clean.hz > 400) & (clean.hz < 10_000)
    assert np.abs(clean.level_db[seen]).max() < 0.3
    assert np.ptp(combed.level_db[(combed.hz > 400) & (combed.hz < 10_000)]) > 8  # 1.5 to 0.5: 9.5 dB


def test_a_response_asked_for_again_is_the_same_one_and_a_changed_impulse_another(made: sweep.Sweep) -> None:
    impulse = sweep.deconvolved(made, recorded(made)).impulse
    first, _ = gate.gated(impulse, RATE, 0.05)
    assert gate.gated(impulse.copy(), RATE, 0.05)[0] is first
    with pytest.raises(ValueError, match="read-only"):
        first.level_db[0] = 0
    impulse *= 2  # in place: what is kept goes by the samples
    np.testing.assert_allclose(
        gate.gated(impulse, RATE, 0.05)[0].level_db - first.level_db, 20 * np.log10(2), atol=1e-9
    )
    assert (first.valid_hz[0], gate.gated(impulse, RATE, 0.02)[0].valid_hz[0]) == (pytest.approx(20), pytest.approx(50))


def test_planted_distortion_is_found_at_its_fundamental(made: sweep.Sweep) -> None:
    """x + 0.1x² + 0.05x³ at amplitude a: second 0.05a, third 0.0125a² against 1 + 0.0375a² (by trigonometry)."""
    x, a = recorded(made), made.amplitude
    found = sweep.deconvolved(made, x + 0.1 * x**2 + 0.05 * x**3)
    harmonics = sweep.distortion(made, found)
    base = 1 + 0.0375 * a**2
    for order, wanted in ((2, 0.05 * a / base), (3, 0.0125 * a**2 / base)):
        curve, floor = harmonics[order]
        level = curve.at(np.array([200.0, 500, 1000, 2000]))
        assert level == pytest.approx(20 * np.log10(wanted), abs=0.3)
        assert np.interp(1000, curve.hz, floor) < -100
    assert harmonics[5][0].at(np.array([500.0]))[0] < -90


@pytest.mark.parametrize("late_ms", [0, 24, 88, 105, 300, 700])
def test_distortion_does_not_depend_on_how_late_the_recording_is(made: sweep.Sweep, late_ms: int) -> None:
    """x + k·x² makes a second harmonic of k·a/2: 0.63 % is −44.0 dB."""
    x = recorded(made, round(late_ms * RATE / 1000))
    found = sweep.deconvolved(made, x + 2 * 0.0063 / made.amplitude * x**2)
    assert found.arrival_s == pytest.approx(late_ms / 1000, abs=1 / RATE)
    second, _ = sweep.distortion(made, found)[2]
    assert second.at(np.array([200.0, 1000, 4000, 9000])) == pytest.approx(-44.0, abs=0.05)


def test_a_loop_without_distortion_shows_none_above_its_own_floor(made: sweep.Sweep) -> None:
    """The sweep's ends ring on in time; what they leave in the harmonics' windows is floor and no distortion."""
    for curve, floor in sweep.distortion(made, sweep.deconvolved(made, recorded(made))).values():
        assert (curve.level_db - floor)[curve.valid()].max() < 10


@pytest.mark.parametrize("below_db", [40, 28, 22])
def test_noise_is_never_taken_for_the_onset(below_db: float) -> None:
    """A dirac in noise so far (RMS) below its peak, twelve times: the onset stands within 0.1 ms of it."""
    rng = np.random.default_rng(4)
    for _ in range(12):
        impulse = rng.normal(0, 10 ** (-below_db / 20), RATE)
        impulse[960] = 1.0
        assert abs(gate.onset(impulse, RATE) - 960) <= 5


def test_a_soft_beginning_is_found_before_its_peak() -> None:
    """A wave that rises over 4 ms begins where it first comes within 20 dB of its peak."""
    impulse = np.zeros(4800)
    rise = np.sin(2 * np.pi * 80 * np.arange(600) / RATE) * np.exp(-np.arange(600) / 300)
    impulse[1000:1600] = rise
    first = 1000 + int(np.argmax(np.abs(rise) >= 0.1 * np.abs(rise).max()))
    assert gate.onset(impulse, RATE) == first


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda m: sweep.deconvolved(m, np.zeros(100)), "not longer than the sweep"),
        (lambda m: sweep.deconvolved(m, np.zeros(10 * RATE)), "is silent"),
        (lambda m: sweep.deconvolved(m, np.clip(20 * recorded(m), -1, 1)), "is clipped"),
        (lambda m: sweep.sweep(20, 30_000, 4, RATE, 0.2), "runs from above 0 Hz up to 23520"),
        (lambda m: sweep.sweep(20, 20_000, 4, RATE, 0.9), "at most 0.5"),
        (lambda m: gate.gated(np.zeros(1000), RATE, 0.005), "is silent"),
        (lambda m: gate.gated(np.eye(1, 480, 100)[0], RATE, 0.1), "longer than the"),
        (lambda m: gate.gated(np.eye(1, 4800, 0)[0], RATE, 0.01), "begins with its onset"),
    ],
)
def test_what_cannot_be_used_is_refused(made: sweep.Sweep, call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(MeasureError, match=re.escape(says)):
        call(made)


class TestCurves:
    def flat(self, level: float, low: float = 20, high: float = 20_000) -> Curve:
        hz = log_grid(low, high)
        return Curve(hz, np.full(len(hz), level))

    def test_powers_are_averaged_and_not_decibels(self) -> None:
        """80, 83 and 86 dB make 83.665 dB (computed)."""
        assert power_mean([self.flat(80), self.flat(83), self.flat(86)]).level_db == pytest.approx(83.665, abs=5e-4)

    def test_a_difference_is_valid_where_both_are(self) -> None:
        one = Curve(log_grid(20, 20_000), np.zeros(len(log_grid(20, 20_000))), None, (150, 20_000))
        other = Curve(log_grid(50, 10_000), np.ones(len(log_grid(50, 10_000))), None, (60, 9000))
        found = difference(one, other)
        assert found.level_db == pytest.approx(-1)
        assert found.band == (150, 9000)

    def test_a_band_beyond_what_is_valid_is_refused(self) -> None:
        gated = Curve(log_grid(20, 20_000), np.zeros(len(log_grid(20, 20_000))), None, (400, 20_000))
        with pytest.raises(MeasureError, match="lies beyond what was measured"):
            normalised(gated, 300, 3000)

    def test_a_nearfield_is_moved_to_the_far_field_by_its_stated_rule(self) -> None:
        near = Curve(log_grid(10, 500), np.full(len(log_grid(10, 500)), 97.0))
        far = Curve(log_grid(100, 20_000), np.full(len(log_grid(100, 20_000)), 85.0), None, (170, 20_000))
        found = splice.spliced(near, far, 250, 0.5)
        assert found.moved_db == pytest.approx(-12)
        assert found.curve.level_db == pytest.approx(85, abs=1e-6)
        assert found.curve.band == (10, pytest.approx(20_000, rel=0.03))
        # a piston of 10 cm: ka = 1 at 546 Hz (Keele 1974, from memory)
        assert nearfield.limit_hz(0.1) == pytest.approx(546, abs=1)
        assert splice.pair_match(self.flat(85), self.flat(84.5)) == (pytest.approx(0.5), pytest.approx(0))


def test_pictures_are_the_same_on_every_run_and_hatch_what_is_not_valid(tmp_path: Path) -> None:
    hz = log_grid(20, 20_000, 12)
    gated = Curve(hz, np.zeros(len(hz)), None, (200, 20_000))
    one, again = (picture.svg(draw.responses({"sallow": gated}, title="on axis")) for _ in range(2))
    assert one == again
    assert "sallow" in one
    assert "url(#h" in one  # a hatched region
    for name in ("picture.svg", "picture.png"):
        picture.write(draw.responses({"sallow": gated}), tmp_path / name)
        assert (tmp_path / name).stat().st_size > 5000
    with pytest.raises(FileError, match=r"as \.svg or \.png"):
        picture.write(draw.responses({"sallow": gated}), tmp_path / "picture.gif")


def test_a_decade_is_as_long_as_25_db_is_high() -> None:
    hz = log_grid(20, 20_000, 12)
    figure = draw.responses({"x": Curve(hz, np.zeros(len(hz)))})
    FigureCanvasAgg(figure).draw()
    axes = figure.axes[0]
    box = axes.get_window_extent()
    low, high = axes.get_ylim()
    assert (box.height / (high - low)) * 25 == pytest.approx(box.width / 3, rel=0.01)


def test_a_sofa_file_of_the_system_is_read() -> None:
    """Head-related responses from Debian's package libmysofa1: 710 directions, 512 frames at 44.1 kHz."""
    path = Path("/usr/share/libmysofa/MIT_KEMAR_normal_pinna.sofa")
    found = sofa.read_sofa(path)
    assert found.convention == "SimpleFreeFieldHRIR"
    assert found.data.shape == (710, 2, 512)
    assert found.rate_hz == 44_100
    right, left = (found.data[found.nearest(azimuth, 0), 0] for azimuth in (270, 90))
    # the left ear (receiver 0) hears the left louder: azimuth counts counter-clockwise in AES69
    assert np.sum(left**2) > 4 * np.sum(right**2)
    with pytest.raises(FileError, match="no response lies within"):
        found.nearest(0, -89)


def test_a_broken_sofa_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.sofa").write_bytes(b"nothing")
    with pytest.raises(FileError, match="as a SOFA file"):
        sofa.read_sofa(tmp_path / "x.sofa")
