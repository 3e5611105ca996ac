"""What is measured of a loudspeaker, a second time: by scipy, by integrals, and by closed forms of planted systems.

Everything here is computed independently of the code under test, and nothing was read in print. Smoothing, group delay
and the decay of a resonance have their second opinion beside their published numbers, in `test_measured_curves`.
"""

from __future__ import annotations

from math import asin, cos, log, pi, radians, sin, tan

import numpy as np
import pytest
from scipy import integrate, optimize, signal

from audio.curves import angles, decay, gate, impedance, noise_floor, phase, sensitivity, sweep
from audio.curves.curve import Curve, log_grid, mean_level

RATE = 48_000


def dirac(frames: int, at: int = 960) -> np.ndarray:
    made = np.zeros(frames)
    made[at] = 1.0
    return made


def ringing(f: float, q: float, frames: int, rate_hz: int) -> np.ndarray:
    """A dirac through a band-pass of second order (20 ms late)."""
    b, a = signal.bilinear([2 * pi * f / q, 0], [1, 2 * pi * f / q, (2 * pi * f) ** 2], rate_hz)
    return np.asarray(signal.lfilter(b, a, dirac(frames, rate_hz // 50)))


def test_a_sweep_is_scipys_logarithmic_chirp() -> None:
    made = sweep.sweep(20, 20_000, 2, RATE, 0.25)
    t = np.arange(made.frames) / RATE
    chirp = 0.25 * signal.chirp(t, made.low_hz, made.length_s, made.high_hz, "logarithmic", phi=-90)
    whole = (t > 0.011) & (t < made.length_s - 0.001)  # between its fades
    np.testing.assert_allclose(made.samples()[whole], chirp[whole], rtol=0, atol=1e-8)


def test_a_gated_response_is_the_filters_own_in_level_and_phase() -> None:
    sections = signal.butter(2, [100, 9000], "bandpass", fs=RATE, output="sos")
    impulse = signal.sosfilt(sections, dirac(RATE))
    found, made = gate.gated(impulse, RATE, 0.3, "rectangular")
    hz = found.hz[(found.hz > 50) & (found.hz < 15_000)]
    _, wanted = signal.sosfreqz(sections, worN=hz, fs=RATE)
    wanted *= np.exp(2j * pi * hz * (made.start_s - 960 / RATE))  # its time counts from the onset
    assert found.at(hz) == pytest.approx(20 * np.log10(np.abs(wanted)), abs=1e-3)
    assert found.phase_deg is not None
    turned = np.interp(hz, found.hz, np.unwrap(np.radians(found.phase_deg))) - np.unwrap(np.angle(wanted))
    assert np.abs(np.angle(np.exp(1j * turned))).max() < 1e-3


def test_the_windows_of_a_gate_are_the_right_halves_of_scipys() -> None:
    for name, whole in (("half-hann", signal.windows.hann(577)), ("half-tukey", signal.windows.tukey(577, 0.5))):
        np.testing.assert_allclose(gate.shape(288, 0, name), whole[289:], atol=1e-12)  # type: ignore[arg-type]


def test_a_reflection_inside_a_gate_weighs_what_its_window_weighs_there() -> None:
    """Half as loud, 3 ms late, in a half-Hann gate of 6 ms: 1 + w/2 · exp(-jωτ), w by the cosine at that frame."""
    impulse = dirac(9600) + 0.5 * dirac(9600, 960 + 144)
    found, _ = gate.gated(impulse, RATE, 0.006, "half-hann")
    weights = [0.5 + 0.5 * cos(pi * (frame + 1) / 288) for frame in (0, 144)]
    wanted = np.abs(weights[0] + 0.5 * weights[1] * np.exp(-2j * pi * found.hz * 0.003))
    assert found.level_db == pytest.approx(20 * np.log10(wanted), abs=1e-6)


def test_minimum_phase_is_the_hilbert_transform_of_the_logarithm() -> None:
    """By scipy's `hilbert`; and a zero outside the circle is exchanged for its mirror image inside, gain kept."""
    sections = signal.butter(3, [0.2, 0.4], "bandstop", output="sos")
    turned, kept = np.convolve([0.5, 1.0], [1.0, -0.3, 0.6]), np.convolve([1.0, 0.5], [1.0, -0.3, 0.6])
    w = np.linspace(0, pi, 8193)
    magnitude = np.abs(signal.freqz(turned, worN=w)[1] * (0.3 + np.abs(signal.sosfreqz(sections, worN=w)[1])))
    around = np.concatenate([magnitude, magnitude[-2:0:-1]])
    wanted = -np.imag(signal.hilbert(np.log(around)))[: len(w)]
    assert phase.minimum_phase(magnitude) == pytest.approx(wanted, abs=1e-9)
    mirrored = np.angle(signal.freqz(kept, worN=w)[1])
    assert phase.minimum_phase(np.abs(signal.freqz(turned, worN=w)[1])) == pytest.approx(mirrored, abs=1e-9)


def test_a_step_response_is_scipys_up_to_its_scale() -> None:
    b, a = signal.butter(2, 0.1)
    found = phase.step_response(signal.lfilter(b, a, np.eye(1, 400)[0]))
    _, (wanted,) = signal.dstep((b, a, 1), n=400)
    assert found == pytest.approx(wanted[:, 0] / np.abs(wanted).max(), abs=1e-9)


def pyramid(degrees: float) -> float:
    """The share of the sphere inside a square pyramid with so many degrees from its axis to its faces' middles.

    A point of the plane at distance 1 has the density (1 + x² + y²)^(-3/2) of solid angle: over y in closed form, over
    x by quadrature. Past 90 degrees the rest is the pyramid of the other side.
    """
    if degrees > 90:
        return 1 - pyramid(180 - degrees)
    edge = tan(radians(degrees))

    def over_y(x: float) -> float:
        return edge / ((1 + x * x) * (1 + x * x + edge * edge) ** 0.5)

    return float(integrate.quad(over_y, 0, edge)[0] / pi)


def test_the_closed_form_of_a_pyramid_is_the_quadrature() -> None:
    """asin(sin² α)/π of the sphere: what the weights are worked out by."""
    for degrees in (5, 15, 45, 85):
        assert asin(sin(radians(degrees)) ** 2) / pi == pytest.approx(pyramid(degrees), abs=1e-12)


@pytest.mark.parametrize("angle", range(0, 91, 10))
def test_the_weights_of_sound_power_are_shells_between_square_pyramids(angle: int) -> None:
    """Each of four directions at an angle has a quarter of the shell from 5 degrees less to 5 more, by quadrature."""
    shell = pyramid(angle + 5) - (pyramid(angle - 5) if angle else 0.0)
    assert angles.weight(angle) == pytest.approx(shell / 4, abs=1e-10)


@pytest.mark.parametrize(("kind", "short"), [("cardioid", 0.1), ("dipole", 0.36)])
def test_sound_power_on_two_circles_is_near_the_integral_over_the_sphere(kind: str, short: float) -> None:
    """Both ideal sources radiate 4.771 dB less than their axis, by quadrature; two circles read at most so much more.

    That is the standard's own rule, and no error of ours: it weighs what lies on the two circles only.
    """
    size = {"cardioid": lambda t: (1 + cos(t)) / 2, "dipole": lambda t: abs(cos(t))}[kind]
    whole = integrate.quad(lambda t: size(t) ** 2 * sin(t) / 2, 0, pi, points=[pi / 2])[0]
    assert 10 * np.log10(whole) == pytest.approx(-4.771, abs=5e-4)
    hz = np.array([100.0, 1000.0])
    circles = {
        (plane, angle): Curve(hz, np.full(2, 20 * np.log10(max(size(radians(angle)), 1e-9))))
        for plane in ("horizontal", "vertical")
        for angle in range(-170, 181, 10)
    }
    found = angles.directivity(circles).curves["sound power"].level_db
    assert 0 < found[0] - 10 * np.log10(whole) < short


@pytest.mark.parametrize("phase_deg", [0.0, 20.0, 45.0, 60.0, 75.0, 90.0])
def test_the_hardest_moment_of_an_amplifier_is_scipys_maximum(phase_deg: float) -> None:
    """Loss of a class B stage, a·sin(θ − φ)·(1 − a·sin θ), over moments and levels; a resistor's is 1/4."""

    def loss(x: np.ndarray) -> float:
        return float(-x[1] * np.sin(x[0] - radians(phase_deg)) * (1 - x[1] * np.sin(x[0])))

    starts = [(theta, level) for theta in np.arange(0.3, 6.3, 1.0) for level in (0.4, 0.9)]
    worst = max(-optimize.minimize(loss, start, bounds=[(0, 2 * pi), (0, 1)]).fun for start in starts)
    assert impedance.dissipation_share(phase_deg) == pytest.approx(0.25 / worst, rel=1e-3)
    if phase_deg == 90:  # (1 + sin θ)·cos θ is highest at 30 degrees: 3√3/4
        assert 0.25 / worst == pytest.approx(1 / (3 * 3**0.5), rel=1e-6)


def test_the_least_impedance_of_a_driver_in_a_box_is_scipys_minimum() -> None:
    """A coil (5.6 Ω, 0.5 mH) and its resonance (50 Hz, Q 4, 40 Ω): on a grid of 1/96 octave."""

    def ohm(hz: np.ndarray) -> np.ndarray:
        return np.asarray(5.6 + 2j * pi * hz * 0.5e-3 + 40 / (1 + 4j * (hz / 50 - 50 / hz)))

    least = optimize.minimize_scalar(
        lambda f: abs(ohm(f)), bounds=(60, 1000), method="bounded", options={"xatol": 1e-6}
    )
    steep = optimize.minimize_scalar(
        lambda f: -np.angle(ohm(f)), bounds=(30, 50), method="bounded", options={"xatol": 1e-6}
    )
    hz = log_grid(20, 1000, 96)
    found = impedance.read_impedance(hz, np.abs(ohm(hz)), np.degrees(np.angle(ohm(hz))))
    assert found.minimum_ohm == pytest.approx(least.fun, rel=1e-4)
    assert found.minimum_hz == pytest.approx(least.x, rel=2 ** (1 / 96) - 1)
    assert found.largest_phase_deg == pytest.approx(-np.degrees(steep.fun), rel=1e-3)
    assert found.largest_phase_hz == pytest.approx(steep.x, rel=2 ** (1 / 96) - 1)


def test_sensitivity_is_ohms_law_and_the_inverse_square() -> None:
    """From 1 V at 2 m: the voltage's ratio and the distance's, as powers."""
    wanted = 79 + 10 * np.log10((2.83**2 / 8) / (1.0**2 / 8) * 2.0**2)
    assert sensitivity.at_283_v_1_m(79.0, 1.0, 2.0) == pytest.approx(wanted, abs=1e-9)


def test_the_mean_over_a_band_is_the_integral_over_octaves() -> None:
    hz = log_grid(20, 20_000, 96)
    curve = Curve(hz, 85 + 3 * np.sin(np.log2(hz) * 2))
    mean = integrate.quad(lambda x: 10 ** ((85 + 3 * np.sin(2 * x)) / 10), np.log2(300), np.log2(3000))[0]
    wanted = 10 * np.log10(mean / np.log2(10))
    assert mean_level(curve, 300, 3000) == pytest.approx(wanted, abs=0.01)  # taken at 48 points an octave


def test_energy_that_is_left_is_the_integral_of_the_square() -> None:
    """A damped cosine: its square integrated from each moment on, by quadrature."""
    loss, f = 60.0, 400.0
    t = np.arange(20_000) / 200_000
    found = decay.energy_decay(np.exp(-loss * t) * np.cos(2 * pi * f * t))
    ends = [integrate.quad(lambda x: np.exp(-2 * loss * x) * np.cos(2 * pi * f * x) ** 2, at, 0.1, limit=500)[0]
            for at in (0.0, 0.005, 0.02, 0.05)]  # fmt: skip
    wanted = [10 * np.log10(left / ends[0]) for left in ends]
    assert found[[0, 1000, 4000, 10_000]] == pytest.approx(wanted, abs=0.02)


def test_cumulative_decay_begins_with_the_response_and_falls_as_a_resonance_does() -> None:
    """1 kHz, Q 20, 100 ms: 20 log10(e)·π·f/Q dB a second (computed), and the filter's own level at the start."""
    f, q = 1000.0, 20.0
    found = decay.cumulative(ringing(f, q, RATE // 4, RATE), RATE, 0.1)
    at = int(np.argmin(np.abs(found.hz - f)))
    seen = (found.steps > 0.002) & (found.steps < 0.03)
    slope = np.polyfit(found.steps[seen], found.level_db[seen, at], 1)[0]
    assert slope == pytest.approx(-20 / log(10) * pi * f / q, rel=0.02)
    b, a = signal.bilinear([2 * pi * f / q, 0], [1, 2 * pi * f / q, (2 * pi * f) ** 2], RATE)
    wanted = 20 * np.log10(np.abs(signal.freqz(b, a, worN=found.hz, fs=RATE)[1]))
    near = (found.hz > 250) & (found.hz < 4000)
    apart = (found.level_db[0] - wanted)[near]
    assert apart == pytest.approx(apart.mean(), abs=0.1)


def test_distortion_behind_a_filter_is_what_single_tones_show() -> None:
    """x + x²/4 - x³/2, then a low-pass: five tones of whole periods, their lines read from a plain FFT."""
    made = sweep.sweep(20, 20_000, 2, RATE, 0.2)
    sections = signal.butter(2, 3000, fs=RATE, output="sos")

    def chain(x: np.ndarray) -> np.ndarray:
        return np.asarray(signal.sosfilt(sections, x + x**2 / 4 - x**3 / 2))

    heard = chain(np.concatenate([np.zeros(480), made.samples(), np.zeros(RATE)]))
    found = sweep.distortion(made, sweep.deconvolved(made, heard))
    tones = [200, 500, 1000, 2000, 4000]
    for f in tones:
        lines = np.abs(np.fft.rfft(chain(0.2 * np.sin(2 * pi * f * np.arange(2 * RATE) / RATE))[RATE:]))
        for order in (2, 3):
            wanted = 20 * np.log10(lines[order * f] / lines[f])
            assert found[order][0].at(np.array([float(f)]))[0] == pytest.approx(wanted, abs=0.1), (f, order)


def test_the_density_of_a_silence_is_scipys_periodogram() -> None:
    noise = signal.lfilter([0.01], [1, -0.9], np.random.default_rng(5).normal(size=(3, 4800)))
    found = noise_floor.silence(list(noise), RATE)
    hz, density = signal.periodogram(noise, RATE, np.hanning(4800), detrend="constant")
    inner = slice(1, -1)  # scipy counts both sides of the spectrum there
    assert found.hz == pytest.approx(hz)
    assert found.density[inner] == pytest.approx(density.mean(axis=0)[inner] * RATE / 2, rel=1e-9)
