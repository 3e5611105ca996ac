"""The record of a plan: all that a stranger needs to check its result.

Before the plan is over the record holds neither key nor answers nor secret: only the plan, its seal and how far it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from ..casebook import catalogue, documents, session_rows
from ..casebook.catalogue import Listener
from ..casebook.session_rows import AuditionRecord, TrialRecord
from ..casebook.store import Casebook
from ..plans import coin_phrase, plan_rows, randomisation
from ..plans.methods.method import Key
from ..plans.order_of_sealing import UNPLACED, Course
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan

R = TypeVar("R")
_WITHIN = ("plan", "begun_before_phrase", "course")  # what the record as a document does not repeat


@dataclass(frozen=True)
class Turn:
    """A turn of a session: begun, paused, resumed, stopped, taken up, complete, abandoned."""

    at: str
    what: str
    note: str


@dataclass(frozen=True)
class Audition:
    """One stretch in which the listener heard one stimulus, in frames of the passage."""

    stimulus: str
    from_frame: int
    to_frame: int


@dataclass(frozen=True)
class Trial:
    """One trial as it was offered; answer, sureness and time are None where it was not answered.

    Its key is empty where the record has lost it.
    """

    trial: int
    offer: int
    passage: str
    passage_name: str
    key: Key
    answer: str | None
    sureness: int | None
    after_ms: int | None
    faults: int
    at: str
    auditions: tuple[Audition, ...]


@dataclass(frozen=True)
class Session:
    """One listener's session; its trials are told only once the plan is over (of a rehearsal, at any time)."""

    session: str
    listener: str
    listener_name: str
    operator: str
    device: str
    rehearsal: Mapping[str, Any] | None
    begun_at: str
    marks: tuple[Turn, ...]
    answered: int
    faults: int
    trials: tuple[Trial, ...]

    @property
    def is_complete(self) -> bool:
        """Whether it came to its end."""
        return any(turn.what == "complete" for turn in self.marks)


@dataclass(frozen=True)
class PlanRecord:
    """A plan with its seal, its sessions and, once it is over, its secret."""

    plan: Plan
    seal: str
    sealed_at: str
    secret: str | None
    opened_at: str | None
    ended: str | None
    rehearsal: bool
    sessions: tuple[Session, ...]
    chain_head: str = field(default="")
    phrase: str | None = None
    phrase_at: str | None = None
    begun_before_phrase: bool = False
    course: Course = UNPLACED
    second_hand: str | None = None
    given_up: str | None = None

    @property
    def coin_key(self) -> bytes:
        """The key of the plan's coins, from the opened secret, the phrase and the second secret."""
        return randomisation.coin_key(bytes.fromhex(self.secret or ""), self.phrase, self.second_hand)

    def to_document(self) -> dict[str, Any]:
        """The record as the command line prints it; the plan stands in it as the text that was sealed."""
        stated = {name: part for name, part in self.__dict__.items() if name not in _WITHIN}
        if self.given_up is None:
            del stated["given_up"]
        return {**documents.plain(stated), "plan": self.plan.text}


def record(casebook: Casebook, sealed: SealedPlan, *, rehearsals: bool = False) -> PlanRecord:
    """The record of a sealed plan.

    Parameters
    ----------
    rehearsals
        False: the sessions that count, told once the plan is over. True: the rehearsals instead, told at any time.
    """
    plan = sealed.plan
    opened, phrase = plan_rows.opening(casebook, plan.id), plan_rows.phrase(casebook, plan.id)
    return PlanRecord(
        plan=plan,
        seal=sealed.seal,
        sealed_at=sealed.at,
        secret=opened.secret if opened else None,
        opened_at=opened.at if opened else None,
        ended=opened.why if opened else None,
        rehearsal=rehearsals,
        sessions=_sessions(casebook, plan, rehearsals=rehearsals, told=rehearsals or opened is not None),
        chain_head=casebook.head()["head_hash"],
        phrase=phrase.text if phrase else None,
        phrase_at=phrase.at if phrase else None,
        begun_before_phrase=coin_phrase.is_awaited(plan) and plan_rows.is_begun_before_phrase(casebook, plan.id),
        course=Course(sealed.row, session_rows.first_row(casebook, plan.id), opened.row if opened else None),
        second_hand=opened.second if opened else None,
        given_up=None if opened else plan_rows.given_up(casebook).get(plan.id),
    )


