"""The verdict on a plan: heard / not shown / void, always with its numbers. Pure: a record in, a verdict out.

A plan that is still running has no verdict and shows no score, to anyone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stats import intervals

from ..plans import randomisation, trial_keys
from ..plans.plan import Plan, void_reasons
from . import discrimination, paired_comparison, ratings, supplementary
from .answers import sheets
from .outcome import ListenerCount, plain_interval

HEARD, NOT_SHOWN, VOID = "heard", "not shown", "void"
FAMILIES = {"count": discrimination.found, "grades": ratings.found, "pairs": paired_comparison.found}


@dataclass(frozen=True)
class Verdict:
    """What a plan came to. Numbers are None while the plan is running."""

    plan: Plan
    verdict: str | None
    state: str
    void_reasons: list[str]
    trials: int
    answered: int
    correct: int | None = None
    p_value: float | None = None
    interval: intervals.Interval | None = None
    d_prime: float | None = None
    allowed: float | None = None
    listeners: list[ListenerCount] = field(default_factory=list)
    rehearsal: bool = False
    preferred: str | None = None
    analysis: dict[str, Any] = field(default_factory=dict)
    beside: dict[str, Any] = field(default_factory=dict)
    together: dict[str, Any] = field(default_factory=dict)

    def to_document(self) -> dict[str, Any]:
        """The verdict as the command line prints it."""
        return {
            "plan": self.plan.name,
            "method": self.plan.method.name,
            "verdict": self.verdict,
            "state": self.state,
            "void_reasons": self.void_reasons,
            "trials": self.trials,
            "answered": self.answered,
            "correct": self.correct,
            "p_value": self.p_value,
            "alpha": self.plan.alpha,
            "critical": self.plan.criterion,
            "interval": None if self.interval is None else plain_interval(self.interval),
            "d_prime": self.d_prime,
            "largest_difference_allowed": self.allowed,
            "power_planned": float(self.plan.document["power"]),
            "effect_planned": float(self.plan.document["effect"]),
            "preferred": self.preferred,
            "listeners": [
                {
                    "listener": part.listener,
                    "trials": part.trials,
                    "answered": part.answered,
                    "correct": part.correct,
                    "p_value": part.p_value,
                }
                for part in self.listeners
            ],
            "rehearsal": self.rehearsal,
            "blinding": self.plan.blinding,
            "primary": self.plan.primary,
            "analysis": self.analysis,
            "beside": self.beside,
            "together": self.together,
        }


def judge(record: Mapping[str, Any], *, broken: list[str] | None = None) -> Verdict:
    """The verdict that a record supports.

    Parameters
    ----------
    record
        As `record.record` makes it.
    broken
        What `verify` found wrong with the casebook, if it was asked; each makes the verdict void.

    Notes
    -----
    Where answers are right or wrong `correct` counts the right ones; for preference it counts choices of the plan's
    first setup. Trials that were planned and not answered count as wrong (in a preference: for the less preferred
    setup), so that ending a session early can never help. Each session of a rehearsal is a repetition of its own; the
    newest one is judged.
    """
    plan = Plan.from_text(record["plan"])
    rehearsal = bool(record["rehearsal"])
    sessions = list(record["sessions"])
    if rehearsal:
        sessions = sessions[-1:]
    planned = plan.trials if rehearsal else plan.total_trials
    if not _over(plan, record, sessions):
        state = "running" if sessions else "not begun"
        answered = sum(session["answered"] for session in sessions)
        return Verdict(plan, None, state, [], planned, answered, rehearsal=rehearsal)
    answers = sheets(plan, sessions)
    found = FAMILIES[plan.method.family](plan, answers, planned)
    reasons = void_reasons(plan) + list(broken or []) + found.void
    if not rehearsal:
        reasons += key_faults(record)
    return Verdict(
        plan=plan,
        verdict=VOID if reasons else HEARD if found.reached else NOT_SHOWN,
        state="complete" if found.complete else "closed early",
        void_reasons=reasons,
        trials=found.trials,
        answered=found.answered,
        correct=found.correct,
        p_value=found.p_value,
        interval=found.interval,
        d_prime=found.d_prime,
        allowed=found.allowed,
        listeners=found.listeners,
        rehearsal=rehearsal,
        preferred=found.preferred,
        analysis=found.analysis,
        beside=supplementary.gathered(plan, answers, found),
    )


def _over(plan: Plan, record: Mapping[str, Any], sessions: list[Any]) -> bool:
    if not record["rehearsal"]:
        return record["secret"] is not None
    return bool(sessions) and any(mark["what"] == "complete" for mark in sessions[-1]["marks"])


def key_faults(record: Mapping[str, Any]) -> list[str]:
    """What does not fit between an opened record's seal, secret and trials; empty when all of it does."""
    plan = Plan.from_text(record["plan"])
    secret = bytes.fromhex(record["secret"])
    found = []
    if randomisation.seal(secret, record["plan"]) != record["seal"]:
        found.append("the plan and its secret do not give the seal")
    for session in record["sessions"]:
        for trial in session["trials"]:
            listener, number, offer = session["listener"], trial["trial"], trial["offer"]
            if trial_keys.key(plan.document, secret, listener, number, offer) != trial["key"]:
                found.append(
                    f"trial {number} (offer {offer}) of {session['listener_name']} has another key than its coin"
                )
            place = trial_keys.passage_index(secret, listener, number, len(plan.passages))
            if plan.passages[place].id != trial["passage"]:
                found.append(f"trial {number} of {session['listener_name']} played another passage than its coin")
    return found
