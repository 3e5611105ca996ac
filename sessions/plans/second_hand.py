"""A second hand: somebody else holds a second secret, and no key can be worked out without it. Pure.

Only a hash of it is in the plan, salted and slow, since whoever has the casebook may try secrets against it. It is told
with the opening, so that anyone can check that it took part; who held it no record can show.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import unicodedata
from functools import lru_cache
from itertools import groupby, pairwise

from ..errors import PlanError
from .plan import Plan

LEAST = 20  # letters or digits of one that a person makes up
LEAST_DIFFERENT = 8
RUN = 4  # so many that are equal, or that count up or down, are tried first by whoever guesses
DRAWN_BYTES = 10  # 80 bits, which nobody can guess; what a person makes up may be guessed, if slowly
ITERATIONS = 600_000  # of PBKDF2-HMAC-SHA256, as OWASP's Password Storage Cheat Sheet asks; part of the rule


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
        If it is so short or so plain that it would be guessed.
    """
    second = normalised(text)
    different = len(set(second))
    if len(second) < LEAST:
        raise PlanError(f"the second secret has {len(second)} letters or digits; give at least {LEAST}")
    if different < LEAST_DIFFERENT:
        raise PlanError(
            f"the second secret has {different} different letters or digits; give at least {LEAST_DIFFERENT}"
        )
    if 2 * _in_runs(second) > len(second):
        raise PlanError("the second secret is mostly runs such as aaaa, 1234 or abcd; give several unlike words")
    return second


def _in_runs(second: str) -> int:
    """How many of its characters lie in runs of `RUN` at least that are equal or count up or down by one.

    >>> _in_runs("aaaax1234ydcbaz"), _in_runs("abcxyz")
    (12, 0)
    """
    at, inside = 0, set[int]()
    for step, same in groupby(ord(second) - ord(first) for first, second in pairwise(second)):
        length = len(list(same))
        if abs(step) <= 1 and length >= RUN - 1:
            inside.update(range(at, at + length + 1))
        at += length
    return len(inside)


def drawn(random: bytes) -> str:
    """A second secret from `DRAWN_BYTES` random bytes, as it is shown: letters and digits in groups of four.

    >>> drawn(bytes(range(10)))
    'aaaq eaye auda ocaj'
    """
    letters = base64.b32encode(random).decode().lower()
    return " ".join(letters[at : at + 4] for at in range(0, len(letters), 4))


@lru_cache(maxsize=16)  # slow on purpose: a prompt and the session that it begins ask the same
def digest(second: str, plan_id: str) -> str:
    """What the plan of that identifier states of a normalised second secret."""
    return hashlib.pbkdf2_hmac("sha256", f"second hand|{second}".encode(), plan_id.encode(), ITERATIONS).hex()


def fits(plan: Plan, second: str | None) -> bool:
    """Whether this (normalised) is the second secret that the plan was sealed with; None where it has none."""
    if second is None:
        return not is_held(plan)
    return hmac.compare_digest(digest(second, plan.id), str(plan.document.get("second_hand", "")))
