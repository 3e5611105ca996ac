"""What stands beside a verdict: listeners, passages, similarity, a Bayesian reading, each session's health. Pure.

None of it changes the verdict. What was not planned is marked exploratory. Where a plan did not run to a number of
trials that was fixed beforehand (it was closed early, or has a sequential rule) the readings are of the answered trials
only, and those that are tests of a fixed number of trials are left out: the moment of the end may have been chosen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from stats import beta_binomial, panel, passage_differences, posterior, similarity
from stats.beta_binomial import Fit, Statistic
from stats.panel import Count, Panel
from stats.passage_differences import ByPassage
from stats.posterior import Posterior

from ..plans.plan import Plan
from . import known_differences, session_health
from .answers import FEWEST, Answer, SessionAnswers, scores
from .discrimination import after_ties
from .known_differences import KnownReading
from .outcome import Discrimination, Outcome
from .session_health import SessionHealth

if TYPE_CHECKING:
    from numpy.random import Generator

HALF = 0.5  # "hears it in at least half of the trials": how many of us


@dataclass(frozen=True)
class RuledOut:
    """What a plan meant to rule out, and whether the result does.

    `most_right` is the greatest count that still does, by the rule of the similarity tests; None where no count does. A
    sequential plan has no such count (`by_count` is False): there the exact bound decides.
    """

    share: float
    holds: bool
    by_count: bool = False
    most_right: int | None = None


@dataclass(frozen=True)
class Similarity:
    """The largest share truly heard that the result still allows, and what the plan meant to rule out."""

    largest_difference: float
    planned: RuledOut | None = None

    def to_document(self) -> dict[str, Any]:
        """The similarity as the command line prints it."""
        stated: dict[str, Any] = {
            "largest_difference_allowed": self.largest_difference,
            "planned": self.planned is not None,
        }
        if self.planned is not None:
            stated |= {"rule_out": self.planned.share, "ruled_out": self.planned.holds}
            if self.planned.by_count:
                stated["most_right"] = self.planned.most_right
        return stated


@dataclass(frozen=True)
class HearIt:
    """Between how many and how many of so many listeners hear it: both bounds hold together."""

    at_least: int
    at_most_half_the_time: int
    of: int


@dataclass(frozen=True)
class PanelReading:
    """Several listeners' counts: each by themselves, how many hear it, and whether they differ."""

    panel: Panel
    hear_it: HearIt | None = None
    tarone: Statistic | None = None
    fit: Fit | None = None

    def to_document(self) -> dict[str, Any]:
        """The reading as the command line prints it."""
        stated = self.panel.to_document()
        if self.hear_it is not None:
            stated["hear_it"] = asdict(self.hear_it)
        if self.fit is not None:
            stated["tarone"] = None if self.tarone is None else self.tarone._asdict()
            stated["beta_binomial"] = self.fit.to_document()
        return stated


@dataclass(frozen=True)
class Supplementary:
    """All that stands beside a verdict; None (or empty) where the method or the record gives none.

    Attributes
    ----------
    answered_only
        Whether the plan was closed early: what stands here is then of the answered trials only.
    several_passages
        Whether the plan plays more than one, so that `passages` could be told.
    passage_counts
        Instead of `passages` where the number of trials was not fixed beforehand: counts, and no test.
    """

    answered_only: bool = False
    health: Mapping[str, SessionHealth] = field(default_factory=dict)
    posterior: Posterior | None = None
    similarity: Similarity | None = None
    panel: PanelReading | None = None
    passages: ByPassage | None = None
    passages_planned: bool = False
    several_passages: bool = False
    passage_counts: tuple[Count, ...] = ()
    known: KnownReading | None = None

    def to_document(self) -> dict[str, Any]:
        """The readings as the command line prints them: only what there is."""
        stated: dict[str, Any] = {"health": {name: one.to_document() for name, one in self.health.items()}}
        if self.answered_only:
            stated["answered_only"] = True
        if self.posterior is not None:
            stated["bayesian"] = self.posterior.to_document()
        if self.posterior is not None or self.similarity is not None:
            stated["similarity"] = None if self.similarity is None else self.similarity.to_document()
        if self.panel is not None:
            stated["panel"] = self.panel.to_document()
        if self.several_passages:
            by_passage = self.passages and self.passages.to_document() | {"planned": self.passages_planned}
            stated["passages"] = by_passage
        if self.known is not None:
            stated["known"] = self.known.to_document()
        if self.passage_counts:
            stated["passage_counts"] = [asdict(one) for one in self.passage_counts]
        return stated


