"""The captions of a soundtrack as WebVTT, and its moments as video descriptions take them. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from audio import track_time

from ..report import timed_text
from .soundtrack import Cue


def webvtt(cues: Sequence[Cue], rate_hz: int) -> str:
    """The captions, one cue for each thing that is heard."""
    return timed_text.webvtt(
        timed_text.cue(f"{number}", round(1000 * cue.start / rate_hz), round(1000 * cue.end / rate_hz), [cue.words])
        for number, cue in enumerate(cues, start=1)
    )


def moments(cues: Sequence[Cue], rate_hz: int) -> list[str]:
    """Where each trial begins, counted from the start of the soundtrack: ``0:01 Trial 1 of 8``."""
    first: dict[int, Cue] = {}
    for cue in cues:
        first.setdefault(cue.trial, cue)
    return [f"{track_time.told(cue.start // rate_hz)} {cue.words}" for cue in first.values()]
