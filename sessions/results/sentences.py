"""A plan and a verdict in plain sentences, for the terminal and the report alike. Pure.

Never "no difference": a result that missed its criterion is "not shown", with the largest difference it still allows.
"""

from __future__ import annotations

from typing import Any

from ..plans.plan import Plan
from ..plans.planned_test import SIZED_IN_SD
from .supplementary_sentences import beside, p_is
from .verdict import HEARD, VOID, Verdict

LEAST_SAID = 0.005  # "up to 0 % of the trials" would claim more than a count below chance can


def planned(plan: Plan) -> list[str]:
    """What a plan's test asks for, and what it can find."""
    document = plan.document
    told = []
    if plan.sequential is not None:
        told += _sequential_plan(plan, plan.sequential)
    elif plan.method.family != "count":
        told.append(f"Test: {document['test']} (alpha {document['alpha']}).")
    elif plan.criterion is None:
        told.append(f"NO count can show it: {plan.total_trials} trials are too few for alpha {document['alpha']}.")
    else:
        counted = "for the same setup" if plan.method.asks_preference else "right"
        if plan.method.asks_preference and plan.alternative == "greater":
            counted = f"for {plan.setups[0].name}"
        ties = "" if plan.ties == "not offered" else f"; ties: {plan.ties}"
        told.append(
            f"Shown if {plan.criterion} or more of {plan.total_trials} are {counted} (alpha {document['alpha']}{ties})."
        )
    if plan.sequential is None:
        told.append(f"If {_effect(plan)}, this finds it with power {document['power']}.")
    if document.get("rule_out", "none") != "none":
        told.append(
            f"Meant to rule out that it is truly heard in {_percent(float(document['rule_out']))} of the trials."
        )
    return told


def sentences(verdict: Verdict) -> list[str]:
    """What the verdict says, the main thing first, and what stands beside it."""
    return result(verdict) + (beside(verdict) if verdict.verdict is not None else [])


def result(verdict: Verdict) -> list[str]:
    """What the verdict itself says, the main thing first."""
    plan = verdict.plan
    names = [str(setup.name) for setup in plan.setups]
    pair = " against ".join(names) if len(names) == 2 else ", ".join(names)
    if verdict.verdict is None:
        return [_waiting(verdict, pair)]
    told = [_headline(verdict, pair)]
    if verdict.rehearsal:
        told.insert(0, "REHEARSAL: a session that never counts, and says nothing about any person's hearing.")
    told += _numbers(verdict)
    if verdict.verdict == VOID:
        told += [f"Void because: {reason}." for reason in verdict.void_reasons]
    elif verdict.verdict != HEARD:
        told += _not_shown(verdict)
    told += _similarity(verdict)
    told += _together(verdict)
    if verdict.state == "closed early":
        told.append(_closed_early(verdict))
    if verdict.plan.blinding.startswith("single-blind"):
        told.append("Single-blind: an assistant who knew what was playing swapped the setups.")
    return told


def _effect(plan: Plan) -> str:
    effect = plan.document["effect"]
    if plan.method.name in SIZED_IN_SD:
        return f"the mean difference is {effect} standard deviations"
    if plan.method.family == "pairs":
        return f"one setup is preferred to each other in {effect} of the comparisons"
    return f"the true proportion is {effect}"


def _sequential_plan(plan: Plan, rule: Any) -> list[str]:
    return [
        f"At most {plan.trials} trials ({rule['rule']}): it stops as soon as its boundaries say, and only there.",
        f"By guessing alone it ends as heard with probability {rule['alpha_real']} (alpha {plan.document['alpha']}), "
        f"after {rule['expected_trials_guessing']} trials on average.",
        f"If {_effect(plan)}, it is heard with probability {rule['power']}, after {rule['expected_trials_effect']} "
        f"trials on average ({rule['median_trials_effect']} or fewer half of the time).",
    ]


def _waiting(verdict: Verdict, pair: str) -> str:
    if verdict.state == "not begun":
        return f"{verdict.plan.name}: {pair}: sealed, no trial answered yet."
    if verdict.plan.sequential is not None:
        return f"{verdict.plan.name}: {pair}: under way; nothing is shown before its end."
    return (
        f"{verdict.plan.name}: {pair}: {verdict.answered} of {verdict.plan.slots * len(verdict.plan.listeners)} trials "
        "answered. No score is shown before the end."
    )


