"""The two lines that a viewer reads first: what came of a plan, and what that means. Pure.

The second says how it was answered, how seldom chance does as well, and of whom it is said. "Not shown" is never told
as equal, and one listener's result is theirs alone.
"""

from __future__ import annotations

from functools import singledispatch

from stats.count_summary import HEARD, NOT_SHOWN

from .outcome import BallotWord, DifferenceGrades, Discrimination, Outcome, PairedComparison, QualityGrades, WordBallots
from .verdict import CANNOT_BE_JUDGED, GIVEN_UP, NOT_BEGUN, RUNNING, UNDECIDED, VOID, PlanBefore, Verdict

REHEARSAL = "REHEARSAL, never counted: "
NOT_EQUAL = "That does not show that they are equal"
MOST_NAMED = 3
RARELY = 0.0001  # below it a chance is told as a bound


def first_lines(verdict: Verdict) -> tuple[str, str]:
    """What came of a plan in one sentence, and what it means in another; a rehearsal is marked in both."""
    first, second = _headline(verdict), _meaning(verdict)
    if not verdict.rehearsal:
        return first, second
    return f"{REHEARSAL}{first}", f"{second} A rehearsal says nothing about any person's hearing."


def how_often(chance: float) -> str:
    """A probability as so many of so many: "about 4 of 100"."""
    if chance < RARELY:
        return "fewer than 1 of 10,000"
    of = 100 if chance >= 0.0095 else 1000 if chance >= 0.00095 else 10_000
    return f"about {round(chance * of)} of {of:,}"


def earlier(before: tuple[PlanBefore, ...], one: str, several: str) -> str:
    """The plans of earlier stages that decide that this one cannot hold, each with what it came to, and their verb."""
    names = [f"{plan.plan} ({plan.came_to})" for plan in before]
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more {several}"
    return f"{_listed(names)} {one if len(names) == 1 else several}"


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
        return f"{named}: stopped after {verdict.answered} of {most}{planned} trials: UNDECIDED."
    what = "a preference" if plan.method.asks_preference else "a difference"
    foreseen = plan.alternative == "greater"
    if plan.method.asks_preference and foreseen:
        what = f"a preference for {plan.setups[0].name}"
    if verdict.verdict != HEARD:
        return f"{named}: {what} was NOT SHOWN{_although(verdict)}."
    whom = f", for {verdict.preferred}" if verdict.preferred and not foreseen else ""
    whom = ": not all are chosen alike" if plan.method.analysis == "pairs" else whom
    if isinstance(verdict.outcome, WordBallots):
        words = [one.word for one in verdict.outcome.separating(plan.alpha)]
        whom = f", in {'a word' if len(words) == 1 else f'{len(words)} words'}: {_listed(words)}"
    return f"{named}: {what} was HEARD{_but(verdict)}{whom}."


def _waiting(verdict: Verdict) -> str:
    plan = verdict.plan
    if verdict.state == GIVEN_UP:
        return f"given up unopened ({verdict.reason.rstrip('.')})."
    if verdict.state == NOT_BEGUN:
        return "sealed, no trial answered yet."
    if plan.sequential is not None:
        return "under way; nothing is shown before its end."
    return (
        f"{verdict.answered} of {plan.slots * len(plan.listeners)} trials answered. No score is shown before the end."
    )


def _but(verdict: Verdict) -> str:
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
    return f", the {len(found.same_question) + 1} plans that ask this question taken together"


def heard_alone(verdict: Verdict) -> bool:
    """Whether it was heard by itself, and the plans on the same question take that away."""
    found = verdict.together
    return verdict.verdict == NOT_SHOWN and found is not None and found.alone == HEARD


def _meaning(verdict: Verdict) -> str:
    plan = verdict.plan
    if verdict.state == CANNOT_BE_JUDGED:
        return "So nothing can be said of what was heard."
    if verdict.state == GIVEN_UP:
        return (
            f"{verdict.answered} of {plan.slots * len(plan.listeners)} trials were answered. What they came to can "
            "never be told."
        )
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
        return f"{_answered(found, verdict)}. {_of_whom(verdict, found)}".rstrip()
    return f"{_answered(found, verdict)}. {NOT_EQUAL}{_to_whom(verdict, found)}."


@singledispatch
def _answered(found: Outcome, verdict: Verdict) -> str:
    """How a heard or not shown result was answered, without a full stop."""
    raise NotImplementedError(type(found).__name__)


@_answered.register
def _(found: Discrimination, verdict: Verdict) -> str:
    said = _count(found, verdict)
    if heard_alone(verdict):
        return f"{said}; by itself that is enough, taken together with the other plans it is not"
    if found.sequential is None and not found.complete:
        would = "have been heard" if verdict.verdict == HEARD else "not have been shown"
        return f"{said} before it was closed; whichever way the missing ones had gone, it would {would}"
    if found.sequential is not None and found.sequential.stopped_after < found.sequential.most:
        said += " when its own rule stopped it"
    if verdict.verdict == HEARD:
        return f"{said}; {_by_chance(found, verdict)}"
    if not found.counted:
        return said
    if found.sequential is not None:
        return f"{said}, which is not enough"
    if found.criterion is None:
        return f"{said}, and no number would have been enough"
    side = " for one side" if verdict.plan.method.asks_preference and verdict.plan.alternative != "greater" else ""
    return f"{said}; {found.criterion}{side} were needed"


