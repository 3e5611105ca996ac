"""Every cue between two clips of a passage: brought into step first, so that one cue does not show as another. Pure.

A fault is what neither recording explains of the other: what stays the same throughout, as a loudspeaker's or a room's
doing does, is the sound under test.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..clip import Clip
from ..levels.weighting import By
from ..resample import resample
from . import (
    blemishes,
    channel_delay,
    coding,
    dynamics,
    edits,
    ends,
    exchanged_midway,
    fades,
    gain_course,
    hum,
    interruptions,
    level_cues,
    moving_balance,
    noise,
    performance,
    production,
    small_jumps,
    timing,
    turned_midway,
    whine,
    width,
)
from .findings import LIMITS, Finding, finding
from .gain_course import Moments
from .moments import Moment
from .timing import Step
from .turned_midway import Turn
from .turning import Jump
from .wiring import Wiring, put_right

FOLLOWS_FROM_AN_EDIT = ("onset", "level", "length")
FOLLOWS_FROM_A_FADE = ("gain", "level")
FOLLOWS_FROM_A_TURN = ("dropout", "click")  # the moment itself; or of an exchange
OF_PEAKS = ("limiter", "clipping")
MORE_ALIKE = 1.2  # times the correlation before
SILENT = 10 ** (-90 / 20)  # no sample beyond −90 dBFS


def between(
    passage: str, setup: str, reference: Clip, other: Clip, by: By = "bs1770", *, fine: bool = False
) -> list[Finding]:
    """What gives the other away against the reference, or the reference against it; of no particular order.

    Parameters
    ----------
    by
        The measure in which levels were matched.
    fine
        Only what can be mended is looked for, offsets and drifts below their limits too.
    """
    if silent(reference) or silent(other):
        return _one_silent(passage, setup, reference, other)
    if reference.rate_hz != other.rate_hz:
        other = resample(other, reference.rate_hz)
    near = timing.nearest(reference, other)
    jumps: list[Jump] = []
    if near is not None and reference.channels == other.channels:
        jumps = edits.jumps(reference, other, near.delay_s, list(enumerate(near.order)))
        if jumps and timing.untold(reference):  # a jump by a period of single tones is none that can be told
            jumps = [each for each in jumps if abs(each.by_s) > edits.NEAR_S]
    if near is not None and jumps and _only_seem(reference, other, near):
        jumps = []
    step = timing.in_step(reference, other, near)
    if jumps and near is not None and _by_clock(reference, other, near, step):
        jumps = []
    if near is not None and jumps:
        unlike = performance.between_jumps(passage, setup, reference, other, near, jumps)
        if unlike:
            return unlike
    small = not jumps
    if near is not None and small:
        jumps = _small(reference, other, near)
    if near is not None and jumps:
        run = edits.longest_run(reference, other, near.delay_s, jumps, near.pair)
        rest: list[Finding] = []
        if run is not None:
            step = timing.in_step(run.reference, run.other)
            rest = _without_jumps(passage, setup, run.reference, run.other, step, by, fine, run.start_s)
            if small and any(each.kind == "performance" for each in rest):
                return rest
        kept = [replace(each, mend=None) for each in rest if each.kind not in FOLLOWS_FROM_AN_EDIT]
        return edits.edits(passage, setup, jumps) + kept
    return _without_jumps(passage, setup, reference, other, step, by, fine)


def _small(reference: Clip, other: Clip, near: Wiring) -> list[Jump]:
    """The one jump that a clock would hide, if there is one, in seconds of the reference."""
    if reference.channels != other.channels or timing.untold(reference):
        return []
    jump = small_jumps.small_jump(*timing.aligned(reference, other, near.delay_s), near.pair)
    if jump is None or _only_seem(reference, other, near):
        return []
    return [replace(jump, at_s=jump.at_s + max(0.0, -near.delay_s))]


def _by_clock(reference: Clip, other: Clip, near: Wiring, step: Step | None) -> bool:
    """Whether what looks like jumps is a clock that is off: without its drift all is more alike, and nothing jumps.

    A drift read off true jumps is none of them for long, so that without it less is alike than was before.
    """
    if step is None or step.drift is None or abs(step.wiring.correlation) < MORE_ALIKE * abs(near.correlation):
        return False
    return not edits.jumps(*timing.evened(reference, other, step), 0.0, list(enumerate(step.wiring.order)))


def _only_seem(reference: Clip, other: Clip, near: Wiring) -> bool:
    """Whether what looks like jumps is another thing that happens on the way."""
    return _only_turns(reference, other, near) or _only_exchanged(reference, other, near)


def _only_turns(reference: Clip, other: Clip, near: Wiring) -> bool:
    """Whether what looks like jumps is a polarity that turns: turned back, nothing jumps."""
    even = timing.aligned(reference, other, near.delay_s)
    turns = _turns(even, near, gain_course.both(*even))
    if not turns:
        return False
    upright = _turned_back(other, near, turns)
    return not edits.jumps(reference, upright, near.delay_s, list(enumerate(near.order)))


def _only_exchanged(reference: Clip, other: Clip, near: Wiring) -> bool:
    """Whether what looks like jumps are channels that change places: put right, nothing jumps."""
    found = exchanged_midway.exchange(*timing.aligned(reference, other, near.delay_s))
    if found is None:
        return False
    straight = exchanged_midway.straight(other, found, max(0.0, near.delay_s))
    return not edits.jumps(reference, straight, near.delay_s, list(enumerate(range(reference.channels))))


def silent(clip: Clip) -> bool:
    """Whether a clip holds no sound at all."""
    return float(np.abs(clip.samples).max(initial=0.0)) < SILENT


def _without_jumps(
    passage: str,
    setup: str,
    reference: Clip,
    other: Clip,
    step: Step | None,
    by: By,
    fine: bool,
    start_s: float = 0.0,
    *,
    is_faded: bool = False,
    is_upright: bool = False,
    is_straight: bool = False,
) -> list[Finding]:
    """The cues of clips of one rate of which neither jumps; `step` is how they lie in time, where that can be told.

    The reference begins `start_s` into the passage. Where one fades, the rest is asked of both faded alike
    (`is_faded`): what the fade leaves unexplained is no fault of its own. Likewise where a channel's polarity turns
    (`is_upright`), or two channels change places (`is_straight`).
    """
    apart: list[Finding] = []
    recorded = other
    if step is not None:
        apart = channel_delay.channel_delay(passage, setup, step.wiring)
        if apart:
            other = timing.channels_in_step(other, step.wiring)
        apart += timing.timing(passage, setup, reference, other, step, fine=fine)
    whole = reference, other
    first, second = timing.aligned(reference, other, 0.0 if step is None else step.wiring.delay_s)
    even = (first, second) if step is None else timing.evened(reference, other, step)
    begun_s = start_s if step is None else start_s + max(0.0, -step.wiring.delay_s)
    exchange = None if step is None or is_straight else exchanged_midway.exchange(*even)
    if step is not None and exchange is not None:
        in_place = exchanged_midway.straight(recorded, exchange, max(0.0, step.wiring.delay_s))
        rest = _without_jumps(
            passage, setup, reference, in_place, timing.in_step(reference, in_place), by, fine, start_s,
            is_faded=is_faded, is_upright=is_upright, is_straight=True,
        )  # fmt: skip
        if all(each.kind != "performance" for each in rest):
            told = [] if fine else exchanged_midway.told(passage, setup, exchange, reference.channels, begun_s)
            return told + [each for each in rest if each.kind not in FOLLOWS_FROM_A_TURN]
    spectra = None if step is None else gain_course.both(*even)
    turns = [] if step is None or is_upright else _turns(even, step.wiring, spectra)
    if step is not None and turns:
        upright, in_step = _put_upright(reference, _turned_back(recorded, step.wiring, turns))
        rest = _without_jumps(
            passage, setup, reference, upright, in_step, by, fine, start_s,
            is_faded=is_faded, is_upright=True, is_straight=is_straight,
        )  # fmt: skip
        if all(each.kind != "performance" for each in rest):  # unlike music may seem to turn
            told = (
                [] if fine else [each for turn in turns for each in turned_midway.told(passage, setup, turn, begun_s)]
            )
            return told + [each for each in rest if each.kind not in FOLLOWS_FROM_A_TURN]
    if step is not None:
        played = performance.performance(passage, setup, *even, step.wiring.pair)
        if played:  # nothing else can be compared between unlike music, and what is turned may sound unlike by that
            return played + [each for each in apart if each.kind == "polarity"]
    if fine:
        return apart + blemishes.offset(passage, setup, first, second, mending=True)
    missing = level_cues.missing(passage, setup, first, second)
    if missing:
        return apart + missing
    faded = None if step is None or is_faded else fades.fade(*even)
    if step is not None and faded is not None:
        begins_s = min(0.0, step.wiring.delay_s), -max(0.0, step.wiring.delay_s)
        both = faded.in_both(reference, other, begins_s)
        rest = _without_jumps(
            passage, setup, *both, step, by, fine, start_s,
            is_faded=True, is_upright=is_upright, is_straight=is_straight,
        )  # fmt: skip
        as_faded = fades.told(passage, setup, faded, start_s - begins_s[0])
        as_played = level_cues.overall(passage, setup, reference, other, by)
        return [as_faded, *as_played, *(each for each in rest if each.kind not in FOLLOWS_FROM_A_FADE)]
    found: list[Finding] = []
    broken: list[Moment] = []
    hums = hum.either(*even)  # its phase tells it, which goes on through what is broken; and it goes on in pauses
    if step is not None:
        found, broken = interruptions.interruptions(passage, setup, *even, step.wiring.order, begun_s, hums)
    order = () if step is None else step.wiring.order
    apart += ends.length(passage, setup, first, second, order, other.length_s - reference.length_s, hums)
    louder = True
    if broken or apart:  # what is then compared is less than was matched: it counts if it is heard as played, too
        louder = bool(level_cues.overall(passage, setup, reference, other, by))
    if broken:  # what is measured over all of it must not hang on them
        reference, other = (interruptions.left_out(each, broken) for each in (first, second))
        even = interruptions.left_out(even[0], broken), interruptions.left_out(even[1], broken)
        spectra = None if step is None else gain_course.both(*even)
    elif apart:  # else all the rest is compared as it is played, every frame of it
        reference, other = ends.without_bare_ends(first, second)
    tones = whine.either(*even)  # of what is broken nothing goes on
    rest = _of_level(passage, setup, (reference, other), even, spectra, step, by, None if broken else begun_s)
    found += apart + [each for each in rest if each.kind != "level" or louder]
    exchanged = any(each.kind == "channels" and each.unit == LIMITS["channels-swapped"].unit for each in rest)
    if exchanged and step is not None:  # the rest is asked of the same with its channels put right
        straight = _without_jumps(
            passage, setup, whole[0], *_put_right(whole[1], step), by, fine, start_s,
            is_faded=is_faded, is_upright=is_upright, is_straight=True,
        )  # fmt: skip
        return found + [each for each in straight if each.kind not in {one.kind for one in found}]
    if any(each.kind == "channels" for each in rest):  # the rest compares each channel with its own
        return [each for each in found if each.kind != "dropout"]  # a channel may be silent that mono sounds in
    found += blemishes.offset(passage, setup, reference, other)
    whines = whine.told(passage, setup, tones, hums)
    bare = whine.without((reference, other), tones if whines else ([], []))  # a tone is no band of noise
    found += noise.noise(passage, setup, *bare)
    found += hum.told(passage, setup, hums) + whines
    # what lies beyond an end is no hole
    coded = production.bandwidth(passage, setup, reference, other) or coding.coding(passage, setup, reference, other)
    if coded:  # a coder makes other peaks of the same music, higher and lower
        found = [each for each in found if each.kind not in OF_PEAKS]
    return found + coded


def _of_level(
    passage: str,
    setup: str,
    played: tuple[Clip, Clip],
    even: tuple[Clip, Clip],
    spectra: tuple[Moments, Moments] | None,
    step: Step | None,
    by: By,
    begun_s: float | None,
) -> list[Finding]:
    """Cues of level, width and gain: of the clips as they are played, and of the same without their drift.

    The latter begin `begun_s` into the passage (None: not known), and `spectra` are theirs.
    """
    if step is not None and step.wiring.turned:  # middle and side would be exchanged
        even = even[0], _upright(even[1], step.wiring)
        spectra = gain_course.both(*even)
    moves = None if spectra is None else moving_balance.apart(even, spectra)
    if moves is not None and spectra is not None:  # the rest is asked of the same without it
        even = even[0], moving_balance.without(even[1], moves)
        spectra = spectra[0], gain_course.moments(even[1].samples, even[1].rate_hz)
    wide = [] if spectra is None else width.width(passage, setup, *spectra)
    wider_db = wide[0].measured if wide else 0.0
    found = level_cues.levels(passage, setup, *played, None if step is None else step.wiring, by, wider_db, spectra)
    if step is None or any(each.kind == "channels" for each in found):
        return found
    if moves is not None:  # what it makes of the whole is not told once more
        told = moving_balance.told(passage, setup, moves, begun_s)
        found = told + [each for each in found if each.kind != moves.kind]
    if wide:
        even = even[0], width.with_width(even[1], -wider_db)
        spectra = gain_course.both(*even)
    if moves is not None and moves.part == moving_balance.SIDE:
        wide = []
    moved = dynamics.dynamics(passage, setup, even, spectra, begun_s)
    if moves is not None:  # peaks about a step may be as far down as it goes
        moved = [each for each in moved if each.kind != "limiter" or abs(each.measured) > moves.by_db]
    return found + wide + moved


def _turns(even: tuple[Clip, Clip], found: Wiring, spectra: tuple[Moments, Moments] | None) -> list[Turn]:
    """Which channels of the other, as the reference has them, turn in mid-passage; of clips with these spectra."""
    if spectra is None or even[0].channels < 2:
        return []
    if found.order != tuple(range(even[0].channels)):
        spectra = spectra[0], gain_course.moments(put_right(even[1], found).samples, even[1].rate_hz)
    return turned_midway.turns(*spectra)


def _turned_back(other: Clip, found: Wiring, turns: list[Turn]) -> Clip:
    """The other with what turns in mid-passage turned back from there on."""
    placed = [replace(each, channel=found.order[each.channel]) for each in turns]
    return turned_midway.upright(other, placed, max(0.0, found.delay_s))


def _put_upright(reference: Clip, other: Clip) -> tuple[Clip, Step | None]:
    """The other, upright, and how it lies in time: a channel that was turned and then right is turned throughout."""
    step = timing.in_step(reference, other)
    if step is None or not step.wiring.turned:
        return other, step
    other = _upright(other, step.wiring)
    return other, timing.in_step(reference, other)


def _put_right(other: Clip, step: Step) -> tuple[Clip, Step]:
    """The other, its channels in step, with each where the reference has it, and how it then lies in time."""
    found, straight = step.wiring, tuple(range(len(step.wiring.order)))
    pair = found.pair[0], found.order.index(found.pair[1])
    order = replace(found, order=straight, better=0.0, pair=pair, skews_s=(0.0,) * len(straight))
    return put_right(other, found), replace(step, wiring=order)


def _upright(other: Clip, found: Wiring) -> Clip:
    """The other with no channel's polarity turned against the others'. For measuring only."""
    samples = other.samples.copy()
    samples[:, [found.order[place] for place in found.turned]] *= -1
    return Clip(samples, other.rate_hz)


def _one_silent(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    if silent(reference) == silent(other):
        return []
    who = f"{setup} is silent" if silent(other) else f"{setup} sounds where the reference is silent"
    peaks = (max(float(np.abs(clip.samples).max(initial=0.0)), 1e-10) for clip in (reference, other))
    one, two = peaks
    return [finding("channels-missing", setup, passage, abs(20 * float(np.log10(two / one))), who)]
