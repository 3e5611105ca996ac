"""The strokes all pictures of the report share: colours, scales, axes, bars. SVG text; pure.

State is said by shape and word as well as by colour; every picture has a title for those who cannot see it. All are as
wide as a telephone shows them, so that their type stands there at its own size; names stand above their rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

INK, FAINT, ACCENT = "#26323a", "#9aa5ab", "#0b6e6e"
WIDTH = 340  # of every picture, in its own units
LEFT, WIDE, ROW = 16, 300, 46
LARGEST = 1.3  # times its own size, on a desk
LETTER = 7.2  # how wide a letter of 13 units is, at most on average
DATA = 'class="d"'  # what was found, as against axes and words


def svg(height: float, title: str, content: str) -> str:
    """A picture with its title for those who cannot see it."""
    return (
        f'<svg role="img" viewBox="0 0 {WIDTH} {height:.0f}" style="max-width:{LARGEST * WIDTH:.0f}px" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>{content}</svg>'
    )


def text(x: float, y: float, said: str, *, anchor: str = "start", kind: str = "k") -> str:
    """Words in a picture; `kind` k: said of the data, n: of the axes."""
    return f'<text x="{x:.1f}" y="{y:.1f}" class="{kind}" text-anchor="{anchor}">{escape(said)}</text>'


def scale(low: float, high: float) -> Callable[[float], float]:
    """The x of a value on a scale between two ends."""
    return lambda value: LEFT + WIDE * (value - low) / (high - low)


def beside(x: float) -> str:
    """The anchor of words at this x, so that they stay in the picture."""
    return "start" if x < WIDTH / 3 else "end" if x > WIDTH * 2 / 3 else "middle"


def axis(at: Callable[[float], float], ticks: Sequence[float], y: float, zero: float | None = None) -> str:
    """A horizontal axis at height `y` with its ticks, and a dotted line at zero where it is given."""
    parts = [f'<line x1="{LEFT}" y1="{y}" x2="{LEFT + WIDE}" y2="{y}" stroke="{FAINT}"/>']
    parts += [text(at(tick), y + 18, f"{tick:g}", anchor="middle", kind="n") for tick in ticks]
    if zero is not None:
        parts.append(f'<path d="M{at(zero):.1f} 8 V{y}" stroke="{INK}" stroke-dasharray="2 4"/>')
    return "".join(parts)


def mean_bar(at: Callable[[float], float], mean: float, low: float | None, high: float | None, y: float) -> str:
    """A mean with its interval, if there is one."""
    bar = ""
    if low is not None and high is not None:
        bar = f'<path {DATA} d="M{at(low):.1f} {y} H{at(high):.1f}" stroke="{ACCENT}" stroke-width="5"/>'
    return f'{bar}<circle {DATA} cx="{at(mean):.1f}" cy="{y}" r="7" fill="{ACCENT}"/>'


def heaped(places: Sequence[float], radius: float) -> tuple[list[tuple[float, int]], int]:
    """Dots at these x, each on the lowest level where it covers no other, and how many levels there are."""
    levels: list[list[float]] = []
    put = []
    for x in sorted(places):
        free = next((n for n, taken in enumerate(levels) if x - taken[-1] >= 2 * radius), len(levels))
        if free == len(levels):
            levels.append([])
        levels[free].append(x)
        put.append((x, free))
    return put, len(levels)
