"""The notes of a giveaway check: what it could not judge, or found that is no giveaway; those a plan stands on."""

from __future__ import annotations

from collections.abc import Iterable

from ..casebook.store import Casebook
from . import evidence_in_force
from .checked_pairs import PairChecks
from .plan import Plan


def of_plan(casebook: Casebook, plan: Plan) -> list[str]:
    """The notes of the checks that a plan names, as far as they are about what it plays.

    Of a plan that rests on an older check also which of its setups that check did not compare with each other.
    """
    kept = tuple(evidence_in_force.checks(casebook, plan.checks))
    if not kept:
        return []
    checks, setups = PairChecks(casebook, kept, {}), {setup.id: setup.name for setup in plan.setups}
    notes: list[str] = []
    lacking: dict[frozenset[str], list[str]] = {}
    for passage in plan.passages:
        checked = checks.between((passage.id, passage.name), setups)
        notes += checked.notes
        for pair in checked.open:
            lacking.setdefault(pair, []).append(passage.name)
    for pair, passages in lacking.items():
        both = " and ".join(setups[setup] for setup in setups if setup in pair)
        notes.append(
            f"{both} were not compared with each other in {', '.join(passages)}, only each with the first setup of "
            "that check"
        )
    return notes


def sentences(casebook: Casebook, plan: Plan) -> list[str]:
    """The same as sentences beside a plan or a verdict."""
    return in_words(of_plan(casebook, plan))


def in_words(notes: Iterable[str]) -> list[str]:
    """Notes as sentences."""
    return [f"Noted by the giveaway check: {note}." for note in notes]
