"""Each listener's own numbers of every word of a ballot, so that two who disagree are seen to. No test. Pure.

Of two setups: in how many trials a word was ticked of the first alone (or rated higher of it), and of the second. Of
more: in how many it was ticked of each, or its mean rating of each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..plans.plan import Plan
from .answers import Answer, SessionAnswers
from .ballot_outcomes import OwnWords

Marked = Sequence[Mapping[str, float]]
"""What each word got of each setup, in the plan's order."""


def by_listener(plan: Plan, sessions: Sequence[SessionAnswers]) -> tuple[OwnWords, ...]:
    """The numbers of each listener who answered something; none where there is but one listener."""
    if len(sessions) < 2:
        return ()
    found = []
    for own in sessions:
        if trials := [marked_by_setup(plan, one) for one in own.counted]:
            numbers = tuple(_numbers(plan, word, trials) for word in plan.ballot.words)
            found.append(OwnWords(own.listener, len(trials), numbers))
    return tuple(found)


def marked_by_setup(plan: Plan, one: Answer) -> Marked:
    """What each word got of each setup in one trial."""
    marks = plan.ballot.marks_of(one.answer)
    return [marks[label] for label in sorted(marks, key=lambda label: one.key[label])]


def _numbers(plan: Plan, word: str, trials: Sequence[Marked]) -> tuple[float, ...]:
    marks = [[own[word] for own in trial] for trial in trials]
    if not plan.ballot.many:
        return sum(first > second for first, second in marks), sum(first < second for first, second in marks)
    sums = [sum(own) for own in zip(*marks, strict=True)]
    return tuple(one / len(marks) if plan.ballot.rating else round(one) for one in sums)
