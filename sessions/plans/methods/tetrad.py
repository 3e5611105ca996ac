"""Tetrad: sort four into two pairs."""

from __future__ import annotations

from ..randomisation import Coins
from .counted import CountedMethod
from .method import Key

ORDERS = ((0, 0, 1, 1), (0, 1, 0, 1), (0, 1, 1, 0), (1, 0, 0, 1), (1, 0, 1, 0), (1, 1, 0, 0))


class Tetrad(CountedMethod):
    """One of the six orders of two and two, equally likely."""

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """One of the six orders."""
        return dict(zip(self.stimuli, ORDERS[coins.draw("order", 6)], strict=True))

    def score(self, key: Key, answer: str) -> int:
        """1 where the one named belongs to 1."""
        return int(key[answer] == key["1"])


TETRAD = Tetrad(
    "tetrad",
    "Tetrad: sort four into two pairs. Exact binomial test, chance 1/3.",
    ("1", "2", "3", "4"),
    ("1", "2", "3", "4"),
    {
        "2": "1 and 2 belong together, 3 and 4",
        "3": "1 and 3 belong together, 2 and 4",
        "4": "1 and 4 belong together, 2 and 3",
    },
    "Sort the four into two pairs: which one belongs to 1?",
)
