"""What of one recording no fixed filter makes of the other, sample by sample. Pure.

A loudspeaker, an equaliser or a room is a filter that stays the same, so it is learnt from the passage itself; what is
left over is a fault of one of the two, or what the filter is too short for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

WINDOW_S = 0.34
ROOM_WINDOW_S = 0.68  # holds a room's decay, and as much again
OFFSET_S = 0.1  # whole periods of the mains at 50 and at 60 Hz
WELL = 0.1  # so little left over needs no look the other way: it is no room
LOUD, WELL_IF_LOUD = 0.1, 0.08  # of the loudest moment; of these a room leaves 0.1 and more over, where WELL is passed
WORSE, FITS = 3.0, 3
AGAIN = 3  # times what a room leaves over is explained once more: each leaves less of what the windows cut off
LEAST_LEFT = 0.003
LEAST_POWER = 1e-6  # of a line's strongest: what the filter is not asked to lift
LEAST_BACK = 1e-2  # of the mean power: what is fainter behind the filter is not lifted back
Signal = NDArray[np.float32]
Lines = NDArray[np.complex64]


@dataclass(frozen=True, eq=False)
class Explained:
    """One channel as it is, as the other recording explains it, and that recording, each of shape (frames,).

    `of_other` says whose channel it is: the other's, explained by the reference, or the reference's.
    """

    heard: Signal
    foretold: Signal
    source: Signal
    of_other: bool = True

    @property
    def left(self) -> Signal:
        """What is not explained."""
        return self.heard - self.foretold


def explained(reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int) -> list[Explained]:
    """What the drier of two channels (frames,), brought into step, makes of the other; in a room that one's own too.

    A room cannot be taken off again, so the direction is the one in which less is left over; but what is left over can
    be: what is short in the drier recording the room draws out, and it is short again where it comes from. An offset
    is none of the music, and no filter makes it where the music pauses: it is taken off first.
    """
    reference, other = _without_offset(reference, rate_hz), _without_offset(other, rate_hz)
    one, two, forward, left = _forward(reference, other, rate_hz)
    if left <= WELL:
        return [_filtered(forward, other, reference)]
    back = _by_level(two, one)
    dry = _unexplained(two, one, back) >= left  # whether it is the reference
    source, heard = (reference, other) if dry else (other, reference)
    return _in_a_room(source, heard, rate_hz, dry)


def the_other_way(known: Explained, rate_hz: int) -> Explained:
    """What explains, explained by what it explains: a sound of its own is here as it was made, whatever a filter knows.

    Where the music holds no treble no filter is learnt, and a click that was foretold has none.
    """
    one, two = (_moments(each, rate_hz, WINDOW_S) for each in (known.heard, known.source))
    return replace(_filtered(_answer(one, two), known.source, known.heard), of_other=not known.of_other)


def is_in_a_room(reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int) -> bool:
    """Whether a short filter leaves so much of the other channel over that a room, or as much, lies between the two."""
    return _forward(_without_offset(reference, rate_hz), _without_offset(other, rate_hz), rate_hz)[-1] > WELL


def shares_left(reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int) -> tuple[float, float]:
    """The share of the other channel that a short filter of the reference's leaves over, and the same the other way."""
    one, two = (_moments(_without_offset(each, rate_hz), rate_hz, WINDOW_S) for each in (reference, other))
    return _unexplained(one, two, _by_level(one, two)), _unexplained(two, one, _by_level(two, one))


