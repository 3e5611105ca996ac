"""Which channel of one recording is which of another, with which polarity, and how late each: found together. Pure.

Together, because each misleads the search for the others. The order is asked of coherence, which neither a level, a
polarity, a small delay nor a filter changes; what one channel arrives later than another is read from the phase
between their responses, in which all that both share cancels out; the polarity comes last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..alignment import direct_sound
from ..alignment.correlation import padded_size
from ..alignment.delay import LONGEST_S, Alignment, Band, align_bands, band, lag_series, peak, whitened
from ..clip import Clip
from .findings import LIMITS
from .told_delay import REFLECTED_S, Answer, is_told

SURE = 0.3  # correlation below which nothing is said of a channel's polarity
SKEW_S = 0.03  # two channels of one recording are no farther apart
TOLD = 0.4  # of the lines that follow one skew: what two rooms leave of the direct sound is more, a pitch is less
SKEWED_S = 20e-6  # less is no skew: a frame of 48 kHz
WINDOW_S, FEWEST = 0.34, 8
ORDER_HZ = (200.0, 5000.0)
AUDIBLE_DB = 40.0  # lines this far below a channel's strongest do not count
LEAST = 1e-4  # of a channel unexplained by another: below, their order cannot be known
POLAR_HZ = (100.0, 12_000.0)  # over which a turned polarity is turned: more than a crossover turns at once
POLAR_S = 1e-3  # about the delay, the phase of a loudspeaker may shift it by so much
ANOTHER = 0.02  # of what is left: by chance rooms favour another order of like channels by some 0.001
PLAINLY = 2.0  # times as well as upright
OWN, OWN_SURE = 0.25, 0.35  # of the lines follow a channel's own delay, by so much better than any other
PLAIN = 0.9  # of the lines follow a skew where the channels have one and the same response
AGREE_S = 1e-4  # channels that are not farther apart agree about the delay of the whole
FINELY_S = 0.0005  # about a delay that is known, for the phase of loudspeakers
FAINTEST = 1e-12
LITTLE = 0.1  # of a channel left unexplained by its own


@dataclass(frozen=True)
class Wiring:
    """How the channels of another recording answer to the reference's.

    Attributes
    ----------
    delay_s
        How late the other is, by the channel that is off least; negative: early.
    correlation
        Of the two at that delay, middle band, −1 to 1; negative where the polarity is turned.
    turned
        Channels (from 0) whose polarity is turned against the other channels'; none if all are.
    order
        For each channel of the reference, the one of the other that follows it best.
    better
        The share of what the straight order leaves unexplained that this one explains; 0 if it is straight.
    pair
        The reference's and the other's channel from which the delay was read.
    skews_s
        By how much each channel of the reference arrives later in the other than `delay_s`; 0 where it cannot be told.
    told
        How surely each of these is known: the share of its lines that follow it, 0 to 1.
    known
        Whether each of these is known, by its lines or by the channel's own delay.
    delays_judged
        Whether that of every channel that is heard is.
    agree
        Whether the channels of which it is not known follow the same delay, as far as can be seen.
    polarity_judged
        Whether every channel that is heard is known to be upright or turned.
    order_judged
        Whether two exchanged channels would have been told.
    delay_told
        Whether the delay is known: where rooms are much louder than the direct sound, any reflection may pass for it.
    """

    delay_s: float
    correlation: float
    turned: tuple[int, ...]
    order: tuple[int, ...]
    better: float
    pair: tuple[int, int]
    skews_s: tuple[float, ...]
    told: tuple[float, ...]
    known: tuple[bool, ...] = ()
    delays_judged: bool = True
    agree: bool = True
    polarity_judged: bool = True
    order_judged: bool = True
    delay_told: bool = True


@dataclass(frozen=True)
class _Skew:
    """By how much later a channel is than the one that the delay is read from, and how surely."""

    late_s: float
    told: float
    known: bool

    @property
    def used_s(self) -> float:
        return self.late_s if self.known else 0.0


def wiring(reference: Clip, other: Clip, around_s: float = 0.0, reach_s: float = LONGEST_S) -> Wiring | None:
    """How `other` answers to `reference`, clips of one rate; None if either is silent in the middle band.

    Where echoes hide the delay in the middle band, it is that of the direct sound in many octaves, if that is plain.
    """
    found = _in_the_middle(reference, other, around_s, reach_s)
    if found is None or found.delay_told:
        return found
    samples = reference.samples, other.samples
    start_s = direct_sound.start_s([samples], reference.rate_hz, found.delay_s, REFLECTED_S)
    if start_s is None or abs(start_s - around_s) > reach_s:
        return found
    there = _in_the_middle(reference, other, start_s, FINELY_S)
    return found if there is None else replace(there, delay_told=True)


def _in_the_middle(reference: Clip, other: Clip, around_s: float, reach_s: float) -> Wiring | None:
    """As `wiring`, by the middle band alone."""
    size = padded_size(reference.frames, other.frames)
    one, two = band(reference.samples, reference.rate_hz, size), band(other.samples, other.rate_hz, size)
    loudest = int(np.argmax(np.sum(np.square(np.abs(one.spectra)), axis=0)))
    found = {
        place: delay
        for place in range(other.channels)
        if (delay := align_bands(one, loudest, two, place, around_s, reach_s)) is not None
    }
    if not found:
        return None
    place = max(found, key=lambda each: abs(found[each].correlation))
    straight = tuple(range(reference.channels))
    if reference.channels != other.channels:
        late = found[place]
        told = is_told(one, two, {loudest: Answer(place, 0.0, late.evenly)}, late)
        alone = (loudest, place), (0.0,), (0.0,), (True,)
        return Wiring(late.delay_s, _surely(late), (), straight, 0.0, *alone, delay_told=told)
    order, better, order_judged = _order(reference, other, found[place].delay_s)
    if order[loudest] in found:
        place = order[loudest]
    late = found[place]
    skews = [_skew(one, two, (loudest, place), (channel, order[channel]), late.delay_s) for channel in straight]
    known = [each for each in skews if each.known]  # what two rooms make of another may be any place
    least = min((each.late_s for each in known), key=lambda skew: abs(late.delay_s + skew), default=0.0)
    least = least if abs(least) > SKEWED_S else 0.0
    base = next((c for c in straight if least and skews[c].known and skews[c].late_s == least), loudest)
    alike = {
        channel: each
        for channel in straight
        if (each := align_bands(one, channel, two, order[channel], late.delay_s + skews[channel].used_s, SKEWED_S))
    }
    heard = _heard(one, two, order)
    turned, all_turned, judged = _turned(
        {channel: _polarity(each) for channel, each in alike.items() if heard[channel]},
        lambda channel: _better_upright(
            reference.samples[:, channel], other.samples[:, order[channel]], reference.rate_hz, alike[channel].delay_s
        ),
    )
    likeness = max((abs(each.correlation) for each in alike.values()), default=abs(late.correlation))
    return Wiring(
        late.delay_s + least,
        -likeness if all_turned else likeness,
        turned,
        order,
        better,
        (base, order[base]),
        tuple(each.late_s - least if each.known else 0.0 for each in skews),
        tuple(each.told for each in skews),
        tuple(each.known for each in skews),
        all(each.known or not sounds for each, sounds in zip(skews, heard, strict=True)),
        all(abs(each.late_s) < AGREE_S for each, sounds in zip(skews, heard, strict=True) if sounds and not each.known),
        judged,
        order_judged,
        is_told(
            one,
            two,
            {channel: Answer(order[channel], skews[channel].used_s, each.evenly) for channel, each in alike.items()},
            late,
        ),
    )


def put_right(other: Clip, found: Wiring) -> Clip:
    """The other with each of its channels where the reference has it. For measuring only."""
    return Clip(other.samples[:, list(found.order)], other.rate_hz)


def _surely(found: Alignment) -> float:
    """The correlation, if the lines taken alike have its sign: a few loud tones in a room may have any."""
    return found.correlation if found.correlation * found.evenly > 0 else abs(found.correlation)


def _polarity(found: Alignment) -> float:
    """As `_surely`; where a room leaves little of the loud tones, as sure as the lines taken alike are."""
    value = _surely(found)
    return found.evenly if found.evenly * value > 0 and abs(found.evenly) > abs(value) else value


def _heard(one: Band, two: Band, order: tuple[int, ...]) -> NDArray[np.bool_]:
    """Which channels sound beside the loudest, in both recordings: of what is but noise no polarity is known."""
    power_1, power_2 = (np.sum(np.square(np.abs(each.spectra)), axis=0) for each in (one, two))
    faintest = 10 ** (-AUDIBLE_DB / 10)
    return np.asarray((power_1 > faintest * power_1.max()) & (power_2[list(order)] > faintest * power_2.max()))


def _better_upright(one: NDArray[np.float64], two: NDArray[np.float64], rate_hz: int, delay_s: float) -> float:
    """How many times better a channel fits upright than turned round, each octave counted alike, at the best delays.

    A crossover turns the phase once round within some octaves: in the middle band it may pass for a turned polarity and
    a small delay, but no such pair holds for the octaves below and above it.
    """
    size = padded_size(one.size, two.size)
    freqs = np.asarray(np.fft.rfftfreq(size, 1 / rate_hz), dtype=np.float64)
    low, high = np.searchsorted(freqs, (POLAR_HZ[0], min(POLAR_HZ[1], 0.45 * rate_hz)))
    first, second = (
        Band(freqs[low:high], np.fft.rfft(each, size)[low:high, None], rate_hz, size) for each in (one, two)
    )
    white = whitened(first, 0, second, 0)
    if white is None:
        return 1.0
    lags = 2 * size  # of half a frame
    near = round(delay_s * 2 * rate_hz) + np.arange(-round(POLAR_S * 2 * rate_hz), round(POLAR_S * 2 * rate_hz) + 1)
    fits = lag_series(white / freqs[low:high], first, lags)[near % lags]
    return max(float(fits.max()), FAINTEST) / max(float(-fits.min()), FAINTEST)


def _skew(one: Band, two: Band, base: tuple[int, int], pair: tuple[int, int], around_s: float) -> _Skew:
    """By how much later a pair of channels is than another: by the phase between them, or by the delay of each alone.

    In a room few lines follow one skew, and yet each channel's direct sound may be plain; what both share, as a voice
    in the middle does, may make a skew of the lag between the channels of either.
    """
    if pair == base:
        return _Skew(0.0, 1.0, True)
    first, second = whitened(one, base[0], two, base[1]), whitened(one, pair[0], two, pair[1])
    if first is None or second is None:
        return _Skew(0.0, 0.0, False)
    skew_s, evenly, _, _ = peak(second * np.conj(first), one, 0.0, SKEW_S)
    told = abs(evenly)
    if told >= PLAIN:
        return _Skew(skew_s, told, True)
    both = [align_bands(one, each[0], two, each[1], around_s, SKEW_S) for each in (base, pair)]
    ours, theirs = both
    if ours is None or theirs is None:
        return _Skew(skew_s, told, told >= TOLD)
    own_s, follow = theirs.delay_s - ours.delay_s, min(abs(ours.evenly), abs(theirs.evenly))
    sure = follow >= OWN and min(ours.certainty, theirs.certainty) >= OWN_SURE
    if told >= TOLD and (not sure or abs(own_s - skew_s) < AGREE_S / 2):
        return _Skew(skew_s, told, True)
    return _Skew(own_s, follow if sure else told, sure)


def _turned(values: dict[int, float], better: Callable[[int], float]) -> tuple[tuple[int, ...], bool, bool]:
    """The channels that are turned against others, whether all are, and whether that is judged at all.

    A channel is accused only where every other is as plainly upright as it is turned. All are turned where one plainly
    is and none is more likely upright.
    """
    fits = {channel: better(channel) for channel, value in values.items() if value < 0}
    down = {channel for channel, fit in fits.items() if values[channel] <= -SURE and fit * PLAINLY < 1}
    if not down:
        return (), False, bool(values) and all(value >= SURE for value in values.values())
    rest = set(values) - down
    if all(channel in fits and fits[channel] < 1 for channel in rest):
        return (), True, True
    upright = all(values[channel] >= SURE and better(channel) > PLAINLY for channel in rest)
    return (tuple(sorted(down)) if upright else ()), False, upright


def _order(reference: Clip, other: Clip, delay_s: float) -> tuple[tuple[int, ...], float, bool]:
    """The order in which each channel of the reference is explained best, and what it explains of what is left.

    Last, whether two exchanged channels would be told: by as much as their right order would then explain. What leaves
    little as they stand is told, or the channels are alike and nothing is exchanged.
    """
    count = reference.channels
    straight = tuple(range(count))
    shift = round(delay_s * reference.rate_hz)
    one, two = reference.samples[max(0, -shift) :], other.samples[max(0, shift) :]
    frames = min(len(one), len(two))
    if count < 2 or frames < reference.rate_hz // 4:
        return straight, 0.0, True
    from scipy.optimize import linear_sum_assignment

    left = _unexplained(one[:frames], two[:frames], reference.rate_hz) + LEAST
    _, best = linear_sum_assignment(left)
    least = float(left[list(straight), best].sum())
    better = 1 - least / float(np.diag(left).sum())
    order = tuple(int(place) for place in best) if better > ANOTHER else straight
    limit = LIMITS["channels-swapped"].value
    exchanged = min(float(left[list(straight), _exchanged(order, pair)].sum()) for pair in combinations(straight, 2))
    judged = better > limit if order != straight else least < LITTLE * count or 1 - least / exchanged > limit
    return order, better if order != straight else 0.0, judged


def _exchanged(order: tuple[int, ...], pair: tuple[int, int]) -> list[int]:
    """An order with two of its channels exchanged."""
    return [order[{pair[0]: pair[1], pair[1]: pair[0]}.get(place, place)] for place in range(len(order))]


def _unexplained(one: NDArray[np.float64], two: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64]:
    """The share of each channel of one (rows) that no filter makes of each channel of the other, 0 to 1."""
    window = round(min(WINDOW_S, len(one) / rate_hz / FEWEST) * rate_hz)
    freqs = np.fft.rfftfreq(window, 1 / rate_hz)
    low, high = np.searchsorted(freqs, (ORDER_HZ[0], min(ORDER_HZ[1], 0.45 * rate_hz)))
    spectra_1, spectra_2 = (moments(each, window, slice(low, high)) for each in (one, two))
    power_1, power_2 = (np.sum(np.square(np.abs(each)), axis=0) for each in (spectra_1, spectra_2))
    left = np.ones((one.shape[1], two.shape[1]))
    for i in range(one.shape[1]):
        counts = np.where(power_1[:, i] > 10 ** (-AUDIBLE_DB / 10) * power_1[:, i].max(), 1 / freqs[low:high], 0)
        for j in range(two.shape[1]):
            across = np.square(np.abs(np.sum(spectra_1[:, :, i] * np.conj(spectra_2[:, :, j]), axis=0)))
            shared = across / np.maximum(power_1[:, i] * power_2[:, j], 1e-30)
            if counts.sum() > 0:
                left[i, j] = max(0.0, 1 - float(np.sum(counts * shared) / counts.sum()))
    return left


def moments(samples: NDArray[np.float64], window: int, lines: slice) -> NDArray[np.complex128]:
    """Some lines of the spectra of half overlapping windows; shape (moments, lines, channels)."""
    starts = range(0, len(samples) - window + 1, window // 2)
    each, shape = np.ascontiguousarray(samples.T), np.hanning(window)
    found = np.array([np.fft.rfft(each[:, start : start + window] * shape)[:, lines].copy() for start in starts])
    return found.swapaxes(1, 2)
