"""The planned test of methods whose answers are counted: fixed or sequential, with or without ties. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from stats import binomial, count_summary, intervals, largest_difference
from stats import d_prime as sensitivity
from stats.count_summary import HEARD

from ..plans.plan import Plan
from .answers import Sheet, scores
from .outcome import Finding, ListenerCount


def found(plan: Plan, sheets: Sequence[Sheet], planned: int) -> Finding:
    """What the planned test found.

    Parameters
    ----------
    planned
        Trials of all these sheets together. Those not answered count as wrong (in a preference: for the less preferred
        setup), so that ending early never helps.
    """
    if plan.sequential is not None:
        return _sequential(plan, sheets[0])
    answered = sum(len(sheet.counted) for sheet in sheets)
    ties = sum(sheet.tied for sheet in sheets)
    first = sum(sum(scores(plan, sheet.chosen)) for sheet in sheets)
    counted, trials = _with_ties(plan, first, planned, answered, ties)
    criterion = binomial.critical(trials, plan.alpha, _exact(plan), plan.alternative) if trials else None
    for_criterion = counted if plan.alternative == "greater" else max(counted, trials - counted)
    reached = criterion is not None and for_criterion >= criterion
    test = binomial.binomial_test(counted, trials, _exact(plan), plan.alternative) if trials else None
    analysis: dict[str, Any] = {"critical": criterion}
    if plan.ties != "not offered":
        analysis |= {"ties": ties, "ties_policy": plan.ties}
    return Finding(
        reached=reached,
        complete=answered == planned,
        p_value=1.0 if test is None else test.p_value,
        trials=trials,
        answered=answered,
        correct=counted,
        interval=intervals.clopper_pearson(counted, trials) if trials else None,
        d_prime=count_summary.signed_d_prime(plan.method.name, counted, trials) if trials else 0.0,
        allowed=_allowed(plan, counted, trials),
        preferred=_preferred(plan, counted, trials) if reached else None,
        listeners=[_listener(plan, sheet) for sheet in sheets],
        analysis=analysis | _by_method(plan, sheets, counted, trials),
    )


def _with_ties(plan: Plan, first: int, planned: int, answered: int, ties: int) -> tuple[int, int]:
    """The count and the trials that enter the test, after ties and unanswered trials."""
    second = answered - ties - first
    missing = planned - answered
    if not plan.method.asks_preference:
        return first, planned
    if plan.ties == "split":
        half, odd = divmod(ties, 2)
        first, second = first + half, second + half
        missing += odd  # the odd one goes where it helps least, as unanswered trials do
        ties = 0
    if plan.alternative == "greater" or first > second:
        second += missing
    else:
        first += missing
    return first, planned - ties


def _sequential(plan: Plan, sheet: Sheet) -> Finding:
    from stats.sequential import e_process, operating_characteristics

    region = plan.boundaries
    assert region is not None
    right = scores(plan, sheet.counted)
    stopped, count = len(right), sum(right)
    decided = region.decision(stopped, count)
    chance = plan.chance
    e_value = e_process.e_value(count, stopped, chance, plan.alternative)
    told = plan.sequential or {}
    if decided is None:  # closed before it came to an end
        p_value = 1.0
    elif told["rule"] == "e-process":
        p_value = e_process.anytime_p(right, chance, plan.alternative)
    else:
        p_value = operating_characteristics.p_value(region, stopped, count, chance)
    interval = e_process.confidence_sequence(count, stopped) if stopped else None
    reached = decided == HEARD
    asks = plan.method.asks_preference
    return Finding(
        reached=reached,
        complete=decided is not None,
        p_value=p_value,
        trials=stopped,
        answered=stopped,
        correct=count,
        interval=interval,
        d_prime=count_summary.signed_d_prime(plan.method.name, count, stopped) if stopped else 0.0,
        allowed=max(0.0, (interval.high - chance) / (1 - chance)) if interval and not asks else None,
        preferred=_preferred(plan, count, stopped) if reached else None,
        listeners=[_listener(plan, sheet)],
        analysis={
            "sequential": {
                "rule": told["rule"],
                "stopped_after": stopped,
                "most": plan.trials,
                "path": right,
                "e_value": e_value,
                "alpha_real": float(told["alpha_real"]),
            },
            **_by_method(plan, [sheet], count, stopped),
        },
    )


def _by_method(plan: Plan, sheets: Sequence[Sheet], counted: int, trials: int) -> dict[str, Any]:
    if plan.method.name == "abx" and trials:
        differencing = sensitivity.d_prime(counted / trials, "abx", "differencing")
        return {"d_prime_differencing": None if differencing == float("inf") else differencing}
    if plan.method.name == "same-different":
        return _same_different(sheets)
    return {}


def _same_different(sheets: Sequence[Sheet]) -> dict[str, Any]:
    from stats.same_different import same_different

    cells = {(same, said): 0 for same in (True, False) for said in "SD"}
    for sheet in sheets:
        for one in sheet.counted:
            cells[one.key["1"] == one.key["2"], one.answer] += 1
    different, same = (cells[kind, "S"] + cells[kind, "D"] for kind in (False, True))
    if not different or not same:
        return {}
    return {"same_different": same_different(cells[False, "D"], different, cells[True, "D"], same).to_document()}


def _allowed(plan: Plan, counted: int, trials: int) -> float | None:
    if plan.method.asks_preference:
        return None
    return largest_difference.largest_difference(counted, trials, chance=plan.chance)


def _listener(plan: Plan, sheet: Sheet) -> ListenerCount:
    right = scores(plan, sheet.chosen)
    trials = sheet.planned - (sheet.tied if plan.ties == "drop" else 0)
    if plan.sequential is not None:
        trials = max(len(right), 1)
    count = sum(right)
    p_value = binomial.binomial_test(count, trials, _exact(plan), plan.alternative).p_value if trials else 1.0
    return ListenerCount(sheet.listener, sheet.planned, len(sheet.counted), count, p_value)


def _preferred(plan: Plan, counted: int, trials: int) -> str | None:
    if not plan.method.asks_preference:
        return None
    return str(plan.setups[0 if 2 * counted > trials else 1].name)


def _exact(plan: Plan) -> Any:
    from stats.counted_methods import COUNTED_METHODS

    return COUNTED_METHODS[plan.method.name].chance
