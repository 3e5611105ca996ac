"""How the sessions of open plans go: how far, faults of playback, and the noise dose. Nothing of what was answered."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial

from ..casebook import catalogue, session_rows
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..plans import plan_rows
from ..plans.standing_words import to_the_minute


@dataclass(frozen=True)
class Evening:
    """A session of an open plan.

    Attributes
    ----------
    turns
        The last turn it took: begun, paused, resumed, stopped …, and when.
    faults
        What disturbed the playback, a sentence each; such trials are offered again.
    dose
        The listener's noise dose, in words; empty where no level is known.
    """

    plan: str
    listener: str
    device: str
    begun: str
    turn: str
    faults: tuple[str, ...]
    dose: str
    warning: str


def gather(casebook: Casebook) -> list[Evening]:
    """The sessions of plans that are sealed and not over, the newest first."""
    over = {*plan_rows.openings(casebook), *plan_rows.given_up(casebook)}
    names, found, dose_of = catalogue.names(casebook, Listener), list[Evening](), cache(partial(dose, casebook))
    for plan in plan_rows.summaries(casebook):
        if plan.plan in over:
            continue
        marks = session_rows.marks(casebook, plan.plan)
        for one in session_rows.sessions(casebook, plan.plan):
            last = next((mark for mark in reversed(marks) if mark.session_id == one.id), None)
            turn = "begun" if last is None else f"{last.what} {to_the_minute(last.at)}"
            told, warning = dose_of(one.listener_id)
            faults = tuple(_fault(fault) for fault in session_rows.faults(casebook, one.id))
            who, begun = names.get(one.listener_id, one.listener_id), to_the_minute(one.at)
            found.append(Evening(plan.name, who, one.device, begun, turn, faults, told, warning))
    return found[::-1]


def dose(casebook: Casebook, listener_id: str) -> tuple[str, str]:
    """The dose of a listener as far as levels were known, and its warning."""
    if not session_rows.exposures(casebook, listener_id):
        return "", ""
    from ..listening import exposure

    found = exposure.dose(casebook, listener_id)
    words = (
        f"{found.day_percent:.0f} % of a day's noise dose (NIOSH) within 24 hours, {found.week_percent:.0f} % of a "
        "week's allowance (WHO) within 7 days, of what was played here"
    )
    return words, found.warning


def _fault(one: session_rows.FaultRecord) -> str:
    times = "" if one.count == 1 else f", {one.count} times"
    return f"trial {one.trial}: {one.kind}{times} ({to_the_minute(one.at)}); it is offered again"
