"""What each listener answered in a plan, read from its record: what counts, and what does not, apart. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..plans.methods.method import TIE, Key
from ..plans.plan import Plan
from .plan_record import Session, Trial

FEWEST = 5  # answers that more is read from: of four by fair coins all are right in more than 5 % of cases (1/16)


@dataclass(frozen=True)
class Answer:
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
class SessionAnswers:
    """One session's answers, in the order of its trials; `planned` trials of it count."""

    listener: str
    planned: int
    counted: tuple[Answer, ...]
    controls: tuple[Answer, ...] = ()
    known: tuple[Answer, ...] = ()

    @property
    def ties(self) -> int:
        """How many answers were ties."""
        return sum(one.answer == TIE for one in self.counted)

    @property
    def chosen(self) -> tuple[Answer, ...]:
        """The answers that are no ties."""
        return tuple(one for one in self.counted if one.answer != TIE)


def of_sessions(plan: Plan, sessions: Sequence[Session]) -> list[SessionAnswers]:
    """The answers of a record's sessions."""
    return [_of_session(plan, session) for session in sessions]


def of_absent(plan: Plan, sessions: Sequence[Session]) -> list[SessionAnswers]:
    """An empty row for each listener of the plan who never began."""
    begun = {session.listener for session in sessions}
    return [SessionAnswers(one.name, plan.trials, ()) for one in plan.listeners if one.id not in begun]


def scores(plan: Plan, answers: Sequence[Answer]) -> list[int]:
    """1 for each right answer, or choice of the plan's first setup; otherwise 0. Ties are to be left out before."""
    return [plan.counted.score(one.key, one.answer) for one in answers]


def _of_session(plan: Plan, session: Session) -> SessionAnswers:
    given = sorted((_answer(plan, trial) for trial in session.trials if trial.answer is not None), key=_by_trial)
    return SessionAnswers(
        session.listener_name,
        plan.trials,
        tuple(one for one in given if plan.counts(one.key)),
        tuple(one for one in given if plan.is_control(one.key)),
        tuple(one for one in given if plan.is_known(one.key)),
    )


def _answer(plan: Plan, trial: Trial) -> Answer:
    assert trial.answer is not None
    assert trial.sureness is not None
    assert trial.after_ms is not None
    heard = [audition.stimulus for audition in trial.auditions]
    return Answer(
        trial.trial,
        trial.key,
        trial.answer,
        trial.sureness,
        trial.after_ms,
        trial.passage_name,
        len(heard),
        tuple(label for label in plan.method.stimuli if label not in heard),
    )


def _by_trial(one: Answer) -> int:
    return one.trial
