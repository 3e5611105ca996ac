"""A verdict in plain sentences, for the terminal and the report alike. Pure.

Never "no difference": a result that missed its criterion is "not shown", with the largest difference it still allows.
"""

from __future__ import annotations

from .methods import ABX
from .verdict import HEARD, VOID, Verdict

LEAST_SAID = 0.005  # "up to 0 % of the trials" would claim more than a count below chance can


def sentences(verdict: Verdict) -> list[str]:
    """What the verdict says, the main thing first."""
    plan = verdict.plan
    pair = f"{plan.setups[0]['name']} against {plan.setups[1]['name']}"
    if verdict.verdict is None:
        return [_waiting(verdict, pair)]
    told = [_headline(verdict, pair)]
    if verdict.rehearsal:
        told.insert(0, "REHEARSAL: a session that never counts, and says nothing about any person's hearing.")
    told.append(_numbers(verdict))
    if verdict.verdict == VOID:
        told += [f"Void because: {reason}." for reason in verdict.void_reasons]
    elif verdict.verdict != HEARD:
        told += _not_shown(verdict)
    if verdict.state == "closed early":
        told.append(
            f"The plan was closed after {verdict.answered} of {verdict.trials} trials; the others count as wrong."
        )
    if verdict.plan.blinding.startswith("single-blind"):
        told.append("Single-blind: an assistant who knew what was playing swapped the setups.")
    if len(verdict.listeners) > 1:
        parts = ", ".join(f"{part.listener} {part.correct} of {part.answered}" for part in verdict.listeners)
        told.append(f"By listener (exploratory): {parts}.")
    return told


def _waiting(verdict: Verdict, pair: str) -> str:
    if verdict.state == "not begun":
        return f"{verdict.plan.name}: {pair}: sealed, no trial answered yet."
    return (
        f"{verdict.plan.name}: {pair}: {verdict.answered} of {verdict.trials} trials answered. "
        "No score is shown before the end."
    )


def _headline(verdict: Verdict, pair: str) -> str:
    name = verdict.plan.name
    if verdict.verdict == VOID:
        return f"{name}: {pair}: VOID. The numbers below do not count."
    if verdict.plan.method is ABX:
        outcome = "HEARD" if verdict.verdict == HEARD else "NOT SHOWN"
        return f"{name}: {pair}: a difference was {outcome}."
    if verdict.verdict == HEARD:
        return f"{name}: {pair}: a preference was HEARD, for {verdict.preferred}."
    return f"{name}: {pair}: a preference was NOT SHOWN."


def _numbers(verdict: Verdict) -> str:
    plan, interval = verdict.plan, verdict.interval
    assert verdict.p_value is not None
    assert interval is not None
    counted = "right" if plan.method is ABX else f"for {plan.setups[0]['name']}"
    needed = "no count could reach the criterion" if plan.criterion is None else f"{plan.criterion} needed"
    if plan.method is not ABX and plan.criterion is not None:
        needed = f"{plan.criterion} for one side needed"
    d_prime = "beyond what can be estimated" if verdict.d_prime is None else f"{verdict.d_prime:.2f}"
    return (
        f"{verdict.correct} of {verdict.trials} {counted} ({needed}), p = {p_text(verdict.p_value)} at alpha "
        f"{plan.document['alpha']}; proportion {interval.low:.2f} to {interval.high:.2f} (95 % exact), d' {d_prime}."
    )


def _not_shown(verdict: Verdict) -> list[str]:
    plan = verdict.plan
    told = [
        f"That does not show that they are equal: the plan would have found a true proportion of "
        f"{plan.document['effect']} with power {float(plan.document['power']):.2f}."
    ]
    if verdict.allowed is not None and verdict.allowed < LEAST_SAID:
        told.append("Fewer were right than guessing gives on average; that is chance too, or answers turned round.")
    elif verdict.allowed is not None:
        told.append(
            f"The result still allows that it was truly heard in up to {100 * verdict.allowed:.0f} % of the trials "
            "(95 % confidence)."
        )
    return told


def p_text(p_value: float) -> str:
    """A p-value as printed: four decimals, or the bound below them."""
    return "< 0.0001" if p_value < 0.0001 else f"{p_value:.4f}"
