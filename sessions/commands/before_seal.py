"""What is to be known of a draft before it is sealed, and what comes next: its seal, or what helps first."""

from __future__ import annotations

from shlex import quote

from ..casebook.store import Casebook
from ..plans import ballot_words, plan_evidence, planned_test, seals
from ..plans.plan import Plan
from .context import say


def warnings(casebook: Casebook, made: Plan) -> list[str]:
    """What is to be known of a draft before it is sealed."""
    return [
        *ballot_words.advice(made.document.get("words", ())),
        *planned_test.warnings(made.method, made.document),
        *planned_test.known_warnings(made.method, made.document),
        *planned_test.lift_warnings(made.document),
        *plan_evidence.place_among_others(casebook, made),
    ]


def tell_further(made: Plan, hint: str) -> None:
    """What comes after a draft was shown: its seal or, where it would be void or can show nothing, what helps first."""
    name = quote(made.name)
    ways = seals.ways_out(made)
    if ways:
        say(f"Nothing is fixed yet, and as it is it would be void. {'; '.join(ways)}")
    elif planned_test.shows_nothing(made.method, made.document):
        say(
            f"Nothing is fixed yet, and as it is it can show nothing. With as many trials as that takes (N): "
            f"{hint} edit draft {name} --trials N"
        )
    else:
        say(f"Nothing is fixed yet. Seal it: {hint} seal {name}")
