"""Ends of the chain, seals and a casebook's age in plain sentences. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from ..casebook.session_counters import Age
from ..casebook.session_ends import CLOSED, ShownEnd
from ..casebook.witness_rows import Witness
from ..plans.plan_rows import SealedPlan
from ..plans.standing_words import counted, to_the_minute
from .seen_ends import TURNS, SeenEnd

SEAL_PROVES = (
    "The seal shows whoever got it that the plan, and the key (the order in which things are played), were fixed "
    "then and not changed since. It does not protect the answers: the code shown after each session does, once "
    "somebody else has it. Neither shows that the person at this machine did not look."
)
PUBLISH = "Publish this before the first trial; only publishing dates a seal, for a clock can be set back:"


def when(one: ShownEnd) -> str:
    """At which turn an end was shown."""
    return "the plan was closed early" if one.what == CLOSED else f"the session of {one.listener} {TURNS[one.what]}"


def shown(one: ShownEnd) -> list[str]:
    """What stands beside the end of the chain that a session or a closing shows: the code, and what it is good for."""
    protects = "With it they can find whether the answers so far were changed later, or an older copy was put back."
    if one.what in ("begun", "taken up"):
        protects = (
            "It protects what was recorded until now. The answers to come are protected by the end shown after them."
        )
    elif one.what == CLOSED:
        protects = (
            "The key is told now. With it they can find whether a copy from before was put back and answered by that "
            "key, or the answers were changed."
        )
    turn = when(one)
    return [
        f"End of the record so far: {one.end.code}",
        f"{turn[0].upper()}{turn[1:]}, {one.at}.",
        "Film it, or send the code to somebody: it only proves something if someone else keeps it.",
        protects,
    ]


def to_type(one: ShownEnd) -> str:
    """The commands by which it is noted who has that end, and by which it is looked for."""
    return (
        f"Who has it: earwitness witness {one.end.code} --by WHO. To look for it later: earwitness verify --saw CODE."
    )


def age(seen: Age) -> str:
    """What a casebook has seen."""
    boots = "" if not seen.boots else f"{counted(seen.boots, 'boot')}, "
    return f"{counted(seen.sessions, 'session')} begun, {boots}clock set back {counted(seen.clock_steps, 'time')}"


def found(one: SeenEnd) -> str:
    """Where a kept end lies, or that it is not there."""
    note = f" ({one.note})" if one.note else ""
    return f"{one.code}{note}: {'' if one.there else 'NOT IN THIS RECORD: '}{one.says}."


def post(sealed: SealedPlan, *, at_desk: bool = False) -> str:
    """A seal as it can be posted; its code is the last word, so that no narrow page breaks it.

    Parameters
    ----------
    at_desk
        Whoever listens is typed there by who works the desk: who sealed it is named where it is somebody else.
    """
    plan = sealed.plan
    by = "" if at_desk and plan.document.get("operator_listens", False) else f" by {plan.document['operator']}"
    return (
        f"Sealed {sealed.at[:10]}{by}: plan {plan.name} (earwitness, rule {plan.document['rule']}), seal {sealed.seal}"
    )


def seal_published(witnesses: Sequence[Witness]) -> str:
    """Whether a plan's seal was said to be published."""
    if not witnesses:
        return "Nobody has noted that its seal was published."
    return f"Its seal was said to be published: {_who(witnesses)}."


def ends_published(ends: Sequence[ShownEnd], witnesses: Sequence[Witness], answers: Sequence[int]) -> str:
    """How many of the ends that a plan's sessions and its closing showed were said to be published, and what they hold.

    Parameters
    ----------
    answers
        The places in the chain of the plan's answers, in their order.
    """
    codes = {str(one.end.code): one.end.code.rows for one in ends}
    said = [one for one in witnesses if one.what == "end" and one.code in codes]
    if not ends:
        return "No session has shown an end of the record yet."
    many = f"{len({one.code for one in said})} of {counted(len(ends), 'end')} said to be published"
    if not said:
        return f"{many}: the file alone does not show whether it was written anew since, or put back."
    published = {codes[one.code] for one in said}
    late = sum(not answers or row > answers[-1] for row in published)
    after = f", {late} of them from after the last answer" if answers else ""
    check = "Whoever kept one can check it with: earwitness verify --saw CODE"
    return f"{many}{after}: {_who(said)}.{'' if late else _unprotected(max(published), answers)} {check}"


def _unprotected(newest: int, answers: Sequence[int]) -> str:
    """What the newest published end leaves open where it is from before the last answer."""
    before = sum(row < newest for row in answers)
    if not before:
        return " So none of them protects the answers: those can have been written anew, or given again, since."
    return f" So only the first {before} of {len(answers)} answers are protected, the later ones by none of them."


def _who(witnesses: Sequence[Witness]) -> str:
    return "; ".join(f"{one.by} (noted {to_the_minute(one.at)})" for one in witnesses)
