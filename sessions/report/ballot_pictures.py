"""The pictures of ballots: for each word how often it was ticked of each setup, or how it was rated. SVG text; pure."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

from ..plans.methods.rated_ballot import MOST_RATING
from ..results.ballot_outcomes import BallotWord, RatedWord, WordBallots, WordOfMany, WordRatings, WordsOfMany
from .svg import ACCENT, DATA, INK, LEFT, ROW, WIDE, axis, heaped, scale, svg, text

BAR = 10
TOP = 76.0  # of the first bar
MOST_TICKS = 4  # on each side of zero
DOT = 9.0  # of a setup's number
LINE = 18.0  # from one setup's name to the next


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


def of_many(found: WordsOfMany, heard: Set[str]) -> str:
    """A row for each word: a dot with each setup's number where its share of ticks lies, or its mean rating."""
    most = float(MOST_RATING) if found.rated else 1.0
    at = scale(0.0, most)
    rows = [text(LEFT, 16 + LINE * place, f"{place + 1}: {name}") for place, name in enumerate(found.setups)]
    y = 16 + LINE * len(found.setups) + 12
    for one in found.words:
        rows.append(text(LEFT, y, f"{one.word}{_flips(one)}{_star(one, heard)}"))
        put, levels = heaped([at(mean) for mean in one.means], DOT)
        places = sorted(range(len(one.means)), key=lambda place: at(one.means[place]))
        y += 8 + 2 * DOT * levels
        rows += [
            _numbered(x, y - DOT - 2 * DOT * level, place + 1, full=one.word in heard)
            for place, (x, level) in zip(places, put, strict=True)
        ]
        y += 20
    height = y - 10
    steps = range(0, MOST_RATING + 1, 3) if found.rated else (0, 0.25, 0.5, 0.75, 1)
    labels = [text(at(n), height + 18, f"{n}" if found.rated else f"{100 * n:.0f} %", anchor="middle", kind="n")
              for n in steps]  # fmt: skip
    named = "; ".join(
        f"{one.word} of "
        + ", ".join(
            f"{name}: {mean:.1f}" if found.rated else f"{name}: {100 * mean:.0f} %"
            for name, mean in zip(found.setups, one.means, strict=True)
        )
        for one in found.words
    )
    return svg(height + 26, named, "".join([axis(at, [], height), *labels, *rows]))


def _numbered(x: float, y: float, number: int, *, full: bool) -> str:
    paint = f'fill="{ACCENT}"' if full else f'fill="#fff" stroke="{INK}"'
    ink = "#fff" if full else INK
    return (
        f'<circle {DATA} cx="{x:.1f}" cy="{y:.1f}" r="{DOT - 1:.0f}" {paint}/>'
        f'<text x="{x:.1f}" y="{y + 4:.1f}" class="n" text-anchor="middle" style="fill:{ink};stroke:none">'
        f"{number}</text>"
    )


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


def _star(one: BallotWord | RatedWord | WordOfMany, heard: Set[str]) -> str:
    return " *" if one.word in heard else ""


def _flips(one: BallotWord | RatedWord | WordOfMany) -> str:
    return "" if one.flips is None else f", flips {one.flips.flips} of {one.flips.pairs}"


def _bar(start: float, end: float, y: float, heard: bool) -> str:
    if start == end:
        return ""
    paint = f'fill="{ACCENT}"' if heard else f'fill="none" stroke="{INK}"'
    return f'<rect {DATA} x="{start:.1f}" y="{y - BAR / 2:.1f}" width="{end - start:.1f}" height="{BAR}" {paint}/>'
