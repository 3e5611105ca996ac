"""The pictures of a result, by method: proportion, sensitivity, sequential path, grades, abilities. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from math import isfinite
from typing import Any

from stats import d_prime

from ..plans.methods import METHODS, Scale
from ..results.verdict import Verdict
from .trial_pictures import ACCENT, FAINT, INK, proportion, svg

LEFT, WIDE, ROW = 150, 470, 34
MOST_D = 4.0
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
    if verdict.p_value is None:
        return []
    if verdict.plan.method.name == "hidden-reference":
        return [(_differences(verdict), DIFFERENCES)]
    if verdict.plan.method.name == "multi-stimulus":
        return [(_boxes(verdict), BOXES)]
    if verdict.plan.method.family == "pairs":
        drawn = _abilities(verdict)
        return (
            [(drawn, "Bradley-Terry abilities (ln), the first setup as the base, with their 95 % intervals.")]
            if drawn
            else []
        )
    if verdict.interval is None:
        return []
    counted = f"for {verdict.plan.setups[0].name}" if verdict.plan.method.asks_preference else "right"
    made = [
        (
            proportion(verdict),
            f"Proportion {counted} with its 95 % interval; the dotted line is chance"
            + (", the triangle the criterion." if verdict.analysis.get("critical") is not None else "."),
        )
    ]
    if verdict.plan.sequential is not None:
        made.append((_path(verdict), "The answers one by one: the test stops where the path leaves the open space."))
    if verdict.analysis.get("same_different"):
        made.append((_rates(verdict.analysis["same_different"]), '"Different" said in different and in same trials.'))
    if not verdict.plan.method.asks_preference:
        made.append(
            (_sensitivity(verdict), "What this method turns a sensitivity d' into, and where this result lies on it.")
        )
    return made


def _differences(verdict: Verdict) -> str:
    groups = [("all trials", verdict.analysis["differences"], verdict.analysis["all"])]
    rows = []
    at = _scale(-4.0, 4.0)
    for line, (name, values, summary) in enumerate(groups):
        y = 40 + ROW * line
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        for place, value in enumerate(values):
            rows.append(f'<circle cx="{at(value):.1f}" cy="{y - 9 + 6 * (place % 4)}" r="3" fill="{FAINT}"/>')
        rows.append(_mean_bar(at, summary["mean"], summary["low"], summary["high"], y))
    for name, own in verdict.analysis["listeners"].items():
        y = 40 + ROW * len([row for row in rows if "text-anchor" in row])
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        rows.append(_mean_bar(at, own["mean"], own["low"], own["high"], y))
    height = 40 + ROW * (1 + len(verdict.analysis["listeners"]))
    axis = _axis(at, range(-4, 5), height, zero=0.0)
    mean = verdict.analysis["all"]["mean"]
    return svg(LEFT + WIDE + 40, height + 24, f"mean difference grade {mean:.2f}", axis + "".join(rows))


def _boxes(verdict: Verdict) -> str:
    scale = METHODS["multi-stimulus"].scale
    assert scale is not None
    at = _scale(float(scale.low), float(scale.high))
    rows = []
    summaries = verdict.analysis["summaries"]
    for line, (name, own) in enumerate(summaries.items()):
        y = 44 + ROW * line
        grades = verdict.analysis["grades"][name]
        inside = [grade for grade in grades if grade not in own["outliers"]]
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        q1, q3 = at(own["q1"]), at(own["q3"])
        rows.append(
            f'<path d="M{at(min(inside)):.1f} {y} H{q1:.1f} M{q3:.1f} {y} H{at(max(inside)):.1f}" stroke="{INK}"/>'
            f'<rect x="{q1:.1f}" y="{y - 10}" width="{max(q3 - q1, 1):.1f}" height="20" '
            f'fill="none" stroke="{INK}" stroke-width="1.5"/>'
            f'<path d="M{at(own["median"]):.1f} {y - 10} v20" stroke="{ACCENT}" stroke-width="4"/>'
            f'<circle cx="{at(own["mean"]):.1f}" cy="{y}" r="3.5" fill="{INK}"/>'
        )
        for grade in own["outliers"]:
            rows.append(f'<path d="M{at(grade) - 4:.1f} {y - 4} l8 8 m0 -8 l-8 8" stroke="{INK}"/>')
    height = 44 + ROW * len(summaries)
    bands = "".join(
        f'<text x="{at(float(low) + 10):.1f}" y="16" class="n">{escape(name)}</text>' for low, name in _named(scale)
    )
    axis = _axis(at, range(0, 101, 20), height)
    told = ", ".join(f"{name} median {own['median']:.0f}" for name, own in summaries.items())
    return svg(LEFT + WIDE + 40, height + 24, told, bands + axis + "".join(rows))


def _named(scale: Scale) -> Sequence[tuple[Any, str]]:
    return scale.names


def _abilities(verdict: Verdict) -> str:
    fit = verdict.analysis["abilities"]
    if not fit or "abilities" not in fit:
        return ""
    values = list(zip(fit["setups"], fit["abilities"], fit["errors"], strict=True))
    reach = max(1.0, *(abs(value) + 2 * error for _, value, error in values))
    at = _scale(-reach, reach)
    rows = []
    for line, (name, value, error) in enumerate(sorted(values, key=lambda item: -item[1])):
        y = 30 + ROW * line
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{escape(name)}</text>')
        rows.append(_mean_bar(at, value, value - 1.96 * error, value + 1.96 * error, y))
    height = 30 + ROW * len(values)
    ticks = list(range(-int(reach), int(reach) + 1))
    told = ", ".join(f"{name} {value:.2f}" for name, value, _ in values)
    return svg(LEFT + WIDE + 40, height + 24, f"abilities: {told}", _axis(at, ticks, height, zero=0.0) + "".join(rows))


def _rates(cells: dict[str, Any]) -> str:
    at = _scale(0.0, 1.0)
    rows = []
    for line, (name, rate, count, trials) in enumerate(
        (
            ("different trials", cells["hit_rate"], cells["hits"], cells["different_trials"]),
            ("same trials", cells["false_alarm_rate"], cells["false_alarms"], cells["same_trials"]),
        )
    ):
        y = 24 + ROW * line
        fill = ACCENT if line == 0 else "none"
        rows.append(f'<text x="{LEFT - 12}" y="{y + 5}" class="k" text-anchor="end">{name}</text>')
        rows.append(
            f'<rect x="{at(0)}" y="{y - 9}" width="{at(rate) - at(0):.1f}" height="18" fill="{fill}" stroke="{ACCENT}" '
            f'stroke-width="2"/><text x="{at(rate) + 8:.1f}" y="{y + 5}" class="k">{count} of {trials}</text>'
        )
    height = 24 + 2 * ROW
    ticks = [tick / 10 for tick in range(0, 11, 2)]
    told = f"hit rate {cells['hit_rate']:.2f}, false alarm rate {cells['false_alarm_rate']:.2f}"
    return svg(LEFT + WIDE + 60, height + 20, told, _axis(at, ticks, height) + "".join(rows))


def _sensitivity(verdict: Verdict) -> str:
    method = verdict.plan.method.name
    right, x0, y0 = 560.0, 60.0, 190.0

    def x(d: float) -> float:
        return x0 + (right - x0) * d / MOST_D

    def y(share: float) -> float:
        return y0 - 150 * share

    points = [d / 20 * MOST_D for d in range(21)]
    curve = " ".join(f"{x(d):.1f},{y(d_prime.proportion_correct(d, method)):.1f}" for d in points)
    parts = [
        f'<path d="M{x0} {y(1):.1f} V{y0} H{right}" stroke="{FAINT}" fill="none"/>',
        f'<polyline points="{curve}" fill="none" stroke="{INK}" stroke-width="2"/>',
        *(f'<text x="{x(d):.1f}" y="{y0 + 18}" class="n">{d:g}</text>' for d in range(5)),
        *(f'<text x="{x0 - 18}" y="{y(s) + 5:.1f}" class="n">{s:g}</text>' for s in (0, 0.5, 1)),
        f'<text x="{right}" y="{y0 + 34}" class="k" text-anchor="end">sensitivity d\'</text>',
        f'<text x="{x0}" y="{y(1) - 10:.1f}" class="k">proportion right</text>',
    ]
    share = (verdict.correct or 0) / max(verdict.trials, 1)
    assert verdict.interval is not None
    ends = [min(d_prime.d_prime(end, method), MOST_D) for end in (verdict.interval.low, verdict.interval.high)]
    seen = d_prime.d_prime(share, method)
    parts.append(f'<path d="M{x(ends[0]):.1f} {y0 - 6} H{x(ends[1]):.1f}" stroke="{ACCENT}" stroke-width="5"/>')
    if isfinite(seen) and seen <= MOST_D:
        parts.append(
            f'<circle cx="{x(seen):.1f}" cy="{y(max(share, verdict.plan.chance)):.1f}" r="7" fill="{ACCENT}"/>'
        )
    size = format(seen, ".2f") if isfinite(seen) else "beyond the picture"
    told = f"d' {size}, interval {ends[0]:.2f} to {ends[1]:.2f}"
    return svg(right + 40, y0 + 44, told, "".join(parts))


def _path(verdict: Verdict) -> str:
    region = verdict.plan.boundaries
    assert region is not None
    steps = verdict.analysis["sequential"]["path"]
    shown = min(region.trials, max(len(steps) + 4, 12))
    x0, y0, wide, high = 50.0, 230.0, 540.0, 200.0

    def x(n: float) -> float:
        return x0 + wide * n / shown

    def y(count: float) -> float:
        return y0 - high * count / shown

    dots = []
    for n in range(1, shown + 1):
        for count in range(n + 1):
            decided = region.decision(n, count)
            if decided is None:
                continue
            colour = ACCENT if decided == "heard" else FAINT
            shape = f'r="{min(4.0, wide / shown / 4):.1f}"'
            fill = colour if decided == "heard" else "none"
            dots.append(f'<circle cx="{x(n):.1f}" cy="{y(count):.1f}" {shape} fill="{fill}" stroke="{colour}"/>')
    walked, total = [f"{x(0):.1f},{y(0):.1f}"], 0
    for n, step in enumerate(steps, 1):
        total += step
        walked.append(f"{x(n):.1f},{y(total):.1f}")
    counted = "for the first" if verdict.plan.method.asks_preference else "right"
    content = (
        f'<path d="M{x0} {y0 - high} V{y0} H{x0 + wide}" stroke="{FAINT}" fill="none"/>' + "".join(dots)
        + f'<polyline points="{" ".join(walked)}" fill="none" stroke="{INK}" stroke-width="2.5"/>'
        + f'<text x="{x0 + wide}" y="{y0 + 20}" class="k" text-anchor="end">answers</text>'
        + f'<text x="{x0}" y="{y0 - high - 8}" class="k">{counted}</text>'
        + f'<text x="{x(len(steps)):.1f}" y="{y(total) - 12:.1f}" class="k">{total} of {len(steps)}</text>'
        + f'<circle cx="{x0 + 12}" cy="{y0 + 16}" r="4" fill="{ACCENT}"/>'
        + f'<text x="{x0 + 22}" y="{y0 + 21}" class="k">stop: heard</text>'
        + f'<circle cx="{x0 + 132}" cy="{y0 + 16}" r="4" fill="none" stroke="{FAINT}"/>'
        + f'<text x="{x0 + 142}" y="{y0 + 21}" class="k">stop: not shown</text>'
    )  # fmt: skip
    return svg(x0 + wide + 60, y0 + 34, f"{total} of {len(steps)} when it stopped", content)


def _scale(low: float, high: float) -> Callable[[float], float]:
    return lambda value: LEFT + WIDE * (value - low) / (high - low)


def _axis(at: Callable[[float], float], ticks: Sequence[float], y: float, zero: float | None = None) -> str:
    parts = [f'<line x1="{LEFT}" y1="{y}" x2="{LEFT + WIDE}" y2="{y}" stroke="{FAINT}"/>']
    parts += [f'<text x="{at(tick):.1f}" y="{y + 18}" class="n">{tick:g}</text>' for tick in ticks]
    if zero is not None:
        parts.append(f'<path d="M{at(zero):.1f} 14 V{y}" stroke="{INK}" stroke-dasharray="2 4"/>')
    return "".join(parts)


def _mean_bar(at: Callable[[float], float], mean: float, low: float | None, high: float | None, y: float) -> str:
    bar = ""
    if low is not None and high is not None:
        bar = f'<path d="M{at(low):.1f} {y} H{at(high):.1f}" stroke="{ACCENT}" stroke-width="5"/>'
    return f'{bar}<circle cx="{at(mean):.1f}" cy="{y}" r="7" fill="{ACCENT}"/>'
