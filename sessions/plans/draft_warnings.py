"""What is to be known of a draft before it is sealed: for the command line and the desk alike."""

from __future__ import annotations

from ..casebook.store import Casebook
from ..words import lexicon_rows
from . import ballot_words, planned_test, sealed_beside
from .plan import Plan


def warnings(casebook: Casebook, made: Plan) -> list[str]:
    """What is to be known of a draft before it is sealed."""
    words = made.document.get("words", ())
    return [
        *ballot_words.advice(words),
        *(ballot_words.unknown(words, lexicon_rows.in_force(casebook)) if words else ()),
        *planned_test.warnings(made.method, made.document),
        *planned_test.known_warnings(made.method, made.document),
        *planned_test.lift_warnings(made.document),
        *sealed_beside.place_among_others(casebook, made).said,
    ]
