"""The pictures of ballots: for each word how often it was ticked of one alone, or how it was rated. SVG text; pure."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

from ..plans.methods.rated_ballot import MOST_RATING
from ..results.ballot_outcomes import BallotWord, RatedWord, WordBallots, WordRatings
from .svg import ACCENT, DATA, INK, LEFT, ROW, WIDE, axis, scale, svg, text

BAR = 10
TOP = 76.0  # of the first bar
MOST_TICKS = 4  # on each side of zero


@dataclass(frozen=True)
class Bars:
    """A word's row: what stands above it, how far its bars go to either side, and whether it was heard."""

    said: str
    first: float
    second: float
    heard: bool


def ticks(found: WordBallots, heard: Set[str]) -> str:
    """A row for each word: to the left ticked of the first setup alone, to the right of the second alone."""
    rows = [
        Bars(
            f"{one.word}: {one.first_only} to {one.second_only}{_flips(one)}{_star(one, heard)}",
            one.first_only,
            one.second_only,
            one.word in heard,
        )
        for one in found.words
    ]
    named = ", ".join(f"{one.word} {one.first_only} to {one.second_only}" for one in found.words)
    most = max(1, *(max(one.first_only, one.second_only) for one in found.words))
    return _drawn((f"{found.setups[0]} alone", f"{found.setups[1]} alone"), found.setups, named, rows, most)


def ratings(found: WordRatings, heard: Set[str]) -> str:
    """A row for each word: to the left its mean rating of the first setup, to the right of the second."""
    rows = [
        Bars(
            f"{one.word}: {one.first_mean:.1f} to {one.second_mean:.1f}{_flips(one)}{_star(one, heard)}",
            one.first_mean,
            one.second_mean,
            one.word in heard,
        )
        for one in found.words
    ]
    named = ", ".join(f"{one.word} {one.first_mean:.1f} to {one.second_mean:.1f}" for one in found.words)
    return _drawn(found.setups, found.setups, named, rows, MOST_RATING)


def _drawn(heads: tuple[str, str], setups: tuple[str, str], named: str, bars: Sequence[Bars], most: int) -> str:
    at = scale(-most, most)
    rows = [text(LEFT, 16, heads[0]), text(LEFT + WIDE, 34, heads[1], anchor="end")]  # long names have a row each
    for line, one in enumerate(bars):
        y = TOP + ROW * line
        rows.append(text(LEFT, y - 12, one.said))
        rows += [  # the middle is marked beside the bars alone: no line goes through words
            f'<path d="M{at(0):.1f} {y - BAR / 2} V{y + BAR}" stroke="{INK}" stroke-dasharray="2 4"/>',
            _bar(at(-one.first), at(0), y, one.heard),
            _bar(at(0), at(one.second), y, one.heard),
        ]
    height = TOP - 28 + ROW * len(bars)
    step = -(-most // MOST_TICKS)
    numbers = [step * n for n in range(-(most // step), most // step + 1)]
    labels = [text(at(n), height + 18, f"{abs(n)}", anchor="middle", kind="n") for n in numbers]
    return svg(
        height + 26,
        f"{' against '.join(setups)}: {named}",
        "".join([axis(at, [], height), *labels, *rows]),
    )


def _star(one: BallotWord | RatedWord, heard: Set[str]) -> str:
    return " *" if one.word in heard else ""


def _flips(one: BallotWord | RatedWord) -> str:
    return "" if one.flips is None else f", flips {one.flips.flips} of {one.flips.pairs}"


def _bar(start: float, end: float, y: float, heard: bool) -> str:
    if start == end:
        return ""
    paint = f'fill="{ACCENT}"' if heard else f'fill="none" stroke="{INK}"'
    return f'<rect {DATA} x="{start:.1f}" y="{y - BAR / 2:.1f}" width="{end - start:.1f}" height="{BAR}" {paint}/>'