def _without_offset(samples: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64]:
    """A channel (frames,) without what it holds most of the time: some pops of one sign are no offset elsewhere."""
    block = max(min(round(OFFSET_S * rate_hz), samples.size), 1)
    whole = samples[: samples.size // block * block].reshape(-1, block)
    return np.asarray(samples - np.median(whole.mean(axis=1)))


def _forward(
    reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int
) -> tuple[Lines, Lines, Lines, float]:
    """Both channels' moments, the filter from the first to the second, and the share that it leaves over.

    Of a few strokes that decay into noise, one of them broken, most moments are explained badly and show no room: then
    it is learnt against what is broken, and the loud moments count.
    """
    one, two = (_moments(each, rate_hz, WINDOW_S) for each in (reference, other))
    answer = _answer(one, two)
    left = _unexplained(one, two, answer)
    if left > WELL:
        level = np.abs(two).sum(axis=1)
        loud = level > LOUD * float(level.max())
        again = _by_most(one, two)
        left_loud = float(np.median(np.abs(two - one * again).sum(axis=1)[loud] / level[loud]))
        if left_loud <= WELL_IF_LOUD:
            return one, two, again, left_loud
    return one, two, answer, left


def _in_a_room(
    source: NDArray[np.float64], heard: NDArray[np.float64], rate_hz: int, of_other: bool
) -> list[Explained]:
    """What is explained of the wet one, and of the dry one by what is left over of the wet one, brought back."""
    from scipy.fft import irfft, rfft

    one, two = (_moments(each, rate_hz, ROOM_WINDOW_S) for each in (source, heard))
    answer = _answer(one, two)
    power = np.square(one.real) + np.square(one.imag)
    least = LEAST_LEFT * np.abs(two).mean(axis=0) + 1e-20
    size = _whole(source.size, answer)
    known = Explained(heard.astype(np.float32), np.zeros(0, np.float32), source.astype(np.float32), of_other)
    spectrum = rfft(known.source, size)
    for again in range(AGAIN + 1):
        response = _response(answer, size)
        foretold = np.asarray(irfft(spectrum * response, size)[: source.size], dtype=np.float32)
        known = replace(known, foretold=foretold)
        if again < AGAIN:
            rest = _moments(known.left, rate_hz, ROOM_WINDOW_S)
            answer = answer + _fitted(one, rest, power, 1 / np.maximum(np.abs(rest), least))
    strength = np.square(np.abs(response))
    back = irfft(rfft(known.left, size) * response.conj() / (strength + LEAST_BACK * strength.mean()), size)
    dry = known.source + np.asarray(back[: source.size], dtype=np.float32)
    return [known, Explained(known.source, dry, known.heard, not of_other)]


def by_a_filter(source: NDArray[np.float64], heard: NDArray[np.float64], rate_hz: int) -> Explained:
    """What a filter that stays makes of one channel (frames,) to be another, however much it lifts."""
    one = _moments(source, rate_hz, WINDOW_S)
    two = _moments(heard, rate_hz, WINDOW_S)
    weight = np.broadcast_to(1 / np.maximum(np.square(np.abs(two)).mean(axis=0), 1e-20), one.shape)
    return _filtered(_fitted(one, two, np.square(np.abs(one)), weight), heard, source)


@dataclass(frozen=True, eq=False)
class BothWays:
    """Two channels (frames,), each by a filter of the other.

    `told` is the coherence of each line: 1 where the filter is known, 0 where neither holds anything of the other.
    `unknown` is the mean square in each line that is left of the second, and of the first; `sizes` are the
    powers of the first and the second.
    """

    answers: tuple[Lines, Lines]
    told: NDArray[np.float64]
    unknown: tuple[NDArray[np.float64], NDArray[np.float64]]
    sizes: tuple[NDArray[np.float64], NDArray[np.float64]]
    waves: tuple[NDArray[np.float64], NDArray[np.float64]]

    @property
    def unexplained(self) -> float:
        """The share that the filters leave over, each line counted by its power: of the music, not of a noise."""
        weight = self.sizes[0] * self.sizes[1]
        return float((weight * (1 - self.told)).sum() / max(float(weight.sum()), 1e-30))

    def explained(self) -> tuple[Explained, Explained]:
        """The second by the first, and the first by the second."""
        first, second = self.waves
        return (
            _filtered(self.answers[0], second, first),
            _filtered(self.answers[1], first, second),
        )


def both_ways(first: NDArray[np.float64], second: NDArray[np.float64], rate_hz: int) -> BothWays:
    """The filters between two channels, however much they lift, all moments counted by their power."""
    first, second = first - first.mean(), second - second.mean()
    one, two = _moments(first, rate_hz, WINDOW_S), _moments(second, rate_hz, WINDOW_S)
    sizes = [(np.square(each.real) + np.square(each.imag)).sum(axis=0) for each in (one, two)]
    across = np.sum(two * one.conj(), axis=0)
    told = np.square(np.abs(across)) / np.maximum(sizes[0] * sizes[1], 1e-30)
    answers = tuple(
        (shared / np.maximum(size, LEAST_POWER * size_heard * _most(size, size_heard) + 1e-20)).astype(np.complex64)
        for shared, size, size_heard in ((across, *sizes), (across.conj(), *sizes[::-1]))
    )
    # windows that overlap by half and add up to 1 hold 3/4 of the power
    scale = 2 / (0.75 * first.size * (2 * (one.shape[1] - 1)))
    unknown = tuple(np.asarray(scale * (1 - told) * size, dtype=np.float64) for size in sizes[::-1])
    powers = tuple(np.asarray(scale * size, dtype=np.float64) for size in sizes)
    return BothWays((answers[0], answers[1]), told, (unknown[0], unknown[1]), (powers[0], powers[1]), (first, second))


def _most(size: Signal, size_heard: Signal) -> float:
    return float((size / np.maximum(size_heard, 1e-20)).max(initial=0.0))


def _unexplained(one: Lines, two: Lines, answer: Lines) -> float:
    return float(
        np.median(np.abs(two - one * answer).sum(axis=1)) / max(float(np.median(np.abs(two).sum(axis=1))), 1e-20)
    )


def _moments(samples: NDArray[np.floating], rate_hz: int, window_s: float) -> Lines:
    """The spectra of half overlapping windows that add up to 1 throughout, silence before and after."""
    from scipy.fft import rfft

    window = 2 * round(window_s * rate_hz / 2)
    hop = window // 2
    count = samples.size // hop + 2
    padded = np.zeros((count + 1) * hop, dtype=np.float32)
    padded[hop : hop + samples.size] = samples
    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    parts = np.lib.stride_tricks.sliding_window_view(padded, window)[::hop]
    return np.asarray(rfft(parts * shape, axis=1))


def _answer(one: Lines, two: Lines) -> Lines:
    """The filter (lines,) that makes the second of the first, by most of the moments and not by the faulty ones.

    Each moment counts by its level; where some are explained much worse than the others, by how well it is explained.
    """
    answer = _by_level(one, two)
    left = np.abs(two - one * answer)
    level = np.abs(two)
    shares = left.sum(axis=1) / np.maximum(level.sum(axis=1), 1e-6 * max(float(level.sum(axis=1).max()), 1e-20))
    if float(shares.max()) <= WORSE * float(np.median(shares)):
        return answer
    return _by_most(one, two)


def _by_most(one: Lines, two: Lines) -> Lines:
    """The filter by the moments that it explains well, each line's counted by that."""
    power = np.square(one.real) + np.square(one.imag)
    level = np.abs(two)
    answer = _by_level(one, two)
    left = np.abs(two - one * answer)
    for _ in range(FITS):
        least = LEAST_LEFT * level.mean(axis=0) + 1e-20
        answer = _fitted(one, two, power, 1 / np.maximum(left, least))
        left = np.abs(two - one * answer)
    return answer


def _by_level(one: Lines, two: Lines) -> Lines:
    """The filter by all the moments, each counted by its level."""
    power = np.square(one.real) + np.square(one.imag)
    weight = np.broadcast_to(1 / np.sqrt(np.maximum(power.sum(axis=1), 1e-20))[:, None], power.shape)
    return _fitted(one, two, power, weight)


def _fitted(one: Lines, two: Lines, power: Signal, weight: Signal) -> Lines:
    across = np.sum(weight * two * one.conj(), axis=0)
    size = np.sum(weight * power, axis=0)
    return np.asarray(across / np.maximum(size, LEAST_POWER * max(float(size.max()), 1e-20)), dtype=np.complex64)


def _filtered(answer: Lines, heard: NDArray[np.floating], source: NDArray[np.floating]) -> Explained:
    """What a filter makes of the whole source."""
    return Explained(heard.astype(np.float32), filtered(source, answer)[0], source.astype(np.float32))


def filtered(source: NDArray[np.floating], *answers: Lines) -> list[Signal]:
    """The whole of a channel (frames,) behind each of some filters of one length.

    It must not wrap round in a window: that looks like a click.
    """
    from scipy.fft import irfft, rfft

    size = _whole(source.size, answers[0])
    spectrum = rfft(source.astype(np.float32), size)
    made = (irfft(spectrum * _response(answer, size), size)[: source.size] for answer in answers)
    return [np.asarray(each, dtype=np.float32) for each in made]


def _whole(frames: int, answer: Lines) -> int:
    """The size of a transform that holds so many frames and what a filter makes of the last of them."""
    from scipy.fft import next_fast_len

    return int(next_fast_len(frames + 2 * (answer.size - 1), real=True))


def _response(answer: Lines, size: int) -> Lines:
    """A filter's lines for a transform of the whole.

    What comes before a sound is up to half a window of it, as a filter has that takes another one off.
    """
    from scipy.fft import irfft, rfft

    taps = irfft(answer)
    late = np.zeros(size, dtype=np.float32)
    half = taps.size // 2
    late[:half], late[-half:] = taps[:half], taps[-half:]
    return np.asarray(rfft(late))
