"""Everything a report tells, gathered from the casebook into records. It draws nothing and writes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..measured import curve_sentences
from ..plans.methods.counted import CountedMethod
from ..plans.methods.graded import GradedMethod, grades_of
from ..plans.methods.method import TIE
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan
from ..preparation import match_sheet, mends
from ..preparation.match_sheet import MatchSheet
from ..preparation.mends import PassageMend
from ..results import plan_record, review, sentences
from ..results.plan_record import PlanRecord, Session, Trial
from ..results.verdict import Verdict
from ..results.verification import Verified
from ..words import log


@dataclass(frozen=True)
class Mark:
    """One trial as it stands in the picture: right (or for the first setup), wrong, disturbed, unanswered."""

    number: int
    state: str
    sureness: int
    says: str


@dataclass(frozen=True)
class Strip:
    """One session's trials in order."""

    listener: str
    device: str
    marks: list[Mark]
    turns: list[str]


@dataclass(frozen=True)
class Measured:
    """The curves beside a comparison: sentences, and pictures with their captions."""

    sentences: list[str]
    pictures: list[tuple[str, str]]


@dataclass(frozen=True)
class Part:
    """One plan in the report."""

    plan: Plan
    seal: str
    sealed_at: str
    verdict: Verdict
    sentences: list[str]
    strips: list[Strip]
    sheet: MatchSheet | None
    mends: list[PassageMend]
    record: PlanRecord
    measured: Measured
    rehearsal: bool = False

    @property
    def headline(self) -> str:
        """The verdict in one sentence."""
        return self.sentences[1 if self.rehearsal and self.verdict.verdict is not None else 0]


@dataclass(frozen=True)
class Report:
    """A whole report."""

    title: str
    made_at: str
    parts: list[Part]
    rehearsals: list[Part]
    words: list[log.LoggedWord]
    checked: Verified
    limits: list[str] = field(default_factory=list)


def gather(casebook: Casebook, title: str) -> Report:
    """The report of a casebook: all its plans, and their rehearsals apart from them."""
    found = review.review(casebook, rehearsals=True)
    parts = [_part(casebook, one.sealed, one.record, one.verdict) for one in found.plans]
    rehearsals = [
        _part(casebook, one.sealed, one.rehearsal_record, one.rehearsal)
        for one in found.plans
        if one.rehearsal_record is not None and one.rehearsal is not None
    ]
    return Report(
        title=title,
        made_at=casebook.now(),
        parts=parts,
        rehearsals=rehearsals,
        words=_words(casebook, parts),
        checked=found.checked,
        limits=_limits(parts),
    )


def _part(casebook: Casebook, sealed: SealedPlan, record: PlanRecord, judged: Verdict) -> Part:
    plan, rehearsal = judged.plan, judged.rehearsal
    sessions = record.sessions[-1:] if rehearsal else record.sessions
    return Part(
        plan=plan,
        seal=sealed.seal,
        sealed_at=sealed.at,
        verdict=judged,
        sentences=sentences.sentences(judged),
        strips=[_strip(plan, session) for session in sessions],
        sheet=match_sheet.of_hash(casebook, plan.match.sheet),
        mends=_mends(casebook, plan),
        record=record,
        measured=Measured([], []) if rehearsal else _measured(casebook, plan),
        rehearsal=rehearsal,
    )


def _measured(casebook: Casebook, plan: Plan) -> Measured:
    """What was measured of the setups compared: both on one set of axes, their difference, and each by itself."""
    from audio.curves import draw

    from ..measured.figures.responses import Difference, Overlay

    setups = [catalogue.find(casebook, Setup, setup.id) for setup in plan.setups]
    measured = curve_sentences.measurements_of(casebook, setups)
    pictures = []
    for one in measured.comparisons:
        pictures.append((draw.svg(Overlay(one).drawn()), f"Measured on axis: {' and '.join(one.names)}."))
        pictures.append((draw.svg(Difference(one).drawn()), f"The difference: {' less '.join(one.names)}."))
    return Measured(measured.sentences, pictures)


def _strip(plan: Plan, session: Session) -> Strip:
    turns = [f"{turn.at} {turn.what}" + (f" ({turn.note})" if turn.note else "") for turn in session.marks]
    return Strip(session.listener_name, session.device, [_mark(plan, trial) for trial in session.trials], turns)


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
    if isinstance(method, GradedMethod):
        given = sorted((key[label], grade) for label, grade in grades_of(answer).items())
        return "graded", ", ".join(f"{plan.places[place]} {grade}" for place, grade in given)
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


def _mends(casebook: Casebook, plan: Plan) -> list[PassageMend]:
    setups = {setup.id for setup in plan.setups}
    passages = {passage.id for passage in plan.passages}
    return [one for one in mends.everything(casebook) if one.setup_id in setups and one.passage_id in passages]


def _words(casebook: Casebook, parts: Sequence[Part]) -> list[log.LoggedWord]:
    """All words in force; blind ones get their setup's name once their plan is over."""
    meant = {
        label: part.plan.places[place]
        for part in parts
        if part.record.secret is not None
        for label, place in plan_record.blind_labels(casebook, part.plan.id).items()
    }
    return [
        replace(word, setup=word.setup or meant.get((word.trial or "", word.stimulus or "")))
        for word in log.words(casebook)
    ]


def _limits(parts: Sequence[Part]) -> list[str]:
    """What the report cannot show, said plainly."""
    limits = []
    alone = [part.plan.name for part in parts if part.plan.operator_listens]
    if alone:
        limits.append(
            f"In {', '.join(alone)} the operator listened too: a seal cannot prove that they did not look at the key."
        )
    open_plans = [part.plan.name for part in parts if part.verdict.verdict is None]
    if open_plans:
        limits.append(f"Not over yet: {', '.join(open_plans)}.")
    if any(not part.plan.match.is_real_gear for part in parts):
        limits.append("Levels were matched in the files; how loud it was at the ears was not measured.")
    assisted = [part.plan.name for part in parts if part.plan.blinding.startswith("single-blind")]
    if assisted:
        limits.append(f"Single-blind: {', '.join(assisted)}; the assistant knew what was playing.")
    if not any(part.measured.pictures for part in parts):
        limits.append("There are no measured curves in this report.")
    return limits
