"""What cannot be judged between recordings in rooms, and how far from its limit it could: sentences for people. Pure.

A room fills the side, moves each channel's bands by chance and adds to peaks what no short filter predicts. The
checks then hold back; that is said, so that a clean check is not taken for more than it is.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..clip import Clip
from . import gain_course, level_cues, peaks, width
from .findings import LIMITS
from .pair import silent

LONG_ENOUGH_S = 3.0


def unjudged(passage: str, clips: Mapping[str, Clip]) -> list[str]:
    """What was given up between the first of a passage's clips and each other; of clips in step."""
    reference, *others = clips
    notes = []
    for name in others:
        what = _given_up(clips[reference], clips[name])
        if what:
            notes.append(
                f"{passage}: between {reference} and {name} {', '.join(what)} could not be judged: what lies between "
                "them is no short filter that stays (rooms? a compressor?) and hides it; it takes recordings without"
            )
    return notes


def _given_up(reference: Clip, other: Clip) -> list[str]:
    alike = reference.rate_hz == other.rate_hz and reference.channels == other.channels
    if not alike or silent(reference) or silent(other) or min(reference.length_s, other.length_s) < LONG_ENOUGH_S:
        return []
    frames = min(reference.frames, other.frames)
    reference, other = (Clip(clip.samples[:frames], clip.rate_hz) for clip in (reference, other))
    what = []
    spectra = gain_course.both(reference, other)
    if spectra is not None and width.scatter_db(*spectra) > LIMITS["width"].value:
        what.append("width")
    balance = level_cues.balance(reference, other)
    if balance is not None and not balance.is_judged:
        what.append(f"a balance less than {balance.hides_db:.1f} dB off")
    hidden_db = peaks.hidden_db(reference, other)
    if hidden_db > LIMITS["limiter"].value:
        far = f" that hold peaks down by less than {hidden_db:.1f} dB" if np.isfinite(hidden_db) else ""
        what.append(f"limiters and clipping under other processing{far}")
    return what
