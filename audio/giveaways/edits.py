"""Cuts and inserted bits: where one recording jumps against the other, and the longest run without a jump. Pure.

Jumps within half a window show by how the phase turns (`turning`); where the music is lost altogether, it is looked for
farther away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..alignment.coherence import coherence
from ..alignment.correlation import padded_size
from ..alignment.delay import align, band, lag_series
from ..clip import Clip
from ..runs import runs
from ..track_time import told as told_place
from .findings import LIMITS, Finding, finding
from .turning import HOPS, MOST, WHOLE, Jump, Signal, Turning, same

WINDOWS_S = (0.16, 0.32, 0.64)  # the longer ones where the first loses the music; a jump up to half of it is seen
LOST, KEPT = 0.2, 0.5  # of the best coherence with all the rest
STRETCH_S = 0.48
FARTHEST_S = 5.0
NEAR_S = 0.025  # nearer, it is seen within a window, or a clock that is far off has run away
MOST_S = 4.0  # of lost music is enough to find it again
SURE_S = 1.0  # of lost music is judged by less
FOUND, FOUND_SHORT = 0.5, 0.75  # coherence at the place where lost music is found again
ALIKE, ALIKE_SHORT = 0.3, 0.5  # and correlation
SMOOTH_HZ = 100.0
BETTER = 0.25  # by so much more than by a jump within a window
CLEAR_S = 0.35  # about a jump, what belongs to no run
BESIDE_S = 0.1  # about a jump, what is not asked whether it holds
AS_EVENLY, LEAST_EVENLY = 0.6, 0.3  # of the lines: a piece that is elsewhere leaves 0.2 and less
NEARLY_S = 0.0005
HELD = 0.5  # of the music between jumps: of cuts nearly all of it, of other takes and speeds 0.3 and less


@dataclass(frozen=True)
class Run:
    """A stretch without a jump, of two recordings in step to the nearest frame, and where the reference begins in it.

    `start_s` is in seconds of the whole reference.
    """

    reference: Clip
    other: Clip
    start_s: float


def edits(passage: str, setup: str, jumps: Sequence[Jump]) -> list[Finding]:
    """One finding for all the jumps, measured by the largest, in ms."""
    if not jumps:
        return []
    largest = max((jump.by_s for jump in jumps), key=abs)
    is_small = abs(1000 * largest) <= LIMITS["edit"].value
    digits = 2 if is_small else 1
    told = ", ".join(
        f"about {told_place(jump.at_s, 1)} into the passage by {1000 * jump.by_s:+.{digits}f} ms" for jump in jumps[:3]
    )
    more = f" and {len(jumps) - 3} times more" if len(jumps) > 3 else ""
    missing = "reference" if largest > 0 else setup
    added = setup if largest > 0 else "reference"
    what = (
        f"{setup} jumps against the reference, {told}{more}: a piece was cut from {'the ' * (largest > 0)}{missing} or "
        f"put into {'the ' * (largest < 0)}{added}; choose a passage without it, or bring an unedited recording"
    )
    return [finding("edit-small" if is_small else "edit", setup, passage, 1000 * largest, what)]


def jumps(reference: Clip, other: Clip, delay_s: float, pairs: Sequence[tuple[int, int]]) -> list[Jump]:
    """The jumps between clips of which the other is late somewhere by `delay_s`, in order, in pairs of channels."""
    found: list[Jump] = []
    shift = round(delay_s * reference.rate_hz)
    for pair in pairs:
        one, two = reference.samples[:, pair[0]], other.samples[:, pair[1]]
        for jump in _of_one(one, two, shift, reference.rate_hz):
            if not any(_near(jump, known) or same(jump, known) for known in found):
                found.append(jump)
    return borne_out(reference, other, delay_s, sorted(found, key=lambda jump: jump.at_s)[:MOST], pairs)


def borne_out(
    reference: Clip, other: Clip, delay_s: float, found: Sequence[Jump], pairs: Sequence[tuple[int, int]]
) -> list[Jump]:
    """The jumps, in order, but for a lone one before and after which the other lies at one place as well.

    A click in music that repeats every few milliseconds may look like a jump by so many.
    """
    if len(found) != 1:
        return list(found)
    (jump,) = found
    rate_hz = reference.rate_hz
    pair = max(pairs, key=lambda each: float(np.sum(np.square(reference.samples[:, each[0]]))))
    one, two = reference.samples[:, pair[0]], other.samples[:, pair[1]]
    edges = (0, round((jump.at_s - CLEAR_S) * rate_hz)), (round((jump.at_s + CLEAR_S) * rate_hz), one.size)
    places = [round((delay_s + by_s) * rate_hz) for by_s in (0.0, jump.by_s, -jump.by_s)]
    fits = np.array([[_evenly(one, two, first, last, late, rate_hz) for late in places] for first, last in edges])
    return [] if np.any(fits.min(axis=0) >= AS_EVENLY * max(float(fits.max()), LEAST_EVENLY)) else [jump]


def _evenly(one: Signal, two: Signal, first: int, last: int, late: int, rate_hz: int) -> float:
    """How much of the other is a stretch of one so many frames later, each line alike; 0 of too short a stretch."""
    both = _beside(one, two, first, last, late, rate_hz)
    found = None if both is None else align(*both, rate_hz, 0.0, NEARLY_S)
    return 0.0 if found is None else abs(found.evenly)


def _beside(one: Signal, two: Signal, first: int, last: int, late: int, rate_hz: int) -> tuple[Signal, Signal] | None:
    """A stretch of one, and the other so many frames later; None where both hold too little of it."""
    first, last = max(first, -late), min(last, two.size - late)
    if last - first < SURE_S * rate_hz:
        return None
    return one[first:last], two[first + late : last + late]


def longest_run(
    reference: Clip, other: Clip, delay_s: float, found: Sequence[Jump], pair: tuple[int, int]
) -> Run | None:
    """The longest stretch without a jump, both in step there to the nearest frame; None if it is too short."""
    rate_hz = reference.rate_hz
    edges = [-CLEAR_S, *(jump.at_s for jump in found), reference.length_s + CLEAR_S]
    start_s, end_s = max(pairwise(edges), key=lambda run: run[1] - run[0])
    first, last = round((start_s + CLEAR_S) * rate_hz), round((end_s - CLEAR_S) * rate_hz)
    if last - first < rate_hz:
        return None
    shift = round(delay_s * rate_hz)
    place = _place(reference.samples[:, pair[0]], other.samples[:, pair[1]], first, last, shift, rate_hz)
    if place is None:
        return None
    late = place[0]
    first, last = max(first, -late), min(last, other.frames - late)
    one, two = reference.samples[first:last], other.samples[first + late : last + late]
    run = Run(Clip(one, rate_hz), Clip(two, rate_hz), first / rate_hz)
    return run if last - first >= rate_hz else None


def hold(reference: Clip, other: Clip, delay_s: float, found: Sequence[Jump], pair: tuple[int, int]) -> bool:
    """Whether the pieces between jumps are the same music, each wherever it fits: else it is another take or speed.

    Asked of those that are long enough; where none is, they hold.
    """
    rate_hz, judged, held = reference.rate_hz, 0, 0
    one, two = reference.samples[:, pair[0]], other.samples[:, pair[1]]
    late_s = np.cumsum([0.0, *(jump.by_s for jump in found)])
    edges_s = [-BESIDE_S, *(jump.at_s for jump in found), reference.length_s + BESIDE_S]
    for (start_s, end_s), mine_s in zip(pairwise(edges_s), late_s, strict=True):
        first, last = round((start_s + BESIDE_S) * rate_hz), round((end_s - BESIDE_S) * rate_hz)
        if last - first < SURE_S * rate_hz:
            continue
        judged += last - first
        likely = {round((delay_s + mine_s - each_s) * rate_hz) for each_s in late_s}  # one of the pieces lies as said
        fits = any(_coherent(one, two, first, last, late, rate_hz) for late in likely)
        if fits or _place(one, two, first, last, round(delay_s * rate_hz), rate_hz) is not None:
            held += last - first
    return held >= HELD * judged


def _coherent(one: Signal, two: Signal, first: int, last: int, late: int, rate_hz: int) -> bool:
    """Whether the other plays a stretch of one so many frames later."""
    both = _beside(one, two, first, last, late, rate_hz)
    return both is not None and coherence(*both, rate_hz) >= FOUND


def _of_one(one: Signal, two: Signal, shift: int, rate_hz: int) -> list[Jump]:
    """The jumps in one channel each, the other late by so many frames somewhere."""
    beside = np.zeros(one.size)
    low, high = max(0, -shift), min(one.size, two.size - shift)
    beside[low:high] = two[low + shift : high + shift]
    turning = Turning(one, beside, rate_hz, WINDOWS_S[0])
    score, found = turning.jumps()
    if turning.whole() or score > WHOLE + BETTER:
        return found or turning.there_and_back()
    wider = [Turning(one, beside, rate_hz, window_s).jumps() for window_s in WINDOWS_S[1:]]
    score, found = max(((score, found), *wider), key=lambda each: each[0])
    far_score, far = _far(one, two, turning, shift, rate_hz)
    if far and (far_score > score + BETTER or score < WHOLE):
        return far
    return found if found and score >= WHOLE else turning.there_and_back()


def _near(jump: Jump, known: Jump) -> bool:
    """Whether two jumps are so near that only one of them is, and it does not undo the other."""
    return abs(jump.at_s - known.at_s) <= STRETCH_S and abs(jump.by_s + known.by_s) > 0.001


def _far(one: Signal, two: Signal, turning: Turning, shift: int, rate_hz: int) -> tuple[float, list[Jump]]:
    """Where the music is lost and found again elsewhere, and how coherent it is there."""
    held = _held(turning)
    if not held.size or held.max() <= 0:
        return 0.0, []
    lost = held < LOST * held.max()
    kept = held > KEPT * held.max()
    found, score = [], 0.0
    for start, end in runs(lost):
        start_s, end_s = turning.times_s[start], turning.times_s[end - 1]
        if end_s - start_s < STRETCH_S or not kept.any():
            continue
        place = _any_place(one, two, start_s, end_s, shift, rate_hz)
        if place is None or abs(place[0] - shift) <= NEAR_S * rate_hz:
            continue
        by_s = (place[0] - shift) / rate_hz
        score = max(score, place[1])
        if start > 0:
            found.append(Jump(float(start_s), by_s))
        if end < lost.size:
            found.append(Jump(float(end_s), -by_s))
    return score, found


def _any_place(
    one: Signal, two: Signal, start_s: float, end_s: float, shift: int, rate_hz: int
) -> tuple[int, float] | None:
    """As `_place`, of a stretch or of half of it: the rest may be what was cut out."""
    middle_s = (start_s + end_s) / 2
    parts = [(start_s, end_s), (middle_s, end_s), (start_s, middle_s)]
    for begin_s, until_s in parts:
        if until_s - begin_s < STRETCH_S:
            continue
        until_s = min(until_s, begin_s + MOST_S)
        found = _place(one, two, round(begin_s * rate_hz), round(until_s * rate_hz), shift, rate_hz)
        if found is not None:
            return found
    return None


def _held(turning: Turning) -> Signal:
    """How far each moment, with what is beside it, agrees with all the others."""
    half = HOPS + HOPS // 2
    sums, sizes = (
        np.cumsum(np.pad(each, ((half + 1, half), (0, 0))), axis=0) for each in (turning.across, turning.size)
    )
    here, size = sums[2 * half :] - sums[: -2 * half], sizes[2 * half :] - sizes[: -2 * half]
    here, size = here[: len(turning.across)], size[: len(turning.across)]
    agree = np.real(here * np.conj(turning.across.sum(axis=0) - here))
    most = size * (turning.size.sum(axis=0) - size)
    return np.asarray((turning.counts * agree / np.maximum(most, 1e-300)).sum(axis=1))


def _place(one: Signal, two: Signal, first: int, last: int, shift: int, rate_hz: int) -> tuple[int, float] | None:
    """How many frames later the other plays a stretch of one, and how coherent it is; None where it is not found."""
    low = max(first + shift - round(FARTHEST_S * rate_hz), 0)
    part, stretch = one[first:last], two[low : max(last + shift + round(FARTHEST_S * rate_hz), 0)]
    if stretch.size < part.size:
        return None
    at, likeness = _most_alike(part, stretch, rate_hz)
    alike = coherence(part, stretch[at : at + part.size], rate_hz)
    sure = part.size >= SURE_S * rate_hz
    found = alike >= (FOUND if sure else FOUND_SHORT) and likeness >= (ALIKE if sure else ALIKE_SHORT)
    return (low + at - first, alike) if found else None


def _most_alike(part: Signal, stretch: Signal, rate_hz: int) -> tuple[int, float]:
    """Where in a longer stretch a part lies, in frames, and their correlation there, in the middle band.

    Each place is judged by its own level, and each stretch of the spectrum by its own.
    """
    size = padded_size(stretch.size, part.size)
    known = band(np.stack([np.pad(part, (0, stretch.size - part.size)), stretch], axis=1), rate_hz, size)
    lines = max(round(SMOOTH_HZ * size / rate_hz), 1)
    power = np.square(np.abs(known.spectra[:, 1]))
    level = np.convolve(power, np.ones(lines) / lines, "same")
    white = known.spectra / np.sqrt(np.maximum(level, 1e-6 * max(float(level.max()), 1e-300)))[:, None]
    product = lag_series(white[:, 1] * np.conj(white[:, 0]), known, size)
    mine, theirs = (lag_series(white[:, place], known, size) for place in (0, 1))
    energy = np.concatenate([[0.0], np.cumsum(np.square(theirs))])
    places = np.arange(stretch.size - part.size + 1)
    there = np.maximum(energy[places + part.size] - energy[places], 1e-6 * energy[-1])
    fits = np.abs(product[places]) / np.sqrt(there * max(float(np.sum(np.square(mine))), 1e-300))
    at = int(np.argmax(fits))
    return at, float(fits[at])
