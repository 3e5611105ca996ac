"""The strokes all pictures of the report share: colours, scales, axes, bars. SVG text; pure.

State is said by shape and word as well as by colour; every picture has a title for those who cannot see it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

INK, FAINT, ACCENT = "#26323a", "#9aa5ab", "#0b6e6e"
LEFT, WIDE, ROW = 150, 470, 34


def svg(width: float, height: float, title: str, content: str) -> str:
    """A picture with its title for those who cannot see it."""
    return (
        f'<svg role="img" viewBox="0 0 {width:.0f} {height:.0f}" style="max-width:{width:.0f}px" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>{content}</svg>'
    )


def scale(low: float, high: float) -> Callable[[float], float]:
    """The x of a value on a scale between two ends."""
    return lambda value: LEFT + WIDE * (value - low) / (high - low)


def axis(at: Callable[[float], float], ticks: Sequence[float], y: float, zero: float | None = None) -> str:
    """A horizontal axis at height `y` with its ticks, and a dotted line at zero where it is given."""
    parts = [f'<line x1="{LEFT}" y1="{y}" x2="{LEFT + WIDE}" y2="{y}" stroke="{FAINT}"/>']
    parts += [f'<text x="{at(tick):.1f}" y="{y + 18}" class="n">{tick:g}</text>' for tick in ticks]
    if zero is not None:
        parts.append(f'<path d="M{at(zero):.1f} 14 V{y}" stroke="{INK}" stroke-dasharray="2 4"/>')
    return "".join(parts)


def mean_bar(at: Callable[[float], float], mean: float, low: float | None, high: float | None, y: float) -> str:
    """A mean with its interval, if there is one."""
    bar = ""
    if low is not None and high is not None:
        bar = f'<path d="M{at(low):.1f} {y} H{at(high):.1f}" stroke="{ACCENT}" stroke-width="5"/>'
    return f'{bar}<circle cx="{at(mean):.1f}" cy="{y}" r="7" fill="{ACCENT}"/>'
