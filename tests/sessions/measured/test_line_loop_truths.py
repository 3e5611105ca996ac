"""What a loop must not hide: flat tops, exchanged inputs, its references, and the band it was swept over."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import line_spectrum
from audio.engine.orders import StreamFaults
from audio.engine.recording import Recording
from audio.engine.routes import Route
from tests.command_line import Done, earwitness

RATE = 48_000


class Box:
    """Two channels at -3.1 dB with a weak noise, 27 ms late; `spoil` is done to what the inputs hear."""

    def __init__(self, spoil: Callable[[np.ndarray], np.ndarray] = lambda heard: heard) -> None:
        self.spoil, self.rng = spoil, np.random.default_rng(9)

    def record(self, signal: np.ndarray, route: Route, source: Route, rate_hz: int, **_: float) -> Recording:
        heard = np.concatenate([np.zeros((1300, 2)), 0.7 * signal.astype(float), np.zeros((rate_hz // 2, 2))])
        heard[:, 1] += 10 ** (-63 / 20) * heard[:, 0]
        heard = self.spoil(heard) + 1e-5 * self.rng.standard_normal(heard.shape)
        return Recording(np.clip(heard, -1, 1).astype(np.float32), rate_hz, 0.0, "box", "box", StreamFaults())


def loop(amp_book: Path, box: Box, *more: str) -> Done:
    settings = ("--into", "box:1,2", "--seconds", "1", "--averages", "1", "--level", "-14")
    return earwitness(amp_book, "curve", "loop", "amp", *settings, *more, recorder=box)


def test_a_loop_that_is_clipped_before_the_converter_is_refused_for_that(amp_book: Path) -> None:
    done = loop(amp_book, Box(lambda heard: np.clip(heard, -0.05, 0.05)))  # 9 dB below the tone's peak
    assert done.returncode == 2
    assert "its tops are flat: something before the converter clips" in done.stderr
    assert "drift" not in done.stderr
    assert json.loads(earwitness(amp_book, "curve", "list", "--json").stdout) == {"curves": [], "record_holds": True}


def test_exchanged_inputs_are_named(amp_book: Path) -> None:
    done = loop(amp_book, Box(lambda heard: heard[:, ::-1]))
    assert done.returncode == 2
    said = " ".join(done.stderr.split())
    assert "what the left channel plays arrives at input 2, not at input 1: the inputs are exchanged" in said


def test_a_flat_loop_reads_flat_to_the_end_of_the_band_at_44_1_khz(amp_book: Path) -> None:
    done = loop(amp_book, Box(), "--rate", "44100", "--json")
    assert done.returncode == 0, done.stderr
    response = json.loads(done.stdout)["numbers"]["left"]["response"]
    assert response["least_db"] == pytest.approx(0, abs=0.08)  # the sweep's low end, an octave below what is read
    assert response["most_db"] == pytest.approx(0, abs=0.05)
    top = [db for hz, db in zip(response["hz"], response["db"], strict=True) if hz > 10_000]
    assert top == pytest.approx(np.zeros(len(top)), abs=0.02)


def test_taking_a_loop_and_showing_it_tell_the_same_numbers(amp_book: Path) -> None:
    """Left is 0.47 dB lower, and a little less so around 5 kHz."""
    done = loop(amp_book, Box(lambda heard: heard * np.array([10 ** (-0.47 / 20), 1.0])))
    assert done.returncode == 0, done.stderr
    shown = earwitness(amp_book, "curve", "show", "amp", "--what", "electronics")
    for what in ("channel balance", "response, left", "THD, left", "noise floor, right"):
        assert line(done, what) == line(shown, what)
    assert "1/12-octave smoothing" in line(shown, "channel balance")
    assert "-0.0 dB" not in done.stdout
    assert "-0.00 dB" not in done.stdout


def line(done: Done, begins: str) -> str:
    return next(one for one in done.stdout.splitlines() if one.strip().startswith(begins))


def test_a_loop_swept_over_a_part_of_the_band_gives_numbers_of_that_part(amp_book: Path) -> None:
    done = loop(amp_book, Box(), "--from", "1500", "--to", "8000", "--tone", "3000", "--json")
    assert done.returncode == 0, done.stderr
    numbers: dict[str, Any] = json.loads(done.stdout)["numbers"]
    assert numbers["left"]["response"]["against_hz"] == 3000
    assert "crosstalk_db" not in numbers["left"]
    assert numbers["balance"]["at_hz"] == 3000
    shown = earwitness(amp_book, "curve", "show", "amp", "--what", "electronics")
    assert "response, left (1500 to 8000 Hz, against 3000 Hz" in shown.stdout


@pytest.mark.parametrize("drive", [0.001, 0.3, 5.0])
def test_thd_and_noise_together_are_never_less_than_thd(drive: float) -> None:
    """A sine through a hard limit and little noise: up to the 43 % of a square wave, against the whole signal."""
    time = np.arange(2 * RATE) / RATE
    rng = np.random.default_rng(2)
    quiet = 1e-6 * rng.standard_normal(len(time))
    tone = np.clip(0.1 * np.sin(2 * np.pi * 1000 * time), -0.1 / (1 + drive), 0.1 / (1 + drive))
    read = line_spectrum.tone_reading(
        line_spectrum.line_spectrum(tone + 1e-6 * rng.standard_normal(len(time)), RATE),
        line_spectrum.line_spectrum(quiet, RATE),
    )
    power = np.abs(np.fft.rfft(tone)) ** 2  # whole periods: every line is a harmonic
    orders = np.arange(1, 21) * 1000 * 2
    planted = np.sqrt(power[orders[1:]].sum() / power[orders].sum())
    assert read.thd == pytest.approx(planted, rel=0.01)
    assert read.thd <= read.thd_n
    assert read.thd_n == pytest.approx(planted, rel=0.02)
