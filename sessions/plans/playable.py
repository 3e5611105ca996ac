"""A draft's files prepared again at a rate that what plays them takes: all setups the same way, none alone."""

from __future__ import annotations

from collections.abc import Collection

from ..casebook.store import Casebook
from ..preparation import giveaway_check, match_files
from ..preparation.selection import select
from . import drafting, evidence_in_force, plan_rows
from .plan import Plan


def rate_for(wanted_hz: Collection[int], taken_hz: Collection[int]) -> int:
    """The rate at which all is prepared for a device that takes some rates: the least that loses nothing.

    Where it takes none so high, its highest.

    >>> rate_for({44_100}, {48_000, 96_000}), rate_for({192_000}, {44_100, 48_000})
    (48000, 48000)
    """
    enough = [rate for rate in taken_hz if rate >= max(wanted_hz)]
    return min(enough) if enough else max(taken_hz)


def can_be_prepared_again(made: Plan) -> bool:
    """Whether files are played that are prepared already: real gear keeps the rate at which it was read."""
    return made.match.sheet is not None and all(setup.chain is None for setup in made.setups)


def prepared_at(casebook: Casebook, name: str, rate_hz: int) -> Plan:
    """A draft as it would be sealed once everything it plays is matched at a rate, and checked as it is then."""
    draft = plan_rows.draft(casebook, name)
    assert draft is not None
    selection = select(casebook, draft.wish.setups, draft.wish.passages)
    before = evidence_in_force.sheet(casebook, selection)
    assert before is not None
    match_files.make_match_sheet(
        casebook,
        selection,
        by=match_files.measure_of(before.record),
        tolerance_lu=before.record.tolerance_lu,
        rate_hz=rate_hz,
    )
    giveaway_check.check(casebook, selection)
    made = drafting.drafted(casebook, name)
    assert made is not None
    return made
