"""The planned test of methods whose answers are counted: fixed or sequential, with or without ties. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from stats import binomial, count_summary, preference
from stats.count_summary import HEARD
from stats.same_different import SameDifferent

from ..plans.plan import Plan
from ..plans.planned_test import E_PROCESS, NO_TIES
from .answers import SessionAnswers, scores
from .outcome import Discrimination, ListenerResult, SequentialEnd


def analyse(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> Discrimination:
    """What the planned test found.

    Parameters
    ----------
    planned
        Trials of all these sessions together. Those not answered count as wrong (in a preference: for the less
        preferred setup), so that ending early never helps.
    """
    if plan.sequential is not None:
        return _sequential(plan, sessions[0])
    answered = sum(len(session.counted) for session in sessions)
    ties = sum(session.ties for session in sessions)
    first = sum(sum(scores(plan, session.chosen)) for session in sessions)
    counted, trials = _with_ties(plan, first, planned, answered, ties)
    offered = None if plan.ties == NO_TIES else ties
    listeners = tuple(_listener(plan, session) for session in sessions)
    cells = _cells(plan, sessions)
    if not trials:
        return Discrimination(
            reached=False, complete=answered == planned, p_value=1.0, trials=0, answered=answered, correct=counted,
            d_prime=0.0, largest_difference=None, listeners=listeners, same_different=cells, ties=offered,
            ties_policy=plan.ties,
        )  # fmt: skip
    found = count_summary.summarise(plan.method.name, counted, trials, plan.alpha, plan.alternative)
    reached = found.verdict == HEARD
    return Discrimination(
        reached=reached,
        complete=answered == planned,
        p_value=found.p_value,
        trials=trials,
        answered=answered,
        listeners=listeners,
        correct=counted,
        criterion=found.critical,
        interval=found.interval,
        d_prime=found.d_prime,
        d_prime_differencing=found.d_prime_differencing,
        gives_differencing=plan.counted.gives_differencing,
        largest_difference=found.largest_difference,
        preferred=_preferred(plan, counted, trials) if reached else None,
        same_different=cells,
        ties=offered,
        ties_policy=plan.ties,
    )


def _with_ties(plan: Plan, first: int, planned: int, answered: int, ties: int) -> tuple[int, int]:
    """The count and the trials that enter the test, after ties and unanswered trials."""
    if not plan.method.asks_preference:
        return first, planned
    counts = preference.with_ties(
        first, answered - ties - first, ties, plan.ties, plan.alternative, unanswered=planned - answered
    )
    return counts.for_first, counts.trials


def _sequential(plan: Plan, session: SessionAnswers) -> Discrimination:
    from stats.sequential import e_process, operating_characteristics

    rule = plan.sequential
    assert rule is not None
    right = scores(plan, session.counted)
    stopped, count = len(right), sum(right)
    decided = rule.boundaries.decision(stopped, count)
    chance = plan.chance
    if decided is None:  # closed before it came to an end
        p_value = 1.0
    elif rule.rule == E_PROCESS:
        p_value = e_process.anytime_p(right, chance, plan.alternative)
    else:
        p_value = operating_characteristics.p_value(rule.boundaries, stopped, count, chance)
    interval = e_process.confidence_sequence(count, stopped) if stopped else None
    reached = decided == HEARD
    asks = plan.method.asks_preference
    end = SequentialEnd(
        rule=rule.rule,
        stopped_after=stopped,
        most=plan.trials,
        path=tuple(right),
        e_value=e_process.e_value(count, stopped, chance, plan.alternative),
        alpha_real=float(rule.behaviour.alpha_real),
    )
    whole = count_summary.summarise(plan.method.name, count, stopped, plan.alpha, plan.alternative) if stopped else None
    return Discrimination(
        reached=reached,
        complete=decided is not None,
        p_value=p_value,
        trials=stopped,
        answered=stopped,
        listeners=(_listener(plan, session),),
        correct=count,
        interval=interval,
        d_prime=whole.d_prime if whole else 0.0,
        d_prime_differencing=whole.d_prime_differencing if whole else None,
        gives_differencing=bool(stopped) and plan.counted.gives_differencing,
        largest_difference=max(0.0, (interval.high - chance) / (1 - chance)) if interval and not asks else None,
        preferred=_preferred(plan, count, stopped) if reached else None,
        same_different=_cells(plan, [session]),
        sequential=end,
    )


def _cells(plan: Plan, sessions: Sequence[SessionAnswers]) -> SameDifferent | None:
    return plan.counted.hits_and_false_alarms([(one.key, one.answer) for own in sessions for one in own.counted])


def _listener(plan: Plan, session: SessionAnswers) -> ListenerResult:
    right = scores(plan, session.chosen)
    trials = session.planned - (session.ties if plan.ties == "drop" else 0)
    if plan.sequential is not None:
        trials = max(len(right), 1)
    count = sum(right)
    chance = plan.counted.numbers().chance
    p_value = binomial.binomial_test(count, trials, chance, plan.alternative).p_value if trials else 1.0
    return ListenerResult(session.listener, session.planned, len(session.counted), count, p_value)


def _preferred(plan: Plan, counted: int, trials: int) -> str | None:
    if not plan.method.asks_preference:
        return None
    return plan.setups[0 if 2 * counted > trials else 1].name
