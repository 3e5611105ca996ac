"""What each presentation of a blind ballot got, word by word: who heard which setup of which track, in which week.

Only trials that count; those in which all were one setup stand apart. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ..plans.plan import Plan
from ..words.lexicon import Lexicon
from .plan_record import PlanRecord, Session, Trial

Marks = Mapping[str, float]
"""What each word got: 1 for a tick, 0 for none; or its rating."""


@dataclass(frozen=True)
class Presented:
    """One answered trial of a ballot.

    Attributes
    ----------
    week
        ISO 8601, such as 2026-W48.
    track
        By its identifier.
    marks
        What each setup (by identifier) got, by word.
    """

    plan: str
    week: str
    at: str
    listener: str
    track: str
    marks: Mapping[str, Marks]


@dataclass(frozen=True)
class BallotTrials:
    """A ballot's answered trials: those that count, and of the others what each label got, by word."""

    plan: Plan
    counted: tuple[Presented, ...]
    same: tuple[tuple[Marks, ...], ...]


def of_record(record: PlanRecord, lexicon: Lexicon) -> BallotTrials:
    """A ballot's trials, its words by their headwords in the lexicon."""
    plan, names = record.plan, headwords(record.plan, lexicon)
    answered = [(session, trial) for session in record.sessions for trial in session.trials if trial.answer is not None]
    return BallotTrials(
        plan,
        tuple(_presented(plan, session, trial, names) for session, trial in answered if plan.counts(trial.key)),
        tuple(tuple(_marks(plan, trial, names).values()) for _, trial in answered if plan.is_control(trial.key)),
    )


def week_of(at: str) -> str:
    """The ISO 8601 week of a time.

    >>> week_of("2026-01-01T20:00:00.000Z")
    '2026-W01'
    """
    year, week, _ = date.fromisoformat(at[:10]).isocalendar()
    return f"{year}-W{week:02d}"


def _presented(plan: Plan, session: Session, trial: Trial, names: Mapping[str, str]) -> Presented:
    track = next(one.track_id for one in plan.passages if one.id == trial.passage)
    marks = {plan.setups[trial.key[label]].id: own for label, own in _marks(plan, trial, names).items()}
    return Presented(plan.name, week_of(trial.at), trial.at, session.listener_name, track, marks)


def _marks(plan: Plan, trial: Trial, names: Mapping[str, str]) -> dict[str, Marks]:
    assert trial.answer is not None
    given = plan.ballot.marks_of(trial.answer)
    return {label: {names[word]: mark for word, mark in own.items()} for label, own in given.items()}


def headwords(plan: Plan, lexicon: Lexicon) -> dict[str, str]:
    """Each word's headword; the word itself where the lexicon came to know two of this ballot as one."""
    found = {word: entry.word if (entry := lexicon.find(word)) else word for word in plan.ballot.words}
    names = list(found.values())
    return {word: name if names.count(name) == 1 else word for word, name in found.items()}
