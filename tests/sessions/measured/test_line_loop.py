"""Electronics through a line loop, planted by arithmetic: noise, distortion, crosstalk, balance come back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.signal import butter, freqz, lfilter

from audio.engine.orders import StreamFaults
from audio.engine.recording import Recording
from audio.engine.routes import Route
from audio.levels.weighting import a_weight_db
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import create
from tests.command_line import earwitness
from tests.jack import Server
from tests.jack_room import jack_room
from tests.room import Room, Speaker

RATE = 48_000
LOW_CUT = butter(1, 10, "high", fs=RATE)
NOISE_RMS = 1e-5
SQUARE, CUBE = 0.01, 0.1
CROSS_DB = -70.0
LEFT_DB = -0.3


class Amplifier:
    """Two channels: -6 dB, left 0.3 dB less; a low cut at 10 Hz, x² and x³, noise, crosstalk, 20 ms of latency."""

    def __init__(self, cross_db: float = CROSS_DB, noise: float = NOISE_RMS) -> None:
        self.cross, self.noise = 10 ** (cross_db / 20), noise
        self.rng = np.random.default_rng(3)

    def record(self, signal: np.ndarray, route: Route, source: Route, rate_hz: int, **_: float) -> Recording:
        late = np.concatenate([np.zeros((960, 2)), signal.astype(float), np.zeros((RATE // 2, 2))])[: len(signal) + 960]
        driven = lfilter(*LOW_CUT, late, axis=0)
        driven = driven + SQUARE * driven**2 + CUBE * driven**3
        driven *= 0.5 * 10 ** (np.array([LEFT_DB, 0.0]) / 20)
        heard = driven + self.cross * driven[:, ::-1] + self.noise * self.rng.standard_normal(driven.shape)
        return Recording(np.clip(heard, -1, 1).astype(np.float32), rate_hz, 0.0, "box", "box", StreamFaults())


QUICK = ("--into", "box:1,2", "--seconds", "1", "--averages", "1")


def test_what_was_planted_in_an_amplifier_comes_back(amp_book: Path) -> None:
    done = earwitness(amp_book, "curve", "loop", "amp", *QUICK, "--volts", "0.05", "--json", recorder=Amplifier())
    assert done.returncode == 0, done.stderr
    assert "a power amplifier needs its load" in done.stderr
    numbers: dict[str, Any] = json.loads(done.stdout)["numbers"]
    amplitude = 0.1  # -20 dBFS into the amplifier
    second, third = SQUARE * amplitude / 2, CUBE * amplitude**2 / 4  # of the fundamental, by trigonometry
    planted = 10 ** (np.array([LEFT_DB, 0.0]) / 20)
    for side, gain in zip(("left", "right"), planted, strict=True):
        own = numbers[side]
        level = 20 * np.log10(amplitude * 0.5 * gain)
        assert own["tone"]["level_dbfs"] == pytest.approx(level, abs=0.01)
        assert own["tone"]["thd_percent"] == pytest.approx(100 * np.hypot(second, third), rel=0.01)
        assert own["tone"]["harmonics_percent"]["2"] == pytest.approx(100 * second, rel=0.01)
        assert own["tone"]["harmonics_percent"]["3"] == pytest.approx(100 * third, rel=0.05)
        band = (20_000 - 20) / (RATE / 2)  # the share of white noise between 20 Hz and 20 kHz
        noise = 20 * np.log10(NOISE_RMS * np.sqrt(band) * np.sqrt(2))  # a full-scale sine is 0 dBFS
        assert own["noise"]["unweighted_dbfs"] == pytest.approx(noise, abs=0.3)
        lines = np.arange(20.0, 20_000.0)
        weighted = noise + 10 * np.log10(np.mean(10 ** (a_weight_db(lines) / 10)))
        assert own["noise"]["a_weighted_dbfs"] == pytest.approx(weighted, abs=0.3)
        assert own["noise"]["unweighted_v"] == pytest.approx(0.05 * 10 ** ((noise - level) / 20), rel=0.05)
        rest = np.hypot(np.hypot(second, third), 10 ** ((noise - level) / 20))
        assert own["tone"]["thd_n_percent"] == pytest.approx(100 * rest, rel=0.03)
        _, cut = freqz(*LOW_CUT, worN=np.array([20.0, 1000.0]), fs=RATE)
        drop = 20 * np.log10(abs(cut[0] / cut[1]))
        assert own["response"]["least_db"] == pytest.approx(drop, abs=0.03)
        assert own["response"]["most_db"] == pytest.approx(0, abs=0.05)
    # planted behind the gains: both ways 70 dB below the channel that plays
    for side in ("left", "right"):
        for hz in ("100", "1000"):
            assert numbers[side]["crosstalk_db"][hz] == pytest.approx(CROSS_DB, abs=0.5), (side, hz)
        # a pink sweep over white noise has 10 dB less to spare a decade up; then it is said below what it is
        assert numbers[side]["crosstalk_db"]["10000"] is None
        floor = numbers[side]["crosstalk_floor_db"]
        assert floor["10000"] - floor["1000"] == pytest.approx(10, abs=1)
        assert floor["10000"] > CROSS_DB - 10
    assert numbers["balance"]["at_1_khz_db"] == pytest.approx(LEFT_DB, abs=0.01)
    assert abs(numbers["balance"]["largest_db"] - LEFT_DB) < 0.05


def test_the_loop_s_figures_are_told_drawn_and_listed_with_their_conditions(amp_book: Path, tmp_path: Path) -> None:
    """No crosstalk and no distortion to be seen: then it is said below what."""
    done = earwitness(
        amp_book,
        "curve",
        "loop",
        "amp",
        *QUICK,
        "--note",
        "gain at noon",
        recorder=Amplifier(cross_db=-160, noise=1e-4),
    )
    assert done.returncode == 0, done.stderr
    assert "noise floor, left (20 Hz to 20 kHz, A-weighted): -" in done.stdout
    assert (
        "THD+N, right (1000 Hz at -20 dBFS, 20 Hz to 20 kHz, relative to the whole signal, unweighted)" in done.stdout
    )
    assert "crosstalk, left into the other (at 1000 Hz): below -" in done.stdout
    assert "channel balance, left less right" in done.stdout
    for what in ("electronics", "spectrum", "crosstalk"):
        shown = earwitness(
            amp_book, "curve", "show", "amp", "--what", what, "--out", str(tmp_path / f"{what}.png"), "--json"
        )
        assert shown.returncode == 0, shown.stderr
        assert json.loads(shown.stdout)["numbers"]
        assert (tmp_path / f"{what}.png").stat().st_size > 10_000
    listed = earwitness(amp_book, "curve", "list").stdout
    assert "left, tone, 1000 Hz at -20 dBFS" in listed
    assert "right, noise" in listed


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--level", "-3"), "more only with --nothing-sounds"),
        (("--level", "0", "--nothing-sounds"), "give -60 to -0.5 dBFS"),
        (("--tone", "15000"), "its second harmonic too"),
        (("--into", "box:1,1"), "names each once"),
        (("--into", "box:1,2,3"), "two at most"),
    ],
)
def test_what_does_not_fit_gets_one_line_and_plays_nothing(amp_book: Path, more: tuple[str, ...], says: str) -> None:
    done = earwitness(amp_book, "curve", "loop", "amp", *QUICK, *more, "--json", recorder=None)
    assert done.returncode == 2
    assert says in done.stderr.splitlines()[-1]
    listed = json.loads(earwitness(amp_book, "curve", "list", "--json").stdout)
    assert listed == {"curves": [], "record_holds": True}


def test_a_loop_that_is_open_is_refused(amp_book: Path) -> None:
    class Open(Amplifier):
        def record(self, signal: np.ndarray, *others: Any, **how: float) -> Recording:
            return super().record(0 * signal, *others, **how)

    done = earwitness(amp_book, "curve", "loop", "amp", *QUICK, "--json", recorder=Open())
    assert done.returncode == 2
    assert json.loads(earwitness(amp_book, "curve", "list", "--json").stdout) == {"curves": [], "record_holds": True}


@pytest.mark.jack
def test_a_loop_comes_back_through_real_streams(tmp_path: Path, server: Server) -> None:
    """-20 dB, 3 ms, noise of -80 dBFS RMS: the level read, a flat response, and the noise's share of the band."""
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "amp", "", playback_chain.routed("room:2"))
    with jack_room(server, Room([Speaker(-14, 4), Speaker(-20, 3)], noise_dbfs=-80)):
        done = earwitness(
            tmp_path / "book", "curve", "loop", "amp", "--into", "room:1", "--seconds", "1", "--averages", "1", "--json"
        )
    assert done.returncode == 0, done.stderr
    own = json.loads(done.stdout)["numbers"]["channel"]
    assert own["tone"]["level_dbfs"] == pytest.approx(-40, abs=0.05)
    noise = -80 + 10 * np.log10((20_000 - 20) / 24_000 * 2)
    assert own["noise"]["unweighted_dbfs"] == pytest.approx(noise, abs=0.5)
    assert own["response"]["least_db"] == pytest.approx(0, abs=0.3)
    assert own["response"]["most_db"] == pytest.approx(0, abs=0.3)
