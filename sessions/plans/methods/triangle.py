"""Triangle: two of three are the same, and the listener names the odd one."""

from __future__ import annotations

from ..randomisation import Coins
from .counted import CountedMethod
from .method import Key

ORDERS = ((0, 0, 1), (0, 1, 0), (1, 0, 0), (1, 1, 0), (1, 0, 1), (0, 1, 1))


class Triangle(CountedMethod):
    """One of the six orders of two and one, equally likely."""

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """One of the six orders."""
        return dict(zip(self.stimuli, ORDERS[coins.draw("order", 6)], strict=True))

    def score(self, key: Key, answer: str) -> int:
        """1 where the one named is heard but once."""
        return int(list(key.values()).count(key[answer]) == 1)


TRIANGLE = Triangle(
    "triangle",
    "Triangle: which of three is the odd one? Exact binomial test, chance 1/3.",
    ("1", "2", "3"),
    ("1", "2", "3"),
    {"1": "1 is the odd one", "2": "2 is the odd one", "3": "3 is the odd one"},
    "Two of the three are the same. Which is the odd one?",
)
