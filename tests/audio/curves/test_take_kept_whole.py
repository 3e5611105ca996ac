"""What all averages share, a slow drift or a steady hum, blames none of them; what clips everywhere is refused."""

from __future__ import annotations

import numpy as np
import pytest

from audio.curves import disturbances, overload, sweep
from audio.curves.take import Layout, read_take
from audio.errors import MeasureError

from .test_take import LATE, MADE, RATE, THREE, TWO, changed, heard

FIVE = Layout(MADE, 5)


def drifting(samples: np.ndarray, db: float) -> np.ndarray:
    return np.asarray(samples * 10 ** (db * np.arange(len(samples)) / len(samples) / 20))


def humming(samples: np.ndarray, hz: float, dbfs: float) -> np.ndarray:
    """With a steady tone of this peak level."""
    return np.asarray(samples + 10 ** (dbfs / 20) * np.sin(2 * np.pi * hz * np.arange(len(samples)) / RATE))


@pytest.mark.parametrize(("layout", "db"), [(FIVE, 0.8), (THREE, 0.8), (THREE, -0.5)])
@pytest.mark.parametrize("noise_dbfs", [-95, -65])
def test_a_slow_drift_is_said_and_leaves_no_average_out(layout: Layout, db: float, noise_dbfs: float) -> None:
    found = read_take(layout, drifting(heard(layout, noise_dbfs), db))
    assert found.used == tuple(range(1, layout.averages + 1)), found.said
    assert f"the level drifted by {db * 0.8:+.0f}"[:-2] in found.said[0]
    assert len(found.said) == 1


@pytest.mark.parametrize(("layout", "hz", "dbfs"), [(THREE, 50, -50), (THREE, 60, -52), (FIVE, 50.03, -48)])
def test_a_steady_hum_is_said_and_leaves_no_average_out(layout: Layout, hz: float, dbfs: float) -> None:
    found = read_take(layout, humming(heard(layout), hz, dbfs))
    assert found.used == tuple(range(1, layout.averages + 1)), found.said
    (said,) = found.said
    assert said.startswith(f"mains hum at {hz:.0f} Hz: {dbfs - 3:.0f} dBFS")
    assert found.hum is not None
    assert found.hum.dbfs == pytest.approx(dbfs - 10 * np.log10(2), abs=0.5)


def test_a_click_in_one_of_three_is_found_through_drift_and_hum() -> None:
    samples = heard(THREE)
    samples[THREE.starts[1] + LATE + RATE] += 0.03
    found = read_take(THREE, humming(drifting(samples, 0.5), 50, -55))
    assert found.used == (1, 3)
    assert "average 2 of 3 was left out: a click or another noise 1.02 s into it" in found.said


def test_where_most_averages_differ_the_take_is_refused() -> None:
    """Each at its own level around 63 Hz, or as a whole: nothing tells which is right."""
    samples = changed(2, 63.1, -2.0, THREE, changed(0, 63.1, 2.0, THREE, heard(THREE)))
    with pytest.raises(
        MeasureError, match=r"the averages do not agree: around 63 Hz most of them differ, by up to [12]"
    ):
        read_take(THREE, samples)
    samples = heard(THREE)
    for place, db in ((0, 1.0), (2, -1.0)):
        samples[THREE.starts[place] : THREE.starts[place] + 2 * RATE] *= 10 ** (db / 20)
    with pytest.raises(MeasureError, match=r"the level of most of them differs, by up to 1\.0 dB"):
        read_take(THREE, samples)


@pytest.mark.parametrize("below_db", [0.7, 3, 9])
def test_tops_that_a_hard_edge_makes_overshoot_are_flat_too(below_db: float) -> None:
    """A flat amplifier, nothing between it and the converter: short half waves ring beyond the edge once resampled."""
    played = TWO.signal()
    top = np.abs(played).max() * 10 ** (-below_db / 20)
    samples = np.clip(played, -top, top) + np.random.default_rng(4).normal(0, 1e-5, len(played))
    assert disturbances.flat_topped(samples[TWO.starts[0] : TWO.starts[0] + 2 * RATE])
    with pytest.raises(MeasureError, match="its tops are flat: something before the converter clips"):
        read_take(TWO, samples)
    assert not disturbances.flat_topped(played[TWO.starts[0] : TWO.starts[0] + 2 * RATE])


@pytest.mark.parametrize("noise_dbfs", [-48, -60, -75])
def test_noise_in_a_linear_room_is_not_taken_for_soft_clipping(noise_dbfs: float) -> None:
    """Against a sweep heard at -40 dBFS: its harmonics' windows hold nothing else."""
    from audio.curves import noise_floor

    for layout in (Layout(MADE, 1), TWO):
        read = read_take(layout, heard(layout, noise_dbfs))
        noise = noise_floor.of_harmonics(read.silence, read.made, read.response, len(read.used))
        harmonics = sweep.distortion(read.made, read.response, noise=noise)
        assert overload.suspected(read.response, harmonics) == []
        bare = {order: (curve, np.full(len(curve.hz), -300.0)) for order, (curve, _) in harmonics.items()}
        assert overload.suspected(read.response, bare) or noise_dbfs < -60  # without its floor it would be
