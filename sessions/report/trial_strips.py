"""The trials of a plan's sessions, a strip each: what happened in every trial, in words. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..plans.methods.counted import CountedMethod
from ..plans.methods.graded import GradedMethod, grades_of
from ..plans.methods.method import TIE
from ..plans.methods.rated_ballot import RatedBallot, ratings_of
from ..plans.methods.word_ballot import WordBallot, ticks_of
from ..plans.plan import Plan
from ..results import review
from ..results.plan_record import PlanRecord, Session, Trial


@dataclass(frozen=True)
class Mark:
    """One trial as it stands in the picture: right (or for the first setup), wrong, disturbed, unanswered."""

    number: int
    state: str
    sureness: int
    says: str


@dataclass(frozen=True)
class Strip:
    """One session's trials in order; `note` says why there are none."""

    listener: str
    device: str
    marks: list[Mark]
    turns: list[str]
    note: str = ""


def of(record: PlanRecord) -> list[Strip]:
    """The strips of a record: of a rehearsal the newest, else one for each session, and who never began."""
    if record.rehearsal:
        return [_strip(record, session) for session in record.sessions[-1:]]
    return [_strip(record, session) for session in record.sessions] + _absent(record)


def _strip(record: PlanRecord, session: Session) -> Strip:
    turns = [f"{turn.at} {turn.what}" + (f" ({turn.note})" if turn.note else "") for turn in session.marks]
    told = record.rehearsal or record.secret is not None
    bare = Strip(session.listener_name, session.device, [], turns)
    none = "no trial was offered" if told else "under way; nothing is shown before the end"
    return review.by_itself(
        lambda: replace(bare, marks=[_mark(record.plan, trial) for trial in session.trials], note=none),
        lambda reason: replace(bare, note=f"the trials cannot be shown: {reason}"),
    )


def _absent(record: PlanRecord) -> list[Strip]:
    """Of a plan that is over, the listeners who never began."""
    if record.secret is None:
        return []
    begun = {session.listener for session in record.sessions}
    return [Strip(one.name, "", [], [], "never began") for one in record.plan.listeners if one.id not in begun]


def _mark(plan: Plan, trial: Trial) -> Mark:
    number = trial.trial
    if trial.answer is None:
        state = "disturbed" if trial.faults else "unanswered"
        return Mark(number, state, 0, f"trial {number}, offer {trial.offer}: {state}")
    state, says = _answered(plan, trial, trial.answer)
    return Mark(number, state, trial.sureness or 0, f"trial {number}: {says}, sureness {trial.sureness} of 4")


def _answered(plan: Plan, trial: Trial, answer: str) -> tuple[str, str]:
    """The state of an answered trial, and what it was in words."""
    key, method = trial.key, plan.method
    if plan.is_control(key):
        return "control", "a control, everything the same"
    if plan.is_known(key):
        # one answer cannot say what was heard: who always says "same" is right half of the time
        return "known", f"the known difference, answered {'rightly' if method.finds(key, answer) else 'wrongly'}"
    if isinstance(method, GradedMethod):
        given = sorted((key[label], grade) for label, grade in grades_of(answer).items())
        return "graded", ", ".join(f"{plan.places[place]} {grade}" for place, grade in given)
    if isinstance(method, RatedBallot):
        rated = sorted((key[label], own) for label, own in ratings_of(answer).items())
        return "graded", "; ".join(
            f"{plan.places[place]}: {', '.join(f'{word} {own[word]}' for word in method.words)}" for place, own in rated
        )
    if isinstance(method, WordBallot):
        ticked = sorted((key[label], words) for label, words in ticks_of(answer).items())
        return "graded", "; ".join(f"{plan.places[place]}: {', '.join(words) or 'nothing'}" for place, words in ticked)
    if answer == TIE:
        return "tie", "no preference"
    if not isinstance(method, CountedMethod):
        other = next(label for label in method.stimuli if label != answer)
        return "graded", f"{plan.places[key[answer]]} preferred to {plan.places[key[other]]}"
    scored = method.score(key, answer)
    if method.asks_preference:
        return ("first" if scored else "second"), f"for {plan.setups[0 if scored else 1].name}"
    state = "right" if scored else "wrong"
    return state, state
