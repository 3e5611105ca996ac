"""Known differences: what is made is what is told, by the filter's formula and by a spectrum of what was written."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.signal import csd, freqs, welch

from audio import known_difference
from audio.clip import Clip
from audio.errors import MeasureError, PassageError
from audio.files import reading, writing
from audio.known_difference import Lift, Step, peaking
from audio.levels.true_peak import true_peak_db
from audio.levels.weighting import level_db

RATE = 48_000


def gain_db(hz: float, centre_hz: float, lift_db: float) -> float:
    """The analogue prototype (s² + s A/Q + 1)/(s² + s/(AQ) + 1) of the cookbook, an octave wide: Q = √2."""
    amplitude, over_q = 10 ** (lift_db / 40), 1 / math.sqrt(2)
    _, response = freqs([1, amplitude * over_q, 1], [1, over_q / amplitude, 1], [hz / centre_hz])
    return float(20 * np.log10(abs(response[0])))


def made_gain_db(lift: Lift, rate_hz: int) -> Callable[[float], float]:
    """What a lift does to a click, by frequency in Hz: half a second before it is looked at, and a second after."""
    click = np.zeros((3 * rate_hz // 2, 1))
    click[rate_hz // 2] = 1.0
    made = lift.of(Clip(click, rate_hz)).samples[:, 0]
    times = (np.arange(made.size) - rate_hz // 2) / rate_hz
    return lambda hz: float(20 * np.log10(abs(np.sum(made * np.exp(-2j * np.pi * hz * times)))))


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
    hz = np.geomspace(20, 23_000, 400)
    response = peaking(hz, centre_hz, lift_db, 1)
    np.testing.assert_allclose(20 * np.log10(abs(response)), [gain_db(f, centre_hz, lift_db) for f in hz], atol=1e-6)
    assert gain_db(centre_hz, centre_hz, lift_db) == pytest.approx(lift_db)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("centre_hz", [40, 2000, 8000, 12_000])
def test_its_band_is_an_octave_between_the_points_of_half_the_decibels_at_every_rate(
    centre_hz: int, rate_hz: int
) -> None:
    """By the analogue formula these points are centre/√2 and centre·√2, half an octave to each side."""
    made = made_gain_db(Lift(centre_hz, 4.0), rate_hz)
    assert made(centre_hz) == pytest.approx(4.0, abs=0.005)
    low = brentq(lambda hz: made(hz) - 2.0, centre_hz / 2.5, centre_hz)
    high = brentq(lambda hz: made(hz) - 2.0, centre_hz, min(2.5 * centre_hz, 0.499 * rate_hz))
    assert low == pytest.approx(centre_hz / math.sqrt(2), rel=0.002)
    assert high == pytest.approx(centre_hz * math.sqrt(2), rel=0.002)


def test_close_to_half_the_rate_it_is_the_formula_too() -> None:
    """The highest octave that 44.1 kHz holds: right to 21 kHz; the rest is told with the filter."""
    made = made_gain_db(Lift(15_591, 6.0), 44_100)
    for hz in (2000, 8000, 11_025, 15_591, 18_000, 21_000):
        assert made(hz) == pytest.approx(gain_db(hz, 15_591, 6.0), abs=0.01)


def test_what_rings_before_a_sound_is_far_below_it() -> None:
    """At half the rate the phase is cut off, which rings both ways: 10 ms before a click by less than −60 dB."""
    click = np.zeros((48_000, 1))
    click[24_000] = 1.0
    made = Lift(16_000, 12.0).of(Clip(click, 48_000)).samples[:, 0]
    assert 20 * np.log10(abs(made[: 24_000 - 480]).max()) < -60
    low = Lift(2000, 12.0).of(Clip(click, 48_000)).samples[:, 0]
    assert 20 * np.log10(abs(low[: 24_000 - 480]).max()) < -75


def tones(hz: list[float], length_s: float = 4.0, rate_hz: int = RATE) -> Clip:
    """Tones of one level, together at −20 dBFS, fading at both ends."""
    times = np.arange(round(length_s * rate_hz)) / rate_hz
    samples = np.sum([np.sin(2 * np.pi * f * times) for f in hz], axis=0) * 0.1 / math.sqrt(len(hz) / 2)
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(240) / 240)
    samples[:240] *= rise
    samples[-240:] *= rise[::-1]
    return Clip(np.stack([samples, samples], axis=1), rate_hz)


def changed_db(folder: Path, clip: Clip, difference: known_difference.Difference) -> float:
    written(folder, clip, difference)
    return known_difference.change_db(folder / "first.wav", folder / "known.wav")


@pytest.mark.parametrize("step_db", [-6.0, 0.1, 1.0])
def test_what_a_step_changes_follows_from_its_size(tmp_path: Path, step_db: float) -> None:
    expected = 20 * math.log10(abs(10 ** (step_db / 20) - 1))
    assert changed_db(tmp_path, music(3.0, level=0.05), Step(step_db)) == pytest.approx(expected, abs=0.01)


def test_what_a_lift_changes_is_its_share_of_the_music(tmp_path: Path) -> None:
    """Two tones of one level, the upper lifted by 1 dB, both quieter by what matching took; A(8 kHz) = −1.145 dB."""
    first, known = written(tmp_path, tones([1000.0, 8000.0]), Lift(8000, 1.0))
    before, after = level_db(first, "band"), level_db(known, "band")  # the lower tone's alone
    assert before is not None
    assert after is not None
    low = 10 ** ((after - before) / 20)
    high = low * 10 ** ((1.0 - gain_db(1000, 8000, 1.0)) / 20)
    weight = 10 ** (-1.145 / 10)
    expected = 10 * math.log10(((low - 1) ** 2 + weight * (high - 1) ** 2) / (1 + weight))
    found = known_difference.change_db(tmp_path / "first.wav", tmp_path / "known.wav")
    assert found == pytest.approx(expected, abs=0.1)


def test_a_lift_where_the_music_holds_nothing_changes_next_to_nothing(tmp_path: Path) -> None:
    low_tones = tones([110.0, 138.6, 164.8, 220.0, 277.2])
    assert changed_db(tmp_path, low_tones, Lift(14_000, 6.0)) < -70
    assert changed_db(tmp_path, low_tones, Lift(200, 1.0)) > -50
    assert changed_db(tmp_path, music(), Lift(2000, 1.0)) > -35


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
    says = "1 octave around 17000 Hz does not fit below half of 48000 Hz; choose at most 16970 Hz"
    with pytest.raises(MeasureError, match=says):
        written(tmp_path, music(2.0), Lift(17_000, 1.0))
    written(tmp_path, music(2.0), Lift(16_970, 1.0))
    with pytest.raises(MeasureError, match="does not fit"):
        written(tmp_path, music(2.0), Lift(16_971, 1.0))
