"""Short stretches in which one of two recordings breaks off or repeats a bit. Pure.

Most of such a stretch is unexplained, between stretches that are explained, and one lacks in it what the other has.
"""

from __future__ import annotations

import numpy as np

from .blocks import BLOCK_S, SMEARED_S, Levels, energies, faintest_heard, in_source, joined, only_rings, tells_whose
from .filter_residual import Explained
from .findings import LIMITS
from .moments import Moment

SHORTEST, LONGEST = 3, 40  # blocks of a gap
LEAST_BLOCKS = 2.2  # over which what is left over must be spread
BESIDE = 6  # blocks on either side that must be explained
EXPLAINED = 0.12  # at most so much left over there
USUAL_GAP = 0.98  # of all that sounds is no gap: twice what is left over there must be
AMID = 2.0  # times what is left over before it and after it, for as long as is smeared
FEW = 3  # what else looks like a gap is one, too
AS_LOUD = 0.1  # of a gap's energy or more: moments that are explained as well as where it is
EMPTY = 0.1  # of the energy just before and after
FELL, ROSE = 0.1, 4.0  # energy: of what falls silent, and of what goes on meanwhile
LOUDER, SAME, UNLIKE = 2.5, 0.5, 0.5  # energy; what is left of the louder one; of the fainter one what both share
DEEP = 16.0  # energy
LONG = 4.0  # blocks over which what is left over is spread: no click or pop is so long
FAINT_END = 0.01  # of the energy of the loudest block
OPEN = 0.25  # left over in a block of a gap


def find_gaps(known: Explained, rate_hz: int, channel: int) -> list[Moment]:
    """The gaps and stutters in one channel, as one recording explains the other."""
    block = round(BLOCK_S * rate_hz)
    heard, foretold, left = (energies(each, block) for each in (known.heard, known.foretold, known.left))
    louder = np.maximum(heard, foretold)
    loud = faintest_heard(louder)
    product = left - heard - foretold  # minus twice what both share
    sounding = louder > loud
    shares = left / np.maximum(louder, 1e-20)
    smeared = round(SMEARED_S / BLOCK_S)
    found: list[tuple[int, int, Moment]] = []
    unexplained = left > OPEN * np.maximum(louder, loud)
    for start, end in (_without_faint_ends(left, *each) for each in joined(unexplained)):
        first, last = max(start - BESIDE - 1, 0), min(end + BESIDE + 1, louder.size)
        before, inside, after = slice(first, max(start - 1, 0)), slice(start, end), slice(min(end + 1, last), last)
        if not SHORTEST <= end - start <= LONGEST or before.stop - before.start < BESIDE or after.start == after.stop:
            continue
        least_heard = 0.1 * max(loud, float(louder[inside].mean()))
        sides = [float(left[each].sum() / np.maximum(louder[each], least_heard).sum()) for each in (before, after)]
        if max(sides) > EXPLAINED or louder[inside].mean() < loud:
            continue
        inner = left[inside]
        if inner.sum() ** 2 < LEAST_BLOCKS * np.square(inner).sum():
            continue  # a click, which rings on
        if any(
            each.size and inner.mean() < AMID * each.mean()
            for each in (left[: start - 1][-smeared:], left[end + 1 :][:smeared])
        ):
            continue  # what is left over of a stroke close by, smeared to here
        audible = [each for each in (before, after) if louder[each].mean() > FAINT_END * louder[inside].mean()]
        gains = [_gain(product, foretold, each) for each in audible] or [1.0]
        rest = min(float(np.sum(heard[inside] + gain * product[inside] + gain**2 * foretold[inside])) for gain in gains)
        share = rest / float(np.sum(louder[inside]))
        early = foretold[inside].sum() > heard[inside].sum() and not in_source(
            known.foretold, known.source, start * block, (end - start) * block, 0
        )
        alike = any(left[each].sum() <= EXPLAINED * louder[each].sum() for each in audible)
        lacks = _lacks(heard, foretold, left, before, inside, after, alike_beside=alike)
        rings = only_rings(known, rate_hz, start * block, end * block)
        if share > LIMITS["dropout"].value and not early and lacks and not rings:
            by = 10 * np.log10((heard[inside].sum() + 1e-20) / (foretold[inside].sum() + 1e-20))
            told = _fell_silent(heard, foretold, before, inside, after) or (
                abs(by) >= 4 and tells_whose(known, rate_hz)
            )
            others = bool((by < 0) == known.of_other) if told else None
            at_s, lasts_s = (start + end) / 2 * block / rate_hz, (end - start) * block / rate_hz
            found.append((start, end, Moment(at_s, lasts_s, channel, share, others)))
    stretches = [(max(start - smeared, 0), end + smeared) for start, end, _ in found]
    told = []
    for (start, end, moment), stretch in zip(found, stretches, strict=True):
        usual = sounding & (louder > AS_LOUD * float(louder[start:end].mean()))
        for first, last in stretches if len(stretches) <= FEW else [stretch]:
            usual[first:last] = False  # gaps must not count as usual, unless they are
        if not usual.any() or moment.size > 2 * float(np.quantile(shares[usual], USUAL_GAP)):
            told.append(moment)
    return told