def _count(found: Discrimination, verdict: Verdict) -> str:
    """How many of how many trials were answered how, and by whom."""
    plan, by = verdict.plan, _by(verdict, found)
    if not plan.method.asks_preference:
        were = "was" if found.correct == 1 else "were"
        return f"{found.correct} of {found.counted} trials {were} answered rightly{by}"
    if not found.counted:
        return f"Every answer{by} was a tie"
    first, other = (setup.name for setup in plan.setups)
    halved = " (ties halved)" if found.ties and found.ties_policy == "split" else ""
    chosen = f"{first} was chosen {found.correct} and {other} {found.counted - found.correct} times"
    return f"In {found.counted} trials {chosen}{halved}{by}"


def _by_chance(found: Discrimination, verdict: Verdict) -> str:
    """How seldom chance alone comes to as much, or, of a sequential plan, to being heard."""
    plan = verdict.plan
    preference = plan.method.asks_preference
    if found.sequential is not None:
        often = how_often(found.sequential.alpha_real)
        what = "were neither preferred, it would be heard" if preference else "guessing alone is heard"
        return f"{what} in {often} such tests"
    assert found.p_value is not None
    often = how_often(found.p_value)
    if not preference:
        return f"guessing alone does as well in {often} such tests"
    as_much = f"as many for {plan.setups[0].name}" if plan.alternative == "greater" else "a split as uneven"
    return f"were neither preferred, {as_much} would come up in {often} such tests"


@_answered.register
def _(found: DifferenceGrades, verdict: Verdict) -> str:
    assert found.every is not None
    assert found.p_value is not None
    mean = round(found.every.mean, 1)
    lay = f"{abs(mean):.1f} grades {'above' if mean < 0 else 'below'} the other" if mean else "level with the other"
    said = f"Graded{_by(verdict, found) or ' blind'}, the hidden reference lay {lay} on average"
    if heard_alone(verdict):
        return f"{said}; by itself that is enough, taken together with the other plans it is not"
    if verdict.verdict == NOT_SHOWN:
        return f"{said}, which is not enough"
    return f"{said}; chance alone does as much in {how_often(found.p_value)} such tests"


@_answered.register
def _(found: QualityGrades, verdict: Verdict) -> str:
    setups = [setup.name for setup in verdict.plan.setups]
    graded = ", ".join(f"{name} {found.summaries[name].median:.0f}" for name in setups if name in found.summaries)
    said = f"The middle grades given{_by(verdict, found)}, out of 100: {graded}"
    apart = [" and ".join(pair.setups) for pair in found.pairs if pair.p_holm <= verdict.plan.alpha]
    if verdict.verdict == NOT_SHOWN:
        return f"{said}; no two were graded clearly enough apart" if not apart else f"{said}"
    return f"{said}; graded apart: {', '.join(apart)}"


@_answered.register
def _(found: PairedComparison, verdict: Verdict) -> str:
    chosen = ", ".join(f"{name} {won}" for name, won in sorted(found.totals.items(), key=lambda item: -item[1]))
    said = f"Chosen{_by(verdict, found)} of {found.answered} comparisons: {chosen}"
    if verdict.verdict == NOT_SHOWN or found.p_value is None:
        return said
    return f"{said}; were all liked alike, as uneven a result would come up in {how_often(found.p_value)} such tests"


@_answered.register
def _(found: WordBallots, verdict: Verdict) -> str:
    words, number = found.separating(verdict.plan.alpha), len(found.words)
    said = f"In {found.answered} trials{_by(verdict, found)}"
    if not words:
        return f"{said} none of {number} words was said clearly more often of one of the two"
    plainest = sorted(words, key=lambda one: one.p_holm or 0.0)[:MOST_NAMED]
    more = f"; and {len(words) - MOST_NAMED} more" if len(words) > MOST_NAMED else ""
    said = f"{said}, {'; '.join(said_of(one, found) for one in plainest)}{more}"
    if heard_alone(verdict):
        return f"{said}; by itself that is enough, taken together with the other plans it is not"
    assert found.p_value is not None
    often = how_often(found.p_value)
    return f"{said}; chance alone does as much for any of {number} words in {often} such tests"


def said_of(one: BallotWord, found: WordBallots) -> str:
    """Of which of the two a word was said more often, and how often of either alone."""
    more, less = max(one.first_only, one.second_only), min(one.first_only, one.second_only)
    return f'"{one.word}" was said of {found.setups[one.second_only > one.first_only]} more often, {more} to {less}'


def _by(verdict: Verdict, found: Outcome) -> str:
    """By whom; of a rehearsal it is nobody's."""
    who = _who(found)
    if verdict.rehearsal:
        return ""
    return f" by {_listed(who)}" if len(who) <= MOST_NAMED else f" by {len(who)} listeners"


def _of_whom(verdict: Verdict, found: Outcome) -> str:
    if verdict.rehearsal:
        return ""
    who = _who(found)
    return f"This is about {who[0]} alone." if len(who) == 1 else "This is about these listeners, taken together."


def _to_whom(verdict: Verdict, found: Outcome) -> str:
    if verdict.rehearsal:
        return ""
    who = _who(found)
    return f", to {who[0]} or to anybody else" if len(who) == 1 else ", to these listeners or to anybody else"


def _who(found: Outcome) -> list[str]:
    """Whose answers the result rests on."""
    if isinstance(found, QualityGrades):
        return list(found.kept)
    return [one.listener for one in found.listeners if one.answered]


def _listed(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
