"""Pictures of grades: difference grades with their means, and box plots of quality grades. SVG text; pure."""

from __future__ import annotations

from html import escape

from ..plans.methods.graded import Scale
from ..results.outcome import DifferenceGrades, QualityGrades
from .svg import ACCENT, FAINT, INK, LEFT, ROW, WIDE, axis, mean_bar, scale, svg


def difference_grades(found: DifferenceGrades) -> str:
    """Each trial's difference grade, and the means with their intervals, where there are any."""
    at = scale(-4.0, 4.0)
    rows = []
    means = {"all trials": found.every, **found.by_listener}
    for line, (name, own) in enumerate(means.items()):
        y = 40 + ROW * line
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        if line == 0:
            for place, value in enumerate(found.differences):
                rows.append(f'<circle cx="{at(value):.1f}" cy="{y - 9 + 6 * (place % 4)}" r="3" fill="{FAINT}"/>')
        if own is not None:
            rows.append(mean_bar(at, own.mean, own.low, own.high, y))
    height = 40 + ROW * len(means)
    ticks = axis(at, range(-4, 5), height, zero=0.0)
    grades = ", ".join(f"{grade:.1f}" for grade in found.differences)
    title = f"difference grades {grades}" if found.every is None else f"mean difference grade {found.every.mean:.2f}"
    return svg(LEFT + WIDE + 40, height + 24, title, ticks + "".join(rows))


def quality_grades(found: QualityGrades, grading: Scale) -> str:
    """A box for each setup and anchor, on the grading scale."""
    at = scale(float(grading.low), float(grading.high))
    rows = []
    for line, (name, own) in enumerate(found.summaries.items()):
        y = 44 + ROW * line
        grades = found.grades[name]
        inside = [grade for grade in grades if grade not in own.outliers]
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        q1, q3 = at(own.q1), at(own.q3)
        rows.append(
            f'<path d="M{at(min(inside)):.1f} {y} H{q1:.1f} M{q3:.1f} {y} H{at(max(inside)):.1f}" stroke="{INK}"/>'
            f'<rect x="{q1:.1f}" y="{y - 10}" width="{max(q3 - q1, 1):.1f}" height="20" '
            f'fill="none" stroke="{INK}" stroke-width="1.5"/>'
            f'<path d="M{at(own.median):.1f} {y - 10} v20" stroke="{ACCENT}" stroke-width="4"/>'
            f'<circle cx="{at(own.mean):.1f}" cy="{y}" r="3.5" fill="{INK}"/>'
        )
        for grade in own.outliers:
            rows.append(f'<path d="M{at(grade) - 4:.1f} {y - 4} l8 8 m0 -8 l-8 8" stroke="{INK}"/>')
    height = 44 + ROW * len(found.summaries)
    bands = "".join(
        f'<text x="{at(float(low) + 10):.1f}" y="16" class="n">{escape(name)}</text>' for low, name in grading.names
    )
    ticks = axis(at, range(0, 101, 20), height)
    title = ", ".join(f"{name} median {own.median:.0f}" for name, own in found.summaries.items())
    return svg(LEFT + WIDE + 40, height + 24, title, bands + ticks + "".join(rows))
