"""How an effect in a band, and from which on it is noticed, are told. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from math import isinf

from ..measured.word_thresholds import AudibleFrom

UNREPEATED_DB = 0.5  # so near to its threshold an effect of curves without repeats decides nothing; our own rule
TOLD_WITHIN_DB = 0.05  # what is told with one decimal is known no better
OTHER = {"more": "less", "less": "more"}


def gives(own: float, says: str, of: str, other: str) -> str:
    """How much of it one setup gives beside the other; what is told as 0.0 dB has no side."""
    if abs(own) < TOLD_WITHIN_DB:
        return f"{of} gives as much there as {other} (0.0 dB apart)"
    return f"{of} gives {abs(own):.1f} dB {says if own >= 0 else OTHER[says]} there than {other}"


def noticed(least: AudibleFrom, listeners: Sequence[str]) -> str:
    """From which effect on it is heard, with its interval where it has one, and whose it is."""
    if not least.own:
        return f"{least.high_db:.1f} dB can be heard, as published"
    whose = f"{least.whose}'s own threshold"
    if len(listeners) > 1:
        whose += f" (the largest of {', '.join(listeners)})"
    if least.db is None and isinf(least.high_db) and least.low_db > 0:
        return f"up to {least.low_db:.1f} dB {whose} was not reached"
    middle = "lies in an interval" if least.db is None else f"is {least.db:.1f} dB, its interval"
    return f"{whose} {middle} {_interval(least)}"


def _interval(least: AudibleFrom) -> str:
    """Its two ends; one that is open is said to be."""
    if isinf(least.high_db):
        return f"from {least.low_db:.1f} dB on, open above" if least.low_db > 0 else "open on both sides"
    if least.low_db > 0:
        return f"{least.low_db:.1f} to {least.high_db:.1f} dB"
    return f"up to {least.high_db:.1f} dB, open below"


def undecided(own: float, least: AudibleFrom, *, repeated: bool) -> str:
    """Why an effect and its threshold are too near to each other."""
    rule = f"{UNREPEATED_DB:g} dB of it (our own rule for curves without repeats)"
    if not least.own:
        return f"which lies within {'that uncertainty' if repeated else rule}"
    if least.db is None and isinf(least.high_db) and least.low_db > 0:
        return f"and what was measured is {'more' if own >= least.low_db else 'not plainly less'} than that"
    if least.low_db <= own < least.high_db:
        return "and what was measured lies within that interval, so that it may be noticed or not"
    if repeated:
        return "and the uncertainty of what was measured reaches into that interval"
    return f"and what was measured lies outside of that interval, but within {rule}"
