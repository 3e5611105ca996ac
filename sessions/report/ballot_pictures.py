"""The picture of a ballot: for each word in how many trials it was ticked of one of the two alone. SVG text; pure."""

from __future__ import annotations

from ..results.outcome import BallotWord, WordBallots
from .svg import ACCENT, DATA, INK, LEFT, ROW, WIDE, axis, scale, svg, text

BAR = 10
TOP = 76.0  # of the first bar
MOST_TICKS = 4  # on each side of zero


def ticks(found: WordBallots, alpha: float) -> str:
    """A row for each word: to the left ticked of the first setup alone, to the right of the second alone."""
    most = max(1, *(max(one.first_only, one.second_only) for one in found.words))
    at = scale(-most, most)
    first, second = (f"{name} alone" for name in found.setups)
    rows = [text(LEFT, 16, first), text(LEFT + WIDE, 34, second, anchor="end")]  # long names have a row each
    for line, one in enumerate(found.words):
        y = TOP + ROW * line
        rows.append(text(LEFT, y - 12, f"{one.word}: {_said(one, alpha)}"))
        rows += [  # the middle is marked beside the bars alone: no line goes through words
            f'<path d="M{at(0):.1f} {y - BAR / 2} V{y + BAR}" stroke="{INK}" stroke-dasharray="2 4"/>',
            _bar(at(-one.first_only), at(0), y, one.separates(alpha)),
            _bar(at(0), at(one.second_only), y, one.separates(alpha)),
        ]
    height = TOP - 28 + ROW * len(found.words)
    step = -(-most // MOST_TICKS)
    numbers = [step * n for n in range(-(most // step), most // step + 1)]
    labels = [text(at(n), height + 18, f"{abs(n)}", anchor="middle", kind="n") for n in numbers]
    named = ", ".join(f"{one.word} {one.first_only} to {one.second_only}" for one in found.words)
    return svg(
        height + 26,
        f"{' against '.join(found.setups)}: {named}",
        "".join([axis(at, [], height), *labels, *rows]),
    )


def _said(one: BallotWord, alpha: float) -> str:
    flips = "" if one.flips is None else f", flips {one.flips.flips} of {one.flips.pairs}"
    return f"{one.first_only} to {one.second_only}{flips}{' *' if one.separates(alpha) else ''}"


def _bar(start: float, end: float, y: float, separates: bool) -> str:
    if start == end:
        return ""
    paint = f'fill="{ACCENT}"' if separates else f'fill="none" stroke="{INK}"'
    return f'<rect {DATA} x="{start:.1f}" y="{y - BAR / 2:.1f}" width="{end - start:.1f}" height="{BAR}" {paint}/>'