@dataclass(frozen=True)
class KeptKey:
    """A key that a casebook of before holds while its plan runs: for checking, never for anyone's eyes."""

    listener: str
    trial: int
    offer: int
    key: Key


def keys_before_opening(casebook: Casebook, plan_id: str) -> list[KeptKey]:
    """The keys of a running plan's trials, of those whose row holds it (which none does any more)."""
    listeners = {one.id: one.listener_id for one in session_rows.sessions(casebook, plan_id)}
    trials = session_rows.trials(casebook, plan_id)
    return [KeptKey(listeners[one.session_id], one.trial, one.offer, one.key) for one in trials if one.key is not None]


def trial_ids(casebook: Casebook, plan_id: str) -> list[str]:
    """The identifiers of the rows of a plan's trials, rehearsals among them."""
    return [one.id for one in _all_trials(casebook, plan_id)]


def blind_labels(casebook: Casebook, plan_id: str) -> dict[tuple[str, str], int]:
    """For each trial (by its row's identifier) and label of a plan the place that was heard; once it is over only."""
    trials = _all_trials(casebook, plan_id)
    return {(one.id, label): place for one in trials for label, place in (one.key or {}).items()}


def _all_trials(casebook: Casebook, plan_id: str) -> list[TrialRecord]:
    return [one for kind in (False, True) for one in session_rows.trials(casebook, plan_id, rehearsals=kind)]


def _sessions(casebook: Casebook, plan: Plan, *, rehearsals: bool, told: bool) -> tuple[Session, ...]:
    turns = _grouped(session_rows.marks(casebook, plan.id, rehearsals=rehearsals), lambda one: one.session_id)
    offered = _grouped(session_rows.trials(casebook, plan.id, rehearsals=rehearsals), lambda one: one.session_id)
    auditions = session_rows.auditions(casebook, plan.id, rehearsals=rehearsals) if told else []
    heard = _grouped(auditions, lambda one: one.trial_id)
    passages = {passage.id: passage.name for passage in plan.passages}
    listeners = catalogue.names(casebook, Listener)
    return tuple(
        Session(
            session=one.id,
            listener=one.listener_id,
            listener_name=listeners[one.listener_id],
            operator=one.operator,
            device=one.device,
            rehearsal=documents.value_of(one.rehearsal) if one.rehearsal else None,
            begun_at=one.at,
            marks=tuple(Turn(mark.at, mark.what, mark.note) for mark in turns[one.id]),
            answered=sum(trial.answer is not None for trial in offered[one.id]),
            faults=sum(trial.faults for trial in offered[one.id]),
            trials=tuple(_trial(trial, heard[trial.id], passages) for trial in offered[one.id]) if told else (),
        )
        for one in session_rows.sessions(casebook, plan.id, rehearsals=rehearsals)
    )


def _trial(kept: TrialRecord, auditions: Sequence[AuditionRecord], names: Mapping[str, str]) -> Trial:
    return Trial(
        trial=kept.trial,
        offer=kept.offer,
        passage=kept.passage_id,
        passage_name=names.get(kept.passage_id, kept.passage_id),
        key=kept.key or {},
        answer=kept.answer,
        sureness=kept.sureness,
        after_ms=kept.after_ms,
        faults=kept.faults,
        at=kept.at,
        auditions=tuple(Audition(one.stimulus, one.from_frame, one.to_frame) for one in auditions),
    )


def _grouped(records: Iterable[R], by: Callable[[R], str]) -> Mapping[str, list[R]]:
    groups: defaultdict[str, list[R]] = defaultdict(list)
    for one in records:
        groups[by(one)].append(one)
    return groups
