"""Duo-trio: the listener says which of two equals the open reference."""

from __future__ import annotations

from ..randomisation import Coins
from .counted import CountedMethod
from .method import REFERENCE, Key


class DuoTrio(CountedMethod):
    """The reference and the order of the two by fair coins."""

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """Which setup is the reference, and which of the two equals it."""
        reference, turned = divmod(coins.draw("order", 4), 2)
        return {REFERENCE: reference, "1": reference ^ turned, "2": reference ^ 1 ^ turned}

    def score(self, key: Key, answer: str) -> int:
        """1 where the one named is the reference."""
        return int(key[answer] == key[REFERENCE])


DUO_TRIO = DuoTrio(
    "duo-trio",
    "Duo-trio: which of two equals the reference? Exact binomial test.",
    (REFERENCE, "1", "2"),
    (REFERENCE, "1", "2"),
    {"1": "1 equals the reference", "2": "2 equals the reference"},
    "Which of the two equals the reference?",
)
