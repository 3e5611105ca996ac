"""A transformed up-down rule: which of several sizes comes next, by the answers so far. Pure.

It keeps a listener where they are right about seven times in ten: hard enough to learn from, and not a guess. It is a
rule for practice. A threshold with an interval is looked for by `adaptive_threshold`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .errors import StatsError


@dataclass(frozen=True)
class UpDown:
    """How sizes follow the answers.

    Attributes
    ----------
    sizes
        How many there are; place 0 is the hardest to notice.
    start
        The place of the first one.
    down
        How many right answers in a row, at one size, make it smaller; each wrong one makes it larger.
    turns
        After how many turns (from smaller to larger, or back) it ends.
    most
        After how many trials it does in any case.
    """

    sizes: int
    start: int
    down: int = 2
    turns: int = 8
    most: int = 40

    def __post_init__(self) -> None:
        if not 0 <= self.start < self.sizes or self.sizes < 2:
            raise StatsError(f"it begins at one of two sizes or more; got number {self.start + 1} of {self.sizes}")
        if self.down < 1 or self.turns < 1 or self.most < 1:
            raise StatsError("right answers in a row, turns and trials are 1 at least")

    @property
    def settles_at(self) -> float:
        """The share of right answers at which sizes grow as often as they shrink: p with p**down = 1/2."""
        return float(0.5 ** (1 / self.down))


@dataclass(frozen=True)
class Course:
    """What the rule makes of some answers.

    Attributes
    ----------
    places
        The place of each trial's size, and after them that of the next one.
    turned_at
        The places at which it turned, in their order.
    over
        Whether it is at its end.
    """

    places: tuple[int, ...]
    turned_at: tuple[int, ...]
    over: bool


def course(rule: UpDown, right: Sequence[bool]) -> Course:
    """The sizes that some answers lead through.

    Parameters
    ----------
    right
        Whether each answer so far was right.

    Notes
    -----
    The simple up-down method with its right answers grouped, after H. Levitt, "Transformed up-down methods in
    psychoacoustics", J. Acoust. Soc. Am. 49, 1971 (from memory): with two right answers for a step down and one wrong
    for a step up the sizes settle where p**2 = 1/2, p = 0.707; with three at 0.794. Up to the first wrong answer one
    right answer is enough (our choice), so that nobody waits at sizes that are plain. At the smallest and the largest
    size it stays, which is no turn.

    Examples
    --------
    >>> found = course(UpDown(sizes=6, start=4), [True, True, False, True, True, False])
    >>> found.places, found.turned_at
    ((4, 3, 2, 3, 3, 2, 3), (2, 3, 2))

    So two right answers bring it down from 4 to 2 while none was wrong, a wrong one back to 3, and from there on two in
    a row are needed.
    """
    places, turned_at = [rule.start], list[int]()
    in_a_row, moved, missed = 0, 0, False
    for was_right in right:
        here = places[-1]
        if was_right:
            in_a_row += 1
            step = -1 if not missed or in_a_row >= rule.down else 0
        else:
            step, missed = 1, True
        if step:
            in_a_row = 0
        there = min(rule.sizes - 1, max(0, here + step))
        if there != here:
            if moved and step != moved:
                turned_at.append(here)
            moved = step
        places.append(there)
    return Course(tuple(places), tuple(turned_at), len(turned_at) >= rule.turns or len(right) >= rule.most)


def settled(rule: UpDown, right: Sequence[bool]) -> float | None:
    """The mean of the places at which it turned, without the first two; None before two more turns.

    Examples
    --------
    >>> settled(UpDown(sizes=6, start=4), [True, True, False, True, True, False, True, True, False])
    2.5

    So it went between the third and the fourth of the sizes.
    """
    kept = course(rule, right).turned_at[2:]
    kept = kept[len(kept) % 2 :]  # as many low as high ones
    return sum(kept) / len(kept) if kept else None
