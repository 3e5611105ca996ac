"""The words that are offered where one is to be logged: those of the plan's ballot, then those of the lexicon."""

from __future__ import annotations

from ..casebook.store import Casebook
from ..plans import seals
from ..words import lexicon_rows


def words_offered(casebook: Casebook, plan: str) -> list[str]:
    """Words in the order in which they are offered, each once; anything else may be said, too."""
    ballot = seals.sealed_plan(casebook, plan).plan.method.listed
    return list(dict.fromkeys([*ballot, *lexicon_rows.in_force(casebook).entries]))
