"""In which order plans that are judged together were sealed and begun: their stages. Pure.

Plans sealed before any of them was begun stand in one stage; whatever is sealed after one was begun stands in a later
one. So nobody who knows how a trial went decides what shares a stage with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Course:
    """The places in the chain of a plan's seal, of its first session that counts, and of its opening; None before.

    Among what was brought in from other casebooks they are places in time instead (`casebook.origins.places`), and
    `review` says which casebook the plan was sealed in: its primary questions are those of that review.
    """

    sealed: int = 0
    begun: int | None = None
    over: int | None = None
    review: str = ""


UNPLACED = Course()  # of a plan that is judged without its casebook


def stages(family: Sequence[Course]) -> list[list[int]]:
    """The places in `family` of the plans of each stage, in the order of sealing.

    A plan that was over before any of them was begun stands in none: giving it up could not depend on any trial.

    Examples
    --------
    Two are sealed (rows 1 and 2), the first is begun (3), a third is sealed (4):

    >>> stages([Course(1, begun=3), Course(2), Course(4)])
    [[0, 1], [2]]
    """
    begun = sorted(one.begun for one in family if one.begun is not None)
    found: list[list[int]] = []
    for place in sorted(range(len(family)), key=lambda place: family[place].sealed):
        one = family[place]
        if one.over is not None and not any(row < one.over for row in begun):
            continue
        if not found or any(family[found[-1][0]].sealed < row < one.sealed for row in begun):
            found.append([])
        found[-1].append(place)
    return found
