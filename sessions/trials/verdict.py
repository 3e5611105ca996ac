"""The verdict on a plan: heard / not shown / void, always with its numbers. Pure: a record in, a verdict out.

A plan that is still running has no verdict and shows no score, to anyone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stats import allowance, binomial, intervals, tally

from . import coins, methods
from .plan import Plan, void_reasons

HEARD, NOT_SHOWN, VOID = "heard", "not shown", "void"


@dataclass(frozen=True)
class ListenerCount:
    """One listener's part: planned and answered trials, the count that matters, its p-value; exploratory."""

    listener: str
    trials: int
    answered: int
    correct: int
    p_value: float


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

    def to_document(self) -> dict[str, Any]:
        """The verdict as the command line prints it."""
        interval = self.interval
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
            "interval": None
            if interval is None
            else {"level": interval.level, "low": interval.low, "high": interval.high, "kind": interval.kind},
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
    For ABX `correct` counts right answers; for preference it counts choices of the plan's first setup. Trials that were
    planned and not answered count as wrong (in a preference: for the less preferred setup), so that ending a session
    early can never help. Each session of a rehearsal is a repetition of its own; the newest one is judged.
    """
    plan = Plan.from_text(record["plan"])
    rehearsal = bool(record["rehearsal"])
    sessions = list(record["sessions"])
    if rehearsal:
        sessions = sessions[-1:]
    answered = sum(session["answered"] for session in sessions)
    planned = plan.trials if rehearsal else plan.total_trials
    complete = answered == planned
    over = complete if rehearsal else record["secret"] is not None
    if not over:
        state = "running" if sessions else "not begun"
        return Verdict(plan, None, state, [], planned, answered, rehearsal=rehearsal)
    reasons = void_reasons(plan) + list(broken or [])
    if not rehearsal:
        reasons += key_faults(record)
    count = sum(_count(plan, session) for session in sessions)
    if plan.method.name == methods.PREFERENCE.name and count > answered - count:
        counted = count  # unanswered trials go to the other setup
    elif plan.method.name == methods.PREFERENCE.name:
        counted = count + (planned - answered)
    else:
        counted = count
    test = binomial.binomial_test(counted, planned, alternative=plan.method.alternative)
    criterion = binomial.critical(planned, plan.alpha, alternative=plan.method.alternative)
    reached = criterion is not None and _for_criterion(plan, counted, planned) >= criterion
    verdict = VOID if reasons else HEARD if reached else NOT_SHOWN
    parts = [_listener(plan, session) for session in sessions]
    return Verdict(
        plan=plan,
        verdict=verdict,
        state="complete" if complete else "closed early",
        void_reasons=reasons,
        trials=planned,
        answered=answered,
        correct=counted,
        p_value=test.p_value,
        interval=intervals.clopper_pearson(counted, planned),
        d_prime=tally.signed_d_prime(plan.method.name, counted, planned),
        allowed=allowance.largest_difference(counted, planned) if plan.method is methods.ABX else None,
        listeners=parts,
        rehearsal=rehearsal,
        preferred=_preferred(plan, counted, planned) if reached else None,
    )


def key_faults(record: Mapping[str, Any]) -> list[str]:
    """What does not fit between an opened record's seal, secret and trials; empty when all of it does."""
    plan = Plan.from_text(record["plan"])
    secret = bytes.fromhex(record["secret"])
    found = []
    if coins.seal(secret, record["plan"]) != record["seal"]:
        found.append("the plan and its secret do not give the seal")
    for session in record["sessions"]:
        for trial in session["trials"]:
            listener, number, offer = session["listener"], trial["trial"], trial["offer"]
            if methods.key(plan.method.name, secret, listener, number, offer) != trial["key"]:
                found.append(
                    f"trial {number} (offer {offer}) of {session['listener_name']} has another key than its coin"
                )
            place = methods.passage_index(secret, listener, number, len(plan.passages))
            if plan.passages[place]["passage"] != trial["passage"]:
                found.append(f"trial {number} of {session['listener_name']} played another passage than its coin")
    return found


def _count(plan: Plan, session: Mapping[str, Any]) -> int:
    return sum(
        methods.score(plan.method.name, trial["key"], trial["answer"])
        for trial in session["trials"]
        if trial["answer"] is not None
    )


def _listener(plan: Plan, session: Mapping[str, Any]) -> ListenerCount:
    count, answered = _count(plan, session), session["answered"]
    p_value = binomial.binomial_test(count, plan.trials, alternative=plan.method.alternative).p_value
    return ListenerCount(session["listener_name"], plan.trials, answered, count, p_value)


def _for_criterion(plan: Plan, counted: int, planned: int) -> int:
    return counted if plan.method.alternative == "greater" else max(counted, planned - counted)


def _preferred(plan: Plan, counted: int, planned: int) -> str | None:
    if plan.method.name != methods.PREFERENCE.name:
        return None
    return str(plan.setups[0 if 2 * counted > planned else 1]["name"])
