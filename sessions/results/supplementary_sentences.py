"""What stands beside a verdict, in plain sentences: listeners, passages, a Bayesian reading, health. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from .verdict import Verdict

WORTH_A_LOOK = 0.05  # of the health's p-values: a hint, never a test of the verdict


def beside(verdict: Verdict) -> list[str]:
    """The sentences, in the order they are read."""
    told = verdict.beside
    lines = []
    if "panel" in told:
        lines += _panel(told["panel"], preference=verdict.plan.method.asks_preference)
    elif len(verdict.listeners) > 1:
        parts = ", ".join(f"{part.listener} {part.answered} of {part.trials}" for part in verdict.listeners)
        lines.append(f"Answered by listener: {parts}.")
    if told.get("passages"):
        lines += _passages(told["passages"])
    if told.get("bayesian"):
        lines.append(_bayesian(told["bayesian"], verdict))
    for listener, own in told.get("health", {}).items():
        lines.append(_health(listener, own))
    return lines


def p_is(p_value: float) -> str:
    """A p-value as it is said: four decimals, or the bound below them."""
    return "p < 0.0001" if p_value < 0.0001 else f"p = {p_value:.4f}"


def _panel(told: Mapping[str, Any], *, preference: bool) -> list[str]:
    parts = ", ".join(
        f"{own['name']}: {own['correct']} of {own['trials']} (Holm {p_is(own['p_adjusted'])})"
        for own in told["listeners"]
    )
    lines = [f"By listener (exploratory): {parts}."]
    hear = told.get("hear_it")
    if hear:
        lines.append(
            f"How many of the {hear['of']} can hear it (95 % each way): at least {hear['at_least']}; at most "
            f"{hear['at_most_half_the_time']} in half of the trials or more."
        )
    fit = told.get("beta_binomial", {})
    if fit:
        differ = "differ more than chance makes them" if fit["overdispersion_p"] <= WORTH_A_LOOK else "may be alike"
        lines.append(
            f"Listeners {differ} (over-dispersion {p_is(fit['overdispersion_p'])}); truly heard in "
            f"{100 * fit['mu']:.0f} % of the trials on average ({100 * fit['mu_low']:.0f} to "
            f"{100 * fit['mu_high']:.0f} %), spread {fit['gamma']:.2f}."
        )
    return lines


def _passages(told: Mapping[str, Any]) -> list[str]:
    kind = "as planned" if told["planned"] else "exploratory"
    parts = ", ".join(
        f"{own['name']}: {own['correct']} of {own['trials']} (Holm {p_is(own['p_adjusted'])})"
        for own in told["passages"]
    )
    alike = "" if told["p_value"] is None else f"; that they are alike: {p_is(told['p_value'])}"
    return [f"By passage ({kind}): {parts}{alike}."]


def _bayesian(told: Mapping[str, Any], verdict: Verdict) -> str:
    weight = _weight(told["log10_bayes_factor"])
    if told["two_sided"]:
        name = verdict.plan.setups[0].name
        what = f"proportion for {name} {told['mean']:.2f} ({told['low']:.2f} to {told['high']:.2f})"
    else:
        what = (
            f"truly heard in {100 * told['mean']:.0f} % of the trials ({100 * told['low']:.0f} to "
            f"{100 * told['high']:.0f} %)"
        )
    return f"A Bayesian reading, where {told['prior']}: {what}; the answers are {weight}."


def _weight(log10: float) -> str:
    """A Bayes factor in words."""
    if log10 < 0:
        return f"{_times(-log10)} likelier by chance alone"
    return f"{_times(log10)} likelier than by chance alone"


def _times(log10: float) -> str:
    if log10 < 2:
        return f"{10**log10:.3g} times"
    return f"{10**log10:,.0f} times" if log10 < 4 else f"more than {10 ** min(int(log10), 15):,} times"


def _health(listener: str, own: Mapping[str, Any]) -> str:
    parts = []
    if "drift" in own:
        drift = own["drift"]
        parts.append(
            f"halves {drift['first_half']:.2f} and {drift['second_half']:.2f}{_look(drift['p_value'], 'drift')}"
        )
    if "times" in own:
        times = own["times"]
        quick = f", {times['hasty']} within 2 s" if times["hasty"] else ""
        parts.append(f"answers after {times['every']['median'] / 1000:.0f} s (median){quick}")
    if "sides" in own:
        said = ", ".join(f"{label} {count}" for label, count in own["sides"]["counts"].items())
        parts.append(f"answers {said}{_look(own['sides']['p_value'], 'side bias')}")
    if "streaks" in own:
        parts.append(f"longest run {own['streaks']['longest']}{_look(own['streaks']['p_value'], 'streaks')}")
    if "switching" in own:
        parts.append(f"stretches heard in a trial {own['switching']['median']:.0f} (median)")
    sure = own.get("sureness")
    if sure and sure["gamma"] is not None:
        parts.append(f"surer when right: gamma {sure['gamma']:+.2f}{_look(sure['p_value'], '')}")
    if own["unheard"]:
        parts.append(f"{len(own['unheard'])} trials with something not heard")
    if own["passages_never_auditioned"]:
        parts.append(f"never auditioned: {', '.join(own['passages_never_auditioned'])}")
    controls = own.get("controls")
    if controls and "sides" in controls:
        said = ", ".join(f"{label} {count}" for label, count in controls["sides"]["counts"].items())
        parts.append(
            f"{controls['answered']} controls with nothing to hear: {said}, sureness {controls['sureness_mean']:.1f} "
            "of 4"
        )
    return f"Session of {listener}: {'; '.join(parts)}."


def _look(p_value: float | None, what: str) -> str:
    if p_value is None:
        return ""
    hint = f", worth a look: {what}" if p_value <= WORTH_A_LOOK and what else ""
    return f" (p {p_value:.2f}{hint})"
