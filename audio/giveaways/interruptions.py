"""Moments at which one of two recordings breaks off, repeats a bit, clicks or pops. Pure.

Each channel is explained by the other recording's (`filter_residual`), so that what the music, a loudspeaker or a room
does is in both. Holes, gaps and clicks have a module each. In a room gaps and clicks are looked for where they are
short: in the wet recording, or in the dry one by what the wet one says of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..clip import Clip
from ..track_time import told as told_place
from . import ends, holes, hum
from .blocks import BLOCK_S, Levels, energies, faintest_heard, loud, moving
from .clicks import find_clicks, whole_sounds
from .filter_residual import Explained, explained, the_other_way
from .findings import Finding, finding
from .gaps import LONGEST, find_gaps
from .hum import Hum
from .moments import Moment
from .recurring import without_recurring
from .short_silences import short_silences

ENDS_S = 0.02  # of what both hold, where a fade may be or one of them begins late
TOGETHER_S = 0.03
BROADEST_S = 0.08  # about a moment, what is left out with it
DECAY_S = 0.3  # in a room, what sounded before the clip sounds on in its beginning, and nothing explains it
BESIDE_BLOCKS = 20  # of 5 ms, beside a gap of half that: a channel falls silent if it played so shortly before or after
TAIL, SHORTER = 16, 1.5  # blocks on either side; times
STANDS_OUT = 10.0  # energy, over what is left of the room on either side
SHORTEST_IN_A_ROOM_S = 0.15  # a long room leaves holes of 90 to 110 ms where the music pauses
BESIDE_A_HOLE_S = 0.1  # what begins and ends it, and what a room leaves of it, is no fault of its own


def interruptions(
    passage: str,
    setup: str,
    reference: Clip,
    other: Clip,
    order: Sequence[int],
    begun_s: float = 0.0,
    hums: Sequence[Hum | None] = (),
) -> tuple[list[Finding], list[Moment]]:
    """Holes, gaps and clicks of two clips in step, and each of them by itself.

    `order` names the other's channel for each of the reference's; the clips begin `begun_s` into the passage. `hums`
    are what either hums with: where nothing else sounds, the silent one lacks nothing.
    """
    gaps: list[Moment] = []
    clicks: list[Moment] = []
    empty: list[Moment] = []
    sounds: list[Moment] = []
    left: list[dict[bool, Levels]] = []
    rate_hz = reference.rate_hz
    block = round(BLOCK_S * rate_hz)
    for channel, place in enumerate(order):
        views = explained(reference.samples[:, channel], other.samples[:, place], rate_hz)
        in_a_room = len(views) > 1
        each_way = views if in_a_room else [*views, the_other_way(views[0], rate_hz)]
        left.append({known.of_other: energies(known.left, block) for known in each_way})
        silences, in_silence = holes.holes(views[0], rate_hz, channel, in_a_room=in_a_room)
        if in_a_room:
            silences, in_silence = ([each for each in new if each.start_s >= DECAY_S] for new in (silences, in_silence))
            silences = [each for each in silences if each.lasts_s >= SHORTEST_IN_A_ROOM_S]
            silences = without_recurring(silences, views[0].source, rate_hz)
        empty += silences
        sounds += in_silence
        found = [find_gaps(known, rate_hz, channel) for known in views]
        one, two = (clip.samples[:, at].astype(np.float32) for clip, at in ((reference, channel), (other, place)))
        short = short_silences(one, two, rate_hz, channel, in_a_room=in_a_room)
        longer = _where_they_are_short(views, found, rate_hz, of_heard=True)
        for known in each_way[len(views) :]:  # where a gap is in what explains, a filter may ring across it
            own = [each for each in find_gaps(known, rate_hz, channel) if each.others is known.of_other]
            longer += [each for each in own if all(abs(each.at_s - one.at_s) > TOGETHER_S for one in longer)]
        gaps += short + [each for each in longer if all(abs(each.at_s - one.at_s) > TOGETHER_S for one in short)]
        found = [find_clicks(known, rate_hz, channel, in_a_room=in_a_room) for known in each_way]
        if in_a_room:
            clicks += _where_they_are_short(views, found, rate_hz, of_heard=False)
        else:
            clicks += [each for moments in found for each in moments]
    start_s, end_s = ends.held_by_both_s(reference, other)
    empty, sounds, gaps, clicks = (
        [each for each in moments if start_s + ENDS_S < each.at_s < end_s - ENDS_S]
        for moments in (empty, sounds, gaps, clicks)
    )
    empty, sounds = (
        [each for each in moments if not _only_hums(each, reference, other, order, hums)] for moments in (empty, sounds)
    )
    empty, sounds = _as_the_hole_beside(empty, sounds)
    gaps, clicks = ([each for each in moments if not _by_a_hole(each, empty + sounds)] for moments in (gaps, clicks))
    # a gap begins and ends with clicks
    clicks = [each for each in clicks if all(abs(each.at_s - gap.at_s) > LONGEST * BLOCK_S for gap in gaps)]
    clicks = [each for click in clicks for each in whole_sounds(click, left, block / rate_hz)] + sounds
    empty, gaps = (
        [*moments, *(each for hole in moments for each in _silent_beside(hole, reference, other, order))]
        for moments in (empty, gaps)
    )
    gaps, clicks = _of_one_owner(gaps), _of_one_owner(clicks)
    told = []
    for whose in (True, False, None):
        does = "holds a sound where the other is silent" if whose is None else "falls silent while the other plays on"
        for kind, moments, what in (
            ("dropout", empty, does),
            ("dropout", gaps, "breaks off or repeats a bit, the other does not"),
            ("click", clicks, "has a click, pop or other short sound, the other has not"),
        ):
            told += _told(passage, setup, kind, [each for each in moments if each.others is whose], begun_s, what)
    return told, empty + gaps + clicks


def owner(by_length: bool | None, gap: Moment, seen_back: Sequence[Moment]) -> bool | None:
    """Whose a gap is: by which of the two it is shorter in, unless their levels there say otherwise.

    Hiss in one of them leaves as much over as a room, and no length tells by it: what both ways tell by level counts
    then, and of what only one tells nobody is accused.
    """
    if gap.others is None or gap.others is by_length:
        return by_length
    back = {each.others for each in seen_back if abs(each.at_s - gap.at_s) <= TOGETHER_S}
    return gap.others if back == {gap.others} else None


def left_out(clip: Clip, moments: Sequence[Moment]) -> Clip:
    """The clip without these moments, so that what is measured over all of it does not hang on them."""
    kept = np.ones(clip.frames, dtype=bool)
    for each in moments:
        half_s = max(BROADEST_S, each.lasts_s / 2 + TOGETHER_S)
        start, end = (round((each.at_s + side * half_s) * clip.rate_hz) for side in (-1, 1))
        kept[max(start, 0) : max(end, 0)] = False
    return Clip(clip.samples[kept], clip.rate_hz)


def _only_hums(hole: Moment, reference: Clip, other: Clip, order: Sequence[int], hums: Sequence[Hum | None]) -> bool:
    """Whether all that sounds in a hole is what one of them hums with all the time."""
    if not any(hums):
        return False
    stretch = slice(round(hole.start_s * reference.rate_hz), round(hole.end_s * reference.rate_hz))
    both = reference.samples[stretch, hole.channel], other.samples[stretch, order[hole.channel]]
    sounding = max(both, key=lambda each: float(np.square(each).sum()))
    return hum.is_most_of(sounding, reference.rate_hz, hums)


def _by_a_hole(moment: Moment, empty: Sequence[Moment]) -> bool:
    """Whether a gap or a click is where a hole begins or ends, or in it."""
    return any(hole.start_s - BESIDE_A_HOLE_S < moment.at_s < hole.end_s + BESIDE_A_HOLE_S for hole in empty)


def _as_the_hole_beside(empty: Sequence[Moment], sounds: Sequence[Moment]) -> tuple[list[Moment], list[Moment]]:
    """Holes and short sounds, a sound at the moment of a hole as that hole: it is the same in another channel.

    A syllable that one lacks may stand between pauses in one channel alone, and look like a cough there.
    """
    holes_then, apart = list(empty), []
    for each in sounds:
        hole = next((one for one in empty if one.start_s < each.end_s and each.start_s < one.end_s), None)
        if hole is None:
            apart.append(each)
        else:
            holes_then.append(replace(hole, channel=each.channel))
    return holes_then, apart


def _silent_beside(hole: Moment, reference: Clip, other: Clip, order: Sequence[int]) -> list[Moment]:
    """The hole or gap in each further channel of its recording that is silent then too, where the other one plays.

    A room may hide it in some, or the music.
    """
    if hole.others is None:
        return []
    frames = round((holes.BLOCK_S if hole.lasts_s >= holes.SHORTEST_S else BLOCK_S) * reference.rate_hz)
    block_s = frames / reference.rate_hz
    found = []
    for channel, place in enumerate(order):
        samples = other.samples[:, place] if hole.others else reference.samples[:, channel]
        blocks = moving(samples.astype(np.float32), frames)
        counterpart = reference.samples[:, channel] if hole.others else other.samples[:, place]
        plays = moving(counterpart.astype(np.float32), frames)
        inside_s = min(TOGETHER_S, hole.lasts_s / 4)
        start, end = (round(at_s / block_s) for at_s in (hole.start_s + inside_s, hole.end_s - inside_s))
        within = blocks[start:end]
        silent = within.size > 0 and within.max() < loud(blocks) * 10 ** (-holes.SILENT_DB / 10)
        played = blocks[max(start - BESIDE_BLOCKS, 0) : end + BESIDE_BLOCKS].max(initial=0.0) > faintest_heard(blocks)
        lacks = plays[start:end].max(initial=0.0) > faintest_heard(plays)
        if channel != hole.channel and silent and played and lacks:
            found.append(replace(hole, channel=channel))
    return found


def _where_they_are_short(
    views: Sequence[Explained], found: Sequence[Sequence[Moment]], rate_hz: int, *, of_heard: bool
) -> list[Moment]:
    """The moments in whichever recording they are shorter in.

    A room draws out what is short in the drier recording; taken off again, it draws out what is in the wet one. A sound
    that was made before the room is short in the drier one, which does not hold it; `of_heard` says that none is such.
    Without a room there is one view, and all its moments stand.
    """
    if len(views) == 1:
        return list(found[0])
    block = round(BLOCK_S * rate_hz)
    left = [energies(known.left, block) for known in views]
    kept = []
    for this, moments in enumerate(found):
        for each in moments:
            here, there = (_shortness(left[view], each, block / rate_hz) for view in (this, 1 - this))
            if here >= max(there, STANDS_OUT) and each.at_s > DECAY_S:
                whose = views[this].of_other if here > SHORTER * there else None
                if of_heard:
                    whose = owner(whose, each, found[1 - this])
                elif whose is not None:
                    whose = each.others
                kept.append(replace(each, others=whose))
    return kept


def _shortness(left: Levels, moment: Moment, block_s: float) -> float:
    """How much more is left over at a moment than a little before or after it, whichever is more."""
    middle, half = moment.at_s / block_s, moment.lasts_s / block_s / 2 + 1
    first, last = max(int(middle - half), 0), int(middle + half) + 1
    beside = [left[max(first - 1 - TAIL, 0) : max(first - 1, 0)], left[last + 1 : last + 1 + TAIL]]
    most = max(float(each.mean()) if each.size else 0.0 for each in beside)
    return float(left[first:last].mean()) / max(most, 1e-20)


def _of_one_owner(moments: Sequence[Moment]) -> list[Moment]:
    """The moments, those at one time in several channels with the owner that is known of any; of two, with neither."""
    found = []
    for each in moments:
        near = (one for one in moments if abs(one.at_s - each.at_s) <= max(TOGETHER_S, each.lasts_s / 2))
        owners = {one.others for one in near} - {None}
        found.append(replace(each, others=owners.pop() if len(owners) == 1 else None))
    return found


def _told(passage: str, setup: str, kind: str, moments: Sequence[Moment], begun_s: float, does: str) -> list[Finding]:
    """One finding for all the moments of a kind that one recording has, as large as the largest of them."""
    if not moments:
        return []
    largest = max(moments, key=lambda each: each.size)
    times: list[Moment] = []
    for each in sorted(moments, key=lambda each: each.start_s):
        if times and (each.start_s < times[-1].end_s or each.at_s - times[-1].at_s <= TOGETHER_S):
            times[-1] = max(times[-1], each, key=lambda one: one.lasts_s)
        else:
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
