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
from .svg import ACCENT, DATA, FAINT, INK, LEFT, LETTER, ROW, WIDE, WIDTH, axis, beside, scale, svg, text

MOST_D = 4.0
MOST_LETTERS = 26  # of two setups' names that fit beside one another


def proportion(found: Discrimination, interval: Interval, chance: float, sides: tuple[str, str] | None = None) -> str:
    """The proportion with its exact interval on a scale from 0 to 1, beside chance and the criterion.

    Of a plan closed early it is the least and the greatest that the missing trials could have made of it.

    Parameters
    ----------
    sides
        Of a preference that either setup can win: the setups at the two ends; the criterion stands on both sides then.
    """
    at, y = scale(0.0, 1.0), 62
    could = found.could_have_been
    ends = (could.least, could.most) if could is not None else (PreferenceCounts(found.correct, found.trials),)
    shares = [end.for_first / end.trials for end in ends]
    line = y + 22
    parts = [
        axis(at, [tenth / 10 for tenth in range(0, 11, 2)], line),
        f'<path d="M{at(chance):.1f} {y - 42} V{line}" stroke="{INK}" stroke-dasharray="2 4"/>',
        text(at(chance), y - 48, "chance", anchor="middle", kind="n"),
    ]
    criterion = found.criterion
    if criterion is not None:
        for share in [criterion / found.trials] + ([1 - criterion / found.trials] if sides else []):
            said = f"criterion {criterion}"
            wide = LETTER * len(said)  # its words stand away from chance wherever there is room
            away = at(share) + wide <= WIDTH if share >= chance else at(share) < wide
            parts.append(
                f'<path class="criterion" d="M{at(share):.1f} {line} l-5 9 l10 0 z" fill="{INK}"/>'
                f'<path d="M{at(share):.1f} {y - 14} V{line}" stroke="{INK}"/>'
                + text(at(share), y - 20, said, anchor="start" if away else "end")
            )
    low, high = at(interval.low), at(interval.high)
    parts.append(
        f'<path {DATA} d="M{low:.1f} {y + 6} H{high:.1f}" stroke="{ACCENT}" stroke-width="5"/>'
        + "".join(f'<circle {DATA} cx="{at(share):.1f}" cy="{y + 6}" r="8" fill="{ACCENT}"/>' for share in shares)
    )
    if sides is not None:
        for_first, for_other = sides
        parts.append(text(LEFT, line + 38, f"all for {for_other}", kind="n"))
        parts.append(
            text(
                LEFT + WIDE,
                line + (38 if len("".join(sides)) < MOST_LETTERS else 56),
                f"all for {for_first}",
                anchor="end",
                kind="n",
            )
        )
    title = (
        f"proportion {' to '.join(f'{share:.2f}' for share in shares)}, 95 % interval {interval.low:.2f} to "
        f"{interval.high:.2f}, "
        f"chance {chance:.2f}, n = {found.trials}"
    )
    more = 0 if sides is None else 20 if len("".join(sides)) < MOST_LETTERS else 38
    return svg(line + 26 + more, title, "".join(parts))


