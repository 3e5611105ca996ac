"""The planned tests of methods with grades: hidden reference, and many stimuli against a reference. Pure.

Each is computed from a plain table of grades, so that grades kept elsewhere go the same way as a plan's. A plan closed
early has the grades that were given, and no test: how the missing ones could have gone knows no bound worth telling.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from stats import hidden_reference, multi_stimulus, permuted_medians, post_screening
from stats.estimates import PValue
from stats.hidden_reference import Expertise
from stats.holm import holm

from ..plans.methods.graded import grades_of
from ..plans.methods.multi_stimulus import MULTI_STIMULUS
from ..plans.plan import Plan
from .answers import FEWEST, Answer, SessionAnswers
from .outcome import ComparedPair, DifferenceGrades, ListenerResult, QualityGrades

EXPERT_ALPHA = 0.05  # that of ITU-R BS.1116's screening of listeners, from memory

Item = tuple[str, int]
"""A passage and its repetition, from 1."""
GradedItems = Mapping[str, Mapping[Item, Mapping[int, float]]]
"""Grades by listener, item and place (setups in order, then anchors)."""


@dataclass(frozen=True)
class Difference:
    """A difference grade, and the passage it was given in."""

    passage: str
    grade: float


def analyse_differences(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> DifferenceGrades:
    """What the planned test of a hidden-reference plan found; `planned` trials of all these sessions together."""
    given = {own.listener: [Difference(one.passage, difference(one)) for one in own.counted] for own in sessions}
    return difference_grades(given, {own.listener: own.planned for own in sessions}, planned, plan.alpha)


def difference_grades(
    given: Mapping[str, Sequence[Difference]], planned_each: Mapping[str, int], planned: int, alpha: float
) -> DifferenceGrades:
    """The exact randomisation test of difference grades: of all, and of each listener's own.

    Parameters
    ----------
    given
        Each listener's difference grades (the object's less the hidden reference's), below 0 where it was found.
    planned_each, planned
        Trials planned for each listener, and for all of them; where one lacks there is no test.
    """
    every = [one for own in given.values() for one in own]
    grades = [one.grade for one in every]
    if len(grades) < planned:
        return DifferenceGrades(
            reached=None,
            complete=False,
            p_value=None,
            trials=planned,
            answered=len(grades),
            listeners=tuple(
                ListenerResult(name, planned_each[name], len(own), None, None) for name, own in given.items()
            ),
            differences=tuple(grades),
        )
    p_value = hidden_reference.randomisation_test(grades)
    expertise = {name: _expertise([one.grade for one in own]) for name, own in given.items()}
    passages: dict[str, list[float]] = {}
    for one in every:
        passages.setdefault(one.passage, []).append(one.grade)
    return DifferenceGrades(
        reached=p_value <= alpha,
        complete=True,
        p_value=p_value,
        trials=planned,
        answered=len(grades),
        listeners=tuple(
            ListenerResult(name, planned_each[name], len(own), None, expertise[name].p_value)
            for name, own in given.items()
        ),
        least_p=0.5 ** len(grades),  # all of one sign, each a fair coin
        differences=tuple(grades),
        every=hidden_reference.expertise(grades),
        by_listener=expertise,
        experts=tuple(
            name for name, one in expertise.items() if one.p_value is not None and one.p_value <= EXPERT_ALPHA
        ),
        by_passage={name: _expertise(part) for name, part in sorted(passages.items())},
    )


def _expertise(grades: Sequence[float]) -> Expertise:
    """Of a part of all trials; of so few that more is not read from them, without a test."""
    found = hidden_reference.expertise(grades)
    return found if len(grades) >= FEWEST else replace(found, p_value=None)


def difference(one: Answer) -> float:
    """The difference grade of a hidden-reference trial: the object's grade less the hidden reference's."""
    grades = grades_of(one.answer)
    return float(sum(grade if one.key[label] else -grade for label, grade in grades.items()))


def analyse_qualities(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> QualityGrades:
    """What the planned test of a multi-stimulus plan found; `planned` trials of all these sessions together."""
    anchors = [anchor.low_pass_hz for anchor in plan.anchors]
    found = {own.listener: _by_item(own) for own in sessions}
    return quality_grades(
        found,
        plan.places,
        len(plan.setups),
        len(plan.setups) + anchors.index(max(anchors)),
        planned,
        plan.alpha,
        by_reference=MULTI_STIMULUS.screens_by_reference(plan.document),
        medians_seed=plan.seed if MULTI_STIMULUS.tests_medians(plan.document) else None,
    )


def quality_grades(
    given: GradedItems,
    places: Sequence[str],
    setups: int,
    mid_anchor: int,
    planned: int,
    alpha: float,
    *,
    by_reference: bool = False,
    medians_seed: int | None = None,
) -> QualityGrades:
    """Post-screening, summaries, and the permutation test of each pair of setups with Holm's correction.

    Parameters
    ----------
    given
        Grades of everyone who graded.
    places, setups
        The names of all that was graded; the first `setups` of them are setups, place 0 the hidden reference.
    mid_anchor
        The mid anchor's place.
    planned
        Trials (listeners times items) planned; where one lacks there is neither screening nor test.
    by_reference
        Leave out who misses the hidden reference, as plans of before say; `stats.post_screening` says why not.
    medians_seed
        Test the difference of medians, as plans of before say, and draw the permutations from this seed where they
        cannot all be gone through (pair n takes seed + n); `stats.permuted_medians` says why not. None: the test of new
        plans.

    Notes
    -----
    The family that Holm's correction runs over are the pairs of setups: those are what the plan asks about. Anchors
    are graded to spread the scale and to screen listeners (ITU-R BS.1534-3, 4.1.2 and 5.1); that they differ from the
    setups is no hypothesis of the test, and counting those pairs in would take power from the questions that are.
    """
    items = sorted({item for graded in given.values() for item in graded})
    answered = sum(len(graded) for graded in given.values())
    if answered < planned:
        given_to = [
            tuple(cell[place] for graded in given.values() for cell in graded.values()) for place in range(len(places))
        ]
        return QualityGrades(
            reached=None,
            complete=False,
            p_value=None,
            trials=planned,
            answered=answered,
            kept=tuple(name for name, graded in given.items() if graded),
            grades=dict(zip(places, given_to, strict=True)),
        )
    screen = post_screening.by_reference_and_anchor if by_reference else post_screening.by_anchor
    screened = screen(_column(given, items, 0), _column(given, items, mid_anchor))
    kept = [graded for name, graded in given.items() if name in screened.kept]
    grades = [tuple(cell[place] for graded in kept for cell in graded.values()) for place in range(len(places))]
    pairs = list(combinations(range(setups), 2)) if kept else []
    p_values = [
        PValue(multi_stimulus.permutation_test(grades[one], grades[two]))
        if medians_seed is None
        else _permuted_medians(grades[one], grades[two], medians_seed + number)
        for number, (one, two) in enumerate(pairs)
    ]
    adjusted = holm([one.value for one in p_values])
    p_value = min(adjusted, default=None)
    reasons = []
    if not kept:
        apart = "the hidden reference and the anchors" if by_reference else "the anchors and the best grades"
        reasons.append(f"post-screening left no listener: none kept {apart} apart")
    return QualityGrades(
        reached=p_value is not None and p_value <= alpha,
        complete=True,
        p_value=p_value,
        trials=planned,
        answered=answered,
        least_p=_least_p(len(grades[0]), len(pairs)) if medians_seed is None else None,
        void=tuple(reasons),
        kept=tuple(screened.kept),
        excluded=dict(screened.excluded),
        missed_reference=dict(screened.missed_reference),
        grades=dict(zip(places, grades, strict=True)),
        summaries={name: multi_stimulus.summary(column) for name, column in zip(places, grades, strict=True) if column},
        pairs=tuple(
            ComparedPair((places[one], places[two]), p.value, q, p.error, p.draws)
            for (one, two), p, q in zip(pairs, p_values, adjusted, strict=True)
        ),
    )


def _least_p(graded: int, pairs: int) -> float | None:
    """Of so many grades of each setup: all differences of one sign, to either side, times the pairs (Holm)."""
    return min(1.0, pairs * 2 * 0.5**graded) if graded and pairs else None


def _permuted_medians(first: Sequence[float], second: Sequence[float], seed: int) -> PValue:
    from numpy.random import PCG64, Generator

    return permuted_medians.permutation_test(first, second, Generator(PCG64(seed)))


def _by_item(session: SessionAnswers) -> dict[Item, dict[int, float]]:
    """A session's grades by passage and repetition, each by place."""
    seen: dict[str, int] = {}
    graded = {}
    for one in session.counted:
        seen[one.passage] = seen.get(one.passage, 0) + 1
        graded[one.passage, seen[one.passage]] = {
            one.key[label]: float(grade) for label, grade in grades_of(one.answer).items()
        }
    return graded


def _column(given: GradedItems, items: Sequence[Item], place: int) -> dict[str, list[float | None]]:
    """Each listener's grades of one place, item by item; None where they gave none."""
    return {name: [graded[item][place] if item in graded else None for item in items] for name, graded in given.items()}
