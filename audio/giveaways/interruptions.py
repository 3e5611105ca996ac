"""Moments at which one of two recordings breaks off, repeats a bit, clicks or pops. Pure.

Each channel is explained by the other recording's (`filter_residual`), so that what the music, a loudspeaker or a room
does is in both. A gap or a stutter is a short stretch of which most is unexplained, between stretches that are
explained, and in which one lacks what the other has; a longer silence is a hole (`holes`); a click, or another short
sound, is what is unexplained and louder than the music that both have at that moment. In a room gaps and clicks are
looked for where they are short: in the wet recording, or in the dry one by what the wet one says of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..track_time import told as told_place
from . import holes, timing
from .filter_residual import Explained, Signal, explained
from .findings import LIMITS, Finding, finding
from .moments import Moment

BLOCK_S = 0.0025
SHORTEST, LONGEST = 3, 40  # blocks of a gap
LEAST_BLOCKS = 2.2  # over which what is left over must be spread
BESIDE = 6  # blocks on either side that must be explained
EXPLAINED = 0.12  # at most so much left over there
USUAL_GAP = 0.98  # of all that sounds is no gap: twice what is left over there must be
HEARD_DB = 35.0  # a gap is heard where the music is no farther below its loud moments
CLICK_S = 0.001
AROUND = 3  # blocks, over which music hides a click
USUAL = 0.98  # of all moments are no click: it must stand out of them too
OUT_DB = 10.0
COMPARABLE = 0.01  # of the energy
HIDDEN_DB = -20.0  # a click so far below the whole music is hidden by it
SMEARED_S = 0.17  # before and after a stroke what explains it may be off by as much as elsewhere under one
SHARPENED = 6.0  # the energy of one sample's second difference: 1 + 4 + 1
ENDS_S = 0.02  # of what both hold, where a fade may be or one of them begins late
AMID = 2.0  # times what is left over before it and after it, for as long as is smeared
BESIDE_S, ABRUPT = 0.01, 4.0  # a click is louder by so much than what is left over so long, or twice, before or after
BROAD = 240  # frames
IN_SOURCE = 0.1  # of a click in what explains: so much of it is there
BEYOND_DB = 6.0  # what all in all is left over
FAINTEST_DBFS = -75.0
FAINT_DB = 60.0  # below the loudest moment, nothing is looked for
TOGETHER_S = 0.03
BROADEST_S = 0.08  # about a moment, what is left out with it
AS_LOUD = 0.1  # of a gap's energy or more: moments that are explained as well as where it is
EMPTY = 0.1  # of the energy just before and after
LOUDER, SAME, UNLIKE = 2.5, 0.5, 0.5  # energy; what is left of the louder one; of the fainter one what both share
DEEP = 16.0  # energy
LONG = 4.0  # blocks over which what is left over is spread: no click or pop is so long
DECAY_S = 0.3  # in a room, what sounded before the clip sounds on in its beginning, and nothing explains it
TAIL, SHORTER = 16, 1.5  # blocks on either side; times
STANDS_OUT = 10.0  # energy, over what is left of the room on either side
FAINT_END = 0.01  # of the energy of the loudest block
OPEN = 0.25  # left over in a block of a gap
SHORTEST_IN_A_ROOM_S = 0.15  # a long room leaves holes of 90 to 110 ms where the music pauses
TELLS = 0.5  # of the energy that is left over: what one holds more there than the other
LITTLE_LEFT = 0.03  # of the energy of most blocks
BESIDE_A_HOLE_S = 0.1  # what begins and ends it, and what a room leaves of it, is no fault of its own
SPREAD, FAINTER = (
    0.02,
    0.05,
)  # of a sound's energy: it lasts while so much is left over; is in a channel that has so much
DIPS = 12  # blocks: a sound may be fainter for so long
STANDING = 4.0  # energy: what is left over in another channel, over what is left over there beside the sound
Levels = NDArray[np.float64]


def interruptions(
    passage: str, setup: str, reference: Clip, other: Clip, order: Sequence[int], begun_s: float = 0.0
) -> tuple[list[Finding], list[Moment]]:
    """Holes, gaps and clicks of two clips in step, and each of them by itself.

    `order` names the other's channel for each of the reference's; the clips begin `begun_s` into the passage.
    """
    gaps: list[Moment] = []
    clicks: list[Moment] = []
    empty: list[Moment] = []
    sounds: list[Moment] = []
    left: list[dict[bool, Levels]] = []
    block = round(BLOCK_S * reference.rate_hz)
    for channel, place in enumerate(order):
        views = explained(reference.samples[:, channel], other.samples[:, place], reference.rate_hz)
        left.append({known.of_other: _energies(known.left, block) for known in views})
        begun, shortest_s = (DECAY_S, SHORTEST_IN_A_ROOM_S) if len(views) > 1 else (0.0, 0.0)
        for moments, new in zip((empty, sounds), holes.holes(views[0], reference.rate_hz, channel), strict=True):
            least_s = shortest_s if moments is empty else 0.0
            moments += [each for each in new if each.start_s >= begun and each.lasts_s >= least_s]
        clicks_here = partial(_clicks, in_a_room=len(views) > 1)
        for moments, looked_for in ((gaps, _gaps), (clicks, clicks_here)):
            found = [looked_for(known, reference.rate_hz, channel) for known in views]
            moments += (
                _where_they_are_short(views, found, reference.rate_hz, of_heard=moments is gaps)
                if len(views) > 1
                else found[0]
            )
    start_s, end_s = timing.held_by_both_s(reference, other)
    empty, sounds, gaps, clicks = (
        [each for each in moments if start_s + ENDS_S < each.at_s < end_s - ENDS_S]
        for moments in (empty, sounds, gaps, clicks)
    )
    gaps, clicks = ([each for each in moments if not _by_a_hole(each, empty + sounds)] for moments in (gaps, clicks))
    # a gap begins and ends with clicks
    clicks = [each for each in clicks if all(abs(each.at_s - gap.at_s) > LONGEST * BLOCK_S for gap in gaps)]
    clicks = [each for click in clicks for each in _whole(click, left)] + sounds
    told = [
        each
        for whose in (True, False, None)
        for each in _told(
            passage,
            setup,
            "dropout",
            [hole for hole in empty if hole.others is whose],
            begun_s,
            "holds a sound where the other is silent" if whose is None else "falls silent while the other plays on",
        )
    ]
    told += _told(passage, setup, "dropout", gaps, begun_s, "breaks off or repeats a bit, the other does not")
    told += _told(passage, setup, "click", clicks, begun_s, "has a click, pop or other short sound, the other has not")
    return told, empty + gaps + clicks


def left_out(clip: Clip, moments: Sequence[Moment]) -> Clip:
    """The clip without these moments, so that what is measured over all of it does not hang on them."""
    kept = np.ones(clip.frames, dtype=bool)
    for each in moments:
        half_s = max(BROADEST_S, each.lasts_s / 2 + TOGETHER_S)
        start, end = (round((each.at_s + side * half_s) * clip.rate_hz) for side in (-1, 1))
        kept[max(start, 0) : max(end, 0)] = False
    return Clip(clip.samples[kept], clip.rate_hz)


def _by_a_hole(moment: Moment, empty: Sequence[Moment]) -> bool:
    """Whether a gap or a click is where a hole begins or ends, or in it."""
    return any(hole.start_s - BESIDE_A_HOLE_S < moment.at_s < hole.end_s + BESIDE_A_HOLE_S for hole in empty)


def _whole(click: Moment, left: Sequence[Mapping[bool, Levels]]) -> list[Moment]:
    """A click or another short sound as long as it lasts, in every channel in which it is."""
    views = [each.get(bool(click.others), next(iter(each.values()))) for each in left]
    own, at = views[click.channel], int(click.at_s / BLOCK_S)
    if at >= own.size:
        return [click]
    loud = np.flatnonzero(
        own > max(SPREAD * float(own[max(at - 1, 0) : at + 2].max()), STANDING * float(np.median(own)))
    )
    parts = np.split(loud, np.flatnonzero(np.diff(loud) > DIPS) + 1)
    part = next((each for each in parts if each.size and each[0] <= at <= each[-1]), np.array([at]))
    first, last = int(part[0]), int(part[-1]) + 1
    beside = round(SMEARED_S / BLOCK_S)
    channels = {click.channel}
    for channel, each in enumerate(views):
        here = float(each[first:last].mean())
        around = [float(side.mean()) for side in (each[:first][-beside:], each[last:][:beside]) if side.size]
        if here > FAINTER * own[first:last].mean() and here > STANDING * max(around, default=0.0):
            channels.add(channel)
    if (last - first) * BLOCK_S >= holes.SHORTEST_S:
        click = replace(click, at_s=(first + last) / 2 * BLOCK_S, lasts_s=(last - first) * BLOCK_S)
    return [replace(click, channel=channel) for channel in sorted(channels)]


def _where_they_are_short(
    views: Sequence[Explained], found: Sequence[Sequence[Moment]], rate_hz: int, *, of_heard: bool
) -> list[Moment]:
    """The moments in whichever recording they are shorter in.

    A room draws out what is short in the drier recording; taken off again, it draws out what is in the wet one. A sound
    that was made before the room is short in the drier one, which does not hold it; `of_heard` says that none is such.
    """
    block = round(BLOCK_S * rate_hz)
    left = [_energies(known.left, block) for known in views]
    kept = []
    for this, moments in enumerate(found):
        for each in moments:
            here, there = (_shortness(left[view], each, block / rate_hz) for view in (this, 1 - this))
            if here >= max(there, STANDS_OUT) and each.at_s > DECAY_S:
                whose = views[this].of_other if of_heard else each.others
                kept.append(replace(each, others=whose if here > SHORTER * there else None))
    return kept


def _shortness(left: Levels, moment: Moment, block_s: float) -> float:
    """How much more is left over at a moment than a little before or after it, whichever is more."""
    middle, half = moment.at_s / block_s, moment.lasts_s / block_s / 2 + 1
    first, last = max(int(middle - half), 0), int(middle + half) + 1
    beside = [left[max(first - 1 - TAIL, 0) : max(first - 1, 0)], left[last + 1 : last + 1 + TAIL]]
    most = max(float(each.mean()) if each.size else 0.0 for each in beside)
    return float(left[first:last].mean()) / max(most, 1e-20)


def _gaps(known: Explained, rate_hz: int, channel: int) -> list[Moment]:
    block = round(BLOCK_S * rate_hz)
    heard, foretold, left = (_energies(each, block) for each in (known.heard, known.foretold, known.left))
    louder = np.maximum(heard, foretold)
    loud = 10 ** (-HEARD_DB / 10) * float(np.quantile(louder, 0.9)) if louder.size else 0.0
    product = left - heard - foretold  # minus twice what both share
    sounding = louder > loud
    shares = left / np.maximum(louder, 1e-20)
    smeared = round(SMEARED_S / BLOCK_S)
    found = []
    open_ = np.concatenate([[False], left > OPEN * np.maximum(louder, loud), [False]])
    edges = np.flatnonzero(np.diff(open_.astype(np.int8)))
    for start, end in (_without_faint_ends(left, *each) for each in _joined(edges)):
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
        about = np.zeros(left.size, dtype=bool)
        about[max(start - smeared, 0) : end + smeared] = True
        as_loud = louder > AS_LOUD * float(louder[inside].mean())
        elsewhere = shares[sounding & as_loud & ~about]  # a gap of its own must not count as usual
        least = max(LIMITS["dropout"].value, 2 * float(np.quantile(elsewhere, USUAL_GAP)) if elsewhere.size else 0.0)
        if any(
            each.size and inner.mean() < AMID * each.mean()
            for each in (left[: start - 1][-smeared:], left[end + 1 :][:smeared])
        ):
            continue  # what is left over of a stroke close by, smeared to here
        audible = [each for each in (before, after) if louder[each].mean() > FAINT_END * louder[inside].mean()]
        gains = [_gain(product, foretold, each) for each in audible] or [1.0]
        rest = min(float(np.sum(heard[inside] + gain * product[inside] + gain**2 * foretold[inside])) for gain in gains)
        share = rest / float(np.sum(louder[inside]))
        early = foretold[inside].sum() > heard[inside].sum() and not _in_source(
            known.foretold, known.source, start * block, (end - start) * block, 0
        )
        if share > least and not early and _lacks(heard, foretold, left, before, inside, after):
            by = 10 * np.log10((heard[inside].sum() + 1e-20) / (foretold[inside].sum() + 1e-20))
            others = bool((by < 0) == known.of_other) if abs(by) >= 4 and _tells_whose(known, rate_hz) else None
            at_s, lasts_s = (start + end) / 2 * block / rate_hz, (end - start) * block / rate_hz
            found.append(Moment(at_s, lasts_s, channel, share, others))
    return found


def _lacks(heard: Levels, foretold: Levels, left: Levels, before: slice, inside: slice, after: slice) -> bool:
    """Whether one of them lacks what the other has, or holds something else; not the same and something on top of it.

    One lacks it that is empty beside what is not, or that is the other made fainter.
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
        shared > 0
        and loud - shared**2 / faint < SAME * loud
        and LOUDER * faint < loud
        and (long or loud < DEEP * faint)
    ):
        return True
    return shared < UNLIKE * faint and (long or loud < LOUDER * faint)


