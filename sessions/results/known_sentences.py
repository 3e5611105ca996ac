"""What a plan's known difference says of its result, in plain sentences. Pure."""

from __future__ import annotations

from .known_differences import KnownReading
from .supplementary_sentences import p_is
from .verdict import Verdict


def heard(verdict: Verdict) -> list[str]:
    """How often it was heard; nothing where there is none, or none was answered."""
    found = _reading(verdict)
    if found is None or found.interval is None:
        return []
    trials = "1 trial" if found.answered == 1 else f"{found.answered} trials"
    missing = found.planned - found.answered
    of_planned = f", of {found.planned} planned" if missing else ""
    several = len(found.listeners) > 1
    when = "in the same sessions" if several else "that evening"
    listeners = ", ".join(f"{one.listener} {one.heard} of {one.answered}" for one in found.listeners)
    by_listener = f"; by listener: {listeners}" if several else ""
    return [
        f"Through the same chain {when} {found.what} was heard in {found.heard} of {trials}{of_planned} (95 % exact "
        f"interval {found.interval.low:.2f} to {found.interval.high:.2f}; {found.chance:.2g} by guessing){by_listener}."
    ]


def worth(verdict: Verdict) -> list[str]:
    """What a "not shown" is worth; nothing of methods that could have no known difference."""
    found = _reading(verdict)
    if not verdict.plan.method.known_possible or (verdict.rehearsal and found is None):
        return []  # of a rehearsal nobody asks what its listener could have heard
    if found is None or found.p_value is None:
        why = "no known difference in the plan" if found is None else "no known difference was answered"
        return [f"Whether this listener, chain and evening could have shown a difference was not tested ({why})."]
    if found.shown:
        return [
            f"The known difference was heard more often than guessing explains ({p_is(found.p_value)}), so that a "
            "difference like it was within hearing."
        ]
    return [
        f"The known difference was not heard more often than guessing explains ({p_is(found.p_value)}), so "
        '"not shown" says little.'
    ]


def _reading(verdict: Verdict) -> KnownReading | None:
    return None if verdict.beside is None else verdict.beside.known
