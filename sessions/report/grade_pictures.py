"""Pictures of grades: difference grades with their means, and box plots of quality grades. SVG text; pure."""

from __future__ import annotations

from ..plans.methods.graded import Scale
from ..results.outcome import DifferenceGrades, QualityGrades
from .svg import ACCENT, DATA, FAINT, INK, LEFT, ROW, axis, heaped, mean_bar, scale, svg, text

MOST = 4.0  # of a difference grade
DOT = 3.2
TALLEST = 130.0  # of a heap of dots; where there are more, they are smaller


def difference_grades(found: DifferenceGrades) -> str:
    """Each trial's difference grade, none before another, and below them the means with their intervals, if any."""
    at = scale(-MOST, MOST)
    radius = DOT
    put, levels = heaped([at(value) for value in found.differences], radius)
    while 2 * radius * levels > TALLEST and radius > 1:
        radius *= 0.8
        put, levels = heaped([at(value) for value in found.differences], radius)
    base = 22 + 2 * radius * levels
    rows = [text(LEFT, 14, "each trial")]
    for x, level in put:
        y = base - radius - 2 * radius * level
        rows.append(f'<circle {DATA} cx="{x:.1f}" cy="{y:.1f}" r="{radius - 0.3:.1f}" fill="{INK}"/>')
    shown = [(name, own) for name, own in {"mean of all": found.every, **found.by_listener}.items() if own is not None]
    for line, (name, own) in enumerate(shown):
        y = base + 32 + ROW * line
        low, high = (None if end is None else min(max(end, -MOST), MOST) for end in (own.low, own.high))
        rows.append(text(LEFT, y - 12, name) + mean_bar(at, own.mean, low, high, y))
    height = base + 8 + ROW * len(shown)
    ticks = axis(at, range(-4, 5), height, zero=0.0)
    grades = ", ".join(f"{grade:.1f}" for grade in found.differences)
    title = f"difference grades {grades}" if found.every is None else f"mean difference grade {found.every.mean:.2f}"
    return svg(height + 26, title, ticks + "".join(rows))


def quality_grades(found: QualityGrades, grading: Scale) -> str:
    """A box for each setup and anchor, on the grading scale."""
    at = scale(float(grading.low), float(grading.high))
    rows = []
    for line, (name, own) in enumerate(found.summaries.items()):
        y = 56 + ROW * line
        grades = found.grades[name]
        inside = [grade for grade in grades if grade not in own.outliers]
        rows.append(text(LEFT, y - 15, name))
        q1, q3 = at(own.q1), at(own.q3)
        rows.append(
            f'<path d="M{at(min(inside)):.1f} {y} H{q1:.1f} M{q3:.1f} {y} H{at(max(inside)):.1f}" stroke="{INK}"/>'
            f'<rect x="{q1:.1f}" y="{y - 10}" width="{max(q3 - q1, 1):.1f}" height="20" '
            f'fill="none" stroke="{INK}" stroke-width="1.5"/>'
            f'<path {DATA} d="M{at(own.median):.1f} {y - 10} v20" stroke="{ACCENT}" stroke-width="4"/>'
            f'<circle {DATA} cx="{at(own.mean):.1f}" cy="{y}" r="3.5" fill="{INK}"/>'
        )
        for grade in own.outliers:
            rows.append(f'<path {DATA} d="M{at(grade) - 4:.1f} {y - 4} l8 8 m0 -8 l-8 8" stroke="{INK}"/>')
    height = 30 + ROW * len(found.summaries)
    bands = "".join(text(at(float(low) + 10), 16, name, anchor="middle", kind="n") for low, name in grading.names)
    lines = "".join(
        f'<path d="M{at(n):.1f} 24 V{height}" stroke="{FAINT}" stroke-dasharray="1 4"/>' for n in (20, 40, 60, 80)
    )
    ticks = axis(at, range(0, 101, 20), height)
    title = ", ".join(f"{name} median {own.median:.0f}" for name, own in found.summaries.items())
    return svg(height + 26, title, bands + lines + ticks + "".join(rows))