def _tells_whose(known: Explained, rate_hz: int) -> bool:
    """Whether so little is usually left over that it can be told whose a fault is: in a room it cannot."""
    heard, left = (_energies(each, round(BLOCK_S * rate_hz)) for each in (known.heard, known.left))
    sounding = heard > 10 ** (-HEARD_DB / 10) * float(np.quantile(heard, 0.9)) if heard.size else heard > 0
    return bool(sounding.any() and np.median(left[sounding] / heard[sounding]) < LITTLE_LEFT)


def _clicks(known: Explained, rate_hz: int, channel: int, *, in_a_room: bool = False) -> list[Moment]:
    """Short sounds that one has; a room draws out one that was made before it, and here it is short again.

    Whose such a sound is, is told by which of the two, as it is or as it is foretold, holds the more there.
    """
    tells = in_a_room or _tells_whose(known, rate_hz)
    short, long = round(CLICK_S * rate_hz), round(BLOCK_S * rate_hz)
    parts = known.heard, known.foretold, known.left
    whole = [_energies(each, long) for each in parts]
    sharp = [_energies(np.diff(each, 2), short) for each in parts]
    faintest = 10 ** (FAINTEST_DBFS / 10)
    whole_db, sharp_db = (_above(each, faintest * block, AROUND) for each, block in ((whole, long), (sharp, short)))
    smeared = [
        _above(each, faintest * block, round(SMEARED_S * rate_hz / block))
        for each, block in ((whole, long), (sharp, short))
    ]
    pops, clicks = (
        _standing_out(levels, around, _all_in_all_db(each) + BEYOND_DB, each)
        for levels, around, each in ((whole_db, smeared[0], whole), (sharp_db, smeared[1], sharp))
    )
    hidden = faintest * long + 10 ** (HIDDEN_DB / 10) * _shared(whole, AROUND)
    clicks = clicks[sharp[2][clicks] / SHARPENED > hidden[np.minimum(clicks * short // long, hidden.size - 1)]]
    found = []
    for places, block, levels, energies, order in (
        (pops, long, whole_db, whole, 0),
        (clicks, short, sharp_db, sharp, 2),
    ):
        foretold, source = (np.diff(each, order) for each in (known.foretold, known.source))
        for at in places:
            if energies[2][at] < ABRUPT * _beside(energies[2], int(at), round(BESIDE_S * rate_hz / block)):
                continue  # a room that rings on after a stroke
            own = bool(energies[0][at] > energies[1][at])
            if not own and not _in_source(foretold, source, int(at) * block, block):
                continue  # what explains it rings ahead of a stroke, or repeats it where the music mostly does
            told = abs(energies[0][at] - energies[1][at]) > TELLS * energies[2][at] if in_a_room else tells
            others = (own == known.of_other) if told else None
            found.append(Moment((at + 0.5) * block / rate_hz, block / rate_hz, channel, float(levels[at]), others))
    return found


def _beside(left: Levels, at: int, away: int) -> float:
    """What is left over a little before or after a block, whichever is less; 0 at an end."""
    before, after = left[max(at - 2 * away, 0) : max(at - away, 0)], left[at + away : at + 2 * away]
    return min(float(each.mean()) if each.size else 0.0 for each in (before, after))


def _in_source(foretold: Signal, source: Signal, start: int, block: int, broad: int = BROAD) -> bool:
    """Whether what is foretold here is in the recording it is foretold from, and not only smeared to here."""
    about = slice(max(start - min(block, broad), 0), start + block + min(block, broad))
    scale = float(np.sum(np.square(foretold))) / max(float(np.sum(np.square(source))), 1e-20)
    return scale * float(np.sum(np.square(source[about]))) > IN_SOURCE * float(np.sum(np.square(foretold[about])))


def _energies(samples: Signal, block: int) -> Levels:
    count = samples.size // block
    return np.asarray(np.square(samples[: count * block].reshape(count, block)).sum(axis=1), dtype=np.float64)


def _joined(edges: NDArray[np.int_]) -> list[tuple[int, int]]:
    """Stretches from their edges, those that are some blocks apart as one."""
    found: list[tuple[int, int]] = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if found and start - found[-1][1] <= 3:
            found[-1] = found[-1][0], int(end)
        else:
            found.append((int(start), int(end)))
    return found


def _without_faint_ends(left: Levels, start: int, end: int) -> tuple[int, int]:
    """A stretch from where it is loud: the faint music beside it may be left over too."""
    loud = np.flatnonzero(left[start:end] > FAINT_END * left[start:end].max())
    return start + int(loud[0]), start + int(loud[-1]) + 1


def _gain(product: Levels, foretold: Levels, where: slice) -> float:
    """By what the explanation of a stretch must be multiplied to fit best: a compressor may be at work."""
    return float(-product[where].sum() / 2 / max(float(foretold[where].sum()), 1e-20))


def _above(parts: Sequence[Levels], faintest: float, around: int) -> Levels:
    """How far above the music that both have around it each block's rest is, in dB."""
    left, shared = parts[2], _shared(parts, around)
    floor = max(faintest, 10 ** (-FAINT_DB / 10) * float(shared.max(initial=0.0)))
    return np.asarray(10 * np.log10(np.maximum(left, 1e-20) / np.maximum(shared, floor)))


def _shared(parts: Sequence[Levels], around: int) -> Levels:
    """The most that both have about each block."""
    from scipy.ndimage import maximum_filter1d

    heard, foretold, _ = parts
    return np.asarray(maximum_filter1d(np.minimum(heard, foretold), 2 * around + 1))


def _all_in_all_db(parts: Sequence[Levels]) -> float:
    """How much is left over of the whole, in dB."""
    return 10 * float(np.log10(max(float(parts[2].sum()), 1e-20) / max(float(parts[0].sum()), 1e-20)))


def _standing_out(levels_db: Levels, smeared_db: Levels, least_db: float, parts: Sequence[Levels]) -> NDArray[np.int_]:
    """The blocks that lie above the limit, and above all that is usual here, also of what is smeared around.

    Usual is what moments are like of which no much less is left over; what is left over in a pause, where all is faint,
    is usual only there.
    """
    if not levels_db.size:
        return np.zeros(0, dtype=int)
    left, audible = parts[2], 10 ** (-HEARD_DB / 10) * float(np.quantile(parts[0], 0.9))
    limits = (levels_db, LIMITS["click"].value), (smeared_db, least_db)
    found = []
    for at in np.flatnonzero(np.logical_and(*(each > least for each, least in limits))):
        alike = left > max(audible, COMPARABLE * left[at]) if left[at] > audible else left >= 0
        usual = (float(np.quantile(np.where(alike, each, -HEARD_DB), USUAL)) for each, _ in limits)
        if all(each[at] > most + OUT_DB for (each, _), most in zip(limits, usual, strict=True)):
            found.append(int(at))
    return np.asarray(found, dtype=int)


def _told(passage: str, setup: str, kind: str, moments: Sequence[Moment], begun_s: float, does: str) -> list[Finding]:
    """One finding for all the moments of a kind, by the largest of them."""
    if not moments:
        return []
    largest = max(moments, key=lambda each: each.size)
    times: list[Moment] = []
    for each in sorted(moments, key=lambda each: each.at_s):
        if not times or each.at_s - times[-1].at_s > max(TOGETHER_S, times[-1].lasts_s / 2):
            times.append(each)
    told = ", ".join(_place(each, begun_s) for each in times[:3]) + (", …" if len(times) > 3 else "")
    count = "once" if len(times) == 1 else f"{len(times)} times"
    channels = sorted({each.channel + 1 for each in moments})
    where = f"channel {channels[0]}" if len(channels) == 1 else "channels " + " and ".join(map(str, channels))
    who = {True: setup, False: "the reference", None: f"{setup} or the reference"}[largest.others]
    what = f"{who} {does} ({count}, {told} into the passage, in {where}); choose another passage or record again"
    return [finding(kind, setup, passage, largest.size, what)]


def _place(moment: Moment, begun_s: float) -> str:
    """Where a fault is; one that lasts longer, by its beginning and its length."""
    if moment.lasts_s < holes.SHORTEST_S:
        return told_place(begun_s + moment.at_s, 3)
    length = f"{1000 * moment.lasts_s:.0f} ms" if moment.lasts_s < 1 else f"{moment.lasts_s:.2f} s"
    return f"{told_place(begun_s + moment.start_s, 3)} for {length}"
