"""Hidden reference: two are graded against an open reference that is one of them (ITU-R BS.1116)."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import ClassVar

from stats.estimates import PowerEstimate
from stats.validation import Alternative

from ..randomisation import Coins
from .graded import GradedMethod, Scale, grades_of
from .method import EVERY_SESSION, REFERENCE, UNDECIDED, Analysis, Key

# Labels of ITU-R BS.1116's five-grade impairment scale, from memory.
IMPAIRMENT = Scale(
    Decimal("1.0"),
    Decimal("5.0"),
    Decimal("0.1"),
    (
        (Decimal(1), "very annoying"),
        (Decimal(2), "annoying"),
        (Decimal(3), "slightly annoying"),
        (Decimal(4), "perceptible, but not annoying"),
        (Decimal(5), "imperceptible"),
    ),
)
USUAL_TRIALS = 10


class HiddenReference(GradedMethod):
    """The plan's first setup is the reference; it and the second are heard in an order by a fair coin."""

    analysis: ClassVar[Analysis] = "difference grades"
    exclusions: ClassVar[str] = (
        EVERY_SESSION + UNDECIDED + "; a listener whose own mean difference is not "
        "below 0 at 5 % (one-sided exact randomisation test) is named, and not left out of the test"
    )

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """The coin says which of the two is the reference."""
        first = coins.draw("order", 2)
        return {REFERENCE: 0, "1": first, "2": 1 - first}

    def finds(self, key: Key, answer: str) -> bool:
        """Whether the hidden reference got the higher grade; equal grades find nothing."""
        grades = grades_of(answer)
        reference = next(label for label in self.graded if key[label] == key[REFERENCE])
        return all(grade < grades[reference] for label, grade in grades.items() if label != reference)

    def lacking(self, grades: Mapping[str, Decimal]) -> str:
        """One of the two is the reference and gets the highest grade."""
        if max(grades.values()) != self.scale.high:
            return f"one of {' and '.join(self.graded)} is the reference: give it {self.scale.high}"
        return ""

    def usual_trials(self, setups: int, passages: int) -> int:
        """Ten."""
        return USUAL_TRIALS

    def alternative(self, *, one_sided: bool) -> Alternative:
        """One-sided: the other setup is graded lower than the reference."""
        return "greater"

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        return (
            "exact randomisation test of the difference grades, one-sided: each sign is a fair coin if the reference "
            "cannot be told from the other"
        )

    def power(self, trials: int, effect: float, alpha: float, setups: int) -> PowerEstimate:
        """The power of the exact test of the difference grades."""
        from stats import difference_grade_power

        return difference_grade_power.power(trials, effect, alpha)

    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """By the exact test."""
        from stats import difference_grade_power

        return difference_grade_power.sample_size(effect, wanted, alpha)


HIDDEN_REFERENCE = HiddenReference(
    "hidden-reference",
    "Grade two against an open reference, which is one of them (ITU-R BS.1116).",
    (REFERENCE, "1", "2"),
    (REFERENCE, "1", "2"),
    {},
    "One of the two is the reference. Grade how far each is impaired against it.",
    scale=IMPAIRMENT,
    graded=("1", "2"),
)
