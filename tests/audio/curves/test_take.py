"""Takes through planted disturbances: each is seen, said, and what differs is left out or the take refused."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.signal import butter, lfilter, resample_poly

from audio.curves import band_levels, gate, noise_floor, overload, sweep
from audio.curves.take import Layout, TakeReading, read_take
from audio.errors import MeasureError

RATE = 48_000
LATE = 1200
LOW_CUT = butter(2, 60, "high", fs=RATE)
MADE = sweep.sweep(20, 20_000, 1.5, RATE, 0.1)
ONE, TWO, THREE = (Layout(MADE, averages) for averages in (1, 2, 3))

Spoil = Callable[[np.ndarray], np.ndarray]


def heard(layout: Layout, noise_dbfs: float = -85, before: Spoil | None = None) -> np.ndarray:
    """-20 dB, 25 ms late, a low cut at 60 Hz, noise; `before` spoils what comes to the loudspeaker."""
    played = layout.signal() if before is None else before(layout.signal())
    found = np.concatenate([np.zeros(LATE), 0.1 * lfilter(*LOW_CUT, played), np.zeros(RATE // 2)])
    return found + np.random.default_rng(1).normal(0, 10 ** (noise_dbfs / 20), len(found))


@pytest.fixture(scope="module")
def clean() -> TakeReading:
    return read_take(TWO, heard(TWO))


def level(read: TakeReading, hz: np.ndarray) -> np.ndarray:
    return gate.gated(read.response.impulse, RATE, 0.1)[0].at(hz)


def test_an_undisturbed_take_says_nothing(clean: TakeReading) -> None:
    assert (clean.said, clean.used) == ((), (1, 2))
    assert clean.clock_ppm == 0
    assert clean.drift_db == pytest.approx(0, abs=0.02)
    assert clean.response.arrival_s == pytest.approx(LATE / RATE, abs=1 / RATE)
    assert 20 * np.log10(clean.silence.rms) == pytest.approx(-85, abs=0.3)


def stretched(samples: np.ndarray, ppm: float) -> np.ndarray:
    """The same as a recorder hears it whose clock runs faster: by cubic splines on eight points a frame."""
    fine = resample_poly(samples, 8, 1)
    places = np.arange(len(samples)) / (1 + ppm * 1e-6) * 8
    return CubicSpline(np.arange(len(fine)), fine)(places[places < len(fine) - 2])


@pytest.mark.parametrize(("layout", "ppm"), [(ONE, 50), (TWO, -80)])
def test_a_clock_offset_is_measured_said_and_allowed_for(clean: TakeReading, layout: Layout, ppm: int) -> None:
    found = read_take(layout, stretched(heard(layout, -110), ppm))
    assert found.clock_ppm == pytest.approx(ppm, abs=1)
    assert re.search(rf"clock runs {abs(ppm)} ppm {'faster' if ppm > 0 else 'slower'}", found.said[0])
    hz = np.geomspace(25, 15_000, 60)
    assert level(found, hz) == pytest.approx(level(clean, hz), abs=0.1)


def clicked(place: int, layout: Layout, samples: np.ndarray) -> np.ndarray:
    samples = samples.copy()
    samples[layout.starts[place] + LATE + RATE] += 0.02
    return samples


def test_a_click_in_one_average_leaves_that_one_out(clean: TakeReading) -> None:
    hz = np.geomspace(100, 15_000, 60)
    for layout, place in ((TWO, 0), (TWO, 1), (THREE, 1)):
        found = read_take(layout, clicked(place, layout, heard(layout)))
        said = f"average {place + 1} of {layout.averages} was left out: a click or another noise 1.02 s into it"
        assert found.said == (said,)
        assert level(found, hz) == pytest.approx(level(clean, hz), abs=0.1)


def test_a_click_in_the_only_average_refuses_the_take() -> None:
    with pytest.raises(MeasureError, match=r"the sweep was disturbed and nothing is kept: a click .* sweep again"):
        read_take(ONE, clicked(0, ONE, heard(ONE)))


def test_an_average_through_which_somebody_vacuumed_is_left_out() -> None:
    """Noise at -55 dBFS throughout the second of three, the rest at -85."""
    samples = heard(THREE)
    begin = THREE.starts[1] + LATE
    samples[begin : begin + 2 * RATE] += np.random.default_rng(3).normal(0, 10 ** (-55 / 20), 2 * RATE)
    found = read_take(THREE, samples)
    assert found.used == (1, 3)
    assert re.fullmatch(r"average 2 of 3 was left out: it is \d+ dB noisier than the others", found.said[0])


def lost(frames: int, at: int, samples: np.ndarray) -> np.ndarray:
    return np.concatenate([np.delete(samples, slice(at, at + frames)), np.zeros(frames)])


@pytest.mark.parametrize("frames", [1, 64, 1024])
def test_lost_frames_leave_the_sweeps_beside_them_out(clean: TakeReading, frames: int) -> None:
    found = read_take(TWO, lost(frames, TWO.starts[0] + LATE + RATE // 2, heard(TWO)))
    assert found.used == (2,)
    many = "1 frame was" if frames == 1 else f"{frames} frames were"
    assert f"average 1 of 2 was left out: {many} lost near it" in found.said[0]
    hz = np.geomspace(25, 15_000, 60)
    assert level(found, hz) == pytest.approx(level(clean, hz), abs=0.15)


@pytest.mark.parametrize("at_s", [0.2, 1.4, 2.1])
def test_frames_lost_around_the_only_sweep_refuse_the_take(at_s: float) -> None:
    with pytest.raises(MeasureError, match="64 frames were lost near it; close other programs"):
        read_take(ONE, lost(64, ONE.starts[0] + LATE + round(at_s * RATE), heard(ONE)))


def test_an_average_at_another_level_is_left_out() -> None:
    samples = heard(THREE)
    begin = THREE.starts[1]
    samples[begin : begin + 2 * RATE] *= 10 ** (-1 / 20)
    found = read_take(THREE, samples)
    assert found.used == (1, 3)
    assert found.said == ("average 2 of 3 was left out: its level differs by -1.0 dB from the rest of the take",)


def test_a_level_that_drifts_is_said_and_refused_where_it_drifts_far() -> None:
    samples = heard(TWO)
    first, last = (start + LATE for start in TWO.markers)

    def drifting(db: float) -> np.ndarray:
        places = (np.arange(len(samples)) - first) / (last - first)
        return np.asarray(samples * 10 ** (db * places / 20))

    assert read_take(TWO, drifting(-0.4)).said == ("the level drifted by -0.4 dB from the first to the last marker",)
    with pytest.raises(MeasureError, match=r"drifted by -2\.0 dB during the take"):
        read_take(TWO, drifting(-2))


def test_tops_cut_flat_before_the_converter_refuse_the_take() -> None:
    samples = heard(TWO)
    top = np.abs(samples).max() * 10 ** (-1.5 / 20)
    with pytest.raises(MeasureError, match="its tops are flat: something before the converter clips"):
        read_take(TWO, np.clip(samples, -top, top))


def test_soft_clipping_is_suspected_by_its_odd_harmonics() -> None:
    """tanh at half its knee: the third harmonic is 0.5²/12, 2.1 % (by its series), everywhere."""
    said = {}
    for drive in (0.05, 0.5):
        found = read_take(TWO, heard(TWO, -100, lambda x, d=drive: np.tanh(x / 0.1 * d) / d * 0.1))  # type: ignore[misc]
        said[drive] = overload.suspected(found.response, sweep.distortion(found.made, found.response))
    assert said[0.05] == []
    assert re.search(r"harmonic 3 reaches (1\.9|2\.\d) % at \d+ Hz, where the recording is loudest", said[0.5][0])


def test_hum_is_named_with_its_level() -> None:
    """50 Hz at -60 dBFS (RMS) and 150 Hz 10 dB lower: together -59.6 dBFS."""
    samples = heard(TWO)
    t = np.arange(len(samples)) / RATE
    for hz, dbfs in ((50, -60), (150, -70)):
        samples = samples + 2**0.5 * 10 ** (dbfs / 20) * np.sin(2 * np.pi * hz * t)
    (said,) = read_take(TWO, samples).said
    assert said.startswith("mains hum at 50 Hz and 1 of its multiples: -60 dBFS, ")


class TestNoiseFloor:
    def test_it_is_what_noise_alone_comes_to(self) -> None:
        """Against coloured noise deconvolved and gated, sixteen stretches of it: within 1 dB over each band."""
        rng = np.random.default_rng(2)
        colour = partial(lfilter, [1e-3], [1, -0.95])
        quiet = noise_floor.silence([colour(rng.normal(size=RATE))[RATE // 2 :] for _ in range(4)], RATE)
        floor = noise_floor.of_response(quiet, MADE, 1, 0.02, "half-tukey")
        size, shape = 1 << 18, gate.shape(960, 48, "half-tukey")
        whole = np.fft.irfft(np.fft.rfft(colour(rng.normal(size=3 * RATE)), size) * sweep.inverse(MADE, size))
        power = np.mean(
            [
                np.abs(np.fft.rfft(whole[at : at + len(shape)] * shape, 2 * (len(floor.hz) + 1))[1:-1]) ** 2
                for at in range(2000, 2000 + 16 * 3000, 3000)
            ],
            axis=0,
        )
        for low, high in ((60, 500), (500, 4000), (4000, 18_000)):
            band = (floor.hz >= low) & (floor.hz < high)
            apart = 10 * np.log10(power[band].mean() / np.mean(10 ** (floor.level_db[band] / 10)))
            assert apart == pytest.approx(0, abs=1.0)

    def test_the_valid_band_is_where_the_signal_exceeds_it_by_ten_db(self) -> None:
        """A floor that rises 6 dB an octave downwards, 10 dB below the signal at 200 Hz."""
        hz = gate.lines(RATE, 24_000)[1:]
        signal = noise_floor.Curve(hz, np.zeros(len(hz)))
        floor = noise_floor.Curve(hz, -10 - 20 * np.log10(hz / 200))
        found = noise_floor.clear_band(signal, floor, (20, 20_000))
        assert found is not None
        assert found == (pytest.approx(200, rel=0.02), 20_000)
        assert noise_floor.clear_band(signal, signal, (20, 20_000)) is None


@pytest.mark.parametrize("band_hz", [(2000, 20_000), (1000, 1500), (20, 200)])
def test_nothing_of_a_take_is_played_below_the_sweep_s_low_end(band_hz: tuple[float, float]) -> None:
    """What a tweeter alone is swept with: markers too stay within the band, and the take reads as it should."""
    layout = Layout(sweep.sweep(*band_hz, 1.0, RATE, 0.1), 2)
    assert layout.marker.low_hz >= band_hz[0]
    assert layout.marker.high_hz <= band_hz[1]
    found = read_take(layout, np.concatenate([np.zeros(LATE), layout.signal(), np.zeros(RATE // 2)]))
    assert found.used == (1, 2)
    middle = np.array([(band_hz[0] * band_hz[1]) ** 0.5])
    assert level(found, middle) == pytest.approx(0, abs=0.2)


def changed(place: int, hz: float, db: float, layout: Layout, samples: np.ndarray) -> np.ndarray:
    """One sweep is heard through a bell of an octave at another level, as where somebody opened a door."""
    w, big = 2 * np.pi * hz / RATE, 10 ** (db / 40)
    alpha = np.sin(w) / (2 * 1.414)
    b = [1 + alpha * big, -2 * np.cos(w), 1 - alpha * big]
    a = [1 + alpha / big, -2 * np.cos(w), 1 - alpha / big]
    samples = samples.copy()
    part = slice(layout.starts[place], layout.starts[place] + 3 * RATE)
    samples[part] = lfilter(b, a, samples[part])
    return samples


@pytest.mark.parametrize(("hz", "db"), [(63.1, 2.0), (12_590, -1.5), (12_590, 0.8)])
def test_an_average_that_differs_in_one_band_alone_is_left_out(clean: TakeReading, hz: float, db: float) -> None:
    """Below and above the band of the markers, whose level is the same in all three."""
    found = read_take(THREE, changed(1, hz, db, THREE, heard(THREE)))
    assert found.used == (1, 3)
    words = r"average 2 of 3 was left out: around (\d+) Hz its level differs by ([+-][\d.]+) dB from the others"
    said = re.fullmatch(words, found.said[0])
    assert said, found.said
    assert float(said[1]) == {63.1: 63, 12_590: 12_500}[hz]
    assert float(said[2]) == pytest.approx(db, abs=0.15)
    some = np.geomspace(40, 15_000, 60)
    assert level(found, some) == pytest.approx(level(clean, some), abs=0.15)


def test_two_averages_that_differ_in_one_band_refuse_the_take() -> None:
    """Nothing tells which of the two it was."""
    with pytest.raises(MeasureError, match=r"around 63 Hz the two averages differ by (1\.9|2\.0) dB"):
        read_take(TWO, changed(1, 63.1, 2.0, TWO, heard(TWO)))


def test_noise_alone_makes_no_average_differ() -> None:
    """Noise 25 dB above that of the other tests, so that the bass below the low cut drowns in it: no band is blamed."""
    assert read_take(THREE, heard(THREE, -60)).used == (1, 2, 3)


@pytest.mark.parametrize(("averages", "clear_db", "lines", "most"), [
    (2, 20, 1, 0.003), (4, 20, 1, 0.003), (8, 20, 1, 0.003), (2, 25, 1, 0.001), (2, 20, 2, 0.0002), (8, 40, 1, 0.0),
])  # fmt: skip
def test_noise_takes_averages_apart_by_more_than_is_allowed_hardly_ever(
    averages: int, clear_db: float, lines: int, most: float
) -> None:
    """By theory: lines of one band, each a steady tone in complex Gaussian noise, and what that does to their level."""
    random = np.random.default_rng(4)
    noise = random.normal(size=(20_000, averages, lines)) + 1j * random.normal(size=(20_000, averages, lines))
    power = np.mean(np.abs(1 + noise * 10 ** (-clear_db / 20) / 2**0.5) ** 2, axis=2)
    level = 10 * np.log10(power)
    apart = level - (level[:, ::-1] if averages == 2 else np.median(level, axis=1, keepdims=True))
    if averages == 2:
        assert np.std(apart) == pytest.approx(8.686 * 10 ** (-clear_db / 20) / lines**0.5, rel=0.05)
    assert np.mean(np.any(np.abs(apart) > band_levels.allowed_db(clear_db), axis=1)) <= most


def test_two_averages_in_low_noise_that_just_clears_the_bass_agree() -> None:
    """Noise of 10 to 40 Hz, as from traffic, under a short sweep: no band is blamed for it."""
    layout = Layout(sweep.sweep(20, 20_000, 0.5, RATE, 0.1), 2)
    rumble = butter(1, [10, 40], "band", fs=RATE)
    for seed, dbfs in enumerate((-75, -70, -65, -60, -55, -50)):
        played = heard(layout, -90)
        noise = lfilter(*rumble, np.random.default_rng(seed).normal(0, 1, len(played) + RATE))[RATE:]
        assert read_take(layout, played + noise / noise.std() * 10 ** (dbfs / 20)).used == (1, 2)
