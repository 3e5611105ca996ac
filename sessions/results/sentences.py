"""A plan and a verdict in plain sentences, for the terminal and the report alike. Pure.

Never "no difference": a result that missed its criterion is "not shown", with the largest difference it still allows. A
plan that was stopped before it could say either is "undecided".
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from stats.count_summary import HEARD, NOT_SHOWN

from ..plans.methods import plain_terms
from ..plans.plan import Plan, SequentialRule
from ..plans.planned_test import NO_TIES
from . import first_lines, how_answered, known_sentences, outcome_sentences, supplementary_sentences
from .how_answered import chance_of_finding
from .outcome_sentences import percent
from .supplementary_sentences import p_is
from .verdict import (
    CLOSED_EARLY,
    UNDECIDED,
    VOID,
    PlanBefore,
    SameQuestion,
    Together,
    Verdict,
)

TIES = {
    NO_TIES: "",
    "drop": "; ties are left out, and fewer are needed then",
    "split": "; ties count half for each side",
}
LEAST_SAID = 0.005  # "up to 0 % of the trials" would claim more than a count below chance can


def planned(plan: Plan) -> list[str]:
    """What a plan's test asks for, and what it can find."""
    alpha = plan.document["alpha"]
    lines = []
    if plan.sequential is not None:
        lines += _sequential_plan(plan, plan.sequential)
    elif plan.method.analysis != "count":
        told = plain_terms.test_told(plan.test, rated=bool(plan.document.get("rating")))
        lines.append(f"Test: {told} (alpha {alpha}).")
    elif plan.criterion is None:
        lines.append(f"NO count can show it: {plan.total_trials} trials are too few for alpha {alpha}.")
    else:
        counted = plan.counted.counted_in_words(plan.setups[0].name, plan.alternative)
        ties = TIES[plan.ties]
        lines.append(f"Shown if {plan.criterion} or more of {plan.total_trials} are {counted} (alpha {alpha}{ties}).")
    if plan.sequential is None and isfinite(float(plan.power)):
        of = f", {plain_terms.power_of_told(plan.document['power_of'])}" if "power_of" in plan.document else ""
        lines.append(f"If {_effect(plan)}, this finds it with probability {_power(plan)}{of}.")
        if "power_assumes" in plan.document:
            lines.append(f"Simulated: {plan.document['power_assumes']}.")
    lines += plan.method.planned_in_words(plan.document)
    if plan.earlier:
        others = ", ".join(one.name for one in plan.earlier)
        lines.append(f"All this is said of the plan by itself; it is judged together with {others}.")
    if plan.rule_out is not None:
        lines.append(f"Meant to rule out that it is truly heard in {percent(plan.rule_out)} of the trials.")
    return lines


def sentences(verdict: Verdict) -> list[str]:
    """What the verdict says, the main thing first, and what stands beside it."""
    return result(verdict) + supplementary_sentences.sentences(verdict)


def result(verdict: Verdict) -> list[str]:
    """What the verdict itself says: the two lines that are read first, and the numbers."""
    return [*first_lines.first_lines(verdict), *numbers(verdict)]


def numbers(verdict: Verdict) -> list[str]:
    """The numbers of a verdict, and what bears on them; none before the end."""
    plan, found = verdict.plan, verdict.outcome
    if verdict.verdict is None:
        return []
    lines = ["No trial that counts was answered."]
    if found is not None:
        lines = outcome_sentences.numbers(plan, found, verdict.words_heard)
    lines = [*_accepted(plan), *lines]  # it bears on all that follows
    if verdict.verdict == VOID:
        lines += [f"Void because: {reason}." for reason in verdict.void_reasons[1:]]
    elif verdict.verdict == NOT_SHOWN:
        lines += _not_shown(verdict)
    lines += known_sentences.heard(verdict)
    if verdict.verdict == NOT_SHOWN and not how_answered.heard_alone(
        verdict
    ):  # else it was heard, and others take it away
        lines += known_sentences.worth(verdict)
    if verdict.state == CLOSED_EARLY and verdict.verdict != VOID:
        lines += _closed_early(verdict)
    lines += _similarity(verdict)
    lines += _together(verdict)
    lines += _which_counts(verdict)
    if plan.match.unjudged_in_words:
        lines.append(plan.match.unjudged_in_words)
    if plan.blinding.startswith("single-blind"):
        lines.append("Single-blind: an assistant who knew what was playing swapped the setups.")
    return lines


def _accepted(plan: Plan) -> list[str]:
    """What could tell the setups apart besides the sound under test, accepted before the seal; each kind once."""
    kinds = dict.fromkeys((one.kind, one.why) for one in (*plan.accepted_giveaways, *plan.match.accepted_balance))
    if not kinds:
        return []
    told = "; ".join(f"{kind} (because: {why})" for kind, why in kinds)
    return [f"Accepted before the seal, so that it may be what was heard: {told} (plan show tells each)."]


def _power(plan: Plan) -> str:
    """The power to two decimals; of a simulated one that it is about so."""
    told = chance_of_finding(float(plan.power))
    return told if "power_assumes" not in plan.document or " " in told else f"about {told}"


def _effect(plan: Plan) -> str:
    return plan.method.effect_in_words(plan.effect)


def _sequential_plan(plan: Plan, rule: SequentialRule) -> list[str]:
    does = rule.behaviour
    return [
        f"At most {plan.trials} trials ({rule.rule}): it stops as soon as its boundaries say, and only there.",
        f"By guessing alone it ends as heard with probability {does.alpha_real} (alpha {plan.document['alpha']}), "
        f"after {does.expected_trials_guessing} trials on average.",
        f"If {_effect(plan)}, it is heard with probability {chance_of_finding(float(does.power), 4)}, after "
        f"{does.expected_trials_effect} trials on average ({does.median_trials_effect} or fewer half of the time).",
    ]


