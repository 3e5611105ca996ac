"""One listener working through one plan: which trial comes next, and what is kept of it.

Every step is on disk before it returns, so that killing the process at any instant loses nothing acknowledged and the
session goes on at the same trial with the same key. That key stands in no row before the plan is over: it is worked out
from the plan's secret each time. It plays nothing and shows nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from shlex import quote
from types import MappingProxyType
from typing import Final, Literal

from ..casebook import catalogue, documents, session_counters, session_rows
from ..casebook.catalogue import Listener
from ..casebook.session_rows import ALL_COMPLETE, COMPLETE, SessionRecord
from ..casebook.store import Casebook, NewRow
from ..errors import ListenError
from ..plans import plan_rows, seals, second_hand
from ..plans.methods.method import Key, Method
from ..plans.plan import Plan
from ..plans.plan_parts import PlannedPassage
from ..plans.plan_rows import SealedPlan
from ..plans.seals import Unlocked
from . import session_lock
from .session_lock import SessionLock
from .trial_order import TrialOrder

SIMULATED: Final = "simulated"
PRACTICE: Final = "practice"
REHEARSED: Final = "rehearsal"  # stands for the listener in a rehearsal's draws, so that its seed alone repeats it


@dataclass(frozen=True)
class Offered:
    """One trial as it is offered: its row's id, its number and offer, its passage, and the key (never shown)."""

    row_id: str
    trial: int
    offer: int
    passage: PlannedPassage
    key: Key


@dataclass(frozen=True)
class Rehearsal:
    """What kind of session never counts: a person's practice, or a simulated listener with its share and its rule."""

    kind: Literal["simulated", "practice"]
    seed: int
    hears: str = ""
    rule: str = ""

    @property
    def text(self) -> str:
        """The text that is kept."""
        stated: dict[str, str | int] = {"kind": self.kind, "seed": self.seed}
        if self.kind == SIMULATED:
            stated |= {"hears": self.hears, "rule": self.rule}
        return documents.text_of(stated)


