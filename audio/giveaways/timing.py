"""Cues of time: onset, drift of the clock; and the two clips brought into step. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..alignment import clock_drift, tones
from ..alignment.clock_drift import Drift
from ..alignment.coherence import coherence
from ..alignment.delay import align
from ..clip import Clip
from ..mend import MOST_STRETCH_PPM, Mend
from .findings import LIMITS, Finding, finding
from .wiring import Wiring, wiring

WINDOW_S = 2.0
ALIKE = 0.9  # correlation below which the clocks may be so far apart that they smear it
AGREE_S, AGREED = 0.00005, 0.6  # in 31 of 33 clean pairs, most of them in rooms, more agree; by chance 1 in 40 windows
APART_S = 0.1  # two windows of one sound date it alike, and tell no slope
MAD = 1.4826  # a median of deviations as a standard deviation, of a normal distribution
FEWEST_WINDOWS = 5  # a slope through fewer says nothing
FINER = 2  # times that windows mend what the coarse drift leaves
SURE_ENOUGH = 0.3  # correlation in a window from which its delay is used; or the same of each line counted alike
NEAR_S = 0.1  # a passage is cut where whole tracks lie: what fits as well farther off is another turn of a loop
AS_WELL = 0.9  # of the best correlation
PLAINLY = 1.5  # times the correlation: a clock that smears takes more than half of it, what a room leaves may be any
PHASED = 0.1  # coherence: at each period of an organ's chord in a room it was the same to 0.001
STILL_MS = 0.03  # drift gathered below which a clip is read as it is
FINEST_MS = 0.02  # a frame at 48 kHz: a smaller offset, or a drift that gathers less, is not looked into
SLACK_S = 0.002  # beyond the drift sought, for the phase of loudspeakers
LOUD_S = 1.0  # the stretch by which to find a delay that drift has smeared


@dataclass(frozen=True)
class Step:
    """How the other lies against the reference in time: its wiring once its clock is corrected, and that clock."""

    wiring: Wiring
    drift: Drift | None


def in_step(reference: Clip, other: Clip, near: Wiring | None = None) -> Step | None:
    """How `other` lies against `reference` (one rate); None if either is silent in the middle band.

    `near` is what `nearest` found, if it is known already.
    """
    found = near or nearest(reference, other)
    if found is None:
        return None
    clock = drift(reference, other, found.delay_s, found.pair)
    if abs(found.correlation) < ALIKE and not _even(clock, reference):  # else it is a room or an equaliser
        far = _far_off(reference, other)
        if far is not None and _fits_better(far.wiring, found):
            return far
    if clock is None or abs(_gathered_ms(clock, reference)) <= STILL_MS:
        return Step(found, clock)
    still = Step(found, replace(clock, ppm=0.0, start_s=found.delay_s))
    if abs(clock.ppm) <= MOST_STRETCH_PPM and untold(reference):
        return still
    even = _EvenReader(other).read(clock)
    if abs(clock.ppm) <= clock.ppm_unsure < np.inf and not _more_alike(reference, other, even, found, clock):
        return still  # a phase that turns with the pitch seems to drift with the music
    if abs(_gathered_ms(clock, reference)) <= LIMITS["drift"].value / 2:
        return Step(found, clock)
    return Step(wiring(reference, even, clock.start_s, SLACK_S) or found, clock)


def _fits_better(far: Wiring, near: Wiring) -> bool:
    """Whether a clock far off is what lies between: of what a room leaves of either, either may be the greater."""
    least = 1.0 if far.delay_told else PLAINLY
    return abs(far.correlation) > least * abs(near.correlation)


def _even(clock: Drift | None, reference: Clip) -> bool:
    """Whether the windows agree, to a few frames, that the clocks are alike: then nothing is smeared."""
    return clock is not None and clock.agree >= AGREED and abs(_gathered_ms(clock, reference)) <= STILL_MS


def _more_alike(reference: Clip, other: Clip, even: Clip, found: Wiring, clock: Drift) -> bool:
    """Whether the other fits the reference better without a drift, every line counted alike."""
    one, place = reference.samples[:, found.pair[0]], found.pair[1]
    before = align(one, other.samples[:, place], reference.rate_hz, found.delay_s, SLACK_S)
    after = align(one, even.samples[:, place], reference.rate_hz, clock.start_s, SLACK_S)
    return after is not None and (before is None or abs(after.evenly) > abs(before.evenly))


def nearest(reference: Clip, other: Clip) -> Wiring | None:
    """The wiring at the best delay, or at the best one near by if that fits as well.

    Single tones fit at every period: the nearest one counts, unless the phases stay more alike at another.
    """
    found = wiring(reference, other)
    if found is None or abs(found.delay_s) <= SLACK_S:
        return found
    if abs(found.delay_s) <= NEAR_S:
        if not untold(reference):
            return found
        near = wiring(reference, other, 0.0, SLACK_S)
        better = near is None or _in_phase(reference, other, found) > _in_phase(reference, other, near) + PHASED
        return found if better else near
    near = wiring(reference, other, 0.0, NEAR_S)
    return near if near is not None and abs(near.correlation) >= AS_WELL * abs(found.correlation) else found


def _in_phase(reference: Clip, other: Clip, found: Wiring) -> float:
    """The coherence of both in the channels and at the delay that were found."""
    one, two = aligned(reference, other, found.delay_s)
    return coherence(one.samples[:, found.pair[0]], two.samples[:, found.pair[1]], reference.rate_hz)


def timing(passage: str, setup: str, reference: Clip, other: Clip, step: Step, *, fine: bool = False) -> list[Finding]:
    """What gives the other away by time and polarity, against the reference; `fine`: also what is within limits.

    A delay or a clock smaller than its own uncertainty is none that is known.
    """
    return (
        _drift(passage, setup, reference, step, FINEST_MS if fine else LIMITS["drift"].value)
        + _onset(passage, setup, reference, step, FINEST_MS if fine else LIMITS["onset"].value)
        + _polarity(passage, setup, step)
    )


def untold(reference: Clip) -> bool:
    """Whether nothing in a passage shows an offset or a clock: it holds single tones, which fit at every period."""
    loudest = int(np.argmax(np.sum(np.square(reference.samples), axis=0)))
    return tones.only_tones(reference.samples[:, loudest], reference.rate_hz)


def drift(reference: Clip, other: Clip, delay_s: float, pair: tuple[int, int]) -> Drift | None:
    """The slope of the delay over the passage, of one channel each; None where too few windows tell it.

    Each window's delay is sought near `delay_s`; the slope is the median of the slopes between all pairs of windows
    (Theil and Sen), which a few wrong windows do not bend. A window's delay is dated by where its sound is.
    """
    one, two, rate_hz = reference.samples[:, pair[0]], other.samples[:, pair[1]], reference.rate_hz
    window = round(min(WINDOW_S, reference.length_s / FEWEST_WINDOWS) * rate_hz)
    shift = round(delay_s * rate_hz)
    times, delays, tried = [], [], 0
    for start in range(0, one.size - window + 1, window // 2):
        tried += 1
        begin = start + shift
        if begin < 0 or begin + window > two.size:
            continue
        part = one[start : start + window]
        here = align(part, two[begin : begin + window], rate_hz, 0.0, SLACK_S)
        if here is not None and max(abs(here.correlation), abs(here.evenly)) >= SURE_ENOUGH:
            times.append((start + _centre(part)) / rate_hz)
            delays.append(here.delay_s + shift / rate_hz)
    if len(times) < FEWEST_WINDOWS:
        return None
    when, how_late = np.array(times), np.array(delays)
    first, second = np.triu_indices(when.size, 1)
    apart = when[second] - when[first]
    told = np.abs(apart) > APART_S
    if not told.any():
        return None
    slope = float(np.median((how_late[second] - how_late[first])[told] / apart[told]))
    start_s = float(np.median(how_late - slope * when))
    off = np.abs(how_late - start_s - slope * when)
    unsure_s, slope_unsure = _unsure(when, off)
    return Drift(1e6 * slope, start_s, 1e6 * slope_unsure, unsure_s, float(np.sum(off <= AGREE_S)) / tried)


def _unsure(when: NDArray[np.float64], off: NDArray[np.float64]) -> tuple[float, float]:
    """The uncertainty of a delay in mid-passage, in seconds, and of its slope, from how far windows lie off the line.

    At about 95 %: twice the standard error of a mean, times the 1.25 of a median; windows overlap by half, so that two
    count as one.
    """
    spread = MAD * float(np.median(off))
    half = 2 * 1.25 * spread
    return half / np.sqrt(when.size / 2), half / np.sqrt(np.sum(np.square(when - when.mean())) / 2)


def aligned(reference: Clip, other: Clip, delay_s: float) -> tuple[Clip, Clip]:
    """Both clips where they play the same music, to the nearest frame, equally long; the channels as they are."""
    shift = round(delay_s * reference.rate_hz)
    first, second = reference.samples[max(0, -shift) :], other.samples[max(0, shift) :]
    frames = min(len(first), len(second))
    return Clip(first[:frames], reference.rate_hz), Clip(second[:frames], other.rate_hz)


def channels_in_step(other: Clip, found: Wiring) -> Clip:
    """The other with its channels brought into step with each other, by the shift theorem. For measuring only."""
    size = 1 << (other.frames + round(0.1 * other.rate_hz)).bit_length()
    samples = other.samples.copy()
    for place, skew_s in zip(found.order, found.skews_s, strict=True):
        if skew_s:
            turn = np.exp(2j * np.pi * np.fft.rfftfreq(size, 1 / other.rate_hz) * skew_s)
            samples[:, place] = np.fft.irfft(np.fft.rfft(samples[:, place], size) * turn, size)[: other.frames]
    return Clip(samples, other.rate_hz)


def evened(reference: Clip, other: Clip, step: Step) -> tuple[Clip, Clip]:
    """Both clips where they play the same music, equally long, the other read without its drift. For measuring only."""
    if step.drift is None or abs(_gathered_ms(step.drift, reference)) <= STILL_MS:
        return aligned(reference, other, step.wiring.delay_s)
    return aligned(reference, _EvenReader(other).read(step.drift), step.drift.start_s)


def _far_off(reference: Clip, other: Clip) -> Step | None:
    """The step of clips whose clocks are so far apart that no single delay fits: coarse first, then by windows."""
    near = _by_loudest(reference, other)
    if near is None:
        return None
    one, two = reference.samples[:, near.pair[0]], other.samples[:, near.pair[1]]
    coarse = clock_drift.drift(one, two, reference.rate_hz, near.delay_s, MOST_STRETCH_PPM)
    if coarse is None:
        return None
    clock, reader = coarse, _EvenReader(other)
    for _ in range(FINER):
        rest = drift(reference, reader.read(clock), clock.start_s, near.pair)
        if rest is not None:
            clock = replace(rest, ppm=clock.ppm + rest.ppm)
    found = wiring(reference, reader.read(clock), clock.start_s, SLACK_S)
    return None if found is None else Step(found, clock)


def _by_loudest(reference: Clip, other: Clip) -> Wiring | None:
    """The wiring by the reference's loudest second alone, in which drift does little."""
    frames = round(LOUD_S * reference.rate_hz)
    if reference.frames <= frames:
        return None
    power = np.cumsum(np.concatenate([[0.0], np.sum(np.square(reference.samples), axis=1)]))
    start = int(np.argmax(power[frames:] - power[:-frames]))
    part = np.zeros_like(reference.samples)
    part[start : start + frames] = reference.samples[start : start + frames]
    return wiring(Clip(part, reference.rate_hz), other)


