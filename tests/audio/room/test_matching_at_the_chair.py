"""Planted level differences are found within their stated uncertainty: many imaginary rooms, made by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, lfilter

from audio.errors import MeasureError
from audio.room import reading, trims
from audio.room.level import WEIGHTINGS

RATE = 48_000
SECONDS = 1.0


def heard(signal: np.ndarray, gain_db: float, delay: int, noise: float, rng: np.random.Generator, cut: float = 0.0):
    """A mono way through a room: each channel's sound with a gain, late, its bass cut, and noise on top."""
    total = signal.sum(axis=1).astype(float) * 10 ** (gain_db / 20)
    if cut:
        total = lfilter(*butter(2, cut, "high", fs=RATE), total)
    late = np.concatenate([np.zeros(delay), total, np.zeros(RATE - delay)])
    return late + noise * rng.standard_normal(late.size)


def position(
    gains: dict[str, float], noise: float, seed: int, channels: int = 1, cut: float = 0.0, *, located: bool = True
) -> trims.Position:
    """Readings of setups with these gains; where they arrive is found in the recordings, or known as planted."""
    rng = np.random.default_rng(seed)
    made = reading.reading_signal(RATE, SECONDS, channels, -30.0)
    silent = reading.background(noise * rng.standard_normal(round(SECONDS * RATE)), RATE)
    setups = {}
    for number, (name, gain) in enumerate(gains.items()):
        delay = int(rng.integers(100, 9000))
        samples = heard(made.signal, gain, delay, noise, rng, cut if number else 0.0)
        arrived = reading.arrival(samples, made) if located else delay
        assert arrived == pytest.approx(delay, abs=1 if not cut else 30)
        setups[name] = reading.read(samples, made, arrived, RATE)
    return trims.Position(silent, setups)


@pytest.mark.parametrize("snr_db", [20.0, 40.0])
def test_planted_differences_are_found_within_their_uncertainty(snr_db: float) -> None:
    """Of five setups against a sixth at each of 20 chairs, each with noise of its own."""
    noise = 10 ** ((-30 - 20 - snr_db) / 20)
    planted = {"a": 0.05, "b": 0.1, "c": 0.5, "d": 2.0, "e": 6.0}
    gains = {"one": -20.0} | {name: -20.0 - by_db for name, by_db in planted.items()}
    inside = dict.fromkeys(planted, 0)
    for seed in range(20):
        found = trims.differences([position(gains, noise, seed, located=seed < 5)], "band")
        for name, each in zip(planted, found, strict=False):
            assert each.setups == ("one", name)
            inside[name] += abs(each.difference_db - planted[name]) <= each.uncertainty_db
            assert each.uncertainty_db < 0.25
    assert all(count >= 19 for count in inside.values()), inside


def test_channels_add_and_positions_are_averaged() -> None:
    one = position({"one": -20.0, "other": -23.0}, 1e-6, 1, channels=2)
    level = trims.levels([one], "band")["one"]
    assert level.level_db - level.channels_db[0] == pytest.approx(3.01, abs=0.01)
    far = position({"one": -26.0, "other": -23.0}, 1e-6, 2, channels=2)
    both = trims.levels([one, far], "band")["one"]
    expected = 10 * np.log10((10**-2.0 + 10**-2.6) / 2) + 20
    assert both.level_db - level.level_db == pytest.approx(expected, abs=0.01)
    found = trims.differences([one, far], "band")[0]
    np.testing.assert_allclose(found.positions_db, [3.0, -3.0], atol=0.01)


def test_different_bass_shows_in_the_wide_weightings_only() -> None:
    """Pink noise into two ideal units, second-order high-pass 80 Hz against none: A hardly moves, Z does."""
    placed = position({"one": -20.0, "other": -20.0}, 1e-7, 3, cut=80.0)
    by = {weighting: trims.differences([placed], weighting)[0].difference_db for weighting in WEIGHTINGS}  # type: ignore[arg-type]
    freqs = np.arange(20.0, 20_001.0)  # the lines of a turn of one second
    cut = (freqs / 80) ** 4 / (1 + (freqs / 80) ** 4)
    wanted = 10 * np.log10(np.sum(1 / freqs) / np.sum(cut / freqs))
    assert by["z"] == pytest.approx(wanted, abs=0.02)
    assert by["band"] == pytest.approx(0, abs=0.01)
    assert by["a"] == pytest.approx(0, abs=0.02)


def test_gains_only_attenuate_and_level_the_setups() -> None:
    gains = trims.gains_db({"a": -30.0, "b": -33.5, "c": -31.0})
    assert gains == {"a": -3.5, "b": 0.0, "c": -2.5}


def test_a_setup_below_the_background_is_refused() -> None:
    with pytest.raises(MeasureError, match="does not rise above the background"):
        placed = position({"one": -20.0, "other": -20.0}, 1e-6, 4)
        loud = {name: 1e6 * powers for name, powers in placed.background.items()}
        trims.levels([trims.Position({k: v + 1 for k, v in loud.items()}, placed.setups)], "band")


def test_the_step_is_read_and_an_automatic_gain_shows() -> None:
    made = reading.reading_signal(RATE, SECONDS, 1, -30.0, step=True)
    rng = np.random.default_rng(5)
    samples = heard(made.signal, -10, 500, 1e-5, rng)
    step = reading.step_db(samples, made, 500, RATE, 0.0)
    assert step == pytest.approx(10, abs=0.05)
    half = np.sign(samples) * np.abs(samples) ** 0.5  # a compressor, two to one
    squeezed = reading.step_db(half, made, 500, RATE, 0.0)
    assert squeezed == pytest.approx(5, abs=1.0)


def test_the_signal_never_exceeds_its_stated_peak_and_starts_and_ends_softly() -> None:
    made = reading.reading_signal(RATE, SECONDS, 2, -30.0)
    for column in made.signal.T:
        sounding = np.flatnonzero(column)
        assert abs(column[sounding[0]]) < 1e-5
        assert abs(column[sounding[-1]]) < 1e-5
    peak_dbfs = 20 * np.log10(np.abs(made.signal).max())
    assert peak_dbfs == pytest.approx(-30 + max(made.crest_db.values()), abs=0.01)


def test_arrivals_are_compared_within_one_sending() -> None:
    made = reading.arrival_signal(RATE, 2, -30.0)
    late = [np.concatenate([np.zeros(d), made.signal[:, n], np.zeros(9600 - d)]) for n, d in enumerate((300, 372))]
    assert reading.arrivals(late[0] + late[1], made) == [300, 372]
