"""ABX: X is A or B, and the listener says which."""

from __future__ import annotations

from typing import ClassVar

from ..randomisation import Coins
from .counted import CountedMethod
from .method import Key


class Abx(CountedMethod):
    """A is the plan's first setup, B its second, and X one of them by a fair coin."""

    named_stimuli: ClassVar[tuple[str, ...]] = ("A", "B")

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """A and B stand still; the coin says which X is."""
        return {"A": 0, "B": 1, "X": coins.draw("x", 2)}

    def score(self, key: Key, answer: str) -> int:
        """1 where the one named is X."""
        return int(key[answer] == key["X"])


ABX = Abx(
    "abx",
    "ABX: is X the same as A or as B? Exact one-sided binomial test against guessing.",
    ("A", "B", "X"),
    ("X",),
    {"A": "X is A", "B": "X is B"},
    "Is X the same as A or as B?",
)
