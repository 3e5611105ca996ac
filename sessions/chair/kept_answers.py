"""What came of an answer that is not of the trial on offer: the casebook knows, also after the program was killed."""

from __future__ import annotations

from datetime import datetime

from ..casebook import catalogue, session_rows
from ..casebook.catalogue import Listener
from ..casebook.session_rows import TrialRecord
from ..casebook.store import Casebook
from ..errors import ListenError
from ..listening.session import Session
from ..plans import seals
from ..plans.methods.method import Method
from . import sheets, wording
from .given import Answered, Said

LATE = "That trial is over; this answer is not taken. Nothing was lost."
AGAIN = "The sound was disturbed: this trial starts afresh, and its answer is not taken."


def said_to(casebook: Casebook, session_id: str, method: Method, given: Answered) -> Said:
    """What is said to an answer of a trial of a session: kept where this very answer is, late where another is."""
    record = _record(casebook, session_id, given.trial)
    if record is None:
        return Said("late", LATE)
    if record.answer is None:
        return Said("again", AGAIN) if record.faults else Said("later")
    try:
        same = sheets.answer_from(method, given.choice, given.marks) == record.answer
    except ListenError:
        same = False
    return Said("kept") if same and record.sureness == given.sureness else Said("late", LATE)


def keep_heard(session: Session, needed: tuple[str, ...], given: Answered) -> Said:
    """Keep an answer of the trial to come, if what it needs is on record as heard, before the program was started anew.

    The time to the answer is then that since the trial was on offer, the time without a program among it.

    Raises
    ------
    CasebookBusy
        If the casebook is in use; it may be asked again.
    """
    casebook = session.casebook
    record = _record(casebook, session.record.id, given.trial)
    if record is None or record.answer is not None or record.faults:
        return said_to(casebook, session.record.id, session.method, given)
    lacking = wording.missing(needed, frozenset(session_rows.heard_in(casebook, record.id)))
    if lacking:
        return Said("later", lacking)
    offered = session.next_trial()
    if offered is None or offered.row_id != record.id:
        return Said("later")
    try:
        answer = sheets.answer_from(session.method, given.choice, given.marks)
        session.check_answer(answer, given.sureness)
    except ListenError as error:
        return Said("refused", str(error))
    waited = datetime.fromisoformat(casebook.now()) - datetime.fromisoformat(record.at)
    session.answer(offered, answer, given.sureness, max(0, round(waited.total_seconds() * 1000)))
    return Said("kept")


def said_to_one_who_left(casebook: Casebook, plan: str, listener: str, given: Answered) -> Said:
    """The same for a listener who does not sit in the chair any more, or not again yet."""
    sealed = seals.sealed_plan(casebook, plan).plan
    person = catalogue.find(casebook, Listener, listener)
    session = session_rows.counting_session(casebook, sealed.id, person.id)
    return Said("later") if session is None else said_to(casebook, session.id, sealed.method, given)


def _record(casebook: Casebook, session_id: str, trial_id: str) -> TrialRecord | None:
    offers = session_rows.trials_of_session(casebook, session_id)
    return next((one for one in offers if f"{one.trial}-{one.offer}" == trial_id), None)
