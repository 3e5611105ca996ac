"""The report's pictures as SVG text: the trials of a session, and the proportion with its interval. Pure.

State is said by shape and word as well as by colour; every picture has a title for those who cannot see it.
"""

from __future__ import annotations

from html import escape

from ..results.verdict import Verdict
from .contents import Mark

INK, FAINT, ACCENT = "#26323a", "#9aa5ab", "#0b6e6e"
STEP, RADIUS, PER_ROW, ROW_HEIGHT = 34, 9, 20, 62


def trials(marks: list[Mark], names: dict[str, str]) -> str:
    """A session's trials in order, one mark each, with its number below and its sureness above.

    Parameters
    ----------
    names
        What each state means in this plan, for the legend.
    """
    rows = max(1, -(-len(marks) // PER_ROW))
    width = 20 + STEP * min(max(len(marks), 1), PER_ROW)
    drawn = []
    for place, mark in enumerate(marks):
        x, y = 10 + STEP * (place % PER_ROW) + STEP / 2, ROW_HEIGHT * (place // PER_ROW) + 30
        drawn.append(f"<g><title>{escape(mark.says)}</title>{_shape(mark.state, x, y)}{_sureness(mark.sureness, x, y)}")
        drawn.append(f'<text x="{x}" y="{y + 25}" class="n">{mark.number}</text></g>')
    states = list(dict.fromkeys(mark.state for mark in marks))
    legend, left = [], 10.0
    for state in states:
        y = rows * ROW_HEIGHT + 14
        legend.append(
            _shape(state, left + 9, y) + f'<text x="{left + 24}" y="{y + 5}" class="k">{escape(names[state])}</text>'
        )
        left += 44 + 7.4 * len(names[state])
    counts = ", ".join(f"{sum(mark.state == state for mark in marks)} {names[state]}" for state in states)
    return svg(max(width, left), rows * ROW_HEIGHT + 30, f"{len(marks)} trials: {counts}", "".join(drawn + legend))


def proportion(verdict: Verdict) -> str:
    """The proportion with its exact interval on a scale from 0 to 1, beside chance and the criterion."""
    interval = verdict.interval
    if interval is None or verdict.correct is None:
        return ""
    left, scale, y = 40, 560, 46

    def at(share: float) -> float:
        return left + scale * share

    seen = verdict.correct / verdict.trials
    parts = [f'<line x1="{at(0)}" y1="{y + 22}" x2="{at(1)}" y2="{y + 22}" stroke="{FAINT}"/>']
    for tenth in range(0, 11, 2):
        parts.append(f'<text x="{at(tenth / 10)}" y="{y + 40}" class="n">{tenth / 10:.1f}</text>')
    chance = verdict.plan.chance
    parts.append(
        f'<line x1="{at(chance)}" y1="{y - 22}" x2="{at(chance)}" y2="{y + 22}" stroke="{INK}" stroke-dasharray="2 4"/>'
        f'<text x="{at(chance)}" y="{y - 28}" class="n">chance</text>'
    )
    criterion = verdict.analysis.get("critical")
    if criterion is not None:
        share = criterion / verdict.trials
        parts.append(
            f'<path d="M{at(share)} {y + 22} l-5 9 l10 0 z" fill="{INK}"/>'
            f'<line x1="{at(share)}" y1="{y - 8}" x2="{at(share)}" y2="{y + 22}" stroke="{INK}"/>'
            f'<text x="{at(share) + 4}" y="{y - 12}" class="k">criterion {criterion}</text>'
        )
    parts.append(
        f'<path d="M{at(interval.low)} {y + 8} H{at(interval.high)}" stroke="{ACCENT}" stroke-width="5"/>'
        f'<circle cx="{at(seen)}" cy="{y + 8}" r="8" fill="{ACCENT}"/>'
    )
    title = (
        f"proportion {seen:.2f}, 95 % interval {interval.low:.2f} to {interval.high:.2f}, "
        f"chance {chance:.2f}, n = {verdict.trials}"
    )
    return svg(left + scale + 60, y + 50, title, "".join(parts))


def _shape(state: str, x: float, y: float) -> str:
    if state in ("right", "first"):
        return f'<circle cx="{x}" cy="{y}" r="{RADIUS}" fill="{ACCENT}" stroke="{ACCENT}" stroke-width="2"/>'
    if state in ("wrong", "second"):
        return f'<circle cx="{x}" cy="{y}" r="{RADIUS}" fill="none" stroke="{INK}" stroke-width="2"/>'
    if state == "graded":
        return f'<rect x="{x - 8}" y="{y - 8}" width="16" height="16" fill="none" stroke="{ACCENT}" stroke-width="2"/>'
    if state == "control":
        return f'<path d="M{x} {y - 9} l9 9 l-9 9 l-9 -9 z" fill="none" stroke="{FAINT}" stroke-width="2"/>'
    if state == "tie":
        return f'<path d="M{x - 9} {y} h18" stroke="{INK}" stroke-width="3"/>'
    if state == "disturbed":
        return f'<path d="M{x - 7} {y - 7} l14 14 m0 -14 l-14 14" stroke="{INK}" stroke-width="2" fill="none"/>'
    return f'<circle cx="{x}" cy="{y}" r="2.5" fill="{FAINT}"/>'


def _sureness(steps: int, x: float, y: float) -> str:
    return "".join(
        f'<rect x="{x - 9 + 5 * step}" y="{y - 19}" width="3.5" height="4" fill="{FAINT}"/>' for step in range(steps)
    )


def svg(width: float, height: float, title: str, content: str) -> str:
    """A picture with its title for those who cannot see it."""
    return (
        f'<svg role="img" viewBox="0 0 {width:.0f} {height:.0f}" style="max-width:{width:.0f}px" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>{content}</svg>'
    )
