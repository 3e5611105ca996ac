"""What the blind comparisons of some units came to: how many to what, and of each unit beside which others. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from stats.count_summary import HEARD, NOT_SHOWN

from ..casebook.catalogue import Setup
from ..results.first_lines import but_alone
from ..results.how_answered import listed, number_of
from ..results.verdict import CANNOT_BE_JUDGED, GIVEN_UP, UNDECIDED, VOID, Verdict

ALONE = " on its own, but not among the primary questions taken together"
EXPLORATORY = " (exploratory)"
AMONG_SEVERAL = " among several"  # that not all are alike was shown, and of which two is computed afterwards
PREFERENCE = "preference shown"  # nothing of it is heard


def counted(units: list[str], verdicts: Sequence[Verdict]) -> str:
    """How many blind comparisons there were of these units, by name, and what they came to."""
    names = listed(units)
    if not verdicts:
        return f"{names} {'was' if len(units) == 1 else 'were'} not compared blind."
    over = [one for one in verdicts if one.verdict is not None]
    never = Counter(one.state for one in verdicts if one.state in (GIVEN_UP, CANNOT_BE_JUDGED))
    blind, of = number_of(len(verdicts), "blind comparison"), "of" if len(units) == 1 else "among"
    if not over and not never:
        are = "is" if len(verdicts) == 1 else "are"
        return f"{blind} {of} {names} {are} sealed and not over: nothing is told yet."
    counts = Counter(_came_to(one, units) for one in over)
    shown = [
        f"{what}{among}{alone}"
        for what in (HEARD, PREFERENCE)
        for among in ("", AMONG_SEVERAL)
        for alone in ("", ALONE)
    ]
    states = (*shown, NOT_SHOWN, UNDECIDED, VOID)
    told = [
        f"{counts[came_to]} {came_to}"
        for aside in ("", EXPLORATORY)
        for state in states
        if counts[came_to := f"{state}{aside}"]
    ]
    waiting = len(verdicts) - len(over) - never.total()
    rest = [f"{number} {state}" for state, number in never.items()] + ([f"{waiting} not over"] if waiting else [])
    return f"{blind} {of} {names}: {', '.join(filter(None, [listed(told) if told else '', *rest]))}."


def beside_others(unit: Setup, verdicts: Sequence[Verdict]) -> str:
    """What each blind comparison came to in which a unit took part, and with which others."""
    own = [one for one in verdicts if unit.id in {setup.id for setup in one.plan.setups}]
    told = []
    for one in own:
        others = [setup.name for setup in one.plan.setups if setup.id != unit.id]
        came_to = (
            f"{one.preferred} preferred{_alone(one)}{_aside(one)}"
            if one.preferred
            else _came_to(one, [unit.name]) or one.state
        )
        told.append(f"{listed(others)}: {came_to} ({one.plan.name})")
    return "; ".join(told)


def _came_to(verdict: Verdict, units: Sequence[str]) -> str | None:
    """What a plan came to; of one with further setups, too, nothing is said of these units that holds of the others.

    That not all of several are alike may lie in two others alone.
    """
    if verdict.verdict is None:
        return None
    if verdict.verdict != HEARD:
        return f"{verdict.verdict}{_aside(verdict)}"
    shown = PREFERENCE if verdict.plan.method.asks_preference else HEARD
    setups = [setup.name for setup in verdict.plan.setups]
    among = AMONG_SEVERAL if len(setups) > 2 and not set(setups) <= set(units) else ""
    return f"{shown}{among}{_alone(verdict)}{_aside(verdict)}"


def _aside(verdict: Verdict) -> str:
    return "" if verdict.plan.primary else EXPLORATORY


def _alone(verdict: Verdict) -> str:
    return ALONE if but_alone(verdict) else ""
