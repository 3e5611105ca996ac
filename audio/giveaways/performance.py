"""The same performance at the same place: whether two clips brought into step hold one and the same music. Pure.

By the coherence of their phases (`alignment.coherence`), which loudspeakers, rooms and equalisers leave as it is, since
what they do stays the same throughout; another take, and another turn of a loop that is not its copy, do not.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..alignment import coarse, movements
from ..alignment.coherence import coherence
from ..clip import Clip
from ..errors import MeasureError
from . import edits, timing
from .findings import LIMITS, Finding, finding
from .turning import Jump
from .wiring import Wiring

SHORTEST_S = 2.0  # in less a held note is all there is
CANDIDATES = 6
LIKELY = 0.8  # of the likeness where they lie: what lies below is not looked at
OFF_S = 0.1  # nearer, it is the same place and an offset
FARTHEST = 0.5  # of the clip's length: so much both must still hold


def performance(passage: str, setup: str, reference: Clip, other: Clip, pair: tuple[int, int]) -> list[Finding]:
    """What gives the other away by what it plays, of clips in step, equally long, by one channel of each."""
    if reference.length_s < SHORTEST_S:
        return []
    alike = _coherence(reference, other, pair)
    better = _elsewhere(reference, other, pair, alike)
    if better is not None:
        lag_s, there = better
        word = "later" if lag_s > 0 else "earlier"
        what = (
            f"{setup} plays another place of the music than the reference: it fits {abs(lag_s):.2f} s {word} "
            f"(coherence {there:.2f} there, {alike:.2f} here); cut it anew"
        )
        return [finding("performance-place", setup, passage, there - alike, what)]
    return unlike(passage, setup, alike)


def unlike(passage: str, setup: str, alike: float) -> list[Finding]:
    """What is to be said of so much coherence: nothing within the limit."""
    if alike >= LIMITS["performance"].value:
        return []
    what = (
        f"{setup} does not play the same performance as the reference, or not in step with it throughout: another "
        f"take, speed or edit (coherence {alike:.2f}); bring a recording of one take, at one speed"
    )
    return [finding("performance", setup, passage, alike, what)]


def between_jumps(
    passage: str, setup: str, reference: Clip, other: Clip, near: Wiring, jumps: Sequence[Jump]
) -> list[Finding]:
    """The same of clips that seem to jump, where what lies between the jumps is not the same music either."""
    if edits.hold(reference, other, near.delay_s, jumps, near.pair):
        return []
    return unlike(passage, setup, _coherence(*timing.aligned(reference, other, near.delay_s), near.pair))


def _coherence(reference: Clip, other: Clip, pair: tuple[int, int], late_frames: int = 0) -> float:
    one, two = reference.samples[:, pair[0]], other.samples[:, pair[1]]
    first, second = one[max(0, -late_frames) :], two[max(0, late_frames) :]
    return coherence(first, second, reference.rate_hz)


def _of_the_same(reference: Clip, other: Clip, pair: tuple[int, int], late_frames: int) -> float:
    """The coherence where they lie, of no more music than they share at a lag, whichever end of it fits better.

    Less music is more coherent by chance, and in a room what it begins with may sound on from before.
    """
    one, two = reference.samples[:, pair[0]], other.samples[:, pair[1]]
    away = abs(late_frames)
    ends = slice(away, None), slice(0, -away)
    return max(coherence(one[end], two[end], reference.rate_hz) for end in ends)


def _elsewhere(reference: Clip, other: Clip, pair: tuple[int, int], alike: float) -> tuple[float, float] | None:
    """A lag at which they fit clearly better, in seconds, and their coherence there; None where there is none."""
    least = LIMITS["performance-place"].value
    if alike > 1 - least:
        return None
    try:
        one, two = movements.of_clip(reference), movements.of_clip(other)
    except MeasureError:  # silent but for a click: nothing to know its place by
        return None
    found = coarse.lags(one, two, CANDIDATES, FARTHEST * reference.length_s)
    here = max((lag.likeness for lag in found if abs(lag.lag_s) < OFF_S), default=0.0)
    best: tuple[float, float] | None = None
    for lag in found:
        if abs(lag.lag_s) >= OFF_S and lag.likeness >= LIKELY * here:
            late_frames = round(lag.lag_s * reference.rate_hz)
            there = _coherence(reference, other, pair, late_frames)
            enough = there >= LIMITS["performance"].value and there - alike > least
            enough = enough and there - _of_the_same(reference, other, pair, late_frames) > least
            if enough and (best is None or there > best[1]):
                best = lag.lag_s, there
    return best
