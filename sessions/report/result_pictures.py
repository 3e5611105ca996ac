"""The pictures of a result, by its kind: which there are, and their captions. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch
from html import escape

from stats.bradley_terry import Abilities

from ..plans.methods.multi_stimulus import QUALITY
from ..plans.plan import Plan
from ..results.outcome import DifferenceGrades, Discrimination, Outcome, PairedComparison, QualityGrades
from ..results.verdict import Verdict
from . import count_pictures, grade_pictures
from .svg import LEFT, ROW, WIDE, axis, mean_bar, scale, svg

DIFFERENCES = (
    "Difference grades: each dot is a trial, below 0 where the reference was found; the bar is the mean with its 95 % "
    "interval."
)
BOXES = (
    "Grades of the listeners kept: box from hinge to hinge, the line the median, the dot the mean, whiskers to the "
    "last grade within 1.5 boxes, crosses beyond."
)


def of(verdict: Verdict) -> list[tuple[str, str]]:
    """Each picture with its caption; none before the plan is over."""
    return [] if verdict.outcome is None else _pictures(verdict.outcome, verdict.plan)


@singledispatch
def _pictures(found: Outcome, plan: Plan) -> list[tuple[str, str]]:
    raise NotImplementedError(type(found).__name__)


@_pictures.register
def _(found: DifferenceGrades, plan: Plan) -> list[tuple[str, str]]:
    return [(grade_pictures.difference_grades(found), DIFFERENCES)]


@_pictures.register
def _(found: QualityGrades, plan: Plan) -> list[tuple[str, str]]:
    return [(grade_pictures.quality_grades(found, QUALITY), BOXES)]


@_pictures.register
def _(found: PairedComparison, plan: Plan) -> list[tuple[str, str]]:
    if found.abilities is None:
        return []
    drawn = abilities(found.setups, found.abilities)
    return [(drawn, "Bradley-Terry abilities (ln), the first setup as the base, with their 95 % intervals.")]


@_pictures.register
def _(found: Discrimination, plan: Plan) -> list[tuple[str, str]]:
    if found.interval is None:
        return []
    counted = f"for {plan.setups[0].name}" if plan.method.asks_preference else "right"
    end = ", the triangle the criterion." if found.criterion is not None else "."
    made = [
        (
            count_pictures.proportion(found, found.interval, plan.chance),
            f"Proportion {counted} with its 95 % interval; the dotted line is chance{end}",
        )
    ]
    if plan.sequential is not None and found.sequential is not None:
        path = count_pictures.path(
            plan.sequential.boundaries, found.sequential.path, preference=plan.method.asks_preference
        )
        made.append((path, "The answers one by one: the test stops where the path leaves the open space."))
    if found.same_different is not None:
        made.append((count_pictures.rates(found.same_different), '"Different" said in different and in same trials.'))
    if not plan.method.asks_preference:
        made.append(
            (
                count_pictures.sensitivity(found, found.interval, plan.method.name, plan.chance),
                "What this method turns a sensitivity d' into, and where this result lies on it.",
            )
        )
    return made


def abilities(setups: Sequence[str], fit: Abilities) -> str:
    """Each setup's ability with its interval, the strongest first."""
    values = list(zip(setups, fit.abilities, fit.errors, strict=True))
    reach = max(1.0, *(abs(value) + 2 * error for _, value, error in values))
    at = scale(-reach, reach)
    rows = []
    for line, (name, value, error) in enumerate(sorted(values, key=lambda item: -item[1])):
        y = 30 + ROW * line
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        rows.append(mean_bar(at, value, value - 1.96 * error, value + 1.96 * error, y))
    height = 30 + ROW * len(values)
    ticks = list(range(-int(reach), int(reach) + 1))
    named = ", ".join(f"{name} {value:.2f}" for name, value, _ in values)
    return svg(LEFT + WIDE + 40, height + 24, f"abilities: {named}", axis(at, ticks, height, zero=0.0) + "".join(rows))
