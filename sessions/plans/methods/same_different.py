"""Same-different: are the two the same or different?"""

from __future__ import annotations

from typing import ClassVar

from ..randomisation import Coins
from .counted import CountedMethod
from .method import Key

SAME, DIFFERENT = "S", "D"


class SameDifferent(CountedMethod):
    """Each of the two by a fair coin, so that half of the trials are the same; those are its controls."""

    controls_possible: ClassVar[bool] = False

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """Two fair coins."""
        first, second = divmod(coins.draw("order", 4), 2)
        return {"1": first, "2": second}

    def score(self, key: Key, answer: str) -> int:
        """1 where it was said as it was."""
        return int((answer == SAME) == is_same(key))


def is_same(key: Key) -> bool:
    """Whether both were the same setup."""
    return key["1"] == key["2"]


SAME_DIFFERENT = SameDifferent(
    "same-different",
    "Same-different: exact binomial test; hits, false alarms, sensitivity and bias.",
    ("1", "2"),
    ("1", "2"),
    {SAME: "they are the same", DIFFERENT: "they are different"},
    "Are the two the same or different?",
)
