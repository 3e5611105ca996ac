"""The verdict on a plan: heard / not shown / undecided / void. Pure: a record in, a verdict out.

A plan that is still running has no verdict and shows no score, to anyone. A plan that was closed early has the verdict
that holds whichever way its missing trials could have gone, or none: it is undecided.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from math import isfinite
from typing import Any

from stats.count_summary import HEARD, NOT_SHOWN

from ..errors import CasebookError
from ..plans.methods.method import Analysis
from ..plans.order_of_sealing import UNPLACED, Course
from ..plans.plan import Plan, void_reasons
from . import answers, discrimination, supplementary
from .answers import SessionAnswers
from .ballot_outcomes import WordBallots, WordRatings, WordsOfMany
from .key_faults import key_faults
from .outcome import Discrimination, Outcome
from .plan_record import PlanRecord, Session
from .supplementary import Supplementary

UNDECIDED, VOID = "undecided", "void"
GIVEN_UP = "given up"  # unopened: its secret is lost
COMPLETE, CLOSED_EARLY, RUNNING, NOT_BEGUN = "complete", "closed early", "running", "not begun"
CANNOT_BE_JUDGED = "cannot be judged"


def _analyse_differences(plan: Plan, given: Sequence[SessionAnswers], planned: int) -> Outcome:
    from . import ratings  # these load numpy: only for plans that need them

    return ratings.analyse_differences(plan, given, planned)


def _analyse_qualities(plan: Plan, given: Sequence[SessionAnswers], planned: int) -> Outcome:
    from . import ratings

    return ratings.analyse_qualities(plan, given, planned)


def _analyse_pairs(plan: Plan, given: Sequence[SessionAnswers], planned: int) -> Outcome:
    from . import paired_comparison

    return paired_comparison.analyse(plan, given, planned)


def _analyse_ballots(plan: Plan, given: Sequence[SessionAnswers], planned: int) -> Outcome:
    if plan.ballot.many:
        from . import ballots_of_many

        return ballots_of_many.analyse(plan, given, planned)
    if plan.ballot.rating:
        from . import rated_ballots

        return rated_ballots.analyse(plan, given, planned)
    from . import ballots

    return ballots.analyse(plan, given, planned)


ANALYSES: Mapping[Analysis, Callable[[Plan, Sequence[SessionAnswers], int], Outcome]] = {
    "count": discrimination.analyse,
    "difference grades": _analyse_differences,
    "quality grades": _analyse_qualities,
    "pairs": _analyse_pairs,
    "ballots": _analyse_ballots,
}
"""How each kind of answers is judged: plan, answers of its sessions, trials planned of them all."""


@dataclass(frozen=True)
class SameQuestion:
    """Another plan on the same question, in brief."""

    plan: str
    verdict: str | None
    state: str
    correct: int | None
    trials: int
    p_value: float | None


@dataclass(frozen=True)
class PlanBefore:
    """A plan of an earlier stage that does not hold, or one that takes no part, and what it came to."""

    plan: str
    came_to: str


@dataclass(frozen=True)
class Together:
    """What only all plans of a review can say.

    Attributes
    ----------
    same_question
        The other plans on the same question.
    p_same_question, alone
        This plan's p-value corrected for all of them (Holm, by stages of sealing: `together`), and what it came to by
        itself; the verdict is what holds with that correction. None where no other plan asks the question, or there is
        nothing to correct.
    asked_before, primary_before
        Plans of earlier stages that do not hold, so that this one cannot hold either (its p-value there is 1).
    asked_left_out, primary_left_out
        Plans on the same question, and further primary questions, that take no part, and why.
    primary_plans, p_holm, holds
        How many primary questions are judged together, this one's corrected p-value, and whether it holds then; None
        where there is but one that takes part.
    asked_stage, primary_stage
        How many plans stand in its stage, of those on the same question and of the primary questions: by so many each
        word's p-value is multiplied before it holds, whether it does or not.
    """

    same_question: tuple[SameQuestion, ...] = ()
    p_same_question: float | None = None
    alone: str | None = None
    primary_plans: int | None = None
    p_holm: float | None = None
    holds: bool | None = None
    asked_before: tuple[PlanBefore, ...] = ()
    primary_before: tuple[PlanBefore, ...] = ()
    asked_left_out: tuple[PlanBefore, ...] = ()
    primary_left_out: tuple[PlanBefore, ...] = ()
    asked_stage: int = 1
    primary_stage: int = 1

    @property
    def asked_together(self) -> int:
        """How many plans on this question are judged together, this one among them."""
        return 1 + len(self.same_question) - len(self.asked_left_out)

    @property
    def words_among(self) -> int:
        """Of a ballot: how often the p-value of each word counts, so that none is named which only its ballot bears.

        One that does not hold among the primary questions is told so as a whole.
        """
        return max(self.asked_stage, self.primary_stage if self.holds else 1)

    def to_document(self) -> dict[str, Any]:
        """The same as the command line prints it."""
        stated: dict[str, Any] = {"same_question": [asdict(one) for one in self.same_question]}
        if self.p_same_question is not None:
            stated |= {"p_same_question": self.p_same_question, "alone": self.alone}
            stated |= {"asked_before": [asdict(one) for one in self.asked_before]} if self.asked_before else {}
        if self.p_holm is not None:
            stated |= {"primary_plans": self.primary_plans, "p_holm": self.p_holm, "holds": self.holds}
            stated |= {"primary_before": [asdict(one) for one in self.primary_before]} if self.primary_before else {}
        for name, left_out in (("asked", self.asked_left_out), ("primary", self.primary_left_out)):
            stated |= {f"{name}_left_out": [asdict(one) for one in left_out]} if left_out else {}
        return stated


@dataclass(frozen=True)
class Verdict:
    """What a plan came to.

    There is no outcome, and nothing beside it, while the plan is running, where nothing was answered in it, and where
    it cannot be judged (`reason` says why). `course` is that of its record, where a review knows it.
    """

    plan: Plan
    verdict: str | None
    state: str
    void_reasons: list[str]
    trials: int
    answered: int
    rehearsal: bool = False
    outcome: Outcome | None = None
    beside: Supplementary | None = None
    together: Together | None = None
    reason: str = ""
    course: Course = UNPLACED

    @property
    def power(self) -> float | None:
        """The planned power; None where the plan states no number."""
        return _finite(self.plan.power)

    @property
    def p_value(self) -> float | None:
        """The planned test's p-value."""
        return None if self.outcome is None else self.outcome.p_value

    @property
    def count(self) -> Discrimination | None:
        """The outcome of a method whose answers are counted."""
        return self.outcome if isinstance(self.outcome, Discrimination) else None

    @property
    def preferred(self) -> str | None:
        """Which of two setups was preferred, where a preference was heard; of many the test does not say it."""
        return None if self.verdict != HEARD or self.count is None else self.count.preferred

    @property
    def words_heard(self) -> frozenset[str]:
        """The words of a ballot that it holds heard: none where it is not heard as a whole, whatever each came to.

        Of a ballot that is judged together with other plans only those that hold with these too: none where it does
        not hold among the primary questions.
        """
        held = self.together is None or self.together.holds is not False
        return self.words_named if held else frozenset()

    @property
    def words_named(self) -> frozenset[str]:
        """The words of a ballot that its headline names: those it holds heard, or what it was heard in on its own."""
        among = 1 if self.together is None else self.together.words_among
        return frozenset(self._separating(among) if self.verdict == HEARD else ())

    @property
    def words_alone(self) -> tuple[str, ...]:
        """The words that a ballot bears by itself, and not together with the other plans."""
        taken_away = self.verdict == NOT_SHOWN and self.together is not None and self.together.alone == HEARD
        if self.verdict != HEARD and not taken_away:
            return ()
        held = self.words_heard
        return tuple(word for word in self._separating(1) if word not in held)

    def _separating(self, among: int) -> list[str]:
        """The words of a ballot which separate, judged together with so many plans."""
        if not isinstance(self.outcome, (WordBallots, WordRatings, WordsOfMany)):
            return []
        return [one.word for one in self.outcome.separating(self.plan.alpha / among)]

    def to_document(self) -> dict[str, Any]:
        """The verdict as the command line prints it."""
        if self.state == CANNOT_BE_JUDGED:  # whatever is read from its plan could fail again
            return {"plan": self.plan.name, "verdict": None, "state": self.state, "reason": self.reason}
        count, balance = self.count, self.plan.match.unjudged_balance
        return {
            "plan": self.plan.name,
            "method": self.plan.method.name,
            "verdict": self.verdict,
            "state": self.state,
            "void_reasons": self.void_reasons,
            "trials": self.trials,
            "answered": self.answered,
            "correct": None if count is None else count.correct,
            "p_value": self.p_value,
            "alpha": self.plan.alpha,
            "critical": self.plan.criterion if count is None or count.sequential is not None else count.criterion,
            "interval": None if count is None or count.interval is None else asdict(count.interval),
            "d_prime": None if count is None else count.d_prime,
            "largest_difference_allowed": None if count is None else count.largest_difference,
            "power_planned": self.power,
            "effect_planned": _finite(self.plan.effect),
            "preferred": self.preferred,
            "listeners": [] if self.outcome is None else [asdict(part) for part in self.outcome.listeners],
            "rehearsal": self.rehearsal,
            "blinding": self.plan.blinding,
            "primary": self.plan.primary,
            "accepted_giveaways": [
                asdict(one) for one in (*self.plan.accepted_giveaways, *self.plan.match.accepted_balance)
            ],
            "analysis": {} if self.outcome is None else self.outcome.details(),
            "beside": {} if self.beside is None else self.beside.to_document(),
            "together": {} if self.together is None else self.together.to_document(),
        } | ({} if balance is None else {"balance": balance.in_words()})


