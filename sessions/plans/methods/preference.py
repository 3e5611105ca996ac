"""Paired preference: the listener says which of two they prefer, or which has more of something."""

from __future__ import annotations

from typing import ClassVar

from stats.validation import Alternative

from ..randomisation import Coins
from .counted import CountedMethod
from .method import TIE, Key

PAIR = {"1": "sound 1", "2": "sound 2"}


class Preference(CountedMethod):
    """Both setups in an order by a fair coin; nothing is right or wrong, and a tie can be offered."""

    asks_preference: ClassVar[bool] = True
    ties_possible: ClassVar[bool] = True
    side_foreseeable: ClassVar[bool] = True

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """The coin says which is heard as 1."""
        first = coins.draw("order", 2)
        return {"1": first, "2": 1 - first}

    def score(self, key: Key, answer: str) -> int:
        """1 for the plan's first setup."""
        return int(key[answer] == 0)

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        if alternative == "greater":
            return "exact binomial test of the count, one-sided: the first setup is foreseen to be preferred"
        return super().test_in_words(alternative)

    def counted_in_words(self, first: str, alternative: Alternative) -> str:
        """For either setup, or for the one foreseen."""
        return f"for {first}" if alternative == "greater" else "for the same setup"

    @property
    def _choices(self) -> tuple[str, ...]:
        return tuple(answer for answer in self.answers if answer != TIE)


PREFERENCE = Preference(
    "preference",
    "Paired preference: which of two is preferred? Exact binomial test.",
    ("1", "2"),
    ("1", "2"),
    PAIR,
    "Which of the two do you prefer?",
)
