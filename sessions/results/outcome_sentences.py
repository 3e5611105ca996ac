"""The numbers of an outcome in plain sentences, by its kind. Pure."""

from __future__ import annotations

from functools import singledispatch

from stats.same_different import SameDifferent

from ..plans.plan import Plan
from .outcome import DifferenceGrades, Discrimination, Outcome, PairedComparison, QualityGrades
from .supplementary_sentences import p_is


def numbers(plan: Plan, found: Outcome) -> list[str]:
    """The numbers, the planned test's first."""
    return _numbers(found, plan)


def percent(share: float) -> str:
    """A share as it is said."""
    return f"{100 * share:.0f} %"


@singledispatch
def _numbers(found: Outcome, plan: Plan) -> list[str]:
    raise NotImplementedError(type(found).__name__)


@_numbers.register
def _(found: Discrimination, plan: Plan) -> list[str]:
    interval = found.interval
    if interval is None:
        return [f"No answer to count: {p_is(found.p_value)}."]
    counted = f"for {plan.setups[0].name}" if plan.method.asks_preference else "right"
    alpha = plan.document["alpha"]
    d_prime = "beyond what can be estimated" if found.d_prime is None else f"{found.d_prime:.2f}"
    lines = []
    end = found.sequential
    if end is not None:
        lines.append(
            f"{found.correct} of {found.trials} {counted}: stopped by its {end.rule} boundary after "
            f"{end.stopped_after} of at most {end.most} trials, {p_is(found.p_value)} at alpha "
            f"{alpha} (real error rate {end.alpha_real:.4f}); proportion {interval.low:.2f} to "
            f"{interval.high:.2f} (95 % at any stopping), d' {d_prime}."
        )
    else:
        needed = "no count could reach the criterion" if found.criterion is None else f"{found.criterion} needed"
        if plan.method.asks_preference and found.criterion is not None and plan.alternative == "two-sided":
            needed = f"{found.criterion} for one side needed"
        lines.append(
            f"{found.correct} of {found.trials} {counted} ({needed}), {p_is(found.p_value)} at alpha "
            f"{alpha}; proportion {interval.low:.2f} to {interval.high:.2f} (95 % exact), d' {d_prime}."
        )
    if found.ties is not None:
        what = "left out" if found.ties_policy == "drop" else "half for each side"
        lines.append(f"{found.ties} answers were ties: {what}, as planned.")
    return lines if found.same_different is None else [*lines, _cells(found.same_different)]


def _cells(cells: SameDifferent) -> str:
    return (
        f'"Different" was said in {cells.hits} of {cells.different_trials} different and in '
        f"{cells.false_alarms} of {cells.same_trials} same trials; d' {cells.d_prime:.2f} (differencing "
        f"{cells.d_prime_differencing:.2f}), leaning {_leaning(cells.bias)}."
    )


def _leaning(bias: float) -> str:
    if abs(bias) < 0.1:
        return "to neither side"
    return f'to "{"same" if bias > 0 else "different"}" ({bias:+.2f})'


@_numbers.register
def _(found: DifferenceGrades, plan: Plan) -> list[str]:
    every = found.every
    interval = "" if every.low is None else f" (95 % {every.low:.2f} to {every.high:.2f})"
    lines = [
        f"Mean difference grade {every.mean:.2f}{interval} over {found.answered} trials, "
        f"{p_is(found.p_value)} (exact randomisation test) at alpha {plan.document['alpha']}."
    ]
    others = [name for name in found.by_listener if name not in found.experts]
    if found.experts:
        lines.append(f"Found the reference reliably (one-sided t-test, 5 %): {', '.join(found.experts)}.")
    if others:
        lines.append(f"Did not: {', '.join(others)}; their grades count in the test, and say little by themselves.")
    return lines


@_numbers.register
def _(found: QualityGrades, plan: Plan) -> list[str]:
    lines = []
    for name, own in found.summaries.items():
        interval = "" if own.low is None else f", mean {own.mean:.0f} ({own.low:.0f} to {own.high:.0f})"
        lines.append(f"{name}: median {own.median:.0f} (hinges {own.q1:.0f} to {own.q3:.0f}){interval}.")
    for pair in found.pairs:
        lines.append(
            f"{' against '.join(pair.setups)}: permutation {p_is(pair.p_value)}, with Holm's correction "
            f"{p_is(pair.p_holm)}."
        )
    for listener, why in found.excluded.items():
        lines.append(f"Left out by post-screening, as planned: {listener}, who {why}.")
    return lines


@_numbers.register
def _(found: PairedComparison, plan: Plan) -> list[str]:
    chosen = ", ".join(f"{name} {won}" for name, won in sorted(found.totals.items(), key=lambda item: -item[1]))
    lines = [
        f"Chosen of {found.answered} comparisons: {chosen}; all alike: {p_is(found.p_value)} at alpha "
        f"{plan.document['alpha']}."
    ]
    fit = found.abilities
    if fit is not None:
        shares = ", ".join(f"{name} {share:.2f}" for name, share in zip(found.setups, fit.shares, strict=True))
        lines.append(f"Bradley-Terry shares: {shares}.{' ' + fit.note + '.' if fit.note else ''}")
        if fit.order is not None and fit.order_error is not None and fit.order_p is not None:
            lines.append(f"Being heard first: ln odds {fit.order:+.2f} (± {fit.order_error:.2f}), {p_is(fit.order_p)}.")
    for listener, own in found.consistency.items():
        if own is not None:
            lines.append(
                f"{listener}: {own.circles} circular triads of at most {own.most}, consistency {own.consistency:.2f}."
            )
    ranked = []
    if found.durbin is not None:
        ranked.append(f"Durbin's test {p_is(found.durbin.p_value)}")
    if found.friedman is not None:
        ranked.append(f"Friedman's over the listeners {p_is(found.friedman.p_value)}")
    if ranked:
        lines.append(f"By ranks, as an approximation: {'; '.join(ranked)}.")
    agreed = found.agreement
    if agreed is not None:
        lines.append(f"Agreement of listeners (Kendall's u): {agreed.u:.2f}; 1 is full, {agreed.least:.2f} least.")
    return lines