def _headline(verdict: Verdict, pair: str) -> str:
    name, heard = verdict.plan.name, verdict.verdict == HEARD
    if verdict.verdict == VOID:
        return f"{name}: {pair}: VOID. The numbers below do not count."
    alone = ""
    if heard and verdict.together.get("holds") is False:
        alone = f" on its own, but not among the {verdict.together['primary_plans']} primary questions taken together"
    if not verdict.plan.method.asks_preference:
        return f"{name}: {pair}: a difference was {'HEARD' if heard else 'NOT SHOWN'}{alone}."
    if not heard:
        return f"{name}: {pair}: a preference was NOT SHOWN."
    whom = f", for {verdict.preferred}" if verdict.preferred else ""
    return f"{name}: {pair}: a preference was HEARD{alone}{whom}."


def _numbers(verdict: Verdict) -> list[str]:
    if verdict.plan.method.name == "hidden-reference":
        return _difference_grades(verdict)
    if verdict.plan.method.name == "multi-stimulus":
        return _quality_grades(verdict)
    if verdict.plan.method.family == "pairs":
        return _round_robin(verdict)
    return _counts(verdict)


def _counts(verdict: Verdict) -> list[str]:
    plan, interval = verdict.plan, verdict.interval
    assert verdict.p_value is not None
    if interval is None:
        return [f"No answer to count: {p_is(verdict.p_value)}."]
    preference = plan.method.asks_preference
    counted = f"for {plan.setups[0].name}" if preference else "right"
    d_prime = "beyond what can be estimated" if verdict.d_prime is None else f"{verdict.d_prime:.2f}"
    told = []
    if plan.sequential is not None:
        found = verdict.analysis["sequential"]
        told.append(
            f"{verdict.correct} of {verdict.trials} {counted}: stopped by its {found['rule']} boundary after "
            f"{found['stopped_after']} of at most {found['most']} trials, {p_is(verdict.p_value)} at alpha "
            f"{plan.document['alpha']} (real error rate {found['alpha_real']:.4f}); proportion {interval.low:.2f} to "
            f"{interval.high:.2f} (95 % at any stopping), d' {d_prime}."
        )
    else:
        critical = verdict.analysis["critical"]
        needed = "no count could reach the criterion" if critical is None else f"{critical} needed"
        if preference and critical is not None and plan.alternative == "two-sided":
            needed = f"{critical} for one side needed"
        told.append(
            f"{verdict.correct} of {verdict.trials} {counted} ({needed}), {p_is(verdict.p_value)} at alpha "
            f"{plan.document['alpha']}; proportion {interval.low:.2f} to {interval.high:.2f} (95 % exact), "
            f"d' {d_prime}."
        )
    if plan.ties != "not offered":
        what = "left out" if plan.ties == "drop" else "half for each side"
        told.append(f"{verdict.analysis['ties']} answers were ties: {what}, as planned.")
    cells = verdict.analysis.get("same_different")
    if cells is not None:
        told.append(
            f'"Different" was said in {cells["hits"]} of {cells["different_trials"]} different and in '
            f"{cells['false_alarms']} of {cells['same_trials']} same trials; d' {cells['d_prime']:.2f} (differencing "
            f"{cells['d_prime_differencing']:.2f}), leaning {_leaning(cells['bias'])}."
        )
    return told


def _leaning(bias: float) -> str:
    if abs(bias) < 0.1:
        return "to neither side"
    return f'to "{"same" if bias > 0 else "different"}" ({bias:+.2f})'


def _difference_grades(verdict: Verdict) -> list[str]:
    every = verdict.analysis["all"]
    assert verdict.p_value is not None
    interval = "" if every["low"] is None else f" (95 % {every['low']:.2f} to {every['high']:.2f})"
    told = [
        f"Mean difference grade {every['mean']:.2f}{interval} over {verdict.answered} trials, "
        f"{p_is(verdict.p_value)} (exact randomisation test) at alpha {verdict.plan.document['alpha']}."
    ]
    experts = [name for name, own in verdict.analysis["listeners"].items() if own["expert"]]
    others = [name for name, own in verdict.analysis["listeners"].items() if not own["expert"]]
    if experts:
        told.append(f"Found the reference reliably (one-sided t-test, 5 %): {', '.join(experts)}.")
    if others:
        told.append(f"Did not: {', '.join(others)}; their grades count in the test, and say little by themselves.")
    return told


def _quality_grades(verdict: Verdict) -> list[str]:
    assert verdict.p_value is not None
    told = []
    for name, own in verdict.analysis["summaries"].items():
        interval = "" if own["low"] is None else f", mean {own['mean']:.0f} ({own['low']:.0f} to {own['high']:.0f})"
        told.append(f"{name}: median {own['median']:.0f} (hinges {own['q1']:.0f} to {own['q3']:.0f}){interval}.")
    for pair in verdict.analysis["pairs"]:
        told.append(
            f"{' against '.join(pair['setups'])}: permutation {p_is(pair['p_value'])}, with Holm's correction "
            f"{p_is(pair['p_holm'])}."
        )
    for listener, why in verdict.analysis["excluded"].items():
        told.append(f"Left out by post-screening, as planned: {listener}, who {why}.")
    return told


