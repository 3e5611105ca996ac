"""How much each listener of a plan had practised before their own first trial, and since then.

Practice is of the plan itself, training of named artefacts on its music; both are rehearsals and never counted. It
changes no verdict; what came after a listener's own last trial could change no answer of theirs, and is not told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..casebook import session_rows, training_rows
from ..casebook.session_rows import SessionCourse
from ..casebook.store import Casebook
from ..casebook.training_rows import KeptExercise, TrainedAnswer
from ..plans import plan_rows
from ..plans.plan import Plan
from ..plans.standing_words import counted


@dataclass(frozen=True)
class Done:
    """So many trials of practice, in so many sessions; of training, on the plan's music and on other; on which days."""

    practice_trials: int
    practice_sessions: int
    training_trials: int
    training_elsewhere: int
    trained: tuple[str, ...]
    first: str
    last: str

    @property
    def words(self) -> str:
        """The same in words."""
        parts = []
        if self.practice_trials:
            sessions = "1 practice" if self.practice_sessions == 1 else f"{self.practice_sessions} practices"
            parts.append(f"{counted(self.practice_trials, 'trial')} in {sessions} of this plan")
        if self.training_trials:
            trained = "; ".join(self.trained)
            parts.append(f"{counted(self.training_trials, 'trial')} of training on its music ({trained})")
        if self.training_elsewhere:
            parts.append(f"{counted(self.training_elsewhere, 'trial')} of training on other music")
        days = self.first if self.first == self.last else f"{self.first} to {self.last}"
        return f"{', '.join(parts[:-1])}{' and ' if len(parts) > 1 else ''}{parts[-1]} ({days})"


@dataclass(frozen=True)
class Practised:
    """What one listener did: before their own first trial, and between their trials; None: nothing."""

    listener: str
    before: Done | None
    between: Done | None


def practised(casebook: Casebook, plan: Plan) -> list[Practised]:
    """What each listener of a plan had practised; those who had not are left out."""
    opened = plan_rows.opening(casebook, plan.id)
    runs = {one.id: one for one in training_rows.every(casebook)}
    found = []
    for listener in plan.listeners:
        session = session_rows.counting_session(casebook, plan.id, listener.id)
        course = session_rows.course(casebook, session.id) if session else SessionCourse()
        ends = [row for row in (course.end, opened.row if opened else None) if row is not None]
        trials = session_rows.practised(casebook, plan.id, listener.id)
        trained = training_rows.answers(casebook, listener.id)
        first = course.first_trial
        own = Practised(
            listener.name,
            _done(plan, trials, trained, runs, None, first if first is not None else min(ends, default=None)),
            None if first is None else _done(plan, trials, trained, runs, first, min(ends, default=None)),
        )
        if own.before or own.between:
            found.append(own)
    return found


def sentences(found: Sequence[Practised]) -> list[str]:
    """The same in words."""
    told = []
    for one in found:
        if one.before:
            told.append(f"Before their own first trial {one.listener} had practised: {one.before.words}.")
        if one.between:
            told.append(f"Between their own trials {one.listener} practised: {one.between.words}.")
    return told


def _done(
    plan: Plan,
    trials: Sequence[tuple[int, str, str]],
    trained: Sequence[TrainedAnswer],
    runs: Mapping[str, KeptExercise],
    after: int | None,
    before: int | None,
) -> Done | None:
    """What lies between two rows of the chain."""

    def within(row: int) -> bool:
        return (after is None or row > after) and (before is None or row < before)

    music = {passage.id for passage in plan.passages}
    own = [(at, session) for row, at, session in trials if within(row)]
    answers = [one for one in trained if within(one.row) and one.run in runs]
    here = [one for one in answers if runs[one.run].sought.passage_id in music]
    days = sorted([at[:10] for at, _ in own] + [one.at[:10] for one in answers])
    if not days:
        return None
    said = tuple(dict.fromkeys(runs[one.run].sought.said for one in here))
    sessions = len({session for _, session in own})
    return Done(len(own), sessions, len(here), len(answers) - len(here), said, days[0], days[-1])
