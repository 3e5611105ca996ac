"""Pictures of counts: the proportion, the sensitivity, a sequential plan's path, hits and false alarms. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from stats import d_prime
from stats.intervals import Interval
from stats.preference import PreferenceCounts
from stats.same_different import SameDifferent
from stats.sequential.boundaries import Boundaries

from ..results.outcome import Discrimination
from .svg import ACCENT, FAINT, INK, LEFT, ROW, WIDE, axis, scale, svg

MOST_D = 4.0


def proportion(found: Discrimination, interval: Interval, chance: float) -> str:
    """The proportion with its exact interval on a scale from 0 to 1, beside chance and the criterion.

    Of a plan closed early it is the least and the greatest that the missing trials could have made of it.
    """
    left, scale, y = 40, 560, 46

    def at(share: float) -> float:
        return round(left + scale * share, 2)

    could = found.could_have_been
    ends = (could.least, could.most) if could is not None else (PreferenceCounts(found.correct, found.trials),)
    shares = [end.for_first / end.trials for end in ends]
    parts = [f'<line x1="{at(0)}" y1="{y + 22}" x2="{at(1)}" y2="{y + 22}" stroke="{FAINT}"/>']
    for tenth in range(0, 11, 2):
        parts.append(f'<text x="{at(tenth / 10)}" y="{y + 40}" class="n">{tenth / 10:.1f}</text>')
    parts.append(
        f'<line x1="{at(chance)}" y1="{y - 22}" x2="{at(chance)}" y2="{y + 22}" stroke="{INK}" stroke-dasharray="2 4"/>'
        f'<text x="{at(chance)}" y="{y - 28}" class="n">chance</text>'
    )
    criterion = found.criterion
    if criterion is not None:
        share = criterion / found.trials
        parts.append(
            f'<path d="M{at(share)} {y + 22} l-5 9 l10 0 z" fill="{INK}"/>'
            f'<line x1="{at(share)}" y1="{y - 8}" x2="{at(share)}" y2="{y + 22}" stroke="{INK}"/>'
            f'<text x="{at(share) + 4}" y="{y - 12}" class="k">criterion {criterion}</text>'
        )
    parts.append(
        f'<path d="M{at(interval.low)} {y + 8} H{at(interval.high)}" stroke="{ACCENT}" stroke-width="5"/>'
        + "".join(f'<circle cx="{at(share)}" cy="{y + 8}" r="8" fill="{ACCENT}"/>' for share in shares)
    )
    title = (
        f"proportion {' to '.join(f'{share:.2f}' for share in shares)}, 95 % interval {interval.low:.2f} to "
        f"{interval.high:.2f}, "
        f"chance {chance:.2f}, n = {found.trials}"
    )
    return svg(left + scale + 60, y + 50, title, "".join(parts))


def sensitivity(found: Discrimination, interval: Interval, method: str, chance: float) -> str:
    """What the method turns a sensitivity into, and where this result lies on it."""
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
    share = found.correct / found.trials
    ends = [min(d_prime.d_prime(end, method), MOST_D) for end in (interval.low, interval.high)]
    seen = d_prime.d_prime(share, method)
    parts.append(f'<path d="M{x(ends[0]):.1f} {y0 - 6} H{x(ends[1]):.1f}" stroke="{ACCENT}" stroke-width="5"/>')
    if isfinite(seen) and seen <= MOST_D:
        parts.append(f'<circle cx="{x(seen):.1f}" cy="{y(max(share, chance)):.1f}" r="7" fill="{ACCENT}"/>')
    size = format(seen, ".2f") if isfinite(seen) else "beyond the picture"
    title = f"d' {size}, interval {ends[0]:.2f} to {ends[1]:.2f}"
    return svg(right + 40, y0 + 44, title, "".join(parts))


def path(region: Boundaries, steps: Sequence[int], *, preference: bool, ended: bool = True) -> str:
    """The answers one by one, between the boundaries, until it `ended` there or was closed before."""
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
    counted = "for the first" if preference else "right"
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
    return svg(
        x0 + wide + 60, y0 + 34, f"{total} of {len(steps)} when it {'stopped' if ended else 'was closed'}", content
    )


def rates(cells: SameDifferent) -> str:
    """How often "different" was said in different and in same trials."""
    at = scale(0.0, 1.0)
    rows = []
    for line, (name, rate, count, trials) in enumerate(
        (
            ("different trials", cells.hit_rate, cells.hits, cells.different_trials),
            ("same trials", cells.false_alarm_rate, cells.false_alarms, cells.same_trials),
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
    title = f"hit rate {cells.hit_rate:.2f}, false alarm rate {cells.false_alarm_rate:.2f}"
    return svg(LEFT + WIDE + 60, height + 20, title, axis(at, ticks, height) + "".join(rows))
