"""A plan and a verdict in plain sentences, for the terminal and the report alike. Pure.

Never "no difference": a result that missed its criterion is "not shown", with the largest difference it still allows.
"""

from __future__ import annotations

from ..plans.plan import Plan, SequentialRule
from ..plans.planned_test import NO_TIES
from . import outcome_sentences, supplementary_sentences
from .outcome_sentences import percent
from .supplementary_sentences import p_is
from .verdict import HEARD, VOID, Verdict

LEAST_SAID = 0.005  # "up to 0 % of the trials" would claim more than a count below chance can


def planned(plan: Plan) -> list[str]:
    """What a plan's test asks for, and what it can find."""
    alpha = plan.document["alpha"]
    lines = []
    if plan.sequential is not None:
        lines += _sequential_plan(plan, plan.sequential)
    elif plan.method.analysis != "count":
        lines.append(f"Test: {plan.test} (alpha {alpha}).")
    elif plan.criterion is None:
        lines.append(f"NO count can show it: {plan.total_trials} trials are too few for alpha {alpha}.")
    else:
        counted = plan.counted.counted_in_words(plan.setups[0].name, plan.alternative)
        ties = "" if plan.ties == NO_TIES else f"; ties: {plan.ties}"
        lines.append(f"Shown if {plan.criterion} or more of {plan.total_trials} are {counted} (alpha {alpha}{ties}).")
    if plan.sequential is None:
        lines.append(f"If {_effect(plan)}, this finds it with power {plan.power}.")
    if plan.rule_out is not None:
        lines.append(f"Meant to rule out that it is truly heard in {percent(plan.rule_out)} of the trials.")
    return lines


def sentences(verdict: Verdict) -> list[str]:
    """What the verdict says, the main thing first, and what stands beside it."""
    return result(verdict) + supplementary_sentences.sentences(verdict)


def result(verdict: Verdict) -> list[str]:
    """What the verdict itself says, the main thing first."""
    plan, found = verdict.plan, verdict.outcome
    names = [setup.name for setup in plan.setups]
    pair = " against ".join(names) if len(names) == 2 else ", ".join(names)
    if found is None:
        return [_waiting(verdict, pair)]
    lines = [_headline(verdict, pair)]
    if verdict.rehearsal:
        lines.insert(0, "REHEARSAL: a session that never counts, and says nothing about any person's hearing.")
    lines += outcome_sentences.numbers(plan, found)
    if verdict.verdict == VOID:
        lines += [f"Void because: {reason}." for reason in verdict.void_reasons]
    elif verdict.verdict != HEARD:
        lines += _not_shown(verdict)
    lines += _similarity(verdict)
    lines += _together(verdict)
    if verdict.state == "closed early":
        lines.append(_closed_early(verdict))
    if plan.blinding.startswith("single-blind"):
        lines.append("Single-blind: an assistant who knew what was playing swapped the setups.")
    return lines


def _effect(plan: Plan) -> str:
    return plan.method.effect_in_words(plan.effect)


def _sequential_plan(plan: Plan, rule: SequentialRule) -> list[str]:
    does = rule.behaviour
    return [
        f"At most {plan.trials} trials ({rule.rule}): it stops as soon as its boundaries say, and only there.",
        f"By guessing alone it ends as heard with probability {does.alpha_real} (alpha {plan.document['alpha']}), "
        f"after {does.expected_trials_guessing} trials on average.",
        f"If {_effect(plan)}, it is heard with probability {does.power}, after {does.expected_trials_effect} "
        f"trials on average ({does.median_trials_effect} or fewer half of the time).",
    ]


def _waiting(verdict: Verdict, pair: str) -> str:
    plan = verdict.plan
    if verdict.state == "not begun":
        return f"{plan.name}: {pair}: sealed, no trial answered yet."
    if plan.sequential is not None:
        return f"{plan.name}: {pair}: under way; nothing is shown before its end."
    return (
        f"{plan.name}: {pair}: {verdict.answered} of {plan.slots * len(plan.listeners)} trials "
        "answered. No score is shown before the end."
    )


def _headline(verdict: Verdict, pair: str) -> str:
    name, heard = verdict.plan.name, verdict.verdict == HEARD
    if verdict.verdict == VOID:
        return f"{name}: {pair}: VOID. The numbers below do not count."
    alone, together = "", verdict.together
    if heard and together is not None and together.holds is False:
        alone = f" on its own, but not among the {together.primary_plans} primary questions taken together"
    if not verdict.plan.method.asks_preference:
        return f"{name}: {pair}: a difference was {'HEARD' if heard else 'NOT SHOWN'}{alone}."
    if not heard:
        return f"{name}: {pair}: a preference was NOT SHOWN."
    whom = f", for {verdict.preferred}" if verdict.preferred else ""
    return f"{name}: {pair}: a preference was HEARD{alone}{whom}."


def _not_shown(verdict: Verdict) -> list[str]:
    plan, count = verdict.plan, verdict.count
    power = f"with power {float(plan.power):.2f}"
    lines = [f"That does not show that they are equal: if {_effect(plan)}, the plan would have found it {power}."]
    allowed = None if count is None else count.largest_difference
    if allowed is not None and allowed < LEAST_SAID:
        lines.append("Fewer were right than guessing gives on average; that is chance too, or answers turned round.")
    elif allowed is not None:
        lines.append(
            f"The result still allows that it was truly heard in up to {percent(allowed)} of the trials "
            "(95 % confidence)."
        )
    return lines


def _similarity(verdict: Verdict) -> list[str]:
    found = None if verdict.beside is None else verdict.beside.similarity
    if found is None or found.planned is None:
        return []
    share = percent(found.planned.share)
    if found.planned.holds:
        return [f"As planned, it rules out (95 %) that it is truly heard in {share} of the trials or more."]
    return [f"It does not rule out what the plan meant to: that it is truly heard in {share} of the trials."]


def _together(verdict: Verdict) -> list[str]:
    lines = []
    found = verdict.together
    if found is not None and found.p_holm is not None:
        holds = "holds" if found.holds else "does not hold"
        lines.append(
            f"With the {found.primary_plans} primary questions of this review together (Holm): "
            f"{p_is(found.p_holm)}, which {holds} at alpha {verdict.plan.document['alpha']}."
        )
    if not verdict.plan.primary:
        lines.append("Exploratory: not one of the review's primary questions.")
    if found is not None and found.same_question:
        others = ", ".join(
            f"{one.plan} ({one.verdict or one.state}" + (f", {p_is(one.p_value)})" if one.p_value is not None else ")")
            for one in found.same_question
        )
        lines.append(f"The same question was also asked in {others}; read all of them together.")
    return lines


def _closed_early(verdict: Verdict) -> str:
    plan = verdict.plan
    if plan.sequential is not None:
        return f"The plan was closed after {verdict.answered} trials, before its boundaries said so: it shows nothing."
    line = f"The plan was closed after {verdict.answered} of {plan.total_trials} trials"
    return f"{line}; {plan.method.unanswered}." if plan.method.unanswered else f"{line}."