def _round_robin(verdict: Verdict) -> list[str]:
    assert verdict.p_value is not None
    totals = verdict.analysis["totals"]
    chosen = ", ".join(f"{name} {won}" for name, won in sorted(totals.items(), key=lambda item: -item[1]))
    told = [
        f"Chosen of {verdict.answered} comparisons: {chosen}; all alike: {p_is(verdict.p_value)} at alpha "
        f"{verdict.plan.document['alpha']}."
    ]
    fit = verdict.analysis["abilities"]
    if fit and "shares" in fit:
        shares = ", ".join(f"{name} {share:.2f}" for name, share in zip(fit["setups"], fit["shares"], strict=True))
        told.append(f"Bradley-Terry shares: {shares}.{' ' + fit['note'] + '.' if fit['note'] else ''}")
        if fit["order"] is not None:
            told.append(
                f"Being heard first: ln odds {fit['order']:+.2f} (± {fit['order_error']:.2f}), {p_is(fit['order_p'])}."
            )
    for listener, found in verdict.analysis["consistency"].items():
        if found is not None:
            told.append(
                f"{listener}: {found['circles']} circular triads of at most {found['most']}, consistency "
                f"{found['consistency']:.2f}."
            )
    ranked = []
    if verdict.analysis["durbin"] is not None:
        ranked.append(f"Durbin's test {p_is(verdict.analysis['durbin']['p_value'])}")
    if verdict.analysis["friedman"] is not None:
        ranked.append(f"Friedman's over the listeners {p_is(verdict.analysis['friedman']['p_value'])}")
    if ranked:
        told.append(f"By ranks, as an approximation: {'; '.join(ranked)}.")
    agreed = verdict.analysis["agreement"]
    if agreed is not None:
        told.append(f"Agreement of listeners (Kendall's u): {agreed['u']:.2f}; 1 is full, {agreed['least']:.2f} least.")
    return told


def _not_shown(verdict: Verdict) -> list[str]:
    plan = verdict.plan
    what = f"with power {float(plan.document['power']):.2f}"
    told = [f"That does not show that they are equal: if {_effect(plan)}, the plan would have found it {what}."]
    if verdict.allowed is not None and verdict.allowed < LEAST_SAID:
        told.append("Fewer were right than guessing gives on average; that is chance too, or answers turned round.")
    elif verdict.allowed is not None:
        told.append(
            f"The result still allows that it was truly heard in up to {_percent(verdict.allowed)} of the trials "
            "(95 % confidence)."
        )
    return told


def _similarity(verdict: Verdict) -> list[str]:
    found = verdict.beside.get("similarity")
    if not found or "rule_out" not in found:
        return []
    share = _percent(found["rule_out"])
    if found["ruled_out"]:
        return [f"As planned, it rules out (95 %) that it is truly heard in {share} of the trials or more."]
    return [f"It does not rule out what the plan meant to: that it is truly heard in {share} of the trials."]


def _together(verdict: Verdict) -> list[str]:
    told = []
    found = verdict.together
    if found.get("p_holm") is not None:
        holds = "holds" if found["holds"] else "does not hold"
        told.append(
            f"With the {found['primary_plans']} primary questions of this review together (Holm): "
            f"{p_is(found['p_holm'])}, which {holds} at alpha {verdict.plan.document['alpha']}."
        )
    if not verdict.plan.primary:
        told.append("Exploratory: not one of the review's primary questions.")
    same = found.get("same_question", [])
    if same:
        others = ", ".join(
            f"{one['plan']} ({one['verdict'] or one['state']}"
            + (f", {p_is(one['p_value'])})" if one["p_value"] is not None else ")")
            for one in same
        )
        told.append(f"The same question was also asked in {others}; read all of them together.")
    return told


def _closed_early(verdict: Verdict) -> str:
    if verdict.plan.sequential is not None:
        return f"The plan was closed after {verdict.answered} trials, before its boundaries said so: it shows nothing."
    told = f"The plan was closed after {verdict.answered} of {verdict.plan.total_trials} trials"
    if verdict.plan.method.name == "hidden-reference":
        return f"{told}; the others count as a difference of 0."
    if verdict.plan.method.family == "pairs":
        return f"{told}; the others count half for each setup."
    if verdict.plan.method.family == "grades":
        return f"{told}."
    return f"{told}; the others count as wrong."


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