def sensitivity(found: Discrimination, interval: Interval, method: str, chance: float) -> str:
    """What the method turns a sensitivity into, and where this result lies on it."""
    x0, right, y0 = 36.0, WIDTH - 16.0, 190.0

    def x(d: float) -> float:
        return x0 + (right - x0) * d / MOST_D

    def y(share: float) -> float:
        return y0 - 150 * share

    points = [d / 20 * MOST_D for d in range(21)]
    curve = " ".join(f"{x(d):.1f},{y(d_prime.proportion_correct(d, method)):.1f}" for d in points)
    parts = [
        f'<path d="M{x0} {y(1):.1f} V{y0} H{right}" stroke="{FAINT}" fill="none"/>',
        f'<polyline points="{curve}" fill="none" stroke="{INK}" stroke-width="2"/>',
        *(text(x(d), y0 + 18, f"{d:g}", anchor="middle", kind="n") for d in range(5)),
        *(text(x0 - 6, y(s) + 5, f"{s:g}", anchor="end", kind="n") for s in (0, 0.5, 1)),
        text(right, y0 + 36, "sensitivity d'", anchor="end", kind="n"),
        text(LEFT, y(1) - 12, "proportion right", kind="n"),
    ]
    share = found.correct / found.trials
    ends = [min(d_prime.d_prime(end, method), MOST_D) for end in (interval.low, interval.high)]
    seen = d_prime.d_prime(share, method)
    parts.append(f'<path {DATA} d="M{x(ends[0]):.1f} {y0 - 6} H{x(ends[1]):.1f}" stroke="{ACCENT}" stroke-width="5"/>')
    if isfinite(seen) and seen <= MOST_D:
        parts.append(f'<circle {DATA} cx="{x(seen):.1f}" cy="{y(max(share, chance)):.1f}" r="7" fill="{ACCENT}"/>')
    size = format(seen, ".2f") if isfinite(seen) else "beyond the picture"
    title = f"d' {size}, interval {ends[0]:.2f} to {ends[1]:.2f}"
    return svg(y0 + 44, title, "".join(parts))


def path(region: Boundaries, steps: Sequence[int], *, preference: bool, ended: bool = True) -> str:
    """The answers one by one, between the boundaries, until it `ended` there or was closed before."""
    shown = min(region.trials, max(len(steps) + 4, 12))
    x0, y0, wide, high = 20.0, 230.0, WIDTH - 40.0, 200.0

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
    end = x(len(steps))
    content = (
        f'<path d="M{x0} {y0 - high} V{y0} H{x0 + wide}" stroke="{FAINT}" fill="none"/>' + "".join(dots)
        + f'<polyline {DATA} points="{" ".join(walked)}" fill="none" stroke="{INK}" stroke-width="2.5"/>'
        + text(x0 + wide, y0 + 20, "answers", anchor="end", kind="n")
        + text(x0, y0 - high - 10, counted, kind="n")
        + text(end, y(total) - 12, f"{total} of {len(steps)}", anchor=beside(end))
        + f'<circle cx="{x0 + 5}" cy="{y0 + 40}" r="4" fill="{ACCENT}"/>'
        + text(x0 + 15, y0 + 45, "stop: heard")
        + f'<circle cx="{x0 + 125}" cy="{y0 + 40}" r="4" fill="none" stroke="{FAINT}"/>'
        + text(x0 + 135, y0 + 45, "stop: not shown")
    )  # fmt: skip
    return svg(y0 + 54, f"{total} of {len(steps)} when it {'stopped' if ended else 'was closed'}", content)


def rates(cells: SameDifferent) -> str:
    """How often "different" was said in different and in same trials, of which there were any."""
    at = scale(0.0, 1.0)
    kinds = (
        ("different trials", cells.hit_rate, cells.hits, cells.different_trials, ACCENT),
        ("same trials", cells.false_alarm_rate, cells.false_alarms, cells.same_trials, "none"),
    )
    rows = list[str]()
    for name, rate, count, trials, fill in kinds:
        if not trials:
            continue
        y = 34 + ROW * len(rows)
        rows.append(
            text(LEFT, y - 14, f"{name}: {count} of {trials}")
            + f'<rect {DATA} x="{at(0)}" y="{y - 8}" width="{at(rate) - at(0):.1f}" height="16" fill="{fill}" '
            f'stroke="{ACCENT}" stroke-width="2"/>'
        )
    height = 6 + ROW * len(rows)
    ticks = [tick / 10 for tick in range(0, 11, 2)]
    title = f"hit rate {cells.hit_rate:.2f}, false alarm rate {cells.false_alarm_rate:.2f}"
    return svg(height + 26, title, axis(at, ticks, height) + "".join(rows))
