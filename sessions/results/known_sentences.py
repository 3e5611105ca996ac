"""What a plan's known difference says of its result, in plain sentences. Pure."""

from __future__ import annotations

from .known_differences import KnownReading, SaidDifferent
from .supplementary_sentences import p_is
from .verdict import Verdict


def heard(verdict: Verdict) -> list[str]:
    """How often it was answered rightly, which guessing does too; nothing where there is none, or none was answered."""
    found = _reading(verdict)
    if found is None or found.interval is None:
        return []
    trials = "1 trial" if found.answered == 1 else f"{found.answered} trials"
    missing = found.planned - found.answered
    of_planned = f", of {found.planned} planned" if missing else ""
    listeners = ", ".join(f"{one.listener}: {one.right} of {one.answered}" for one in found.listeners)
    by_listener = f"; by listener: {listeners}" if len(verdict.plan.listeners) > 1 and not verdict.rehearsal else ""
    where = "" if found.said_different is None else ", in one of the two or in both,"
    return [
        f"Through the same chain in the same sessions {found.what}{where} was answered rightly in {found.right} of "
        f"{trials}{of_planned} (95 % exact interval {found.interval.low:.2f} to {found.interval.high:.2f}; "
        f"{found.chance:.2g} by guessing){by_listener}{_cells(found.said_different)}."
    ]


def _cells(said: SaidDifferent | None) -> str:
    """Where "same" can be right, what was said to which of them: who never says "different" has heard nothing."""
    if said is None:
        return ""
    parts = []
    if said.different_trials:
        parts.append(f"in {said.hits} of the {said.different_trials} that differed")
    if said.same_trials:
        parts.append(f"in {said.false_alarms} of the {said.same_trials} that were the same")
    return f'; "different" was said {" and ".join(parts)}'


def worth(verdict: Verdict) -> list[str]:
    """What a "not shown" is worth; nothing of methods that could have no known difference."""
    found = _reading(verdict)
    if not verdict.plan.method.known_possible or (verdict.rehearsal and found is None):
        return []  # of a rehearsal nobody asks what its listener could have heard
    if found is None or found.p_value is None:
        why = "no known difference in the plan" if found is None else "no known difference was answered"
        return [f"Whether a difference could have been shown in these sessions was not tested ({why})."]
    explained = f"answered rightly more often than guessing explains ({p_is(found.p_value)})"
    if found.shown:
        return [f"The known difference was {explained}, so that a difference like it was within hearing."]
    return [f'The known difference was not {explained}, so "not shown" says little.']


def _reading(verdict: Verdict) -> KnownReading | None:
    return None if verdict.beside is None else verdict.beside.known
