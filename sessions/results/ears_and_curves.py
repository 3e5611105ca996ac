"""What is remarked where two setups differ, as measured, only above the tones that a plan's listener noticed.

A remark beside the verdict, which stays as it is: a difference so high may be heard by who noticed no tone there (music
may be louder, and what a level or a curve is good for is limited), and another one may lie where nobody measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..casebook import hearing_rows
from ..casebook.store import Casebook
from ..plans.plan import Plan

if TYPE_CHECKING:
    from ..measured.curve_comparison import CurveComparison

HIGHEST_HZ = 20_000.0


def of_plan(casebook: Casebook, plan: Plan, comparisons: Sequence[CurveComparison]) -> list[str]:
    """A sentence for each pair of setups and each listener of the plan of whom that is so."""
    every = hearing_rows.every(casebook)
    if not every:
        return []
    from ..measured import own_reach  # its arithmetic is loaded only where there is something to work out

    names = {one.id: one.name for one in plan.listeners}
    found = []
    for compared in comparisons:
        from_hz = compared.differs_from_hz
        if from_hz is None:
            continue
        what = f"the measured difference between {' and '.join(compared.names)}, from {own_reach.khz(from_hz)} up,"
        every_one = own_reach.remarks(every, list(names), names, from_hz, HIGHEST_HZ, what, wholly=True)
        found += [f"{one}." for one in every_one]
    return found
