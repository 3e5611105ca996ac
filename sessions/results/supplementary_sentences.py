"""What stands beside a verdict, in plain sentences: listeners, passages, a Bayesian reading, health. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stats.beta_binomial import Fit
from stats.estimates import PValue
from stats.panel import Count
from stats.passage_differences import ByPassage
from stats.posterior import Posterior

from .ballot_outcomes import WordBallots, WordRatings, WordsOfMany
from .how_answered import number_of
from .outcome import Discrimination, ListenerResult, Outcome
from .session_health import SessionHealth
from .supplementary import PanelReading
from .verdict import Verdict

WORTH_A_LOOK = 0.05  # of the health's p-values: a hint, never a test of the verdict

LISTENERS, PASSAGES = "Each listener", "Passage by passage"
BAYESIAN, HEALTH = "How likely it is, reckoned another way", "How the session went"

AS_OFTEN = 0.1  # of gamma, below which right answers were as sure as wrong ones; our choice
AS_LIKELY = 0.02  # of a Bayes factor's logarithm: within 5 %


@dataclass(frozen=True)
class Block:
    """Lines that belong together beside a verdict, under a title in plain words."""

    title: str
    lines: Sequence[str]


def sentences(verdict: Verdict) -> list[str]:
    """The sentences, in the order they are read."""
    lines = [line for block in blocks(verdict) for line in block.lines]
    only = verdict.beside is not None and verdict.beside.answered_only
    return ["What follows is of the answered trials only.", *lines] if lines and only else lines


def blocks(verdict: Verdict) -> list[Block]:
    """The sentences by what they are about, in the order they are read; none of a part of which nothing is said."""
    found, outcome = verdict.beside, verdict.outcome
    if found is None or outcome is None:
        return []
    listeners, passages, bayesian = list[str](), list[str](), list[str]()
    if found.panel is not None:
        listeners = _panel(found.panel, _halved(outcome)) + _only_ties(outcome)
    elif isinstance(outcome, (WordBallots, WordRatings, WordsOfMany)) and outcome.by_listener:
        listeners = _own_words(outcome)
    elif len(outcome.listeners) > 1:
        listeners = [f"By listener: {', '.join(_answered(part) for part in outcome.listeners)}."]
    if found.passages is not None:
        passages.append(_passages(found.passages, planned=found.passages_planned))
    if found.passage_counts:
        passages.append(_passage_counts(found.passage_counts, verdict))
    if found.posterior is not None:
        bayesian.append(_bayesian(found.posterior, verdict, outcome))
    plan = verdict.plan
    scored = f"for {plan.setups[0].name}" if plan.method.asks_preference else "right"
    health = [said for listener, own in found.health.items() if (said := _health(listener, own, scored))]
    parts = [(LISTENERS, listeners), (PASSAGES, passages), (BAYESIAN, bayesian), (HEALTH, health)]
    of_answered = ", of the answered trials only" if found.answered_only else ""
    return [Block(f"{title}{of_answered}", lines) for title, lines in parts if lines]


def p_is(p_value: float) -> str:
    """A p-value as it is said: four decimals, or the bound below them."""
    told = bare_p(p_value)
    return f"p {told}" if told.startswith("<") else f"p = {told}"


def bare_p(p_value: float) -> str:
    """The same as it stands in a column of p-values."""
    return "< 0.0001" if p_value < 0.0001 else f"{p_value:.4f}"


def estimated(found: PValue) -> str:
    """A p-value as it is said; one that was drawn with the number of draws and its standard error."""
    if found.draws is None or found.error is None:
        return p_is(found.value)
    error = f", standard error {found.error:.5f}" if found.error else ""  # none where every draw was as far
    return f"{p_is(found.value)} (estimated by {found.draws} random draws{error})"


def _answered(part: ListenerResult) -> str:
    ties = ", all of them ties" if part.answered and part.counted == 0 else ""
    return f"{part.listener} answered {part.answered} of {part.trials}{ties}"


def _own_words(outcome: WordBallots | WordRatings | WordsOfMany) -> list[str]:
    """Each listener's own numbers of every word: added up, two who disagree cancel each other out."""
    of, form = " : ".join(outcome.setups), "g"
    if isinstance(outcome, WordBallots):
        how = f"ticked of {' alone : of '.join(outcome.setups)} alone"
    elif isinstance(outcome, WordRatings):
        how = f"rated higher of {' : of '.join(outcome.setups)}"
    else:
        how, form = (f"mean ratings of {of}", ".1f") if outcome.rated else (f"ticked of {of}", "g")
    lines = [f"Each word by listener, {how}, not tested:"]
    answered, words = {own.listener: own for own in outcome.by_listener}, [one.word for one in outcome.words]
    for part in outcome.listeners:
        own = answered.get(part.listener)
        if own is None:
            lines.append(f"{_answered(part)}.")
            continue
        of_planned = "" if own.trials == part.trials else f"{own.trials} of "
        trials = f"{of_planned}{number_of(part.trials, 'trial')}"
        numbers = (":".join(f"{number:{form}}" for number in numbers) for numbers in own.words)
        each = (f"{word} {told}" for word, told in zip(words, numbers, strict=True))
        lines.append(f"{part.listener}, {trials}: {', '.join(each)}.")
    return lines


