"""Round robin: paired preference for all pairs of three setups or more."""

from __future__ import annotations

from itertools import combinations
from typing import ClassVar

from stats.validation import Alternative

from ...errors import PlanError
from ..randomisation import Coins
from .method import EVERY_SESSION, UNDECIDED, Analysis, Key, Method, Planned
from .preference import PAIR

USUAL_ROUNDS = 4


class RoundRobin(Method):
    """Blocks of all pairs, each block in its own random order, each pair in an order by a fair coin."""

    analysis: ClassVar[Analysis] = "pairs"
    exclusions: ClassVar[str] = EVERY_SESSION + UNDECIDED
    asks_preference: ClassVar[bool] = True
    trials_follow: ClassVar[bool] = True

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """The pair whose turn it is; the coin says which is heard as 1."""
        every = pairs(setups)
        block, place = divmod(counted - 1, len(every))
        one, other = every[coins.of(block * len(every) + 1).permutation("pairs", len(every))[place]]
        return {"1": other, "2": one} if coins.draw("order", 2) else {"1": one, "2": other}

    def right_answer(self, key: Key) -> str | None:
        """What a simulated listener prefers: the setup that stands earlier in the plan."""
        return min(self.answers, key=lambda answer: key[answer])

    @property
    def usual_effect(self) -> str:
        """The proportion in which each setup is preferred to the next."""
        return "0.75"

    @property
    def chance_of_effect(self) -> float:
        """Even choices."""
        return 0.5

    def usual_trials(self, setups: int, passages: int) -> int:
        """Each pair four times."""
        return USUAL_ROUNDS * len(pairs(setups))

    def check_trials(self, trials: int, setups: int) -> None:
        """Nothing, if every pair is heard equally often.

        Raises
        ------
        PlanError
            If not.
        """
        every = len(pairs(setups))
        if trials % every:
            raise PlanError(
                f"a round robin of {setups} setups takes a multiple of {every} trials, so that every pair is "
                f"heard equally often; --trials {trials} is none"
            )

    def alternative(self, *, one_sided: bool) -> Alternative:
        """Two-sided: which setup is preferred is not foreseen."""
        return "two-sided"

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        return "randomisation test that all setups are preferred equally often: each choice is then a fair coin"

    def effect_in_words(self, effect: str) -> str:
        """An effect as the condition of a sentence."""
        return f"one setup is preferred to each other in {effect} of the comparisons"

    def planned(self, trials: int, effect: float, alpha: float, alternative: Alternative, setups: int) -> Planned:
        """The power of the test: exact, or simulated where the outcomes are too many to go through."""
        from stats import round_robin_power

        found = round_robin_power.power(setups, trials // len(pairs(setups)), effect, alpha)
        return Planned(None, found.power, found.error, found.least, found.by)

    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """A multiple of the pairs."""
        from stats import round_robin_power

        return round_robin_power.sample_size(setups, effect, wanted, alpha)


def pairs(setups: int) -> list[tuple[int, int]]:
    """All pairs of so many setups."""
    return list(combinations(range(setups), 2))


ROUND_ROBIN = RoundRobin(
    "round-robin",
    "Pairwise preference among three or more setups.",
    ("1", "2"),
    ("1", "2"),
    PAIR,
    "Which of the two do you prefer?",
    (3, 8),
)
