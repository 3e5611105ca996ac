"""The planned tests of methods with grades: hidden reference, and many stimuli against a reference. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from stats import hidden_reference, multi_stimulus
from stats.holm import holm

from ..plans.methods import ANCHORS_HZ, grades_of
from ..plans.plan import Plan
from .answers import Answered, Sheet
from .outcome import Finding, ListenerCount

EXPERT_ALPHA = 0.05  # ITU-R BS.1116's screening of listeners, from memory


def found(plan: Plan, sheets: Sequence[Sheet], planned: int) -> Finding:
    """What the planned test found; `planned` trials of all these sheets together."""
    if plan.method.name == "hidden-reference":
        return _hidden_reference(plan, sheets, planned)
    return _multi_stimulus(plan, sheets, planned)


def difference(one: Answered) -> float:
    """The difference grade of a hidden-reference trial: the object's grade less the hidden reference's."""
    grades = grades_of(one.answer)
    return float(sum(grade if one.key[label] else -grade for label, grade in grades.items()))


def by_place(one: Answered) -> dict[int, float]:
    """The grades of a multi-stimulus trial by place."""
    return {one.key[label]: float(grade) for label, grade in grades_of(one.answer).items()}


def _hidden_reference(plan: Plan, sheets: Sequence[Sheet], planned: int) -> Finding:
    answered = sum(len(sheet.counted) for sheet in sheets)
    differences = [difference(one) for sheet in sheets for one in sheet.counted]
    p_value = hidden_reference.randomisation_test([*differences, *[0.0] * (planned - answered)])
    own = {sheet.listener: hidden_reference.expertise([difference(o) for o in sheet.counted]) for sheet in sheets}
    listeners = [ListenerCount(s.listener, s.planned, len(s.counted), None, own[s.listener].p_value) for s in sheets]
    passages: dict[str, list[float]] = {}
    for sheet in sheets:
        for one in sheet.counted:
            passages.setdefault(one.passage, []).append(difference(one))
    return Finding(
        reached=p_value <= plan.alpha,
        complete=answered == planned,
        p_value=p_value,
        trials=planned,
        answered=answered,
        listeners=listeners,
        analysis={
            "differences": differences,
            "all": asdict(hidden_reference.expertise(differences)),
            "listeners": {name: asdict(one) | {"expert": one.p_value <= EXPERT_ALPHA} for name, one in own.items()},
            "passages": {name: asdict(hidden_reference.expertise(part)) for name, part in sorted(passages.items())},
        },
    )


def _multi_stimulus(plan: Plan, sheets: Sequence[Sheet], planned: int) -> Finding:
    answered = sum(len(sheet.counted) for sheet in sheets)
    items = _items(sheets)
    low_anchor = len(plan.setups)
    mid_anchor = low_anchor + 1 + ANCHORS_HZ.index(7000) - 1
    screened = multi_stimulus.post_screen(_column(sheets, items, 0), _column(sheets, items, mid_anchor))
    kept = [sheet for sheet in sheets if sheet.listener in screened.kept]
    grades = {place: [by_place(o)[place] for s in kept for o in s.counted] for place in range(low_anchor + 2)}
    names = plan.places
    pairs = [(one, two) for one in range(low_anchor) for two in range(one + 1, low_anchor)]
    p_values = [_permuted(grades[one], grades[two], plan.seed + place) for place, (one, two) in enumerate(pairs)]
    adjusted = holm(p_values)
    p_value = min(adjusted, default=1.0)
    complete = answered == planned
    return Finding(
        reached=p_value <= plan.alpha,
        complete=complete,
        p_value=p_value,
        trials=planned,
        answered=answered,
        listeners=[],
        analysis={
            "kept": list(screened.kept),
            "excluded": dict(screened.excluded),
            "grades": {names[place]: column for place, column in grades.items()},
            "summaries": {
                names[place]: asdict(multi_stimulus.summary(column)) for place, column in grades.items() if column
            },
            "pairs": [
                {"setups": [names[one], names[two]], "p_value": p, "p_holm": q}
                for (one, two), p, q in zip(pairs, p_values, adjusted, strict=True)
            ],
        },
        void=_void(plan, kept, complete),
    )


def _void(plan: Plan, kept: Sequence[Sheet], complete: bool) -> list[str]:
    reasons = []
    if not complete:
        reasons.append("the plan was closed before all its trials were graded")
    if not kept:
        reasons.append("post-screening left no listener: none kept the hidden reference and the anchors apart")
    return reasons


def _permuted(first: list[float], second: list[float], seed: int) -> float:
    from numpy.random import PCG64, Generator

    if not first:
        return 1.0
    return float(multi_stimulus.permutation_test(first, second, Generator(PCG64(seed))))


def _items(sheets: Sequence[Sheet]) -> list[tuple[str, int]]:
    """Every passage and repetition that someone graded, in a fixed order."""
    return sorted({item for sheet in sheets for item in _graded(sheet)})


def _graded(sheet: Sheet) -> dict[tuple[str, int], Answered]:
    """A sheet's answers by passage and repetition."""
    seen: dict[str, int] = {}
    made = {}
    for one in sheet.counted:
        seen[one.passage] = seen.get(one.passage, 0) + 1
        made[one.passage, seen[one.passage]] = one
    return made


def _column(sheets: Sequence[Sheet], items: list[tuple[str, int]], place: int) -> dict[str, list[float | None]]:
    """Each listener's grades of one place, item by item; None where they gave none."""
    columns: dict[str, list[float | None]] = {}
    for sheet in sheets:
        graded: dict[tuple[str, int], Any] = _graded(sheet)
        columns[sheet.listener] = [by_place(graded[item])[place] if item in graded else None for item in items]
    return columns
