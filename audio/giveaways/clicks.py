"""Clicks, pops and other short sounds that one of two recordings has and the other has not. Pure.

Such a sound is what is unexplained and louder than the music that both have at that moment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .blocks import BLOCK_S, HEARD_DB, SMEARED_S, Levels, energies, faintest_heard, in_source, only_rings, tells_whose
from .filter_residual import Explained
from .findings import LIMITS
from .holes import SHORTEST_S
from .moments import Moment

CLICK_S = 0.001
AROUND = 3  # blocks, over which music hides a click
USUAL = 0.98  # of all moments are no click: it must stand out of them too
OUT_DB = 10.0
COMPARABLE = 0.01  # of the energy
HIDDEN_DB = -20.0  # a click so far below the whole music is hidden by it
BARE_DB, HIDDEN_BARE_DB = 20.0, -32.0  # so far above the treble all around it, music that is lower in pitch hides less
SHARPENED = 6.0  # the energy of one sample's second difference: 1 + 4 + 1
BESIDE_S, ABRUPT = 0.01, 4.0  # a click is louder by so much than what is left over so long, or twice, before or after
BEYOND_DB = 6.0  # what all in all is left over
FAINTEST_DBFS = -75.0
FAINT_DB = 60.0  # below the loudest moment, nothing is looked for
TELLS = 0.5  # of the energy that is left over: what one holds more there than the other
SPREAD = 0.02  # of a sound's energy: it lasts while so much is left over
FAINTER = 0.05  # of it: it is in a channel that has so much
DIPS = 12  # blocks: a sound may be fainter for so long
STANDING = 4.0  # energy: what is left over in another channel, over what is left over there beside the sound
LOUDER_S, OF_THE_MUSIC = 0.02, 0.5  # about a sound; of what is left over, that is not the music turned up or down


def find_clicks(known: Explained, rate_hz: int, channel: int, *, in_a_room: bool = False) -> list[Moment]:
    """Short sounds that one has; a room draws out one that was made before it, and here it is short again.

    Whose such a sound is, is told by which of the two, as it is or as it is foretold, holds the more there.
    """
    tells = not in_a_room and tells_whose(known, rate_hz)
    short, long = round(CLICK_S * rate_hz), round(BLOCK_S * rate_hz)
    parts = known.heard, known.foretold, known.left
    whole = [energies(each, long) for each in parts]
    sharp = [energies(np.diff(each, 2), short) for each in parts]
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
    music = _shared(whole, AROUND)[np.minimum(clicks * short // long, whole[2].size - 1)]
    hidden_db = np.where(smeared[1][clicks] > BARE_DB, HIDDEN_BARE_DB, HIDDEN_DB)
    clicks = clicks[sharp[2][clicks] / SHARPENED > faintest * long + 10 ** (hidden_db / 10) * music]
    found = []
    for places, block, levels, of_parts, order in (
        (pops, long, whole_db, whole, 0),
        (clicks, short, sharp_db, sharp, 2),
    ):
        foretold, source = (np.diff(each, order) for each in (known.foretold, known.source))
        for at in places:
            if of_parts[2][at] < ABRUPT * _beside(of_parts[2], int(at), round(BESIDE_S * rate_hz / block)):
                continue  # a room that rings on after a stroke
            own = bool(of_parts[0][at] > of_parts[1][at])
            if not own and not in_source(foretold, source, int(at) * block, block):
                continue  # what explains it rings ahead of a stroke, or repeats it where the music mostly does
            if _is_louder_music(known, (int(at) * block, (int(at) + 1) * block), rate_hz):
                continue  # gain that moves, as an automatic level does at first
            if only_rings(known, rate_hz, int(at) * block, (int(at) + 1) * block):
                continue
            told = abs(of_parts[0][at] - of_parts[1][at]) > TELLS * of_parts[2][at] if in_a_room else tells
            others = (own == known.of_other) if told else None
            found.append(Moment((at + 0.5) * block / rate_hz, block / rate_hz, channel, float(levels[at]), others))
    return found


def _is_louder_music(known: Explained, stretch: tuple[int, int], rate_hz: int) -> bool:
    """Whether what is left over about some frames is the same music, louder or fainter: of no sound of its own.

    By the one that is fainter there, which lacks what the other may have; by its whole and by its treble: a pop may
    look like a low note for so short a time.
    """
    spare = max(round(LOUDER_S * rate_hz) - (stretch[1] - stretch[0]), 0) // 2
    about = slice(max(stretch[0] - spare, 0), stretch[1] + spare)
    for order in (0, 2):
        left, *both = (
            np.diff(each[about].astype(np.float64), order) for each in (known.left, known.heard, known.foretold)
        )
        music = min(both, key=lambda each: float(each @ each))
        own = float(left @ left)
        if own - float(left @ music) ** 2 / max(float(music @ music), 1e-20) > OF_THE_MUSIC * own:
            return False
    return True


def whole_sounds(click: Moment, left: Sequence[Mapping[bool, Levels]], block_s: float) -> list[Moment]:
    """A click or another short sound as long as it lasts, in every channel in which it is.

    `block_s` is how long a block of `left` is: whole frames, so at 44.1 kHz a little less than elsewhere.
    """
    views = [each.get(bool(click.others), next(iter(each.values()))) for each in left]
    own, at = views[click.channel], int(click.at_s / block_s)
    if at >= own.size:
        return [click]
    loud = np.flatnonzero(
        own > max(SPREAD * float(own[max(at - 1, 0) : at + 2].max()), STANDING * float(np.median(own)))
    )
    parts = np.split(loud, np.flatnonzero(np.diff(loud) > DIPS) + 1)
    part = next((each for each in parts if each.size and each[0] <= at <= each[-1]), np.array([at]))
    first, last = int(part[0]), int(part[-1]) + 1
    beside = round(SMEARED_S / block_s)
    channels = {click.channel}
    for channel, each in enumerate(views):
        here = float(each[first:last].mean())
        around = [float(side.mean()) for side in (each[:first][-beside:], each[last:][:beside]) if side.size]
        if here > FAINTER * own[first:last].mean() and here > STANDING * max(around, default=0.0):
            channels.add(channel)
    if (last - first) * block_s >= SHORTEST_S:
        click = replace(click, at_s=(first + last) / 2 * block_s, lasts_s=(last - first) * block_s)
    return [replace(click, channel=channel) for channel in sorted(channels)]


def _beside(left: Levels, at: int, away: int) -> float:
    """What is left over a little before or after a block, whichever is less; 0 at an end."""
    before, after = left[max(at - 2 * away, 0) : max(at - away, 0)], left[at + away : at + 2 * away]
    return min(float(each.mean()) if each.size else 0.0 for each in (before, after))


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
    left, audible = parts[2], faintest_heard(parts[0])
    limits = (levels_db, LIMITS["click"].value), (smeared_db, least_db)
    found = []
    for at in np.flatnonzero(np.logical_and(*(each > least for each, least in limits))):
        alike = left > max(audible, COMPARABLE * left[at]) if left[at] > audible else left >= 0
        if all(_beyond_usual(np.where(alike, each, -HEARD_DB), float(each[at]) - OUT_DB) for each, _ in limits):
            found.append(int(at))
    return np.asarray(found, dtype=int)


def _beyond_usual(levels_db: Levels, level_db: float) -> bool:
    """Whether a level is above all that is usual among these; where a count shows it, they need no sorting."""
    below, last = int(np.count_nonzero(levels_db < level_db)), USUAL * (levels_db.size - 1)
    if below <= last or below > last + 2:  # neither of the two between which the quantile lies is on the other side
        return below > last
    return level_db > float(np.quantile(levels_db, USUAL))
