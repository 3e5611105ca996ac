"""The two lines that a viewer reads first: what came of a plan, and what that means. Pure.

The second says how it was answered, how seldom chance does as well, and of whom it is said. "Not shown" is never told
as equal, and one listener's result is theirs alone.
"""

from __future__ import annotations

from stats.count_summary import HEARD

from .ballot_outcomes import WordBallots, WordRatings, WordsOfMany
from .how_answered import MOST_NAMED, answered, heard_alone, listed, number_of, preferred, who
from .outcome import Outcome
from .verdict import CANNOT_BE_JUDGED, GIVEN_UP, NOT_BEGUN, RUNNING, UNDECIDED, VOID, PlanBefore, Verdict

REHEARSAL = "REHEARSAL, never counted: "
NOT_EQUAL = "That does not show that they are equal"


def first_lines(verdict: Verdict) -> tuple[str, str]:
    """What came of a plan in one sentence, and what it means in another; a rehearsal is marked in both."""
    first, second = _headline(verdict), _meaning(verdict)
    if not verdict.rehearsal:
        return first, second
    return f"{REHEARSAL}{first}", f"{second} A rehearsal says nothing about any person's hearing."


def earlier(before: tuple[PlanBefore, ...], one: str, several: str) -> str:
    """The plans of earlier stages that decide that this one cannot hold, each with what it came to, and their verb."""
    names = [f"{plan.plan} ({plan.came_to})" for plan in before]
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more {several}"
    return f"{listed(names)} {one if len(names) == 1 else several}"


def compared(verdict: Verdict) -> str:
    """The setups, as they are named together."""
    names = [setup.name for setup in verdict.plan.setups]
    return " against ".join(names) if len(names) == 2 else ", ".join(names)


def _headline(verdict: Verdict) -> str:
    plan = verdict.plan
    if verdict.state == CANNOT_BE_JUDGED:
        return f"{plan.name}: cannot be judged: {verdict.reason.rstrip('.')}."
    named = f"{plan.name}: {compared(verdict)}"
    if verdict.verdict is None:
        return f"{named}: {_waiting(verdict)}"
    if verdict.verdict == VOID:
        numbers = "" if verdict.outcome is None else " The numbers below do not count."
        return f"{named}: VOID.{numbers}"
    if verdict.verdict == UNDECIDED:
        most = "at most " if plan.sequential is not None else ""
        planned = plan.trials if verdict.rehearsal else plan.total_trials
        return f"{named}: stopped after {verdict.answered} of {most}{number_of(planned, 'trial')}: UNDECIDED."
    if plan.method.asks_preference:
        return f"{named}: {_of_preference(verdict)}."
    if verdict.verdict != HEARD:
        return f"{named}: a difference was NOT SHOWN{_although(verdict)}."
    whom = ""
    if isinstance(verdict.outcome, (WordBallots, WordRatings, WordsOfMany)):
        words = [one.word for one in verdict.outcome.words if one.word in verdict.words_named]
        whom = f", in {'a word' if len(words) == 1 else f'{len(words)} words'}: {listed(words)}"
    return f"{named}: a difference was HEARD{but_alone(verdict)}{whom}."


def _of_preference(verdict: Verdict) -> str:
    """Of a preference nothing is heard or right: it was shown or not, and by whom which one was preferred."""
    plan = verdict.plan
    if verdict.verdict != HEARD:
        foreseen = f" for {plan.setups[0].name}" if plan.alternative == "greater" else ""
        return f"a preference{foreseen} was NOT SHOWN{_although(verdict)}"
    said = preferred(verdict) or "not all are chosen alike"
    return f"a preference was SHOWN{but_alone(verdict)}: {said}"


def _waiting(verdict: Verdict) -> str:
    plan = verdict.plan
    if verdict.state == GIVEN_UP:
        return f"given up unopened ({verdict.reason.rstrip('.')})."
    if verdict.state == NOT_BEGUN:
        return "sealed, no trial answered yet."
    if plan.sequential is not None:
        return "under way; nothing is shown before its end."
    trials = plan.slots * (1 if verdict.rehearsal else len(plan.listeners))  # a rehearsal is one listener's
    given = f"{verdict.answered} of {number_of(trials, 'trial')}"
    return f"{given} answered. No score is shown before the end."


def but_alone(verdict: Verdict) -> str:
    """What takes something away from a plan that was heard."""
    found = verdict.together
    if found is None or found.holds is not False:
        return ""
    return f" on its own, but not among the {found.primary_plans} primary questions taken together"


def _although(verdict: Verdict) -> str:
    """Why a plan is not shown that was heard by itself."""
    found = verdict.together
    if found is None or not heard_alone(verdict):
        return ""
    if found.asked_before:
        return (
            f", since it was sealed after this question was begun, and can be heard only where "
            f"{earlier(found.asked_before, 'is', 'are')}"
        )
    return f", the {found.asked_together} plans that ask this question taken together"


def _meaning(verdict: Verdict) -> str:
    plan = verdict.plan
    if verdict.state == CANNOT_BE_JUDGED:
        return "So nothing can be said of what was heard."
    if verdict.state == GIVEN_UP:
        trials = number_of(plan.slots * len(plan.listeners), "trial")
        return f"{verdict.answered} of {trials} were answered. What they came to can never be told."
    if verdict.state in (NOT_BEGUN, RUNNING):
        return "Until its end nothing can be said of what is heard, one way or the other."
    if verdict.verdict == VOID:
        return f"Void because: {verdict.void_reasons[0]}. So it says nothing, one way or the other."
    found = verdict.outcome
    if verdict.verdict == UNDECIDED or found is None:
        what = "a preference" if plan.method.asks_preference else "a difference"
        return (
            f"It was stopped too early to say anything: it shows neither that there is {what} nor that there is none."
        )
    if verdict.verdict == HEARD:
        return f"{answered(found, verdict)}. {_of_whom(verdict, found)}".rstrip()
    return f"{answered(found, verdict)}. {NOT_EQUAL}{_to_whom(verdict, found)}."


def _of_whom(verdict: Verdict, found: Outcome) -> str:
    if verdict.rehearsal:
        return ""
    names = who(found)
    return f"This is about {names[0]} alone." if len(names) == 1 else "This is about these listeners, taken together."


def _to_whom(verdict: Verdict, found: Outcome) -> str:
    if verdict.rehearsal:
        return ""
    names = who(found)
    return f", to {names[0]} or to anybody else" if len(names) == 1 else ", to these listeners or to anybody else"
