"""What came of an answer that is not of the trial on offer: the casebook knows, also after the program was killed."""

from __future__ import annotations

from ..casebook import catalogue, session_rows
from ..casebook.catalogue import Listener
from ..casebook.session_rows import TrialRecord
from ..casebook.store import Casebook
from ..errors import ListenError
from ..plans import seals
from ..plans.methods.method import Method
from . import sheets
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


def said_to_one_who_left(casebook: Casebook, plan: str, listener: str, given: Answered) -> Said:
    """The same for a listener who does not sit in the chair any more, or not again yet."""
    sealed = seals.sealed_plan(casebook, plan).plan
    person = catalogue.find(casebook, Listener, listener)
    session = session_rows.counting_session(casebook, sealed.id, person.id)
    return Said("later") if session is None else said_to(casebook, session.id, sealed.method, given)


def _record(casebook: Casebook, session_id: str, trial_id: str) -> TrialRecord | None:
    offers = session_rows.trials_of_session(casebook, session_id)
    return next((one for one in offers if f"{one.trial}-{one.offer}" == trial_id), None)
