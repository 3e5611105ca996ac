"""The picture of a session: its trials in order, one mark each. SVG text; pure."""

from __future__ import annotations

from html import escape

from .svg import ACCENT, DATA, FAINT, INK, LETTER, WIDTH, svg, text
from .trial_strips import Mark

STEP, RADIUS, PER_ROW, ROW_HEIGHT = 33, 9, 10, 62
LEGEND_HEIGHT = 24


def trials(marks: list[Mark], names: dict[str, str]) -> str:
    """A session's trials in order, one mark each, with its number below and its sureness above.

    Parameters
    ----------
    names
        What each state means in this plan, for the legend.
    """
    rows = max(1, -(-len(marks) // PER_ROW))
    drawn = []
    for place, mark in enumerate(marks):
        x, y = 5 + STEP * (place % PER_ROW) + STEP / 2, ROW_HEIGHT * (place // PER_ROW) + 30.0
        shape = f"{_shape(mark.state, x, y)}{_sureness(mark.sureness, x, y)}"
        drawn.append(f"<g {DATA}><title>{escape(mark.says)}</title>{shape}")
        drawn.append(text(x, y + 26, f"{mark.number}", anchor="middle", kind="n") + "</g>")
    states = list(dict.fromkeys(mark.state for mark in marks))
    left, y = 5.0, rows * ROW_HEIGHT + 14.0
    for state in states:
        wide = 44 + LETTER * len(names[state])
        if left + wide > WIDTH and left > 5:
            left, y = 5.0, y + LEGEND_HEIGHT
        drawn.append(_shape(state, left + 9, y) + text(left + 24, y + 5, names[state]))
        left += wide
    counts = ", ".join(f"{sum(mark.state == state for mark in marks)} {names[state]}" for state in states)
    return svg(y + 16, f"{len(marks)} trials: {counts}", "".join(drawn))


def _shape(state: str, x: float, y: float) -> str:
    if state in ("right", "first"):
        return f'<circle cx="{x}" cy="{y}" r="{RADIUS}" fill="{ACCENT}" stroke="{ACCENT}" stroke-width="2"/>'
    if state in ("wrong", "second"):
        return f'<circle cx="{x}" cy="{y}" r="{RADIUS}" fill="none" stroke="{INK}" stroke-width="2"/>'
    if state == "graded":
        return f'<rect x="{x - 8}" y="{y - 8}" width="16" height="16" fill="none" stroke="{ACCENT}" stroke-width="2"/>'
    if state in ("control", "known"):
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
