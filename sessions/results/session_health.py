"""How one session went: drift, times, sides, switching, sureness, what was never heard, controls. Pure.

A hint where to look, never a test of the verdict. Of a few answers only what was heard and said is told: a median or a
half of so few says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from stats import response_bias, session_diagnostics
from stats.runs_test import RunsTest, runs_test
from stats.session_diagnostics import Drift, Sureness, Switching, Times

from ..plans.methods.method import TIE
from ..plans.plan import Plan
from .answers import FEWEST, SessionAnswers, scores

QUICK_MS = 2000


@dataclass(frozen=True)
class Sides:
    """How often each answer was given, and the p-value that they are equally likely."""

    counts: Mapping[str, int]
    p_value: float

    def to_document(self) -> dict[str, Any]:
        """The sides as the command line prints them."""
        return asdict(self)


@dataclass(frozen=True)
class Unheard:
    """Stimuli of a trial that were never auditioned."""

    trial: int
    stimuli: tuple[str, ...]


@dataclass(frozen=True)
class ControlAnswers:
    """What was answered where all stimuli were the same; nothing there can be right."""

    planned: int
    answered: int
    sides: Sides | None = None
    sureness_mean: float | None = None

    def to_document(self) -> dict[str, Any]:
        """The answers as the command line prints them."""
        stated: dict[str, Any] = {"planned": self.planned, "answered": self.answered}
        if self.sides is not None:
            stated |= {"sides": self.sides.to_document(), "sureness_mean": self.sureness_mean}
        return stated


@dataclass(frozen=True)
class SessionHealth:
    """One session: drift, times, sides, switching, sureness, what was never heard, controls; None where not asked."""

    unheard: tuple[Unheard, ...]
    passages_never_auditioned: tuple[str, ...]
    controls: ControlAnswers | None
    times: Times | None = None
    switching: Switching | None = None
    drift: Drift | None = None
    sides: Sides | None = None
    streaks: RunsTest | None = None
    sureness: Sureness | None = None

    def to_document(self) -> dict[str, Any]:
        """The health as the command line prints it: only what there is."""
        stated: dict[str, Any] = {
            "unheard": [{"trial": one.trial, "stimuli": list(one.stimuli)} for one in self.unheard],
            "passages_never_auditioned": list(self.passages_never_auditioned),
            "controls": None if self.controls is None else self.controls.to_document(),
        }
        parts = {"times": self.times, "switching": self.switching, "drift": self.drift, "sides": self.sides,
                 "streaks": self.streaks, "sureness": self.sureness}  # fmt: skip
        return stated | {name: part.to_document() for name, part in parts.items() if part is not None}


def read(plan: Plan, session: SessionAnswers) -> SessionHealth:
    """The health of one session."""
    counts = plan.method.analysis == "count"
    counted = session.chosen if counts else session.counted
    unheard = tuple(Unheard(one.trial, one.unheard) for one in session.counted if one.unheard)
    bare = SessionHealth(unheard, _never(plan, session), _controls(plan, session))
    right = scores(plan, counted) if counts else []
    # where nothing is right or wrong there is nothing to compare: all count as one kind
    judged = right if right and not plan.method.asks_preference else [1] * len(counted)
    said = [one.answer for one in counted]
    if len(counted) < FEWEST:
        return replace(bare, sides=_sides(plan, said) if right else None)
    return replace(
        bare,
        times=session_diagnostics.times([one.after_ms for one in counted], judged, QUICK_MS),
        switching=session_diagnostics.switching([one.auditions for one in counted], judged, len(plan.method.needed)),
        drift=session_diagnostics.drift(right) if right else None,
        sides=_sides(plan, said) if right else None,
        streaks=runs_test(said) if right and len(_labels(plan)) == 2 else None,
        sureness=session_diagnostics.sureness([one.sureness for one in counted], right)
        if right and not plan.method.asks_preference
        else None,
    )


def _sides(plan: Plan, said: Sequence[str]) -> Sides:
    from numpy.random import PCG64, Generator

    labels = _labels(plan)
    counts = {label: sum(answer == label for answer in said) for label in labels}
    if len(labels) == 2:
        return Sides(counts, response_bias.side_bias(counts[labels[0]], len(said)).p_value)
    return Sides(counts, response_bias.side_choice([*counts.values()], Generator(PCG64(plan.seed))).p_value)


def _never(plan: Plan, session: SessionAnswers) -> tuple[str, ...]:
    every = (*session.counted, *session.controls, *session.known)
    heard = {one.passage for one in every if len(one.unheard) < len(plan.method.stimuli)}
    return tuple(passage.name for passage in plan.passages if passage.name not in heard)


def _controls(plan: Plan, session: SessionAnswers) -> ControlAnswers | None:
    if not plan.controls:
        return None
    said = [one.answer for one in session.controls if one.answer != TIE]
    answered = len(session.controls)
    if not said or not plan.method.answers:
        return ControlAnswers(plan.controls, answered)
    mean = sum(one.sureness for one in session.controls) / answered
    return ControlAnswers(plan.controls, answered, _sides(plan, said), mean)


def _labels(plan: Plan) -> list[str]:
    """The answers that lean to a side; a tie does not."""
    return [label for label in plan.method.answers if label != TIE]