def _centre(part: NDArray[np.float64]) -> float:
    """Where in a window the moments lie that tell its delay: the centre of its energy, in frames."""
    energy = np.square(part)
    total = float(energy.sum())
    return float(np.sum(np.arange(part.size) * energy)) / total if total > 0 else part.size / 2


class _EvenReader:
    """Reads a recording as another clock would hold it; for measuring only.

    Between its samples it is read by a cubic, close enough in the middle band.
    """

    def __init__(self, clip: Clip) -> None:
        from scipy.interpolate import make_interp_spline

        self._clip = clip
        self._curve = make_interp_spline(np.arange(clip.frames), clip.samples, k=3)

    def read(self, clock: Drift) -> Clip:
        """The recording without this drift, pivoting where the passage starts in it."""
        pivot, last = clock.start_s * self._clip.rate_hz, self._clip.frames - 1
        places = pivot + (np.arange(self._clip.frames) - pivot) * (1 + 1e-6 * clock.ppm)
        inside = (places >= 0) & (places <= last)
        result = np.zeros_like(self._clip.samples)
        result[inside] = self._curve(places[inside])
        return Clip(result, self._clip.rate_hz)


def _gathered_ms(clock: Drift, reference: Clip) -> float:
    return 1e-3 * clock.ppm * reference.length_s