def _lacks(
    heard: Levels,
    foretold: Levels,
    left: Levels,
    before: slice,
    inside: slice,
    after: slice,
    *,
    alike_beside: bool,
) -> bool:
    """Whether one of them lacks what the other has, or holds something else; not the same and something on top of it.

    One lacks it that is empty beside what is not, or that is the other made fainter where just before or just after it
    plays as the other does. A stroke that is fainter from a pause to a pause breaks off nowhere: a compressor did that.
    """
    fainter, louder = sorted((heard, foretold), key=lambda each: float(each[inside].sum()))
    faint, loud = float(fainter[inside].sum()) + 1e-20, float(louder[inside].sum()) + 1e-20
    shared = (faint + loud - float(left[inside].sum())) / 2
    long = float(left[inside].sum()) ** 2 > LONG * float(np.square(left[inside]).sum())  # a pop may ring, but is short
    beside = (max if long else min)(float(fainter[each].mean()) for each in (before, after))  # a stroke may begin in it
    if float(np.quantile(fainter[inside], 1 / 3, method="lower")) < EMPTY * beside:  # its ends are empty in part
        return True
    # what is short may be alike by chance, a pop to a low note
    if (
        alike_beside
        and shared > 0
        and loud - shared**2 / faint < SAME * loud
        and LOUDER * faint < loud
        and (long or loud < DEEP * faint)
    ):
        return True
    return shared < UNLIKE * faint and (long or loud < LOUDER * faint)


def _fell_silent(heard: Levels, foretold: Levels, before: slice, inside: slice, after: slice) -> bool:
    """Whether one of them is much fainter in it than the other, and than beside it, while the other goes on as before.

    So much tells whose it is, whatever is left over elsewhere: hiss in one, or a room.
    """
    fainter, louder = sorted((heard, foretold), key=lambda each: float(each[inside].sum()))
    levels = [[float(each[where].mean()) + 1e-20 for where in (before, inside, after)] for each in (fainter, louder)]
    (first, faint, last), (early, loud, late) = levels
    return faint < FELL * min(loud, first, last) and loud < ROSE * max(early, late)


def _without_faint_ends(left: Levels, start: int, end: int) -> tuple[int, int]:
    """A stretch from where it is loud: the faint music beside it may be left over too."""
    loud = np.flatnonzero(left[start:end] > FAINT_END * left[start:end].max())
    return start + int(loud[0]), start + int(loud[-1]) + 1


def _gain(product: Levels, foretold: Levels, where: slice) -> float:
    """By what the explanation of a stretch must be multiplied to fit best: a compressor may be at work."""
    return float(-product[where].sum() / 2 / max(float(foretold[where].sum()), 1e-20))
