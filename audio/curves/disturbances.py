"""What disturbs a recorded sweep: flat tops, clicks and other noises in one average, hum. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .curve import Numbers
from .noise_floor import Silence
from .sweep import HARMONICS, PRE_DELAY_S, Sweep, inverse

NEAR_TOP, SHARE_FLAT, LEAST_TOPS = 0.97, 0.24, 20  # a sine is within 3 % of its peak for 16 % of the time
SAME_HEIGHT = 0.97
FINER = 4  # points a frame
SHORTEST_TOPS = (48, 192)  # points of a half wave: up to 2 kHz and up to 500 Hz at 48 kHz
OVERSHOT = 0.85  # of the largest half wave: a hard edge overshoots where the half waves are short, not where long
BLOCK_S = 0.004
BURST = 5.0  # times the usual block's peak
AROUND_BLOCKS = 6  # on either side, 0.05 s in all
BURST_LEAST = 0.01  # of the sweep's peak: weaker ones change nothing that is shown
NOISIER = 3.0  # times the noise of the middle one of the averages: not the room of the others
HUM_AROUND_HZ = 3.0  # on either side of a line of hum
MOST_PLACES = 3  # more of them in a single sweep are no accident but a rub or buzz, and belong to the loudspeaker
WELL_WITHIN = 1.2  # from the sweep's ends, where fades leave a rest that no response explains
KEPT_S, KEPT_HARMONIC_S = 0.25, 0.08  # of the decays, when a sweep is compared with its own responses
MAINS_HZ = (50.0, 60.0)
MULTIPLES = 10
HUM_LINE_DB = 10.0  # a line so far above its neighbours is a tone
HUM_SAID_DB = -70.0  # below the sweep


def flat_topped(samples: Numbers) -> bool:
    """Whether a recorded sweep, shape (frames,), was clipped anywhere before the converter.

    Half waves that end at the largest one's height are looked at: a sine stays within 3 % of its peak for 16 % of its
    time, one clipped by 0.5 dB for 26 %.
    """
    from scipy.signal import resample_poly

    fine = resample_poly(samples, FINER, 1)
    for side in (fine, -fine):
        above = np.concatenate([[0], (side > 0).astype(np.int8), [0]])
        edges = np.flatnonzero(np.diff(above))
        starts, ends = edges[::2], edges[1::2]
        peaks = np.maximum.reduceat(side, starts) if len(starts) else np.zeros(0)
        for shortest in SHORTEST_TOPS:
            long = ends - starts >= shortest
            if long.sum() < LEAST_TOPS or peaks[long].max() < OVERSHOT * peaks[ends - starts >= SHORTEST_TOPS[0]].max():
                continue
            high = long & (peaks >= SAME_HEIGHT * peaks[long].max())
            shares = np.array(
                [
                    np.mean(side[start:end] >= NEAR_TOP * peak)
                    for start, end, peak in zip(starts[high], ends[high], peaks[high], strict=True)
                ]
            )
            if np.sum(shares > SHARE_FLAT) >= LEAST_TOPS:
                return True
    return False


def bursts(made: Sweep, cuts: Sequence[Numbers], arrival: int, without: set[int]) -> dict[int, str]:
    """The averages that hold a click or another noise that the others do not, by place, with the words for it.

    Several are compared with each other, at one level: a slow drift is no noise of one of them. Where that cannot tell
    which of two it was, or there is only one, a sweep is compared with what its own responses make of the sweep.
    """
    places = [place for place in range(len(cuts)) if place not in without]
    if not places:
        return {}
    least = BURST_LEAST * max(float(np.abs(cuts[place]).max()) for place in places)
    if len(places) > 2:
        level = _at_one_level([cuts[place] for place in places])
        middle = np.median(level, axis=0)
        peaks = [_peaks(own - middle, made.rate_hz) for own in level]
        marked = [own > np.maximum(BURST * np.median(own), least) for own in peaks]
    else:
        peaks = [_peaks(_unexplained(made, cuts[place], arrival), made.rate_hz) for place in places]
        if len(places) == 2:  # only what the two do not share counts
            between = _peaks(cuts[places[0]] - cuts[places[1]], made.rate_hz)
            clear = between > np.maximum(BURST * np.median(between), least)
            marked = [clear & (peaks[0] >= peaks[1]), clear & (peaks[1] > peaks[0])]
        else:
            marked = [own > np.maximum(BURST * _usual(own), least) for own in peaks]
    found = {}
    usual = [float(np.median(own)) for own in peaks]
    for place, own, clear in zip(places, peaks, marked, strict=True):
        count = _groups(clear)
        noisier = float(np.median(own)) / max(float(np.median(usual)), 1e-15)
        if noisier > NOISIER and float(np.median(own)) > least:
            found[place] = f"it is {20 * np.log10(noisier):.0f} dB noisier than the others"
            continue
        if count and (len(places) > 1 or count <= MOST_PLACES):
            at = int(np.argmax(np.where(clear, own, 0))) * BLOCK_S
            many = "" if count == 1 else f" and at {count - 1} more places"
            found[place] = f"a click or another noise {at:.2f} s into it{many}"
    return found


def has_more(made: Sweep, cut: Numbers, arrival: int) -> bool:
    """Whether a recorded sweep holds a click or another noise beside what its own responses make of the sweep."""
    own = _peaks(_unexplained(made, cut, arrival), made.rate_hz)
    return bool((own > np.maximum(BURST * _usual(own), BURST_LEAST * float(np.abs(cut).max()))).any())


@dataclass(frozen=True, eq=False)
class Hum:
    """Mains hum: its base and the lines of it that stand out, Hz, and the density that is nothing but they."""

    base_hz: float
    lines_hz: tuple[float, ...]
    alone: Silence

    @property
    def dbfs(self) -> float:
        """All lines together; 0 is an RMS of 1."""
        return float(20 * np.log10(max(self.alone.rms, 1e-15)))


def mains_hum(quiet: Silence) -> Hum | None:
    """The mains hum in a silence, of the base that gives more of it; None where no line stands out."""
    step, rate = float(quiet.hz[1] - quiet.hz[0]), 2 * float(quiet.hz[-1])
    found = []
    for base in MAINS_HZ:
        lines, density = [], np.zeros(len(quiet.hz))
        for multiple in range(1, MULTIPLES + 1):
            near = np.abs(quiet.hz - base * multiple)
            line, beside = near <= 2 * step, (near > 3 * step) & (near <= 10 * step)
            usual = float(np.median(quiet.density[beside]))
            if quiet.density[line].max() > usual * 10 ** (HUM_LINE_DB / 10):
                lines.append(base * multiple)
                density[line] = np.maximum(quiet.density[line] - usual, 0.0)
        if lines:
            power = float(np.sum(density)) * 2 * step / rate
            found.append(Hum(base, tuple(lines), Silence(quiet.hz, density, power**0.5)))
    return max(found, key=lambda one: one.alone.rms, default=None)


def without_hum(samples: Numbers, found: Hum | None, rate_hz: int) -> Numbers:
    """A whole recording without the lines of hum, whose phase differs from one average to the next; else unchanged."""
    if found is None:
        return samples
    spectrum = np.fft.rfft(samples)
    hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
    for line in found.lines_hz:
        spectrum[np.abs(hz - line) <= HUM_AROUND_HZ] = 0
    return np.asarray(np.fft.irfft(spectrum, len(samples)))


def hum(found: Hum | None, sweep_rms: float) -> list[str]:
    """What is to be said of mains hum in the silence: nothing, or one sentence."""
    if found is None:
        return []
    level, base, lines = found.dbfs, found.base_hz, len(found.lines_hz)
    below = level - 20 * np.log10(max(sweep_rms, 1e-15))
    if below < HUM_SAID_DB:
        return []
    many = f" and {lines - 1} of its multiples" if lines > 1 else ""
    return [
        f"mains hum at {base:g} Hz{many}: {level:.0f} dBFS, {-below:.0f} dB below the sweep; look for a ground loop or "
        "a cable beside a mains lead"
    ]


def _at_one_level(cuts: Sequence[Numbers]) -> list[Numbers]:
    """Sweeps at the level of their mean, each by the gain that fits it best."""
    mean = np.mean(cuts, axis=0)
    energy = float(np.sum(mean**2))
    gains = [float(np.sum(cut * mean)) / energy for cut in cuts]
    return [cut / gain if gain > 0 else cut for cut, gain in zip(cuts, gains, strict=True)]


def _unexplained(made: Sweep, cut: Numbers, arrival: int) -> Numbers:
    """What is left of a recorded sweep without what its own linear response and harmonics make."""
    size = 1 << int(np.ceil(np.log2(len(cut) + made.frames)))
    back = inverse(made, size)
    whole = np.fft.irfft(np.fft.rfft(cut, size) * back, size)
    own = np.zeros(size, dtype=bool)
    for order in range(1, HARMONICS + 1):
        begin = arrival - round((made.advance_s(order) + PRE_DELAY_S) * made.rate_hz)
        own[np.arange(begin, begin + round((KEPT_S if order == 1 else KEPT_HARMONIC_S) * made.rate_hz)) % size] = True
    whole[own] = 0
    hz = np.fft.rfftfreq(size, 1 / made.rate_hz)
    inside = (hz > made.low_hz * WELL_WITHIN) & (hz < made.high_hz / WELL_WITHIN)
    played = np.fft.rfft(made.samples(), size) * inside
    return np.asarray(np.fft.irfft(np.fft.rfft(whole) * played, size)[: len(cut)])


def _peaks(samples: Numbers, rate_hz: int) -> Numbers:
    length = round(BLOCK_S * rate_hz)
    count = len(samples) // length
    return np.asarray(np.abs(samples[: count * length]).reshape(count, length).max(axis=1))


def _usual(peaks: Numbers) -> Numbers:
    """The median around each block, at least that of them all: a chirp is no click."""
    padded = np.pad(peaks, AROUND_BLOCKS, mode="reflect")
    near = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND_BLOCKS + 1), axis=1)
    return np.asarray(np.maximum(near, np.median(peaks)))


def _groups(clear: np.ndarray) -> int:
    """How many separate stretches are marked; gaps of a few blocks do not part them."""
    at = np.flatnonzero(clear)
    return int(1 + np.sum(np.diff(at) > 5)) if len(at) else 0
