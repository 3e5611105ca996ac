"""What stands beside a verdict: listeners, passages, similarity, a Bayesian reading, the session's health. Pure.

None of it changes the verdict. What was not planned is marked exploratory.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from stats import beta_binomial as over_dispersion
from stats import health, panel, passages, posterior, similarity
from stats.errors import StatsError

from .finding import Finding
from .methods import TIE
from .plan import Plan
from .sheets import Answered, Sheet, scores

HALF = 0.5  # "hears it in at least half of the trials": how many of us
QUICK_MS = 2000


def gathered(plan: Plan, answers: Sequence[Sheet], found: Finding) -> dict[str, Any]:
    """All that stands beside the verdict, as plain values."""
    told: dict[str, Any] = {"health": _health(plan, answers)}
    if plan.method.family != "count":
        return told
    if found.trials:
        told["bayesian"] = posterior.posterior(
            found.correct or 0, found.trials, plan.chance, two_sided=plan.alternative == "two-sided"
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
            most = similarity.most_similar(found.trials, float(wanted), 0.05, plan.chance)
            told |= {"most_right": most, "ruled_out": most is not None and (found.correct or 0) <= most}
    return told


def _panel(plan: Plan, answers: Sequence[Sheet]) -> dict[str, Any]:
    counts = [panel.Count(sheet.listener, sum(scores(plan, sheet.chosen)), sheet.planned) for sheet in answers]
    told = panel.panel(counts, plan.chance, plan.alternative).to_document()
    if not plan.method.asks_preference:
        p_values = [one["p_value"] for one in told["listeners"]]
        told["hear_it"] = {
            "at_least": panel.hearers(p_values, plan.alpha),
            "at_most_half_the_time": panel.at_most(counts, plan.chance, HALF, plan.alpha),
            "of": len(counts),
        }
        right, trials = [count.correct for count in counts], [count.trials for count in counts]
        told["tarone"] = dict(zip(("z", "p_value"), over_dispersion.tarone(right, trials), strict=True))
        try:
            told["beta_binomial"] = over_dispersion.fit(right, trials, plan.chance).to_document()
        except StatsError as error:
            told["beta_binomial"] = {"note": str(error)}
    return told


def _passages(plan: Plan, answers: Sequence[Sheet]) -> dict[str, Any] | None:
    by_name: dict[str, list[Answered]] = {}
    for sheet in answers:
        for one in sheet.chosen:
            by_name.setdefault(one.passage, []).append(one)
    if len(by_name) < 2:
        return None
    counts = [panel.Count(name, sum(scores(plan, part)), len(part)) for name, part in sorted(by_name.items())]
    told = passages.by_passage(counts, plan.chance, plan.alternative, _generator(plan)).to_document()
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
    times = [one.after_ms for one in counted]
    if plan.method.family != "count":
        told["times"] = health.times(times).to_document()
        return told
    right = scores(plan, counted)
    judged = None if plan.method.asks_preference else right
    told |= {
        "drift": health.drift(right).to_document(),
        "times": health.times(times, judged).to_document(),
        "switching": health.switching([one.switches for one in counted], judged).to_document(),
        "sides": health.sides([one.answer for one in counted], _labels(plan)).to_document(),
        "streaks": health.streaks([one.answer for one in counted]).to_document(),
    }
    if judged is not None:
        told["sureness"] = health.sureness([one.sureness for one in counted], judged).to_document()
    return told


def _never(plan: Plan, sheet: Sheet) -> list[str]:
    heard = {one.passage for one in sheet.counted if len(one.unheard) < len(plan.method.stimuli)}
    return [passage["name"] for passage in plan.passages if passage["name"] not in heard]


def _controls(plan: Plan, sheet: Sheet) -> dict[str, Any] | None:
    """What was answered where all stimuli were the same: sides and sureness; nothing there can be right."""
    if not plan.controls:
        return None
    said = [one.answer for one in sheet.controls if one.answer != TIE]
    told: dict[str, Any] = {"planned": plan.controls, "answered": len(sheet.controls)}
    if said and plan.method.family != "grades":
        told["sides"] = health.sides(said, _labels(plan)).to_document()
        told["sureness_mean"] = sum(one.sureness for one in sheet.controls) / len(sheet.controls)
    return told


def _labels(plan: Plan) -> list[str]:
    """The answers that lean to a side; a tie does not."""
    return [label for label in plan.method.answers if label != TIE]


def _generator(plan: Plan) -> Any:
    from numpy.random import PCG64, Generator

    return Generator(PCG64(int.from_bytes(hashlib.sha256(plan.text.encode()).digest()[:8], "big")))
