"""What cannot be judged between two recordings: sentences for people. Pure.

A room fills the side, moves each channel's bands by chance and adds to peaks what no short filter predicts; so do gain
that moves, hum and a coder. The checks then hold back; that is said, so that a clean check is not taken for more than
it is. Why they hold back is not said, since that is not known.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from ..clip import Clip
from . import filter_residual, gain_course, hum, interruptions, level_cues, noise, peaks, width
from .findings import LIMITS
from .pair import silent
from .wiring import Wiring, put_right, wiring

LONG_ENOUGH_S = 3.0
NEAR_S = 0.1  # of clips in step
NOISE_IN_A_ROOM_DBFS = -55.0  # found in all rooms of 0.3 s, of -60 dBFS in 26 of 28, where music moves
FAINT_NOISE_DBFS = -75.0  # A-weighted
FAINT_HUM_DBFS = -80.0  # A-weighted: what hides no more than that hides none that is heard at a usual level
HEARD_SIDE_DB = -30.0  # against the middle; our choice: a fainter one is hardly a width
OF_CODERS = frozenset({"coding", "format"})
OF_MOMENTS = "dropout", "click"  # kinds: that one was found tells nothing of others

LOSSY = (
    "a file that was coded lossily (MP3, AAC) can pass this check, even one of 64 kbit/s: bring recordings of both "
    "setups that never were, and look where the treble of each file ends"
)


def unjudged(passage: str, clips: Mapping[str, Clip], found: Collection[str] = ()) -> list[str]:
    """What was given up between the first of a passage's clips and each other; of clips in step.

    `found` are the kinds of giveaways that were found between them: of a noise or hum that is told, it is not said that
    one so faint could not be judged.
    """
    reference, *others = clips
    notes = []
    for name in others:
        what = _given_up(clips[reference], clips[name], found)
        if what:
            notes.append(
                f"{passage}: between {reference} and {name} {', '.join(what)} could not be judged; that nothing is "
                "said of it does not mean that they are alike in it"
            )
    return notes


def _given_up(reference: Clip, other: Clip, found: Collection[str]) -> list[str]:
    alike = reference.rate_hz == other.rate_hz and reference.channels == other.channels
    if not alike or silent(reference) or silent(other) or min(reference.length_s, other.length_s) < LONG_ENOUGH_S:
        return []
    frames = min(reference.frames, other.frames)
    reference, other = (Clip(clip.samples[:frames], clip.rate_hz) for clip in (reference, other))
    wired = wiring(reference, other, 0.0, NEAR_S)
    what = _of_channels(wired)
    if wired is not None and level_cues.exchanged(reference, other, wired):  # the rest is judged of them put right
        other = put_right(other, wired)
    spectra = gain_course.both(reference, other)
    if spectra is not None and "width" not in found and _width_hidden(*spectra):
        what.append("width")
    balance = level_cues.balance_as_found(reference, other, spectra)
    if balance is not None and not balance.is_judged:
        what.append(f"a balance less than {balance.hides_db:.1f} dB off")
    if peaks.hidden(reference, other):
        what.append("limiters and clipping under other processing")
    in_a_room = filter_residual.is_in_a_room(reference.samples[:, 0], other.samples[:, 0], reference.rate_hz)
    if in_a_room:
        what.append("pumping")
    noise_db = noise.hides_db(reference, other)
    is_faint = in_a_room or (noise_db is not None and noise_db > FAINT_NOISE_DBFS)
    if is_faint and "noise-floor" not in found:
        level_db = max(NOISE_IN_A_ROOM_DBFS if in_a_room else FAINT_NOISE_DBFS, noise_db or FAINT_NOISE_DBFS)
        what.append(f"steady noise fainter than {level_db:.0f} dBFS (A-weighted)")
    hidden_db = hum.hides_db(reference, other)
    if hidden_db is not None and hidden_db > FAINT_HUM_DBFS and "hum" not in found:
        what.append(f"hum fainter than {hidden_db:.0f} dBFS (A-weighted)")
    if in_a_room and OF_CODERS.isdisjoint(found):
        what.append("lossy coding (MP3, AAC)")
    if in_a_room:
        shortest_s, first_s = interruptions.SHORTEST_IN_A_ROOM_S, interruptions.DECAY_S
        further = "" if set(found).isdisjoint(OF_MOMENTS) else "further "
        what.append(f"{further}silences, gaps and clicks shorter than {shortest_s} s or in its first {first_s} s")
    return what


def _width_hidden(reference: gain_course.Moments, other: gain_course.Moments) -> bool:
    """Whether another width may not show: by what a room makes of it, or as too little of the side tells it."""
    if width.scatter_db(reference, other) > LIMITS["width"].value:
        return True
    if max(reference.channel.max(initial=0), other.channel.max(initial=0)) != 1:
        return False
    return width.width_db(reference, other) is None and max(map(_side_db, (reference, other))) > HEARD_SIDE_DB


def _side_db(clip: gain_course.Moments) -> float:
    """How loud the side is against the middle."""
    middle, side = (float(np.sum(np.square(np.abs(each)))) for each in width.middle_and_side(clip))
    return 10 * float(np.log10(max(side, 1e-20) / max(middle, 1e-20)))


def _of_channels(found: Wiring | None) -> list[str]:
    """What is not known of polarity, order and delay of the channels."""
    if found is None:
        return []
    what = []
    told = found.turned or found.correlation <= LIMITS["polarity"].value
    if not told and (found.correlation < 0 or not found.polarity_judged):
        what.append("polarity")
    if not found.order_judged:
        what.append("exchanged channels")
    if not found.delays_judged:
        what.append("a delay between channels")
    if not (found.delay_told and (found.delays_judged or found.agree)):
        what.append("an offset of all of them")
    return what
