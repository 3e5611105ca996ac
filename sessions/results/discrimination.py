"""The planned test of methods whose answers are counted: fixed or sequential, with or without ties. Pure.

A plan of fixed length that was closed early is told by what holds whichever way its missing trials could have gone
(`stats.closed_early`); a sequential plan that was closed before its boundaries said so has no test at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stats import binomial, closed_early, count_summary, preference
from stats.count_summary import HEARD
from stats.preference import PreferenceCounts
from stats.same_different import SameDifferent

from ..plans.plan import Plan
from ..plans.planned_test import E_PROCESS, NO_TIES
from .answers import SessionAnswers, scores
from .outcome import CouldHaveBeen, Discrimination, ListenerResult, SequentialEnd


def analyse(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> Discrimination:
    """What the planned test found; `planned` trials of all these sessions together."""
    if plan.sequential is not None:
        return _sequential(plan, sessions)
    answered = sum(len(session.counted) for session in sessions)
    ties = sum(session.ties for session in sessions)
    first = sum(sum(scores(plan, session.chosen)) for session in sessions)
    counts = after_ties(plan, first, answered - ties - first, ties)
    found = Discrimination(
        reached=None,
        complete=answered == planned,
        p_value=None,
        trials=counts.trials,
        answered=answered,
        listeners=tuple(_listener(plan, session) for session in sessions),
        correct=counts.for_first,
        counted=counts.trials,
        same_different=_cells(plan, sessions),
        ties=None if plan.ties == NO_TIES else ties,
        ties_policy=plan.ties,
        choices=(first, answered - ties - first),
    )
    if not found.complete:
        return _closed_early(plan, found, first, answered - ties - first, ties, planned)
    if not counts.trials:  # every answer was a tie, and all of them are left out
        return replace(found, reached=False, p_value=1.0)
    return _whole(plan, found)


def after_ties(plan: Plan, first: int, second: int, ties: int) -> PreferenceCounts:
    """The count and the trials that enter the test."""
    return preference.with_ties(first, second, ties, plan.ties, plan.alternative)


def _whole(plan: Plan, found: Discrimination) -> Discrimination:
    """All trials answered: the exact test of the count."""
    whole = count_summary.summarise(plan.method.name, found.correct, found.trials, plan.alpha, plan.alternative)
    reached = whole.verdict == HEARD
    return replace(
        found,
        reached=reached,
        p_value=whole.p_value,
        criterion=whole.critical,
        interval=whole.interval,
        d_prime=whole.d_prime,
        d_prime_differencing=whole.d_prime_differencing,
        gives_differencing=plan.counted.gives_differencing,
        largest_difference=whole.largest_difference,
        preferred=_preferred(plan, 2 * found.correct > found.trials) if reached else None,
    )


def _closed_early(
    plan: Plan, found: Discrimination, first: int, second: int, ties: int, planned: int
) -> Discrimination:
    """Trials are missing: what every way in which they could have gone has in common."""
    missing = planned - found.answered
    worst = closed_early.completions(
        plan.method.name, first, second, missing, ties=ties, policy=plan.ties, alpha=plan.alpha,
        alternative=plan.alternative,
    )  # fmt: skip
    fixed = worst.least.trials if plan.ties != "drop" else None
    return replace(
        found,
        reached=worst.reached,
        p_value=worst.p_value,
        trials=planned,
        could_have_been=CouldHaveBeen(missing, worst.least, worst.most),
        criterion=None if fixed is None else _criterion(plan, fixed),
        interval=worst.interval,
        largest_difference=worst.largest_difference,
        preferred=None if worst.first_preferred is None else _preferred(plan, worst.first_preferred),
    )


def _criterion(plan: Plan, trials: int) -> int | None:
    return binomial.critical(trials, plan.alpha, plan.counted.numbers().chance, plan.alternative)


def _sequential(plan: Plan, sessions: Sequence[SessionAnswers]) -> Discrimination:
    from stats.sequential import e_process, operating_characteristics

    rule, session = plan.sequential, sessions[0]
    assert rule is not None
    right = scores(plan, session.counted)
    stopped, count = len(right), sum(right)
    decided = rule.boundaries.decision(stopped, count)
    chance = plan.chance
    found = Discrimination(
        reached=None,
        complete=decided is not None,
        p_value=None,
        trials=stopped if decided is not None else plan.trials,
        answered=stopped,
        listeners=(ListenerResult(session.listener, session.planned, stopped, count, None, stopped),),
        correct=count,
        counted=stopped,
        choices=(count, stopped - count),
        same_different=_cells(plan, [session]),
        sequential=SequentialEnd(
            rule=rule.rule,
            stopped_after=stopped,
            most=plan.trials,
            path=tuple(right),
            e_value=e_process.e_value(count, stopped, chance, plan.alternative),
            alpha_real=float(rule.behaviour.alpha_real),
        ),
    )
    if decided is None:
        return found
    if rule.rule == E_PROCESS:
        p_value = e_process.anytime_p(right, chance, plan.alternative)
    else:
        p_value = operating_characteristics.p_value(rule.boundaries, stopped, count, chance)
    interval = e_process.confidence_sequence(count, stopped)
    reached = decided == HEARD
    asks = plan.method.asks_preference
    whole = count_summary.summarise(plan.method.name, count, stopped, plan.alpha, plan.alternative)
    return replace(
        found,
        reached=reached,
        p_value=p_value,
        # the plan's own ordering of outcomes: a test of a fixed number of trials would be too sharp for this one
        listeners=(replace(found.listeners[0], p_value=p_value),),
        interval=interval,
        d_prime=whole.d_prime,
        d_prime_differencing=whole.d_prime_differencing,
        gives_differencing=plan.counted.gives_differencing,
        largest_difference=None if asks else max(0.0, (interval.high - chance) / (1 - chance)),
        preferred=_preferred(plan, 2 * count > stopped) if reached else None,
    )


def _cells(plan: Plan, sessions: Sequence[SessionAnswers]) -> SameDifferent | None:
    return plan.counted.hits_and_false_alarms([(one.key, one.answer) for own in sessions for one in own.counted])


def _listener(plan: Plan, session: SessionAnswers) -> ListenerResult:
    """A listener's count and p-value; of trials they did not answer the worst of what those could have come to."""
    answered = len(session.counted)
    bare = ListenerResult(session.listener, session.planned, answered, None, None)
    if not answered:
        return bare
    first, chosen = sum(scores(plan, session.chosen)), len(session.chosen)
    counts = after_ties(plan, first, chosen - first, session.ties)
    if answered < session.planned:
        worst = closed_early.completions(
            plan.method.name, first, chosen - first, session.planned - answered, ties=session.ties, policy=plan.ties,
            alpha=plan.alpha, alternative=plan.alternative,
        )  # fmt: skip
        return replace(bare, correct=counts.for_first, counted=counts.trials, p_value=worst.p_value)
    if not counts.trials:
        return replace(bare, correct=0, counted=0, p_value=1.0)
    chance = plan.counted.numbers().chance
    tested = binomial.binomial_test(counts.for_first, counts.trials, chance, plan.alternative)
    return replace(bare, correct=counts.for_first, counted=counts.trials, p_value=tested.p_value)


def _preferred(plan: Plan, first: bool) -> str | None:
    return plan.setups[0 if first else 1].name if plan.method.asks_preference else None
