"""Known differences: what is made is what is told, by the filter's formula and by a spectrum of what was written."""

from __future__ import annotations

import math
import os
import re
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.signal import csd, freqz, welch

from audio import known_difference
from audio.clip import Clip
from audio.errors import MeasureError, PassageError
from audio.files import reading, writing
from audio.known_difference import Lift, Step, peaking
from audio.levels.true_peak import true_peak_db
from audio.levels.weighting import level_db

RATE = 48_000


def gain_db(hz: float, centre_hz: float, lift_db: float, rate_hz: int = RATE) -> float:
    """The analogue prototype (s² + s A/Q + 1)/(s² + s/(AQ) + 1), bent to the rate; Q from the cookbook's bandwidth."""
    amplitude, turn = 10 ** (lift_db / 40), 2 * math.pi * centre_hz / rate_hz
    over_q = 2 * math.sinh(math.log(2) / 2 * turn / math.sin(turn))
    s = 1j * math.tan(math.pi * hz / rate_hz) / math.tan(turn / 2)
    return float(20 * np.log10(abs((s * s + s * amplitude * over_q + 1) / (s * s + s * over_q / amplitude + 1))))


def music(length_s: float = 8.0, level: float = 0.1, rate_hz: int = RATE) -> Clip:
    """Noise that falls by 3 dB an octave, fading at both ends like everything that is prepared."""
    rng = np.random.Generator(np.random.PCG64(3))
    spectrum = np.fft.rfft(rng.normal(size=(round(length_s * rate_hz), 2)), axis=0)
    freqs = np.fft.rfftfreq(round(length_s * rate_hz), 1 / rate_hz)
    spectrum /= np.sqrt(np.maximum(freqs, 20.0))[:, None]
    samples = np.fft.irfft(spectrum, round(length_s * rate_hz), axis=0)
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(240) / 240)
    samples[:240] *= rise[:, None]
    samples[-240:] *= rise[::-1, None]
    return Clip(level * samples / samples.std(), rate_hz)


def written(folder: Path, clip: Clip, difference: known_difference.Difference, by: str = "bs1770") -> tuple[Clip, Clip]:
    writing.write(folder / "first.wav", clip, seed=1)
    known_difference.write("strings", folder / "first.wav", folder / "known.wav", difference, by=by, seed=b"s")  # type: ignore[arg-type]
    return reading.read(folder / "first.wav"), reading.read(folder / "known.wav")


@pytest.mark.parametrize(("centre_hz", "lift_db"), [(40, 1.0), (500, 12.0), (2000, 1.0), (2000, 6.0), (12_000, 3.0)])
def test_the_filter_is_that_of_the_cookbook(centre_hz: int, lift_db: float) -> None:
    numerator, denominator = peaking(RATE, centre_hz, lift_db, 1)
    hz = np.geomspace(20, 23_000, 400)
    _, response = freqz(numerator, denominator, worN=hz, fs=RATE)
    np.testing.assert_allclose(20 * np.log10(abs(response)), [gain_db(f, centre_hz, lift_db) for f in hz], atol=1e-6)
    assert gain_db(centre_hz, centre_hz, lift_db) == pytest.approx(lift_db)
    assert max(abs(np.roots(numerator))) < 1  # minimum phase
    assert max(abs(np.roots(denominator))) < 1


@pytest.mark.parametrize("centre_hz", [40, 500, 2000])
def test_its_band_is_an_octave_between_the_points_of_half_the_decibels(centre_hz: int) -> None:
    def over(hz: float) -> float:
        return gain_db(hz, centre_hz, 4.0) - 2.0

    low, high = brentq(over, centre_hz / 4, centre_hz), brentq(over, centre_hz, centre_hz * 4)
    assert math.log2(high / low) == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize(("centre_hz", "lift_db"), [(100, 3.0), (2000, 1.0)])
