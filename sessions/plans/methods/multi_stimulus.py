"""Multi-stimulus: all are graded at once, with a hidden reference and anchors (ITU-R BS.1534)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any, ClassVar

from stats.estimates import PowerEstimate
from stats.validation import Alternative

from ..randomisation import Coins
from .graded import GradedMethod, Scale
from .method import REFERENCE, UNDECIDED, Analysis, Key

MOST_SIGNALS = 9  # hidden ones in a trial: one key of the keyboard each. ITU-R BS.1534-3, 5.3: 12 at most
ANCHORS_HZ = (3500, 7000)  # ITU-R BS.1534-3, 5.1: low and mid anchor
# Bands of the quality scale: ITU-R BS.1534-3, 5.4.
QUALITY = Scale(
    Decimal(0),
    Decimal(100),
    Decimal(1),
    tuple((Decimal(20 * step), name) for step, name in enumerate(("bad", "poor", "fair", "good", "excellent"))),
)

SCREENED_BY_REFERENCE = (
    "by ITU-R BS.1534-3, 4.1.2: whoever grades the hidden reference below 90 in more than 15 % of the trials, or "
    "the mid anchor above 90 in more than 15 % (trials where more than a quarter of the listeners do so left out); "
)
"""How the exclusions begin that earlier plans were sealed with, and are judged by; `stats.post_screening` says why no
new plan has them."""
MEDIANS_TESTED = "permutation test of the difference of medians "
"""How the test begins that earlier plans were sealed with, and are judged by; `stats.permuted_medians` says why no new
plan has it."""


class MultiStimulus(GradedMethod):
    """The plan's first setup is the reference, heard openly and hidden among the others; so are two anchors."""

    analysis: ClassVar[Analysis] = "quality grades"
    anchors_hz: ClassVar[tuple[int, ...]] = ANCHORS_HZ
    controls_possible: ClassVar[bool] = False
    trials_follow: ClassVar[bool] = True
    power_of: ClassVar[str] = "for one pair of setups at the strictest level of Holm's correction, alpha over the pairs"
    exclusions: ClassVar[str] = (
        "by ITU-R BS.1534-3, 4.1.2: whoever grades the mid anchor above 90 in more than 15 % of the trials (trials "
        "where more than a quarter of the listeners do so left out); whoever grades the hidden reference below 90 in "
        "more than 15 % is named and not left out, since the hidden reference is one of the setups tested, and leaving "
        "out by what is tested would select a difference; " + UNDECIDED
    )

    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """Setups and anchors in a fair random order."""
        order = coins.permutation("order", setups + len(ANCHORS_HZ))
        return {REFERENCE: 0} | {str(number): place for number, place in enumerate(order, 1)}

    def with_labels(self, setups: int, *, ties: bool) -> MultiStimulus:
        """A number for each setup and anchor."""
        graded = tuple(str(number) for number in range(1, setups + len(ANCHORS_HZ) + 1))
        return replace(self, stimuli=(REFERENCE, *graded), needed=(REFERENCE, *graded), graded=graded)

    def usual_trials(self, setups: int, passages: int) -> int:
        """Each passage twice (ITU-R BS.1534-3, 4.1: at least one replicate)."""
        return 2 * passages

    def alternative(self, *, one_sided: bool) -> Alternative:
        """Two-sided: which of two setups is graded higher is not foreseen."""
        return "two-sided"

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        return (
            "exact permutation test of the sum of the paired differences for each pair of setups (grades exchanged in "
            "a trial), two-sided, Holm-corrected over the pairs, after post-screening by the mid anchor"
        )

    def power(self, trials: int, effect: float, alpha: float, setups: int) -> PowerEstimate:
        """The power for one pair of setups, at the strictest level that Holm's correction asks of it."""
        from stats import quality_grade_power

        return quality_grade_power.power(trials, effect, alpha, setups)

    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """By the permutation test, for one pair of setups."""
        from stats import quality_grade_power

        return quality_grade_power.sample_size(effect, wanted, alpha, setups)

    def screens_by_reference(self, plan: Mapping[str, Any]) -> bool:
        """Whether a plan was sealed with the rule that leaves out who misses the hidden reference."""
        return str(plan.get("exclusions", "")).startswith(SCREENED_BY_REFERENCE)

    def tests_medians(self, plan: Mapping[str, Any]) -> bool:
        """Whether a plan was sealed with the test of the difference of medians."""
        return str(plan.get("test", "")).startswith(MEDIANS_TESTED)


MULTI_STIMULUS = MultiStimulus(
    "multi-stimulus",
    "Grade all at once, with a hidden reference and two anchors (ITU-R BS.1534).",
    (REFERENCE,),
    (REFERENCE,),
    {},
    "Grade the quality of each against the reference; one of them is the reference itself.",
    (2, MOST_SIGNALS - len(ANCHORS_HZ)),
    scale=QUALITY,
)