def read(plan: Plan, sessions: Sequence[SessionAnswers], found: Outcome) -> Supplementary:
    """All that stands beside a verdict."""
    health = {own.listener: session_health.read(plan, own) for own in sessions if own.counted}
    known = known_differences.read(plan, sessions)
    if not isinstance(found, Discrimination):
        return Supplementary(not found.complete, health, known=known)
    reading = None
    if found.counted >= FEWEST:
        reading = posterior.posterior(found.correct, found.counted, plan.chance, two_sided=plan.method.asks_preference)
    fixed = found.complete and found.sequential is None
    counts = _passage_counts(plan, sessions)
    return Supplementary(
        answered_only=not found.complete,
        health=health,
        posterior=reading,
        similarity=_similarity(plan, found),
        panel=_panel(plan, sessions) if fixed else None,
        passages=_passages(plan, counts) if fixed and len(counts) > 1 else None,
        passages_planned=plan.by_passage,
        several_passages=fixed and len(plan.passages) > 1,
        passage_counts=() if fixed or len(counts) < 2 else counts,
        known=known,
    )


def hear_it(counts: Sequence[Count], chance: float, alpha: float) -> HearIt:
    """Between how many and how many listeners hear it: both bounds together hold with confidence 1 − alpha."""
    p_values = [one.p_value for one in panel.panel(counts, chance, alpha).listeners]
    return HearIt(
        at_least=panel.least_hearers(p_values, alpha / 2),
        at_most_half_the_time=panel.most_hearers(counts, chance, HALF, alpha / 2),
        of=len(counts),
    )


def panel_reading(counts: Sequence[Count], chance: float, found: Panel, *, preference: bool) -> PanelReading:
    """What several listeners' counts say together."""
    if preference:
        return PanelReading(found)
    right, trials = [count.correct for count in counts], [count.trials for count in counts]
    fits = len(counts) > 1 and max(trials) > 1 and sum(trials) >= FEWEST
    return PanelReading(
        found,
        hear_it(counts, chance, found.alpha),
        beta_binomial.tarone(right, trials) if fits else None,
        beta_binomial.fit(right, trials, chance) if fits else None,
    )


def _similarity(plan: Plan, found: Discrimination) -> Similarity | None:
    """What is ruled out: the planned limit, by the ISO rule, and the exact bound.

    Of a plan closed early it is what is ruled out even if all missing trials had been right.
    """
    if plan.method.asks_preference or found.largest_difference is None:
        return None
    wanted = plan.rule_out
    if wanted is None:
        return Similarity(found.largest_difference)
    if plan.sequential is not None:
        return Similarity(found.largest_difference, RuledOut(wanted, found.largest_difference <= wanted))
    right = found.correct if found.could_have_been is None else found.could_have_been.most.for_first
    holds = similarity.ruled_out(right, found.trials, wanted, 0.05, plan.chance)
    most = similarity.critical(found.trials, wanted, 0.05, plan.chance)
    return Similarity(found.largest_difference, RuledOut(wanted, holds, True, most))


def _panel(plan: Plan, sessions: Sequence[SessionAnswers]) -> PanelReading | None:
    counts = []
    for own in sessions:
        first = sum(scores(plan, own.chosen))
        tested = after_ties(plan, first, len(own.chosen) - first, own.ties)
        if tested.trials:
            counts.append(Count(own.listener, tested.for_first, tested.trials))
    if len(counts) < 2:
        return None
    found = panel.panel(counts, plan.chance, plan.alpha, plan.alternative)
    return panel_reading(counts, plan.chance, found, preference=plan.method.asks_preference)


def _passage_counts(plan: Plan, sessions: Sequence[SessionAnswers]) -> tuple[Count, ...]:
    by_name: dict[str, list[Answer]] = {}
    for own in sessions:
        for one in own.chosen:
            by_name.setdefault(one.passage, []).append(one)
    return tuple(Count(name, sum(scores(plan, part)), len(part)) for name, part in sorted(by_name.items()))


def _passages(plan: Plan, counts: Sequence[Count]) -> ByPassage:
    return passage_differences.by_passage(counts, plan.chance, plan.alternative, _generator(plan))


def _generator(plan: Plan) -> Generator:
    import numpy as np

    return np.random.Generator(np.random.PCG64(plan.seed))