class Session:
    """A session at work. Made by `begin`; a context manager that leaves it stopped and unlocked."""

    def __init__(
        self,
        casebook: Casebook,
        plan: Plan,
        record: SessionRecord,
        order: TrialOrder,
        lock: SessionLock,
        unlocked: Unlocked | None = None,  # of a session that counts
    ) -> None:
        self.casebook = casebook
        self.plan = plan
        self.record = record
        self._order = order
        self._lock = lock
        self._unlocked = unlocked
        self._keys: dict[tuple[int, int], Key] = {}  # as they were worked out, by trial and offer
        self._given: list[tuple[Key, str]] = []  # before the trial on offer: the lock lets nobody else answer

    def __enter__(self) -> Session:
        return self

    def __exit__(self, *exc: object) -> None:
        self._lock.release()

    @property
    def method(self) -> Method:
        """The plan's method as this listener meets it."""
        return self._order.method

    @property
    def answered(self) -> int:
        """How many trials are answered."""
        return session_rows.answered(self.casebook, self.record.id)

    def next_trial(self) -> Offered | None:
        """The trial to be heard now; None when all are answered, or a sequential plan has come to its end.

        A trial begun and not answered comes back with its key; one that was disturbed comes back at its next offer,
        with a fresh coin.
        """
        offers = session_rows.trials_of_session(self.casebook, self.record.id)
        done = {one.trial: one for one in offers if one.answer is not None}
        self._given = [(self._key(one.trial, one.offer), one.answer or "") for one in done.values()]
        trial = next((number for number in range(1, self.plan.slots + 1) if number not in done), None)
        if trial is None or decision(self.plan, self._given) is not None:
            return None
        so_far = [one for one in offers if one.trial == trial]
        passage = self._order.passage(trial)
        standing = next((one for one in so_far if not one.faults), None)
        if standing is not None:
            return Offered(standing.id, trial, standing.offer, passage, self._key(trial, standing.offer))
        offer = len(so_far) + 1
        key = self._key(trial, offer)
        told = None if self.record.rehearsal is None else key
        row = session_rows.new_trial(self.record.id, trial, offer, passage.id, told)
        self.casebook.append_many([row])
        return Offered(row.id, trial, offer, passage, key)

    def _key(self, trial: int, offer: int) -> Key:
        if (trial, offer) not in self._keys:
            self._keys[trial, offer] = self._order.key(trial, offer)
        return self._keys[trial, offer]

    def audition(self, offered: Offered, stimulus: str, from_frame: int, to_frame: int) -> None:
        """Keep one stretch in which the listener heard one stimulus."""
        self.casebook.append_many([session_rows.new_audition(offered.row_id, stimulus, from_frame, to_frame)])

    def fault(self, offered: Offered, kind: str, count: int, detail: str) -> None:
        """Keep a playback fault; the trial it disturbed will be offered again in fresh random order."""
        self.casebook.append_many([session_rows.new_fault(self.record.id, offered.row_id, kind, count, detail)])

    def check_answer(self, answer: str, sureness: int) -> None:
        """Nothing, if this can be answered.

        Raises
        ------
        ListenError
            If the method knows no such answer or the sureness is not 1 to 4.
        """
        self.plan.method.check_answer(answer)
        if not 1 <= sureness <= 4:
            raise ListenError(f"sureness {sureness} is out of range; give 1 (a guess) to 4 (certain)")

    def answer(self, offered: Offered, answer: str, sureness: int, after_ms: int) -> None:
        """Keep an answer; with the last one the session is complete, and with the last session the plan is opened.

        Raises
        ------
        ListenError
            If the method knows no such answer or the sureness is not 1 to 4.
        """
        self.answering(offered, answer, sureness, after_ms)()

    def answering(self, offered: Offered, answer: str, sureness: int, after_ms: int) -> Callable[[], None]:
        """The write of an answer to the trial on offer: what it comes to is known, and only its rows are left to write.

        It may be called again if the casebook was in use.

        Raises
        ------
        ListenError
            If the method knows no such answer or the sureness is not 1 to 4.
        """
        self.check_answer(answer, sureness)
        given = [*self._given, (offered.key, answer)]
        rows = [session_rows.new_answer(offered.row_id, answer, sureness, after_ms)]
        if len(given) < self.plan.slots and decision(self.plan, given) is None:
            return partial(self._write, rows)
        known: Mapping[str, Key] = {}
        if self._unlocked is not None and len(self.plan.listeners) == 1:  # of several, only the last one opens it
            known = seals.untold_keys(self.casebook, self._unlocked)
        return partial(
            self._write, [*rows, session_rows.new_mark(self.record.id, COMPLETE)], complete=True, known=known
        )

    def _write(
        self, rows: Sequence[NewRow], *, complete: bool = False, known: Mapping[str, Key] = MappingProxyType({})
    ) -> None:
        with self.casebook.writing():
            # Somebody else may have closed the plan meanwhile; its key is known since then, and no answer counts.
            if self.record.rehearsal is None and plan_rows.is_closed(self.casebook, self.plan.id):
                seals.check_not_given_up(self.casebook, self.plan)
                raise _over(self.plan)
            self.casebook.append_many(rows)
            # Asked while nobody else can write: two listeners who end together would each find the other unfinished.
            if complete and self._unlocked is not None and self._all_complete():
                seals.open_seal(self.casebook, self._unlocked, ALL_COMPLETE, known)

    def mark(self, what: str, note: str = "") -> None:
        """Keep a turn of the session: begun, paused, resumed, stopped, taken up, complete, abandoned."""
        self.casebook.append_many([session_rows.new_mark(self.record.id, what, note)])

    def _all_complete(self) -> bool:
        return session_rows.complete_sessions(self.casebook, self.plan.id) == len(self.plan.listeners)


