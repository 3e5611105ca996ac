"""Same-different: the listener says whether two were the same."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from ..randomisation import Coins
from .counted import CountedMethod
from .method import Key

if TYPE_CHECKING:
    from stats.same_different import SameDifferent as Cells

SAME, DIFFERENT = "S", "D"


class SameDifferent(CountedMethod):
    """Each of the two by a fair coin, so that half of the trials are the same; those are its controls."""

    controls_possible: ClassVar[bool] = False
    asks_whether_same: ClassVar[bool] = True

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """Two fair coins."""
        first, second = divmod(coins.draw("order", 4), 2)
        return {"1": first, "2": second}

    def known_key(self, key: Key, known: int) -> Key:
        """Where both are the same, both have the known difference; the first setup twice is a trial that counts."""
        same = key["1"] == key["2"]
        return {label: known if place or same else 0 for label, place in key.items()}

    def score(self, key: Key, answer: str) -> int:
        """1 where it was said as it was."""
        return int((answer == SAME) == (key["1"] == key["2"]))

    def hits_and_false_alarms(self, answers: Sequence[tuple[Key, str]]) -> Cells | None:
        """How often "different" was said of different and of same trials; None while one kind lacks."""
        from stats.same_different import same_different

        different = [said for key, said in answers if key["1"] != key["2"]]
        same = [said for key, said in answers if key["1"] == key["2"]]
        if not different or not same:
            return None
        return same_different(different.count(DIFFERENT), len(different), same.count(DIFFERENT), len(same))


SAME_DIFFERENT = SameDifferent(
    "same-different",
    "Same-different: are the two the same? Exact binomial test; hits, false alarms, sensitivity and bias.",
    ("1", "2"),
    ("1", "2"),
    {SAME: "they are the same", DIFFERENT: "they are different"},
    "Are the two the same or different?",
)
