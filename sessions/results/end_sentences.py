"""Ends of the chain, seals and a casebook's age in plain sentences. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from ..casebook.session_counters import Age
from ..casebook.session_ends import SessionEnd
from ..casebook.witness_rows import Witness
from ..plans.plan_rows import SealedPlan
from .seen_ends import TURNS, SeenEnd


def shown(one: SessionEnd) -> list[str]:
    """What stands beside the end of the chain that a session shows: the code, and what it is good for."""
    protects = "With it they can find whether the answers so far were changed later, or an older copy was put back."
    if one.what == "begun":
        protects = "It shows how the record began; answers are protected by the end shown after them, so keep that too."
    return [
        f"End of the record: {one.end.code}",
        f"{one.listener}'s session {TURNS[one.what]}, {one.at}.",
        "Film it, or send it to somebody: it only proves something if someone else keeps it.",
        protects,
    ]


def age(seen: Age) -> str:
    """What a casebook has seen."""
    boots = "" if not seen.boots else f"{_counted(seen.boots, 'boot')}, "
    return f"{_counted(seen.sessions, 'session')} begun, {boots}clock set back {_counted(seen.clock_steps, 'time')}"


def found(one: SeenEnd) -> str:
    """Where a kept end lies, or that it is not there."""
    note = f" ({one.note})" if one.note else ""
    return f"{one.code}{note}: {'' if one.there else 'NOT IN THIS RECORD: '}{one.says}."


def post(sealed: SealedPlan) -> str:
    """A seal in one line that can be posted as it is."""
    plan = sealed.plan
    return (
        f"Sealed {sealed.at[:10]} by {plan.document['operator']}: plan {plan.name}, "
        f"seal {sealed.seal} (earwitness, rule {plan.document['rule']})"
    )


def seal_published(witnesses: Sequence[Witness]) -> str:
    """Whether a plan's seal was said to be published."""
    if not witnesses:
        return "Nobody has noted that its seal was published."
    return f"Its seal was said to be published: {_who(witnesses)}."


def ends_published(ends: Sequence[SessionEnd], witnesses: Sequence[Witness]) -> str:
    """How many of the ends that the sessions of a plan showed were said to be published."""
    codes = {str(one.end.code) for one in ends}
    said = [one for one in witnesses if one.what == "end" and one.code in codes]
    if not ends:
        return "No session has shown an end of the record yet."
    many = f"{len({one.code for one in said})} of {_counted(len(ends), 'end')} said to be published"
    if not said:
        return f"{many}: the file alone does not show whether it was written anew since, or put back."
    return f"{many}: {_who(said)}. Whoever kept one can check it with: earwitness verify --saw CODE"


def _who(witnesses: Sequence[Witness]) -> str:
    return "; ".join(f"{one.by} (noted {one.at[:16].replace('T', ' ')})" for one in witnesses)


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
