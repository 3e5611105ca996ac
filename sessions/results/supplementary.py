"""What stands beside a verdict: listeners, passages, similarity, a Bayesian reading, the session's health. Pure.

None of it changes the verdict. What was not planned is marked exploratory.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from stats import (
    beta_binomial,
    panel,
    passage_differences,
    posterior,
    response_bias,
    runs_test,
    session_diagnostics,
    similarity,
)

from ..plans.methods import TIE
from ..plans.plan import Plan
from .answers import Answered, Sheet, scores
from .outcome import Finding

HALF = 0.5  # "hears it in at least half of the trials": how many of us
QUICK_MS = 2000


def gathered(plan: Plan, answers: Sequence[Sheet], found: Finding) -> dict[str, Any]:
    """All that stands beside the verdict, as plain values."""
    told: dict[str, Any] = {"health": _health(plan, answers)}
    if plan.method.family != "count":
        return told
    if found.trials:
        two_sided = plan.method.asks_preference and plan.alternative == "two-sided"
        told["bayesian"] = posterior.posterior(
            found.correct or 0, found.trials, plan.chance, two_sided=two_sided
        ).to_document()
        told["similarity"] = _similarity(plan, found)
    if len(answers) > 1:
        told["panel"] = _panel(plan, answers)
    if len(plan.passages) > 1:
        told["passages"] = _passages(plan, answers)
    return told


def _similarity(plan: Plan, found: Finding) -> dict[str, Any] | None:
    """What is ruled out: the planned limit, by the ISO rule, and the exact bound."""
    if plan.method.asks_preference or found.allowed is None:
        return None
    wanted = plan.document.get("rule_out", "none")
    told: dict[str, Any] = {"largest_difference_allowed": found.allowed, "planned": wanted != "none"}
    if wanted != "none":
        told |= {"rule_out": float(wanted), "ruled_out": found.allowed <= float(wanted)}
        if plan.sequential is None:
            most = similarity.critical(found.trials, float(wanted), 0.05, plan.chance)
            ruled_out = similarity.ruled_out(found.correct or 0, found.trials, float(wanted), 0.05, plan.chance)
            told |= {"most_right": most, "ruled_out": ruled_out}
    return told


def _panel(plan: Plan, answers: Sequence[Sheet]) -> dict[str, Any]:
    counts = [panel.Count(sheet.listener, sum(scores(plan, sheet.chosen)), sheet.planned) for sheet in answers]
    told = panel.panel(counts, plan.chance, plan.alpha, plan.alternative).to_document()
    if plan.method.asks_preference:
        return told
    told["hear_it"] = hear_it(counts, plan.chance, plan.alpha)
    right, trials = [count.correct for count in counts], [count.trials for count in counts]
    if max(trials) > 1:
        differ = beta_binomial.tarone(right, trials)
        told["tarone"] = None if differ is None else differ._asdict()
        told["beta_binomial"] = beta_binomial.fit(right, trials, plan.chance).to_document()
    return told


def hear_it(counts: Sequence[panel.Count], chance: float, alpha: float) -> dict[str, int]:
    """Between how many and how many listeners hear it: both bounds together hold with confidence 1 − alpha."""
    p_values = [one.p_value for one in panel.panel(counts, chance, alpha).listeners]
    return {
        "at_least": panel.least_hearers(p_values, alpha / 2),
        "at_most_half_the_time": panel.most_hearers(counts, chance, HALF, alpha / 2),
        "of": len(counts),
    }


def _passages(plan: Plan, answers: Sequence[Sheet]) -> dict[str, Any] | None:
    by_name: dict[str, list[Answered]] = {}
    for sheet in answers:
        for one in sheet.chosen:
            by_name.setdefault(one.passage, []).append(one)
    if len(by_name) < 2:
        return None
    counts = [panel.Count(name, sum(scores(plan, part)), len(part)) for name, part in sorted(by_name.items())]
    told = passage_differences.by_passage(counts, plan.chance, plan.alternative, _generator(plan)).to_document()
    return told | {"planned": bool(plan.document.get("by_passage", False))}


def _health(plan: Plan, answers: Sequence[Sheet]) -> dict[str, Any]:
    """Each listener's session: drift, times, sides, switching, sureness, what was never heard, controls."""
    return {sheet.listener: _of_session(plan, sheet) for sheet in answers if sheet.counted}


def _of_session(plan: Plan, sheet: Sheet) -> dict[str, Any]:
    counted = sheet.chosen if plan.method.family == "count" else sheet.counted
    told: dict[str, Any] = {
        "unheard": [{"trial": one.trial, "stimuli": list(one.unheard)} for one in sheet.counted if one.unheard],
        "passages_never_auditioned": _never(plan, sheet),
        "controls": _controls(plan, sheet),
    }
    if not counted:
        return told
    times, needed = [one.after_ms for one in counted], len(plan.method.needed)
    right = scores(plan, counted) if plan.method.family == "count" else []
    # where nothing is right or wrong there is nothing to compare: all count as one kind
    judged = right if right and not plan.method.asks_preference else [1] * len(counted)
    told |= {
        "times": session_diagnostics.times(times, judged, QUICK_MS).to_document(),
        "switching": session_diagnostics.switching([one.auditions for one in counted], judged, needed).to_document(),
    }
    if right:
        told["drift"] = session_diagnostics.drift(right).to_document()
        told |= _habits(plan, [one.answer for one in counted])
    if right and not plan.method.asks_preference:
        told["sureness"] = session_diagnostics.sureness([one.sureness for one in counted], right).to_document()
    return told


def _habits(plan: Plan, said: Sequence[str]) -> dict[str, Any]:
    """Leaning to a side, and streaks."""
    labels = _labels(plan)
    counts = {label: sum(answer == label for answer in said) for label in labels}
    if len(labels) == 2:
        p_value = response_bias.side_bias(counts[labels[0]], len(said)).p_value
        return {"sides": {"counts": counts, "p_value": p_value}, "streaks": runs_test.runs_test(said).to_document()}
    p_value = response_bias.side_choice([*counts.values()], _generator(plan)).p_value
    return {"sides": {"counts": counts, "p_value": p_value}}


def _never(plan: Plan, sheet: Sheet) -> list[str]:
    heard = {one.passage for one in sheet.counted if len(one.unheard) < len(plan.method.stimuli)}
    return [passage.name for passage in plan.passages if passage.name not in heard]


def _controls(plan: Plan, sheet: Sheet) -> dict[str, Any] | None:
    """What was answered where all stimuli were the same: sides and sureness; nothing there can be right."""
    if not plan.controls:
        return None
    said = [one.answer for one in sheet.controls if one.answer != TIE]
    told: dict[str, Any] = {"planned": plan.controls, "answered": len(sheet.controls)}
    if said and plan.method.family != "grades":
        told["sides"] = _habits(plan, said)["sides"]
        told["sureness_mean"] = sum(one.sureness for one in sheet.controls) / len(sheet.controls)
    return told


def _labels(plan: Plan) -> list[str]:
    """The answers that lean to a side; a tie does not."""
    return [label for label in plan.method.answers if label != TIE]


def _generator(plan: Plan) -> Any:
    from numpy.random import PCG64, Generator

    return Generator(PCG64(plan.seed))
