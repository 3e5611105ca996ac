"""What each listener answered in a plan, read from its record: the trials that count, and the controls apart. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..plans import methods
from ..plans.methods import Key
from ..plans.plan import Plan


@dataclass(frozen=True)
class Answered:
    """One answered trial.

    Attributes
    ----------
    auditions
        Stretches in which a stimulus was heard.
    unheard
        Stimuli of the trial that were never auditioned.
    """

    trial: int
    key: Key
    answer: str
    sureness: int
    after_ms: int
    passage: str
    auditions: int
    unheard: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """One session's answers, in the order of its trials."""

    listener: str
    planned: int
    counted: list[Answered]
    controls: list[Answered]

    @property
    def tied(self) -> int:
        """How many answers were ties."""
        return sum(one.answer == methods.TIE for one in self.counted)

    @property
    def chosen(self) -> list[Answered]:
        """The answers that are no ties."""
        return [one for one in self.counted if one.answer != methods.TIE]


def sheets(plan: Plan, sessions: Sequence[Mapping[str, Any]]) -> list[Sheet]:
    """The sheets of a record's sessions."""
    return [_sheet(plan, session) for session in sessions]


def scores(plan: Plan, answered: Sequence[Answered]) -> list[int]:
    """1 for each right answer, or choice of the plan's first setup; otherwise 0. Ties are to be left out before."""
    return [methods.score(plan.method.name, one.key, one.answer) for one in answered]


def _sheet(plan: Plan, session: Mapping[str, Any]) -> Sheet:
    answered = [_answered(plan, trial) for trial in session["trials"] if trial["answer"] is not None]
    answered.sort(key=lambda one: one.trial)
    return Sheet(
        session["listener_name"],
        plan.trials,
        [one for one in answered if not plan.is_control(one.key)],
        [one for one in answered if plan.is_control(one.key)],
    )


def _answered(plan: Plan, trial: Mapping[str, Any]) -> Answered:
    heard = [audition["stimulus"] for audition in trial["auditions"]]
    return Answered(
        trial["trial"],
        trial["key"],
        trial["answer"],
        trial["sureness"],
        trial["after_ms"],
        trial["passage_name"],
        len(heard),
        tuple(label for label in plan.method.stimuli if label not in heard),
    )
