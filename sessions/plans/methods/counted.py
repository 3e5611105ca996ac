"""Methods whose answers are counted, right or wrong (or for the first setup): an exact binomial test."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import count
from typing import TYPE_CHECKING, ClassVar

from stats.validation import Alternative

from .method import EVERY_SESSION, Analysis, Key, Method, Planned

if TYPE_CHECKING:
    from stats import counted_methods
    from stats.same_different import SameDifferent

USUAL_TRIALS = 16


@dataclass(frozen=True)
class CountedMethod(Method):
    """A method with one answer a trial; chance, side and sensitivity are those of `stats.counted_methods`."""

    analysis: ClassVar[Analysis] = "count"
    exclusions: ClassVar[str] = EVERY_SESSION + (
        "a plan closed early is told by the worst of all ways in which its missing trials could have gone, and a "
        "sequential one is undecided"
    )
    asks_whether_same: ClassVar[bool] = False  # answers are hits, false alarms and their opposites

    @abstractmethod
    def score(self, key: Key, answer: str) -> int:
        """1 for a right answer, or for a choice of the plan's first setup; otherwise 0.

        A tie is neither: leave it out before.
        """

    def finds(self, key: Key, answer: str) -> bool:
        """Whether it is right."""
        return bool(self.score(key, answer))

    @property
    def chance_of_finding(self) -> Fraction:
        """The share right by guessing."""
        return self.numbers().chance

    def hits_and_false_alarms(self, answers: Sequence[tuple[Key, str]]) -> SameDifferent | None:
        """Of a method that asks whether there is a difference at all: its cells; None of the others."""
        return None

    def right_answer(self, key: Key) -> str | None:
        """What a listener who hears it answers: the first answer that scores."""
        return next((answer for answer in self.answers if answer in self._choices and self.score(key, answer)), None)

    def numbers(self, alternative: Alternative | None = None) -> counted_methods.CountedMethod:
        """The method's numbers, with a side that was foreseen."""
        from stats import counted_methods

        return counted_methods.with_direction(self.name, alternative)

    @property
    def chance(self) -> float:
        """The share right by guessing."""
        return float(self.numbers().chance)

    @property
    def gives_differencing(self) -> bool:
        """Whether its d' by the differencing model is given, too."""
        return self.numbers().differencing_too

    @property
    def usual_effect(self) -> str:
        """The proportion to be found where nobody says another: it is truly heard in half of the trials."""
        return f"{float(self.numbers().usual_effect):.4f}".rstrip("0")

    @property
    def chance_of_effect(self) -> float:
        """The share right by guessing."""
        return self.chance

    def usual_trials(self, setups: int, passages: int) -> int:
        """Sixteen."""
        return USUAL_TRIALS

    def alternative(self, *, one_sided: bool) -> Alternative:
        """The side of the planned test."""
        return "greater" if one_sided else self.numbers().alternative

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        side = "two-sided" if alternative == "two-sided" else "one-sided against guessing"
        return f"exact binomial test of the count, {side}"

    def effect_in_words(self, effect: str) -> str:
        """An effect as the condition of a sentence."""
        return f"the true proportion is {effect}"

    def planned(self, trials: int, effect: float, alpha: float, alternative: Alternative, setups: int) -> Planned:
        """The count that shows it, and the power of the exact test."""
        from stats import binomial, binomial_power

        chance = self.numbers().chance
        reached = binomial_power.power(trials, effect, alpha, float(chance), alternative)
        least = next(n for n in count(1) if binomial.critical(n, alpha, chance, alternative) is not None)
        return Planned(binomial.critical(trials, alpha, chance, alternative), reached.power, None, least, "exact")

    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """By the exact test: the first number that reaches it."""
        from stats import binomial_power

        chance = float(self.numbers().chance)
        return binomial_power.sample_size(effect, wanted, alpha, chance, alternative).trials_first

    def counted_in_words(self, first: str, alternative: Alternative) -> str:
        """What the criterion counts: right answers, or those for a setup (`first` is the plan's first)."""
        return "right"

    @property
    def _choices(self) -> tuple[str, ...]:
        return tuple(self.answers)