def test_a_lift_measured_from_the_file_is_the_formula_and_as_loud(
    tmp_path: Path, centre_hz: int, lift_db: float
) -> None:
    first, known = written(tmp_path, music(), Lift(centre_hz, lift_db))
    assert (known.rate_hz, known.samples.shape) == (first.rate_hz, first.samples.shape)
    assert level_db(known, "bs1770") == pytest.approx(level_db(first, "bs1770"), abs=0.01)
    hz, cross = csd(first.samples[:, 0], known.samples[:, 0], RATE, nperseg=32_768)
    _, power = welch(first.samples[:, 0], RATE, nperseg=32_768)
    measured = 20 * np.log10(abs(cross / power))
    far = measured[(hz > 20) & (abs(np.log2(np.maximum(hz, 1) / centre_hz)) > 4) & (hz < 20_000)]
    gain = float(np.median(far)) if far.size else 0.0  # what loudness matching took off
    band = (hz > centre_hz / 8) & (hz < min(8 * centre_hz, 20_000)) & (hz > 30)
    expected = np.array([gain_db(f, centre_hz, lift_db) for f in hz[band]])
    gain += float(np.median(measured[band] - expected - gain))
    np.testing.assert_allclose(measured[band] - gain, expected, atol=0.05)
    assert -lift_db < gain < 0


@pytest.mark.parametrize("by", ["a", "band"])
def test_a_lift_is_as_loud_by_the_measure_that_setups_were_matched_by(tmp_path: Path, by: str) -> None:
    first, known = written(tmp_path, music(4.0), Lift(1000, 6.0), by)
    assert level_db(known, by) == pytest.approx(level_db(first, by), abs=0.01)  # type: ignore[arg-type]
    left = known_difference.left_db(tmp_path / "first.wav", tmp_path / "known.wav", Lift(1000, 6.0), by)  # type: ignore[arg-type]
    assert left <= 0.01


@pytest.mark.parametrize("step_db", [-2.0, 0.5])
def test_a_step_is_level_alone(tmp_path: Path, step_db: float) -> None:
    first, known = written(tmp_path, music(4.0), Step(step_db))
    np.testing.assert_allclose(known.samples, first.samples * 10 ** (step_db / 20), atol=4 * 2**-24)
    assert known_difference.left_db(tmp_path / "first.wav", tmp_path / "known.wav", Step(step_db), "bs1770") < 0.002


def test_what_is_made_ends_as_silently_as_it_began(tmp_path: Path) -> None:
    """The filter rings on past the end of the music; cut off, that would be a click in one file alone."""
    first, known = written(tmp_path, music(4.0, level=0.05), Lift(40, 12.0))
    assert abs(known.samples[-1]).max() < 1e-4
    assert abs(np.diff(known.samples[-100:], axis=0)).max() < 2 * abs(np.diff(first.samples[-1000:], axis=0)).max()


def test_its_file_looks_like_every_prepared_file(tmp_path: Path) -> None:
    written(tmp_path, music(2.0), Lift(2000, 1.0))
    first, known = (tmp_path / name for name in ("first.wav", "known.wav"))
    assert known.stat().st_size == first.stat().st_size
    assert os.path.getmtime(known) == 0


@pytest.mark.parametrize("difference", [Step(4.0), Lift(100, 12.0)])
def test_what_would_clip_is_refused_with_what_fits(tmp_path: Path, difference: known_difference.Difference) -> None:
    clip = music(4.0)
    peak = true_peak_db(clip.samples, RATE)
    assert peak is not None
    loud = Clip(clip.samples * 10 ** ((-1.0 - peak) / 20), RATE)
    with pytest.raises(
        PassageError, match=r"'strings': its known difference of .* dBTP, above -0.1; a \w+ of"
    ) as found:
        written(tmp_path, loud, difference, "a")
    assert not (tmp_path / "known.wav").exists()
    fits = re.search(r"of (\d+\.\d) dB fits", str(found.value))
    assert fits is not None
    written(tmp_path, loud, difference.sized(float(fits[1])), "a")
    with pytest.raises(PassageError):
        written(tmp_path, loud, difference.sized(float(fits[1]) + 0.1), "a")
    assert isinstance(difference, Lift) or float(fits[1]) == 0.8 or float(fits[1]) == 0.9  # from -1 to -0.1 dBTP


def test_an_octave_beyond_the_rate_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MeasureError, match="1 octave around 17000 Hz does not fit below half of 48000 Hz"):
        written(tmp_path, music(2.0), Lift(17_000, 1.0))