def _halved(outcome: Outcome) -> str:
    """Beside what takes half a tie for half an answer."""
    halved = isinstance(outcome, Discrimination) and outcome.ties and outcome.ties_policy == "split"
    return ", ties halved" if halved else ""


def _only_ties(outcome: Outcome) -> list[str]:
    """Whoever is missing from a panel, since all their answers were ties."""
    names = [part.listener for part in outcome.listeners if part.answered and part.counted == 0]
    return [f"Of {' and '.join(names)} every answer was a tie."] if names else []


def _passage_counts(counts: Sequence[Count], verdict: Verdict) -> str:
    parts = ", ".join(f"{own.name}: {own.correct} of {own.trials}" for own in counts)
    counted = f"for {verdict.plan.setups[0].name}" if verdict.plan.method.asks_preference else "right"
    return f"By passage, {counted}: {parts}; no test, since how many trials there are was not fixed beforehand."


def _panel(found: PanelReading, halved: str) -> list[str]:
    parts = ", ".join(
        f"{own.name}: {own.correct} of {own.trials} (Holm {p_is(own.p_adjusted)})" for own in found.panel.listeners
    )
    lines = [f"By listener (exploratory{halved}): {parts}."]
    hear = found.hear_it
    if hear is not None:
        lines.append(
            f"How many of the {hear.of} can hear it ({100 * (1 - found.panel.alpha):g} % for both bounds together): at "
            f"least {hear.at_least}; at most "
            f"{hear.at_most_half_the_time} in half of the trials or more."
        )
    return lines if found.fit is None else [*lines, _fit(found.fit)]


def _fit(fit: Fit) -> str:
    differ = "differ more than chance makes them" if fit.overdispersion_p <= WORTH_A_LOOK else "may be alike"
    return (
        f"Listeners {differ} (over-dispersion {p_is(fit.overdispersion_p)}); truly heard in {100 * fit.mu:.0f} % of "
        f"the trials on average ({100 * fit.mu_low:.0f} to {100 * fit.mu_high:.0f} %), spread {fit.gamma:.2f}."
    )


def _passages(found: ByPassage, *, planned: bool) -> str:
    kind = "as planned" if planned else "exploratory"
    parts = ", ".join(
        f"{own.name}: {own.correct} of {own.trials} (Holm {p_is(own.p_adjusted)})" for own in found.passages
    )
    alike = "" if found.p_alike is None else f"; that they are alike: {estimated(found.p_alike)}"
    return f"By passage ({kind}): {parts}{alike}."