def begin(
    casebook: Casebook,
    plan_name: str,
    listener_name: str,
    device: str,
    ask_second: Callable[[SealedPlan], str] | None = None,
) -> Session:
    """The counting session of a listener in a plan: a new one, or the one that was stopped.

    Parameters
    ----------
    ask_second
        Gives the second secret of a plan that has one, as it was typed.

    Raises
    ------
    ListenError
        If the plan is over, does not name the listener, or the session runs in another process.
    """
    sealed = seals.sealed_plan(casebook, plan_name)
    plan = sealed.plan
    names = [listener.name for listener in plan.listeners]
    if listener_name not in names:
        raise ListenError(f"plan {plan.name!r} was sealed for {', '.join(names)}, not for {listener_name!r}")
    if plan_rows.opening(casebook, plan.id):
        raise _over(plan)
    seals.check_not_given_up(casebook, plan)
    listener = catalogue.find(casebook, Listener, listener_name)
    casebook.check_writable()
    second = ask_second(sealed) if ask_second is not None and second_hand.is_held(plan) else None
    unlocked = seals.unlock(casebook, sealed, second)
    order = TrialOrder(plan, unlocked.coin_key, listener.id)
    lock = session_lock.lock(casebook.folder, f"{plan.id}-{listener.id}", f"{listener_name} in plan {plan.name!r}")
    try:
        there = session_rows.counting_session(casebook, plan.id, listener.id)
        if there is None:
            return _start(casebook, listener, order, lock, device=device, unlocked=unlocked)
        if session_rows.is_complete(casebook, there.id):
            raise ListenError(f"{listener_name} has answered all trials of {plan.name!r}; others are awaited")
        session = Session(casebook, plan, there, order, lock, unlocked)
        ahead = session_counters.read_ahead(casebook)
        session_counters.append_turn(casebook, there.id, [session_rows.new_mark(there.id, "taken up", device)], ahead)
    except BaseException:
        lock.release()
        raise
    return session


def begin_rehearsal(casebook: Casebook, plan: Plan, listener: Listener, rehearsal: Rehearsal, device: str) -> Session:
    """A session that never counts."""
    lock = rehearsal_lock(casebook, plan, listener)
    try:
        return _start(
            casebook, listener, rehearsal_order(plan, rehearsal.seed), lock, device=device, rehearsal=rehearsal.text
        )
    except BaseException:
        lock.release()
        raise


def rehearsal_lock(casebook: Casebook, plan: Plan, listener: Listener) -> SessionLock:
    """The lock of a listener's rehearsals of a plan, taken; whoever holds it releases it.

    Raises
    ------
    CasebookError
        If the casebook is read-only.
    ListenError
        If one runs already, or nothing can be locked there.
    """
    casebook.check_writable()
    return session_lock.lock(casebook.folder, f"{plan.id}-rehearsal-{listener.id}", f"a rehearsal of {plan.name!r}")


def rehearsal_order(plan: Plan, seed: int) -> TrialOrder:
    """The order of a rehearsal's trials: it follows from plan name and seed, never from the secret."""
    return TrialOrder(plan, hashlib.sha256(f"rehearsal|{plan.name}|{seed}".encode()).digest(), REHEARSED)


def decision(plan: Plan, given: Sequence[tuple[Key, str]]) -> str | None:
    """What a sequential plan has come to with these answers; None while it goes on, and for a plan of fixed length."""
    if plan.sequential is None:
        return None
    right = [plan.counted.score(key, answer) for key, answer in given if plan.counts(key)]
    return plan.sequential.boundaries.decision(len(right), sum(right))


def _start(
    casebook: Casebook,
    listener: Listener,
    order: TrialOrder,
    lock: SessionLock,
    *,
    device: str,
    rehearsal: str | None = None,
    unlocked: Unlocked | None = None,
) -> Session:
    plan = order.plan
    new = session_rows.new_session(plan.id, listener.id, plan.operator, rehearsal, device)
    ahead = session_counters.read_ahead(casebook)
    begun = session_counters.append_turn(casebook, new.id, [new, session_rows.new_mark(new.id, "begun")], ahead)
    return Session(casebook, plan, session_rows.session_record(begun[0]), order, lock, unlocked)


def _over(plan: Plan) -> ListenError:
    return ListenError(f"plan {plan.name!r} is over; see earwitness verdict {quote(plan.name)}")