def _not_shown(verdict: Verdict) -> list[str]:
    plan, count = verdict.plan, verdict.count
    lines = []
    if verdict.power is not None:
        sisters = verdict.together is not None and verdict.together.same_question
        whole = " by itself" if sisters else ""
        whole += ", run to its end," if verdict.state == CLOSED_EARLY else ""
        lines = [
            f"If {_effect(plan)}, the plan{whole} would have found it with power {chance_of_finding(verdict.power)}."
        ]
    if count is not None and count.sequential is not None and (count.p_value or 0.0) <= plan.alpha:
        lines.insert(
            0,
            "That p is at or below alpha does not make it heard: the boundaries fixed beforehand decide.",
        )
    allowed = None if count is None else count.largest_difference
    if allowed is not None and allowed < LEAST_SAID:
        lines.append("So few were right that guessing seldom gives fewer; that is chance too, or answers turned round.")
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
        however = "" if verdict.state != CLOSED_EARLY else ", whichever way the missing trials had gone"
        return [f"As planned, it rules out (95 %) that it is truly heard in {share} of the trials or more{however}."]
    return [f"It does not rule out what the plan meant to: that it is truly heard in {share} of the trials."]


def _together(verdict: Verdict) -> list[str]:
    lines = []
    found = verdict.together
    if found is not None and found.p_holm is not None:
        lines.append(_among_primary(verdict.plan, verdict.verdict == HEARD, found, found.p_holm))
    if found is not None and found.primary_left_out:
        lines.append(f"Left out of the primary questions: {_named(found.primary_left_out)}.")
    if not verdict.plan.primary:
        lines.append("Exploratory: not one of the review's primary questions.")
    if found is not None and found.same_question:
        lines.append(_asked_again(verdict, found))
    alone = [word for word in verdict.words_alone if word not in verdict.words_named]
    if found is not None and alone and verdict.verdict == HEARD:
        lines.append(
            f"Enough by this ballot alone, not with the {found.words_among} plans together, which take each word's "
            f"p-value {found.words_among} times: {', '.join(alone)}."
        )
    return lines


def _asked_again(verdict: Verdict, found: Together) -> str:
    """The other plans on the same question, and what all that take part come to together."""
    out = _named(found.asked_left_out)
    if found.asked_together < 2:
        return f"The same question was also asked in {out}, left out of what is judged together."
    others = ", ".join(_sister(one) for one in found.same_question)
    together = "read all of them together"
    if found.p_same_question is not None:
        alone = f"by itself {found.alone}; " if found.alone != verdict.verdict else ""
        together = f"{alone}all of them together ({_corrected(verdict.plan, found.asked_stage)}): "
        together += f"{p_is(found.p_same_question)} for this one"
        if found.asked_before:
            earlier = first_lines.earlier(found.asked_before, "is", "are")
            together = f"{alone}this one was sealed after it was begun, and can be heard only where {earlier}"
    left_out = f" Left out: {out}." if out else ""
    return f"The same question was also asked in {others}; {together}.{left_out}"


def _named(plans: Sequence[PlanBefore]) -> str:
    return ", ".join(f"{one.plan} ({one.came_to})" for one in plans)


def _among_primary(plan: Plan, heard: bool, found: Together, p_value: float) -> str:
    """Whether it holds among the review's primary questions, and if not, why not."""
    how = _corrected(plan, found.primary_stage)
    of_all = f"With the {found.primary_plans} primary questions of this review together ({how})"
    if found.primary_before:
        earlier = first_lines.earlier(found.primary_before, "does", "do")
        return f"{of_all} it does not hold: it was sealed after others were begun, and holds only where {earlier}."
    numbers = f"{of_all}: {p_is(p_value)} at alpha {plan.document['alpha']}, "
    if found.holds:
        return f"{numbers}which holds."
    return f"{numbers}which does not hold{'' if heard or p_value > plan.alpha else ', since it is not heard'}."


def _corrected(plan: Plan, in_stage: int) -> str:
    """By which correction; that of a ballot, whose words are claims of their own, is Bonferroni's (`together`)."""
    if plan.method.asks_words:
        return f"Bonferroni, as it is a ballot: p times {in_stage}, in the order of sealing"
    return "Holm, in the order of sealing"


def _sister(one: SameQuestion) -> str:
    if one.p_value is None:
        return f"{one.plan} ({one.verdict or one.state})"
    return f"{one.plan} (by itself {one.verdict}, {p_is(one.p_value)})"


def _closed_early(verdict: Verdict) -> list[str]:
    """What the end before the end means for the word; the numbers stand above."""
    count = verdict.count
    if verdict.verdict != UNDECIDED:
        return []  # the lines that are read first say it
    if verdict.outcome is None:
        return ["It was closed before anything that counts was answered, so that it says nothing."]
    if count is not None and count.sequential is not None:
        return ["It was closed before its boundaries said heard or not shown; what was answered decides nothing."]
    if count is None:
        return ["Its test needs all of the trials that were planned, so that there is none."]
    return ["Some of the ways in which the missing trials could have gone would have shown it, others would not."]


def _which_counts(verdict: Verdict) -> list[str]:
    """Of a ballot, which p-value the verdict rests on: its own, its question's, or that of all primary questions."""
    found = verdict.together
    if found is None or not verdict.plan.method.asks_words or found.asked_before or found.primary_before:
        return []
    if found.p_same_question is None or found.p_holm is None:
        return []
    return [
        f"Which of these p-values counts: the verdict rests on {p_is(found.p_same_question)}, of all plans on this "
        f"question; {p_is(found.p_holm)} only says whether it holds among all primary questions too; that of this plan "
        "by itself decides nothing."
    ]