def judge(record: PlanRecord, *, broken: Sequence[str] | None = None) -> Verdict:
    """The verdict that a record supports.

    Parameters
    ----------
    broken
        What `verification` found wrong with the casebook, if it was asked; each makes the verdict void.

    Notes
    -----
    Where answers are right or wrong `correct` counts the right ones; for preference it counts choices of the plan's
    first setup. When a plan was closed may depend on how it went; so of a count `heard` is said only where every way in
    which the missing trials could have gone reaches the criterion, `not shown` only where none does, and every number
    is the worst of them (`stats.closed_early`). Grades, pairs of many and sequential plans that were closed early are
    undecided, and so is whatever was closed before anything that counts was answered. Each session of a rehearsal is a
    repetition of its own; the newest one is judged.
    """
    plan, rehearsal = record.plan, record.rehearsal
    sessions = record.sessions[-1:] if rehearsal else record.sessions
    planned = plan.trials if rehearsal else plan.total_trials
    if not _over(record, sessions):
        state = RUNNING if sessions else NOT_BEGUN
        if record.given_up is not None and not rehearsal:
            state = GIVEN_UP
        answered, reason = sum(own.answered for own in sessions), record.given_up or ""
        return Verdict(plan, None, state, [], planned, answered, rehearsal, reason=reason)
    if any(not trial.key for own in sessions for trial in own.trials):
        raise CasebookError("keys of its trials are missing, though it is over; earwitness verify names them")
    given = answers.of_sessions(plan, sessions)
    reasons = [*void_reasons(plan), *(broken or ())]
    if not rehearsal:
        given += answers.of_absent(plan, sessions)
        reasons += key_faults(record) if broken is None else []  # whoever checked the casebook checked the keys
    if not any(own.counted for own in given):
        return Verdict(plan, VOID if reasons else UNDECIDED, CLOSED_EARLY, reasons, planned, 0, rehearsal)
    found = ANALYSES[plan.method.analysis](plan, given, planned)
    reasons += found.void
    word = UNDECIDED if found.reached is None else HEARD if found.reached else NOT_SHOWN
    return Verdict(
        plan=plan,
        verdict=VOID if reasons else word,
        state=COMPLETE if found.complete else CLOSED_EARLY,
        void_reasons=reasons,
        trials=found.trials,
        answered=found.answered,
        rehearsal=rehearsal,
        outcome=found,
        beside=supplementary.read(plan, given, found),
    )


def unjudged(plan: Plan, reason: str, *, rehearsal: bool = False) -> Verdict:
    """What stands in the place of a verdict that could not be made."""
    return Verdict(plan, None, CANNOT_BE_JUDGED, [], 0, 0, rehearsal, reason=reason)


def _finite(text: str) -> float | None:
    return float(text) if isfinite(float(text)) else None


def _over(record: PlanRecord, sessions: Sequence[Session]) -> bool:
    if not record.rehearsal:
        return record.secret is not None
    return bool(sessions) and sessions[-1].is_complete
