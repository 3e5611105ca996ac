"""The phrase from outside that a plan's coins may follow from too: then no secret can be chosen to suit. Pure."""

from __future__ import annotations

import unicodedata

from ..errors import PlanError
from . import second_hand
from .plan import Plan
from .plan_rows import Phrase

AWAITED = "awaited"
LONGEST = 1000
GIVEN = "from a second secret that was given when it was sealed"


def is_awaited(plan: Plan) -> bool:
    """Whether the plan was sealed to await a phrase."""
    return bool(plan.document.get("phrase") == AWAITED)


def normalised(text: str) -> str:
    """A phrase as it is kept: in Unicode's NFC, without white space at its ends.

    Raises
    ------
    PlanError
        If nothing is left, it is too long, or it is no text.

    Examples
    --------
    >>> normalised("  cafe\u0301, 7 12 31 ") == "caf\u00e9, 7 12 31"
    True
    """
    phrase = unicodedata.normalize("NFC", text).strip()
    if not phrase:
        raise PlanError("the phrase is empty; give the words that somebody else chose after the seal was published")
    if len(phrase) > LONGEST:
        raise PlanError(f"the phrase has {len(phrase)} characters; give at most {LONGEST}")
    if any(0xD800 <= ord(letter) <= 0xDFFF for letter in phrase):
        raise PlanError("the phrase is no readable text in this terminal's encoding; give it as UTF-8")
    return phrase


def how_drawn(plan: Plan, phrase: Phrase | None, second: str | None = None) -> str:
    """How the key of the plan's trials was drawn, in a sentence for whoever reads its result.

    Parameters
    ----------
    second
        The second secret as the opening told it; None before.
    """
    if phrase is None and is_awaited(plan) and not second_hand.is_held(plan):
        return "The key awaits a phrase from somebody else, to be given after the seal was published."
    parts = []
    if phrase is not None:
        parts.append(f'from a phrase given at {phrase.at}, after the seal: "{phrase.text}"')
    elif is_awaited(plan):
        parts.append("from a phrase of somebody else that it still awaits, to be given after the seal was published")
    if second is not None:
        parts.append(
            f"{GIVEN} and typed in again when a session began or the plan was closed; who held it no record can show"
        )
    elif second_hand.is_held(plan):
        parts.append(f"{GIVEN}; this machine does not keep it before the end, and who holds it no record can show")
    if not parts:
        return "The key was drawn by this machine alone: no phrase from outside went into it."
    return f"The key follows from this machine's secret and {', and '.join(parts)}."
