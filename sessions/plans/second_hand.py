"""A second hand: somebody else holds a second secret, and without it nothing on the machine tells any key. Pure.

Only its hash is in the plan. It is told with the opening, so that anyone can check that it took part.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import unicodedata

from ..errors import PlanError
from .plan import Plan

LEAST = 20  # letters or digits of one that a person makes up
DRAWN_BYTES = 10  # 80 bits: whoever has a copy of the casebook may try secrets as fast as their machines hash


def is_held(plan: Plan) -> bool:
    """Whether the plan was sealed with a second secret."""
    return "second_hand" in plan.document


def normalised(text: str) -> str:
    """A second secret as it is hashed: folded (NFKC, lower case), and of that letters and digits only.

    >>> normalised(" ABCD efgh-2345 ")
    'abcdefgh2345'
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
    return "".join(letter for letter in folded if letter.isalnum())


def chosen(text: str) -> str:
    """A second secret that somebody made up, as it is hashed.

    Raises
    ------
    PlanError
        If it is so short that it could be guessed.
    """
    second = normalised(text)
    if len(second) < LEAST:
        raise PlanError(f"the second secret has {len(second)} letters or digits; give at least {LEAST}")
    return second


def drawn(random: bytes) -> str:
    """A second secret from `DRAWN_BYTES` random bytes, as it is shown: letters and digits in groups of four.

    >>> drawn(bytes(range(10)))
    'aaaq eaye auda ocaj'
    """
    letters = base64.b32encode(random).decode().lower()
    return " ".join(letters[at : at + 4] for at in range(0, len(letters), 4))


def digest(second: str) -> str:
    """What the plan states of a normalised second secret."""
    return hashlib.sha256(f"second hand|{second}".encode()).hexdigest()


def fits(plan: Plan, second: str | None) -> bool:
    """Whether this (normalised) is the second secret that the plan was sealed with; None where it has none."""
    if second is None:
        return not is_held(plan)
    return hmac.compare_digest(digest(second), str(plan.document.get("second_hand", "")))