def _bayesian(found: Posterior, verdict: Verdict, outcome: Outcome) -> str:
    weight = _weight(found.log10_bayes_factor)
    if found.two_sided:
        name = verdict.plan.setups[0].name
        what = f"proportion for {name} {found.mean:.2f} ({found.low:.2f} to {found.high:.2f})"
    else:
        what = (
            f"truly heard in {100 * found.mean:.0f} % of the trials ({100 * found.low:.0f} to {100 * found.high:.0f} %)"
        )
    return f"A Bayesian reading{_halved(outcome)}, where {found.prior}: {what}; the answers are {weight}."


def _weight(log10: float) -> str:
    """A Bayes factor in words."""
    if abs(log10) < AS_LIKELY:
        return "about as likely by chance alone"
    if log10 < 0:
        return f"{_times(-log10)} likelier by chance alone"
    return f"{_times(log10)} likelier than by chance alone"


def _times(log10: float) -> str:
    if log10 < 2:
        return f"{10**log10:.3g} times"
    return f"{10**log10:,.0f} times" if log10 < 4 else f"more than {10 ** min(int(log10), 15):,} times"


def _health(listener: str, own: SessionHealth, scored: str) -> str:
    """How a session went; `scored` is what halves count."""
    parts = []
    if own.drift is not None:
        drift = own.drift
        first, second = (f"{100 * half:.0f} %" for half in (drift.first_half, drift.second_half))
        halves = f"{first} {scored} in the first half, {second} in the second"
        parts.append(f"{halves}{_look(drift.p_value, 'drift', of='a trend over all trials: ')}")
    if own.times is not None:
        quick = f", {own.times.hasty} within 2 s" if own.times.hasty else ""
        parts.append(f"answers after {own.times.every.median / 1000:.0f} s (median){quick}")
    if own.sides is not None:
        said = ", ".join(f"{label}: {count}" for label, count in own.sides.counts.items())
        parts.append(f"answers {said}{_look(own.sides.p_value, 'side bias')}")
    if own.streaks is not None:
        parts.append(f"longest run {own.streaks.longest}{_look(own.streaks.p_value, 'streaks')}")
    if own.switching is not None:
        parts.append(f"stretches heard in a trial {own.switching.median:.0f} (median)")
    sure = own.sureness
    if sure is not None and sure.gamma is not None:
        parts.append(f"{_surer(sure.gamma)} (gamma {sure.gamma:+.2f}){_look(sure.p_value, '')}")
    if own.unheard:
        trials = "1 trial" if len(own.unheard) == 1 else f"{len(own.unheard)} trials"
        parts.append(f"{trials} with something not heard")
    if own.passages_never_auditioned:
        parts.append(f"never auditioned: {', '.join(own.passages_never_auditioned)}")
    controls = own.controls
    if controls is not None and controls.sides is not None:
        said = ", ".join(f"{label}: {count}" for label, count in controls.sides.counts.items())
        heard = "1 control" if controls.answered == 1 else f"{controls.answered} controls"
        parts.append(f"{heard} with nothing to hear: {said}, sureness {controls.sureness_mean:.1f} of 4")
    return f"Session of {listener}: {'; '.join(parts)}." if parts else ""


def _surer(gamma: float) -> str:
    """Whether surer answers were right more often, in words."""
    if abs(gamma) < AS_OFTEN:
        return "surer answers were right about as often as others"
    return f"surer answers were right {'more' if gamma > 0 else 'less'} often than others"


def _look(p_value: float | None, what: str, *, of: str = "") -> str:
    """A p-value and whether it is a hint; `of` says what it is of, where that is not what stands before it."""
    if p_value is None:
        return ""
    hint = f", worth a look: {what}" if p_value <= WORTH_A_LOOK and what else ""
    said = "p < 0.01" if p_value < 0.005 else f"p {p_value:.2f}"
    return f" ({of}{said}{hint})"