def _drift(passage: str, setup: str, reference: Clip, step: Step, least_ms: float) -> list[Finding]:
    if step.drift is None:
        return []
    gathered_ms = _gathered_ms(step.drift, reference)
    unsure_ms = 1e-3 * step.drift.ppm_unsure * reference.length_s
    if abs(gathered_ms) <= max(least_ms, unsure_ms if np.isfinite(unsure_ms) else 0.0):
        return []
    if abs(step.drift.ppm) <= MOST_STRETCH_PPM and untold(reference):
        return []
    word = "behind" if gathered_ms > 0 else "ahead"
    what = (
        f"{setup} falls {abs(gathered_ms):.2f} ms {word} over the passage: its clock is {step.drift.ppm:+.0f} ppm off"
        + (f" (to {step.drift.ppm_unsure:.1g} ppm)" if np.isfinite(unsure_ms) else "")
    )
    mend = Mend(stretch_ppm=step.drift.ppm) if abs(step.drift.ppm) <= MOST_STRETCH_PPM else None
    return [finding("drift", setup, passage, gathered_ms, what, mend)]


def _onset(passage: str, setup: str, reference: Clip, step: Step, least_ms: float) -> list[Finding]:
    delay_ms = 1000 * step.wiring.delay_s
    if abs(delay_ms) <= least_ms:
        return []
    unsure_ms = 1000 * step.drift.unsure_s if step.drift is not None else np.inf
    known = np.isfinite(unsure_ms)
    if known and abs(delay_ms) <= unsure_ms:
        return []
    if not known and abs(delay_ms) <= LIMITS["onset"].value:
        return []
    if not (step.wiring.agree and step.wiring.delay_told) or untold(reference):  # one of some channels is none of all
        return []
    word = "late" if delay_ms > 0 else "early"
    to = f" (to {unsure_ms:.1g} ms)" if known else ""
    what = f"{setup} is {abs(delay_ms):.3f} ms {word} against the reference{to}"
    return [finding("onset", setup, passage, delay_ms, what, Mend(delay_s=step.wiring.delay_s))]


def _polarity(passage: str, setup: str, step: Step) -> list[Finding]:
    found = step.wiring
    if found.turned:
        which = "channel " + ", ".join(str(place + 1) for place in found.turned)
        if found.better and found.better <= LIMITS["channels-swapped"].value:  # which is which is not sure enough
            which = "one channel or more (which cannot be told)"
        what = (
            f"{setup} has turned polarity against the reference in {which} and not in the others; which of the "
            "two is wired right cannot be told from the recordings: find out before you rewire one or record again"
        )
        return [finding("polarity", setup, passage, -abs(found.correlation), what)]
    if found.correlation > LIMITS["polarity"].value:
        return []
    what = f"{setup} has turned polarity against the reference (correlation {found.correlation:.2f})"
    return [finding("polarity", setup, passage, found.correlation, what, Mend(invert=True))]
